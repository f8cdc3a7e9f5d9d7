package calc

import (
	"math"
	"strconv"
)

// Length is a length in nanometres, so that sums of shims never drift:
// 1 mm is 1 000 000 and 0.0001 in is 2 540, both exact.
type Length int64

// Units of length.
const (
	Nanometre  Length = 1
	Micrometre Length = 1_000
	Millimetre Length = 1_000_000
	Inch       Length = 25_400_000 // 1 in = 25.4 mm exactly, NIST SP 811 appendix B
)

// LengthOf returns x of the given unit of length, rounded to the nanometre. What
// is no number, or too great for a Length, becomes math.MinInt64, which every
// function here that takes lengths from a person refuses.
func LengthOf(x float64, unit Unit) Length {
	nm := math.Round(x * unit.Factor * 1e6)
	if !(math.Abs(nm) < 1<<63) {
		return math.MinInt64
	}
	return Length(nm)
}

// In returns the length in the given unit of length.
func (l Length) In(unit Unit) float64 { return float64(l) / 1e6 / unit.Factor }

// Fixed writes the length in a unit of length with a fixed number of decimals
// (at most 9), exactly in whole numbers, half rounding away from zero. Negative
// lengths carry U+2212, and what rounds to zero has no sign.
func (l Length) Fixed(unit Unit, decimals int) string {
	return signed(l.figures(unit, decimals), l < 0, "")
}

// Signed is Fixed with "+" before lengths above zero, for a change of length.
func (l Length) Signed(unit Unit, decimals int) string {
	return signed(l.figures(unit, decimals), l < 0, "+")
}

func (l Length) figures(unit Unit, decimals int) string {
	decimals = min(max(decimals, 0), 9)
	n := uint64(l)
	if l < 0 {
		n = -n
	}
	whole := uint64(LengthOf(1, unit))
	scale := uint64(math.Pow10(decimals))
	// The part below one unit, times the scale, stays far below 2⁶⁴.
	part := (n%whole*scale*2 + whole) / (whole * 2)
	n = n/whole + part/scale
	if decimals == 0 {
		return strconv.FormatUint(n, 10)
	}
	return strconv.FormatUint(n, 10) + "." + strconv.FormatUint(scale+part%scale, 10)[1:]
}

func (l Length) abs() Length {
	if l < 0 {
		return -l
	}
	return l
}
