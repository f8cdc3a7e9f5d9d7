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

// StudentT95 returns the two-sided 95 % point of Student's t; +Inf degrees of
// freedom give the normal distribution's 1.960.
func StudentT95(dof float64) float64 { return studentT(dof, 0.95) }

func studentT(dof, probability float64) float64 {
	p := (1 + probability) / 2
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}
