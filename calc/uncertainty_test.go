package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Conformity by the examples of JCGM 106:2012 that UKAS repeats in LAB 48,
// Decision Rules and Statements of Conformity (examples 6 and 12), as translated
// at ghaaemi.ir, 2022-05-01: 7.3.3 example 2, the bursting strength of a
// container, at least 490 kPa; 7.4, an SAE 40 oil, 12.5 to 16.3 mm²/s. Printed in
// whole percent.
func TestConformityExamples(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ measured, u, low, high, percent float64 }{
		{509.7, 8.6, 490, inf, 99},
		{495.2, 8.6, 490, inf, 73},
		{13.6, 1.8, 12.5, 16.3, 66},
		{13.6, 2.2, 12.5, 16.3, 58},
	} {
		assert.Equal(t, c.percent, Rounded(100*Conformity(c.measured, c.u, c.low, c.high), 0), "%+v", c)
	}
}

// Guarded acceptance as in LAB 48, example 13, rule 1 (ghaaemi.ir, as above): a
// surface roughness of 1.5 to 1.9 read with u 0.05 and guard bands of 2u is
// accepted from 1.6 to 1.8, where no more than 2.3 % are accepted wrongly.
func TestGuardedAcceptance(t *testing.T) {
	const u, low, high = 0.05, 1.5, 1.9
	for r, want := range map[float64]Decision{1.59: TooClose, 1.6: Meets, 1.7: Meets, 1.8: Meets, 1.81: TooClose, 1.39: DoesNotMeet, 2.01: DoesNotMeet} {
		assert.Equal(t, want, Decide(r, 2*u, low, high), "%v", r)
		if want == Meets {
			assert.LessOrEqual(t, Rounded(100*(1-Conformity(r, u, low, high)), 1), 2.3)
		}
	}
	assert.InDelta(t, 2.3, 100*(1-Conformity(1.6, u, low, high)), 0.05)
}

// Guarded rejection, JCGM 106:2012, 8.3.3.2, example 1 (LAB 48, example 11): a
// radar of 2 % standard uncertainty must leave no more than one chance in a
// thousand that a driver over the threshold kept to 100 km/h. That the threshold
// is 107 km/h is from memory; the rest from ghaaemi.ir, as above.
func TestGuardedRejection(t *testing.T) {
	for v, want := range map[float64]Decision{100: TooClose, 106: TooClose, 107: DoesNotMeet} {
		u := 0.02 * v
		assert.Equal(t, want, Decide(v, Expand(u, math.Inf(1), 0.998), 0, 100), "%v km/h", v)
		assert.Equal(t, want == DoesNotMeet, Conformity(v, u, math.Inf(-1), 100) <= 0.001, "%v km/h", v)
	}
}
