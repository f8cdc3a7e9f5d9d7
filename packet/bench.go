package packet

import (
	"fmt"
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
	spec, bench := p.Spec, p.Spec.Bench
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

	var pair Pair
	pair.Left, r.Pressure = b.speedTable("Supply pump pressure", "pressure", "pressure gauge", bench.SupplyPressure, asFound)
	pair.Right, r.Travel = b.speedTable("Timing piston travel", "travel", "timing travel gauge", bench.TimingTravel, asFound)
	sh.add(pair)

	b.deliveryTable(sh, r, spec, asFound)

	if asFound {
		return r
	}
	w := Write{Heading: "Return flow"}
	if len(bench.RunOut) > 0 {
		o := bench.RunOut[0]
		wide := o.Limits
		if math.IsInf(wide.High, 1) {
			wide.High = 2 * wide.Low
		}
		low, high := believable(wide)
		most := 100.0
		speed := func(label string) *Box {
			return b.number(label, o.Limits.Unit, 0, low, high).with("bench tachometer").needed()
		}
		mean := func() *Box { return b.number("mean there", o.At.Unit, 1, 0, most).needed() }
		n1, q1 := speed("speed, mean still above"), mean()
		n2, q2 := speed("speed, mean just below"), mean()
		r.RunOut = b.limited("run-out speed", o.Limits, "bench tachometer").
			worked(&Formula{Op: Crossing, Const: o.At.Value, Terms: []Term{plus(n1), plus(q1), plus(n2), plus(q2)}}).needed()
		note := fmt.Sprintf("full lever, up in steps of 25 rev/min, each counted: the two steps on either side of %s; %s = %s + (%s − %s) × (%s − %s) ÷ (%s − %s); limits %s rev/min",
			o.At, r.RunOut.Code, n1.Code, n2.Code, n1.Code, q1.Code, calc.Fixed(o.At.Value, 1), q1.Code, q2.Code, limitsWords(o.Limits))
		sh.add(Write{Heading: "Governor run-out", Note: note, Boxes: []*Box{n1, q1, n2, q2, r.RunOut}})
	}
	if f := bench.ReturnFlow; f != nil {
		volume := b.number("returned", calc.CM3, 0, 1, mostVolume).with("measuring vessel").needed()
		time := b.number("in", calc.Seconds, 1, 1, 600).with("stop watch").needed()
		per := 3.6 / f.Limits.Unit.Factor // what one cm³/s is in the sheet's unit
		flow := b.limited("return flow", f.Limits, "").worked(&Formula{Op: Flow, Const: f.Limits.Unit.Factor, Terms: []Term{plus(volume), plus(time)}}).needed()
		r.ReturnFlow = &Reading{Name: "return flow", Spec: f, Box: flow}
		w.Boxes = append(w.Boxes, volume, time, flow)
		w.Note = fmt.Sprintf("at %.0f rev/min: volume × %s ÷ time, limits %s %s", f.Speed, strconv.FormatFloat(per, 'g', -1, 64), limitsWords(f.Limits), f.Limits.Unit.Symbol)
	}
	if len(w.Boxes) > 0 {
		sh.add(w)
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

func (b *builder) speedTable(heading, name, instrument string, points []*specs.SpeedPoint, asFound bool) (t Table, out []*Reading) {
	t = Table{Heading: heading, Columns: []string{"rev/min", name, "limits"}}
	for _, p := range points {
		if asFound && !p.AsFound {
			continue
		}
		x := b.limited(fmt.Sprintf("%s at %.0f rev/min", name, p.Speed), p.Limits, instrument)
		x.Required = !asFound
		out = append(out, &Reading{Name: x.Label, Spec: p, Box: x})
		t.Rows = append(t.Rows, TableRow{
			Before: []string{calc.Fixed(p.Speed, 0)}, Boxes: []*Box{x},
			After: []string{limitsWords(p.Limits) + " " + p.Limits.Unit.Symbol}})
	}
	return t, out
}

// deliveryTable declares a row for each delivery point: a cell for each outlet,
// then mean and spread to work out.
func (b *builder) deliveryTable(sh *Sheet, r *Run, spec *specs.Spec, asFound bool) {
	bench := spec.Bench
	t := Table{
		Heading: "Delivery",
		Note:    spreadNote(bench),
		Columns: []string{"point", "rev/min", "lever", "strokes"},
	}
	boost := false
	for _, p := range bench.Deliveries {
		boost = boost || p.Boost != nil
	}
	if boost {
		t.Columns = append(t.Columns, "boost")
	}
	marks := spec.Pump.Marks
	lines, across := 1, len(marks)
	if across > mostAcross {
		lines, across = 2, (across+1)/2
	}
	for i := range across {
		head := marks[i]
		if i+across < len(marks) {
			head += " · " + marks[i+across]
		}
		t.Columns = append(t.Columns, head)
	}
	t.Columns = append(t.Columns, "mean", "spread", "limits")
	for _, p := range bench.Deliveries {
		if asFound && !p.AsFound {
			continue
		}
		pt := &Point{Spec: p}
		code := b.code()
		scale := 1000 / float64(p.Strokes)
		low, high := believable(p.Limits)
		for i, mark := range spec.Pump.Marks {
			if asFound {
				low, high = 0, max(high, anyVolume*scale)
			}
			x := b.number("outlet "+mark, calc.CM3, 1, low/scale, max(high/scale, 1)).with("graduates")
			b.sub(x, fmt.Sprintf("%s.%d", code, i+1)).Required = !asFound
			x.Label = fmt.Sprintf("%s, outlet %s", p.Name, mark)
			pt.Outlets = append(pt.Outlets, x)
		}
		// Written no coarser than the figures it is worked out from: a verdict
		// must not hang on the limits' having been typed without decimals. A mean
		// over the outlets written so far would hide a forgotten one.
		limits := p.Limits
		limits.Decimals = max(limits.Decimals, 1)
		pt.Mean = b.limited(p.Name+", mean", limits, "").worked(over(MeanAll, pt.Outlets, scale))
		b.sub(pt.Mean, code+"m")
		row := TableRow{Before: []string{p.Name, calc.Fixed(p.Speed, 0), p.Lever, strokesWords(p.Strokes)}, After: []string{limitsWords(p.Limits)}}
		if boost {
			words := "open"
			if p.Boost != nil {
				words = p.Boost.String()
			}
			row.Before = append(row.Before, words)
		}
		unit, decimals, op := calc.CM3Per1000, limits.Decimals, Spread
		if p.Spread != nil {
			decimals = max(decimals, p.Spread.Decimals)
			if p.Spread.Unit.Kind == calc.Percent {
				unit, op = calc.Percentage, SpreadPc
			}
		}
		pt.Spread = b.number(p.Name+", spread", unit, decimals, 0, 100).worked(over(op, pt.Outlets, scale))
		b.sub(pt.Spread, code+"s")
		if p.Spread != nil {
			row.After[0] += fmt.Sprintf("\nspread %s %s", limitsWords(*p.Spread), spreadUnit(p.Spread.Unit))
		}
		r.Points = append(r.Points, pt)
		if lines == 1 {
			row.Boxes = append(append(row.Boxes, pt.Outlets...), pt.Mean, pt.Spread)
			t.Rows = append(t.Rows, row)
			continue
		}
		row.Boxes, row.Keep = append(append(row.Boxes, pt.Outlets[:across]...), nil, nil), true
		more := TableRow{Before: make([]string, len(row.Before)), Boxes: slices.Clone(pt.Outlets[across:]), After: []string{""}}
		more.Before[0] = "from " + marks[across]
		for len(more.Boxes) < across {
			more.Boxes = append(more.Boxes, nil)
		}
		more.Boxes = append(more.Boxes, pt.Mean, pt.Spread)
		t.Rows = append(t.Rows, row, more)
	}
	if len(t.Rows) == 0 {
		return
	}
	sh.add(t)
	if asFound {
		return
	}
	g := Grid{Heading: "Sketch the full-lever curve", X: "pump speed, rev/min", Y: "mean delivery, cm³ per 1000 strokes"}
	for _, p := range r.Points {
		if !onCurve(p.Spec) {
			continue
		}
		g.Bars = append(g.Bars, Bar{p.Spec.Speed, p.Spec.Limits.Low, p.Spec.Limits.High})
		g.XMax = max(g.XMax, p.Spec.Speed)
		g.YMax = max(g.YMax, finite(p.Spec.Limits.High), finite(p.Spec.Limits.Low))
	}
	if len(g.Bars) > 1 {
		sh.add(g)
	}
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

// spreadNote says how mean and spread are worked out on this sheet.
func spreadNote(bench specs.Bench) string {
	spread := "spread: highest − lowest"
	for _, p := range bench.Deliveries {
		if p.Spread != nil && p.Spread.Unit.Kind == calc.Percent {
			spread += ", where the limit is in %: ÷ mean × 100"
			break
		}
	}
	return "Graduates in cm³ over the strokes counted. Mean and spread are per 1000 strokes: times the factor in brackets; " + spread + "."
}

func spreadUnit(u calc.Unit) string {
	if u.Kind == calc.Percent {
		return "%"
	}
	return ""
}
