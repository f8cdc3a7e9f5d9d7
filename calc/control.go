package calc

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Constants of the chart of individuals with moving ranges of two
// (NIST/SEMATECH e-Handbook, 6.3.2.2; tables in any textbook of quality
// control): the mean range of two normal values in standard deviations, and the
// limits of the range chart in mean ranges.
const (
	d2 = 1.128
	d4 = 3.267
)

// Control is a control chart of single readings in the order they were taken: all
// in the unit of the readings.
type Control struct {
	Mean        float64 // centre line
	MeanRange   float64 // mean of the moving ranges of two neighbours
	Sigma       float64 // MeanRange/d2: what lies between neighbours only
	Low, High   float64 // Mean ∓ 3·MeanRange/d2, that is ∓ 2.660·MeanRange
	MostRange   float64 // upper limit of the moving ranges, 3.267·MeanRange
	Outside     []int   // readings outside Low and High
	OutsideMove []int   // readings whose step from the one before exceeds MostRange
}

// Individuals makes the chart of individuals and moving ranges, NIST/SEMATECH
// e-Handbook, 6.3.2.2. It needs two readings or more, all of them numbers.
func Individuals(v []float64) (*Control, error) {
	if len(v) < 2 || !finite(v...) {
		return nil, fmt.Errorf("chart of individuals: %d readings; it needs two or more, all of them numbers", len(v))
	}
	c := &Control{Mean: Mean(v)}
	moves := make([]float64, 0, len(v)-1)
	for i := range v[1:] {
		moves = append(moves, math.Abs(Difference(v[i+1], v[i])))
	}
	c.MeanRange = Mean(moves)
	c.Sigma = c.MeanRange / d2
	c.Low, c.High, c.MostRange = c.Mean-3*c.Sigma, c.Mean+3*c.Sigma, d4*c.MeanRange
	// What the mean leaves in the last binary place is not outside.
	eps := 1e-12 * max(math.Abs(c.Low), math.Abs(c.High))
	for i, x := range v {
		if x < c.Low-eps || x > c.High+eps {
			c.Outside = append(c.Outside, i)
		}
		if i > 0 && moves[i-1] > c.MostRange+eps {
			c.OutsideMove = append(c.OutsideMove, i)
		}
	}
	return c, nil
}

// Capability is how a spread fits between two limits: plain numbers.
type Capability struct {
	Cp  float64 // (high − low)/6s
	Cpk float64 // (nearer limit − mean)/3s: negative when the mean lies outside
	Low float64 // which Cpk exceeds with the probability asked for
}

// Capable works out capability from mean, standard deviation s and number n of
// readings: NIST/SEMATECH e-Handbook, 6.1.6. The bound is one-sided and takes
// Cpk as normally distributed with the variance 1/9n + Cpk²/(2(n − 1)) given
// there; with fewer than some 25 readings it is a rough guide. s must be above
// zero, the limits finite and the lower one first, n two or more.
func Capable(mean, s float64, n int, low, high, probability float64) (Capability, error) {
	switch {
	case !finite(mean, s, low, high) || !(s > 0) || !(low < high):
		return Capability{}, fmt.Errorf("capability: mean %v, standard deviation %v, limits %v and %v; it needs a spread and two limits", mean, s, low, high)
	case n < 2:
		return Capability{}, fmt.Errorf("capability: %d readings; it needs two or more", n)
	case !(probability > 0 && probability < 1):
		return Capability{}, fmt.Errorf("capability: probability %v is not between 0 and 1", probability)
	}
	c := Capability{Cp: (high - low) / (6 * s), Cpk: min(high-mean, mean-low) / (3 * s)}
	c.Low = c.Cpk - distuv.UnitNormal.Quantile(probability)*math.Sqrt(1/(9*float64(n))+c.Cpk*c.Cpk/(2*float64(n-1)))
	return c, nil
}

// OneWay compares the means of groups by one-way analysis of variance,
// NIST/SEMATECH e-Handbook, 7.4.3: F is the mean square between the groups over
// that within them, p the probability of an F as large when all groups have one
// mean. Groups may differ in size; it needs two that are not empty, and more
// readings than groups. Readings that do not differ within their groups give F
// +Inf and p 0, or NaN and 1 when the groups do not differ either.
func OneWay(groups ...[]float64) (f, p float64, err error) {
	var all []float64
	k := 0
	for _, g := range groups {
		if len(g) > 0 {
			k++
		}
		all = append(all, g...)
	}
	if k < 2 || len(all) <= k || !finite(all...) {
		return 0, 0, fmt.Errorf("comparison: %d readings in %d groups; it needs two groups, more readings than groups, all of them numbers", len(all), k)
	}
	mean, between, within := Mean(all), 0.0, 0.0
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		m := Mean(g)
		between += float64(len(g)) * (m - mean) * (m - mean)
		for _, x := range g {
			within += (x - m) * (x - m)
		}
	}
	df1, df2 := float64(k-1), float64(len(all)-k)
	f = (between / df1) / (within / df2)
	switch {
	case math.IsNaN(f):
		return f, 1, nil
	case math.IsInf(f, 1):
		return f, 0, nil
	}
	return f, distuv.F{D1: df1, D2: df2}.Survival(f), nil
}
