package specs

import (
	"fmt"
	"math"
	"strings"

	"shimcard/calc"
	"shimcard/specs/strict"
)

func (r *specReader) bench(m *strict.Map) {
	if m == nil {
		return
	}
	b := &r.spec.Bench
	r.conditions(m.Need("conditions", "conditions: with test oil, temperatures, pipes and nozzle holders").Map())
	b.SupplyPressure = speedPoints(m.Need("supply pressure", "supply pressure: with one line for each speed"), calc.Pressure, 0)
	travel := m.Need("timing travel", "timing travel: with one line for each speed")
	b.TimingTravel = speedPoints(travel, calc.LengthKind, 0)
	r.withinStroke(travel)
	r.deliveries(m.Need("delivery", "delivery: with one line for each point"))
	if v, ok := m.Get("spread means"); ok {
		b.FarthestFromMean = v.OneOf("highest less lowest", "farthest from the mean") == "farthest from the mean"
	}
	if v, ok := m.Get("run-out"); ok {
		r.runOut(v)
	}
	if v, ok := m.Get("droop"); ok {
		r.droop(v)
	}
	if v, ok := m.Get("return flow"); ok {
		b.ReturnFlow = speedPoint(v, calc.Flow, 0)
	}
	if v, ok := m.Get("leak test"); ok {
		if m := v.Map(); m != nil {
			b.LeakTest = &LeakTest{Line: v.Line(),
				Pressure: above(m.Need("pressure", "pressure: 0.5 bar"), calc.Pressure),
				Time:     above(m.Need("time", "time: 60 s"), calc.Duration)}
			m.Close()
		}
	}
	if v, ok := m.Get("full-load screw"); ok {
		b.FullLoadScrew = v.Text()
		b.fullLoadScrew(v)
	}
	m.Close()
}

// withinStroke checks that the timing piston can travel as far as the table asks.
func (r *specReader) withinStroke(table strict.Value) {
	if r.spec.Piston == nil || r.spec.Piston.Stroke == 0 {
		return
	}
	for _, p := range r.spec.Bench.TimingTravel {
		l, u := p.Limits, p.Limits.Unit
		if u.Factor == 0 || math.IsInf(l.Low, 0) {
			continue
		}
		if most := r.spec.Piston.Stroke.In(u); l.Low > most {
			table.Fault(fmt.Sprintf("a travel from %s %s at %s rev/min (line %d), and the timing piston's stroke of %s %s", calc.Fixed(l.Low, l.Decimals), u.Symbol,
				calc.Fixed(p.Speed, 0), p.Line, r.spec.Piston.Stroke.Fixed(u, l.Decimals), u.Symbol), "a travel that the stop allows, or the stroke as it is")
		}
	}
}

// fullLoadScrew checks that the screw sets a point it can be turned to the
// middle of.
func (b *Bench) fullLoadScrew(v strict.Value) {
	if b.FullLoadScrew == "" {
		return
	}
	found := "no delivery point of the name " + b.FullLoadScrew
	want := "the name of a point of kind full load or boost, with both limits"
	var fit []string
	for _, p := range b.Deliveries {
		full := p.Kind == FullLoad || p.Kind == Boost
		both := !math.IsInf(p.Limits.Low, 0) && !math.IsInf(p.Limits.High, 0)
		if full && both {
			fit = append(fit, p.Name)
		}
		switch {
		case p.Name != b.FullLoadScrew:
		case !full:
			found = p.Name + ", a point that is not at full load"
		case !both:
			found = p.Name + ", a point with one limit only"
		default:
			return
		}
	}
	if len(fit) > 0 {
		want += ": " + strings.Join(fit, ", ")
	}
	v.Fault(found, want)
}

func (r *specReader) conditions(m *strict.Map) {
	if m == nil {
		return
	}
	c := &r.spec.Bench.Conditions
	c.TestOil = m.Need("test oil", "test oil: ISO 4113 calibration fluid").TextUpTo(mostRemark)
	c.InletTemperature = between(m.Need("inlet temperature", "inlet temperature: [38 °C, 42 °C]"), calc.Temperature, math.Inf(-1))
	c.Reference, _ = m.Need("reference", "reference: 40 °C, the temperature at which deliveries are stated").Quantity(calc.Temperature)
	c.Density15 = density(m.Need("density at 15 °C", "density at 15 °C: 825 kg/m³"))
	if v, ok := m.Get("inlet pressure"); ok {
		p := between(v, calc.Pressure, math.Inf(-1)) // a bench may draw against a vacuum
		c.InletPressure = &p
	}
	c.NozzleHolders = m.Need("nozzle holders", "nozzle holders: as the sheet names them, with opening pressure").TextUpTo(mostRemark)
	c.Pipes = m.Need("pipes", "pipes: length and bore").TextUpTo(mostRemark)
	c.DrainTime = above(m.Need("drain time", "drain time: 30 s"), calc.Duration)
	m.Close()
}

// above reads a quantity greater than nothing.
func above(v strict.Value, kind calc.Kind) calc.Quantity {
	q, _ := v.Quantity(kind)
	if q.Unit.Factor != 0 && q.Value <= 0 {
		v.Fault(v.Text(), "a "+kind.String()+" above 0")
	}
	return q
}

// between reads [low, high], neither below floor.
func between(v strict.Value, kind calc.Kind, floor float64) Range {
	a, b, ok := ends(v)
	if !ok {
		return Range{}
	}
	low, d1 := a.Quantity(kind)
	high, d2 := b.Quantity(kind)
	switch {
	case low.Unit.Factor == 0 || high.Unit.Factor == 0:
		return Range{}
	case low.Unit.Symbol != high.Unit.Symbol:
		b.Fault("limits in "+low.Unit.Symbol+" and in "+high.Unit.Symbol, "both in one unit")
	case low.Value < floor:
		a.Fault(a.Text(), "nothing below 0")
	case low.Value >= high.Value:
		wrongWayRound(v, a, b)
	}
	return Range{low.Value, high.Value, low.Unit, max(d1, d2)}
}

// limits reads the range of a point: limits, at most or at least.
func limits(m *strict.Map, kind calc.Kind, floor float64) Range {
	both, hasBoth := m.Get("limits")
	most, hasMost := m.Get("at most")
	least, hasLeast := m.Get("at least")
	open := func(v strict.Value) (calc.Quantity, int) {
		q, d := v.Quantity(kind)
		if q.Unit.Factor != 0 && q.Value < floor {
			v.Fault(v.Text(), "nothing below 0")
		}
		return q, d
	}
	switch {
	case hasBoth && (hasMost || hasLeast), hasMost && hasLeast:
		m.Fault("more than one of limits, at most and at least", "one of them; both ends are limits: [low, high]")
		return Range{}
	case hasBoth:
		return between(both, kind, floor)
	case hasMost:
		q, d := open(most)
		return Range{math.Inf(-1), q.Value, q.Unit, d}
	case hasLeast:
		q, d := open(least)
		return Range{q.Value, math.Inf(1), q.Unit, d}
	}
	if m != nil {
		m.Need("limits", "limits: [low, high], at most: … or at least: …")
	}
	return Range{}
}

// speed reads a pump speed in rev/min.
func speed(v strict.Value) float64 {
	q, _ := v.Quantity(calc.Speed)
	if q.Unit.Factor == 0 {
		return 0
	}
	n := q.Base()
	if n < lowestSpeed || n > highestRev {
		v.Fault(v.Text(), fmt.Sprintf("a pump speed from %d to %d rev/min", lowestSpeed, highestRev))
	}
	return n
}

func speedPoint(v strict.Value, kind calc.Kind, floor float64) *SpeedPoint {
	m := v.Map()
	if m == nil {
		return nil
	}
	p := &SpeedPoint{Line: v.Line()}
	p.Speed = speed(m.Need("speed", "speed: 500 rev/min"))
	p.Limits = limits(m, kind, floor)
	p.AsFound = yes(m, "as found")
	m.Close()
	return p
}

// speedPoints reads a table of values against speed, each speed once.
func speedPoints(v strict.Value, kind calc.Kind, floor float64) []*SpeedPoint {
	var points []*SpeedPoint
	at := map[float64]int{}
	unit := ""
	for _, e := range rows(v) {
		p := speedPoint(e, kind, floor)
		if p == nil {
			continue
		}
		points = append(points, p)
		if line, twice := at[p.Speed]; twice && p.Speed > 0 {
			e.Fault(fmt.Sprintf("the speed %s rev/min a second time (first in line %d)", calc.Fixed(p.Speed, 0), line), "each speed once")
		}
		at[p.Speed] = p.Line
		switch u := p.Limits.Unit.Symbol; {
		case unit == "":
			unit = u
		case u != "" && u != unit:
			e.Fault("limits in "+u+" in a table in "+unit, "the whole table in one unit")
		}
	}
	return points
}

// rows takes apart a table that must have one row at least.
func rows(v strict.Value) []strict.Value {
	list := v.List()
	if v.IsList() && len(list) == 0 || len(list) > mostPoints {
		v.Fault(fmt.Sprintf("%d lines", len(list)), fmt.Sprintf("from 1 to %d lines", mostPoints))
		return nil
	}
	return list
}

func (r *specReader) deliveries(v strict.Value) {
	names := map[string]int{}
	shutOff, unit := false, ""
	all := rows(v)
	for _, e := range all {
		m := e.Map()
		if m == nil {
			continue
		}
		p := &DeliveryPoint{Line: e.Line(), Lever: "full", Strokes: 1000}
		r.spec.Bench.Deliveries = append(r.spec.Bench.Deliveries, p)
		p.Name = unique(names, m.Need("name", "name: full load"))
		p.Kind = PointKind(m.Need("kind", "kind: full load").OneOf(string(FullLoad), string(PartLoad), string(Boost), string(Governed), string(Idle), string(Starting), string(ShutOff)))
		p.Speed = speed(m.Need("speed", "speed: 1200 rev/min"))
		if s := optional(m, "lever", mostShort); s != "" {
			p.Lever = s
		}
		if s, ok := m.Get("strokes"); ok {
			p.Strokes = s.Int(10, 5000)
		}
		if p.Kind == ShutOff {
			shutOff = true
			p.Limits = shutOffLimit(m)
		} else {
			p.Limits = limits(m, calc.Delivery, 0)
		}
		r.boost(p, m)
		if s, ok := m.Get("spread"); ok {
			q, d := s.Quantity(calc.Delivery, calc.Percent)
			if q.Unit.Factor != 0 && q.Value <= 0 {
				s.Fault(s.Text(), "a spread above 0")
			}
			p.Spread = &Range{math.Inf(-1), q.Value, q.Unit, d}
		}
		p.AsFound = yes(m, "as found")
		switch u := p.Limits.Unit.Symbol; {
		case unit == "":
			unit = u
		case u != "" && u != unit:
			e.Fault("limits in "+u+" in a table in "+unit, "the whole table in one unit")
		}
		m.Close()
	}
	if len(all) > 0 && !shutOff {
		v.Fault("no point of kind shut-off", "one: a pump that does not stop can overspeed an engine")
	}
}

// shutOffLimit reads the limit of a shut-off point: at most 0.
func shutOffLimit(m *strict.Map) Range {
	const want = "at most: 0.0 cm³/1000, alone: a pump that does not stop can overspeed an engine"
	v, ok := m.Get("at most")
	for _, key := range []string{"limits", "at least", "spread"} {
		if other, has := m.Get(key); has {
			other.Fault(key+" at shut-off", want)
			return Range{}
		}
	}
	if !ok {
		m.Need("at most", want)
	}
	q, d := v.Quantity(calc.Delivery)
	if q.Value != 0 {
		v.Fault(v.Text()+" at shut-off", want)
	}
	return Range{math.Inf(-1), 0, q.Unit, d}
}

func (r *specReader) boost(p *DeliveryPoint, m *strict.Map) {
	v, has := m.Get("boost")
	switch {
	case !r.spec.Equipment.BoostCapsule && has:
		v.Fault("a boost pressure on a pump without boost capsule", "boost capsule: yes in equipment, or take this out")
	case !r.spec.Equipment.BoostCapsule && p.Kind == Boost:
		m.Fault("a boost point on a pump without boost capsule", "boost capsule: yes in equipment, or another kind")
	case has:
		q, _ := v.Quantity(calc.Pressure)
		if q.Unit.Factor != 0 && q.Value < 0 {
			v.Fault(v.Text(), "a pressure of 0 or above")
		}
		p.Boost = &q
	case p.Kind == Boost:
		m.Need("boost", "boost: 0.7 bar, the pressure on the capsule")
	}
}

// falling is the branch on which the governor takes the delivery away: its
// governed points and those at full load it comes down from.
type falling struct {
	governed  int
	low, high float64        // speeds these points span, rev/min
	from      *DeliveryPoint // the fastest at full load; nil when there is none
}

func (b *Bench) falling() falling {
	f := falling{low: math.Inf(1), high: math.Inf(-1)}
	for _, p := range b.Deliveries {
		switch p.Kind {
		case Governed:
			f.governed++
		case FullLoad:
			if f.from == nil || p.Speed > f.from.Speed {
				f.from = p
			}
		case Boost:
		default:
			continue
		}
		if p.Speed > 0 {
			f.low, f.high = min(f.low, p.Speed), max(f.high, p.Speed)
		}
	}
	return f
}

// enough makes a fault at v of too few governed points to read name between.
func (f falling) enough(v strict.Value, name string) {
	if f.governed < 2 {
		v.Fault(fmt.Sprintf("a %s, but %d of the governed points it is read between", name, f.governed), "two delivery points of kind governed or more")
	}
}

// beyond tells whether a speed, infinite where a range is open, lies outside
// the points. Of too few points enough has told.
func (f falling) beyond(n float64) bool {
	return f.governed >= 2 && !math.IsInf(n, 0) && (n < f.low || n > f.high)
}

func (f falling) speeds() string {
	return fmt.Sprintf("the speeds of the points, %s to %s rev/min", calc.Fixed(f.low, 0), calc.Fixed(f.high, 0))
}

// delivery reads a delivery that the branch falls through.
func (f falling) delivery(v strict.Value) calc.Quantity {
	q := above(v, calc.Delivery)
	if q.Unit.Factor == 0 || f.from == nil {
		return q
	}
	if l := f.from.Limits; !math.IsInf(l.Low, 0) && q.Base() >= l.Low*l.Unit.Factor {
		v.Fault(fmt.Sprintf("%s, not below the %s %s of %s", v.Text(), calc.Fixed(l.Low, l.Decimals), l.Unit.Symbol, f.from.Name), "a delivery that the governor brings it down to")
	}
	return q
}

// runOut reads one run-out or a list of them, each delivery once.
func (r *specReader) runOut(v strict.Value) {
	list := []strict.Value{v}
	if v.IsList() {
		list = rows(v)
	}
	branch := r.spec.Bench.falling()
	var all []*RunOut
	asFound := false
	for _, e := range list {
		m := e.Map()
		if m == nil {
			continue
		}
		o := &RunOut{Line: e.Line()}
		o.At = branch.delivery(m.Need("at", "at: 10.0 cm³/1000"))
		o.Limits = limits(m, calc.Speed, lowestSpeed)
		asFound = yes(m, "as found") || asFound
		m.Close()
		for _, before := range all {
			before.agree(o, e)
		}
		all = append(all, o)
		for _, n := range []float64{o.Limits.Low, o.Limits.High} {
			if u := o.Limits.Unit; u.Factor != 0 && branch.beyond(n*u.Factor) {
				e.Fault(fmt.Sprintf("a run-out limit of %s rev/min outside %s", calc.Fixed(n*u.Factor, 0), branch.speeds()),
					"governed points on both sides of its limits: the run-out speed is read between them")
				break
			}
		}
	}
	if len(all) > 0 {
		branch.enough(v, "run-out")
	}
	for _, o := range all {
		o.AsFound = asFound
	}
	r.spec.Bench.RunOut = all
}

// agree makes a fault at v of a second run-out that contradicts the first: of
// two deliveries the smaller comes at the higher speed.
func (o *RunOut) agree(second *RunOut, v strict.Value) {
	if o.At.Unit.Factor == 0 || second.At.Unit.Factor == 0 {
		return
	}
	if o.At.Base() == second.At.Base() {
		v.Fault(fmt.Sprintf("the delivery %s a second time (first in line %d)", second.At, o.Line), "each delivery once")
		return
	}
	slow, fast := o, second
	if o.At.Base() < second.At.Base() {
		slow, fast = second, o
	}
	if a, b := slow.Limits, fast.Limits; a.Unit.Factor != 0 && b.Unit.Factor != 0 && b.High*b.Unit.Factor <= a.Low*a.Unit.Factor {
		v.Fault(fmt.Sprintf("%s at a lower speed than %s (lines %d and %d)", fast.At, slow.At, fast.Line, slow.Line), "the smaller delivery with the higher speeds: it falls as the speed rises")
	}
}

func (r *specReader) droop(v strict.Value) {
	m := v.Map()
	if m == nil {
		return
	}
	d := &Droop{Line: v.Line()}
	r.spec.Bench.Droop = d
	branch := r.spec.Bench.falling()
	branch.enough(v, "droop")
	rated := m.Need("rated", "rated: 2100 rev/min")
	d.Rated = speed(rated)
	d.NoLoadAt = branch.delivery(m.Need("no load at", "no load at: 3.0 cm³/1000"))
	for _, key := range []string{"limits", "at most", "at least"} {
		if _, has := m.Get(key); has {
			l := limits(m, calc.Percent, 0)
			d.Limits = &l
			break
		}
	}
	m.Close()
	switch {
	case d.Rated == 0:
		return
	case branch.beyond(d.Rated) || d.Rated == branch.high:
		rated.Fault(fmt.Sprintf("a rated speed of %s rev/min and %s", calc.Fixed(d.Rated, 0), branch.speeds()), "a speed below the last of the governed points, from which the speed rises to no load")
		return
	case d.Limits == nil:
		return
	}
	for _, percent := range []float64{d.Limits.Low, d.Limits.High} {
		if n := d.Rated * (1 + percent/100); branch.beyond(n) {
			v.Fault(fmt.Sprintf("a droop limit of %s %%, a no-load speed of %s rev/min, outside %s", calc.Fixed(percent, d.Limits.Decimals), calc.Fixed(n, 0), branch.speeds()),
				"governed points on both sides of its limits: the no-load speed is read between them")
			return
		}
	}
}
