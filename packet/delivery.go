package packet

import (
	"fmt"
	"math"
	"slices"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Point is one delivery row in this job: what is caught at each outlet, twice,
// and what it comes to per 1000 strokes at the sheet's reference temperature.
type Point struct {
	Spec    *specs.DeliveryPoint
	First   []*Box // of each outlet in injection order: cm³ over the strokes counted, or per 1000 as the meter says
	Second  []*Box // the same once more; none at shut-off
	Oil     *Box   // temperature of the oil where it is measured; nil at shut-off
	Counted *Box   // strokes, where not the sheet's; nil at shut-off and with a meter
	Mean    *Box
	Spread  *Box

	together float64 // outlets whose volumes are added in one reading; 0: each has its own
	above    *Point  // whose oil temperature counts where this one's is blank
	bench    *specs.Bench
}

// readings are the boxes of one outlet.
func (p *Point) readings(outlet int) []*Box {
	if p.Second == nil {
		return p.First[outlet : outlet+1]
	}
	return []*Box{p.First[outlet], p.Second[outlet]}
}

// boxes are all readings of the point.
func (p *Point) boxes() []*Box { return append(slices.Clone(p.First), p.Second...) }

// perThousand is what turns a reading into cm³ per 1000 strokes: 1 with a
// meter. why tells that the strokes written cannot be.
func (p *Point) perThousand(read func(*Box) (float64, bool)) (factor float64, why string) {
	if p.First[0].Unit.Kind != calc.CM3.Kind {
		return 1, ""
	}
	strokes := p.Spec.Strokes
	if p.Counted != nil {
		if n, ok := read(p.Counted); ok {
			strokes = int(n)
		}
	}
	factor, err := calc.PerThousand(1, strokes)
	if err != nil {
		return 0, p.Counted.Code + ": " + reason(p.Counted.Printer, err)
	}
	return factor, ""
}

// oil is the temperature of the oil, °C, from this row or the nearest above it
// that has one, and its box; nil where nobody wrote any.
func (p *Point) oil(read func(*Box) (float64, bool)) (celsius float64, box *Box) {
	for ; p != nil; p = p.above {
		if p.Oil == nil {
			continue
		}
		if t, ok := read(p.Oil); ok {
			return calc.Convert(t, p.Oil.Unit, calc.Celsius), p.Oil
		}
	}
	return 0, nil
}

// correction is the factor that brings a volume to the reference temperature, 1
// where no oil temperature was written. why tells that one was and is of no use.
func (p *Point) correction(read func(*Box) (float64, bool)) (factor float64, why string) {
	t, box := p.oil(read)
	if box == nil || p.Oil == nil {
		return 1, ""
	}
	factor, err := volumeFactor(p.bench, t)
	if err != nil {
		return 0, box.Code + ": " + reason(box.Printer, err)
	}
	return factor, ""
}

// volumeFactor turns a volume of the sheet's test oil at °C into its volume at
// the reference temperature.
func volumeFactor(b *specs.Bench, celsius float64) (float64, error) {
	c := b.Conditions
	return calc.VCF(c.Density15.Base(), celsius, calc.Convert(c.Reference.Value, c.Reference.Unit, calc.Celsius))
}

// outlet is what one outlet delivers, cm³ per 1000 strokes at the reference
// temperature: the mean of its readings.
func (p *Point) outlet(i int, read func(*Box) (float64, bool)) (q float64, why string) {
	sum, n := 0.0, 0.0
	for _, b := range p.readings(i) {
		if x, ok := read(b); ok {
			sum, n = sum+x, n+1
		}
	}
	if n == 0 {
		return 0, p.First[i].blank()
	}
	scale, why := p.perThousand(read)
	if why != "" {
		return 0, why
	}
	factor, why := p.correction(read)
	return sum / n / max(p.together, 1) * scale * factor, why
}

// outlets are what all deliver; a mean over those written so far would hide a
// forgotten one.
func (p *Point) outlets(read func(*Box) (float64, bool)) (q []float64, why string) {
	for i := range p.First {
		x, why := p.outlet(i, read)
		if why != "" {
			return nil, why
		}
		q = append(q, x)
	}
	return q, ""
}

func (p *Point) mean(read func(*Box) (float64, bool)) (x float64, ok bool, why string) {
	q, why := p.outlets(read)
	if why != "" {
		return 0, false, why
	}
	return calc.Mean(q), true, ""
}

// spread is how the outlets differ, as the sheet means it and in its unit.
func (p *Point) spread(read func(*Box) (float64, bool)) (x float64, ok bool, why string) {
	q, why := p.outlets(read)
	if why != "" {
		return 0, false, why
	}
	s, err := calc.SpreadOf(q)
	if err != nil {
		return 0, false, reason(p.Spread.Printer, err)
	}
	absolute, percent := p.spreads(s)
	if p.Spread.Unit.Kind == calc.Percent {
		return percent, true, ""
	}
	return absolute, true, ""
}

// spreads are the spread in cm³ per 1000 strokes and in per cent of the mean.
func (p *Point) spreads(s calc.Spread) (absolute, percent float64) {
	if p.bench.FarthestFromMean {
		return s.Farthest, s.FarthestPercent
	}
	return s.Absolute, s.Percent
}

// spreadWords say what a spread is on this sheet.
func spreadWords(p words.Printer, b *specs.Bench) string {
	if b.FarthestFromMean {
		return p.T("the outlet farthest from the mean, less the mean")
	}
	return p.T("highest − lowest")
}

// deliveryTable declares the rows of the delivery points: for each a line of
// first readings and one of second, the oil and the strokes beside the first,
// mean and spread beside the second.
func (b *builder) deliveryTable(sh *Sheet, r *Run, asFound bool) {
	bench := &b.Spec.Bench
	meter := b.Shop.DeliveryMeter
	t := Table{Heading: b.T("Delivery"), Note: deliveryNote(b.Printer, bench, meter), Columns: b.all("point", "rev/min", "lever", "strokes")}
	if meter {
		t.Columns = t.Columns[:3]
	}
	boost := slices.ContainsFunc(bench.Deliveries, func(p *specs.DeliveryPoint) bool { return p.Boost != nil })
	if boost {
		t.Columns = append(t.Columns, b.T("boost"))
	}
	marks := b.Spec.Pump.Marks
	lines := (len(marks) + mostAcross - 1) / mostAcross
	across := (len(marks) + lines - 1) / lines
	for i := range across {
		head := marks[i]
		for k := i + across; k < len(marks); k += across {
			head += " · " + marks[k]
		}
		t.Columns = append(t.Columns, head)
	}
	oil := bench.Conditions.InletTemperature.Unit
	counted := b.T("counted") + "\n" + b.T("spread")
	if meter {
		counted = "\n" + b.T("spread")
	}
	t.Columns = append(t.Columns, oil.Symbol+"\n"+b.T("mean"), counted, b.T("limits\nper 1000"))

	var above *Point
	for _, s := range bench.Deliveries {
		if asFound && !s.AsFound {
			continue
		}
		pt := b.point(s, asFound, above)
		above = pt
		r.Points = append(r.Points, pt)
		words := []string{s.Name, b.Fixed(s.Speed, 0), s.Lever}
		if !meter {
			words = append(words, strokesWords(b.Printer, s.Strokes))
		}
		if boost {
			on := b.T("open")
			if s.Boost != nil {
				on = b.Quantity(*s.Boost)
			}
			words = append(words, on)
		}
		// Of the lines of the row, the first holds the conditions, the last the
		// results; at shut-off, where nothing may come, one line holds all.
		var rows [][]*Box
		for _, readings := range [][]*Box{pt.First, pt.Second} {
			for line := range slices.Chunk(readings, across) {
				rows = append(rows, append(slices.Clone(line), make([]*Box, across-len(line)+2)...))
			}
		}
		last := len(rows) - 1
		rows[0][across], rows[0][across+1] = pt.Oil, pt.Counted
		rows[last][across], rows[last][across+1] = pt.Mean, pt.Spread
		for i, boxes := range rows {
			row := TableRow{Before: make([]string, len(words)), Boxes: boxes, After: []string{""}, Keep: i < last}
			if i == 0 {
				row.Before, row.After[0] = words, limitsWords(b.Printer, s.Limits)
				if !meter && s.Strokes != 1000 && s.Kind != specs.ShutOff {
					row.After[0] += "\n" + b.T("reads %s", limitsWords(b.Printer, times(s.Limits, float64(s.Strokes)/1000)))
				}
			}
			if i == min(1, last) && s.Spread != nil {
				row.After[0] = join("\n", row.After[0], b.T("spread %s %s", limitsWords(b.Printer, *s.Spread), spreadUnit(s.Spread.Unit)))
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) == 0 {
		return
	}
	sh.add(b.factors(), t)
	if asFound {
		return
	}
	g := Grid{Heading: b.T("Sketch the full-lever curve"), X: b.T("pump speed, rev/min"), Y: b.T("mean delivery, cm³ per 1000 strokes"), Height: 62}
	for _, p := range r.Points {
		if onCurve(p.Spec) {
			g.bar(p.Spec.Speed, p.Spec.Limits)
		}
	}
	if len(g.Bars) > 1 {
		sh.add(g)
	}
}

// times are limits as they read over other strokes, rounded inwards.
func times(r specs.Range, by float64) specs.Range {
	r.Decimals = max(r.Decimals, 1)
	step := math.Pow10(-r.Decimals)
	r.Low, r.High = math.Ceil(r.Low*by/step-1e-9)*step, math.Floor(r.High*by/step+1e-9)*step
	return r
}

// point declares the boxes of one row.
func (b *builder) point(s *specs.DeliveryPoint, asFound bool, above *Point) *Point {
	p := &Point{Spec: s, above: above, bench: &b.Spec.Bench}
	code := b.code()
	unit, scale, instrument := calc.CM3, 1000/float64(s.Strokes), "graduates"
	if b.Shop.DeliveryMeter {
		unit, scale, instrument = calc.CM3Per1000, 1, "delivery meter"
	}
	low, high := believable(s.Limits)
	if asFound {
		low, high = 0, max(high, anyVolume*scale)
	}
	caught := func(label, suffix string) (out []*Box) {
		for i, mark := range b.Spec.Pump.Marks {
			x := b.number(b.T(label, s.Name, mark), unit, 1, low/scale, max(high/scale, 1)).with(instrument)
			out = append(out, b.sub(x, fmt.Sprintf("%s.%d%s", code, i+1, suffix)))
		}
		return out
	}
	if s.Kind == specs.ShutOff {
		p.First = caught("%s, outlet %s", "")
	} else {
		p.First = caught("%s, outlet %s", "a")
		temperature := b.Spec.Bench.Conditions.InletTemperature
		temperature.Decimals = 0
		p.Oil = b.limited(b.T("%s, oil", s.Name), temperature, oilThermometer(b.Shop))
		b.sub(p.Oil, code+"t")
		if !b.Shop.DeliveryMeter {
			p.Counted = b.number(b.T("%s, strokes counted", s.Name), calc.Plain, 0, 10, 5000)
			b.sub(p.Counted, code+"n")
		}
		p.Second = caught("%s, outlet %s, again", "b")
	}
	for _, x := range p.First {
		x.Required = !asFound
	}
	// Written no coarser than the figures it is worked out from: a verdict must
	// not hang on the limits' having been typed without decimals.
	limits := s.Limits
	limits.Decimals = max(limits.Decimals, 1)
	rest := over(DeliveryMean, p.boxes(), 1)
	rest.Point = p
	if p.Oil != nil {
		p.Oil.Short = p.Oil.Unit.Symbol
	}
	p.Mean = b.sub(b.limited(b.T("%s, mean", s.Name), limits, "").worked(rest), code+"m")
	unit, decimals := calc.CM3Per1000, limits.Decimals
	if s.Spread != nil {
		decimals = max(decimals, s.Spread.Decimals)
		if s.Spread.Unit.Kind == calc.Percent {
			unit = calc.Percentage
		}
	}
	rest = over(DeliverySpread, p.boxes(), 1)
	rest.Point = p
	if p.Counted != nil {
		p.Counted.Short = b.T("strokes")
	}
	p.Mean.Short = b.T("mean")
	p.Spread = b.sub(b.number(b.T("%s, spread", s.Name), unit, decimals, 0, 100).worked(rest), code+"s")
	p.Spread.Short = b.T("spread")
	return p
}

// oilThermometer reads the oil where it is measured: one of its own where the
// shop has it.
func oilThermometer(s *specs.Shop) string {
	if s.Instrument("oil thermometer") != nil {
		return "oil thermometer"
	}
	return "thermometer"
}

// deliveryNote says how mean and spread are worked out on this sheet.
func deliveryNote(p words.Printer, bench *specs.Bench, meter bool) string {
	oil := bench.Conditions.InletTemperature.Unit.Symbol
	spread := p.T("Spread: of each outlet's mean, × the same factors: %s.", spreadWords(p, bench))
	if slices.ContainsFunc(bench.Deliveries, func(p *specs.DeliveryPoint) bool {
		return p.Spread != nil && p.Spread.Unit.Kind == calc.Percent
	}) {
		spread = p.T("Spread: of each outlet's mean, × the same factors: %s, where the limit is in %%: ÷ mean × 100.", spreadWords(p, bench))
	}
	if meter {
		return p.T("As the meter says, per 1000 strokes, first reading above, second below. %s: oil at the meter, blank as in the row above, or if the meter corrects by itself. Mean: of all readings, × the factor for the oil.", oil) + " " + spread
	}
	return p.T("Graduates in cm³ over the strokes, first reading above, second below. %s: oil in the graduates, blank as in the row above. Counted: the strokes, where not the sheet's. Mean: of all readings, × 1000 ÷ strokes (in brackets for the sheet's), × the factor for the oil.", oil) + " " + spread
}

// factors is the line of volume factors for the oil's temperature.
func (b *builder) factors() Factors {
	bench := &b.Spec.Bench
	unit := bench.Conditions.InletTemperature.Unit
	ref := math.Round(calc.Convert(bench.Conditions.Reference.Value, bench.Conditions.Reference.Unit, unit))
	step := 1.0
	if unit != calc.Celsius {
		step = 2
	}
	f := Factors{Heading: b.T("Factor for the oil"), Corner: b.T("oil, %s", unit.Symbol), Name: b.T("factor"),
		Note: b.T("to %s, for oil of %s at 15 °C; ISO 91 / ASTM D1250, table 54B", b.Quantity(bench.Conditions.Reference), b.Quantity(bench.Conditions.Density15))}
	for i := -6.0; i <= 25; i++ {
		t := ref + i*step
		x, err := volumeFactor(bench, calc.Convert(t, unit, calc.Celsius))
		if err != nil {
			continue
		}
		f.Head, f.Cells = append(f.Head, b.Fixed(t, 0)), append(f.Cells, b.Fixed(x, 4))
	}
	return f
}
