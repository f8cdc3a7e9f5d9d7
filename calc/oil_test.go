package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Table 54B as printed, four decimals. Measurement Canada, "Volume correction
// factors", January 2016, for aviation gasoline at 710 kg/m³ (strategis.ic.gc.ca
// lm04777) and for jet kerosene at 800 kg/m³; and examples that read the table:
// two parcels of a tanker's ullage report (geocaching.com GC1RNPT), gasoline at
// 721.4 and gas oil at 842.8 kg/m³, and two bunker surveys, 990.3 kg/m³
// (sevensurveyor.com, "Bunker survey calculation", 2010) and 992 kg/m³ (scribd.com
// 370250180).
func TestVCFTable54B(t *testing.T) {
	for _, c := range []struct{ density, celsius, factor float64 }{
		{710, -40, 1.0700}, {710, -35, 1.0638}, {710, -30, 1.0576}, {710, -25.5, 1.0519}, {710, -20, 1.0450}, {710, -19, 1.0437},
		{800, -40, 1.0502}, {800, -35, 1.0457}, {800, -30, 1.0412}, {800, -25, 1.0367}, {800, -22.5, 1.0344}, {800, -20, 1.0322},
		{721.4, 22, 0.9911}, {842.8, 22.5, 0.9937}, {990.3, 34, 0.9870}, {992, 36, 0.9857},
	} {
		f, err := VCF(c.density, c.celsius, 15)
		require.NoError(t, err)
		assert.Equal(t, c.factor, Rounded(f, 4), "%v kg/m³ at %v °C", c.density, c.celsius)
		d, err := DensityAt(c.density, c.celsius)
		require.NoError(t, err)
		assert.InDelta(t, c.density*c.factor, d, c.density*5e-5)
	}
}

// API MPMS chapter 11.1, 2004 edition, section 11.1.6.1, examples 3 to 6: a fuel
// oil, a jet fuel, the transition zone and a gasoline, CTL at atmospheric
// pressure from the density at 60 °F, as the tests of github.com/m2b/API11_1VCF
// carry them. That edition starts from 60 °F and an older temperature scale and
// prints five decimals; the 1980 constants for 15 °C agree to one in the last.
func TestVCFExamples(t *testing.T) {
	f, _ := ParseUnit("°F")
	base := Convert(60, f, Celsius)
	for _, c := range []struct{ density60, fahrenheit, ctl float64 }{
		{936.787006, 48.04, 1.00486}, {793.521270, 85, 0.98683}, {787.521450, 55.9, 1.00218}, {657.303689, 27.3, 1.02648},
	} {
		density15 := c.density60
		for range 10 { // the density at 15 °C that has this density at 60 °F
			at, err := DensityAt(density15, base)
			require.NoError(t, err)
			density15 *= c.density60 / at
		}
		got, err := VCF(density15, Convert(c.fahrenheit, f, Celsius), base)
		require.NoError(t, err)
		assert.InDelta(t, c.ctl, got, 1.01e-5, "%v kg/m³ at %v °F", c.density60, c.fahrenheit)
	}
}

func TestVCFRelations(t *testing.T) {
	for density := 653.; density <= 1075; density += 0.5 {
		same, err := VCF(density, 40, 40)
		require.NoError(t, err)
		assert.Equal(t, 1.0, same)
		last := math.Inf(1)
		for c := -15.; c <= 90; c += 15 {
			f, err := VCF(density, c, 40)
			require.NoError(t, err)
			back, err := VCF(density, 40, c)
			require.NoError(t, err)
			assert.InDelta(t, 1, f*back, 1e-12)
			assert.Less(t, f, last, "%v kg/m³: warmer oil has expanded more", density)
			assert.Equal(t, c < 40, f > 1)
			last = f
			to15, err := VCF(density, c, 15)
			require.NoError(t, err)
			onward, err := VCF(density, 15, 40)
			require.NoError(t, err)
			assert.InDelta(t, f, to15*onward, 1e-12, "in two steps as in one")
		}
	}
	// The products meet: no step of the fourth decimal where one gives way to the next.
	for _, p := range products[:len(products)-1] {
		under, err := VCF(p.below-1e-6, 40, 15)
		require.NoError(t, err)
		over, err := VCF(p.below, 40, 15)
		require.NoError(t, err)
		assert.InDelta(t, under, over, 5e-5, "at %v kg/m³", p.below)
	}
}

func TestVCFRefuses(t *testing.T) {
	for want, c := range map[string][3]float64{
		"density 0.825 kg/m³ at 15 °C is outside 653 to 1075": {0.825, 40, 15},
		"density NaN":                        {math.NaN(), 40, 15},
		"density 1075.5":                     {1075.5, 40, 15},
		"−60 °C is outside":                  {825, -60, 15},
		"151 °C is outside":                  {825, 15, 151},
		"NaN °C is outside −50 °C to 150 °C": {825, math.NaN(), 15},
	} {
		_, err := VCF(c[0], c[1], c[2])
		assert.ErrorContains(t, err, want)
	}
	_, err := DensityAt(0, 40)
	assert.ErrorContains(t, err, "density 0 kg/m³")
	f, err := VCF(1075, 40, 15)
	require.NoError(t, err)
	assert.Less(t, f, 1.0)
}

// ISO 4113:2010, table 1, as its identical Korean adoption KS R ISO 4113:2012
// prints it (mydoc123.com p-820954): 0.820 to 0.830 g/mL, for the closer value
// fluid 0.8235 to 0.8265 g/mL.
func TestCalibrationFluid(t *testing.T) {
	for density, is := range map[float64]bool{819.9: false, 820: true, 823.5: true, 826.5: true, 830: true, 830.1: false, 0.825: false, math.NaN(): false} {
		assert.Equal(t, is, CalibrationFluid(density), "%v kg/m³", density)
	}
}
