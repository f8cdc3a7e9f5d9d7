package calc

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// nist reads a NIST data set, whose first column is y.
func nist(t *testing.T, name string) (x, y []float64, certified map[string]float64) {
	rows, certified := table(t, "nist/"+name)
	for _, r := range rows {
		y, x = append(y, r[0]), append(x, r[1])
	}
	return x, y, certified
}

func TestFitCurveNorris(t *testing.T) {
	x, y, want := nist(t, "Norris.dat")
	require.Len(t, x, 36)
	c, err := FitCurve(x, y, 1)
	require.NoError(t, err)
	assert.InEpsilon(t, want["B1"], c.Coef[1], 1e-13)
	assert.InEpsilon(t, want["B0"], c.Coef[0], 1e-11)
	assert.InEpsilon(t, want["s(B1)"], c.U[1], 1e-11)
	assert.InEpsilon(t, want["s(B0)"], c.U[0], 1e-11)
	assert.InEpsilon(t, want["s"], c.S, 1e-11)
	assert.InEpsilon(t, want["R2"], c.R2, 1e-13)
	assert.Equal(t, 34, c.Dof)

	// The same line a million away must lose little.
	for i := range x {
		x[i] += 1e6
	}
	c, err = FitCurve(x, y, 1)
	require.NoError(t, err)
	assert.InEpsilon(t, want["B1"], c.Coef[1], 1e-9)
	assert.InEpsilon(t, want["s"], c.S, 1e-9)
}

func TestFitCurvePontius(t *testing.T) {
	x, y, want := nist(t, "Pontius.dat")
	require.Len(t, x, 40)
	c, err := FitCurve(x, y, 2)
	require.NoError(t, err)
	assert.InEpsilon(t, want["B0"], c.Coef[0], 1e-11)
	assert.InEpsilon(t, want["B1"], c.Coef[1], 1e-13)
	assert.InEpsilon(t, want["B2"], c.Coef[2], 1e-11)
	assert.InEpsilon(t, want["s(B0)"], c.U[0], 1e-11)
	assert.InEpsilon(t, want["s(B1)"], c.U[1], 1e-11)
	assert.InEpsilon(t, want["s(B2)"], c.U[2], 1e-11)
	assert.InEpsilon(t, want["s"], c.S, 1e-11)
	assert.InEpsilon(t, want["R2"], c.R2, 1e-14)
	assert.Equal(t, 37, c.Dof)

	// Covariances over s², from the same tests of the GNU Scientific Library.
	cov := [3][3]float64{
		{2.76754385964916e-01, -3.59649122807024e-07, 9.74658869395731e-14},
		{-3.59649122807024e-07, 5.91630591630603e-13, -1.77210703526497e-19},
		{9.74658869395731e-14, -1.77210703526497e-19, 5.62573661988878e-26},
	}
	for i := range cov {
		for j := range cov {
			assert.InEpsilon(t, cov[i][j]/math.Sqrt(cov[i][i]*cov[j][j]), c.Corr[i][j], 1e-11)
		}
	}
}

// NIST/SEMATECH e-Handbook 4.6.1.5: a straight line through the same load cell
// readings, and its lack of fit, F of 18 and 20 degrees of freedom 214.7464;
// the pairs of readings at one load give the variance below the line. The page
// was reckoned in single precision, so its last figures are not to be had.
func TestFitCurveLoadCellLine(t *testing.T) {
	x, y, _ := nist(t, "Pontius.dat")
	c, err := FitCurve(x, y, 1)
	require.NoError(t, err)
	assert.InDelta(t, 0.614969e-2, c.Coef[0], 1e-8)
	assert.InDelta(t, 0.7132e-3, c.U[0], 5e-8)
	assert.InDelta(t, 0.722103e-6, c.Coef[1], 5e-13)
	assert.InDelta(t, 0.3969e-9, c.U[1], 5e-14)
	assert.InDelta(t, 0.0021712694, c.S, 5e-9)
	assert.Equal(t, 38, c.Dof)

	s, dof, err := Pooled(y[:20], y[20:])
	require.NoError(t, err)
	assert.Equal(t, 20, dof)
	lack := (c.S*c.S*38 - s*s*20) / 18
	assert.InDelta(t, 214.7464, lack/(s*s), 1e-3)
}

// JCGM 100:2008, H.3: the published figures as printed; and H.3.4, the correction
// read off the line at 30 °C and its uncertainty. Figures as the same tests of
// Sandia's Suncal carry them from there (test_linefitgum).
func TestFitCurveThermometer(t *testing.T) {
	rows, _ := table(t, "published/thermometer.txt")
	var x, y []float64
	for _, r := range rows {
		x, y = append(x, r[0]-20), append(y, r[1])
	}
	c, err := FitCurve(x, y, 1)
	require.NoError(t, err)
	assert.InDelta(t, -0.1712, c.Coef[0], 5e-5)
	assert.InDelta(t, 0.0029, c.U[0], 5e-5)
	assert.InDelta(t, 0.00218, c.Coef[1], 5e-6)
	assert.InDelta(t, 0.00067, c.U[1], 5e-6)
	assert.InDelta(t, -0.930, c.Corr[0][1], 5e-4)
	assert.InDelta(t, 0.0035, c.S, 5e-5)
	b, u := c.At(10)
	assert.InDelta(t, -0.1494, b, 5e-5)
	assert.InDelta(t, 0.0041, u, 5e-5)
	// t of nine degrees of freedom is 2.262 in NIST/SEMATECH e-Handbook 1.3.6.7.2.
	assert.InDelta(t, 2.262*u, c.Band(10, 0.95), 5e-6)
}

// NBS Handbook 91, Experimental Statistics, worksheet 5-4.1: Young's modulus
// against temperature. Data and results as the tests of Sandia's Suncal carry
// them (github.com/sandialabs/suncal, test/test_curvefit.py).
func TestFitCurveModulus(t *testing.T) {
	x := []float64{30, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500}
	y := []float64{4642, 4612, 4565, 4513, 4476, 4433, 4389, 4347, 4303, 4251, 4201, 4140, 4100, 4073, 4024, 3999}
	c, err := FitCurve(x, y, 1)
	require.NoError(t, err)
	assert.InDelta(t, -0.44985482, c.Coef[1], 5e-9)
	assert.InDelta(t, 4654.9846, c.Coef[0], 5e-5)
	assert.InEpsilon(t, 0.000025649045, c.U[1]*c.U[1], 1e-6)
	assert.InEpsilon(t, 19.879452, c.U[0]*c.U[0], 1e-6)
	assert.InDelta(t, 9.277617, c.S, 5e-6)
	_, u := c.At(1200)
	assert.InEpsilon(t, 10.53, u*u, 0.01) // page 5-15, reckoned by hand there
}

// Height and weight, S. Glantz and B. Slinker, Primer of Applied Regression and
// Analysis of Variance, table 2-1: slope 0.44 with 0.064, intercept −6.0 with
// 2.4, t 6.90 against 5.04 at 99.9 %. As the same tests of Suncal quote pages 19
// to 26 (test_ttest).
func TestFitCurveHeightWeight(t *testing.T) {
	height := []float64{31, 32, 33, 34, 35, 35, 40, 41, 42, 46}
	weight := []float64{7.8, 8.3, 7.6, 9.1, 9.6, 9.8, 11.8, 12.1, 14.7, 13.0}
	c, err := FitCurve(height, weight, 1)
	require.NoError(t, err)
	assert.InDelta(t, 0.44, c.Coef[1], 0.005)
	assert.InDelta(t, 0.064, c.U[1], 0.0005)
	assert.InDelta(t, -6.0, c.Coef[0], 0.05)
	assert.InDelta(t, 2.4, c.U[0], 0.05)
	tt, critical := c.LeadingT(0.999)
	assert.InDelta(t, 6.90, tt, 0.05)
	assert.InDelta(t, 5.04, critical, 0.005)
	// The slope's confidence interval at 95 %, page 27: 0.29 to 0.59.
	half := studentT(8, 0.95) * c.U[1]
	assert.InDelta(t, 0.29, c.Coef[1]-half, 0.01)
	assert.InDelta(t, 0.59, c.Coef[1]+half, 0.01)
}

func TestFitCurveErrors(t *testing.T) {
	c, err := FitCurve([]float64{1, 3}, []float64{2, 6}, 1)
	require.NoError(t, err)
	assert.InDelta(t, 2, c.Coef[1], 1e-15)
	assert.InDelta(t, 0, c.Coef[0], 1e-15)
	assert.Equal(t, 1.0, c.R2)
	_, u := c.At(2)
	tt, critical := c.LeadingT(0.95)
	for _, v := range []float64{c.S, c.U[0], c.U[1], u, c.Band(2, 0.95), tt, critical} {
		assert.True(t, math.IsNaN(v), "two points say nothing of the scatter")
	}
	assert.InDelta(t, -2/math.Sqrt(5), c.Corr[0][1], 1e-15, "−Σx/√(n·Σx²), whatever the scatter")

	for want, c := range map[string]struct {
		x, y   []float64
		degree int
	}{
		"degree 3":            {[]float64{1, 2, 3, 4}, []float64{1, 2, 3, 4}, 3},
		"degree 0":            {[]float64{1, 2}, []float64{1, 2}, 0},
		"1 values of x but 2": {[]float64{1}, []float64{1, 2}, 1},
		"0 point(s)":          {nil, nil, 1},
		"1 point(s); 2":       {[]float64{1}, []float64{1}, 1},
		"2 point(s); 3":       {[]float64{1, 2}, []float64{1, 2}, 2},
		"every x is 4":        {[]float64{4, 4, 4}, []float64{1, 2, 3}, 2},
		"only 2 different x":  {[]float64{4, 5, 4, 5}, []float64{1, 2, 1, 2}, 2},
		"too close together":  {[]float64{1, 1 + 1e-15, 2}, []float64{1, 2, 3}, 2},
		"not a finite number": {[]float64{4, 5}, []float64{1, math.NaN()}, 1},
		"too large":           {[]float64{1.6e308, 1.7e308}, []float64{1, 2}, 1},
		"values are too":      {[]float64{1, 2}, []float64{-1.7e308, 1.7e308}, 1},
	} {
		_, err := FitCurve(c.x, c.y, c.degree)
		assert.ErrorContains(t, err, want)
	}
}

// A parabola drawn through points on one is found again, however far off.
func TestFitCurveExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		n, far := 4+rng.IntN(20), math.Pow(10, 4*rng.Float64())
		a, b, c := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		parabola := func(x float64) float64 { return a + b*(x-far) + c*(x-far)*(x-far) }
		var x, y []float64
		for i := range n {
			x = append(x, far+float64(i)+rng.Float64())
			y = append(y, parabola(x[i]))
		}
		got, err := FitCurve(x, y, 2)
		require.NoError(t, err)
		size := max(math.Abs(a), math.Abs(y[n-1]))
		for _, at := range []float64{x[0], x[n-1], far + 0.3} {
			v, u := got.At(at)
			assert.InDelta(t, parabola(at), v, 1e-11*size)
			assert.Less(t, u, 1e-11*size)
		}
		assert.InEpsilon(t, c, got.Coef[2], 1e-7)
	}
}

// Properties of every least-squares fit: the deviations add to nothing, and
// so do their products with x; a steeper degree never fits worse; the
// coefficients and At are one curve; moving x moves nothing else; the
// uncertainty by coefficients, U and Corr is the uncertainty At gives.
func TestFitCurveProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		n := 4 + rng.IntN(20)
		var x, y, moved []float64
		for i := range n {
			x = append(x, float64(i/2)+0.4*rng.Float64()) // some x near one another
			y = append(y, 5+3*x[i]+rng.NormFloat64())
			moved = append(moved, x[i]+1000)
		}
		before := math.Inf(1)
		for degree := 1; degree <= 2; degree++ {
			c, err := FitCurve(x, y, degree)
			require.NoError(t, err)
			sums := make([]float64, degree+1)
			var left float64
			for i := range x {
				v, _ := c.At(x[i])
				left += (y[i] - v) * (y[i] - v)
				for k := range sums {
					sums[k] += (y[i] - v) * math.Pow(x[i], float64(k))
				}
			}
			for _, s := range sums {
				assert.InDelta(t, 0, s, 1e-8)
			}
			assert.LessOrEqual(t, left, before+1e-9)
			assert.InDelta(t, left, c.S*c.S*float64(c.Dof), 1e-9)
			before = left

			far, err := FitCurve(moved, y, degree)
			require.NoError(t, err)
			for _, at := range []float64{-2, 0, 1.7, 30} {
				v, u := c.At(at)
				var byCoef, square float64
				for i := range c.Coef {
					byCoef += c.Coef[i] * math.Pow(at, float64(i))
					for j := range c.Coef {
						square += c.U[i] * c.U[j] * c.Corr[i][j] * math.Pow(at, float64(i+j))
					}
				}
				assert.InDelta(t, v, byCoef, 1e-9*(1+math.Abs(v)))
				assert.InEpsilon(t, u, math.Sqrt(square), 1e-6)
				v2, u2 := far.At(at + 1000)
				assert.InDelta(t, v, v2, 1e-9*(1+math.Abs(v)))
				assert.InEpsilon(t, u, u2, 1e-8)
			}
		}
	}
}

// The band holds the true line as often as it says: 95 % of 2000 lines, give or
// take the chance of that many (four standard deviations, 2 %).
func TestBandHoldsTheLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	held := 0
	for range 2000 {
		var x, y []float64
		for i := range 6 {
			x = append(x, float64(i))
			y = append(y, 100+40*x[i]+3*rng.NormFloat64())
		}
		c, err := FitCurve(x, y, 1)
		require.NoError(t, err)
		if v, _ := c.At(4.5); math.Abs(v-280) <= c.Band(4.5, 0.95) {
			held++
		}
	}
	assert.InDelta(t, 0.95, float64(held)/2000, 0.02)
}

func TestLeadingT(t *testing.T) {
	// NIST StRD Pontius: B2 over s(B2), and B1 over s(B1) of the straight line,
	// which e-Handbook 4.6.1.5 prints as 0.18E+04.
	x, y, want := nist(t, "Pontius.dat")
	c, err := FitCurve(x, y, 2)
	require.NoError(t, err)
	tt, critical := c.LeadingT(0.95)
	assert.InEpsilon(t, want["B2"]/want["s(B2)"], tt, 1e-10)
	assert.Less(t, tt, -critical)
	c, err = FitCurve(x, y, 1)
	require.NoError(t, err)
	tt, critical = c.LeadingT(0.95)
	assert.InDelta(t, 1800, tt, 50)
	assert.InDelta(t, 2.024, critical, 5e-4) // e-Handbook 1.3.6.7.2, ν = 38 (from memory)

	// Points exactly on a line have no curvature, whatever the rounding.
	speed := []float64{100, 300, 500, 700, 900, 1100}
	for _, slope := range []float64{0.1, 0.3, 0.7, 0} {
		var on []float64
		for _, n := range speed {
			on = append(on, 0.1+slope*n)
		}
		c, err = FitCurve(speed, on, 2)
		require.NoError(t, err)
		tt, critical = c.LeadingT(0.95)
		assert.Less(t, math.Abs(tt), critical)
	}
	// Invented supply pressures that flatten off.
	c, err = FitCurve(speed, []float64{180, 270, 352, 425, 492, 548}, 2)
	require.NoError(t, err)
	tt, critical = c.LeadingT(0.95)
	assert.Less(t, tt, -critical)
}
