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
			if number, ok := NewNumber(year, []string{"", "K", "VX"}[i%3], i); ok {
				f(number)
				n--
			}
		}
	}
}

// slips calls f with every text that differs from s in its last character, or in
// another to which one of others was written, or in the order of two neighbours.
func slips(s, others string, f func(slip string)) {
	b := []byte(s)
	for i := range b {
		if i == len(s)-1 {
			others = alphabet
		}
		for j := range others {
			if others[j] != s[i] {
				b[i] = others[j]
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
// every transposition of neighbours. (A letter among the digits is no number by
// its form; see TestSlipsAreNoOtherJob.)
func TestNumbersRefuseSlips(t *testing.T) {
	parallel(100_000, func(number string) {
		got, err := ParseNumber(strings.ToLower(number))
		if err != nil || got != number {
			t.Errorf("%s read as %s, %v", number, got, err)
		}
		slips(plain(number), "0123456789", func(slip string) {
			if got, err := ParseNumber(slip); err == nil {
				t.Errorf("%s read as %s for %s", slip, got, number)
			}
		})
	})
}

// A number that is given out has no character that keyboards move or pens make
// into another.
func TestNumbersGivenOut(t *testing.T) {
	given := 0
	for n := 1; n <= 9999; n++ {
		number, ok := NewNumber(2026, "", n)
		if ok {
			given++
		}
		require.Equal(t, !strings.ContainsAny(number[8:], "AMQWYZIO*"), ok, number)
	}
	require.Greater(t, given, 7000)
	number, ok := NewNumber(2031, "", 123456)
	require.True(t, ok || strings.ContainsAny(number[10:], "AMQWYZIO*"))
	require.Regexp(t, `^31-123456-.$`, number)
}

func TestNumbersAsPeopleTypeThem(t *testing.T) {
	for _, s := range []string{"26-0412-B", "260412B", "26-0412-b", " 260412b\n"} {
		got, err := ParseNumber(s)
		require.NoError(t, err, s)
		require.Equal(t, "26-0412-B", got)
	}
	for _, s := range []string{"26-KB0412-9", "26kb04129"} {
		got, err := ParseNumber(s)
		require.NoError(t, err, s)
		require.Equal(t, "26-KB0412-9", got)
	}
	for _, s := range []string{"26-A0412-B", "26-KBL0412-B", "26-K-0412-B", "K26-0412-B", "26-KB0413-9", "26-0412-H", "", "26-0412", "26-0412-C", "26-00412-B", "6-0412-B", "26-0412-B-", "26-0412-*", "26-0412-\u0412", "26\u20130412\u2013B"} {
		_, err := ParseNumber(s)
		require.Error(t, err, s)
	}
}
