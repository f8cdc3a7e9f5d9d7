package packet

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

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
	Boost   *Box // as its gauge reads; nil where the sheet asks for none

	row      string  // code of its row on the sheet
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

// letter tells the first readings from the second, in the codes and on the sheet.
func (p *Point) letter(i int) string {
	if p.Second == nil {
		return ""
	}
	return []string{"a", "b"}[i]
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
		return 0, reason(p.Counted.Printer, err, p.Counted)
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
		return 0, reason(box.Printer, err, box)
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
		return 0, false, reason(p.Spread.Printer, err, p.First[0])
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
		return p.T("how far the outlet farthest from the mean lies from it, no sign")
	}
	return p.T("highest − lowest")
}

// deliveryTable declares the rows of the delivery points: for each a line of
// first readings and one of second, the oil and the strokes beside the first,
// mean and spread beside the second.
func (b *builder) deliveryTable(sh *Sheet, r *Run, asFound bool) {
	bench := &b.Spec.Bench
	meter := b.Shop.DeliveryMeter
	t := Table{Heading: b.T("Delivery"), Columns: b.all("point", "rev/min", "lever", "strokes"), Told: true}
	if meter {
		t.Columns = t.Columns[:3]
	}
	boost := b.boosted()
	if boost != nil {
		t.Columns = append(t.Columns, b.T("boost")+"\n"+b.T("p read"))
	}
	t.Columns = append(t.Columns, "\n"+b.T("row")) // first readings, second
	marks := b.Spec.Pump.Marks
	_, across := outletLines(len(marks))
	var places []string
	for i := range marks {
		places = append(places, fmt.Sprint(".", i+1))
	}
	for i := range across {
		t.Columns = append(t.Columns, outletHead(marks, i, across)+"\n"+outletHead(places, i, across))
	}
	oil := bench.Conditions.InletTemperature.Unit
	counted := "n\ns"
	if meter {
		counted = "\ns"
	}
	t.Columns = append(t.Columns, "t "+oil.Symbol+"\nm", counted, b.T("limits\nper 1000"))

	var above *Point
	for _, s := range bench.Deliveries {
		if asFound && !s.AsFound {
			continue
		}
		pt := b.point(s, asFound, above)
		above = pt
		r.Points = append(r.Points, pt)
		words := []string{pt.row + "\n" + s.Name, b.Fixed(s.Speed, 0), s.Lever}
		if !meter {
			words = append(words, strokesWords(b.Printer, s.Strokes))
		}
		var before []*Box // the outlets': boost, and which reading
		if boost != nil {
			before = append(before, nil)
		}
		before = append(before, nil)
		// Of the lines of the row, the first holds the conditions, the last the
		// results; at shut-off, where nothing may come, one line holds all.
		var rows [][]*Box
		var letters []string
		for i, readings := range [][]*Box{pt.First, pt.Second} {
			for line := range slices.Chunk(readings, across) {
				rows = append(rows, slices.Concat(before, line, make([]*Box, across-len(line)+2)))
				letters = append(letters, pt.letter(i))
			}
		}
		last, first := len(rows)-1, len(before)
		rows[0][first+across], rows[0][first+across+1] = pt.Oil, pt.Counted
		rows[last][first+across], rows[last][first+across+1] = pt.Mean, pt.Spread
		if boost != nil && pt.Boost != nil {
			rows[last][0] = pt.Boost
		}
		for i, boxes := range rows {
			row := TableRow{Before: make([]string, len(words)), Boxes: boxes, Fill: map[int]string{first - 1: letters[i]}, After: []string{""}, Keep: i < last}
			if i == 0 {
				row.Before, row.After[0] = words, limitsWords(b.Printer, s.Limits)
				if boost != nil {
					row.Fill[0] = b.boostWords(s.Boost)
				}
				if !meter && s.Strokes != 1000 && s.Kind != specs.ShutOff {
					row.After[0] += "\n" + b.T("caught about %s", limitsWords(b.Printer, times(s.Limits, float64(s.Strokes)/1000)))
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
	t.Note = join(" ", deliveryNote(b.Printer, bench, meter, r.Points[0].row), b.apartWords(r.Points[0]))
	if !asFound {
		t.Note = join(" ", t.Note, b.keepInside(b.nearMeans(r.Points)...))
	}
	if boost != nil {
		p := slices.MaxFunc(bench.Deliveries, func(x, y *specs.DeliveryPoint) int { return cmp.Compare(boostOf(x), boostOf(y)) }).Boost
		t.Note += " " + b.T("p: the boost as its gauge reads; more than %s %s off: set it anew, count again.", b.Fixed(b.boostOff(*p), boostDecimals(p.Unit)), p.Unit.Symbol)
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

// apartWords say how far two readings of an outlet may be apart.
func (b *builder) apartWords(p *Point) string {
	if p.Second == nil {
		return ""
	}
	share := b.Fixed(unsteadyShare*100, 1)
	u, known := mayDiffer(b.Shop, p.First[0])
	if !known {
		return b.T("**a and b of an outlet more than %s %% apart: count both again.**", share)
	}
	step := math.Pow10(-p.First[0].Decimals) // two readings are whole steps apart
	return b.T("**a and b of an outlet more than %s %% apart, and more than %s %s: count both again.**", share, p.First[0].Decimal(math.Floor(u/step+1e-9)*step), b.Unit(p.First[0].Unit.Symbol))
}

// nearMeans is how near to their limits means and spreads are too close to call
// where every outlet delivers the middle of the limits, with oil at the
// reference temperature: at most points, and at those where it is another figure.
func (b *builder) nearMeans(points []*Point) (out []string) {
	means, spreads := map[string][]string{}, map[string][]string{}
	for _, p := range points {
		if p.Second == nil {
			continue
		}
		filled := map[*Box]float64{p.Mean: halfway(p.Spec.Limits), p.Spread: 0}
		scale, _ := p.perThousand(b.asIf(nil).number)
		for _, x := range p.boxes() {
			filled[x] = halfway(p.Spec.Limits) / scale
		}
		ref := b.Spec.Bench.Conditions.Reference
		filled[p.Oil] = calc.Convert(ref.Value, ref.Unit, p.Oil.Unit)
		g := b.asIf(filled)
		if u, known := combined(g.meanSources(p)); known {
			near := b.Fixed(ceil(u, 1), 1)
			means[near] = append(means[near], p.row)
		}
		if p.Spec.Spread == nil {
			continue
		}
		if u, known := combined(g.spreadSources(p)); known {
			near := join("\u00a0", b.Fixed(ceil(u, 1), 1), spreadUnit(p.Spec.Spread.Unit))
			spreads[near] = append(spreads[near], p.row)
		}
	}
	for _, kind := range []struct {
		letter string
		rows   map[string][]string
	}{{"m", means}, {"s", spreads}} {
		figures := slices.SortedFunc(maps.Keys(kind.rows), func(x, y string) int {
			return cmp.Or(len(kind.rows[y])-len(kind.rows[x]), strings.Compare(x, y))
		})
		if len(figures) == 0 {
			continue
		}
		var others []string
		for _, near := range figures[1:] {
			others = append(others, strings.Join(kind.rows[near], ", ")+":\u00a0"+near)
		}
		most := kind.letter + "\u00a0" + figures[0]
		if others != nil {
			most += " (" + strings.Join(others, "; ") + ")"
		}
		out = append(out, most)
	}
	return out
}

func boostOf(p *specs.DeliveryPoint) float64 {
	if p.Boost == nil {
		return 0
	}
	return p.Boost.Value
}

// boostOff is how far the boost at a point may be off: what its gauge may be
// wrong by, or where the shop file has none 2 %. Common practice, no source.
func (b *builder) boostOff(q calc.Quantity) float64 {
	decimals := boostDecimals(q.Unit)
	permissible, resolution, known := figureSources(b.Shop, "boost gauge", q.Unit, decimals)
	u, known := combined([]calc.Source{permissible, resolution}, known)
	if !known {
		u = .02 * q.Value
	}
	return ceil(u, decimals)
}

// outletLines is in how many lines the outlets of a delivery table stand, and how
// many in one.
func outletLines(outlets int) (lines, across int) {
	lines = (outlets + mostAcross - 1) / mostAcross
	return lines, (outlets + lines - 1) / lines
}

// outletHead heads the i-th column of outlets, which stand in lines of so many.
func outletHead(marks []string, i, across int) string {
	var out []string
	for ; i < len(marks); i += across {
		out = append(out, marks[i])
	}
	return strings.Join(out, " · ")
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
	code := b.code()
	p := &Point{Spec: s, above: above, bench: &b.Spec.Bench, row: code}
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
		if q := s.Boost; q != nil && q.Value > 0 {
			off := b.boostOff(*q)
			p.Boost = b.number(b.T("%s, boost", s.Name), q.Unit, boostDecimals(q.Unit), q.Value-off, q.Value+off).with("boost gauge")
			b.sub(p.Boost, code+"p").Required = !asFound
			p.Boost.Short = "p"
		}
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
		p.Oil.Short = "t"
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
		p.Counted.Short = "n"
	}
	p.Mean.Short = "m"
	p.Spread = b.sub(b.number(b.T("%s, spread", s.Name), unit, decimals, 0, 100).worked(rest), code+"s")
	p.Spread.Short = "s"
	return p
}

// boosted is the first boost that the sheet asks for at a delivery point, nil
// where it asks for none.
func (p *Plan) boosted() *calc.Quantity {
	for _, d := range p.Spec.Bench.Deliveries {
		if d.Boost != nil {
			return d.Boost
		}
	}
	return nil
}

// boostWords is a boost as the sheets say it: where the sheet gives none, that
// is 0.
func (p *Plan) boostWords(q *calc.Quantity) string {
	if q == nil {
		q = &calc.Quantity{Unit: p.boosted().Unit}
	}
	if q.Value == 0 {
		return p.T("0, line off")
	}
	return p.Quantity(*q)
}

// boostDecimals is how finely a boost is read.
func boostDecimals(u calc.Unit) int {
	switch u.Symbol {
	case "bar":
		return 2
	case "kPa":
		return 0
	}
	return 1
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
func deliveryNote(p words.Printer, bench *specs.Bench, meter bool, row string) string {
	oil := bench.Conditions.InletTemperature.Unit.Symbol
	spread := p.T("s: of each outlet's mean, × the same factors: %s.", spreadWords(p, bench))
	if slices.ContainsFunc(bench.Deliveries, func(p *specs.DeliveryPoint) bool {
		return p.Spread != nil && p.Spread.Unit.Kind == calc.Percent
	}) {
		spread = p.T("s: of each outlet's mean, × the same factors: %s, where the limit is in %%: ÷ mean × 100.", spreadWords(p, bench))
	}
	spread += " " + p.T("Limits are for m; s only where a limit for the spread stands beside it.")
	if meter {
		return p.T("A cell's code is its row, column and letter: %[2]s.2b is the second reading (b) of the second outlet of %[2]s. As the meter says, per 1000 strokes. t: oil at the meter, %[1]s, left blank: the same as in the row above, or the meter corrects by itself. m: mean of all readings, × the factor for the oil.", oil, row) + " " + spread
	}
	return p.T("A cell's code is its row, column and letter: %[2]s.2b is the second reading (b) of the second outlet of %[2]s. Graduates in cm³ over the strokes. t: oil in the graduates, %[1]s, left blank: the same as in the row above. n: the strokes counted, where not the sheet's. m: mean of all readings, × 1000 ÷ strokes (in brackets for the sheet's), × the factor for the oil.", oil, row) + " " + spread
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
	read := b.T("Read the oil to the whole degree.")
	if step > 1 {
		read = b.T("Read the oil to the whole degree; between two columns take the mean of their factors.")
	}
	f := Factors{Heading: b.T("Factor for the oil"), Corner: b.T("oil, %s", unit.Symbol), Name: b.T("factor"),
		Note: b.T("to %s, for oil of %s at 15 °C; ISO 91 / ASTM D1250, table 54B", b.Quantity(bench.Conditions.Reference), b.Quantity(bench.Conditions.Density15)) + ". " + read}
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
