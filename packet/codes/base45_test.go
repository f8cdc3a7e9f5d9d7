package codes

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: RFC 9285, sections 4.3 and 4.4.
func TestBase45Published(t *testing.T) {
	for plain, coded := range map[string]string{
		"AB":      "BB8",
		"Hello!!": "%69 VD92EX0",
		"base-45": "UJCLQE7W581",
		"ietf!":   "QED8WEX0",
	} {
		require.Equal(t, coded, encode45([]byte(plain)))
		got, err := decode45(coded)
		require.NoError(t, err)
		require.Equal(t, plain, string(got))
	}
}

// Source: RFC 9285, section 6: FGW is 65535, GGW would be 65536; and section 4:
// three characters, or two at the end, of the 45.
func TestBase45RefusesWhatIsNone(t *testing.T) {
	got, err := decode45("FGW")
	require.NoError(t, err)
	require.Equal(t, []byte{0xFF, 0xFF}, got)
	for _, s := range []string{"GGW", ":::", "B", "BB8B", "::", "V5", "bb8", "B_8", "BB8\n"} {
		_, err := decode45(s)
		require.Error(t, err, s)
	}
}

// Every pair of bytes and every single byte comes back, and none ends in a
// space, which scanners cut off.
func TestBase45EveryGroup(t *testing.T) {
	for n := range 1 << 16 {
		data := []byte{byte(n >> 8), byte(n)}
		if n < 256 {
			data = []byte{byte(n)}
		}
		s := encode45(data)
		got, err := decode45(s)
		if err != nil || string(got) != string(data) || strings.HasSuffix(s, " ") {
			t.Fatalf("%x: %q, %x, %v", data, s, got, err)
		}
	}
}
