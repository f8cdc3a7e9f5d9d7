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

// The normal distribution's table, NIST/SEMATECH e-Handbook 1.3.6.7.1: up to 1.40
// it holds 0.91924, within ±1 2 × 0.34134, within ±1.96 2 × 0.47500.
func TestConformity(t *testing.T) {
	inf := math.Inf(1)
	assert.InDelta(t, 0.91924, Conformity(-5.47, 0.05, -inf, -5.40), 5e-6)
	assert.InDelta(t, 0.91924, Conformity(5.47, 0.05, 5.40, inf), 5e-6)
	assert.InDelta(t, 0.68268, Conformity(6.2, 0.1, 6.1, 6.3), 1e-5)
	assert.InDelta(t, 0.95, Conformity(0, 1, -1.96, 1.96), 1e-5)
	assert.InDelta(t, 0.5, Conformity(6.3, 0.001, 6.1, 6.3), 1e-9)
	assert.Equal(t, 1.0, Conformity(6.3, 0, 6.1, 6.3))
	assert.Equal(t, 0.0, Conformity(6.31, 0, 6.1, 6.3))
	assert.Equal(t, 1.0, Conformity(0, 1, -inf, inf))
	assert.Greater(t, Conformity(30, 1, -1, 1), 0.0, "a small tail is not lost")
	assert.Greater(t, Conformity(-30, 1, -1, 1), 0.0)
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
