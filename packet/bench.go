package packet

import (
	"fmt"
	"math"

	"shimcard/calc"
	"shimcard/specs"
)

// How far outside its limits a bench reading is still believed.
const (
	wide   = 3.0 // times the limits' width, either side
	inletC = 60  // °C, hottest believable inlet
)

// believable is a generous window round limits, never below zero.
func believable(r specs.Range) (low, high float64) {
	low, high = r.Low, r.High
	switch {
	case math.IsInf(low, -1):
		low = 0
	case math.IsInf(high, 1):
		high = 4 * max(low, 1)
	}
	margin := max(wide*(high-low), high/2)
	if r.Unit.Kind == calc.Temperature {
		return low - margin, high + margin
	}
	if high == 0 {
		return 0, 100
	}
	return max(0, low-margin), high + margin
}

func limitsWords(r specs.Range) string {
	switch {
	case math.IsInf(r.Low, -1):
		if r.High == 0 {
			return "none"
		}
		return "at most " + calc.Fixed(r.High, r.Decimals)
	case math.IsInf(r.High, 1):
		return "at least " + calc.Fixed(r.Low, r.Decimals)
	}
	return calc.Fixed(r.Low, r.Decimals) + " – " + calc.Fixed(r.High, r.Decimals)
}

// limited declares a box for a value that has limits in the spec.
func (b *builder) limited(label string, r specs.Range, instrument string) *Box {
	low, high := believable(r)
	return b.number(label, r.Unit, r.Decimals, low, high).with(instrument)
}

// run declares a bench run: the conditions, then the tables in the order the
// bench is run. At stage B only the points asked for as found are on the sheet,
// and none of them is needed to release the pump.
func (b *builder) run(spec *specs.Spec, asFound bool) *Run {
	bench := spec.Bench
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
	w := Write{Heading: "Governor run-out, return flow"}
	if o := bench.RunOut; o != nil {
		f := &Formula{Op: FallsTo, Const: o.At.Value}
		for _, p := range r.Points {
			if onCurve(p.Spec) {
				f.Terms, f.X = append(f.Terms, plus(p.Mean)), append(f.X, p.Spec.Speed)
			}
		}
		r.RunOut = b.limited("run-out speed", o.Limits, "bench tachometer").worked(f)
		r.RunOut.Low, r.RunOut.High = 0, 2*finite(o.Limits.High)
		w.Note = fmt.Sprintf("run-out: speed at which the curve falls through %s, limits %s rev/min", o.At, limitsWords(o.Limits))
		w.Boxes = append(w.Boxes, r.RunOut)
	}
	if f := bench.ReturnFlow; f != nil {
		volume := b.number("returned", calc.CM3, 0, 1, 5000).with("graduates").needed()
		time := b.number("in", calc.Seconds, 0, 1, 600).with("stop watch").needed()
		flow := b.limited("return flow", f.Limits, "").worked(&Formula{Op: Ratio, Const: 3.6 / f.Limits.Unit.Factor, Terms: []Term{plus(volume), plus(time)}}).needed()
		r.ReturnFlow = &Reading{Name: "return flow", Spec: f, Box: flow}
		w.Boxes = append(w.Boxes, volume, time, flow)
		w.Note = join("; ", w.Note, fmt.Sprintf("return flow at %.0f rev/min: volume × 3.6 ÷ time, limits %s %s", f.Speed, limitsWords(f.Limits), f.Limits.Unit.Symbol))
	}
	if len(w.Boxes) > 0 {
		sh.add(w)
	}
	if p := r.point(bench.FullLoadScrew); p != nil {
		target := (p.Spec.Limits.Low + p.Spec.Limits.High) / 2
		t1, d1 := b.turns("screw at"), b.limited("mean there", p.Spec.Limits, "graduates")
		t2, d2 := b.turns("screw now at"), b.limited("mean there", p.Spec.Limits, "graduates")
		r.Advice = b.turns("turns still wanted").worked(&Formula{Op: Secant, Const: target, Terms: []Term{plus(t1), plus(d1), plus(t2), plus(d2)}})
		sh.add(Write{Heading: "Full-load screw, when " + bench.FullLoadScrew + " is out",
			Note:  fmt.Sprintf("aim %s; turn in small steps, count from the first position; never leave it above the limit", calc.Fixed(target, p.Spec.Limits.Decimals)),
			Boxes: []*Box{t1, d1, t2, d2, r.Advice}})
	}
	return r
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
		Heading: "Delivery, cm³ over the strokes counted",
		Note:    "mean and spread: per 1000 strokes (× 1000 ÷ strokes)",
		Columns: []string{"point", "rev/min", "lever", "strokes"},
	}
	boost := false
	for _, p := range bench.Deliveries {
		boost = boost || p.Boost != nil
	}
	if boost {
		t.Columns = append(t.Columns, "boost")
	}
	t.Columns = append(t.Columns, spec.Pump.Marks...)
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
			x := b.number("outlet "+mark, calc.CM3, 1, low/scale, max(high/scale, 1)).with("graduates")
			b.sub(x, fmt.Sprintf("%s.%d", code, i+1)).Required = !asFound
			x.Label = fmt.Sprintf("%s, outlet %s", p.Name, mark)
			pt.Outlets = append(pt.Outlets, x)
		}
		// A mean over the outlets written so far would hide a forgotten one.
		pt.Mean = b.limited(p.Name+", mean", p.Limits, "").worked(over(MeanAll, pt.Outlets, scale))
		b.sub(pt.Mean, code+"m")
		row := TableRow{Before: []string{p.Name, calc.Fixed(p.Speed, 0), p.Lever, fmt.Sprint(p.Strokes)}, After: []string{limitsWords(p.Limits)}}
		if boost {
			words := "–"
			if p.Boost != nil {
				words = p.Boost.String()
			}
			row.Before = append(row.Before, words)
		}
		row.Boxes = append(append(row.Boxes, pt.Outlets...), pt.Mean)
		unit, decimals, op := calc.CM3Per1000, p.Limits.Decimals, Spread
		if p.Spread != nil && p.Spread.Unit.Kind == calc.Percent {
			unit, decimals, op = calc.Percentage, 1, SpreadPc
		}
		pt.Spread = b.number(p.Name+", spread", unit, decimals, 0, 100).worked(over(op, pt.Outlets, scale))
		b.sub(pt.Spread, code+"s")
		row.Boxes = append(row.Boxes, pt.Spread)
		if p.Spread != nil {
			row.After[0] += fmt.Sprintf("\nspread %s %s", limitsWords(*p.Spread), spreadUnit(p.Spread.Unit))
		}
		r.Points = append(r.Points, pt)
		t.Rows = append(t.Rows, row)
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

func spreadUnit(u calc.Unit) string {
	if u.Kind == calc.Percent {
		return "%"
	}
	return ""
}
