package calc

import (
	"math"
)

// product is a band of densities at 15 °C, up to and without below, whose oils
// expand alike: α = k0/ρ² + k1/ρ + k2, per °C at 15 °C.
type product struct {
	below, k0, k1, k2 float64
}

// The generalized products of API MPMS chapter 11.1 / ASTM D1250, table 54B,
// 1980 edition, from leastDensity to mostDensity.
var products = [...]product{
	{770.5, 346.4228, 0.4388, 0},       // gasolines
	{787.5, 2680.3206, 0, -0.00336312}, // transition zone
	{838.5, 594.5418, 0, 0},            // jet fuels, kerosines, test oil
	{mostDensity, 186.9696, 0.4862, 0}, // diesel and fuel oils
}

// The range in kg/m³ at 15 °C is that of the 1980 tables, in °C that of the 2004
// edition, −58 to 302 °F, which reaches lower.
const (
	leastDensity, mostDensity = 653, 1075
	leastCelsius, mostCelsius = -50, 150
)

// VCF returns the factor that turns a volume of oil at t °C into its volume at
// ref °C; density15 is in kg/m³ at 15 °C. To 15 °C it is exp(−αΔt(1 + 0.8αΔt)),
// α chosen from the density: generalized products of API MPMS chapter 11.1 /
// ASTM D1250, table 54B, without that table's rounding to four decimals. A
// density outside 653 to 1075 kg/m³ or a temperature outside −50 to 150 °C is an
// error.
func VCF(density15, t, ref float64) (float64, error) {
	if !(density15 >= leastDensity && density15 <= mostDensity) {
		return 0, errorf("volume correction", "density %v kg/m³ at 15 °C is outside %d to %d; write the density of the oil at 15 °C from its data sheet",
			density15, leastDensity, mostDensity)
	}
	for _, c := range [...]float64{t, ref} {
		if !(c >= leastCelsius && c <= mostCelsius) {
			return 0, errorf("volume correction", "%s is outside %s to %s; read the oil's temperature again", about(c, Celsius), Quantity{leastCelsius, Celsius}, Quantity{mostCelsius, Celsius})
		}
	}
	p := products[len(products)-1]
	for _, band := range products {
		if density15 < band.below {
			p = band
			break
		}
	}
	alpha := p.k0/(density15*density15) + p.k1/density15 + p.k2
	exponent := func(t float64) float64 {
		a := alpha * (t - 15)
		return -a * (1 + 0.8*a)
	}
	return math.Exp(exponent(t) - exponent(ref)), nil
}

// DensityAt returns the density in kg/m³ at t °C of oil of density15 kg/m³ at
// 15 °C, with the relation and the limits of VCF.
func DensityAt(density15, t float64) (float64, error) {
	f, err := VCF(density15, t, 15)
	return density15 * f, err
}

// CalibrationFluid says whether a density in kg/m³ at 15 °C is that of a
// calibration fluid for injection equipment, 820 to 830: ISO 4113, table 1.
func CalibrationFluid(density15 float64) bool {
	return density15 >= 820 && density15 <= 830
}
