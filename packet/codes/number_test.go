package codes

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: ISO/IEC 7064 MOD 37-2 as worked step by step for the blood donation
// number G1234 98 654321 in the UK transfusion guidelines ("Red Book"), annex 2.
func TestCheckCharacterPublished(t *testing.T) {
	require.Equal(t, byte('H'), checkCharacter("G123498654321"))
}

// numbers calls f with n numbers that are given out, over many years.
func numbers(n int, f func(number string)) {
	for year := 2000; n > 0; year++ {
		for i := 1; i <= 9999 && n > 0; i++ {
			if number, ok := NewNumber(year, i); ok {
				f(number)
				n--
			}
		}
	}
}

// slips calls f with every text that differs from s in one character of the
// alphabet, or in the order of two neighbours.
func slips(s, alphabet string, f func(slip string)) {
	b := []byte(s)
	for i := range b {
		for j := range alphabet {
			if alphabet[j] != s[i] {
				b[i] = alphabet[j]
				f(string(b))
			}
		}
		b[i] = s[i]
		if i > 0 && b[i] != b[i-1] {
			b[i], b[i-1] = b[i-1], b[i]
			f(string(b))
			b[i], b[i-1] = b[i-1], b[i]
		}
	}
}

// ISO/IEC 7064: the pure system MOD 37-2 detects every single substitution and
// every transposition of neighbours; trying keyboards must not undo that.
func TestNumbersRefuseSlips(t *testing.T) {
	numbers(100_000, func(number string) {
		got, err := ParseNumber(strings.ToLower(number))
		require.NoError(t, err)
		require.Equal(t, number, got)
		slips(plain(number), alphabet, func(slip string) {
			if got, err := ParseNumber(slip); err == nil {
				t.Fatalf("%s read as %s for %s", slip, got, number)
			}
		})
	})
}
