package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// NIST/SEMATECH e-Handbook, 6.3.2.2: flow rates of ten batches. Mean 50.81, mean
// moving range 1.8778, limits 55.8041 and 45.8159 are printed there.
func TestIndividualsOfTheHandbook(t *testing.T) {
	c, err := Individuals([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1})
	require.NoError(t, err)
	require.InDelta(t, 50.81, c.Mean, 1e-9)
	require.InDelta(t, 1.8778, c.MeanRange, 5e-5)
	require.InDelta(t, 55.8041, c.High, 5e-5)
	require.InDelta(t, 45.8159, c.Low, 5e-5)
	require.Empty(t, c.Outside)
	require.Empty(t, c.OutsideMove)
	// Textbooks print the factor of the mean range as 2.660 (E2) and that of the
	// range chart's limit as 3.267 (D4).
	require.InDelta(t, 2.660, (c.High-c.Mean)/c.MeanRange, 5e-4)
	require.InDelta(t, 3.267, c.MostRange/c.MeanRange, 5e-4)
}

// Montgomery and Runger, Applied Statistics and Probability for Engineers, a
// published solution to an exercise of section 15-4: twenty readings with sum
// 1061 and these moving ranges, sum 56; limits 60.888 and 45.212, 9.628 for the
// ranges. The solution does not print the readings: these have that sum and
// those ranges.
func TestIndividualsOfATextbook(t *testing.T) {
	ranges := []float64{1, 2, 1, 0, 4, 1, 2, 1, 5, 5, 6, 1, 8, 3, 1, 2, 4, 6, 3}
	v, sum := []float64{0}, 0.0
	for i, r := range ranges {
		next := v[i] + r
		if i%2 == 1 {
			next = v[i] - r
		}
		v = append(v, next)
		sum += next
	}
	for i := range v {
		v[i] += (1061 - sum) / 20
	}
	c, err := Individuals(v)
	require.NoError(t, err)
	require.InDelta(t, 53.05, c.Mean, 1e-9)
	require.InDelta(t, 2.947, c.MeanRange, 5e-4)
	require.InDelta(t, 60.888, c.High, 1e-3) // the solution takes the rounded 2.947
	require.InDelta(t, 45.212, c.Low, 1e-3)
	require.InDelta(t, 9.628, c.MostRange, 2e-3)
}

func TestIndividualsOutside(t *testing.T) {
	c, err := Individuals([]float64{1, 2, 1, 2, 1, 2, 1, 2, 9, 2, 1, 2})
	require.NoError(t, err)
	require.Equal(t, []int{8}, c.Outside)
	require.Equal(t, []int{8, 9}, c.OutsideMove)
	c, err = Individuals([]float64{0.3, 0.3, 0.3})
	require.NoError(t, err)
	require.Empty(t, c.Outside)
	for _, bad := range [][]float64{nil, {1}, {1, math.NaN()}, {1, math.Inf(1)}} {
		_, err := Individuals(bad)
		require.Error(t, err)
	}
}

// NIST/SEMATECH e-Handbook, 6.1.6: limits 8 and 20, mean 16, s 2 give Cp 1.0 and
// Cpk 0.6667.
func TestCapabilityOfTheHandbook(t *testing.T) {
	c, err := Capable(16, 2, 100, 8, 20, .95)
	require.NoError(t, err)
	require.InDelta(t, 1.0, c.Cp, 1e-12)
	require.InDelta(t, 0.6667, c.Cpk, 5e-5)
	require.Less(t, c.Low, c.Cpk)
}

// The bound of Cpk. Quality Digest, May 2000, "Last Word": 45 readings and a Cpk
// of 1.15 give 0.89 to 1.41 with 95 %, two-sided.
func TestBoundOfCpk(t *testing.T) {
	c, err := Capable(1.15*3, 1, 45, 0, 1000, .975) // two-sided 95 % is one-sided 97.5 %
	require.NoError(t, err)
	require.InDelta(t, 1.15, c.Cpk, 1e-12)
	require.InDelta(t, .89, c.Low, .005)
	_, err = Capable(1, 0, 5, 0, 2, .95)
	require.ErrorContains(t, err, "needs a spread")
	_, err = Capable(1, 1, 1, 0, 2, .95)
	require.Error(t, err)
	_, err = Capable(1, 1, 5, 2, 0, .95)
	require.Error(t, err)
	_, err = Capable(1, 1, 5, 0, 2, 1)
	require.Error(t, err)
}

// NIST StRD, analysis of variance, data set SiRstv: resistivity of silicon wafers
// by five instruments; certified F 1.18046237440255.
func TestOneWayCertified(t *testing.T) {
	f, p, err := OneWay(
		[]float64{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
		[]float64{196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
		[]float64{196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
		[]float64{196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
		[]float64{196.2119, 196.1051, 196.1850, 196.0052, 196.2090})
	require.NoError(t, err)
	require.InEpsilon(t, 1.18046237440255, f, 1e-10)
	require.Greater(t, p, .05)
}

// A published solution of a textbook exercise, yield of a chemical process at
// three temperatures: F 1.36 and p 0.2945. NIST/SEMATECH e-Handbook, 7.4.3.3:
// resistors at three levels, F 9.59 (from memory).
func TestOneWayWorked(t *testing.T) {
	f, p, err := OneWay([]float64{33, 23, 35, 38, 31}, []float64{29, 30, 33, 22, 26}, []float64{27, 32, 32, 34, 35})
	require.NoError(t, err)
	require.InDelta(t, 1.3559, f, 5e-5)
	require.InDelta(t, .2945, p, 5e-5)
	f, p, err = OneWay([]float64{6.9, 5.4, 5.8, 4.6, 4.0}, []float64{8.3, 6.8, 7.8, 9.2, 6.5}, []float64{8.0, 10.5, 8.1, 6.9, 9.3})
	require.NoError(t, err)
	require.InDelta(t, 9.59, f, 5e-3)
	require.Less(t, p, .01)
}

func TestOneWayEdges(t *testing.T) {
	f, p, err := OneWay([]float64{1, 1}, []float64{2, 2}, nil)
	require.NoError(t, err)
	require.True(t, math.IsInf(f, 1))
	require.Zero(t, p)
	_, p, err = OneWay([]float64{1, 1}, []float64{1, 1})
	require.NoError(t, err)
	require.Equal(t, 1.0, p)
	for _, bad := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, math.NaN()}, {2}}} {
		_, _, err := OneWay(bad...)
		require.Error(t, err)
	}
}
