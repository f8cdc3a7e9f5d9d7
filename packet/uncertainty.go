package packet

import (
	"math"

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
	i.U = nil
	if known && len(s) > 0 {
		_, _, u := calc.Combine(s, confidence)
		i.U = ptr(i.finer(u))
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

// sources are the uncertainties of one figure read by its box's instrument, in
// the box's unit: the permissible error, then the resolution, as rectangular
// distributions (JCGM 100 4.3.7 and F.2.2.1). The figure is no finer than the
// box it is written in. known is false when the shop file lacks the instrument;
// a blank box has no sources.
func (g *judge) sources(b *Box) (s []calc.Source, known bool) {
	if _, ok := g.number(b); !ok {
		return nil, true
	}
	g.use(b.Instrument)
	i := g.shop.Instrument(b.Instrument)
	if i == nil || i.Permissible.Unit.Kind != b.Unit.Kind {
		return nil, false
	}
	in := func(q calc.Quantity) float64 { return q.Value * q.Unit.Factor / b.Unit.Factor }
	step := max(in(i.Resolution), math.Pow10(-b.Decimals))
	return []calc.Source{source(calc.Rectangular(in(i.Permissible))), source(calc.ResolutionU(step))}, true
}

// written is the rounding of a worked-out figure to its box.
func written(b *Box) calc.Source { return source(calc.ResolutionU(math.Pow10(-b.Decimals))) }

// staticSources are the uncertainties of a static dimension from its readings:
// one figure, repeats, the two blades of a bracket, or the parts of a pack.
func (g *judge) staticSources(a *Adjustment, readings []*Box) ([]calc.Source, bool) {
	d := a.Dim
	switch {
	case d.Shims != nil && d.Shims.Prescribed > 0:
		// Two readings of one micrometer: its error is common to both and adds
		// up, the rounding of each does not.
		s, known := g.sources(a.Measured)
		if !known || len(s) == 0 {
			return s, known
		}
		return []calc.Source{scaled(s[:1], 2)[0], s[1], s[1]}, true
	case d.Take == specs.Bracket:
		goes, ok1 := g.number(readings[0])
		not, ok2 := g.number(readings[1])
		i := g.shop.Instrument(readings[0].Instrument)
		g.use(readings[0].Instrument)
		if i == nil || i.Permissible.Unit.Kind != d.Unit.Kind {
			return nil, false
		}
		// The step from blade to blade takes the place of a resolution; where
		// only the middle was typed, it is the gauges' own step.
		step := i.Resolution.Value * i.Resolution.Unit.Factor / d.Unit.Factor
		if ok1 && ok2 {
			step = not - goes
		}
		return []calc.Source{source(calc.Rectangular(i.Permissible.Value * i.Permissible.Unit.Factor / d.Unit.Factor)), source(calc.ResolutionU(step)), written(a.Measured)}, true
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

// changeSources are the uncertainties of what a refit must do: both shims as
// measured, times the effect; for a thread, the turn.
func (g *judge) changeSources(a *Adjustment, t *Try) ([]calc.Source, bool) {
	d := a.Dim
	if d.Thread != nil {
		return []calc.Source{source(calc.Rectangular(turnRead * d.Thread.Pitch.In(d.Unit)))}, true
	}
	s, known := g.sources(t.Fitted[0])
	// Counted as for two micrometers, which is the cautious way: the shim that
	// came out may have been measured with another.
	return scaled(append(s, s...), d.Effect), known
}

// meanSources are those of the mean of the outlets: the graduates' error is
// taken as common to all, so the mean carries it whole.
func (g *judge) meanSources(p *Point) ([]calc.Source, bool) {
	s, known := g.sources(p.Outlets[0])
	if !known || len(s) == 0 {
		return s, known
	}
	return append(scaled(s, 1000/float64(p.Spec.Strokes)), written(p.Mean)), true
}

// spreadSources are those of the difference of two outlets, in the spread's
// unit: here the graduates' errors are taken as independent. Both assumptions
// are the cautious one.
func (g *judge) spreadSources(p *Point) ([]calc.Source, bool) {
	s, known := g.sources(p.Outlets[0])
	if !known || len(s) == 0 {
		return s, known
	}
	per := 1000 / float64(p.Spec.Strokes)
	if p.Spread.Unit.Kind == calc.Percent {
		mean, ok := g.number(p.Mean)
		if !ok || mean == 0 {
			return nil, true
		}
		per *= 100 / mean
	}
	s = scaled(s, per)
	return append(append(s, s...), written(p.Spread)), true
}

// runOutSources are those of the run-out speed: the tachometer, and the
// delivery's uncertainty over the steepness of the curve where it is known.
func (g *judge) runOutSources(b *Box) ([]calc.Source, bool) {
	s, known := g.sources(b)
	if !known || len(s) == 0 {
		return s, known
	}
	f := *b.From
	const small = 0.05
	at := func(q float64) (float64, bool) {
		f.Const = q
		n, ok, _ := f.Value(g.number)
		return n, ok
	}
	low, ok1 := at(b.From.Const - small)
	high, ok2 := at(b.From.Const + small)
	if !ok1 || !ok2 {
		return s, true
	}
	for _, p := range g.plan.Final.Points {
		if len(f.Terms) > 0 && p.Mean == f.Terms[len(f.Terms)-1].Box {
			q, known := g.meanSources(p)
			return append(s, scaled(q, (high-low)/(2*small))...), known
		}
	}
	return s, true
}

// ratioSources are those of a ratio, from the relative ones of its two figures
// (JCGM 100 5.1.6), and of its own rounding.
func (g *judge) ratioSources(b *Box) ([]calc.Source, bool) {
	x, ok := g.number(b)
	if !ok {
		return nil, true
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
