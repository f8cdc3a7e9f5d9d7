package calc

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Source is one cause of uncertainty.
type Source struct {
	Name string
	U    float64 // standard uncertainty × sensitivity, in the unit of the result
	Dof  float64 // degrees of freedom; +Inf where the value is simply known
}

// Combine returns the combined standard uncertainty, its effective degrees of
// freedom (Welch–Satterthwaite, JCGM 100, G.4.1; +Inf when nothing limits
// them) and the expanded uncertainty at a probability such as 0.95. The sources
// are taken as independent; no sources give an uncertainty of zero.
func Combine(sources []Source, probability float64) (uc, dof, expanded float64) {
	var squares, limits float64
	for _, s := range sources {
		squares += s.U * s.U
	}
	uc = math.Sqrt(squares)
	if uc == 0 {
		return 0, math.Inf(1), 0
	}
	for _, s := range sources {
		if s.U != 0 {
			limits += math.Pow(s.U/uc, 4) / s.Dof
		}
	}
	dof = 1 / limits
	return uc, dof, Expand(uc, dof, probability)
}

// Expand returns the expanded uncertainty at a probability such as 0.95:
// Student's t times uc, the degrees of freedom cut to a whole number as JCGM
// 100, G.4.1 advises. Without degrees of freedom it is +Inf: nothing is known.
func Expand(uc, dof, probability float64) float64 {
	if uc == 0 {
		return 0
	}
	if !(dof > 0) {
		return math.Inf(1)
	}
	if dof > 1 {
		dof = math.Floor(dof + 1e-9)
	}
	return studentT(dof, probability) * uc
}

// Rectangular returns the standard uncertainty of a value known only to lie
// within ±halfWidth: JCGM 100, 4.3.7.
func Rectangular(halfWidth float64) float64 { return math.Abs(halfWidth) / math.Sqrt(3) }

// ResolutionU returns the standard uncertainty that the last figure of an
// instrument leaves: ±half of it, rectangular. JCGM 100, F.2.2.1.
func ResolutionU(resolution float64) float64 { return Rectangular(resolution / 2) }

// Repeatability returns the standard uncertainty of the mean of readings and
// its degrees of freedom, JCGM 100, 4.2.3. Fewer than two readings say nothing
// about it: NaN and 0.
func Repeatability(readings []float64) (u, dof float64) {
	n := float64(len(readings))
	if n < 2 {
		return math.NaN(), 0
	}
	return StdDev(readings) / math.Sqrt(n), n - 1
}

// Conformity returns the probability that the true value lies within the
// limits, either of which may be infinite, given a measured value with
// standard uncertainty u, normally distributed: JCGM 106, 7.
func Conformity(measured, u, low, high float64) float64 {
	if u == 0 {
		if measured >= low && measured <= high {
			return 1
		}
		return 0
	}
	if measured-low < high-measured {
		// Mirrored, it is the difference of the smaller tails, which keeps its figures.
		measured, low, high = -measured, -high, -low
	}
	n := distuv.Normal{Mu: measured, Sigma: u}
	return n.CDF(high) - n.CDF(low)
}

// Decision is what a measured value says about a limit.
type Decision uint8

// The decisions.
const (
	TooClose    Decision = iota // to a limit, for this uncertainty
	Meets                       // inside both limits by at least the uncertainty
	DoesNotMeet                 // outside a limit by more than the uncertainty
)

// String returns the decision as the report words it.
func (d Decision) String() string {
	switch d {
	case Meets:
		return "meets"
	case DoesNotMeet:
		return "does not meet"
	}
	return "too close to say"
}

// Decide compares x, of expanded uncertainty U, with limits that may be
// infinite. It says Meets or DoesNotMeet only where the uncertainty leaves no
// doubt (guarded acceptance and guarded rejection, JCGM 106, 8.3), and TooClose
// between; a value that is no number is TooClose.
func Decide(x, U, low, high float64) Decision {
	// Decimal figures that meet a limit exactly must do so in binary too.
	slack := 1e-12 * (math.Abs(x) + U)
	if math.IsInf(slack, 0) {
		slack = 0
	}
	switch {
	case x-U >= low-slack && x+U <= high+slack:
		return Meets
	case x+U < low-slack || x-U > high+slack:
		return DoesNotMeet
	}
	return TooClose
}
