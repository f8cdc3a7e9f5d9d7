package packet

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: ISO/IEC 7064 MOD 37-2 as worked step by step for the blood donation
// number G1234 98 654321 in the UK transfusion guidelines ("Red Book"), annex 2.
func TestCheckCharacterPublished(t *testing.T) {
	require.Equal(t, byte('H'), checkCharacter("G123498654321"))
}

// ISO/IEC 7064: the pure system MOD 37-2 detects every single substitution and
// every transposition of neighbours.
func TestNumbersRefuseSlips(t *testing.T) {
	const digits = "0123456789"
	given := 0
	for n := 1; n <= 9999; n += 7 {
		number, ok := jobNumber(2026, n)
		if !ok {
			continue
		}
		given++
		got, err := ParseNumber(number)
		require.NoError(t, err)
		require.Equal(t, number, got)
		plain := number[:2] + number[3:7] + number[8:]
		for i := range 6 {
			for _, d := range digits {
				if slip := plain[:i] + string(d) + plain[i+1:]; slip != plain {
					_, err := ParseNumber(slip)
					require.Error(t, err, "%s for %s", slip, plain)
				}
			}
			swap := []byte(plain)
			swap[i], swap[i+1] = swap[i+1], swap[i]
			if string(swap) != plain {
				_, err := ParseNumber(string(swap))
				require.Error(t, err, "%s for %s", swap, plain)
			}
		}
	}
	require.Greater(t, given, 1000)
}

func TestSymbolText(t *testing.T) {
	for n := 1; n < 300; n++ {
		number, ok := jobNumber(2026, n)
		if !ok {
			continue
		}
		got, document, page, err := ParseSymbol(symbolText(number, reportPage, n%100))
		require.NoError(t, err)
		require.Equal(t, byte(reportPage), document)
		require.Equal(t, fmt.Sprint(number, n%100), fmt.Sprint(got, page))
	}
	for _, s := range []string{"", "HELLO", "http://example.org/26", "26041", "260412B07*Z"} {
		_, _, _, err := ParseSymbol(s)
		require.Error(t, err, s)
	}
}
