package packet

import (
	"math"
	"slices"

	"shimcard/calc"
	"shimcard/specs"
)

// confidence is the probability of every uncertainty a report gives.
const confidence = 0.95

// turnRead is how far a turn of a screw is misread, ±, in turns. Common
// practice, no source: a hand stops within an eighth of a half turn.
const turnRead = 1.0 / 16

// setU gives the item the expanded uncertainty of its sources, JCGM 100 6.2 and
// G.4; none when an instrument is not known.
func (i *Item) setU(s []calc.Source, known bool) {
	i.U, i.uc, i.unknown = nil, 0, !known
	if known && len(s) > 0 {
		uc, _, u := calc.Combine(s, confidence)
		i.U, i.uc = ptr(i.finer(u)), uc
	}
}

// finer rounds an uncertainty to three figures more than the item prints.
func (i *Item) finer(u float64) float64 { return calc.Rounded(u, i.Decimals+3) }

// use notes that an instrument was used.
func (g *judge) use(name string) {
	if name != "" && !g.used[name] {
		g.used[name] = true
		g.order = append(g.order, name)
	}
}

func source(u float64) calc.Source { return calc.Source{U: u, Dof: math.Inf(1)} }

// scaled multiplies the sources by a sensitivity.
func scaled(s []calc.Source, by float64) (out []calc.Source) {
	for _, x := range s {
		x.U *= math.Abs(by)
		out = append(out, x)
	}
	return out
}

// figureSources are the uncertainties of one figure read by an instrument of the shop, in
// a unit: its permissible error and its resolution as rectangular distributions
// (JCGM 100 4.3.7 and F.2.2.1). The figure is no finer than it is written.
// known is false when the shop file lacks the instrument.
func figureSources(shop *specs.Shop, instrument string, unit calc.Unit, decimals int) (permissible, resolution calc.Source, known bool) {
	i := shop.Instrument(instrument)
	if i == nil || i.Permissible.Unit.Kind != unit.Kind {
		return permissible, resolution, false
	}
	in := func(q calc.Quantity) float64 { return q.Value * q.Unit.Factor / unit.Factor }
	step := max(in(i.Resolution), math.Pow10(-decimals))
	return source(calc.Rectangular(in(i.Permissible))), source(calc.ResolutionU(step)), true
}

// sources are the uncertainties of the figure in a box, in its unit. A blank
// box has none.
func (g *judge) sources(b *Box) (s []calc.Source, known bool) {
	if _, ok := g.number(b); !ok {
		return nil, true
	}
	s, known = g.pair(b)
	if !known {
		return nil, false
	}
	return s, true
}

// pair are the permissible error and the resolution with which a box is read,
// written or not.
func (g *judge) pair(b *Box) (s []calc.Source, known bool) {
	g.use(b.Instrument)
	permissible, resolution, known := figureSources(g.shop, b.Instrument, b.Unit, b.Decimals)
	return []calc.Source{permissible, resolution}, known
}

// summed are those of a sum of n readings of one instrument: its error is common
// to all and adds up, the rounding of each does not.
func summed(permissible, resolution calc.Source, n int) []calc.Source {
	permissible.U *= float64(n)
	resolution.U *= math.Sqrt(float64(n))
	return []calc.Source{permissible, resolution}
}

// typedIn is how many figures a box is the sum of: the shims of a stack that
// were measured one by one, else one.
func (g *judge) typedIn(b *Box) int {
	if b.From != nil && b.From.Op == Linear && len(b.From.Terms) == 1 {
		return g.typedIn(b.From.Terms[0].Box) // carried from the strip
	}
	if b.From != nil && b.From.Op == Latest {
		for _, t := range slices.Backward(b.From.Terms) {
			if _, ok := g.number(t.Box); ok {
				return g.typedIn(t.Box)
			}
		}
	}
	n := 0
	if b.From != nil && b.From.Op == Sum {
		for _, t := range b.From.Terms {
			if _, ok := g.number(t.Box); ok {
				n++
			}
		}
	}
	return max(n, 1)
}

// bracketSources are those of the middle of two blades: the step from one to
// the other takes the place of a resolution.
func bracketSources(permissible calc.Source, step float64, d *specs.Dimension) []calc.Source {
	return []calc.Source{permissible, source(calc.ResolutionU(step)), source(calc.ResolutionU(math.Pow10(-d.Decimals)))}
}

// guard sets the zone in which a dimension is kept as it is, and into which a
// change must bring it: the limits less the uncertainty of one reading with the
// shop's instrument (guarded acceptance, JCGM 106), to the readings within. The
// report decides by the same rule, from the readings as typed: repeats that
// scatter, blades that are not neighbours or a pack of many shims leave it less
// sure. Where the instrument is not known, or so coarse that the tray could not
// be sure to bring a pump into what is left, the zone is the limits.
func (a *Adjustment) guard(shop *specs.Shop) {
	d := a.Dim
	a.Low, a.High, a.Aim = d.Low, d.High, d.Target
	name := d.Instrument
	if d.Shims != nil {
		a.Apart = stacksApart(shop, d.Shims.Tray, d.Unit, a.decimals())
		if d.Shims.Prescribed > 0 {
			name = "micrometer"
		}
	}
	permissible, resolution, known := figureSources(shop, name, d.Unit, d.Decimals)
	if !known {
		return
	}
	s := []calc.Source{permissible, resolution}
	switch {
	case d.Shims != nil && d.Shims.Prescribed > 0:
		s = summed(permissible, resolution, 2)
	case d.Take == specs.Bracket:
		i := shop.Instrument(name)
		s = bracketSources(permissible, i.Resolution.Value*i.Resolution.Unit.Factor/d.Unit.Factor, d)
	}
	_, _, u := calc.Combine(s, confidence)
	reading := calc.LengthOf(math.Pow10(-d.Decimals), d.Unit)
	u *= 1 - 1e-9 // a reading at the zone's very end is inside
	low := (d.Low + calc.LengthOf(u, d.Unit) + reading - 1) / reading * reading
	high := (d.High - calc.LengthOf(u, d.Unit)) / reading * reading
	a.Uncertainty = calc.LengthOf(u, d.Unit)
	if low > high || d.Shims != nil && float64(high-low) < math.Abs(d.Effect)*float64(narrowest(d.Shims.Tray)) {
		a.Coarse = true
		return
	}
	a.Low, a.High = low, high
	a.Aim = min(max(d.Target, low), high)
}

// stacksApart is how far two stacks may differ and be of one size: half the
// tray's smallest step, or what the micrometer can say, whichever is more.
func stacksApart(shop *specs.Shop, tray *specs.Tray, u calc.Unit, decimals int) calc.Length {
	apart := narrowest(tray) / 2
	if _, resolution, known := figureSources(shop, "micrometer", u, decimals); known {
		_, _, e := calc.Combine([]calc.Source{resolution, resolution}, confidence)
		apart = max(apart, calc.LengthOf(e, u))
	}
	return apart
}

// narrowest is the smallest step from one size of a tray to the next.
func narrowest(t *specs.Tray) calc.Length {
	step := calc.Length(math.MaxInt64)
	for i := 1; i < len(t.Sizes); i++ {
		step = min(step, t.Sizes[i]-t.Sizes[i-1])
	}
	return step
}

// written is the rounding of a worked-out figure to its box.
func written(b *Box) calc.Source { return source(calc.ResolutionU(math.Pow10(-b.Decimals))) }

// staticSources are the uncertainties of a static dimension from its readings:
// one figure, repeats, the two blades of a bracket, or the parts of a pack.
func (g *judge) staticSources(a *Adjustment, readings []*Box) ([]calc.Source, bool) {
	d := a.Dim
	switch {
	case d.Shims != nil && d.Shims.Prescribed > 0:
		n := 2 // what was fitted, at the piston and in the cap
		if len(readings) > 0 && readings[0] == a.Measured {
			n = g.typedIn(a.Out[0]) + g.typedIn(a.Out[1])
		}
		s, known := g.sources(a.Measured)
		if !known || len(s) == 0 {
			return s, known
		}
		return summed(s[0], s[1], n), true
	case d.Take == specs.Bracket:
		g.use(d.Instrument)
		permissible, _, known := figureSources(g.shop, d.Instrument, d.Unit, d.Decimals)
		if !known {
			return nil, false
		}
		goes, ok1 := g.number(readings[0])
		not, ok2 := g.number(readings[1])
		step := not - goes
		if !ok1 || !ok2 { // only the middle was typed: the gauges' own step
			i := g.shop.Instrument(d.Instrument)
			step = i.Resolution.Value * i.Resolution.Unit.Factor / d.Unit.Factor
		}
		return bracketSources(permissible, step, d), true
	}
	var typed []float64
	first := readings[0]
	for _, b := range readings {
		if x, ok := g.number(b); ok {
			if len(typed) == 0 {
				first = b
			}
			typed = append(typed, x)
		}
	}
	if len(typed) == 0 {
		first = a.Measured // only the result was typed
	}
	s, known := g.sources(first)
	if !known || d.Take != specs.Mean || len(typed) < 2 {
		return s, known
	}
	u, dof := calc.Repeatability(typed)
	return append(s, calc.Source{Name: "repeats", U: u, Dof: dof}), true
}

// changeSources are the uncertainties of what a refit must do: the shims that
// came out and those that went in as measured, times the effect; for a thread,
// the turn. The two count as measured with two micrometers, which is the
// cautious way.
func (g *judge) changeSources(a *Adjustment, before state, t *Try) ([]calc.Source, bool) {
	d := a.Dim
	if d.Thread != nil {
		return []calc.Source{source(calc.Rectangular(turnRead * d.Thread.Pitch.In(d.Unit)))}, true
	}
	s, known := g.sources(t.Fitted[0])
	if !known || len(s) == 0 {
		return s, known
	}
	out := 1
	if !before.tried {
		out = g.typedIn(before.fitted)
	}
	return scaled(append(summed(s[0], s[1], out), s...), d.Effect), true
}

// oilUnknown is how far from the reference temperature the oil may have been
// where nobody wrote it, ±, °C. Common practice, no source: oil that has passed
// the pump and the holders comes out a few degrees warmer than it went in.
const oilUnknown = 10.0

// meanSources are those of the mean of the outlets: the graduates' error is
// taken as common to all, so the mean carries it whole; what repeated readings
// scatter is not. The oil's temperature, and so its error, is common too.
func (g *judge) meanSources(p *Point) ([]calc.Source, bool) {
	if _, ok := g.number(p.Mean); !ok {
		return nil, true
	}
	s, known := g.outletSources(p)
	for i := range s[repeats:] {
		s[repeats+i].U *= g.scatterOfMean(p)
	}
	oil, knownOil := g.oilSources(p)
	return append(append(s, oil...), written(p.Mean)), known && knownOil
}

// asIf is a judge of a sheet on which these boxes are filled in, and no others.
func (p *Plan) asIf(filled map[*Box]float64) *judge {
	r := &Readings{Entries: map[string]Entry{}}
	for b, x := range filled {
		r.Entries[b.Code] = Entry{Text: b.Decimal(x), Number: x}
	}
	return &judge{Printer: p.Printer, values: newValues(r), plan: p, shop: p.Shop, used: map[string]bool{}}
}

// combined is the expanded uncertainty from these sources; known is false where
// one is not, or there are none.
func combined(s []calc.Source, known bool) (u float64, ok bool) {
	if !known || len(s) == 0 {
		return 0, false
	}
	_, _, u = calc.Combine(s, confidence)
	return u, true
}

// scatterOfMean is how much less the mean of all outlets scatters than the one
// of them with the fewest readings.
func (g *judge) scatterOfMean(p *Point) float64 {
	sum, fewest := 0.0, math.Inf(1)
	for i := range p.First {
		n := g.taken(p, i)
		sum += 1 / n
		fewest = min(fewest, n)
	}
	return math.Sqrt(sum*fewest) / float64(len(p.First))
}

// taken is how many readings of an outlet were written, one at least.
func (g *judge) taken(p *Point, outlet int) float64 {
	n := 0.0
	for _, b := range p.readings(outlet) {
		if _, ok := g.number(b); ok {
			n++
		}
	}
	return max(n, 1)
}

// repeats is where the scatter of repeated readings stands in outletSources.
const repeats = 2

// outletSources are those of one outlet's delivery, per 1000 strokes: of the
// mean of its readings where there are two, what they scatter taken from all
// outlets together.
func (g *judge) outletSources(p *Point) ([]calc.Source, bool) {
	b := p.First[0]
	g.use(b.Instrument)
	permissible, resolution, known := figureSources(g.shop, b.Instrument, b.Unit, b.Decimals)
	s := []calc.Source{permissible, resolution}
	var first, second []float64
	for i, again := range p.Second {
		x, ok1 := g.number(p.First[i])
		y, ok2 := g.number(again)
		if ok1 && ok2 {
			first, second = append(first, x), append(second, y)
		}
	}
	if scatter, dof, err := calc.Pooled(first, second); err == nil {
		fewest := math.Inf(1)
		for i := range p.First {
			fewest = min(fewest, g.taken(p, i))
		}
		s = append(s, calc.Source{Name: "repeats", U: scatter / math.Sqrt(fewest), Dof: float64(dof)})
	}
	scale, why := p.perThousand(g.number)
	return scaled(s, scale), known && why == ""
}

// oilSources are those of bringing a mean to the reference temperature.
func (g *judge) oilSources(p *Point) ([]calc.Source, bool) {
	mean, ok := g.number(p.Mean)
	if !ok || mean == 0 || p.Oil == nil {
		return nil, true
	}
	c := g.plan.Spec.Bench.Conditions
	at := calc.Convert(c.Reference.Value, c.Reference.Unit, calc.Celsius)
	t, box := p.oil(g.number)
	if box != nil {
		at = t
	}
	warm, err1 := volumeFactor(&g.plan.Spec.Bench, at+.5)
	cool, err2 := volumeFactor(&g.plan.Spec.Bench, at-.5)
	if err1 != nil || err2 != nil {
		return nil, false
	}
	per := mean * (cool - warm) // for 1 °C
	if box == nil && g.shop.DeliveryMeter {
		return nil, true // the meter corrects by itself
	}
	if box == nil {
		return []calc.Source{source(per * calc.Rectangular(oilUnknown))}, true
	}
	s, known := g.sources(box)
	return scaled(s, per*box.Unit.Factor), known
}

// spreadSources are those of the difference of two outlets, or of one from the
// mean, in the spread's unit: here the graduates' errors are taken as
// independent. Both assumptions are the cautious one.
func (g *judge) spreadSources(p *Point) ([]calc.Source, bool) {
	if _, ok := g.number(p.Spread); !ok {
		return nil, true
	}
	s, known := g.outletSources(p)
	if p.Spread.Unit.Kind == calc.Percent {
		mean, ok, _ := p.Mean.From.Value(g.number)
		if !ok {
			mean, ok = g.number(p.Mean) // by the pen alone
		}
		if !ok || mean == 0 {
			return []calc.Source{written(p.Spread)}, known // nothing came out anywhere
		}
		s = scaled(s, 100/mean)
	}
	if p.bench.FarthestFromMean {
		// The outlet is one of those in the mean.
		return append(scaled(s, math.Sqrt(1-1/float64(len(p.First)))), written(p.Spread)), known
	}
	return append(append(s[:len(s):len(s)], s...), written(p.Spread)), known
}

// runOutSources are those of a speed on the falling branch: the tachometer, and
// the delivery's uncertainty over the steepness of the curve between the two
// steps it lies between.
func (g *judge) runOutSources(b *Box) ([]calc.Source, bool) {
	s, known := g.sources(b)
	if !known || len(s) == 0 {
		return s, known
	}
	speeds, deliveries := b.From.pairs(g.number)
	_, fall, err := calc.FallsThrough(speeds, deliveries, b.From.Const)
	if err != nil {
		return nil, false // a speed that nobody counted at
	}
	q, known := g.stepSources(b.From.Terms[1].Box)
	return append(s, scaled(q, 1/fall)...), known
}

// stepSources are those of the mean of a step on the falling branch: of the
// graduates whose volumes were added the error is common, the rounding not.
func (g *judge) stepSources(mean *Box) ([]calc.Source, bool) {
	if mean.From == nil {
		return g.pair(mean)
	}
	p := mean.From.Point
	s, known := g.pair(p.First[0])
	scale, why := p.perThousand(g.number)
	s[1].U /= math.Sqrt(p.together)
	return append(scaled(s, scale), written(mean)), known && why == ""
}

// droopSources are those of the no-load speed, in per cent of the rated speed.
func (g *judge) droopSources(b *Box) ([]calc.Source, bool) {
	if _, ok := g.number(b.From.Terms[0].Box); !ok {
		_, typed := g.number(b)
		return nil, !typed // by the pen alone: from what speed is not known
	}
	s, known := g.runOutSources(b.From.Terms[0].Box)
	if len(s) > 0 {
		s = append(scaled(s, 100/b.From.Const), written(b))
	}
	return s, known
}

// ratioSources are those of a ratio, from the relative ones of its two figures
// (JCGM 100 5.1.6), and of its own rounding.
func (g *judge) ratioSources(b *Box) ([]calc.Source, bool) {
	x, ok, _ := b.From.Value(g.number) // not rounded: it is a sensitivity here
	if !ok {
		_, typed := g.number(b)
		return nil, !typed // by the pen alone: from what readings is not known
	}
	out := []calc.Source{written(b)}
	for _, t := range b.From.Terms {
		v, ok := g.number(t.Box)
		s, known := g.sources(t.Box)
		if !known {
			return nil, false
		}
		if ok && v != 0 {
			out = append(out, scaled(s, x/v)...)
		}
	}
	return out, len(out) > 1
}
