package calc

import (
	"fmt"
	"math"
	"slices"
)

func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// PerThousand returns the delivery in cm³ per 1000 strokes (the same number in
// mm³ per stroke) of cm3 caught in so many strokes.
func PerThousand(cm3 float64, strokes int) (float64, error) {
	if strokes <= 0 {
		return 0, errorf("delivery", "%d strokes; write how many strokes were counted", strokes)
	}
	if !finite(cm3) || cm3 < 0 {
		return 0, fmt.Errorf("delivery: a volume of %v cm³ cannot be caught", cm3)
	}
	return cm3 * 1000 / float64(strokes), nil
}

// Spread is how the outlets differ, in the unit of the readings.
type Spread struct {
	Mean            float64
	Absolute        float64 // Highest − Lowest
	Percent         float64 // Absolute in percent of Mean
	Highest, Lowest float64
	Farthest        float64 // of the reading farthest from Mean, its distance
	FarthestPercent float64 // the same in percent of Mean
}

// Difference returns a − b as of decimal figures: without the last binary places
// that 61.8 − 59.45 leaves at 2.3499999999999943, which would round the other
// way from 2.35.
func Difference(a, b float64) float64 { return kept(a-b, max(math.Abs(a), math.Abs(b))) }

// kept keeps of x what 14 figures of a number as large as size keep.
func kept(x, size float64) float64 {
	if size == 0 || !finite(x, size) {
		return x
	}
	f := math.Pow10(13 - int(math.Floor(math.Log10(math.Abs(size)))))
	return math.Round(x*f) / f
}

// SpreadOf compares the readings of one bench point, one per outlet. All zero
// gives a spread of 0 %; a mean of zero otherwise is an error.
func SpreadOf(v []float64) (Spread, error) {
	if len(v) == 0 {
		return Spread{}, fmt.Errorf("spread: no readings")
	}
	if !finite(v...) {
		return Spread{}, fmt.Errorf("spread: a reading is not a finite number: %v", v)
	}
	s := Spread{Mean: Mean(v), Highest: slices.Max(v), Lowest: slices.Min(v)}
	s.Absolute = Difference(s.Highest, s.Lowest)
	switch {
	case s.Absolute == 0:
	case s.Mean == 0:
		return Spread{}, errorf("spread", "the mean of %v is zero, so there is no percentage of it", v)
	default:
		s.Percent = s.Absolute / math.Abs(s.Mean) * 100
		s.Percent = kept(s.Percent, s.Percent)
		s.Farthest = max(Difference(s.Highest, s.Mean), Difference(s.Mean, s.Lowest))
		s.FarthestPercent = s.Farthest / math.Abs(s.Mean) * 100
		s.FarthestPercent = kept(s.FarthestPercent, s.FarthestPercent)
	}
	return s, nil
}

// FallsThrough returns the speed at which delivery falls through a value at
// the governor's run-out: on straight lines between the readings, sorted by
// speed, the last place where it comes down to the value or leaves it
// downwards; and how much it falls there for one of speed. Two readings at one
// speed count as their mean.
func FallsThrough(speeds, deliveries []float64, at float64) (speed, fall float64, err error) {
	if len(speeds) != len(deliveries) {
		return 0, 0, fmt.Errorf("run-out: %d speeds but %d deliveries", len(speeds), len(deliveries))
	}
	if !finite(speeds...) || !finite(deliveries...) || !finite(at) {
		return 0, 0, fmt.Errorf("run-out: a reading is not a finite number")
	}
	type point struct {
		n, q float64
		of   float64 // readings in the mean
	}
	points := make([]point, len(speeds))
	for i := range speeds {
		points[i] = point{speeds[i], deliveries[i], 1}
	}
	slices.SortStableFunc(points, func(a, b point) int {
		switch {
		case a.n < b.n:
			return -1
		case a.n > b.n:
			return 1
		}
		return 0
	})
	merged := points[:0]
	for _, p := range points {
		if last := len(merged) - 1; last >= 0 && merged[last].n == p.n {
			m := &merged[last]
			m.q += (p.q - m.q) / (m.of + 1)
			m.of++
			continue
		}
		merged = append(merged, p)
	}
	if len(merged) < 2 {
		return 0, 0, errorf("run-out", "readings at %d speed(s); two different speeds are needed to draw a line", len(merged))
	}
	for i := len(merged) - 1; i > 0; i-- {
		a, b := merged[i-1], merged[i]
		if a.q >= at && b.q <= at && a.q > b.q {
			return a.n + (a.q-at)/(a.q-b.q)*(b.n-a.n), (a.q - b.q) / (b.n - a.n), nil
		}
	}
	last := merged[len(merged)-1]
	if last.q > at {
		return 0, 0, errorf("run-out", "delivery is still %.4g at %.5g rev/min, the highest speed, and has not fallen to %.4g; count a higher speed, or the governor lets go too late", last.q, last.n, at)
	}
	return 0, 0, errorf("run-out", "delivery is nowhere above %.4g, so it does not fall through it; count a lower speed", at)
}

// ScrewTurn returns how far to turn the full-load screw from its present place
// t2 (turns, delivery d2) to reach the target, on the straight line through
// the place before, t1 and d1. beyond says that the new place is outside what
// was tried, where the line is a guess: turn less, and read again.
func ScrewTurn(t1, d1, t2, d2, target float64) (turns float64, beyond bool, err error) {
	switch {
	case !finite(t1, d1, t2, d2, target):
		return 0, false, fmt.Errorf("screw: a reading is not a finite number")
	case t1 == t2:
		return 0, false, errorf("screw", "both readings are at %v turns; turn the screw between them", t1)
	case d1 == d2:
		return 0, false, errorf("screw", "delivery is %v at both places, so the screw does nothing here; look for another cause", d1)
	}
	turns = (target - d2) * ((t2 - t1) / (d2 - d1))
	to := t2 + turns
	slack := 1e-9 * math.Abs(t2-t1)
	return turns, to < min(t1, t2)-slack || to > max(t1, t2)+slack, nil
}

// Droop returns the speed droop in percent of the rated speed:
// (no-load − rated)/rated, ISO 3046-4.
func Droop(noLoad, rated float64) (float64, error) {
	if !finite(noLoad, rated) || rated <= 0 {
		return 0, errorf("droop", "rated speed %v, no-load speed %v; both must be numbers and the rated speed above zero", rated, noLoad)
	}
	return (noLoad - rated) / rated * 100, nil
}

// FlowLPerH returns the flow in L/h of cm3 caught in so many seconds.
func FlowLPerH(cm3, seconds float64) (float64, error) {
	if !finite(cm3, seconds) || cm3 < 0 || seconds <= 0 {
		return 0, errorf("flow", "%v cm³ in %v s; write a volume and a time above zero", cm3, seconds)
	}
	return cm3 * 3.6 / seconds, nil
}

// FuelFlow returns the fuel flow in kg/h of a pump that delivers so many mm³ a
// stroke at each of its outlets once a revolution; pumpSpeed in rev/min.
func FuelFlow(mm3PerStroke, pumpSpeed float64, outlets int, densityKgM3 float64) (kgPerH float64, err error) {
	if !finite(mm3PerStroke, pumpSpeed, densityKgM3) || mm3PerStroke < 0 || pumpSpeed < 0 || outlets < 1 || densityKgM3 <= 0 {
		return 0, fmt.Errorf("fuel flow: %v mm³/stroke, %v rev/min, %d outlets, %v kg/m³; none may be negative, and outlets and density must be above zero",
			mm3PerStroke, pumpSpeed, outlets, densityKgM3)
	}
	return mm3PerStroke * pumpSpeed * 60 * float64(outlets) * densityKgM3 * 1e-9, nil
}

// Power returns the power in kW that a fuel flow in kg/h supports at a specific
// consumption in g/kWh: P = ṁ/b. It is an estimate: the consumption is the
// engine's, at that load and speed.
func Power(kgPerH, gPerKWh float64) (kW float64, err error) {
	if !finite(kgPerH, gPerKWh) || kgPerH < 0 || gPerKWh <= 0 {
		return 0, fmt.Errorf("power: %v kg/h at %v g/kWh; write a flow that is not negative and a specific consumption above zero", kgPerH, gPerKWh)
	}
	return kgPerH * 1000 / gPerKWh, nil
}
