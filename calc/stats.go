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

// Line is a straight line fitted by least squares, y = Intercept + Slope·x.
type Line struct {
	Slope, Intercept   float64
	SSlope, SIntercept float64 // standard uncertainties; NaN of two points
	R2                 float64
	S                  float64 // residual standard deviation; NaN of two points
}

// FitLine fits a line to three or more points, or draws it through two. The
// sums are taken about the means, so that far-off values keep their figures.
func FitLine(x, y []float64) (Line, error) {
	switch {
	case len(x) != len(y):
		return Line{}, fmt.Errorf("line: %d values of x but %d of y", len(x), len(y))
	case len(x) < 2:
		return Line{}, fmt.Errorf("line: %d point(s); two or more are needed", len(x))
	case !finite(x...) || !finite(y...):
		return Line{}, fmt.Errorf("line: a value is not a finite number")
	}
	n, mx, my := float64(len(x)), Mean(x), Mean(y)
	var sxx, sxy, syy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx += dx * dx
		sxy += dx * dy
		syy += dy * dy
	}
	if sxx == 0 {
		return Line{}, fmt.Errorf("line: every x is %v; the points must differ", x[0])
	}
	l := Line{Slope: sxy / sxx, R2: 1}
	l.Intercept = my - l.Slope*mx
	var rss float64
	for i := range x {
		r := y[i] - my - l.Slope*(x[i]-mx)
		rss += r * r
	}
	if syy > 0 {
		l.R2 = 1 - rss/syy
	}
	l.S = math.NaN()
	if len(x) > 2 {
		l.S = math.Sqrt(rss / (n - 2))
	}
	l.SSlope = l.S / math.Sqrt(sxx)
	l.SIntercept = l.S * math.Sqrt(1/n+mx*mx/sxx)
	return l, nil
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
