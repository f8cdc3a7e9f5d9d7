package fonts

import (
	"testing"

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
