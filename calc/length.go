package calc

import "math"

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

// LengthOf returns x of the given unit of length, rounded to the nanometre.
func LengthOf(x float64, unit Unit) Length { return Length(math.Round(x * unit.Factor * 1e6)) }

// In returns the length in the given unit of length.
func (l Length) In(unit Unit) float64 { return float64(l) / 1e6 / unit.Factor }
