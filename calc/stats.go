package calc

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Mean returns the arithmetic mean, NaN of nothing.
func Mean(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	m := sum / float64(len(v))
	// A second pass takes off the rounding of the first.
	sum = 0
	for _, x := range v {
		sum += x - m
	}
	return m + sum/float64(len(v))
}

// StdDev returns the experimental standard deviation, with n − 1 below the
// line (JCGM 100, 4.2.2). Fewer than two values give NaN.
func StdDev(v []float64) float64 {
	if len(v) < 2 {
		return math.NaN()
	}
	m, sum := Mean(v), 0.0
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

// studentT is the two-sided point of Student's t; +Inf degrees of freedom give
// the normal distribution's.
func studentT(dof, probability float64) float64 {
	p := (1 + probability) / 2
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}

// Outlier applies Grubbs' two-sided test for one value that does not belong to
// the others, at the given significance, such as 0.05 (NIST/SEMATECH
// e-Handbook, 1.3.5.17.1). It returns the place of the value farthest from the
// mean, its distance in standard deviations and the critical distance; the
// value is an outlier when g exceeds critical. Values all equal have none.
func Outlier(v []float64, significance float64) (index int, g, critical float64, err error) {
	n := float64(len(v))
	if n < 3 || !finite(v...) {
		return 0, 0, 0, fmt.Errorf("outlier: %d values %v; the test needs three or more, all of them numbers", len(v), v)
	}
	if !(significance > 0 && significance < 1) {
		return 0, 0, 0, fmt.Errorf("outlier: significance %v is not between 0 and 1", significance)
	}
	mean, s := Mean(v), StdDev(v)
	for i, x := range v {
		if math.Abs(x-mean) > math.Abs(v[index]-mean) {
			index = i
		}
	}
	if s > 0 {
		g = math.Abs(v[index]-mean) / s
	}
	t := studentT(n-2, 1-significance/n) // two-sided, at significance/n
	return index, g, (n - 1) / math.Sqrt(n) * math.Sqrt(t*t/(n-2+t*t)), nil
}

// CommonShift returns by how much every reading must at least, and may at most,
// be moved so that all lie within their limits, which may be infinite; so one
// shim moves a whole curve, but for the readings at a stop. Where least exceeds
// most no shift serves. No readings give −Inf and +Inf, a NaN gives NaN, and the
// three must be of one length.
func CommonShift(reading, low, high []float64) (least, most float64) {
	least, most = math.Inf(-1), math.Inf(1)
	for i, r := range reading {
		least, most = max(least, low[i]-r), min(most, high[i]-r)
	}
	return least, most
}

// Pooled returns the standard deviation of one reading, found from readings
// taken twice, and its degrees of freedom, one a pair: √(Σd²/2n), IUPAC
// Compendium of Chemical Terminology, "pooled standard deviation".
func Pooled(first, second []float64) (s float64, dof int, err error) {
	switch {
	case len(first) != len(second):
		return 0, 0, fmt.Errorf("repeated readings: %d first but %d second", len(first), len(second))
	case len(first) == 0:
		return 0, 0, fmt.Errorf("repeated readings: none; read a point twice")
	case !finite(first...) || !finite(second...):
		return 0, 0, fmt.Errorf("repeated readings: a reading is not a finite number")
	}
	var sum float64
	for i := range first {
		d := first[i] - second[i]
		sum += d * d
	}
	return math.Sqrt(sum / float64(2*len(first))), len(first), nil
}
