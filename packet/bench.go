package packet

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// How far outside its limits a bench reading is still believed.
const (
	wide       = 3.0 // times the limits' width, either side
	coldest    = 5.0 // °C, of any believable inlet
	hottest    = 70.0
	anyVolume  = 200.0  // cm³, as found: a dead outlet is the very finding sought
	mostVolume = 5000.0 // cm³, of a return flow
	mostAcross = 6      // outlets in one line of the delivery table
)

// believable is a generous window round limits, below zero only where they are.
func believable(r specs.Range) (low, high float64) {
	if r.Unit.Kind == calc.Temperature {
		return math.Round(calc.Convert(coldest, calc.Celsius, r.Unit)), math.Round(calc.Convert(hottest, calc.Celsius, r.Unit))
	}
	low, high = r.Low, r.High
	switch {
	case math.IsInf(low, -1):
		low = 0
	case math.IsInf(high, 1):
		high = 4 * low
	}
	margin := max(wide*(high-low), math.Abs(high)/2)
	switch {
	case low < 0:
		return low - margin, high + margin
	case high == 0:
		return 0, 100
	}
	return max(0, low-margin), high + margin
}

func limitsWords(p words.Printer, r specs.Range) string {
	switch {
	case math.IsInf(r.Low, -1):
		if r.High == 0 {
			return p.T("no\u00a0delivery")
		}
		return p.T("at\u00a0most\u00a0%s", p.Fixed(r.High, r.Decimals))
	case math.IsInf(r.High, 1):
		return p.T("at\u00a0least\u00a0%s", p.Fixed(r.Low, r.Decimals))
	}
	return p.Fixed(r.Low, r.Decimals) + "\u00a0–\u00a0" + p.Fixed(r.High, r.Decimals)
}

// limits are limits with their unit.
func (b *builder) limits(r specs.Range) string {
	return limitsWords(b.Printer, r) + " " + b.Unit(r.Unit.Symbol)
}

// limited declares a box for a value that has limits in the spec.
func (b *builder) limited(label string, r specs.Range, instrument string) *Box {
	low, high := believable(r)
	x := b.number(label, r.Unit, r.Decimals, low, high).with(instrument)
	x.Signed = low < 0
	return x
}

// run declares a bench run: the conditions, then the tables in the order the
// bench is run. At stage B only the points asked for as found are on the sheet,
// and none of them is needed to release the pump.
func (p *Plan) run(b *builder, asFound bool) *Run {
	bench := p.Spec.Bench
	r := &Run{Stage: b.stage.Letter}
	need := func(x *Box) *Box {
		x.Required = !asFound
		return x
	}

	sh := b.stage.Sheets[len(b.stage.Sheets)-1]
	r.Temperature = need(b.limited(b.T("inlet temperature"), bench.Conditions.InletTemperature, "thermometer"))
	conditions := Write{Heading: b.T("Conditions"), Boxes: []*Box{r.Temperature}}
	wanted := b.limits(bench.Conditions.InletTemperature)
	if p := bench.Conditions.InletPressure; p != nil {
		r.Inlet = need(b.limited(b.T("inlet pressure"), *p, "inlet gauge"))
		conditions.Boxes = append(conditions.Boxes, r.Inlet)
		wanted = b.T("%s; inlet %s", wanted, b.limits(*p))
	}
	if near := b.near(conditions.Boxes...); !asFound && len(near) > 0 {
		wanted = b.T("%s, inside by %s", wanted, listWords(b.Printer, near))
	}
	conditions.Note = b.T("Warm, at the first point below: %s. Else bring the bench in first.", wanted)
	if f := bench.ReturnFlow; asFound && f != nil && f.AsFound {
		flow := b.returnFlow(r, asFound)
		conditions.Heading = b.T("Conditions, return flow")
		conditions.Note += " " + b.T("Return flow:") + " " + flow.Note
		conditions.Boxes = append(conditions.Boxes, flow.Boxes...)
	}
	sh.add(conditions)

	b.speedTable(sh, r, asFound)
	if !asFound {
		b.fullLoadScrew(sh, r)
	}
	b.deliveryTable(sh, r, asFound)
	b.fallingBranch(sh, r, asFound)
	if asFound {
		return r
	}
	if bench.ReturnFlow != nil {
		flow := b.returnFlow(r, asFound)
		flow.Heading = b.T("Return flow")
		sh.add(flow)
	}
	p.beforeItComesOff(b, sh, r)
	sh.add(b.whatIfOut(r))
	return r
}

// returnFlow declares what comes back in a time, and the flow that makes.
func (b *builder) returnFlow(r *Run, asFound bool) Write {
	const catch = 60.0 // s, common practice, no source
	f := b.Spec.Bench.ReturnFlow
	volume := b.number(b.T("returned"), calc.CM3, 0, 1, mostVolume).with("measuring vessel")
	time := b.number(b.T("in the time"), calc.Seconds, 1, 1, 600).with("stop watch")
	per := 3.6 / f.Limits.Unit.Factor // what one cm³/s is in the sheet's unit
	flow := b.limited(b.T("return flow"), f.Limits, "").worked(&Formula{Op: Flow, Const: f.Limits.Unit.Factor, Terms: []Term{plus(volume), plus(time)}})
	r.ReturnFlow = &Reading{Name: flow.Label, Spec: f, Box: flow}
	w := Write{Boxes: []*Box{volume, time, flow},
		Note: b.lever(f.Speed) + " " + b.T("Catch it for about %s s. Volume × %s ÷ time; limits %s.", b.Fixed(catch, 0), b.Mark(strconv.FormatFloat(per, 'g', -1, 64)), b.limits(f.Limits))}
	if asFound {
		return w
	}
	volume.Required, time.Required, flow.Required = true, true, true
	g := b.asIf(map[*Box]float64{volume: halfway(f.Limits) * catch / per, time: catch})
	if u, known := combined(g.ratioSources(flow)); known {
		w.Note += " " + b.keepInside(b.upTo(u, flow))
	}
	return w
}

// keepInside says how far from its limits a figure must lie for the report to
// call it, "" where that is not known.
func (b *builder) keepInside(by ...string) string {
	if len(by) == 0 {
		return ""
	}
	return b.T("Keep inside by %s: nearer, the report cannot call it.", listWords(b.Printer, by))
}

// upTo is an uncertainty rounded up, in the unit of a box.
func (b *builder) upTo(u float64, x *Box) string {
	return b.Fixed(ceil(u, x.Decimals+1), x.Decimals+1) + "\u00a0" + b.Unit(x.Unit.Symbol)
}

// ceil rounds up to decimals.
func ceil(x float64, decimals int) float64 {
	step := math.Pow10(-decimals)
	return math.Ceil(x/step-1e-9) * step
}

// halfway is what is wanted where only limits are given.
func halfway(r specs.Range) float64 {
	switch {
	case math.IsInf(r.Low, -1):
		return r.High / 2
	case math.IsInf(r.High, 1):
		return r.Low
	}
	return (r.Low + r.High) / 2
}

// lever says how a point stands of which the sheet gives the speed alone.
func (b *builder) lever(speed float64) string {
	if b.boosted() != nil {
		return b.T("At %.0f rev/min, lever full, boost 0.", speed)
	}
	return b.T("At %.0f rev/min, lever full.", speed)
}

// screwPlaces is how many places of the full-load screw have room: two to begin
// with, and one more when those did not bring it in.
const screwPlaces = 3

// fullLoadScrew declares places of the screw and what each delivers, before the
// delivery table: turning it moves most of that.
func (b *builder) fullLoadScrew(sh *Sheet, r *Run) {
	bench := b.Spec.Bench
	for _, p := range bench.Deliveries {
		if bench.FullLoadScrew == "" || p.Name != bench.FullLoadScrew {
			continue
		}
		target := (p.Limits.Low + p.Limits.High) / 2
		there := p.Limits
		there.Decimals = max(there.Decimals, 1)
		aim := deliveryWords(b.Printer, calc.Quantity{Value: target, Unit: p.Limits.Unit})
		heading := b.T("Full-load screw, at %s rev/min", b.Fixed(p.Speed, 0))
		if p.Boost != nil {
			heading = b.T("Full-load screw, at %s rev/min, boost %s", b.Fixed(p.Speed, 0), b.Quantity(*p.Boost))
		}
		t := Table{Heading: heading, Columns: []string{"", b.T("screw at, turns, + is in"), b.T("mean there, %s", b.Unit(p.Limits.Unit.Symbol)), b.T("turns still wanted")}}
		for i := range screwPlaces {
			x := &ScrewPlace{At: b.turns(b.T("full-load screw, place %d", i+1)), Mean: b.limited(b.T("mean at place %d", i+1), there, "")}
			if i > 0 {
				before := r.Screw[i-1]
				x.Wanted = b.turns(b.T("turns still wanted after place %d", i+1)).
					worked(&Formula{Op: Secant, Const: target, Terms: []Term{plus(before.At), plus(before.Mean), plus(x.At), plus(x.Mean)}})
			}
			r.Screw = append(r.Screw, x)
			t.Rows = append(t.Rows, TableRow{Before: []string{b.T("place %d", i+1)}, Boxes: []*Box{x.At, x.Mean, x.Wanted}})
		}
		r.ScrewLeft = b.turns(b.T("screw left at"))
		t.Rows = append(t.Rows, TableRow{Before: []string{b.T("left at, locked")}, Boxes: []*Box{r.ScrewLeft, nil, nil}})
		one, two, three := r.Screw[0], r.Screw[1], r.Screw[2]
		t.Note = b.T("Before the table of deliveries, since it moves them: further in is more fuel, as a rule; the maker's sheet decides. Place 1: as it stands now, %s. Count %s there; the mean as in that table, with the factor for the oil. **As far inside %s as that table asks, at any place: lock it, write it at %s; what stands between stays blank.** Else turn a quarter at most, lock it, count: place 2.\nStill out: %s = (%s − %s) × (%s − %s) ÷ (%s − %s), turned on from %s. Never further at once than it was turned so far. Count again: place 3. %s likewise = (%s − %s) × (%s − %s) ÷ (%s − %s): how far it still is, for the one in charge. Out at place 3, or two means within %s of each other: back to the place with the least fuel, lock it, write it at %s; stop, ask the one in charge.",
			b.Fixed(0, 2), p.Name, limitsWords(b.Printer, p.Limits), r.ScrewLeft.Code,
			two.Wanted.Code, aim, two.Mean.Code, two.At.Code, one.At.Code, two.Mean.Code, one.Mean.Code, two.At.Code,
			three.Wanted.Code, aim, three.Mean.Code, three.At.Code, two.At.Code, three.Mean.Code, two.Mean.Code, one.Mean.Decimal(2*math.Pow10(-one.Mean.Decimals)), r.ScrewLeft.Code)
		sh.add(t)
	}
}

// beforeItComesOff declares what is looked at last, with the pump still running.
func (p *Plan) beforeItComesOff(b *builder, sh *Sheet, r *Run) {
	var looks []*Box
	look := func(k Look) {
		k.Box.Required = true
		p.Looks = append(p.Looks, k)
		looks = append(looks, k.Box)
	}
	look(Look{outsideDry, b.choice(b.T("outside, running warm"), "dry", "weeps", "leaks"), 1, true})
	how := b.T("Stop lever: at idle.")
	if p.Spec.Equipment.ShutOffSolenoid != "" {
		for _, p := range r.Points {
			if p.Spec.Kind == specs.ShutOff {
				how = b.T("Solenoid: at %s rev/min, lever full. Stop lever: at idle.", b.Fixed(p.Spec.Speed, 0))
			}
		}
		look(Look{solenoidDelivers, b.choice(b.T("solenoid on again"), "delivers", "does not"), 1, false})
	}
	look(Look{leverStops, b.choice(b.T("stop lever by hand"), "stops it", "none fitted", "does not stop it"), 2, true})
	inlet := p.Spec.Bench.Conditions.InletTemperature
	r.TemperatureEnd = b.limited(b.T("inlet now"), inlet, "thermometer")
	wanted := b.limits(inlet)
	if near := b.near(r.TemperatureEnd); len(near) > 0 {
		wanted = b.T("%s, inside by %s", wanted, near[0])
	}
	sh.add(Decide{Heading: b.T("Before it comes off the bench"), Note: how, Columns: 1, Boxes: looks},
		Write{Note: b.T("Inlet at the end, still running: %s, %s.", wanted, b.named("thermometer")), Boxes: []*Box{r.TemperatureEnd}})
}

// point returns the named delivery point of the run, nil when it has none.
func (r *Run) point(name string) *Point {
	for _, p := range r.Points {
		if name != "" && p.Spec.Name == name {
			return p
		}
	}
	return nil
}

// speedTable declares what is read at each speed, from the lowest up: the
// supply pressure, and the timing travel going up and coming down. A travel has
// its pressure beside it also where the sheet gives that no limits.
func (b *builder) speedTable(sh *Sheet, r *Run, asFound bool) {
	bench := b.Spec.Bench
	type line struct{ pressure, travel *specs.SpeedPoint }
	at := map[float64]*line{}
	take := func(points []*specs.SpeedPoint, set func(*line, *specs.SpeedPoint)) {
		for _, p := range points {
			if asFound && !p.AsFound {
				continue
			}
			if at[p.Speed] == nil {
				at[p.Speed] = &line{}
			}
			set(at[p.Speed], p)
		}
	}
	take(bench.SupplyPressure, func(l *line, p *specs.SpeedPoint) { l.pressure = p })
	take(bench.TimingTravel, func(l *line, p *specs.SpeedPoint) { l.travel = p })
	if len(at) == 0 {
		return
	}
	note := b.T("Lever full.")
	if b.boosted() != nil {
		note = b.T("Lever full, boost 0.")
	}
	if b.Spec.Equipment.ColdStartDevice {
		note += " " + b.T("Cold-start lever at rest.")
	}
	note += " " + b.T("From the lowest speed up, never stepping back: pressure, and travel where it has a box. Then down again, travel alone. What the piston does coming down shows whether it sticks.")
	t := Table{Heading: b.T("Supply pump pressure and timing piston travel"), Columns: b.all("rev/min", "pressure, limits", "travel, limits", "pressure", "travel, going up", "coming down"),
		Note: note}
	limits := func(p *specs.SpeedPoint) string {
		if p == nil {
			return "–"
		}
		return limitsWords(b.Printer, p.Limits) + "\u00a0" + b.Unit(p.Limits.Unit.Symbol)
	}
	pressures := specs.Range{High: math.Inf(-1)} // of no speed in particular
	for _, p := range bench.SupplyPressure {
		pressures.Unit, pressures.Decimals = p.Limits.Unit, p.Limits.Decimals
		pressures.High = max(pressures.High, finite(p.Limits.High), finite(p.Limits.Low))
	}
	speeds := slices.Sorted(maps.Keys(at))
	for _, speed := range speeds {
		l := at[speed]
		box := func(label, instrument string, limits specs.Range) *Box {
			return b.limited(b.T(label, speed), limits, instrument)
		}
		const pressureAt, travelAt, travelDown = "pressure at %.0f rev/min", "travel at %.0f rev/min", "travel at %.0f rev/min, coming down"
		var pressure *Box
		if l.pressure != nil {
			pressure = box(pressureAt, "pressure gauge", l.pressure.Limits)
			pressure.Required = !asFound
			r.Pressure = append(r.Pressure, &Reading{Name: pressure.Label, Spec: l.pressure, Box: pressure})
		} else {
			pressure = box(pressureAt, "pressure gauge", pressures)
		}
		boxes := []*Box{pressure, nil, nil}
		if l.travel != nil {
			up := box(travelAt, "timing travel gauge", l.travel.Limits)
			var down *Box // at the top speed up and down are one
			if speed < speeds[len(speeds)-1] {
				down = box(travelDown, "timing travel gauge", l.travel.Limits)
			}
			up.Required = !asFound
			boxes[1], boxes[2] = up, down
			r.Travel = append(r.Travel, &Reading{Name: up.Label, Spec: l.travel, Box: up, Down: down, Pressure: pressure})
		}
		t.Rows = append(t.Rows, TableRow{Before: []string{b.Fixed(speed, 0), limits(l.pressure), limits(l.travel)}, Boxes: boxes})
	}
	if len(r.Travel) > 0 {
		x := r.Travel[0].Box
		if u, known := mayDiffer(b.Shop, x); known {
			step := math.Pow10(-x.Decimals)
			t.Note += " " + b.T("The two may differ by %s %s, the gauge's own error; by more, the piston sticks.", x.Decimal(math.Floor(u/step+1e-9)*step), b.Unit(x.Unit.Symbol))
		}
	}
	if asFound {
		sh.add(t)
		return
	}
	var first []*Box // of each kind
	for _, list := range [][]*Reading{r.Pressure, r.Travel} {
		if len(list) > 0 {
			first = append(first, list[0].Box)
		}
	}
	t.Note = join(" ", t.Note, b.keepInside(b.near(first...)...))
	sh.add(t)
	var grids Grids
	for _, g := range []struct {
		title    string
		readings []*Reading
	}{{b.T("Sketch the pressure"), r.Pressure}, {b.T("Sketch the travel"), r.Travel}} {
		if len(g.readings) < 2 {
			continue
		}
		grid := Grid{Heading: g.title, X: b.T("rev/min"), Y: b.Unit(g.readings[0].Spec.Limits.Unit.Symbol), Height: 42}
		for _, x := range g.readings {
			grid.bar(x.Spec.Speed, x.Spec.Limits)
		}
		grids = append(grids, grid)
	}
	if len(grids) > 0 {
		sh.add(grids)
	}
}

// near is how near to a limit the figures read in boxes are too close to call,
// for those whose instrument is known.
func (b *builder) near(boxes ...*Box) (out []string) {
	for _, x := range boxes {
		if u, known := combined(b.asIf(nil).pair(x)); known {
			out = append(out, b.upTo(u, x))
		}
	}
	return out
}

// bar prints the limits at x, and has the axes reach so far.
func (g *Grid) bar(x float64, r specs.Range) {
	g.Bars = append(g.Bars, Bar{x, r.Low, r.High})
	g.XMax = max(g.XMax, x)
	g.YMax = max(g.YMax, finite(r.High), finite(r.Low))
}

// mostSteps is how many steps on the governor's falling branch have room.
const mostSteps = 11

// fallingSteps are how the falling branch is counted: from a speed up in steps,
// to beyond the highest speed the sheet names, where a governor that has not let
// go is late.
func fallingSteps(bench *specs.Bench) (from, step, top float64) {
	from = math.Inf(1)
	for _, p := range bench.Deliveries {
		if p.Kind == specs.Governed {
			from, top = min(from, p.Speed), max(top, p.Speed)
		}
	}
	governed := !math.IsInf(from, 1)
	for _, o := range bench.RunOut {
		if !governed {
			from = min(from, o.Limits.Low)
		}
		top = max(top, finite(o.Limits.High), o.Limits.Low)
	}
	if d := bench.Droop; d != nil {
		if math.IsInf(from, 0) {
			from = d.Rated
		}
		top = max(top, d.Rated*1.1)
		if d.Limits != nil {
			top = max(top, d.Rated*(1+finite(d.Limits.High)/100))
		}
	}
	if math.IsInf(from, 0) { // run-outs without a lower limit
		from = top * .8
	}
	from = math.Floor(from/25) * 25
	const beyond = 50 // rev/min, common practice, no source
	top = math.Ceil(top/25)*25 + beyond
	for step = 25; from+step*(mostSteps-1) < top; step += 25 {
	}
	return from, step, top
}

// fallingBranch declares the steps counted where delivery falls, and what is
// read between them: the run-out speeds, and the speed droop.
func (b *builder) fallingBranch(sh *Sheet, r *Run, asFound bool) {
	bench := &b.Spec.Bench
	outs := bench.RunOut
	if asFound && (len(outs) == 0 || !outs[0].AsFound) || len(outs) == 0 && bench.Droop == nil {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	var at []string
	least, greatest := math.Inf(1), 0.0 // delivery asked for
	for _, o := range outs {
		l := o.Limits
		if math.IsInf(l.High, 1) {
			l.High = 2 * l.Low
		}
		a, z := believable(l)
		low, high, least, greatest = min(low, a), max(high, z), min(least, o.At.Value), max(greatest, o.At.Value)
		at = append(at, deliveryWords(b.Printer, o.At))
	}
	d := bench.Droop
	if d != nil {
		low, high, least, greatest = min(low, d.Rated/2), max(high, 2*d.Rated), min(least, d.NoLoadAt.Value), max(greatest, d.NoLoadAt.Value)
		at = append(at, deliveryWords(b.Printer, d.NoLoadAt))
	}
	from, step, top := fallingSteps(bench)
	steps := int(math.Ceil((top-from)/step)) + 1
	const most = 200.0 // cm³ per 1000 strokes
	t := Table{Heading: b.T("Governor's falling branch: where it takes the delivery back"), Told: true, Columns: []string{""}}
	for i := range steps {
		t.Columns = append(t.Columns, fmt.Sprint(".", i+1))
	}
	each := func(name, label string, declare func(i int, label string) *Box) (out []*Box) {
		code := b.code()
		for i := range steps {
			x := b.sub(declare(i, b.T(label, i+1)), fmt.Sprintf("%s.%d", code, i+1))
			x.Required = i < 2 && !asFound
			out = append(out, x)
		}
		t.Rows = append(t.Rows, TableRow{Before: []string{code + "\u00a0 " + name}, Boxes: out})
		return out
	}
	speeds := each(b.T("rev/min"), "falling branch, speed of step %d", func(_ int, label string) *Box {
		return b.number(label, calc.PerMin, 0, low, high).with("bench tachometer")
	})
	note := b.T("Mean: of all outlets, per 1000 strokes.")
	w := Write{}
	var means []*Box
	if b.Shop.DeliveryMeter {
		means = each(b.T("mean"), "falling branch, mean at step %d", func(_ int, label string) *Box {
			return b.number(label, calc.CM3Per1000, 1, 0, most).with("delivery meter")
		})
	} else {
		n := float64(len(b.Spec.Pump.Marks))
		strokes := 1000
		for _, p := range bench.Deliveries {
			if p.Kind == specs.Governed {
				strokes = p.Strokes
			}
		}
		sums := each(b.T("sum, cm³"), "falling branch, all outlets added at step %d", func(_ int, label string) *Box {
			return b.number(label, calc.CM3, 1, 0, most*n*float64(strokes)/1000).with("graduates")
		})
		spec := &specs.DeliveryPoint{Strokes: strokes}
		first := &Point{Spec: spec, bench: bench}
		means = each(b.T("mean"), "falling branch, mean at step %d", func(i int, label string) *Box {
			f := over(DeliveryMean, sums[i:i+1], 1)
			f.Point = &Point{Spec: spec, First: sums[i : i+1], together: n, above: first, bench: bench}
			return b.number(label, calc.CM3Per1000, 1, 0, most).worked(f)
		})
		temperature := bench.Conditions.InletTemperature
		temperature.Decimals = 0
		first.Oil = b.limited(b.T("oil in the graduates"), temperature, oilThermometer(b.Shop))
		w.Boxes = append(w.Boxes, first.Oil)
		if !asFound {
			first.Counted = b.number(b.T("strokes, if not %d", strokes), calc.Plain, 0, 10, 5000)
			w.Boxes = append(w.Boxes, first.Counted)
		}
		for _, m := range means {
			m.From.Point.Oil, m.From.Point.Counted = first.Oil, first.Counted
		}
		note = b.T("Sum: of all outlets, over %d strokes. Mean: the sum ÷ %d outlets, × 1000 ÷ strokes, × the factor for the oil.", strokes, int(n))
	}
	var terms []Term
	for i := range speeds {
		terms = append(terms, plus(speeds[i]), plus(means[i]))
	}
	boost := ""
	for _, p := range bench.Deliveries {
		if p.Kind == specs.Governed && p.Boost != nil {
			boost = b.T(", boost %s", b.Quantity(*p.Boost))
		}
	}
	t.Note = b.T("Full lever, solenoid on%s. Begin at %s rev/min; is the mean already under %s there, begin lower, where it is not. Up in steps of %s, each counted once; a step on either side of %s must be written. Stop raising the speed as soon as a mean is under %s, and at %s rev/min in any case: still more there, the governor lets go too late.",
		boost, b.Fixed(from, 0), deliveryWords(b.Printer, calc.Quantity{Value: greatest}), b.Fixed(step, 0), listWords(b.Printer, at), deliveryWords(b.Printer, calc.Quantity{Value: least}), b.Fixed(top, 0)) + " " + note
	sh.add(t)
	var limits []string
	for _, o := range outs {
		x := b.limited(b.T("speed at %s", deliveryWords(b.Printer, o.At)), o.Limits, "bench tachometer").worked(&Formula{Op: Crossing, Const: o.At.Value, Terms: terms})
		x.Required = !asFound
		r.RunOut = append(r.RunOut, &RunOut{o, x})
		w.Boxes = append(w.Boxes, x)
		limits = append(limits, fmt.Sprintf("%s %s", x.Code, limitsWords(b.Printer, o.Limits)))
	}
	w.Note = b.T("Speed at a delivery, between two steps: lower speed + (its mean − the delivery) × (step in speed) ÷ (fall of the mean).")
	if d != nil {
		r.NoLoad = b.number(b.T("speed at %s, no load", deliveryWords(b.Printer, d.NoLoadAt)), calc.PerMin, 0, low, high).with("bench tachometer").
			worked(&Formula{Op: Crossing, Const: d.NoLoadAt.Value, Terms: terms})
		within := specs.Range{Low: 0, High: 100, Unit: calc.Percentage, Decimals: 1}
		if d.Limits != nil {
			within = *d.Limits
			within.Decimals = max(within.Decimals, 1)
		}
		r.Droop = b.limited(b.T("droop"), within, "").worked(&Formula{Op: Droop, Const: d.Rated, Terms: []Term{{r.NoLoad, 1}}})
		r.NoLoad.Required, r.Droop.Required = !asFound && d.Limits != nil, !asFound && d.Limits != nil
		w.Boxes = append(w.Boxes, r.NoLoad, r.Droop)
		w.Note += " " + b.T("Droop: (%s − %.0f) × 100 ÷ %.0f.", r.NoLoad.Code, d.Rated, d.Rated)
		if d.Limits != nil {
			limits = append(limits, fmt.Sprintf("%s %s\u00a0%%", r.Droop.Code, limitsWords(b.Printer, *d.Limits)))
		}
	}
	if len(limits) > 0 {
		w.Note += " " + b.T("Limits: %s.", strings.Join(limits, "; "))
	}
	if !asFound {
		w.Note = join(" ", w.Note, b.keepInside(b.nearOnBranch(r, speeds, means)...))
	}
	sh.add(w)
}

// nearOnBranch is how near to their limits the run-outs and the droop are too
// close to call, where the branch falls as the sheet has it fall.
func (b *builder) nearOnBranch(r *Run, speeds, means []*Box) (out []string) {
	type step struct{ speed, delivery float64 }
	var branch []step
	for _, p := range b.Spec.Bench.Deliveries {
		if p.Kind == specs.Governed {
			branch = append(branch, step{p.Speed, halfway(p.Limits)})
		}
	}
	for _, o := range r.RunOut {
		branch = append(branch, step{halfway(o.Spec.Limits), o.Spec.At.Value})
	}
	slices.SortFunc(branch, func(x, y step) int { return cmp.Compare(x.speed, y.speed) })
	filled := map[*Box]float64{}
	for i, s := range branch[:min(len(branch), len(speeds))] {
		filled[speeds[i]], filled[means[i]] = s.speed, s.delivery
	}
	g := b.asIf(filled)
	most := 0.0
	for _, o := range r.RunOut {
		filled[o.Box] = halfway(o.Spec.Limits)
		if u, known := combined(g.runOutSources(o.Box)); known {
			most = max(most, u)
		}
	}
	if most > 0 {
		x := r.RunOut[0].Box
		out = append(out, b.T("about %s", b.Fixed(ceil(most, 0), 0)+"\u00a0"+b.Unit(x.Unit.Symbol)))
	}
	if r.Droop != nil && b.Spec.Bench.Droop.Limits != nil {
		if u, known := combined(g.droopSources(r.Droop)); known {
			out = append(out, b.T("about %s", b.Fixed(ceil(u, 1), 1)+"\u00a0%"))
		}
	}
	return out
}

// deliveryWords is a delivery without its unit, as few decimals as it has, one
// at least.
func deliveryWords(p words.Printer, q calc.Quantity) string {
	decimals := 1
	for math.Abs(q.Value-calc.Rounded(q.Value, decimals)) > 1e-9 {
		decimals++
	}
	return p.Fixed(q.Value, decimals)
}

// listWords writes "10.0, 5.0 and 4.0".
func listWords(p words.Printer, list []string) string {
	n := len(list) - 1
	if n < 1 {
		return strings.Join(list, "")
	}
	return p.T("%s and %s", strings.Join(list[:n], ", "), list[n])
}

// onCurve reports whether a point lies on the full-lever curve, which the
// governor's falling branch ends.
func onCurve(p *specs.DeliveryPoint) bool {
	return p.Kind == specs.FullLoad || p.Kind == specs.Governed
}

// strokesWords is the strokes to count and what makes them a thousand.
func strokesWords(p words.Printer, n int) string {
	if n == 1000 {
		return "1000"
	}
	if 1000%n == 0 {
		return fmt.Sprintf("%d (×\u00a0%d)", n, 1000/n)
	}
	if factor := 1000 / float64(n); factor*100 == math.Round(factor*100) {
		return fmt.Sprintf("%d (×\u00a0%s)", n, p.Mark(strconv.FormatFloat(factor, 'g', 4, 64)))
	}
	return fmt.Sprintf("%d (×\u00a01000 ÷\u00a0%d)", n, n)
}

func spreadUnit(u calc.Unit) string {
	if u.Kind == calc.Percent {
		return "%"
	}
	return ""
}
