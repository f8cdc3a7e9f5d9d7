package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPerThousand(t *testing.T) {
	q, err := PerThousand(8.2, 200) // by hand: 8.2 × 5
	require.NoError(t, err)
	assert.InDelta(t, 41, q, 1e-12)
	for _, strokes := range []int{0, -5} {
		_, err = PerThousand(8.2, strokes)
		assert.ErrorContains(t, err, "how many strokes")
	}
	_, err = PerThousand(-1, 200)
	assert.Error(t, err)
	_, err = PerThousand(math.NaN(), 200)
	assert.Error(t, err)
}

func TestSpread(t *testing.T) {
	s, err := SpreadOf([]float64{41.0, 40.2, 41.4, 41.4}) // by hand
	require.NoError(t, err)
	assert.InDelta(t, 41, s.Mean, 1e-12)
	assert.InDelta(t, 1.2, s.Absolute, 1e-12)
	assert.InDelta(t, 120./41, s.Percent, 1e-12)
	assert.Equal(t, 41.4, s.Highest)
	assert.Equal(t, 40.2, s.Lowest)
	s, err = SpreadOf([]float64{0, 0})
	require.NoError(t, err)
	assert.Zero(t, s.Percent)
	_, err = SpreadOf([]float64{-1, 1})
	assert.ErrorContains(t, err, "mean of [-1 1] is zero")
	_, err = SpreadOf(nil)
	assert.Error(t, err)
	_, err = SpreadOf([]float64{1, math.Inf(1)})
	assert.Error(t, err)
}

func TestFallsThrough(t *testing.T) {
	n, _, err := FallsThrough([]float64{2300, 1800, 2100, 2200}, []float64{0, 40, 38, 20}, 10)
	require.NoError(t, err)
	assert.InDelta(t, 2250, n, 1e-9) // halfway between 20 and 0
	n, _, err = FallsThrough([]float64{100, 200, 300, 400, 500}, []float64{30, 5, 30, 20, 0}, 10)
	require.NoError(t, err)
	assert.InDelta(t, 450, n, 1e-9, "the last fall, not the dip before it")
	n, _, err = FallsThrough([]float64{100, 200, 200}, []float64{20, 4, 0}, 10)
	require.NoError(t, err)
	assert.InDelta(t, 100+100*10./18, n, 1e-9, "two readings at one speed are their mean")
	n, _, err = FallsThrough([]float64{100, 200}, []float64{20, 10}, 10)
	require.NoError(t, err)
	assert.Equal(t, 200.0, n, "just reached")
	for want, c := range map[string][2][]float64{
		"has not fallen to 10":    {{100, 200}, {40, 30}},
		"nowhere above 10":        {{100, 200}, {5, 0}},
		"readings at 1 speed":     {{100}, {40}},
		"readings at 1 speed(s);": {{100, 100}, {40, 0}},
		"readings at 0 speed":     {{}, {}},
		"2 speeds but 1":          {{1, 2}, {1}},
		"not a finite":            {{1, math.NaN()}, {1, 2}},
	} {
		_, _, err := FallsThrough(c[0], c[1], 10)
		assert.ErrorContains(t, err, want)
	}
}

func TestScrewTurn(t *testing.T) {
	turns, beyond, err := ScrewTurn(0, 38, 0.5, 42, 41) // 8 a turn: back an eighth
	require.NoError(t, err)
	assert.InDelta(t, -0.125, turns, 1e-12)
	assert.False(t, beyond)
	turns, beyond, err = ScrewTurn(0, 38, 0.5, 42, 46)
	require.NoError(t, err)
	assert.InDelta(t, 0.5, turns, 1e-12)
	assert.True(t, beyond)
	_, beyond, _ = ScrewTurn(0.3, 38, 0.1, 42, 38)
	assert.False(t, beyond, "back to the first place exactly")
	_, _, err = ScrewTurn(1, 38, 1, 42, 40)
	assert.ErrorContains(t, err, "both readings are at 1 turns")
	_, _, err = ScrewTurn(1, 38, 2, 38, 40)
	assert.ErrorContains(t, err, "does nothing here")
	_, _, err = ScrewTurn(1, math.NaN(), 2, 38, 40)
	assert.Error(t, err)
}

// Droop as ISO 3046-4 defines it, on the rated speed. Published: Chapman,
// Electric Machinery Fundamentals, solutions manual, page 96 (the first two);
// the US Army's TM 5-3895-355-14P, table 1, no-load and full-load speeds of
// engines set "approximately 3 % to 5 %" apart, of which 1575 against 1500 is the
// 5 % of a 50 Hz generating set.
func TestDroop(t *testing.T) {
	for _, c := range []struct{ noLoad, rated, droop float64 }{
		{3650, 3570, 2.24}, {1800, 1780, 1.12}, {1575, 1500, 5}, {1050, 1000, 5},
	} {
		d, err := Droop(c.noLoad, c.rated)
		require.NoError(t, err)
		assert.InDelta(t, c.droop, d, 0.005)
	}
	_, err := Droop(1575, 0)
	assert.Error(t, err)
}

func TestFlows(t *testing.T) {
	f, err := FlowLPerH(250, 30) // by hand: 250 cm³ in 30 s is 500 in a minute, 30 L in an hour
	require.NoError(t, err)
	assert.InDelta(t, 30, f, 1e-12)
	_, err = FlowLPerH(250, 0)
	assert.Error(t, err)
	// By hand: 4800 strokes a minute × 50 mm³ is 240 cm³, 14.4 L an hour, at 0.83 kg/L 11.952 kg.
	m, err := FuelFlow(50, 1200, 4, 830)
	require.NoError(t, err)
	assert.InDelta(t, 11.952, m, 1e-9)
	_, err = FuelFlow(50, 1200, 0, 830)
	assert.Error(t, err)
}

// Textbook examples of the fuel a four-stroke engine is injected at each cycle,
// worked backwards from the printed volume to the power, each to the rounding of
// that volume; the pump turns at half the engine's speed. Mathur and Sharma,
// Internal Combustion Engine, example 12.1: six cylinders, 2500 rev/min, specific
// gravity 0.84, 0.0577 cm³, 245 g/kWh, 89 kW. Keswani, Internal Combustion
// Engines, example 15.3: four cylinders, 200 rev/min, 0.9, 4.167 cm³, 200 g per
// horsepower hour, 450 hp; a power comes in the unit the consumption is for. Both
// as worked at tbc-python.fossee.in. The last, without a pump, is a solved example
// of transtutors.com, "volumetric efficiency": 0.56 kg of air a minute, 20 of air
// to one of fuel, 1.68 kg/h, 0.28 kg/kWh, 6 kW.
func TestFuelFlowAndPower(t *testing.T) {
	for _, c := range []struct {
		mm3, engine      float64
		cylinders        int
		density, perHour float64
		power            float64
	}{
		{57.7, 2500, 6, 840, 245, 89},
		{4167, 200, 4, 900, 200, 450},
	} {
		flow, err := FuelFlow(c.mm3, c.engine/2, c.cylinders, c.density)
		require.NoError(t, err)
		assert.InEpsilon(t, c.perHour*c.power/1000, flow, 1e-3)
		p, err := Power(flow, c.perHour)
		require.NoError(t, err)
		assert.InEpsilon(t, c.power, p, 1e-3)
	}
	p, err := Power(0.56*60/20, 280)
	require.NoError(t, err)
	assert.InDelta(t, 6, p, 1e-9)
	_, err = Power(11.952, 0)
	assert.ErrorContains(t, err, "specific consumption above zero")
	_, err = Power(-1, 240)
	assert.Error(t, err)
}

func TestTurns(t *testing.T) {
	pitch := LengthOf(1, MM)
	for _, c := range []struct {
		change               Length
		leftHanded, outGrows bool
		turns                float64
		clockwise            bool
	}{
		// A right-hand thread goes in clockwise: common practice, no source.
		{LengthOf(-0.5, MM), false, true, 0.5, true},   // too far out
		{LengthOf(0.25, MM), false, true, 0.25, false}, // not far enough out
		{LengthOf(0.25, MM), true, true, 0.25, true},
		{LengthOf(0.25, MM), false, false, 0.25, true},
		{LengthOf(-0.25, MM), true, false, 0.25, true},
		{0, false, true, 0, false},
	} {
		turns, clockwise := Turns(c.change, pitch, c.leftHanded, c.outGrows)
		assert.InDelta(t, c.turns, turns, 1e-12)
		assert.Equal(t, c.clockwise, clockwise, "%+v", c)
	}
	turns, _ := Turns(1, 0, false, false)
	assert.True(t, math.IsNaN(turns))
}

func TestTorqueSetting(t *testing.T) {
	lbfIn, _ := ParseUnit("lbf·in")
	lbfFt, _ := ParseUnit("lbf·ft")
	for _, c := range []struct {
		wanted         Quantity
		l, e, deg, set float64
		within         float64
	}{
		{Quantity{100, lbfIn}, 12, 6, 0, 66.7, 0.05},        // NAVEDTRA 14315
		{Quantity{135, lbfIn}, 10, 1.5, 0, 117.39, 0.005},   // a published helicopter maintenance manual, standard practices
		{Quantity{135, lbfIn}, 10, 1.5, 180, 158.82, 0.005}, // the same, adapter turned back
		{Quantity{300, lbfFt}, 18, 6, 0, 225, 1e-9},         // US Army TM 5-3810-305-23, torque wrench extensions
		{Quantity{120, lbfFt}, 12, 2, 0, 103, 0.5},          // a published truck workshop manual, torque conversion
		{Quantity{135, lbfIn}, 10, 1.5, 90, 135, 1e-9},      // square to the wrench: no change, as adapter leaflets say
	} {
		set, err := TorqueSetting(c.wanted, LengthOf(c.l, IN), LengthOf(c.e, IN), c.deg)
		require.NoError(t, err)
		assert.InDelta(t, c.set, set.Value, c.within)
		assert.Equal(t, c.wanted.Unit, set.Unit)
	}
	in := func(x float64) Length { return LengthOf(x, IN) }
	for want, f := range map[string]func() (Quantity, error){
		"wanted is a length":     func() (Quantity, error) { return TorqueSetting(Quantity{1, MM}, in(10), in(1), 0) },
		"not above zero":         func() (Quantity, error) { return TorqueSetting(Quantity{0, NM}, in(10), in(1), 0) },
		"wrench length 0.0 mm":   func() (Quantity, error) { return TorqueSetting(Quantity{1, NM}, 0, in(1), 0) },
		"adapter length −25.4":   func() (Quantity, error) { return TorqueSetting(Quantity{1, NM}, in(10), in(-1), 0) },
		"angle NaN":              func() (Quantity, error) { return TorqueSetting(Quantity{1, NM}, in(10), in(1), math.NaN()) },
		"reaches past a wrench ": func() (Quantity, error) { return TorqueSetting(Quantity{1, NM}, in(2), in(3), 180) },
	} {
		_, err := f()
		assert.ErrorContains(t, err, want)
	}
}

func TestTimingPiston(t *testing.T) {
	// By hand: 10 N/mm × 8 mm = 80 N on 400 mm² is 0.2 N/mm², 200 kPa.
	p, err := StartPressure(10, 8, 400)
	require.NoError(t, err)
	assert.InDelta(t, 200, p, 1e-9)
	for pressure, travel := range map[float64]float64{150: 0, 200: 0, 250: 2, 300: 4, 900: 5} {
		x := Piston{Start: p, PerMM: 10. / 400 * 1000, Stop: 5}.Travel(pressure)
		assert.InDelta(t, travel, x, 1e-9, "%v kPa", pressure)
	}
	a, err := RingAngle(10, 20) // sine of 30° is a half
	require.NoError(t, err)
	assert.InDelta(t, 30, a, 1e-9)
	_, err = RingAngle(21, 20)
	assert.ErrorContains(t, err, "shorter than the radius")
	_, err = StartPressure(0, 8, 400)
	assert.Error(t, err)
}

// As a pen subtracts: 61.8 − 59.45 is 2.35, and rounds up.
func TestSpreadOfDecimalFigures(t *testing.T) {
	s, err := SpreadOf([]float64{61.05, 61.8, 59.45, 59.85})
	require.NoError(t, err)
	assert.Equal(t, "2.4", Fixed(s.Absolute, 1))
	s, err = SpreadOf([]float64{39.1, 36.9, 34.6, 36.6})
	require.NoError(t, err)
	assert.Equal(t, "6.3", Fixed(s.FarthestPercent, 1)) // (39.1 − 36.8) / 36.8 = 6.25 %
}
