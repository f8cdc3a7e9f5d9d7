package calc

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads a published table: lines of one or two numbers, with what follows
// them, and certified values by name.
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
		for _, s := range f[:min(2, len(f))] {
			x, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			row = append(row, x)
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows, certified
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
	for name, n := range map[string]int{"Michelso": 100, "Mavro": 50} {
		rows, want := table(t, "nist/"+name+".dat")
		require.Len(t, rows, n)
		var v []float64
		for _, r := range rows {
			v = append(v, r[0])
		}
		assert.InEpsilon(t, want["mean"], Mean(v), 1e-15)
		assert.InEpsilon(t, want["s"], StdDev(v), 1e-12)
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

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, whole rows as
// pdfcoffee.com/student-t-distribution-table-pdf-free.html repeats them; the
// columns are one-sided, so 0.10 is two-sided 80 %.
func TestStudentT(t *testing.T) {
	columns := []float64{0.80, 0.90, 0.95, 0.98, 0.99}
	for dof, row := range map[float64][]float64{
		1:           {3.078, 6.314, 12.706, 31.821, 63.657},
		2:           {1.886, 2.920, 4.303, 6.965, 9.925},
		3:           {1.638, 2.353, 3.182, 4.541, 5.841},
		4:           {1.533, 2.132, 2.776, 3.747, 4.604},
		5:           {1.476, 2.015, 2.571, 3.365, 4.032},
		6:           {1.440, 1.943, 2.447, 3.143, 3.707},
		7:           {1.415, 1.895, 2.365, 2.998, 3.499},
		8:           {1.397, 1.860, 2.306, 2.896, 3.355},
		9:           {1.383, 1.833, 2.262, 2.821, 3.250},
		10:          {1.372, 1.812, 2.228, 2.764, 3.169},
		20:          {1.325, 1.725, 2.086, 2.528, 2.845},
		30:          {1.310, 1.697, 2.042, 2.457, 2.750},
		100:         {1.290, 1.660, 1.984, 2.364, 2.626},
		math.Inf(1): {1.282, 1.645, 1.960, 2.326, 2.576},
	} {
		for i, want := range row {
			assert.InDelta(t, want, studentT(dof, columns[i]), 5.1e-4, "ν = %v, %v", dof, columns[i])
		}
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

// Source: a second table, Grubbs' test after DIN 32645 and DIN 38402, as
// de.scribd.com/document/76685424 prints it (looked up 2026-11-25), one-sided
// at 0.1, 0.05, 0.025 and 0.01: two-sided at twice that.
func TestGrubbsCriticalValuesByLevel(t *testing.T) {
	levels := []float64{0.2, 0.1, 0.05, 0.02}
	for n, row := range map[int][]float64{
		4:  {1.42, 1.46, 1.48, 1.49},
		5:  {1.60, 1.67, 1.71, 1.75},
		6:  {1.73, 1.82, 1.89, 1.94},
		7:  {1.83, 1.94, 2.02, 2.10},
		8:  {1.91, 2.03, 2.13, 2.22},
		10: {2.03, 2.18, 2.29, 2.41},
		12: {2.13, 2.29, 2.41, 2.55},
		20: {2.38, 2.56, 2.71, 2.88},
	} {
		v := make([]float64, n)
		v[0] = 1
		for i, want := range row {
			_, _, critical, err := Outlier(v, levels[i])
			require.NoError(t, err)
			assert.InDelta(t, want, critical, 0.0101, "%d values at %v", n, levels[i]) // its last figure
		}
	}
}

// Source: NIST/SEMATECH e-Handbook 1.3.5.17.1, eight masses of a uranium
// isotope: G 2.4687, and 2.032 the critical value one-sided at 0.05, which is
// two-sided at 0.10. Data and figures as the README of an R package, one of
// several that repeat them, gives them: 2.468765 and 2.031652.
func TestGrubbsExample(t *testing.T) {
	i, g, critical, err := Outlier([]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, 0.05)
	require.NoError(t, err)
	assert.Equal(t, 7, i)
	assert.InDelta(t, 2.468765, g, 5e-7)
	assert.Greater(t, g, critical)
	_, _, critical, err = Outlier([]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, 0.10)
	require.NoError(t, err)
	assert.InDelta(t, 2.031652, critical, 5e-7)

	_, g, _, err = Outlier([]float64{5, 5, 5}, 0.05)
	require.NoError(t, err)
	assert.Zero(t, g)
	_, _, _, err = Outlier([]float64{1, 2}, 0.05)
	require.ErrorContains(t, err, "three or more")
	_, _, _, err = Outlier([]float64{1, math.NaN(), 2}, 0.05)
	require.Error(t, err)
}

func TestCommonShift(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		reading, low, high []float64
		least, most        float64
	}{
		// By hand: the curve lies 0.3 below its lower limit at worst, 0.5 below its upper at best.
		{[]float64{1.0, 2.2, 3.4}, []float64{1.1, 2.3, 3.7}, []float64{1.5, 2.9, 4.1}, 0.3, 0.5},
		{[]float64{2}, []float64{1}, []float64{3}, -1, 1},          // inside already
		{[]float64{1, 5}, []float64{2, 2}, []float64{3, 3}, 1, -2}, // none serves
		{[]float64{1, 5}, []float64{2, -inf}, []float64{inf, 6}, 1, 1},
		{[]float64{1, 5}, []float64{-inf, -inf}, []float64{inf, inf}, -inf, inf},
		{nil, nil, nil, -inf, inf},
	} {
		least, most := CommonShift(c.reading, c.low, c.high)
		assert.InDelta(t, c.least, least, 1e-12, "%v", c.reading)
		assert.InDelta(t, c.most, most, 1e-12, "%v", c.reading)
	}
	least, most := CommonShift([]float64{1, math.NaN()}, []float64{0, 0}, []float64{2, 2})
	assert.True(t, math.IsNaN(least) && math.IsNaN(most))
}

// A shift within least and most brings every reading inside; one beyond, not.
func TestCommonShiftServes(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	inside := func(r, low, high []float64, shift float64) bool {
		for i := range r {
			if r[i]+shift < low[i] || r[i]+shift > high[i] {
				return false
			}
		}
		return true
	}
	served := 0
	for range 1000 {
		var r, low, high []float64
		for i := range 1 + rng.IntN(6) {
			r = append(r, rng.NormFloat64())
			low = append(low, 2*rng.NormFloat64())
			high = append(high, low[i]+3*rng.Float64())
		}
		least, most := CommonShift(r, low, high)
		assert.Equal(t, least <= most, inside(r, low, high, (least+most)/2))
		assert.False(t, inside(r, low, high, least-1e-6))
		assert.False(t, inside(r, low, high, most+1e-6))
		if least <= most {
			served++
			assert.True(t, inside(r, low, high, least+1e-9*(most-least)))
		}
	}
	assert.Greater(t, served, 100)
}

// That it is the standard deviation below the line of the e-Handbook's lack of
// fit stands in TestFitCurveLoadCellLine.
func TestPooled(t *testing.T) {
	// By hand: differences 1, −1, 2 and 0, so √(6/8).
	s, dof, err := Pooled([]float64{5, 6, 7, 8}, []float64{4, 7, 5, 8})
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(0.75), s, 1e-15)
	assert.Equal(t, 4, dof)
	// One pair is the standard deviation of two.
	s, dof, err = Pooled([]float64{10.2}, []float64{10.5})
	require.NoError(t, err)
	assert.InDelta(t, StdDev([]float64{10.2, 10.5}), s, 1e-15)
	assert.Equal(t, 1, dof)
	for want, c := range map[string][2][]float64{
		"1 first but 2": {{1}, {1, 2}},
		"none":          {nil, nil},
		"not a finite":  {{1}, {math.NaN()}},
	} {
		_, _, err := Pooled(c[0], c[1])
		assert.ErrorContains(t, err, want)
	}
	// It finds the scatter it is made with: 2 of 4000 pairs, whose own standard
	// uncertainty is 2/√8000.
	rng := rand.New(rand.NewPCG(9, 10))
	var first, second []float64
	for i := range 4000 {
		first = append(first, float64(i)+2*rng.NormFloat64())
		second = append(second, float64(i)+2*rng.NormFloat64())
	}
	s, _, err = Pooled(first, second)
	require.NoError(t, err)
	assert.InDelta(t, 2, s, 4*2/math.Sqrt(8000))
}
