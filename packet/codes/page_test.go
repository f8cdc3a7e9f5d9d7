package codes

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPageSymbols(t *testing.T) {
	for page := 1; page <= 999; page++ {
		for _, p := range []Page{
			{Number: "26-0412-B", Document: Traveller, Page: page},
			{Number: "26-0412-B", Document: Report, Page: page, Digest: "0123456789CEHKPX"},
			{Number: "26-0412-B", Document: Report, Page: page},
		} {
			got, err := ParsePage(p.Symbol())
			require.NoError(t, err)
			require.Equal(t, p, got)
		}
	}
}

// Symbols as they are printed: these must be read for ever. The first and the
// third are also in the package's doc; the second is how reports were printed before
// they had a digest.
func TestPagesOfEveryVersion(t *testing.T) {
	for s, want := range map[string]Page{
		"260412BT07Z":                 {Number: "26-0412-B", Document: Traveller, Page: 7},
		"260412BR02O":                 {Number: "26-0412-B", Document: Report, Page: 2},
		"260412BR0202C04H719KX3P5E0S": {Number: "26-0412-B", Document: Report, Page: 2, Digest: "02C04H719KX3P5E0"},
	} {
		require.Equal(t, s, want.Symbol())
		got, err := ParsePage(s)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
}

func TestDigest(t *testing.T) {
	files := []File{{"intake.yaml", []byte("a")}, {"spec.yaml", []byte("b")}}
	digest := Digest("26-0412-B", Traveller, files)
	require.Regexp(t, "^[0-9CEHKPX]{16}$", digest)
	for _, other := range []string{
		Digest("26-0412-B", Report, files),
		Digest("26-0413-9", Traveller, files),
		Digest("26-0412-B", Traveller, files[:1]),
		Digest("26-0412-B", Traveller, []File{files[1], files[0]}),
		Digest("26-0412-B", Traveller, []File{{"intake.yamla", nil}, files[1]}),
	} {
		require.NotEqual(t, digest, other)
	}
	// The alphabet lies at the same keys everywhere, and digits stay digits.
	for _, r := range digestAlphabet {
		for _, l := range layouts {
			require.Equal(t, layouts[0].places[r].key, l.places[r].key, "%c on a %s keyboard", r, l.name)
		}
	}
	for _, r := range steady + "TRJ" {
		for _, l := range layouts {
			require.Equal(t, layouts[0].places[r].key, l.places[r].key, "%c on a %s keyboard", r, l.name)
		}
	}
}
