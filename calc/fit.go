package calc

import (
	"fmt"
	"math"
)

// Curve is a straight line or a parabola fitted by least squares, y = Coef[0] +
// Coef[1]·x + Coef[2]·x². Its zero value is no curve; FitCurve makes one.
type Curve struct {
	Coef []float64   // by power of x, as many as the degree and one
	U    []float64   // standard uncertainties of Coef; NaN where Dof is 0
	Corr [][]float64 // correlation coefficients of Coef[i] with Coef[j]
	S    float64     // standard deviation of one y about the curve; NaN where Dof is 0
	R2   float64     // part of the variance of y that the curve explains; 1 where y never changes
	Dof  int         // degrees of freedom: points less coefficients

	// The same curve as Σ weight[j]·Pj(z), z = (x − mid)/span. The Pj are
	// orthogonal over the points, so the weights are independent of one another
	// and nothing is lost however far off the values are (Forsythe's method).
	mid, span   float64
	alpha, beta float64 // P0 = 1, P1 = z, P2 = z² − alpha·z − beta
	weight      []float64
	norm        []float64 // ΣPj² over the points
	rounding    float64   // of the arithmetic, in the unit of y
}

// orthogonal returns the values of P0, P1 and P2.
func (c Curve) orthogonal(x float64) [3]float64 {
	z := (x - c.mid) / c.span
	return [3]float64{1, z, (z-c.alpha)*z - c.beta}
}

var errTooLarge = errorf("curve", "the values are too large to reckon with")

// FitCurve fits a line (degree 1) or a parabola (degree 2) to points at more
// different x than the degree. Points as many as coefficients are met exactly
// and leave the uncertainties unknown.
func FitCurve(x, y []float64, degree int) (Curve, error) {
	terms := degree + 1
	switch {
	case degree != 1 && degree != 2:
		return Curve{}, fmt.Errorf("curve: degree %d; it must be 1, a line, or 2, a parabola", degree)
	case len(x) != len(y):
		return Curve{}, fmt.Errorf("curve: %d values of x but %d of y", len(x), len(y))
	case len(x) < terms:
		return Curve{}, fmt.Errorf("curve: %d point(s); %d or more are needed", len(x), terms)
	case !finite(x...) || !finite(y...):
		return Curve{}, fmt.Errorf("curve: a value is not a finite number")
	}
	c := Curve{mid: Mean(x), R2: 1, S: math.NaN(), Dof: len(x) - terms, weight: make([]float64, terms), norm: make([]float64, terms)}
	different := map[float64]bool{}
	for i := range x {
		c.span = max(c.span, math.Abs(x[i]-c.mid))
		c.rounding = max(c.rounding, 1e-12*math.Abs(y[i]))
		different[x[i]+0] = true // + 0 makes one zero of two
	}
	if len(different) == 1 {
		return Curve{}, errorf("curve", "every x is %v; the points must differ", x[0])
	}
	if len(different) < terms {
		return Curve{}, fmt.Errorf("curve: only %d different x; a curve of degree %d needs %d", len(different), degree, terms)
	}
	if !finite(c.mid, c.span) {
		return Curve{}, errTooLarge
	}
	var z2, z3 float64
	for i := range x {
		z := (x[i] - c.mid) / c.span
		z2 += z * z
		z3 += z * z * z
	}
	c.alpha, c.beta = z3/z2, z2/float64(len(x))

	points := make([][3]float64, len(x))
	for i := range x {
		points[i] = c.orthogonal(x[i])
		for j := range terms {
			c.norm[j] += points[i][j] * points[i][j]
		}
	}
	if !(c.norm[degree] > 1e-24) {
		return Curve{}, errorf("curve", "the x are too close together for a curve of degree %d", degree)
	}
	rest := append([]float64(nil), y...)
	for range 2 { // a second pass takes off the rounding of the first
		for j := range terms {
			var sum float64
			for i := range rest {
				sum += rest[i] * points[i][j]
			}
			more := sum / c.norm[j]
			c.weight[j] += more
			for i := range rest {
				rest[i] -= more * points[i][j]
			}
		}
	}

	var left, total float64
	mean := Mean(y)
	for i := range rest {
		left += rest[i] * rest[i]
		total += (y[i] - mean) * (y[i] - mean)
	}
	if total > 0 {
		c.R2 = 1 - left/total
	}
	if c.Dof > 0 {
		c.S = math.Sqrt(left / float64(c.Dof))
	}

	// Each Pj written out in powers of x gives its share of every coefficient.
	m, h := c.mid/c.span, c.span
	powers := [3][3]float64{{1}, {-m, 1 / h}, {m*m + c.alpha*m - c.beta, -(2*m + c.alpha) / h, 1 / (h * h)}}
	cov := func(a, b int) (sum float64) { // over S²
		for j := range terms {
			sum += powers[j][a] * powers[j][b] / c.norm[j]
		}
		return sum
	}
	for a := range terms {
		var coef float64
		for j := range terms {
			coef += c.weight[j] * powers[j][a]
		}
		corr := make([]float64, terms)
		for b := range terms {
			corr[b] = cov(a, b) / math.Sqrt(cov(a, a)*cov(b, b))
		}
		c.Coef = append(c.Coef, coef)
		c.U = append(c.U, c.S*math.Sqrt(cov(a, a)))
		c.Corr = append(c.Corr, corr)
	}
	if !finite(c.Coef...) || !finite(c.R2) {
		return Curve{}, errTooLarge
	}
	return c, nil
}

// At returns the curve's y at x and its standard uncertainty, which is that of
// the curve, not of one more reading (JCGM 100, H.3.4); NaN where Dof is 0.
func (c Curve) At(x float64) (y, u float64) {
	var square float64
	p := c.orthogonal(x)
	for j, w := range c.weight {
		y += w * p[j]
		square += p[j] * p[j] / c.norm[j]
	}
	return y, c.S * math.Sqrt(square)
}

// Band returns by how much, up or down, the true curve may lie from the fitted
// one at x, at a probability such as 0.95: Student's t times the standard
// uncertainty there. NaN where Dof is 0.
func (c Curve) Band(x, probability float64) float64 {
	if c.Dof < 1 {
		return math.NaN()
	}
	_, u := c.At(x)
	return studentT(float64(c.Dof), probability) * u
}

// LeadingT tests whether the points need the highest power of x: t is its
// coefficient in standard uncertainties, and the power is significant at a
// probability such as 0.95 when |t| exceeds critical, Student's two-sided
// point. A parabola with t below −critical bends downwards. NaN where Dof is 0.
func (c Curve) LeadingT(probability float64) (t, critical float64) {
	if c.Dof < 1 {
		return math.NaN(), math.NaN()
	}
	k := len(c.weight) - 1
	// Points that lie on the curve exactly leave nothing but rounding.
	if s := max(c.S, c.rounding); s > 0 {
		t = c.weight[k] * math.Sqrt(c.norm[k]) / s
	}
	return t, studentT(float64(c.Dof), probability)
}
