package packet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Hint is what a pattern of readings points to. Causes and checks are common
// practice, no source; the pump maker's sheet has the last word.
type Hint struct {
	Finding string   `json:"finding"`
	RestsOn []string `json:"rests_on"` // box codes
	Causes  []string `json:"usual_causes"`
	Check   string   `json:"check"`
	Safety  bool     `json:"safety,omitempty"`
}

// against is one reading set against its limits.
type against struct {
	code      string
	speed     float64
	x         float64
	low, high float64
	u         float64 // expanded uncertainty; 0 where not asked for
}

// sure tells that the reading lies outside by more than it may be wrong.
func (o against) sure() bool { return o.x+o.u < o.low || o.x-o.u > o.high }

// side is −1 for a reading below its limits, 1 above, 0 inside.
func (o against) side() int {
	const noise = 1e-9
	switch {
	case o.x < o.low-noise:
		return -1
	case o.x > o.high+noise:
		return 1
	}
	return 0
}

// middle is what the sheet would best like to read; of a one-sided limit, that.
func (o against) middle() float64 {
	switch {
	case math.IsInf(o.low, -1):
		return o.high
	case math.IsInf(o.high, 1):
		return o.low
	}
	return (o.low + o.high) / 2
}

// by is how far the reading lies from the middle, in its unit.
func (o against) by() float64 { return o.x - o.middle() }

// half is half the width of the limits: what counts as much.
func (o against) half() float64 {
	if math.IsInf(o.low, -1) || math.IsInf(o.high, 1) {
		return math.Abs(o.middle()) / 20
	}
	return (o.high - o.low) / 2
}

// counting is how many decimals a figure needs for three figures that count.
func counting(x float64) int {
	if x == 0 {
		return 0
	}
	return max(0, 2-int(math.Floor(math.Log10(math.Abs(x)))))
}

// figures prints to three figures that count.
func figures(p words.Printer, x float64) string { return p.Fixed(x, counting(x)) }

func codesOf(list []against) (out []string) {
	for _, o := range list {
		out = append(out, o.code)
	}
	return out
}

// outside are the readings that lie outside, on one side.
func outside(list []against, side int) (out []against) {
	for _, o := range list {
		if o.side() == side {
			out = append(out, o)
		}
	}
	return out
}

// shape is how a row of readings, by speed, lies to its limits.
type shape int

const (
	fine     shape = iota
	constant       // all out or nearly, by about the same
	atTop          // out at the highest speed, the lowest is not
	atBottom       // out at the lowest speed, the highest is not
	alone          // neither end is out, but one between
	mixed          // some low, some high; or all, by unlike amounts
)

// pattern tells the shape of readings sorted by speed, and the side. relative
// has distances count in per cent of the middle.
func pattern(list []against, relative bool) (shape, int) {
	low, high := len(outside(list, -1)), len(outside(list, 1))
	switch {
	case low == 0 && high == 0:
		return fine, 0
	case low > 0 && high > 0:
		return mixed, 0
	}
	side := 1
	if low > 0 {
		side = -1
	}
	least, most := math.Inf(1), math.Inf(-1)
	width := 0.0
	near := true // all are out, or halfway from the middle to that limit
	for _, o := range list {
		by, half := o.by(), o.half()
		near = near && by*float64(side) > half/2-1e-9
		if m := math.Abs(o.middle()); relative && m > 0 {
			by, half = by/m, half/m
		}
		least, most, width = min(least, by), max(most, by), max(width, half)
	}
	first, last := list[0].side() != 0, list[len(list)-1].side() != 0
	switch {
	case near && most-least <= 1.5*width:
		return constant, side
	case last && !first:
		return atTop, side
	case first && !last:
		return atBottom, side
	case !first && !last:
		return alone, side
	}
	return mixed, side
}

// restsOn are the readings that show a shape: of one that is the same
// everywhere, all of them.
func restsOn(list []against, is shape) []string {
	if is == constant {
		return codesOf(list)
	}
	return codesOf(append(outside(list, -1), outside(list, 1)...))
}

// lowHigh is the sentence for the side.
func lowHigh(side int, low, high string) string {
	if side < 0 {
		return low
	}
	return high
}

// clues gathers what the hints are drawn from.
type clues struct {
	*judge
	e        *Evaluated
	r        *Run
	pressure []against
	travel   []against
	lever    []against // full-load points, of the outlets that belong together
	byKind   map[specs.PointKind][]against
	inlet    []against
	flow     *against
	runOut   []against
	hints    []Hint
}

func (g *judge) against(b *Box, speed float64, l specs.Range) (against, bool) {
	x, ok := g.number(b)
	o := against{code: b.Code, speed: speed, x: x, low: l.Low, high: l.High}
	if b.Instrument != "" {
		if s, known := g.sources(b); known {
			_, _, o.u = calc.Combine(s, confidence)
		}
	}
	return o, ok
}

// hints lists what the readings of a run point to, in the order in which it is
// put right at the bench: what is not safe, the run's own conditions, then
// pressure before timing before delivery before governing, since each rests on
// the one before.
func (g *judge) hints(e *Evaluated, r *Run) []Hint {
	c := &clues{judge: g, e: e, r: r, byKind: map[specs.PointKind][]against{}}
	add := func(list *[]against, b *Box, speed float64, l specs.Range) {
		if b == nil {
			return
		}
		if o, ok := g.against(b, speed, l); ok {
			*list = append(*list, o)
		}
	}
	bench := g.plan.Spec.Bench
	add(&c.inlet, r.Temperature, 0, bench.Conditions.InletTemperature)
	add(&c.inlet, r.TemperatureEnd, 0, bench.Conditions.InletTemperature)
	if bench.Conditions.InletPressure != nil {
		add(&c.inlet, r.Inlet, 0, *bench.Conditions.InletPressure)
	}
	for _, p := range r.Pressure {
		add(&c.pressure, p.Box, p.Spec.Speed, p.Spec.Limits)
	}
	for _, t := range r.Travel {
		add(&c.travel, t.Box, t.Spec.Speed, t.Spec.Limits)
	}
	for _, p := range r.Points {
		list := c.byKind[p.Spec.Kind]
		add(&list, p.Mean, p.Spec.Speed, p.Spec.Limits)
		c.byKind[p.Spec.Kind] = list
	}
	for _, o := range r.RunOut {
		add(&c.runOut, o.Box, 0, o.Spec.Limits)
	}
	if f := r.ReturnFlow; f != nil {
		if o, ok := g.against(f.Box, f.Spec.Speed, f.Spec.Limits); ok {
			c.flow = &o
		}
	}
	c.shutOff()
	c.conditions()
	c.supply()
	c.timing()
	c.outlets()
	c.fullLever()
	c.starting()
	c.boost()
	c.governor()
	c.returned()
	c.looks()
	c.unsteady()
	slices.SortStableFunc(c.hints, func(a, b Hint) int {
		switch {
		case a.Safety == b.Safety:
			return 0
		case a.Safety:
			return -1
		}
		return 1
	})
	return c.hints
}

func (c *clues) say(h Hint) { c.hints = append(c.hints, h) }

func (c *clues) shutOff() {
	for _, p := range c.r.Points {
		if p.Spec.Kind != specs.ShutOff {
			continue
		}
		var rests []string
		for _, b := range p.First {
			if x, ok := c.number(b); ok && x != 0 {
				rests = append(rests, b.Code)
			}
		}
		if rests == nil {
			continue
		}
		h := Hint{Safety: true, RestsOn: rests, Finding: c.T("Fuel comes out with the shut-off closed: the engine would not stop"),
			Causes: c.causes(passesFuel),
			Check:  c.T("Hear the solenoid drop; take it out, look at plunger, spring and seat. Then move the stop lever by hand at this speed.") + " " + c.T(passesFuel.Do)}
		if len(rests) < len(p.First) {
			h.Causes = c.causes(passesFuel, "the graduate was not empty and drained, or that outlet's nozzle holder dribbles")
			h.Check = c.T("Empty and drain the graduates, run it again.") + " " + h.Check
		}
		c.say(h)
	}
}

func (c *clues) conditions() {
	for _, o := range c.inlet {
		s := o.side()
		if s == 0 {
			continue
		}
		h := Hint{RestsOn: []string{o.code}, Finding: c.T(lowHigh(s, "Inlet temperature is too low: what else was read is not the sheet's", "Inlet temperature is too high: what else was read is not the sheet's")),
			Causes: c.plan.all(lowHigh(s, "bench not warmed up", "run too long without cooling"), "heater or cooler of the bench", "where the thermometer sits"),
			Check:  c.T("Put the bench right first, then run the points again; what follows counts only after that.")}
		if c.r.Inlet != nil && o.code == c.r.Inlet.Code {
			h.Finding = c.T(lowHigh(s, "Inlet pressure is too low: what else was read is not the sheet's", "Inlet pressure is too high: what else was read is not the sheet's"))
			h.Causes = c.plan.all(lowHigh(s, "filter or feed hose blocked, or drawing air", "relief valve of the feed pump set too high"), "feed pump or its relief valve")
		}
		c.say(h)
	}
}

// unsteadyShare is by how much of themselves two readings may differ where
// the graduates tell it: common practice, no source.
const unsteadyShare = .015

// unsteady finds outlets whose two readings differ by more than two readings
// of the same may, and by more than their share: both stand on the sheet.
func (c *clues) unsteady() {
	var rests []string
	for _, p := range c.r.Points {
		for i, again := range p.Second {
			x, ok1 := c.number(p.First[i])
			y, ok2 := c.number(again)
			u, known := mayDiffer(c.shop, again)
			if !ok1 || !ok2 || !known {
				continue
			}
			if math.Abs(x-y) > u && math.Abs(x-y) > unsteadyShare*max(x, y) {
				rests = append(rests, p.First[i].Code, again.Code)
			}
		}
	}
	if rests != nil {
		c.say(Hint{RestsOn: rests, Finding: c.T("Two readings of the same outlet do not agree"),
			Causes: c.causes(readingsDiffer),
			Check:  c.T("Bleed, wait until it is steady, count these again before anything is turned.")})
	}
}

// speeds writes at which speeds readings were taken.
func (c *clues) speeds(list []against) string {
	var out []string
	for _, o := range list {
		out = append(out, c.Fixed(o.speed, 0))
	}
	return listWords(c.Printer, out) + " " + c.Unit("rev/min")
}

// where says of readings that lie low or high all along which of them are out:
// all, some of more, or one; the speeds come after the sentences' own verbs.
func (c *clues) where(list []against, side int, every, some, one string, a ...any) string {
	out := outside(list, side)
	switch {
	case len(list) == 1:
		return c.T(one, append(a, c.speeds(out))...)
	case len(out) == len(list):
		return c.T(every, a...)
	}
	return c.T(some, append(a, c.speeds(out))...)
}

// The overflow as a cause of low pressure, by itself or seen in the return flow.
const (
	overflowPasses = "overflow fitting passes too much"
	overflowSeen   = "overflow fitting passes too much: the return flow is high too"
)

func (c *clues) supply() {
	is, side := pattern(c.pressure, false)
	if is == fine {
		return
	}
	h := Hint{RestsOn: restsOn(c.pressure, is)}
	out := append(outside(c.pressure, -1), outside(c.pressure, 1)...)
	overflow := overflowPasses
	if f := c.flow; f != nil && f.side() > 0 && side < 0 {
		h.RestsOn, overflow = append(h.RestsOn, f.code), overflowSeen
	}
	switch {
	case is == mixed && side == 0:
		h.Finding = c.T("Supply pressure is low at some speeds and high at others: it rises at the wrong rate")
		h.Causes = c.plan.all("regulator piston sticks, or its spring is not the right one", "ring, rotor or vanes worn", "gauge or its line")
		h.Check = c.T("Regulator out, clean, piston must drop by its own weight; then read all speeds again.")
	case is == alone:
		h.Finding = c.T(lowHigh(side, "Supply pressure is low at %s alone, its neighbours are right", "Supply pressure is high at %s alone, its neighbours are right"), c.speeds(out))
		h.Causes = c.plan.all("misread, or not yet steady", "regulator piston sticks there")
		h.Check = c.T("Read it again, and the speeds beside it.")
	case side > 0:
		switch is {
		case constant:
			h.Finding = c.where(c.pressure, side, "Supply pressure is high at every speed", "Supply pressure is high at %s, and near that limit at the others", "Supply pressure is high at %s")
		case mixed:
			h.Finding = c.T("Supply pressure is high at every speed")
		default:
			h.Finding = c.T("Supply pressure is high at %s", c.speeds(out))
		}
		h.Causes, h.Check = c.causes(pressureHigh), c.T(pressureHigh.Do)
	case is == atTop:
		h.Finding = c.T("Supply pressure falls short as the speed rises")
		h.Causes = c.causes(pressureShort)
		h.Causes[1] = c.T(overflow)
		h.Check = c.T("Watch the inlet pressure and look for air at the highest speed; measure the return flow. If all are right, the supply pump comes out.")
	case is == atBottom:
		h.Finding = c.T("Supply pressure is low at the low speeds")
		h.Causes = c.plan.all("vanes or ring worn, cover plate scored: it leaks past", "regulator does not seat", overflow)
		h.Check = c.T("Let it run slowly and warm, read again; if it stays low, supply pump and regulator come out.")
	default:
		h.Finding = c.where(c.pressure, side, "Supply pressure is low at every speed", "Supply pressure is low at %s, and near that limit at the others", "Supply pressure is low at %s")
		h.Causes = c.causes(pressureLow)
		h.Causes[1] = c.T(overflow)
		h.Check = c.T(pressureLow.Do) + " " + c.T("Then run the timing travel again.")
	}
	if p := c.e.Pressure; p != nil && p.Bends == flattens {
		h.Finding = c.T("%s; the curve flattens off", h.Finding)
	}
	if is, _ := pattern(c.travel, false); is == fine && len(c.travel) > 1 {
		h.Causes = append([]string{c.T("gauge, its hose or its zero: the travel is right at every speed, so the pressure was there")}, h.Causes...)
		h.Check = c.T("Check with a second gauge before anything is moved.") + " " + h.Check
	}
	if !slices.ContainsFunc(out, against.sure) {
		h.Check = c.T("It lies outside by less than the gauge may be wrong: read it again, with a finer gauge, before anything is moved.")
	}
	c.say(h)
}

func (c *clues) timing() {
	var stuck []string
	worst := 0.0
	var at upAndDown
	for _, l := range c.e.Loops {
		if l.Sticks {
			stuck = append(stuck, l.Up, l.Down)
			if d := math.Abs(l.Falling - l.Rising); d > worst {
				worst, at = d, l
			}
		}
	}
	unit, decimals := "", 0
	if len(c.r.Travel) > 0 {
		unit, decimals = c.r.Travel[0].Box.Unit.Symbol, c.r.Travel[0].Box.Decimals
	}
	if stuck != nil {
		c.say(Hint{RestsOn: stuck, Finding: c.T("Timing piston sticks: at %.0f rev/min %s going up, %s %s coming down", at.Speed, c.Fixed(at.Rising, decimals), c.Fixed(at.Falling, decimals), c.Unit(unit)),
			Causes: c.causes(pistonSticks),
			Check:  c.T("Piston must slide of its own weight, oiled, and the ring turn freely end to end.") + " " + c.T(pistonSticks.Do)})
	}
	if t := c.e.Timing; t != nil && len(t.Contrary) > 0 {
		c.say(Hint{RestsOn: t.Contrary, Finding: c.T("A travel at rest or at its stop does not fit the others"),
			Causes: c.plan.all("piston sticks", "the reading, or the pressure beside it, is wrong"), Check: c.T("Read it and its pressure again, going up.")})
	}
	is, side := pattern(c.travel, false)
	if p, _ := pattern(c.pressure, false); is != atTop && p == fine {
		c.slope(unit) // else it is the pressure, or its gauge
	}
	if is == fine {
		return
	}
	h := Hint{RestsOn: restsOn(c.travel, is)}
	if p, ps := pattern(c.pressure, false); p != fine && (ps == side || side == 0 || ps == 0) {
		h.RestsOn = append(h.RestsOn, restsOn(c.pressure, p)...)
		h.Finding = c.T("Timing travel is out, and so is the pressure that moves it")
		if side != 0 {
			h.Finding = c.T(lowHigh(side, "Timing travel is too small, and so is the pressure that moves it", "Timing travel is too large, and so is the pressure that moves it"))
		}
		h.Causes = c.plan.all("the supply pressure", "only then the timing pack")
		h.Check = c.T("Set the pressure first, then run the travel again before any pack is changed.")
		c.say(h)
		return
	}
	switch is {
	case constant:
		mean := 0.0
		for _, o := range c.travel {
			mean += o.by() / float64(len(c.travel))
		}
		by := c.Fixed(math.Abs(mean), decimals) + " " + c.Unit(unit)
		h.Finding = c.T(lowHigh(side, "Timing is late by about the same at every speed: travel %s short", "Timing is early by about the same at every speed: travel %s long"), by)
		if len(c.travel) == 1 {
			h.Finding = c.T(lowHigh(side, "Timing is late at %s: travel %s short", "Timing is early at %s: travel %s long"), c.speeds(c.travel), by)
		}
		h.Causes = append(c.causes(travelOff), c.plan.all(lowHigh(side, "timing pack too thick, or wrongly split", "timing pack too thin, or wrongly split"), lowHigh(side, "a longer timing spring than the sheet's", "a timing spring that has set: its free length"))...)
		h.Check = join(" ", c.T("Gauge to zero, read again."), c.packWords())
	case atTop:
		h.Finding = c.T(lowHigh(side, "Timing travel is short at the top only", "Timing travel is long at the top only"))
		h.Causes = c.causes(travelShort)
		if side > 0 {
			h.Causes = c.plan.all("stop missing or too short: prescribed shim left out", "spring tired or too weak", "pressure too high there")
		}
		h.Check = c.T("Compare coming down, and the pressure at the top speed. Then look how the pack is split, at F.")
	case atBottom:
		h.Finding = c.T(lowHigh(side, "Timing begins late: travel is small at the low speeds", "Timing begins early: travel is large at the low speeds"))
		h.Causes = c.plan.all(lowHigh(side, "timing pack too thick", "timing pack too thin"), "pressure at the low speeds", "piston sticks at rest")
		h.Check = c.packWords()
	case alone:
		h.Finding = c.T("One timing travel is out, its neighbours are right")
		h.Causes = c.plan.all("misread, or not yet steady", "piston catches there")
		h.Check = c.T("Read it again, going up and coming down.")
	default:
		h.Finding = c.T("Timing travel is out by unlike amounts: its slope is wrong")
		h.Causes = c.plan.all("another timing spring than the sheet's", "piston sticks", "pressure rises at the wrong rate")
		h.Check = join(" ", c.T("Compare the spring with a new one; run the travel up and down."), c.packWords())
	}
	c.say(h)
}

// slope compares how far the piston moves for its pressure with the sheet.
func (c *clues) slope(unit string) {
	t := c.e.Timing
	if t == nil || t.Read == nil || len(t.piston.Used) < 3 || math.Abs(*t.Read-t.Per) <= max(.2*t.Per, 2*t.uRead) {
		return
	}
	var rests []string
	for _, i := range t.piston.Used {
		rests = append(rests, t.readings[i].Box.Code)
		if _, ok := c.number(t.readings[i].Pressure); ok {
			rests = append(rests, t.readings[i].Pressure.Code)
		}
	}
	h := Hint{RestsOn: rests, Finding: c.T("The timing piston moves %s %s for 1 %s where the sheet's piston and spring make it %s", figures(c.Printer, *t.Read), c.Unit(unit), c.Unit(t.Pressure), figures(c.Printer, t.Per)),
		Check: c.T("Compare the spring with a new one, free length and wire. With the wrong spring no pack brings every speed in.")}
	h.Causes = c.plan.all("a stiffer spring than the sheet's", "piston drags", "a gauge, or a figure misread")
	if *t.Read > t.Per {
		h.Causes = c.plan.all("a softer spring than the sheet's, or a tired one", "piston let go after sticking", "a gauge, or a figure misread")
	}
	c.say(h)
}

// packWords say which other timing pack would set the curve in the middle.
func (c *clues) packWords() string {
	p := c.e.Pack
	switch {
	case p == nil:
		if slices.ContainsFunc(c.e.Loops, func(l upAndDown) bool { return l.Sticks }) {
			return c.T("First the piston must move freely.")
		}
		return c.T("Work out the pack at F: total wanted = pack now + (travel read − travel wanted).")
	case p.Reaches:
		words := c.T("If it stays so, another pack sets the whole curve in the middle: now %s, total wanted %s; fit %s.", p.Present, p.Wanted, p.Fit)
		if p.Beyond != "" {
			words += " " + c.T("That is outside the sheet's %s for the pack: look for the cause first, and ask.", p.Beyond)
		}
		return words
	case p.Note != "":
		return c.T("Pack now %s; %s.", p.Present, p.Note)
	}
	return ""
}

// outlets finds one outlet that stands apart, in as many points as show it.
func (c *clues) outlets() {
	type apart struct {
		points []against
		rests  []string
		worst  float64
	}
	found := map[int]*apart{}
	var wide []string
	for _, p := range c.r.Points {
		if spread, ok := c.number(p.Spread); ok && p.Spec.Spread != nil && spread > p.Spec.Spread.High+1e-9 {
			wide = append(wide, p.Spread.Code)
		}
		one := c.judge.apart(p)
		if one == nil {
			continue
		}
		i, percent := one.Place, one.Percent
		a := found[i]
		if a == nil {
			a = &apart{}
			found[i] = a
		}
		a.points = append(a.points, against{speed: p.Spec.Speed})
		for _, b := range p.readings(i) {
			if _, ok := c.number(b); ok {
				a.rests = append(a.rests, b.Code)
			}
		}
		a.rests = append(a.rests, p.Spread.Code)
		if math.Abs(percent) > math.Abs(a.worst) {
			a.worst = percent
		}
	}
	for i, mark := range c.plan.Spec.Pump.Marks {
		a := found[i]
		if a == nil {
			continue
		}
		h := Hint{RestsOn: a.rests, Finding: c.T("Outlet %s gives %s %% less than the others, at %s", mark, c.Fixed(math.Abs(a.worst), 0), c.speeds(a.points)),
			Causes: c.causes(outletLow), Check: c.T(outletLow.Do)}
		if a.worst > 0 {
			h.Finding = c.T("Outlet %s gives %s %% more than the others, at %s", mark, c.Fixed(a.worst, 0), c.speeds(a.points))
			h.Causes = c.plan.all("its nozzle holder opens too low, or its graduate was not empty", "its delivery valve is of another kind, or its relief piston worn")
		}
		c.say(h)
	}
	if len(wide) > 0 && len(found) == 0 {
		c.say(Hint{RestsOn: wide, Finding: c.T("The outlets differ by more than the sheet allows, and no one of them stands apart"),
			Causes: c.causes(spreadWide),
			Check:  c.T("Check the opening pressures of the holders. Then change delivery valves between the highest and the lowest outlet and see what moves.")})
	}
}

// fullLever looks at the full-load points. An outlet that stands apart pulls
// the mean with it: then the others are looked at, since fuel for all is no
// cure for one.
func (c *clues) fullLever() {
	var belong []against
	one := "" // outlet that stands apart
	for _, p := range c.r.Points {
		o, ok := c.against(p.Mean, p.Spec.Speed, p.Spec.Limits)
		if p.Spec.Kind != specs.FullLoad || !ok {
			continue
		}
		if a := c.judge.apart(p); a != nil {
			one, o.x = a.Outlet, a.others
		}
		belong = append(belong, o)
	}
	slices.SortStableFunc(belong, func(a, b against) int { return cmp.Compare(a.speed, b.speed) })
	c.lever = belong
	is, side := pattern(belong, true)
	if is == fine {
		return
	}
	h := Hint{RestsOn: restsOn(belong, is)}
	out := append(outside(belong, -1), outside(belong, 1)...)
	screw := c.plan.Spec.Bench.FullLoadScrew
	switch {
	case is == constant:
		mean := 0.0
		for _, o := range belong {
			mean += o.by() / max(o.middle(), 1) * 100 / float64(len(belong))
		}
		by := c.Fixed(math.Abs(mean), 0)
		if side < 0 {
			h.Finding = c.where(belong, side, "Full-load delivery is low by about %s %%, at every speed", "Full-load delivery is low by about %s %%, at %s, and near that limit at the others", "Full-load delivery is low by about %s %%, at %s", by)
		} else {
			h.Finding = c.where(belong, side, "Full-load delivery is high by about %s %%, at every speed", "Full-load delivery is high by about %s %%, at %s, and near that limit at the others", "Full-load delivery is high by about %s %%, at %s", by)
		}
		h.Causes = c.plan.all("full-load screw", lowHigh(side, "inlet pressure, air or filter", "inlet pressure too high"), "governor shaft projection or starting gap, at K")
		h.Check = c.screwWords(side, screw)
	case is == alone:
		h.Finding = c.T(lowHigh(side, "Full-load delivery at %s alone is low, its neighbours are right", "Full-load delivery at %s alone is high, its neighbours are right"), c.speeds(out))
		h.Causes = c.plan.all("counted wrong: lever, strokes, boost, oil", "full-load screw, where the others have room")
		h.Check = c.T("Count it again. If it stays so: %s Then see that the others stay inside.", c.screwWords(side, screw))
	case is == atTop && side < 0:
		h.Finding = c.T("Full-load delivery falls off with speed")
		h.Causes = c.causes(fullTop)
		h.Check = c.T("Inlet and supply pressure at the top speed first; then see whether the lever still stands at its stop there. The full-load screw would put the lower speeds out.")
	case is == atTop:
		h.Finding = c.T("Full-load delivery rises too much with speed")
		h.Causes = c.plan.all("delivery valves of another kind, or their relief pistons worn", "high-speed screw out: the governor begins too late", "nozzle holders opening too low")
		h.Check = c.T("Delivery valves against the sheet, then the governed speeds.")
	case is == atBottom && side < 0:
		h.Finding = c.T("Full-load delivery is low at the low speeds")
		h.Causes = c.causes(fullBottom)
		h.Check = c.T("Compare the starting delivery: low too means head and plunger. Change the delivery valves before that.")
		h.RestsOn = append(h.RestsOn, codesOf(outside(c.byKind[specs.Starting], -1))...)
	case is == atBottom:
		h.Finding = c.T("Full-load delivery is high at the low speeds")
		h.Causes = c.plan.all("full-load screw set at another speed than the sheet's", "boost or torque control not at rest", "delivery valves of another kind")
		h.Check = c.T("Set the screw at the sheet's own point, then look at the others against it.")
	default:
		h.Finding = c.T("Full-load delivery is out by unlike amounts")
		h.Causes = c.plan.all("delivery valves or nozzle holders not the sheet's", "governor begins too early", "feed")
		h.Check = c.T("Set the point of the full-load screw, then look at the others against it.")
	}
	if len(out) == 1 && (is == atTop || is == atBottom) {
		h.Check = c.T("Count it again first: speed, strokes, lever.") + " " + h.Check
	}
	if side > 0 && one == "" {
		h.Check += " " + c.T(fullLow.Do)
	}
	if one != "" {
		h.Finding = c.T("%s (without outlet %s)", h.Finding, one)
		h.Check = c.T("Put outlet %s right first, and count again.", one) + " " + h.Check
	}
	c.say(h)
}

// screwWords say how to turn the full-load screw.
func (c *clues) screwWords(side int, point string) string {
	s := c.e.Screw
	switch {
	case s != nil && s.Turns*float64(side) > 0:
		return c.T("What was worked out at the two places would turn it the wrong way: it was before it came to this. Count two new places, a quarter turn at most.")
	case s != nil && s.Note != "":
		return s.Note + " " + c.T("Never leave %s above its limit.", point)
	case s != nil && s.Turns != 0:
		return c.T("Screw %s turn (+ is in), from the two places tried. Count again; never leave %s above its limit.", signed(c.Printer, s.Turns, 2), point)
	case point == "":
		return c.T(lowHigh(side, "Inlet first, then the screw, in, a quarter turn at most; count again.", "Inlet first, then the screw, out, a quarter turn at most; count again."))
	}
	return c.T(lowHigh(side, "Inlet first. Then the screw in, a quarter turn at most; count %s, and work out the rest from the two places. Never leave it above its limit.",
		"Inlet first. Then the screw out, a quarter turn at most; count %s, and work out the rest from the two places. Never leave it above its limit."), point)
}

func (c *clues) starting() {
	for _, o := range c.byKind[specs.Starting] {
		if o.side() < 0 {
			c.say(Hint{RestsOn: append([]string{o.code}, codesOf(outside(c.lever, -1))...), Finding: c.T("Starting delivery is low: hard to start"),
				Causes: c.causes(startingLow),
				Check:  c.T("Measure the starting gap again. If it is right and the full load at low speed is low too, head and plunger.")})
		} else if o.side() > 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: c.T("Starting delivery is high"), Causes: c.plan.all("starting gap, at K: end plug", "lever beyond its stop"), Check: c.T("Measure the starting gap again.")})
		}
	}
	for _, o := range c.byKind[specs.Idle] {
		if o.side() != 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: c.T(lowHigh(o.side(), "Idle delivery is low", "Idle delivery is high")),
				Causes: c.causes(idleOff),
				Check:  c.T(idleOff.Do) + " " + c.T("Then the run-out again.")})
		}
	}
	for _, o := range c.byKind[specs.PartLoad] {
		if o.side() != 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: c.T(lowHigh(o.side(), "Part-load delivery is low", "Part-load delivery is high")),
				Causes: c.causes(partLoad), Check: c.T("Look at the lever's position first, then full load: if that is right, the governor.")})
		}
	}
}

func (c *clues) boost() {
	points := c.byKind[specs.Boost]
	out := append(outside(points, -1), outside(points, 1)...)
	if len(out) == 0 {
		return
	}
	if is, _ := pattern(c.lever, true); is != fine {
		return // it rests on the full load, which is out
	}
	// With no pressure in the capsule no leak shows.
	start := true
	for _, p := range c.r.Points {
		if p.Spec.Kind == specs.Boost && p.Spec.Boost != nil && p.Spec.Boost.Value > 0 && slices.Contains(codesOf(out), p.Mean.Code) {
			start = false
		}
	}
	h := Hint{RestsOn: codesOf(out), Finding: c.T("Full load is right, and the boost curve is low"),
		Causes: c.causes(boostLow), Check: c.T(boostLow.Do)}
	switch {
	case start && out[0].side() < 0:
		h.Finding = c.T("Full load is right, and the delivery without boost is low")
		h.Causes = c.plan.all("capsule's start setting or stop screw", "pin or feeler sticks")
		h.Check = c.T("The pin must move freely to its stop; then the start setting.")
	case start:
		h.Finding = c.T("Full load is right, and the delivery without boost is high")
		h.Causes = c.plan.all("line not vented: pressure left in the capsule", "capsule's start setting", "pin or feeler sticks out")
		h.Check = c.T("Line off, count again. Then the pin must move freely; only then its setting.")
	case out[0].side() > 0:
		h.Finding = c.T("Full load is right, and the boost curve is high")
		h.Causes = c.plan.all("capsule's start setting", "pin or feeler sticks out", "line not vented: pressure left in the capsule")
		h.Check = c.T("Line off, count again. Then the pin must move freely; only then its setting.")
	}
	c.say(h)
}

func (c *clues) governor() {
	late, early := outside(c.runOut, 1), outside(c.runOut, -1)
	governed := outside(c.byKind[specs.Governed], 1)
	rests := func(list []against) []string {
		out := append(codesOf(governed), codesOf(list)...)
		for _, o := range c.r.RunOut {
			for _, t := range o.Box.From.Terms {
				if _, ok := c.number(t.Box); ok && !slices.Contains(out, t.Box.Code) {
					out = append(out, t.Box.Code)
				}
			}
		}
		return out
	}
	switch {
	case len(late) > 0 && c.flat():
		c.say(Hint{Safety: true, RestsOn: rests(late), Finding: c.T("Governor begins right and runs out late: delivery falls too slowly, the engine would turn too fast"),
			Causes: c.causes(runOutSlow), Check: c.T(runOutSlow.Do)})
		return
	case len(late) > 0:
		c.say(Hint{Safety: true, RestsOn: rests(late), Finding: c.T("Governor runs out %s rev/min late: the engine would turn too fast", c.Fixed(late[0].x-late[0].high, 0)),
			Causes: c.causes(runOutLate), Check: c.T(runOutLate.Do)})
		return
	case len(early) > 0:
		finding := c.T("Governor runs out %s rev/min early", c.Fixed(early[0].low-early[0].x, 0))
		if n := len(c.lever); n > 0 && c.lever[n-1].side() < 0 {
			finding = c.T("Governor runs out %s rev/min early: no power at rated speed", c.Fixed(early[0].low-early[0].x, 0))
		}
		c.say(Hint{RestsOn: rests(early), Finding: finding,
			Causes: c.causes(runOutEarly),
			Check:  c.T("High-speed screw, then the full load at rated speed again; droop follows from it.")})
		return
	case len(governed) > 0:
		c.say(Hint{Safety: true, RestsOn: codesOf(governed), Finding: c.T("Delivery on the governor's falling branch is high: it lets go too late or too slowly"),
			Causes: c.plan.all("high-speed screw too far out", "governor spring", "friction of sleeve or lever"), Check: c.T("Count the falling branch in steps; see where it begins and how steeply it falls.")})
	}
	if low := outside(c.byKind[specs.Governed], -1); len(low) > 0 && len(governed) == 0 {
		c.say(Hint{RestsOn: codesOf(low), Finding: c.T("Delivery on the governor's falling branch is low: it lets go too early or too fast"),
			Causes: c.causes(runOutEarly), Check: c.T("Count the falling branch in steps; see where it begins and how steeply it falls.")})
	}
	if d, b := c.plan.Spec.Bench.Droop, c.r.Droop; d != nil && d.Limits != nil && b != nil {
		o, ok := c.against(b, 0, *d.Limits)
		if ok && o.side() < 0 {
			c.say(Hint{RestsOn: c.droopRests(), Finding: c.T("Speed droop is small: the engine may hunt"),
				Causes: c.causes(droopSmall), Check: c.T("Compare the spring with a new one; measure the end float again.")})
		}
		if ok && o.side() > 0 {
			c.say(Hint{RestsOn: c.droopRests(), Finding: c.T("Speed droop is large: run-out begins right, and delivery falls too slowly"),
				Causes: c.causes(runOutSlow), Check: c.T("Governor lever must move without a catch; compare the spring with a new one.")})
		}
	}
}

// flat tells that the run-out begins right and ends late: of two run-outs, the
// one at the larger delivery is inside.
func (c *clues) flat() bool {
	begins := false
	for _, o := range c.r.RunOut {
		a, ok := c.against(o.Box, 0, o.Spec.Limits)
		if !ok || a.side() == 0 {
			continue
		}
		for _, other := range c.r.RunOut {
			b, ok := c.against(other.Box, 0, other.Spec.Limits)
			begins = begins || ok && a.side() > 0 && b.side() == 0 && other.Spec.At.Value > o.Spec.At.Value
		}
	}
	return begins
}

// looks says of what was seen with the pump still running.
func (c *clues) looks() {
	for _, k := range c.plan.Looks {
		b := c.seen(k)
		if b.Code[:1] != c.r.Stage || c.entry(b).Blank() || k.fine(c.entry(b).Text) {
			continue
		}
		h := Hint{Safety: k.Safety, RestsOn: []string{b.Code}, Finding: c.T("%s: %s", b.Label, b.T(c.entry(b).Text))}
		switch k.What {
		case outsideDry:
			h.Causes = c.causes(outsideWet)
			h.Check = c.T("Wipe dry, watch where it begins. Cure it; leak test at L again.")
		case solenoidDelivers:
			h.Finding = c.T("The solenoid does not open again: the engine would not start")
			h.Causes = c.causes(solenoidShut)
			h.Check = c.T("Voltage at its terminal; hear it click. Then take it out.")
		case leverStops:
			h.Finding = c.T("The stop lever does not stop the pump")
			h.Causes = c.causes(leverPasses)
			h.Check = c.T("Cover off: does the lever reach the governor lever?") + " " + c.T(leverPasses.Do)
		}
		c.say(h)
	}
}

// droopRests are the boxes of the droop that hold a figure.
func (c *clues) droopRests() (out []string) {
	for _, b := range []*Box{c.r.Droop, c.r.NoLoad} {
		if _, ok := c.number(b); ok {
			out = append(out, b.Code)
		}
	}
	return out
}

func (c *clues) returned() {
	if c.flow == nil || c.flow.side() == 0 {
		return
	}
	side := c.flow.side()
	h := Hint{RestsOn: []string{c.flow.code}, Finding: c.T(lowHigh(side, "Return flow is low", "Return flow is high"))}
	if side < 0 {
		h.Causes = c.causes(returnLow)
		h.Check = c.T("Fitting off, look through its restriction.")
	} else {
		h.Causes = c.causes(returnHigh)
		h.Check = c.T("Compare the fitting with a new one.")
	}
	c.say(h)
}

// Advice is what a bench run points to in plain text, for a terminal: of the
// final run, or the one as found. done tells that it is all read and right.
func (r *Results) Advice(asFound bool) (text string, done bool) {
	e, run := r.Now, r.final
	if asFound {
		e, run = r.Was, r.asFound
	}
	var w strings.Builder
	line := func(indent, text string) { w.WriteString(wrapped(text, indent, 78)) }
	if asFound {
		line("", r.T("%s, %s serial %s: bench run as found", r.Job, r.Pump, r.Serial))
	} else {
		line("", r.T("%s, %s serial %s: bench run", r.Job, r.Pump, r.Serial))
	}
	read, wanted := 0, 0
	var out, missing []string
	for _, it := range r.Items {
		if it.Group == Settings || it.Stage != r.final.Stage || asFound {
			continue
		}
		wanted++
		switch it.Verdict {
		case NotMeasured:
			missing = append(missing, it.Name)
			continue
		case Meets:
		default:
			out = append(out, join("; ", fmt.Sprintf("%s (%s): %s", it.Name, it.Code, r.T(string(it.Verdict))), it.Note))
		}
		read++
	}
	switch {
	case !asFound && read == 0 || asFound && len(e.Read) == 0 && len(e.Hints) == 0:
		line("", r.T("Nothing read yet."))
		return w.String(), false
	case !asFound && len(out) == 0:
		line("", r.T("%d of %d items read, all inside.", read, wanted))
	case !asFound:
		line("", r.T("%d of %d items read, not met or not decided:", read, wanted))
		for _, o := range out {
			line("   ", o)
		}
	default:
		line("", r.T("Nothing is turned at this stage: this is for the quote, and for what to look at when the pump is apart."))
	}
	for i, h := range e.Hints {
		w.WriteString("\n")
		line("", fmt.Sprintf("%d. %s", i+1, r.finding(h)))
		line("   ", r.T("rests on %s", codeWords(r.Printer, h.RestsOn)))
		line("   ", r.T("causes, in this order: %s", strings.Join(h.Causes, "; ")))
		if !asFound {
			line("   ", r.T("next: %s", h.Check))
		}
	}
	for _, p := range run.Points {
		said := ""
		for i := range p.First {
			if _, why := p.outlet(i, r.number); why != "" && why != said && p.started(r.number) {
				said = why
				w.WriteString("\n")
				line("", r.T("%s: %s: no mean, no spread", p.Spec.Name, why))
			}
		}
	}
	for _, n := range e.NotDone {
		w.WriteString("\n")
		line("", r.T("Not worked out: %s", n))
	}
	if len(missing) > 0 {
		w.WriteString("\n")
		line("", r.T("Not yet read: %s", strings.Join(missing, "; ")))
	}
	w.WriteString("\n")
	line("", r.T("The pump maker's test sheet has the last word."))
	return w.String(), len(out) == 0 && len(e.Hints) == 0 && len(missing) == 0
}

// finding is that of a hint, as printed.
func (r *Results) finding(h Hint) string {
	if h.Safety {
		return r.T("Safety: %s", h.Finding)
	}
	return h.Finding
}

// started tells that some reading of a point was written.
func (p *Point) started(read func(*Box) (float64, bool)) bool {
	return slices.ContainsFunc(p.boxes(), func(b *Box) bool { _, ok := read(b); return ok })
}

// codeWords lists box codes, in sheet order, as a person would: "M12, M14 to M17".
func codeWords(p words.Printer, codes []string) string {
	split := func(c string) (stage string, n int, plain bool) {
		if len(c) < 2 {
			return "", 0, false
		}
		n, err := strconv.Atoi(c[1:])
		return c[:1], n, err == nil
	}
	codes = slices.Clone(codes)
	slices.SortStableFunc(codes, func(a, b string) int {
		sa, na, pa := split(a)
		sb, nb, pb := split(b)
		if !pa || !pb || sa != sb {
			return 0
		}
		return cmp.Compare(na, nb)
	})
	var out []string
	for i := 0; i < len(codes); {
		j := i
		s, n, plain := split(codes[i])
		for plain && j+1 < len(codes) {
			if t, m, ok := split(codes[j+1]); !ok || t != s || m != n+j+1-i {
				break
			}
			j++
		}
		switch {
		case j > i+1:
			out = append(out, p.T("%s to %s", codes[i], codes[j]))
		case j > i:
			out = append(out, codes[i], codes[j])
		default:
			out = append(out, codes[i])
		}
		i = j + 1
	}
	return strings.Join(out, ", ")
}

// wrapped breaks a line between words.
func wrapped(text, indent string, width int) string {
	out, line := "", ""
	for _, word := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(indent+line+" "+word) > width {
			out, line = out+indent+line+"\n", ""
		}
		line = join(" ", line, word)
	}
	return out + indent + line + "\n"
}
