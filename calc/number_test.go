package calc

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseNumber(t *testing.T) {
	for s, want := range map[string]struct {
		x        float64
		decimals int
	}{
		"6.20": {6.2, 2}, "6,20": {6.2, 2}, "+1": {1, 0}, "-0.5": {-0.5, 1}, "−0,5": {-0.5, 1}, " 7 ": {7, 0}, "\u00a07.0\u202f": {7, 1},
		".244": {0.244, 3}, "− 3": {-3, 0}, "0": {0, 0}, "-0.00": {0, 2}, "000123.4": {123.4, 1}, "1,234": {1.234, 3}, "123456789012.345": {123456789012.345, 3},
	} {
		x, decimals, err := ParseNumber(s)
		require.NoError(t, err, s)
		assert.Equal(t, want.x, x, s)
		assert.Equal(t, want.decimals, decimals, s)
		assert.False(t, math.Signbit(x) && x == 0, "%s gave −0", s)
	}
	for s, want := range map[string]string{
		"": "nothing is written", " \t": "nothing is written", "1,234.5": "both a point and a comma", "1.234.567": "more than one decimal mark",
		"1,234,567": "more than one decimal mark", "1 234": "separator inside", "1'234": "separator inside", "1_000": "separator inside", "1\u00a0234": "separator inside",
		"NaN": "not a number", "Inf": "not a number", "-inf": "not a number", "0x10": `found 'x'`, "1e3": `found 'e'`, "5-": "not a number", "--5": "not a number", "+-5": "not a number",
		"5.": "no figure after", "5,": "no figure after", ".": "no figures", "-": "no figures", "+": "no figures", "1234567890.123456": "more than 15", "٣": "not a number", "6..2": "more than one",
		"½": "not a number", strings.Repeat("0", 60): "more than 15", "1/2": "not a number",
	} {
		_, _, err := ParseNumber(s)
		assert.ErrorContains(t, err, want, "%q", s)
	}
}

func TestParseQuantity(t *testing.T) {
	for s, want := range map[string]Quantity{
		"6.20 mm": {6.2, MM}, "0.244 in": {0.244, IN}, "85 N·m": {85, NM}, "85Nm": {85, NM}, "7.5 bar": {7.5, Bar}, "41.0 cm³/1000": {41, CM3Per1000},
		"6,20mm": {6.2, MM}, "−10 °C": {-10, Celsius}, "1200 1/min": {1200, PerMin}, "1200 rev/min": {1200, PerMin}, "5%": {5, Percentage}, "  30 s ": {30, Seconds},
	} {
		q, _, err := ParseQuantity(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, q, s)
	}
	_, decimals, _ := ParseQuantity("6,200 mm")
	assert.Equal(t, 3, decimals)
	for s, want := range map[string]string{
		"6.20":       `"6.20" has no unit; write it after the number, such as 6.20 mm (known units: mm, in,`,
		"6.20 nm":    `unknown unit "nm"; did you mean`,
		"109 PSI":    "did you mean psi?",
		"7 Bar":      "did you mean bar?",
		"3 mn":       "did you mean mm?",
		"6 furlong":  `unknown unit "furlong"; known units: mm,`,
		"1 234 mm":   "separator inside the number",
		"1.234,5 mm": "both a point and a comma",
		"mm":         "nothing is written",
		"":           "nothing is written",
		"5e3 mm":     `unknown unit "e3 mm"`,
	} {
		_, _, err := ParseQuantity(s)
		assert.ErrorContains(t, err, want, "%q", s)
	}
}

func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"6.20 mm", "−1,5 °C", "41.0 cm³/1000", "1 234 mm", "12°", "1200 1/min", "\xff", "9 \u00a0", "1,2,3", "5e3 N·m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if x, decimals, err := ParseNumber(s); err == nil {
			again, same, err := ParseNumber(Fixed(x, decimals))
			if err != nil || again != x || same != decimals {
				t.Errorf("%q: %v with %d decimals, written %q, read %v with %d (%v)", s, x, decimals, Fixed(x, decimals), again, same, err)
			}
		}
		q, decimals, err := ParseQuantity(s)
		if err != nil {
			return
		}
		again, _, err := ParseQuantity(q.String())
		if err != nil || again != q || decimals < 0 {
			t.Errorf("%q: %v read again is %v (%v)", s, q, again, err)
		}
	})
}

func TestFixed(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     string
	}{
		// ISO 80000-1:2009 annex B, rule B (half up in magnitude); its examples, from memory.
		{12.25, 1, "12.3"}, {12.35, 1, "12.4"}, {12.223, 1, "12.2"}, {12.251, 1, "12.3"}, {12.275, 1, "12.3"},
		// Halves that no binary number holds.
		{2.675, 2, "2.68"}, {1.005, 2, "1.01"}, {0.285, 2, "0.29"}, {-2.675, 2, "−2.68"}, {0.1 + 0.2, 1, "0.3"}, {1.1 * 1.1 * 100, 0, "121"}, {0.15, 1, "0.2"},
		{-0.004, 2, "0.00"}, {math.Copysign(0, -1), 1, "0.0"}, {0, 0, "0"}, {-0.5, 0, "−1"}, {0.49999, 0, "0"}, {999.995, 2, "1000.00"},
		{123456, 0, "123456"}, {1e15, 1, "1000000000000000.0"}, {1e-20, 3, "0.000"}, {5, 3, "5.000"}, {7.5, -1, "8"},
		{math.NaN(), 2, "—"}, {math.Inf(1), 2, "—"},
	} {
		assert.Equal(t, c.want, Fixed(c.x, c.decimals), "%v to %d", c.x, c.decimals)
	}
	assert.Equal(t, 2.68, Rounded(2.675, 2))
	assert.Equal(t, -1.01, Rounded(-1.005, 2))
	assert.False(t, math.Signbit(Rounded(-0.001, 2)))
	assert.True(t, math.IsNaN(Rounded(math.NaN(), 2)))
}

// Against exact arithmetic: what the decimal figures say, rounded half away.
func TestFixedExactly(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 20_000 {
		written := 1 + r.IntN(8)
		exact := big.NewRat(r.Int64N(2e13)-1e13, 1)
		exact.Quo(exact, new(big.Rat).SetInt64(int64(math.Pow10(written))))
		x, _ := exact.Float64()
		decimals := r.IntN(9)
		want := strings.Replace(exact.FloatString(decimals), "-", minus, 1) // FloatString rounds half away
		if strings.Trim(want, minus+"0.") == "" {
			want = strings.TrimPrefix(want, minus)
		}
		require.Equal(t, want, Fixed(x, decimals), "%v", exact)
	}
}

func TestLengthFixed(t *testing.T) {
	l := func(s string) Length {
		q, _, err := ParseQuantity(s)
		require.NoError(t, err)
		return LengthOf(q.Value, q.Unit)
	}
	assert.Equal(t, "6.20", l("6.20 mm").Fixed(MM, 2))
	assert.Equal(t, "0.2441", l("6.20 mm").Fixed(IN, 4))
	assert.Equal(t, "0.0001", l("0.0001 in").Fixed(IN, 4))
	assert.Equal(t, Length(2540), l("0.0001 in"))
	assert.Equal(t, "2.68", l("2.675 mm").Fixed(MM, 2))
	assert.Equal(t, "−2.68", (-l("2.675 mm")).Fixed(MM, 2))
	assert.Equal(t, "0.00", Length(-4_999_999/1000).Fixed(MM, 2))
	assert.Equal(t, "−0.01", Length(-5_000).Fixed(MM, 2))
	assert.Equal(t, "+0.15", l("0.15 mm").Signed(MM, 2))
	assert.Equal(t, "−0.15", l("-0.15 mm").Signed(MM, 2))
	assert.Equal(t, "0.00", Length(0).Signed(MM, 2))
	assert.Equal(t, "10", l("9.5 mm").Fixed(MM, 0))
	assert.Equal(t, "1.00", l("0.996 mm").Fixed(MM, 2))
	r := rand.New(rand.NewPCG(5, 5))
	for range 20_000 {
		n := r.Int64N(2_000_000_000) - 1_000_000_000
		unit, whole := MM, int64(1_000_000)
		if n%2 == 0 {
			unit, whole = IN, 25_400_000
		}
		decimals := r.IntN(10)
		want := strings.Replace(big.NewRat(n, whole).FloatString(decimals), "-", minus, 1)
		if strings.Trim(want, minus+"0.") == "" {
			want = strings.TrimPrefix(want, minus)
		}
		require.Equal(t, want, Length(n).Fixed(unit, decimals), "%d", n)
	}
}
