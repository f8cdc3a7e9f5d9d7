package packet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"shimcard/calc"
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

// off is one reading against its limits.
type off struct {
	code      string
	speed     float64
	x         float64
	low, high float64
	decimals  int
}

// side is −1 for a reading below its limits, 1 above, 0 inside.
func (o off) side() int {
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
func (o off) middle() float64 {
	switch {
	case math.IsInf(o.low, -1):
		return o.high
	case math.IsInf(o.high, 1):
		return o.low
	}
	return (o.low + o.high) / 2
}

// by is how far the reading lies from the middle, in its unit.
func (o off) by() float64 { return o.x - o.middle() }

// half is half the width of the limits: what counts as much.
func (o off) half() float64 {
	if math.IsInf(o.low, -1) || math.IsInf(o.high, 1) {
		return math.Abs(o.middle()) / 20
	}
	return (o.high - o.low) / 2
}

func codes(list []off) (out []string) {
	for _, o := range list {
		out = append(out, o.code)
	}
	return out
}

// outside are the readings that lie outside, on one side.
func outside(list []off, side int) (out []off) {
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
	constant       // out, all by about the same
	atTop          // out the more the higher the speed
	atBottom       // out the more the lower the speed
	mixed
)

// pattern tells the shape of readings sorted by speed, and the side: how the
// distance from the middle changes from the lowest speed to the highest, set
// against the width of the limits there. relative has distances count in per
// cent of the middle.
func pattern(list []off, relative bool) (shape, int) {
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
	if len(list) < 2 {
		return constant, side
	}
	size := func(o off) (by, half float64) {
		by, half = o.by(), o.half()
		if m := math.Abs(o.middle()); relative && m > 0 {
			by, half = by/m, half/m
		}
		return by, half
	}
	all := true // on that side of the middle
	for _, o := range list {
		all = all && o.by()*float64(side) > 0
	}
	first, last := list[0], list[len(list)-1]
	a, ha := size(first)
	z, hz := size(last)
	switch change := (z - a) * float64(side); {
	case all && math.Abs(change) <= max(ha, hz):
		return constant, side
	case change > 0:
		return atTop, side
	}
	return atBottom, side
}

// restsOn are the readings that show a shape: of one that is the same
// everywhere, all of them.
func restsOn(list []off, is shape) []string {
	if is == constant {
		return codes(list)
	}
	return codes(append(outside(list, -1), outside(list, 1)...))
}

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
	pressure []off
	travel   []off
	lever    []off // full-load points
	byKind   map[specs.PointKind][]off
	inlet    []off
	flow     *off
	runOut   []off
	hints    []Hint
}

func (g *judge) off(b *Box, speed float64, l specs.Range) (off, bool) {
	x, ok := g.number(b)
	return off{b.Code, speed, x, l.Low, l.High, b.Decimals}, ok
}

// hints lists what the readings of a run point to, in the order in which it is
// put right at the bench: what is not safe, the run's own conditions, then
// pressure before timing before delivery before governing, since each rests on
// the one before.
func (g *judge) hints(e *Evaluated, r *Run) []Hint {
	c := &clues{judge: g, e: e, r: r, byKind: map[specs.PointKind][]off{}}
	add := func(list *[]off, b *Box, speed float64, l specs.Range) {
		if b == nil {
			return
		}
		if o, ok := g.off(b, speed, l); ok {
			*list = append(*list, o)
		}
	}
	bench := g.plan.Spec.Bench
	add(&c.inlet, r.Temperature, 0, bench.Conditions.InletTemperature)
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
	c.lever = slices.Clone(c.byKind[specs.FullLoad])
	slices.SortStableFunc(c.lever, func(a, b off) int { return int(math.Copysign(1, a.speed-b.speed)) })
	for _, o := range r.RunOut {
		add(&c.runOut, o.Box, 0, o.Spec.Limits)
	}
	if f := r.ReturnFlow; f != nil {
		if o, ok := g.off(f.Box, f.Spec.Speed, f.Spec.Limits); ok {
			c.flow = &o
		}
	}
	c.shutOff()
	c.conditions()
	c.unsteady()
	c.supply()
	c.timing()
	c.outlets()
	c.fullLever()
	c.starting()
	c.boost()
	c.governor()
	c.returned()
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
		if rests != nil {
			c.say(Hint{Safety: true, RestsOn: rests, Finding: "Fuel comes out with the shut-off closed: the engine would not stop",
				Causes: []string{"solenoid plunger sticks, or its seat is dirty or worn", "metering sleeve sticks on the plunger", "stop lever or its linkage does not reach its end"},
				Check:  "Hear the solenoid drop; take it out, look at plunger, spring and seat. Then move the stop lever by hand at this speed. The pump does not leave until nothing comes."})
		}
	}
}

func (c *clues) conditions() {
	for _, o := range c.inlet {
		if s := o.side(); s != 0 {
			what := "temperature"
			if c.r.Inlet != nil && o.code == c.r.Inlet.Code {
				what = "pressure"
			}
			c.say(Hint{RestsOn: []string{o.code}, Finding: fmt.Sprintf("Inlet %s is too %s: what else was read is not the sheet's", what, lowHigh(s, "low", "high")),
				Causes: []string{"bench not warmed up, or its cooler or heater off", "feed pump or its relief valve set wrong", "filter or feed hose blocked"},
				Check:  "Put the bench right first, then run the points again."})
		}
	}
}

// unsteady finds outlets whose two readings differ by more than two readings
// of the same may.
func (c *clues) unsteady() {
	var rests []string
	for _, p := range c.r.Points {
		for i, again := range p.Second {
			x, ok1 := c.number(p.First[i])
			y, ok2 := c.number(again)
			permissible, resolution, known := figureSources(c.shop, again.Instrument, again.Unit, again.Decimals)
			if !ok1 || !ok2 || !known {
				continue
			}
			_, _, u := calc.Combine([]calc.Source{permissible, permissible, resolution, resolution}, confidence)
			if math.Abs(x-y) > u && math.Abs(x-y) > .01*max(x, y) {
				rests = append(rests, p.First[i].Code, again.Code)
			}
		}
	}
	if rests != nil {
		c.say(Hint{RestsOn: rests, Finding: "Two readings of the same outlet do not agree",
			Causes: []string{"air in the feed, or not yet warm and steady", "a graduate not drained as long as the other time", "strokes not counted to the same number", "a figure misread or written in the wrong place"},
			Check:  "Bleed, wait until it is steady, count these again before anything is turned."})
	}
}

func (c *clues) supply() {
	is, side := pattern(c.pressure, false)
	if is == fine {
		return
	}
	rests := restsOn(c.pressure, is)
	flow := ""
	if f := c.flow; f != nil && f.side() > 0 && side < 0 {
		rests, flow = append(rests, f.code), "overflow fitting passes too much: the return flow is high too"
	}
	h := Hint{RestsOn: rests}
	switch {
	case is == mixed:
		h.Finding = "Supply pressure is low at some speeds and high at others: it rises at the wrong rate"
		h.Causes = []string{"regulator piston sticks, or its spring is not the right one", "ring, rotor or vanes worn", "gauge or its line"}
		h.Check = "Regulator out, clean, piston must drop by its own weight; then read all speeds again."
	case side > 0:
		h.Finding = "Supply pressure is high" + map[shape]string{constant: " at every speed", atTop: " the more the faster", atBottom: " at the low speeds most"}[is]
		h.Causes = []string{"regulator plug pressed in too far", "regulator piston sticks", "overflow fitting or return line restricted"}
		h.Check = "Regulator out, plug back, start again: it only goes one way. Before that, look whether the return line is free."
	case is == atTop:
		h.Finding = "Supply pressure falls short as the speed rises"
		h.Causes = []string{"feed restricted or drawing air: inlet pressure falls at speed", "ring, rotor or vanes worn", "regulator leaks past its piston"}
		h.Check = "Watch the inlet pressure and look for air at the highest speed. If both are right, the supply pump comes out."
	case is == atBottom:
		h.Finding = "Supply pressure is low at the low speeds"
		h.Causes = []string{"vanes or ring worn, cover plate scored: it leaks past", "regulator does not seat", "housing or seal leaks"}
		h.Check = "Let it run slowly and warm, read again; if it stays low, supply pump and regulator come out."
	default:
		h.Finding = "Supply pressure is low at every speed"
		h.Causes = []string{"regulator plug not pressed in far enough", "regulator spring or piston", "feed or filter"}
		h.Check = "Press the regulator plug in a little at a time, reading the pressure after each. Then run the timing travel again."
	}
	if flow != "" {
		h.Causes = append([]string{flow}, h.Causes...)
	}
	if p := c.e.Pressure; p != nil && p.Bends == "flattens off" {
		h.Finding += fmt.Sprintf("; the curve flattens off (t %s, critical %s)", calc.Fixed(*p.T, 1), calc.Fixed(-*p.TCritical, 1))
	}
	c.say(h)
}

func (c *clues) timing() {
	var stuck []string
	worst := 0.0
	var at Loop
	for _, l := range c.e.Loops {
		if l.Sticks {
			stuck = append(stuck, l.Up, l.Down)
			if d := math.Abs(l.Falling - l.Rising); d > worst {
				worst, at = d, l
			}
		}
	}
	unit := ""
	decimals := 0
	if len(c.r.Travel) > 0 {
		unit, decimals = c.r.Travel[0].Box.Unit.Symbol, c.r.Travel[0].Box.Decimals
	}
	if stuck != nil {
		c.say(Hint{RestsOn: stuck, Finding: fmt.Sprintf("Timing piston sticks: at %.0f rev/min %s going up, %s %s coming down", at.Speed, calc.Fixed(at.Rising, decimals), calc.Fixed(at.Falling, decimals), unit),
			Causes: []string{"piston scored or dirty in its bore", "pin or roller ring tight", "seal of the cap dragging"},
			Check:  "Piston must slide of its own weight, oiled, and the ring turn freely end to end. No other pack until it does: a pack cannot cure it."})
	}
	if t := c.e.Timing; t != nil && len(t.Contrary) > 0 {
		c.say(Hint{RestsOn: t.Contrary, Finding: "A travel at rest or at its stop does not fit the others",
			Causes: []string{"piston sticks", "the reading, or the pressure beside it, is wrong"}, Check: "Read it and its pressure again, going up."})
	}
	if t := c.e.Timing; t != nil && t.Read != nil && math.Abs(*t.Read/t.Per-1) > .2 {
		var rests []string
		for _, i := range t.piston.Used {
			rests = append(rests, t.readings[i].Box.Code, t.readings[i].Pressure.Code)
		}
		c.say(Hint{RestsOn: rests, Finding: fmt.Sprintf("The timing piston moves %s %s for 1 %s where the sheet's piston and spring make it %s", calc.Fixed(*t.Read, decimals+1), unit, t.Pressure, calc.Fixed(t.Per, decimals+1)),
			Causes: []string{"another spring than the sheet's, or a tired one", "piston sticks", "a pressure or travel misread"},
			Check:  "Compare the spring with a new one, free length and wire. With the wrong spring no pack brings every speed in."})
	}
	is, side := pattern(c.travel, false)
	if is == fine {
		return
	}
	h := Hint{RestsOn: restsOn(c.travel, is)}
	if p, ps := pattern(c.pressure, false); p != fine && (ps == side || p == mixed) {
		h.RestsOn = append(h.RestsOn, restsOn(c.pressure, p)...)
		h.Finding = fmt.Sprintf("Timing travel is too %s, and so is the pressure that moves it", lowHigh(side, "small", "large"))
		h.Causes = []string{"the supply pressure", "only then the timing pack"}
		h.Check = "Set the pressure first, then run the travel again before any pack is changed."
		c.say(h)
		return
	}
	later := lowHigh(side, "late", "early")
	switch is {
	case constant:
		mean := 0.0
		for _, o := range c.travel {
			mean += o.by() / float64(len(c.travel))
		}
		h.Finding = fmt.Sprintf("Timing is %s by about the same at every speed: travel %s %s %s", later, calc.Fixed(math.Abs(mean), decimals), unit, lowHigh(side, "short", "long"))
		h.Causes = []string{"timing pack too " + lowHigh(side, "thick", "thin"), "timing spring " + lowHigh(side, "too stiff", "tired")}
		h.Check = c.packWords()
	case atTop:
		h.Finding = fmt.Sprintf("Timing travel is %s at the top only", lowHigh(side, "short", "long"))
		h.Causes = []string{"piston meets its stop early: prescribed shim and rest of the pack exchanged", "piston or ring sticks near its end", "pressure falls off there"}
		if side > 0 {
			h.Causes = []string{"stop missing or too short: prescribed shim left out", "spring tired or too weak", "pressure too high there"}
		}
		h.Check = "Compare coming down, and the pressure at the top speed. Then look how the pack is split, at F. " + c.packWords()
	case atBottom:
		h.Finding = fmt.Sprintf("Timing begins %s: travel is %s at the low speeds", later, lowHigh(side, "small", "large"))
		h.Causes = []string{"timing pack too " + lowHigh(side, "thick", "thin"), "pressure at the low speeds", "piston sticks at rest"}
		h.Check = c.packWords()
	default:
		h.Finding = "Timing travel is small at some speeds and large at others: its slope is wrong"
		h.Causes = []string{"another timing spring than the sheet's", "piston sticks", "pressure rises at the wrong rate"}
		h.Check = "Compare the spring with a new one; run the travel up and down. " + c.packWords()
	}
	c.say(h)
}

// packWords say which other timing pack would set the curve in the middle.
func (c *clues) packWords() string {
	p := c.e.Pack
	switch {
	case p == nil:
		return "Work out the pack at F: total wanted = pack now + (travel read − travel wanted)."
	case p.Reaches:
		return fmt.Sprintf("Pack now %s; total wanted %s: fit %s. Then every travel should be inside, see the curve.", p.Present, p.Wanted, p.Fit)
	case p.Note != "":
		return fmt.Sprintf("Pack now %s; %s.", p.Present, p.Note)
	}
	return ""
}

// outlets finds one outlet that stands apart where the spread is too wide, in
// as many points as show it.
func (c *clues) outlets() {
	marks := c.plan.Spec.Pump.Marks
	type apart struct {
		points []string
		rests  []string
		worst  float64
	}
	found := map[int]*apart{}
	wide := 0
	var wideCodes []string
	for _, p := range c.r.Points {
		q, why := p.outlets(c.number)
		spread, ok := c.number(p.Spread)
		if why != "" || !ok || p.Spec.Spread == nil || spread <= p.Spec.Spread.High+1e-9 {
			continue
		}
		wide++
		wideCodes = append(wideCodes, p.Spread.Code)
		i, distance, critical, err := calc.Outlier(q, 1-confidence)
		if err != nil || distance <= critical {
			continue
		}
		n := float64(len(q))
		others := (calc.Mean(q)*n - q[i]) / (n - 1)
		a := found[i]
		if a == nil {
			a = &apart{}
			found[i] = a
		}
		a.points = append(a.points, p.Spec.Name)
		for _, b := range p.readings(i) {
			if _, ok := c.number(b); ok {
				a.rests = append(a.rests, b.Code)
			}
		}
		a.rests = append(a.rests, p.Spread.Code)
		if off := (q[i]/others - 1) * 100; math.Abs(off) > math.Abs(a.worst) {
			a.worst = off
		}
	}
	named := false
	for i, mark := range marks {
		a := found[i]
		if a == nil {
			continue
		}
		named = true
		side := lowHigh(int(math.Copysign(1, a.worst)), "less", "more")
		h := Hint{RestsOn: a.rests, Finding: fmt.Sprintf("Outlet %s gives up to %s %% %s than the others, at %s (Grubbs' test, 5 %%)", mark, calc.Fixed(math.Abs(a.worst), 1), side, listWords(a.points)),
			Causes: []string{"its nozzle holder or pipe on the bench", "its delivery valve: dirt, seat, spring, piston", "its washer or holder: torque, leak", "head bore or plunger port at this outlet"},
			Check:  fmt.Sprintf("Change holder and pipe of outlet %s with a neighbour's, count again. If it goes with them, it is the bench; if it stays, change its delivery valve next.", mark)}
		c.say(h)
	}
	if wide > 0 && !named {
		c.say(Hint{RestsOn: wideCodes, Finding: "The outlets differ by more than the sheet allows, and no one of them stands apart",
			Causes: []string{"nozzle holders or pipes not a matched set, opening pressures apart", "delivery valves of mixed make or wear", "head and plunger worn"},
			Check:  "Check the opening pressures of the holders. Then change delivery valves between the highest and the lowest outlet and see what moves."})
	}
}

func (c *clues) fullLever() {
	is, side := pattern(c.lever, true)
	if is == fine {
		return
	}
	h := Hint{RestsOn: restsOn(c.lever, is)}
	screw := c.plan.Spec.Bench.FullLoadScrew
	switch {
	case is == constant:
		mean := 0.0
		for _, o := range c.lever {
			mean += o.by() / o.middle() * 100 / float64(len(c.lever))
		}
		h.Finding = fmt.Sprintf("Full-load delivery is %s by about %s %% at every speed", lowHigh(side, "low", "high"), calc.Fixed(math.Abs(mean), 0))
		h.Causes = []string{"full-load screw", lowHigh(side, "inlet pressure, air or filter", "inlet pressure too high"), "governor shaft projection or starting gap, at K"}
		h.Check = c.screwWords(side, screw)
	case is == atTop && side < 0:
		h.Finding = "Full-load delivery falls off with speed"
		h.Causes = []string{"feed restricted or drawing air: inlet pressure falls at speed", "supply pressure low at the top", "governor begins too early: high-speed screw, governor shaft", "plunger springs weak"}
		h.Check = "Inlet and supply pressure at the top speed first; then see whether the lever still stands at its stop there. The full-load screw would put the lower speeds out."
	case is == atTop:
		h.Finding = "Full-load delivery rises too much with speed"
		h.Causes = []string{"delivery valves of another kind, or their relief pistons worn", "high-speed screw out: the governor begins too late", "nozzle holders opening too low"}
		h.Check = "Delivery valves against the sheet, then the governed speeds."
	case side < 0:
		h.Finding = "Full-load delivery is low at the low speeds"
		h.Causes = []string{"head and plunger worn: it leaks while it pumps slowly", "delivery valves leak back", "oil too warm"}
		h.Check = "Compare the starting delivery: low too means head and plunger. Change the delivery valves before that."
		if s := c.byKind[specs.Starting]; len(s) > 0 {
			h.RestsOn = append(h.RestsOn, codes(s)...)
		}
	case is == mixed:
		h.Finding = "Full-load delivery is low at some speeds and high at others"
		h.Causes = []string{"delivery valves or nozzle holders not the sheet's", "governor begins too early", "feed"}
		h.Check = "Set the point of the full-load screw, then look at the others against it."
	default:
		h.Finding = "Full-load delivery is high at the low speeds"
		h.Causes = []string{"full-load screw set at another speed than the sheet's", "boost or torque control not at rest", "delivery valves of another kind"}
		h.Check = "Set the screw at the sheet's own point, then look at the others against it."
	}
	c.say(h)
}

// screwWords say how to turn the full-load screw.
func (c *clues) screwWords(side int, point string) string {
	way := lowHigh(side, "in", "out")
	switch s := c.e.Screw; {
	case s != nil && s.Note != "":
		return fmt.Sprintf("Screw %s turn by the two places tried, but %s. Never leave %s above its limit.", signed(s.Turns, 2), s.Note, point)
	case s != nil && s.Turns != 0:
		return fmt.Sprintf("Screw %s turn (+ is in), from the two places tried. Count again; never leave %s above its limit.", signed(s.Turns, 2), point)
	case point == "":
		return "Inlet first, then the screw, " + way + ", a quarter turn at most; count again."
	}
	return fmt.Sprintf("Inlet first. Then the screw %s, a quarter turn at most; count %s, and work out the rest from the two places.", way, point)
}

func (c *clues) starting() {
	for _, o := range c.byKind[specs.Starting] {
		if o.side() < 0 {
			h := Hint{RestsOn: []string{o.code}, Finding: "Starting delivery is low: hard to start",
				Causes: []string{"starting gap, at K: end plug", "starting lever does not come free, or its spring", "head and plunger worn", "delivery valves leak back"},
				Check:  "Measure the starting gap again. If it is right and the full load at low speed is low too, head and plunger."}
			low := outside(c.lever, -1)
			h.RestsOn = append(h.RestsOn, codes(low)...)
			c.say(h)
		} else if o.side() > 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: "Starting delivery is high", Causes: []string{"starting gap, at K: end plug", "lever beyond its stop"}, Check: "Measure the starting gap again."})
		}
	}
	for _, o := range c.byKind[specs.Idle] {
		if o.side() != 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: "Idle delivery is " + lowHigh(o.side(), "low", "high"),
				Causes: []string{"idle screw", "idle spring, lever friction", "flyweight end float or governor shaft, at K"},
				Check:  "Idle screw, small steps, lever let back from full each time; then the run-out again."})
		}
	}
	for _, o := range c.byKind[specs.PartLoad] {
		if o.side() != 0 {
			c.say(Hint{RestsOn: []string{o.code}, Finding: "Part-load delivery is " + lowHigh(o.side(), "low", "high"),
				Causes: []string{"lever not where the sheet wants it", "governor spring", "governor dimensions at K"}, Check: "Look at the lever's position first, then full load: if that is right, the governor."})
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
	c.say(Hint{RestsOn: codes(out), Finding: fmt.Sprintf("Full load is right, and the boost curve %s", lowHigh(out[0].side(), "is low", "is high")),
		Causes: []string{"boost diaphragm or its line leaks", "capsule's spring set wrong", "pin or feeler sticks"},
		Check:  "Does the capsule hold its pressure, closed off? Then its pin must move freely; only then its setting."})
}

func (c *clues) governor() {
	late, early := outside(c.runOut, 1), outside(c.runOut, -1)
	rests := func(list []off) []string {
		out := codes(list)
		for _, o := range c.r.RunOut {
			for _, t := range o.Box.From.Terms {
				if _, ok := c.number(t.Box); ok && !slices.Contains(out, t.Box.Code) {
					out = append(out, t.Box.Code)
				}
			}
		}
		return out
	}
	governed := outside(c.byKind[specs.Governed], 1)
	switch {
	case len(late) > 0:
		c.say(Hint{Safety: true, RestsOn: rests(late), Finding: "Governor runs out late: the engine would turn too fast",
			Causes: []string{"high-speed screw too far out", "governor spring too strong or its anchor misplaced", "metering sleeve or lever sticks", "governor shaft projection, at K"},
			Check:  "High-speed screw first. If it does not come in, or does not come back the same each time: stop, governor open."})
	case len(early) > 0:
		c.say(Hint{RestsOn: rests(early), Finding: "Governor runs out early: no power at rated speed",
			Causes: []string{"high-speed screw too far in", "governor spring weak", "governor shaft projection or end float, at K"},
			Check:  "High-speed screw, then the full load at rated speed again."})
	case len(governed) > 0:
		c.say(Hint{Safety: true, RestsOn: codes(governed), Finding: "Delivery on the governor's falling branch is high: it lets go too late or too slowly",
			Causes: []string{"high-speed screw too far out", "governor spring", "friction of sleeve or lever"}, Check: "Count the falling branch in steps; see where it begins and how steeply it falls."})
	}
	if d, b := c.plan.Spec.Bench.Droop, c.r.Droop; d != nil && d.Limits != nil && b != nil {
		if o, ok := c.off(b, 0, *d.Limits); ok && o.side() > 0 {
			c.say(Hint{RestsOn: []string{o.code, c.r.NoLoad.Code}, Finding: "Speed droop is large: delivery falls too slowly with speed",
				Causes: []string{"governor spring too soft or worn", "friction in levers or sleeve", "flyweight end float, at K"}, Check: "Governor lever must move without a catch; compare the spring with a new one."})
		}
	}
}

func (c *clues) returned() {
	if c.flow == nil || c.flow.side() == 0 {
		return
	}
	side := c.flow.side()
	h := Hint{RestsOn: []string{c.flow.code}, Finding: "Return flow is " + lowHigh(side, "low", "high")}
	if side < 0 {
		h.Causes = []string{"restriction in the overflow fitting blocked, or inlet banjo fitted there", "supply pressure low", "return line bent or blocked"}
		h.Check = "Fitting off, look through its restriction."
	} else {
		h.Causes = []string{"overflow fitting without restriction, or worn", "supply pressure high", "internal leak past the head"}
		h.Check = "Compare the fitting with a new one."
	}
	c.say(h)
}

// Advice is what a run points to in plain text, for a terminal.
func (e *Evaluated) Advice() string {
	var w strings.Builder
	if len(e.Read) == 0 && len(e.Hints) == 0 && len(e.NotDone) == 0 {
		return "Nothing read yet.\n"
	}
	if len(e.Hints) == 0 {
		w.WriteString("Nothing outside its limits so far.\n")
	}
	for i, h := range e.Hints {
		if h.Safety {
			h.Finding = "Safety: " + lowerFirst(h.Finding)
		}
		fmt.Fprintf(&w, "\n%d. %s\n", i+1, h.Finding)
		for _, line := range []string{"rests on " + strings.Join(h.RestsOn, ", "), "causes, in this order: " + strings.Join(h.Causes, "; "), "next: " + h.Check} {
			w.WriteString(wrapped(line, "   ", 76))
		}
	}
	for _, n := range e.NotDone {
		w.WriteString("\n" + wrapped("Not worked out: "+n, "", 76))
	}
	w.WriteString("\nThe pump maker's test sheet has the last word.\n")
	return w.String()
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
