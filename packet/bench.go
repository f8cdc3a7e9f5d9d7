package packet

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"shimcard/calc"
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
		high = 4 * max(low, 1)
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

func limitsWords(r specs.Range) string {
	switch {
	case math.IsInf(r.Low, -1):
		if r.High == 0 {
			return "no\u00a0delivery"
		}
		return "at\u00a0most\u00a0" + calc.Fixed(r.High, r.Decimals)
	case math.IsInf(r.High, 1):
		return "at\u00a0least\u00a0" + calc.Fixed(r.Low, r.Decimals)
	}
	return calc.Fixed(r.Low, r.Decimals) + "\u00a0–\u00a0" + calc.Fixed(r.High, r.Decimals)
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
	r.Temperature = need(b.limited("inlet temperature", bench.Conditions.InletTemperature, "thermometer"))
	conditions := []*Box{r.Temperature}
	notes := "sheet: " + limitsWords(bench.Conditions.InletTemperature) + " " + bench.Conditions.InletTemperature.Unit.Symbol
	if p := bench.Conditions.InletPressure; p != nil {
		r.Inlet = need(b.limited("inlet pressure", *p, "inlet gauge"))
		conditions = append(conditions, r.Inlet)
		notes += "; inlet " + limitsWords(*p) + " " + p.Unit.Symbol
	}
	sh.add(Write{Heading: "Conditions", Note: notes, Boxes: conditions})

	b.speedTable(sh, r, asFound)
	b.deliveryTable(sh, r, asFound)
	b.fallingBranch(sh, r, asFound)
	if f := bench.ReturnFlow; f != nil && (!asFound || f.AsFound) {
		volume := need(b.number("returned", calc.CM3, 0, 1, mostVolume).with("measuring vessel"))
		time := need(b.number("in", calc.Seconds, 1, 1, 600).with("stop watch"))
		per := 3.6 / f.Limits.Unit.Factor // what one cm³/s is in the sheet's unit
		flow := need(b.limited("return flow", f.Limits, "").worked(&Formula{Op: Flow, Const: f.Limits.Unit.Factor, Terms: []Term{plus(volume), plus(time)}}))
		r.ReturnFlow = &Reading{Name: "return flow", Spec: f, Box: flow}
		sh.add(Write{Heading: "Return flow", Boxes: []*Box{volume, time, flow},
			Note: fmt.Sprintf("at %.0f rev/min: volume × %s ÷ time, limits %s %s", f.Speed, strconv.FormatFloat(per, 'g', -1, 64), limitsWords(f.Limits), f.Limits.Unit.Symbol)})
	}
	if asFound {
		return r
	}
	if p := r.point(bench.FullLoadScrew); p != nil {
		target := (p.Spec.Limits.Low + p.Spec.Limits.High) / 2
		t1, d1 := b.turns("screw at"), b.limited("mean there", p.Spec.Limits, "")
		t2, d2 := b.turns("screw now at"), b.limited("mean there", p.Spec.Limits, "")
		r.Advice = b.turns("turns still wanted").worked(&Formula{Op: Secant, Const: target, Terms: []Term{plus(t1), plus(d1), plus(t2), plus(d2)}})
		aim := calc.Fixed(target, max(1, p.Spec.Limits.Decimals))
		sh.add(Write{Heading: "Full-load screw, when " + bench.FullLoadScrew + " is out",
			Note: fmt.Sprintf("%s = (%s − %s) × (%s − %s) ÷ (%s − %s), turned on from %s. 0.00 is where it stood at C, + is in. First step a quarter turn at most; never leave it above the limit. Lock it, run the point again, write that at %s.",
				r.Advice.Code, aim, d2.Code, t2.Code, t1.Code, d2.Code, d1.Code, t2.Code, strings.TrimSuffix(p.Mean.Code, "m")),
			Boxes: []*Box{t1, d1, t2, d2, r.Advice}})
	}
	sh.add(p.whatIfOut(bench))
	return r
}

// whatIfOut says where to look when a bench value is out. Common practice, no
// source; the maker's sheet has the last word.
func (p *Plan) whatIfOut(bench specs.Bench) Advice {
	lines := []string{
		"Shut-off passes fuel: stop. Solenoid, its seat, metering sleeve. The pump does not leave until nothing comes.",
		"Pressure low: press the regulator plug in, a little at a time. High: regulator out, plug back, start again.",
		"Travel off by the same amount at every speed: other pack at F, total wanted = pack now + (travel read − travel wanted). Short at the top, or rising and falling differ: piston or ring sticks.",
		"One outlet off: its delivery valve, washer, holder, nozzle holder and pipe. All outlets off: full-load screw.",
		"Idle, governed point or run-out off: lever stops and speed screws; governor dimensions at K. Run-out that cannot be brought in, or sticks: stop.",
	}
	if bench.ReturnFlow != nil {
		lines = append(lines, "Return flow off: overflow fitting.")
	}
	lines = append(lines, "After any change run the whole of this stage again; cross the old figures out once, initials beside them.")
	return Advice{Heading: "If it is out", Lines: lines}
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
	bench := b.spec.Bench
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
	t := Table{Heading: "Supply pump pressure and timing piston travel", Columns: []string{"rev/min", "pressure, limits", "travel, limits", "pressure", "travel, going up", "coming down"},
		Note: "From the lowest speed up, then down again. At each speed read both. Going up, never step back: what the piston does coming down shows whether it sticks."}
	limits := func(p *specs.SpeedPoint) string {
		if p == nil {
			return "–"
		}
		return limitsWords(p.Limits) + "\u00a0" + p.Limits.Unit.Symbol
	}
	pressures := specs.Range{High: math.Inf(-1)} // of no speed in particular
	for _, p := range bench.SupplyPressure {
		pressures.Unit, pressures.Decimals = p.Limits.Unit, p.Limits.Decimals
		pressures.High = max(pressures.High, finite(p.Limits.High), finite(p.Limits.Low))
	}
	for _, speed := range slices.Sorted(maps.Keys(at)) {
		l := at[speed]
		box := func(name, how, instrument string, limits specs.Range) *Box {
			return b.limited(fmt.Sprintf("%s at %.0f rev/min%s", name, speed, how), limits, instrument)
		}
		var pressure *Box
		if l.pressure != nil {
			pressure = box("pressure", "", "pressure gauge", l.pressure.Limits)
			pressure.Required = !asFound
			r.Pressure = append(r.Pressure, &Reading{Name: pressure.Label, Spec: l.pressure, Box: pressure})
		} else {
			pressure = box("pressure", "", "pressure gauge", pressures)
		}
		boxes := []*Box{pressure, nil, nil}
		if l.travel != nil {
			up := box("travel", "", "timing travel gauge", l.travel.Limits)
			down := box("travel", ", coming down", "timing travel gauge", l.travel.Limits)
			up.Required = !asFound
			boxes[1], boxes[2] = up, down
			r.Travel = append(r.Travel, &Reading{Name: up.Label, Spec: l.travel, Box: up, Down: down, Pressure: pressure})
		}
		t.Rows = append(t.Rows, TableRow{Before: []string{calc.Fixed(speed, 0), limits(l.pressure), limits(l.travel)}, Boxes: boxes})
	}
	sh.add(t)
	if asFound {
		return
	}
	var grids Grids
	for _, g := range []struct {
		title    string
		readings []*Reading
	}{{"Sketch the pressure", r.Pressure}, {"Sketch the travel", r.Travel}} {
		if len(g.readings) < 2 {
			continue
		}
		grid := Grid{Heading: g.title, X: "rev/min", Y: g.readings[0].Spec.Limits.Unit.Symbol, Height: 42}
		for _, x := range g.readings {
			grid.bar(x.Spec.Speed, x.Spec.Limits)
		}
		grids = append(grids, grid)
	}
	if len(grids) > 0 {
		sh.add(grids)
	}
}

// bar prints the limits at x, and has the axes reach so far.
func (g *Grid) bar(x float64, r specs.Range) {
	g.Bars = append(g.Bars, Bar{x, r.Low, r.High})
	g.XMax = max(g.XMax, x)
	g.YMax = max(g.YMax, finite(r.High), finite(r.Low))
}

// stepsCounted is how many steps on the governor's falling branch have room.
const stepsCounted = 5

// fallingBranch declares the steps counted where delivery falls, and what is
// read between them: the run-out speeds, and the speed droop.
func (b *builder) fallingBranch(sh *Sheet, r *Run, asFound bool) {
	bench := b.spec.Bench
	outs := bench.RunOut
	if asFound && (len(outs) == 0 || !outs[0].AsFound) || len(outs) == 0 && bench.Droop == nil {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	var at []string
	for _, o := range outs {
		l := o.Limits
		if math.IsInf(l.High, 1) {
			l.High = 2 * l.Low
		}
		a, z := believable(l)
		low, high = min(low, a), max(high, z)
		at = append(at, calc.Fixed(o.At.Value, 1))
	}
	d := bench.Droop
	if d != nil {
		low, high = min(low, d.Rated/2), max(high, 2*d.Rated)
		at = append(at, calc.Fixed(d.NoLoadAt.Value, 1))
	}
	const most = 200.0 // cm³ per 1000 strokes
	var speeds, means []*Box
	for i := range stepsCounted {
		speeds = append(speeds, b.number(fmt.Sprintf("falling branch, speed of step %d", i+1), calc.PerMin, 0, low, high).with("bench tachometer"))
		speeds[i].Required = i < 2 && !asFound
	}
	var terms []Term
	for i := range stepsCounted {
		means = append(means, b.number(fmt.Sprintf("falling branch, mean at step %d", i+1), calc.CM3Per1000, 1, 0, most))
		means[i].Required = i < 2 && !asFound
		terms = append(terms, plus(speeds[i]), plus(means[i]))
	}
	head := []string{""}
	for i := range stepsCounted {
		head = append(head, fmt.Sprint("step ", i+1))
	}
	sh.add(Table{Heading: "Governor's falling branch", Columns: head,
		Note: fmt.Sprintf("Full lever. Up in steps of 25 rev/min, each counted; write those on either side of %s. Mean: of all outlets, made per 1000 strokes and for the oil as above.", listWords(at)),
		Rows: []TableRow{{Before: []string{"rev/min"}, Boxes: speeds}, {Before: []string{"mean"}, Boxes: means}}})
	w := Write{}
	var limits []string
	for _, o := range outs {
		x := b.limited("speed at "+calc.Fixed(o.At.Value, 1), o.Limits, "bench tachometer").worked(&Formula{Op: Crossing, Const: o.At.Value, Terms: terms})
		x.Required = !asFound
		r.RunOut = append(r.RunOut, &RunOut{o, x})
		w.Boxes = append(w.Boxes, x)
		limits = append(limits, fmt.Sprintf("%s %s", x.Code, limitsWords(o.Limits)))
	}
	w.Note = "Speed at a delivery, between two steps: lower speed + (its mean − the delivery) × (step in speed) ÷ (fall of the mean)."
	if d != nil {
		r.NoLoad = b.number("speed at "+calc.Fixed(d.NoLoadAt.Value, 1)+", no load", calc.PerMin, 0, low, high).with("bench tachometer").
			worked(&Formula{Op: Crossing, Const: d.NoLoadAt.Value, Terms: terms})
		within := specs.Range{Low: 0, High: 100, Unit: calc.Percentage, Decimals: 1}
		if d.Limits != nil {
			within = *d.Limits
			within.Decimals = max(within.Decimals, 1)
			limits = append(limits, "")
		}
		r.Droop = b.limited("droop", within, "").worked(linear(-100, Term{r.NoLoad, 100 / d.Rated}))
		r.NoLoad.Required, r.Droop.Required = !asFound && d.Limits != nil, !asFound && d.Limits != nil
		w.Boxes = append(w.Boxes, r.NoLoad, r.Droop)
		w.Note += fmt.Sprintf(" Droop: (%s − %.0f) × 100 ÷ %.0f.", r.NoLoad.Code, d.Rated, d.Rated)
		if d.Limits != nil {
			limits[len(limits)-1] = fmt.Sprintf("%s %s\u00a0%%", r.Droop.Code, limitsWords(*d.Limits))
		}
	}
	if len(limits) > 0 {
		w.Note += " Limits: " + strings.Join(limits, "; ") + "."
	}
	sh.add(w)
}

// listWords writes "10.0, 5.0 and 4.0".
func listWords(words []string) string {
	n := len(words) - 1
	if n < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n], ", ") + " and " + words[n]
}

// onCurve reports whether a point lies on the full-lever curve, which the
// governor's falling branch ends.
func onCurve(p *specs.DeliveryPoint) bool {
	return p.Kind == specs.FullLoad || p.Kind == specs.Governed
}

// strokesWords is the strokes to count and what makes them a thousand.
func strokesWords(n int) string {
	if n == 1000 {
		return "1000"
	}
	return fmt.Sprintf("%d (×\u00a0%s)", n, strconv.FormatFloat(1000/float64(n), 'g', 4, 64))
}

func spreadUnit(u calc.Unit) string {
	if u.Kind == calc.Percent {
		return "%"
	}
	return ""
}
