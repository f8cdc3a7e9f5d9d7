package packet

import (
	"errors"
	"maps"
	"math"
	"slices"

	"shimcard/calc"
	"shimcard/specs"
)

// Evaluated is what the readings of one bench run come to, beyond their limits.
type Evaluated struct {
	Stage    string        `json:"stage"`
	Read     []atSpeed     `json:"pressure_and_travel,omitempty"`
	Pressure *pressureLine `json:"pressure_curve,omitempty"`
	Timing   *Timing       `json:"timing,omitempty"`
	Advance  []Advance     `json:"advance,omitempty"`
	Loops    []upAndDown   `json:"going_up_against_coming_down,omitempty"`
	Pack     *packAdvice   `json:"timing_pack_change,omitempty"`
	NoLoad   *float64      `json:"no_load_speed,omitempty"`
	Droop    *float64      `json:"droop_percent,omitempty"`
	Screw    *screwAdvice  `json:"full_load_screw,omitempty"`
	Engine   []fuelFor     `json:"engine_estimate,omitempty"`
	Hints    []Hint        `json:"hints,omitempty"`
	NotDone  []string      `json:"not_worked_out,omitempty"`
}

// atSpeed is what was read at one speed; null: not read.
type atSpeed struct {
	Speed    float64  `json:"speed_rpm"`
	Pressure *float64 `json:"pressure"`
	Travel   *float64 `json:"travel"`             // going up
	Down     *float64 `json:"travel_coming_down"` // the same speed reached from above
}

// pressureLine is the supply pressure against speed, fitted by least squares.
type pressureLine struct {
	Readings  int      `json:"readings"`
	Unit      string   `json:"unit"`
	Per1000   float64  `json:"rise_per_1000_rpm"`
	At0       float64  `json:"at_0_rpm"`
	Scatter   *float64 `json:"scatter,omitempty"` // standard deviation of one reading about the line
	Bends     string   `json:"bends,omitempty"`
	T         *float64 `json:"bend_t,omitempty"`
	TCritical *float64 `json:"bend_t_critical,omitempty"`

	line, curve     calc.Curve // the straight line, and what is drawn: that or a parabola
	first, last     float64    // speeds
	speeds, reading []float64
}

// Timing is how the timing piston answers the supply pressure.
type Timing struct {
	From     string   `json:"slope_from"`
	Unit     string   `json:"unit"`
	Pressure string   `json:"pressure_unit"`
	Begins   *float64 `json:"begins_at_pressure"`           // null: the slope, carried back, begins below no pressure
	U        *float64 `json:"begins_uncertainty,omitempty"` // expanded, 95 %
	BeginsAt *float64 `json:"begins_at_rpm,omitempty"`
	Per      float64  `json:"travel_per_pressure"` // on the slope
	Per1000  *float64 `json:"travel_per_1000_rpm,omitempty"`
	Read     *float64 `json:"travel_per_pressure_read,omitempty"` // by the readings alone, where the slope is the sheet's
	Stop     *float64 `json:"stop,omitempty"`
	Contrary []string `json:"contrary_readings,omitempty"`

	piston    calc.Piston
	pressures []float64 // kPa, of each travel reading; NaN where none can be told
	readings  []*Reading
	unit      calc.Unit
	perUnit   calc.Unit // of the pressure
	uRead     float64   // standard uncertainty of Read
}

// How the supply pressure bends, and what the slope of the timing is from.
const (
	flattens     = "flattens off"
	steepens     = "steepens"
	fromReadings = "the readings"
	fromSheet    = "the sheet's piston and spring"
)

// Advance is a travel as an angle.
type Advance struct {
	Code   string  `json:"box"`
	Speed  float64 `json:"speed_rpm"`
	Travel float64 `json:"travel"`
	Pump   float64 `json:"pump_degrees"`
	Crank  float64 `json:"crank_degrees"` // of a four-stroke engine, which turns twice
}

// upAndDown is one travel reached from below and from above.
type upAndDown struct {
	Up      string  `json:"box"`
	Down    string  `json:"box_coming_down"`
	Speed   float64 `json:"speed_rpm"`
	Rising  float64 `json:"travel"`
	Falling float64 `json:"travel_coming_down"`
	Allowed float64 `json:"allowed"` // what two readings of the gauge may differ by
	Sticks  bool    `json:"sticks"`
}

// packAdvice is the timing pack that brings every travel inside its limits.
type packAdvice struct {
	Present   string            `json:"present"`
	Thicker   float64           `json:"thicker_by"` // thinner when negative
	Wanted    string            `json:"wanted"`
	Fit       string            `json:"fit,omitempty"`           // from the tray; the whole pack
	Beyond    string            `json:"outside_sheet,omitempty"` // the sheet's limits for the pack, where that lies outside
	Reaches   bool              `json:"brings_all_inside"`
	Note      string            `json:"note,omitempty"`
	Predicted []predictedTravel `json:"then_reads"`
	Unit      string            `json:"unit"`
	Reading   string            `json:"travel_unit"`
}

// predictedTravel is a travel as it should read with another pack.
type predictedTravel struct {
	Code   string  `json:"box"`
	Speed  float64 `json:"speed_rpm"`
	Travel float64 `json:"travel"`
	Inside bool    `json:"inside"`
}

// screwAdvice is what two places of the full-load screw tell.
type screwAdvice struct {
	Turns  float64 `json:"turns"` // in, from where it stands; out when negative
	Beyond bool    `json:"beyond_what_was_tried"`
	Note   string  `json:"note,omitempty"`
}

// fuelFor is what a full-load delivery means for the engine: an estimate.
type fuelFor struct {
	Code   string  `json:"box"`
	Name   string  `json:"name"`
	Speed  float64 `json:"pump_rpm"`
	KgPerH float64 `json:"fuel_kg_per_h"`
	KW     float64 `json:"power_kw"`
}

// evaluate works out what the readings of a run mean. It computes what it can,
// and says of the rest why not.
func (g *judge) evaluate(r *Run) *Evaluated {
	e := &Evaluated{Stage: r.Stage, Read: g.atSpeeds(r)}
	g.pressureCurve(e, r)
	g.timing(e, r)
	g.advance(e, r)
	g.loops(e, r)
	g.packChange(e, r)
	if r.Droop != nil {
		e.NoLoad, e.Droop = g.optional(r.NoLoad), g.optional(r.Droop)
		if e.Droop == nil {
			e.not(g.T("speed droop"), g.work(r.NoLoad).why)
		}
	}
	g.screw(e, r)
	g.engine(e, r)
	for _, p := range r.Points {
		if p.Oil == nil {
			continue
		}
		_, ok := g.number(p.Mean)
		if _, oil := p.oil(g.number); ok && oil == nil && !g.shop.DeliveryMeter {
			e.not(g.T("deliveries at %s", g.Quantity(g.plan.Spec.Bench.Conditions.Reference)), g.T("no oil temperature was written from %s on; they stand as measured, and their uncertainty allows for it", p.Oil.Code))
			break
		}
	}
	if !g.anything(r) {
		return &Evaluated{Stage: r.Stage} // not run at all
	}
	e.Hints = g.hints(e, r)
	return e
}

// atSpeeds gathers pressures and travels by speed.
func (g *judge) atSpeeds(r *Run) (out []atSpeed) {
	at := map[float64]*atSpeed{}
	of := func(n float64) *atSpeed {
		if at[n] == nil {
			at[n] = &atSpeed{Speed: n}
		}
		return at[n]
	}
	for _, p := range r.Pressure {
		of(p.Spec.Speed).Pressure = g.optional(p.Box)
	}
	for _, t := range r.Travel {
		a := of(t.Spec.Speed)
		a.Pressure, a.Travel, a.Down = g.optional(t.Pressure), g.optional(t.Box), nil
		if t.Down != nil {
			a.Down = g.optional(t.Down)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(at)) {
		out = append(out, *at[n])
	}
	return out
}

// anything tells that a figure of a run's stage was written.
func (g *judge) anything(r *Run) bool {
	for _, s := range g.plan.Stages {
		if s.Letter != r.Stage {
			continue
		}
		for _, b := range s.Boxes() {
			if b.Kind == Number && !g.entry(b).Blank() {
				return true
			}
		}
	}
	return false
}

func (e *Evaluated) not(what, why string) { e.NotDone = append(e.NotDone, what+": "+why) }

// pressureCurve fits the supply pressure to the speed: a straight line, and a
// parabola where the readings show by its t test that the line bends.
func (g *judge) pressureCurve(e *Evaluated, r *Run) {
	var speeds, read []float64
	var boxes []*Box
	var unit calc.Unit
	step := 1.0 // of the gauge
	take := func(speed float64, b *Box) {
		if b == nil {
			return
		}
		unit, step = b.Unit, math.Pow10(-b.Decimals)
		if i := g.shop.Instrument(b.Instrument); i != nil && i.Resolution.Unit.Kind == b.Unit.Kind {
			step = max(step, i.Resolution.Value*i.Resolution.Unit.Factor/b.Unit.Factor)
		}
		if x, ok := g.number(b); ok {
			speeds, read, boxes = append(speeds, speed), append(read, x), append(boxes, b)
		}
	}
	own := map[*Box]bool{}
	for _, p := range r.Pressure {
		own[p.Box] = true
		take(p.Spec.Speed, p.Box)
	}
	for _, t := range r.Travel {
		if t.Pressure != nil && !own[t.Pressure] {
			take(t.Spec.Speed, t.Pressure)
		}
	}
	if len(speeds) < 2 {
		if len(speeds) == 1 && len(r.Pressure) > 1 {
			e.not(g.T("pressure against speed"), g.T("one pressure was read; a line needs two speeds"))
		}
		return
	}
	line, err := calc.FitCurve(speeds, read, 1)
	if err != nil {
		e.not(g.T("pressure against speed"), reason(g.Printer, err, boxes...))
		return
	}
	c := &pressureLine{Readings: len(speeds), Unit: unit.Symbol, line: line, curve: line, speeds: speeds, reading: read,
		At0: calc.Rounded(line.Coef[0], 4)}
	c.first, c.last = speeds[0], speeds[0]
	for _, n := range speeds {
		c.first, c.last = min(c.first, n), max(c.last, n)
	}
	if line.Dof > 0 {
		c.Scatter = ptr(calc.Rounded(line.S, 4))
	}
	if bent, err := calc.FitCurve(speeds, read, 2); err == nil && bent.Dof > 0 {
		t, critical := bent.LeadingT(confidence)
		if !math.IsNaN(t) && !math.IsInf(t, 0) {
			// No reading is surer than the gauge reads.
			if least := calc.ResolutionU(step); bent.S < least {
				t *= bent.S / least
			}
			c.T, c.TCritical = ptr(calc.Rounded(t, 2)), ptr(calc.Rounded(critical, 2))
		}
		switch {
		case t < -critical:
			c.Bends, c.curve = flattens, bent
		case t > critical:
			c.Bends, c.curve = steepens, bent
		}
	}
	from, _ := c.curve.At(c.first)
	to, _ := c.curve.At(c.last)
	c.Per1000 = (to - from) / (c.last - c.first) * 1000
	e.Pressure = c
}

// speedAt is the speed at which the fitted pressure reaches one, nil where that
// is at no speed up to the last read.
func (c *pressureLine) speedAt(pressure float64) *float64 {
	if c == nil {
		return nil
	}
	low, high := 0.0, c.last
	at := func(n float64) float64 { y, _ := c.curve.At(n); return y }
	if at(low) > pressure || at(high) < pressure {
		return nil
	}
	for high-low > 1e-6 {
		if mid := (low + high) / 2; at(mid) < pressure {
			low = mid
		} else {
			high = mid
		}
	}
	return ptr(high)
}

// pressureAt is the supply pressure at a travel reading, kPa: read beside it, or
// from the fit of what was read at other speeds.
func (g *judge) pressureAt(e *Evaluated, t *Reading) (kPa float64, ok bool) {
	if t.Pressure != nil {
		if p, ok := g.number(t.Pressure); ok {
			return p * t.Pressure.Unit.Factor, true
		}
	}
	if c := e.Pressure; c != nil && t.Pressure != nil && t.Spec.Speed >= c.first && t.Spec.Speed <= c.last {
		p, _ := c.curve.At(t.Spec.Speed)
		return p * t.Pressure.Unit.Factor, true
	}
	return math.NaN(), false
}

// timing fits the piston model p·A = F0 + k·x to the travels going up.
func (g *judge) timing(e *Evaluated, r *Run) {
	if len(r.Travel) == 0 {
		return
	}
	var pressures, travels []float64
	t := &Timing{From: fromReadings, unit: r.Travel[0].Box.Unit, Unit: r.Travel[0].Box.Unit.Symbol}
	for _, x := range r.Travel {
		travel, ok := g.number(x.Box)
		if !ok {
			continue
		}
		p, ok := g.pressureAt(e, x)
		if !ok {
			continue
		}
		t.perUnit = x.Pressure.Unit
		pressures, travels = append(pressures, p), append(travels, travel*x.Box.Unit.Factor)
		t.readings = append(t.readings, x)
	}
	t.pressures = pressures
	what := g.T("timing piston")
	if len(travels) == 0 {
		e.not(what, g.T("no travel was read with a pressure to it"))
		return
	}
	perMM, stop := 0.0, 0.0
	if s := g.plan.Spec.Piston; s != nil {
		stop = s.Stroke.In(calc.MM)
		if s.Diameter > 0 {
			d := s.Diameter.In(calc.MM)
			perMM = s.SpringRate / (math.Pi / 4 * d * d) * 1000
			t.From = fromSheet
		}
	}
	resolution := math.Pow10(-r.Travel[0].Box.Decimals) * t.unit.Factor
	if i := g.shop.Instrument("timing travel gauge"); i != nil && i.Resolution.Unit.Kind == calc.LengthKind {
		resolution = max(resolution, i.Resolution.Value*i.Resolution.Unit.Factor)
	}
	piston, err := calc.FitPiston(pressures, travels, perMM, stop, resolution)
	if err != nil {
		var of []*Box
		for _, x := range t.readings {
			of = append(of, x.Box)
		}
		for _, x := range t.readings {
			of = append(of, x.Pressure)
		}
		e.not(what, reason(g.Printer, err, of...))
		return
	}
	bar := t.perUnit.Factor // kPa in a unit of the sheet's pressure
	t.piston, t.Pressure = piston, t.perUnit.Symbol
	t.Per = bar / piston.PerMM / t.unit.Factor
	if perMM > 0 && len(piston.Used) > 1 {
		var p, x []float64
		for _, i := range piston.Used {
			p, x = append(p, pressures[i]), append(x, travels[i])
		}
		if line, err := calc.FitCurve(p, x, 1); err == nil {
			t.Read = ptr(line.Coef[1] * bar / t.unit.Factor)
			// What the gauge cannot tell apart, over the pressures read.
			t.uRead = math.Sqrt2 * calc.ResolutionU(resolution) / (slices.Max(p) - slices.Min(p)) * bar / t.unit.Factor
			if line.Dof > 0 {
				t.uRead = math.Hypot(t.uRead, line.U[1]*bar/t.unit.Factor)
			}
		}
	}
	if piston.Start > 0 {
		t.Begins = ptr(piston.Start / bar)
		if u, known := g.startU(piston, t, perMM > 0); known {
			t.U = ptr(u / bar)
		}
		t.BeginsAt = e.Pressure.speedAt(piston.Start / bar)
	} else {
		e.not(g.T("where the timing piston begins to move"), g.T("the slope, carried back, begins at no pressure at all: read the travel at lower speeds"))
	}
	if c := e.Pressure; c != nil && c.Per1000 > 0 {
		t.Per1000 = ptr(c.Per1000 * bar / piston.PerMM / t.unit.Factor)
	}
	if seen := piston.Stop - resolution/2; slices.Max(travels) > seen {
		t.Stop = ptr(piston.Stop / t.unit.Factor)
	}
	for _, i := range piston.Contrary {
		t.Contrary = append(t.Contrary, t.readings[i].Box.Code)
	}
	e.Timing = t
}

// startU is the expanded uncertainty of the pressure at which the piston
// begins, kPa: what the readings scatter, and both gauges.
func (g *judge) startU(p calc.Piston, t *Timing, slopeGiven bool) (u float64, known bool) {
	at := t.readings[0]
	x, known1 := g.pair(at.Box)
	q, known2 := g.pair(at.Pressure)
	s := append(scaled(x, at.Box.Unit.Factor*p.PerMM), scaled(q, at.Pressure.Unit.Factor)...)
	one, _, _ := calc.Combine(s, confidence) // of one reading, as a pressure
	// Carried back to no travel, readings count as in JCGM 100 H.3 with that
	// for each: the fewer and the nearer together, the less is known there.
	n := float64(len(p.Used))
	share := 1 / n
	if !slopeGiven {
		var mean, squares float64
		for _, i := range p.Used {
			mean += t.pressures[i] / n
		}
		for _, i := range p.Used {
			squares += (t.pressures[i] - mean) * (t.pressures[i] - mean)
		}
		share += (p.Start - mean) * (p.Start - mean) / squares
	}
	carried := calc.Source{U: one * math.Sqrt(share), Dof: math.Inf(1)}
	if p.Dof > 0 && p.UStart > carried.U {
		carried = calc.Source{U: p.UStart, Dof: float64(p.Dof)}
	}
	_, _, u = calc.Combine(append(scaled(q, at.Pressure.Unit.Factor), carried), confidence)
	return u, known1 && known2
}

// advance gives the travels as angles, where the sheet says how far from its
// middle the ring is turned.
func (g *judge) advance(e *Evaluated, r *Run) {
	s := g.plan.Spec.Piston
	if s == nil || s.PinRadius == 0 {
		return
	}
	for _, t := range r.Travel {
		x, ok := g.number(t.Box)
		if !ok {
			continue
		}
		pump, err := calc.RingAngle(x*t.Box.Unit.Factor, s.PinRadius.In(calc.MM))
		if err != nil {
			e.not(g.T("timing travel as an angle"), reason(g.Printer, err, t.Box))
			continue
		}
		e.Advance = append(e.Advance, Advance{t.Box.Code, t.Spec.Speed, x, pump, 2 * pump})
	}
}

// loop compares a travel going up and coming down; known is false where one is
// not written or the gauge not known.
func (g *judge) loop(t *Reading) (l upAndDown, known bool) {
	up, ok1 := g.number(t.Box)
	if t.Down == nil {
		return upAndDown{}, false
	}
	down, ok2 := g.number(t.Down)
	u, known := mayDiffer(g.shop, t.Box)
	if !ok1 || !ok2 || !known {
		return upAndDown{}, false
	}
	return upAndDown{t.Box.Code, t.Down.Code, t.Spec.Speed, up, down, calc.Rounded(u, t.Box.Decimals+2), math.Abs(down-up) > u}, true
}

// mayDiffer is what two readings of one thing may differ by. The instrument's
// error counts both times, though most of it is the same: nothing is called
// sticking or unsteady that the gauge's own play explains.
func mayDiffer(shop *specs.Shop, b *Box) (u float64, known bool) {
	permissible, resolution, known := figureSources(shop, b.Instrument, b.Unit, b.Decimals)
	return combined([]calc.Source{permissible, resolution, permissible, resolution}, known)
}

// loops compares the travels going up and coming down.
func (g *judge) loops(e *Evaluated, r *Run) {
	for _, t := range r.Travel {
		if l, known := g.loop(t); known {
			e.Loops = append(e.Loops, l)
		}
	}
}

// packChange finds, where a travel is out, the timing pack that sets the whole
// curve in the middle of its limits, from the tray.
func (g *judge) packChange(e *Evaluated, r *Run) {
	var a *Adjustment
	for _, x := range g.plan.Adjustments {
		if x.Dim.Name == specs.TimingPack {
			a = x
		}
	}
	if a == nil || a.Dim.Shims == nil {
		return
	}
	out, short := false, false
	var reading, low, high []float64
	var moved []*Reading
	free := func(t *Reading, travel float64) (float64, bool) {
		// At rest or at its stop a travel says no more than that; where it would
		// be without them, the piston tells.
		p := e.Timing
		if p == nil {
			return travel, travel > 0
		}
		for i, x := range p.readings {
			if x != t {
				continue
			}
			half := math.Pow10(-t.Box.Decimals) * p.unit.Factor / 2
			at := travel * p.unit.Factor
			if at > half && at < p.piston.Stop-half {
				return travel, true
			}
			return (p.pressures[i] - p.piston.Start) / p.piston.PerMM / p.unit.Factor, true
		}
		return travel, travel > 0
	}
	stop := math.Inf(1)
	if e.Timing != nil {
		stop = e.Timing.piston.Stop / e.Timing.unit.Factor
	}
	for _, t := range r.Travel {
		x, ok := g.number(t.Box)
		if !ok {
			continue
		}
		l := t.Spec.Limits
		out = out || x < l.Low || x > l.High
		x, ok = free(t, x)
		if !ok {
			continue
		}
		short = short || stop < l.Low-1e-9
		if l.Low <= 0 {
			l.Low = math.Inf(-1) // at rest is inside
		}
		if stop <= l.High {
			l.High = math.Inf(1) // so is the stop
		}
		moved = append(moved, t)
		reading, low, high = append(reading, x), append(low, l.Low), append(high, l.High)
	}
	if !out || len(moved) == 0 || slices.ContainsFunc(e.Loops, func(l upAndDown) bool { return l.Sticks }) {
		return // a piston that sticks is not cured by a pack
	}
	present, ok := g.packNow(a, r)
	if !ok {
		e.not(g.T("another timing pack"), g.T("what is fitted now was not written"))
		return
	}
	unit := moved[0].Box.Unit
	least, most := calc.CommonShift(reading, low, high)
	// Where the limits are open to one side, a few steps of the tray inside.
	inside := 4 * narrowest(a.Dim.Shims.Tray).In(unit)
	switch {
	case math.IsInf(least, 0) && math.IsInf(most, 0):
		return
	case math.IsInf(least, 0):
		least = most - inside
	case math.IsInf(most, 0):
		most = least + inside
	}
	mid := (least + most) / 2
	c := &packAdvice{Unit: a.Dim.Unit.Symbol, Reading: unit.Symbol, Present: a.f(present)}
	// In the picker's terms: the travel reads 0 and is wanted at the shift; a
	// thicker pack makes it less. Where no shift serves all, the middle misses
	// least.
	s := a.Dim.Shims
	q := calc.Question{Measured: 0, Present: present, Target: calc.LengthOf(mid, unit), Low: calc.LengthOf(min(least, most), unit), High: calc.LengthOf(max(least, most), unit),
		Effect: -1, Places: s.Places, MostPerPlace: s.MostPerPlace, Tray: s.Tray.Sizes, Stock: a.Stock, Prescribed: s.Prescribed}
	ans, err := calc.PickShims(q)
	if err != nil {
		e.not(g.T("another timing pack"), reason(g.Printer, err, a.Present))
		return
	}
	c.Wanted = a.f(max(present-calc.LengthOf(mid, unit), 0))
	total := present - calc.LengthOf(mid, unit)
	switch {
	case short:
		c.Note = g.T("no pack brings all of them inside: the piston meets its stop too early; look how the pack is split")
	case least > most+1e-9:
		c.Note = g.T("no pack brings all of them inside: the slope is wrong, not the start; look at the pressure, the spring, and whether piston and ring move freely")
	case !ans.Reaches && total < max(s.Prescribed, 0):
		c.Note = g.T("no pack is thin enough, even the thinnest misses by %s: the spring, or something other than the pack, is wrong", a.f(ans.Miss))
	case !ans.Reaches:
		c.Note = g.T("the tray does not reach: the best misses by %s", a.f(ans.Miss))
	}
	if ans.Best.Total > 0 {
		total = ans.Best.Total
		c.Fit = a.stackWords(ans.Best.Stack)
		switch {
		case s.Prescribed > 0 && c.Fit == "":
			c.Fit = g.T("%s at the piston, nothing in the cap", a.f(s.Prescribed))
		case s.Prescribed > 0:
			c.Fit = g.T("%s at the piston, %s in the cap", a.f(s.Prescribed), c.Fit)
		}
	}
	if total < a.Dim.Low || total > a.Dim.High {
		c.Beyond = a.read(a.Dim.Low) + " – " + a.read(a.Dim.High)
	}
	thicker := (total - present).In(unit)
	c.Thicker = calc.Rounded((total - present).In(a.Dim.Unit), a.decimals())
	for i, t := range moved {
		x := max(min(reading[i]-thicker, stop), 0)
		l := t.Spec.Limits
		c.Predicted = append(c.Predicted, predictedTravel{t.Box.Code, t.Spec.Speed, calc.Rounded(x, t.Box.Decimals+1), x >= l.Low-1e-9 && x <= l.High+1e-9})
	}
	c.Reaches = c.Note == ""
	for _, p := range c.Predicted {
		c.Reaches = c.Reaches && p.Inside
	}
	e.Pack = c
}

// packNow is the timing pack with which a run was made.
func (g *judge) packNow(a *Adjustment, r *Run) (calc.Length, bool) {
	box := a.Measured
	if r == g.plan.Final {
		for _, t := range a.Tries {
			if _, ok := g.number(t.Now); ok {
				box = t.Now
			}
		}
	}
	return g.length(box)
}

// screwWanted is the box of the turns still wanted after the last place that was
// tried, nil where the pump has no such screw.
func (g *judge) screwWanted(r *Run) *Box {
	if r.Screw == nil {
		return nil
	}
	last := r.Screw[1]
	for _, p := range r.Screw[2:] {
		if !g.entry(p.At).Blank() || !g.entry(p.Mean).Blank() {
			last = p
		}
	}
	return last.Wanted
}

// screw says how far to turn the full-load screw, from the last two places tried.
func (g *judge) screw(e *Evaluated, r *Run) {
	wanted := g.screwWanted(r)
	if wanted == nil {
		return
	}
	t := wanted.From.Terms
	var v [4]float64
	for i := range v {
		x, ok := g.number(t[i].Box)
		if !ok {
			if i > 0 {
				e.not(g.T("turn of the full-load screw"), t[i].Box.blank())
			}
			return
		}
		v[i] = x
	}
	turns, beyond, err := calc.ScrewTurn(v[0], v[1], v[2], v[3], wanted.From.Const)
	if err != nil {
		e.not(g.T("turn of the full-load screw"), wanted.From.reason(err))
		return
	}
	s := &screwAdvice{Turns: calc.Rounded(turns, 2), Beyond: beyond}
	now, counted := 0.0, false
	p := r.point(g.plan.Spec.Bench.FullLoadScrew)
	if p != nil {
		now, counted = g.number(p.Mean)
	}
	switch {
	case (v[3]-v[1])/(v[2]-v[0]) < 0:
		s.Note = g.T("Delivery fell as the screw went in: look whether the two readings, or + and −, are exchanged.")
	case counted && math.Abs(now-v[3]) > 1.5 && math.Abs(now-v[3]) > 1.2*math.Abs(p.Spec.Limits.High-v[3]):
		s.Note = g.T("The point itself, %s, does not agree with %s: did the screw move since? Count two new places.", p.Mean.Code, t[3].Box.Code)
	case beyond:
		s.Note = g.T("Screw %s turn, which is further than was tried: turn %s, count, work it out again.", signed(g.Printer, s.Turns, 2), signed(g.Printer, s.Turns/2, 2))
	}
	e.Screw = s
}

// engine estimates what the full-load deliveries mean for the engine.
func (g *judge) engine(e *Evaluated, r *Run) {
	s := g.plan.Spec
	if s.Engine == nil {
		return
	}
	ref := s.Bench.Conditions.Reference
	density, err := calc.DensityAt(s.Engine.FuelDensity15.Base(), calc.Convert(ref.Value, ref.Unit, calc.Celsius))
	if err != nil {
		e.not(g.T("fuel flow"), reason(g.Printer, err))
		return
	}
	for _, p := range r.Points {
		mean, ok := g.number(p.Mean)
		if p.Spec.Kind != specs.FullLoad || !ok {
			continue
		}
		flow, err1 := calc.FuelFlow(mean, p.Spec.Speed, len(p.First), density)
		power, err2 := calc.Power(flow, s.Engine.SpecificConsumption.Base())
		if err := errors.Join(err1, err2); err != nil {
			e.not(g.T("fuel flow"), reason(g.Printer, err))
			continue
		}
		e.Engine = append(e.Engine, fuelFor{p.Mean.Code, p.Spec.Name, p.Spec.Speed, flow, power})
	}
}
