package fonts

import (
	"testing"

	"github.com/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
)

func TestCoverage(t *testing.T) {
	for _, s := range []string{
		"ÄÖÜäöüßéèêçñøåłŞőŮ", "ΑΒΓΔΩαβγδω", "АБВГДЕЖЗИЙЯабвгдежзийяёЁ",
		"−→≤≥±°µ·³²½…–—“”„’×θ✓",
	} {
		require.Empty(t, Missing(s), s)
	}
	require.Equal(t, []rune{'\U0001F600', '中'}, Missing("a\U0001F600中中\n"))
}

// What is measured here is drawn by fpdf, which reads the widths by itself. Every
// character, asked twice: the second time from what is kept.
func TestAdvancesAreThoseOfFpdf(t *testing.T) {
	for f := Regular; f <= CondensedBold; f++ {
		p := fpdf.New("P", "mm", "A4", "")
		p.AddUTF8FontFromBytes("face", "", f.Data())
		p.SetFont("face", "", 10)
		many := 0
		for r := rune(1); r < 0xFFFF; r++ {
			if r >= 0xD800 && r < 0xE000 {
				continue // no characters
			}
			for range 2 {
				a, has := f.Advance(r)
				require.Equal(t, Has(r), has, "%d %U", f, r)
				if has {
					require.Equal(t, p.GetStringSymbolWidth(string(r)), a, "%d %U", f, r)
					many++
				}
			}
		}
		require.Greater(t, many, 1200)
	}
	_, has := Bold.Advance('\U0001F600')
	require.False(t, has)
}
