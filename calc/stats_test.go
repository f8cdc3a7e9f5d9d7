package calc

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads a published table: lines of numbers, with what follows them, and
// certified values by name.
func table(t *testing.T, name string) (rows [][]float64, certified map[string]float64) {
	data, err := os.ReadFile("../testdata/" + name)
	require.NoError(t, err)
	certified = map[string]float64{}
	for line := range strings.Lines(string(data)) {
		f := strings.Fields(line)
		if len(f) == 0 || f[0] == "#" {
			continue
		}
		if f[0] == "certified" {
			certified[f[1]], err = strconv.ParseFloat(f[2], 64)
			require.NoError(t, err)
			continue
		}
		var row []float64
		for _, s := range f[:2] {
			x, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			row = append(row, x)
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows, certified
}

func TestFitLineNorris(t *testing.T) {
	rows, want := table(t, "nist/Norris.dat")
	require.Len(t, rows, 36)
	var x, y []float64
	for _, r := range rows {
		y, x = append(y, r[0]), append(x, r[1])
	}
	l, err := FitLine(x, y)
	require.NoError(t, err)
	assert.InEpsilon(t, want["B1"], l.Slope, 1e-13)
	assert.InEpsilon(t, want["B0"], l.Intercept, 1e-11)
	assert.InEpsilon(t, want["s(B1)"], l.SSlope, 1e-11)
	assert.InEpsilon(t, want["s(B0)"], l.SIntercept, 1e-11)
	assert.InEpsilon(t, want["s"], l.S, 1e-11)
	assert.InEpsilon(t, want["R2"], l.R2, 1e-13)

	// The same line a million away must lose little.
	for i := range x {
		x[i] += 1e6
	}
	l, err = FitLine(x, y)
	require.NoError(t, err)
	assert.InEpsilon(t, want["B1"], l.Slope, 1e-9)
	assert.InEpsilon(t, want["s"], l.S, 1e-9)
}

// JCGM 100:2008, H.3: the published figures as printed; and H.3.4, the correction
// read off the line at 30 °C.
func TestFitLineThermometer(t *testing.T) {
	rows, _ := table(t, "published/thermometer.txt")
	var x, y []float64
	for _, r := range rows {
		x, y = append(x, r[0]-20), append(y, r[1])
	}
	l, err := FitLine(x, y)
	require.NoError(t, err)
	assert.InDelta(t, -0.1712, l.Intercept, 5e-5)
	assert.InDelta(t, 0.0029, l.SIntercept, 5e-5)
	assert.InDelta(t, 0.00218, l.Slope, 5e-6)
	assert.InDelta(t, 0.00067, l.SSlope, 5e-6)
	assert.InDelta(t, 0.0035, l.S, 5e-5)
	assert.InDelta(t, -0.1494, l.Intercept+10*l.Slope, 5e-5)
}

// NBS Handbook 91, Experimental Statistics, worksheet 5-4.1: Young's modulus
// against temperature. Data and results as the tests of Sandia's Suncal carry
// them (github.com/sandialabs/suncal, test/test_curvefit.py).
func TestFitLineModulus(t *testing.T) {
	x := []float64{30, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500}
	y := []float64{4642, 4612, 4565, 4513, 4476, 4433, 4389, 4347, 4303, 4251, 4201, 4140, 4100, 4073, 4024, 3999}
	l, err := FitLine(x, y)
	require.NoError(t, err)
	assert.InDelta(t, -0.44985482, l.Slope, 5e-9)
	assert.InDelta(t, 4654.9846, l.Intercept, 5e-5)
	assert.InEpsilon(t, 0.000025649045, l.SSlope*l.SSlope, 1e-6)
	assert.InEpsilon(t, 19.879452, l.SIntercept*l.SIntercept, 1e-6)
	assert.InDelta(t, 9.277617, l.S, 5e-6)
}

func TestFitLineErrors(t *testing.T) {
	l, err := FitLine([]float64{1, 3}, []float64{2, 6})
	require.NoError(t, err)
	assert.Equal(t, 2.0, l.Slope)
	assert.Equal(t, 0.0, l.Intercept)
	assert.True(t, math.IsNaN(l.SSlope), "two points say nothing of the scatter")
	for want, c := range map[string][2][]float64{
		"1 values of x but 2": {{1}, {1, 2}},
		"1 point(s)":          {{1}, {1}},
		"every x is 4":        {{4, 4}, {1, 2}},
		"not a finite number": {{4, 5}, {1, math.NaN()}},
	} {
		_, err := FitLine(c[0], c[1])
		assert.ErrorContains(t, err, want)
	}
}

// NIST StRD, univariate summary statistics, data sets NumAcc1 to NumAcc4 as
// their pages describe them, with the certified mean and standard deviation.
func TestMeanStdDev(t *testing.T) {
	alternating := func(first, a, b float64) []float64 {
		v := []float64{first}
		for range 500 {
			v = append(v, a, b)
		}
		return v
	}
	for _, c := range []struct {
		v       []float64
		mean, s float64
		within  float64
	}{
		{[]float64{10000001, 10000003, 10000002}, 10000002, 1, 1e-15},
		{alternating(1.2, 1.1, 1.3), 1.2, 0.1, 1e-13},
		{alternating(1000000.2, 1000000.1, 1000000.3), 1000000.2, 0.1, 1e-8}, // no nearer: 1000000.1 itself is not
		{alternating(10000000.2, 10000000.1, 10000000.3), 10000000.2, 0.1, 1e-7},
	} {
		assert.InEpsilon(t, c.mean, Mean(c.v), 1e-15)
		assert.InEpsilon(t, c.s, StdDev(c.v), c.within)
	}
	assert.True(t, math.IsNaN(Mean(nil)))
	assert.True(t, math.IsNaN(StdDev([]float64{1})))
}

// JCGM 100:2008, 4.4.3 and table 1 (readings from memory; that they give the
// published mean 100.145, s 1.489 and s of the mean 0.333 is the check on them).
func TestRepeatability(t *testing.T) {
	v := []float64{96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72}
	assert.InDelta(t, 100.145, Mean(v), 5e-4)
	assert.InDelta(t, 1.489, StdDev(v), 5e-4)
	u, dof := Repeatability(v)
	assert.InDelta(t, 0.333, u, 5e-4)
	assert.Equal(t, 19.0, dof)
	u, dof = Repeatability(v[:1])
	assert.True(t, math.IsNaN(u))
	assert.Zero(t, dof)
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975.
func TestStudentT(t *testing.T) {
	for dof, want := range map[float64]float64{1: 12.706, 2: 4.303, 3: 3.182, 5: 2.571, 10: 2.228, 20: 2.086, 30: 2.042, 100: 1.984, math.Inf(1): 1.960} {
		assert.InDelta(t, want, studentT(dof, 0.95), 5.1e-4, "ν = %v", dof)
	}
}

// JCGM 100:2008, example H.1.
func TestCombineEndGauge(t *testing.T) {
	rows, _ := table(t, "published/end-gauge.txt")
	var sources []Source
	for _, r := range rows {
		sources = append(sources, Source{U: r[0], Dof: r[1]})
	}
	uc, dof, expanded := Combine(sources, 0.99)
	assert.InDelta(t, 32, uc, 0.5)
	assert.Equal(t, 16.0, math.Floor(dof))
	// There t is taken to 2.92 and uc to 32: 93 nm.
	assert.InDelta(t, 93, Expand(math.Round(uc), dof, 0.99), 0.5)
	assert.InDelta(t, 93, expanded, 1)
}

func TestCombine(t *testing.T) {
	uc, dof, expanded := Combine([]Source{{"a", 3, math.Inf(1)}, {"b", 4, math.Inf(1)}}, 0.95)
	assert.InDelta(t, 5, uc, 1e-12)
	assert.True(t, math.IsInf(dof, 1))
	assert.InDelta(t, 9.8, expanded, 0.001)
	_, dof, _ = Combine([]Source{{"a", 3, 9}, {"exact", 0, 0}}, 0.95)
	assert.InDelta(t, 9, dof, 1e-9, "one source alone keeps its degrees of freedom")
	uc, _, expanded = Combine(nil, 0.95)
	assert.Zero(t, uc)
	assert.Zero(t, expanded)
	_, _, expanded = Combine([]Source{{"once", 1, 0}}, 0.95)
	assert.True(t, math.IsInf(expanded, 1))
	// JCGM 100:2008, 4.3.7, example 1: ±0.40 gives 0.23; F.2.2.1: 0.29 of the resolution.
	assert.InDelta(t, 0.23, Rectangular(0.40), 0.005)
	assert.InDelta(t, 0.29, ResolutionU(1), 0.005)
}

// JCGM 106:2012, 7.3.3, example 1: the breakdown voltage, −5.47 V with u 0.05 V
// against an upper limit of −5.40 V (from memory), Φ(1.40) = 0.9192 in the
// table of NIST/SEMATECH e-Handbook 1.3.6.7.1. 7.4: 13.6 mm²/s with u 1.8
// within 12.5 to 16.3, figures as quoted in metrologyrules.com, "Conformity to
// specification" (2022); from the same table Φ(1.50) = 0.93319 and Φ(0.61) =
// 0.72907, so 0.66, and that is printed there (from memory).
func TestConformity(t *testing.T) {
	assert.InDelta(t, 0.9192, Conformity(-5.47, 0.05, math.Inf(-1), -5.40), 5e-5)
	assert.InDelta(t, 0.9192, Conformity(5.47, 0.05, 5.40, math.Inf(1)), 5e-5)
	assert.InDelta(t, 0.66, Conformity(13.6, 1.8, 12.5, 16.3), 0.005)
	// The same table: ±1 is 2 × 0.34134, ±1.96 is 2 × 0.47500.
	assert.InDelta(t, 0.68268, Conformity(6.2, 0.1, 6.1, 6.3), 1e-5)
	assert.InDelta(t, 0.95, Conformity(0, 1, -1.96, 1.96), 1e-5)
	assert.InDelta(t, 0.5, Conformity(6.3, 0.001, 6.1, 6.3), 1e-9)
	assert.Equal(t, 1.0, Conformity(6.3, 0, 6.1, 6.3))
	assert.Equal(t, 0.0, Conformity(6.31, 0, 6.1, 6.3))
	assert.Equal(t, 1.0, Conformity(0, 1, math.Inf(-1), math.Inf(1)))
	assert.Greater(t, Conformity(30, 1, -1, 1), 0.0, "a small tail is not lost")
	assert.Greater(t, Conformity(-30, 1, -1, 1), 0.0)
}

func TestDecide(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		x, u, low, high float64
		want            Decision
	}{
		{6.2, 0.02, 6.1, 6.3, Meets},
		{6.28, 0.02, 6.1, 6.3, Meets}, // inside by exactly U
		{6.12, 0.02, 6.1, 6.3, Meets},
		{6.29, 0.02, 6.1, 6.3, TooClose},
		{6.32, 0.02, 6.1, 6.3, TooClose}, // outside by exactly U
		{6.3201, 0.02, 6.1, 6.3, DoesNotMeet},
		{6.05, 0.02, 6.1, 6.3, DoesNotMeet},
		{6.3, 0, 6.1, 6.3, Meets},
		{0.3 - 0.1, 0.1, 0, 0.3, Meets},
		{100, 1, 10, inf, Meets},
		{5, 1, 10, inf, DoesNotMeet},
		{5, 1, -inf, 10, Meets},
		{5, 1, -inf, inf, Meets},
		{6.2, 0.2, 6.1, 6.3, TooClose}, // the uncertainty is wider than the limits
		{math.NaN(), 0.1, 0, 1, TooClose},
		{5, inf, 0, 1, TooClose},
		{5, inf, -inf, inf, Meets},
	} {
		assert.Equal(t, c.want, Decide(c.x, c.u, c.low, c.high), "%+v", c)
	}
	assert.Equal(t, "meets, does not meet, too close to say", Meets.String()+", "+DoesNotMeet.String()+", "+TooClose.String())
}

// Source: critical values of Grubbs' test at α = 0.05, LibreTexts Chemistry,
// Analytic References, appendix 7 (looked up 2026-11-25; its entry for seven
// values, 2.202, is a misprint of 2.020 and left out).
func TestGrubbsCriticalValues(t *testing.T) {
	for n, want := range map[int]float64{3: 1.155, 4: 1.481, 5: 1.715, 6: 1.887, 8: 2.126, 9: 2.215, 10: 2.290, 11: 2.355, 12: 2.412, 15: 2.549} {
		v := make([]float64, n)
		v[n-1] = 1
		i, _, critical, err := Outlier(v, 0.05)
		require.NoError(t, err)
		assert.Equal(t, n-1, i)
		assert.InDelta(t, want, critical, 1e-3, "%d values", n) // the last figure of the table
	}
}

// Source: NIST/SEMATECH e-Handbook 1.3.5.17.1, uranium isotope masses, G =
// 2.4687 (data and G from memory).
func TestGrubbsExample(t *testing.T) {
	i, g, critical, err := Outlier([]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, 0.05)
	require.NoError(t, err)
	assert.Equal(t, 7, i)
	assert.InDelta(t, 2.4687, g, 1e-4)
	assert.Greater(t, g, critical)

	_, g, _, err = Outlier([]float64{5, 5, 5}, 0.05)
	require.NoError(t, err)
	assert.Zero(t, g)
	_, _, _, err = Outlier([]float64{1, 2}, 0.05)
	require.ErrorContains(t, err, "three or more")
	_, _, _, err = Outlier([]float64{1, math.NaN(), 2}, 0.05)
	require.Error(t, err)
}
