package packet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/specs"
)

// benchBlocks is the full record of the bench run: what to look at next, the
// deliveries, pressure and timing, and what they come to as found against as
// left.
func (j *Job) benchBlocks(r *Results) []layout.Block {
	var out []layout.Block
	if len(r.Now.Hints) > 0 {
		out = append(out, layout.Heading{Text: "What to look at next", Right: "usual causes, first the most usual; the pump maker's sheet has the last word"}, findings(r.Now.Hints, true))
	}
	out = append(out, layout.Heading{Text: "Delivery, cm³ per 1000 strokes at " + j.Spec.Bench.Conditions.Reference.String(), Right: "below each outlet how far it is from the mean, %"}, r.deliveryTable(r.Left, true, j.Spec.Bench.Conditions.InletTemperature.Unit.Symbol))
	out = append(out, apartNote(r.Left)...)
	out = append(out, j.curves(r)...)
	out = append(out, r.speedTable(j)...)
	out = append(out, r.comesTo(j)...)
	if len(r.Found) > 0 {
		out = append(out, layout.Heading{Text: "Delivery as found, cm³ per 1000 strokes at " + j.Spec.Bench.Conditions.Reference.String()}, r.deliveryTable(r.Found, false, j.Spec.Bench.Conditions.InletTemperature.Unit.Symbol))
		out = append(out, apartNote(r.Found)...)
	}
	if len(r.Was.Hints) > 0 {
		out = append(out, layout.Heading{Text: "What the run as found pointed to"}, findings(r.Was.Hints, false))
	}
	return append(out, r.notDone()...)
}

// findings prints hints: what was seen, the readings it rests on and, where
// whole, the usual causes in order and what to check.
func findings(hints []Hint, whole bool) layout.Block {
	var f layout.Findings
	for _, h := range hints {
		x := layout.Finding{Text: h.Finding}
		if h.Safety {
			x.Text = "Safety: " + lowerFirst(h.Finding)
		}
		rests := "rests on " + codeWords(h.RestsOn)
		if whole {
			x.Lines = []string{rests, "causes, in this order: " + strings.Join(h.Causes, "; "), "**" + h.Check + "**"}
		} else {
			x.Lines = []string{rests + "; usual causes: " + strings.Join(h.Causes, "; ")}
		}
		f.Items = append(f.Items, x)
	}
	return f
}

// normalised says how the deliveries were brought to the sheet's terms.
func (r *Results) normalised(j *Job) string {
	c := j.Spec.Bench.Conditions
	words := fmt.Sprintf("Deliveries are per 1000 strokes, means of the readings taken, brought to %s by the volume factor for oil of %s at 15 °C (ISO 91, ASTM D1250 table 54B); spread: %s.",
		c.Reference, c.Density15, spreadWords(j.Printer, &j.Spec.Bench))
	if !calc.CalibrationFluid(c.Density15.Base()) {
		words += " The test oil's density is not that of a calibration fluid to ISO 4113 (820 to 830 kg/m³)."
	}
	return words
}

// curves draws supply pressure and timing travel against speed, travel against
// pressure, and the boost curve where there is one.
func (j *Job) curves(r *Results) []layout.Block {
	const height = 56
	var cols [][]layout.Block
	pressure := layout.Plot{Title: "Supply pressure", XLabel: "rev/min", Height: height, Empty: "no readings"}
	travel := layout.Plot{Title: "Timing travel", XLabel: "rev/min", Height: height, Empty: "no readings"}
	for _, it := range r.Items {
		bar := layout.LimitBar{X: it.Speed, Low: open(it.Low, -1), High: open(it.High, 1)}
		switch it.Group {
		case Pressures:
			pressure.Title, pressure.Limits = "Supply pressure, "+it.Unit, append(pressure.Limits, bar)
		case Travels:
			travel.Title, travel.Limits = "Timing travel, "+it.Unit, append(travel.Limits, bar)
		}
	}
	of := func(e *Evaluated, y func(AtSpeed) *float64) (xs, ys []float64) {
		for _, a := range e.Read {
			if v := y(a); v != nil {
				xs, ys = append(xs, a.Speed), append(ys, *v)
			}
		}
		return xs, ys
	}
	isPressure := func(a AtSpeed) *float64 { return a.Pressure }
	add := func(p *layout.Plot, s layout.Series, xs, ys []float64) {
		if len(xs) > 0 {
			s.X, s.Y = xs, ys
			p.Series = append(p.Series, s)
		}
	}
	xs, ys := of(r.Was, isPressure)
	add(&pressure, layout.Series{Name: "as found", Open: true, Dash: true, Loose: true}, xs, ys)
	xs, ys = of(r.Now, isPressure)
	add(&pressure, layout.Series{Name: "as left", Loose: true}, xs, ys)
	for i, c := range []*PressureCurve{r.Was.Pressure, r.Now.Pressure} {
		if c == nil {
			continue
		}
		f := layout.Fit{Dash: i == 0}
		if i == 1 {
			f.Name = "fit, 95 % band"
		}
		for k := range 41 {
			x := c.first + (c.last-c.first)*float64(k)/40
			y, _ := c.curve.At(x)
			f.X, f.Y = append(f.X, x), append(f.Y, y)
			if half := c.curve.Band(x, confidence); i == 1 && !math.IsNaN(half) {
				f.Half = append(f.Half, half)
			}
		}
		if len(f.Half) != len(f.X) {
			f.Half = nil
			f.Name = strings.TrimSuffix(f.Name, ", 95 % band")
		}
		pressure.Fits = append(pressure.Fits, f)
	}
	up, down := func(a AtSpeed) *float64 { return a.Travel }, func(a AtSpeed) *float64 { return a.Down }
	for i, e := range []*Evaluated{r.Was, r.Now} {
		name := []string{"as found", "as left, up"}[i]
		xs, ys := of(e, up)
		add(&travel, layout.Series{Name: name, Open: i == 0, Dash: i == 0}, xs, ys)
		xs, ys = of(e, down)
		slices.Reverse(xs)
		slices.Reverse(ys)
		name = []string{"", "down"}[i]
		add(&travel, layout.Series{Name: name, Open: i == 0, Dash: i == 0, Mark: layout.MarkDown, Join: true}, xs, ys)
	}
	if p := r.Now.Pack; p != nil && p.Reaches {
		f := layout.Fit{Name: "with the pack advised", Dash: true}
		for _, x := range p.Predicted {
			f.X, f.Y = append(f.X, x.Speed), append(f.Y, x.Travel)
		}
		travel.Fits = append(travel.Fits, f)
	}
	for _, p := range []layout.Plot{pressure, travel} {
		if len(p.Limits) > 0 {
			cols = append(cols, []layout.Block{p})
		}
	}
	if p, ok := r.piston(height); ok {
		cols = append(cols, []layout.Block{p})
	}
	if p, ok := r.boostCurve(height); ok {
		cols = append(cols, []layout.Block{p})
	}
	var out []layout.Block
	across := 3
	if len(cols) == 4 {
		across = 2
	}
	for some := range slices.Chunk(cols, across) {
		out = append(out, layout.Columns{Cols: some})
	}
	return out
}

// piston is travel against pressure, with the piston model.
func (r *Results) piston(height float64) (layout.Plot, bool) {
	p := layout.Plot{Height: height}
	for i, e := range []*Evaluated{r.Was, r.Now} {
		t := e.Timing
		if t == nil {
			continue
		}
		p.Title, p.XLabel = "Travel on pressure, "+t.Unit, t.Pressure
		s := layout.Series{Name: []string{"as found", "as left"}[i], Open: i == 0, Loose: true}
		bar, last := t.perUnit.Factor, 0.0
		for k, x := range t.readings {
			travel := 0.0
			for _, a := range e.Read {
				if a.Speed == x.Spec.Speed && a.Travel != nil {
					travel = *a.Travel
				}
			}
			s.X, s.Y = append(s.X, t.pressures[k]/bar), append(s.Y, travel)
			last = max(last, t.pressures[k])
		}
		p.Series = append(p.Series, s)
		f := layout.Fit{Dash: i == 0}
		if i == 1 {
			f.Name = "p·A = F0 + k·x"
		}
		for k := range 41 {
			at := t.piston.Start*.8 + (last*1.05-t.piston.Start*.8)*float64(k)/40
			f.X, f.Y = append(f.X, at/bar), append(f.Y, t.piston.Travel(at)/t.unit.Factor)
		}
		p.Fits = append(p.Fits, f)
	}
	return p, len(p.Series) > 0
}

// boostCurve is delivery against the pressure on the capsule.
func (r *Results) boostCurve(height float64) (layout.Plot, bool) {
	p := layout.Plot{Title: "Delivery on boost, cm³ per 1000", Height: height}
	var unit calc.Unit // of the first, for all
	for i, rows := range [][]*Delivery{r.Found, r.Left} {
		s := layout.Series{Name: []string{"as found", "as left"}[i], Open: i == 0, Dash: i == 0}
		for _, d := range rows {
			if d.Kind != string(specs.Boost) || d.boost == nil {
				continue
			}
			if unit == (calc.Unit{}) {
				unit = d.boost.Unit
			}
			p.XLabel = "boost, " + unit.Symbol
			if i == 1 {
				p.Limits = append(p.Limits, layout.LimitBar{X: d.boost.In(unit), Low: open(d.Low, -1), High: open(d.High, 1)})
			}
			if d.Mean != nil {
				s.X, s.Y = append(s.X, d.boost.In(unit)), append(s.Y, *d.Mean)
			}
		}
		if len(s.X) > 0 {
			if s.X[0] > s.X[len(s.X)-1] {
				slices.Reverse(s.X)
				slices.Reverse(s.Y)
			}
			p.Series = append(p.Series, s)
		}
	}
	return p, len(p.Limits) > 1
}

// speedTable is pressure and travel as found and as left, and as angles.
func (r *Results) speedTable(j *Job) []layout.Block {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: "rev/min", Weight: 1, Align: "R"}}}
	for _, head := range []string{"pressure, limits", "found", "left", "travel, limits", "found", "down", "left", "down", "pump °", "crank °"} {
		weight := 1.0
		if strings.Contains(head, "limits") {
			weight = 1.7
		}
		t.Cols = append(t.Cols, layout.Col{Head: head, Weight: weight, Align: "R"})
	}
	was := map[float64]AtSpeed{}
	for _, a := range r.Was.Read {
		was[a.Speed] = a
	}
	of := func(group Group, speed float64) *Item {
		for _, it := range r.Items {
			if it.Group == group && it.Speed == speed {
				return it
			}
		}
		return nil
	}
	angle := map[float64]Advance{}
	for _, a := range r.Now.Advance {
		angle[a.Speed] = a
	}
	units := [2]string{}
	decimals := [2]int{1, 1}
	for _, it := range r.Items {
		switch it.Group {
		case Pressures:
			units[0], decimals[0] = it.Unit, it.Decimals
		case Travels:
			units[1], decimals[1] = it.Unit, it.Decimals
		}
	}
	for _, a := range r.Now.Read {
		limits := func(it *Item) string {
			if it == nil {
				return "–"
			}
			return it.Limits()
		}
		w := was[a.Speed]
		cells := []layout.Cell{{Text: calc.Fixed(a.Speed, 0)}, {Text: limits(of(Pressures, a.Speed))}, {Text: figure(w.Pressure, decimals[0])}, {Text: figure(a.Pressure, decimals[0]), Bold: true}, {Text: limits(of(Travels, a.Speed))},
			{Text: figure(w.Travel, decimals[1])}, {Text: figure(w.Down, decimals[1])}, {Text: figure(a.Travel, decimals[1]), Bold: true}, {Text: figure(a.Down, decimals[1])}, {Text: "–"}, {Text: "–"}}
		if g, ok := angle[a.Speed]; ok {
			cells[9].Text, cells[10].Text = calc.Fixed(g.Pump, 1), calc.Fixed(g.Crank, 1)
		}
		t.Rows = append(t.Rows, cells)
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []layout.Block{layout.Heading{Text: fmt.Sprintf("Supply pressure, %s, and timing travel, %s", units[0], units[1]), Right: "travel going up, then coming down; angles as left, crankshaft of a four-stroke engine"}, t}
}

// comesTo sets what the readings come to as found against as left.
func (r *Results) comesTo(j *Job) []layout.Block {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: "what the readings come to", Weight: 5.5}, {Head: "as found", Weight: 2.8, Align: "R"}, {Head: "as left", Weight: 2.8, Align: "R"}, {Head: "unit", Weight: 1.2}}}
	row := func(name, unit string, of func(*Evaluated) string) {
		was, now := of(r.Was), of(r.Now)
		if was == "" && now == "" {
			return
		}
		t.Rows = append(t.Rows, []layout.Cell{{Text: name}, {Text: orDash(was)}, {Text: orDash(now), Bold: true}, {Text: unit}})
	}
	pressure, travel, decimals := "", "", 1
	for _, x := range r.final.Pressure {
		pressure = x.Box.Unit.Symbol
	}
	for _, x := range r.final.Travel {
		travel, decimals = x.Box.Unit.Symbol, x.Box.Decimals
	}
	row("supply pressure rises, for 1000 rev/min", pressure, func(e *Evaluated) string {
		if e.Pressure == nil {
			return ""
		}
		words := figures(e.Pressure.Per1000)
		if e.Pressure.Bends != "" {
			words += ", " + e.Pressure.Bends
		}
		return words
	})
	timing := func(f func(*Timing) string) func(*Evaluated) string {
		return func(e *Evaluated) string {
			if e.Timing == nil {
				return ""
			}
			return f(e.Timing)
		}
	}
	row("timing piston begins to move at", pressure, timing(func(t *Timing) string {
		if t.Begins == nil {
			return ""
		}
		words := figures(*t.Begins)
		if t.U != nil {
			_, after, _ := strings.Cut(words, ".")
			words += " ± " + roundedUp(*t.U, len(after))
		}
		return words
	}))
	row("which is at", "rev/min", timing(func(t *Timing) string {
		if t.BeginsAt == nil {
			return ""
		}
		return calc.Fixed(*t.BeginsAt, 0)
	}))
	from := ""
	if e := r.Now.Timing; e != nil {
		from = " (from " + e.From + ")"
	}
	row("then moves for 1 "+pressure+from, travel, timing(func(t *Timing) string { return figures(t.Per) }))
	row("and by the readings alone", travel, timing(func(t *Timing) string {
		if t.Read == nil {
			return ""
		}
		return figures(*t.Read)
	}))
	row("travel gained in 1000 rev/min on the slope", travel, timing(func(t *Timing) string {
		if t.Per1000 == nil {
			return ""
		}
		return figures(*t.Per1000)
	}))
	row("its stop", travel, timing(func(t *Timing) string {
		if t.Stop == nil {
			return ""
		}
		return calc.Fixed(*t.Stop, decimals)
	}))
	row("most that coming down differs from going up", travel, func(e *Evaluated) string {
		most, sticks := math.NaN(), ""
		for _, l := range e.Loops {
			if d := math.Abs(l.Falling - l.Rising); math.IsNaN(most) || d > most {
				most = d
			}
			if l.Sticks {
				sticks = ", sticks"
			}
		}
		if math.IsNaN(most) {
			return ""
		}
		return calc.Fixed(most, decimals) + sticks
	})
	optional := func(of func(*Evaluated) *float64, decimals int) func(*Evaluated) string {
		return func(e *Evaluated) string {
			if x := of(e); x != nil {
				return calc.Fixed(*x, decimals)
			}
			return ""
		}
	}
	if d := j.Spec.Bench.Droop; d != nil {
		row("no-load speed, at "+d.NoLoadAt.String(), "rev/min", optional(func(e *Evaluated) *float64 { return e.NoLoad }, 0))
		row(fmt.Sprintf("speed droop from %s rev/min (ISO 3046-4)", calc.Fixed(d.Rated, 0)), "%", optional(func(e *Evaluated) *float64 { return e.Droop }, 1))
	}
	if s := j.Spec.Engine; s != nil {
		seen := map[string]bool{}
		for _, e := range []*Evaluated{r.Now, r.Was} {
			for _, x := range e.Engine {
				if seen[x.Name] {
					continue
				}
				seen[x.Name] = true
				row(fmt.Sprintf("estimate: fuel at full load, %s rev/min, and what it is enough for", calc.Fixed(x.Speed, 0)), "", func(e *Evaluated) string {
					for _, y := range e.Engine {
						if y.Name == x.Name {
							return calc.Fixed(y.KgPerH, 1) + " kg/h, about " + calc.Fixed(y.KW, 0) + " kW"
						}
					}
					return ""
				})
			}
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	out := []layout.Block{t}
	if s := j.Spec.Engine; s != nil && (len(r.Now.Engine) > 0 || len(r.Was.Engine) > 0) {
		out = append(out, layout.Para{Size: 7.5, Grey: true, Text: fmt.Sprintf("Estimate of the power the fuel supports: fuel of %s at 15 °C, all outlets, at a specific consumption of %s; what the engine gives is for its own test to say.", s.FuelDensity15, s.SpecificConsumption)})
	}
	return out
}

// notDone lists what could not be worked out, and why.
func (r *Results) notDone() []layout.Block {
	var out []string
	for i, e := range []*Evaluated{r.Was, r.Now} {
		for _, n := range e.NotDone {
			out = append(out, []string{"as found, ", ""}[i]+n)
		}
	}
	for _, d := range append(slices.Clone(r.Found), r.Left...) {
		if d.Why != "" {
			out = append(out, d.Name+" ("+strings.TrimSuffix(d.Code, "m")+"): "+d.Why)
		}
	}
	if out == nil {
		return nil
	}
	return []layout.Block{layout.Heading{Text: "Not worked out, and why"}, layout.Bullets{Items: out}}
}

// words say which outlet stands apart, and how far.
func (a *Apart) words() string {
	side := "above"
	if a.Percent < 0 {
		side = "below"
	}
	return fmt.Sprintf("outlet %s %s %% %s the others", a.Outlet, calc.Fixed(math.Abs(a.Percent), 1), side)
}

// apartNote names the outlets of a table that do not belong to their fellows.
func apartNote(rows []*Delivery) []layout.Block {
	var out []string
	for _, d := range rows {
		if d.Apart != nil {
			out = append(out, d.Name+": "+d.Apart.words())
		}
	}
	if out == nil {
		return nil
	}
	return note("Spread too wide; bold does not belong to the others by Grubbs' test, 5 %. " + sentence(out))
}

// deliveryTable prints each point in two lines: what it was and what came of it.
func (r *Results) deliveryTable(rows []*Delivery, judged bool, unit string) layout.Table {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: "point", Weight: 3.2}, {Head: "rev/min\nstrokes", Weight: 1.1, Align: "R"}, {Head: "oil " + unit + "\n× factor", Weight: 1.2, Align: "R"}}}
	for _, m := range r.Marks {
		t.Cols = append(t.Cols, layout.Col{Head: m, Weight: 1, Align: "R"})
	}
	t.Cols = append(t.Cols, layout.Col{Head: "mean", Weight: 1, Align: "R"}, layout.Col{Head: "limits\nspread", Weight: 1.9, Align: "R"}, layout.Col{Head: "spread", Weight: 1.1, Align: "R"})
	if judged {
		t.Cols = append(t.Cols, layout.Col{Head: "", Weight: 1.7, Align: "R"})
	}
	for _, d := range rows {
		name := d.Name
		if d.Boost != "" {
			name += ", boost " + d.Boost
		}
		oil := "–"
		if d.Oil != nil {
			oil = d.oil + "\n" + calc.Fixed(*d.Factor, 4)
		}
		cells := []layout.Cell{{Text: name}, {Text: calc.Fixed(d.Speed, 0) + "\n" + fmt.Sprint(d.Strokes)}, {Text: oil}}
		for i, o := range d.Outlets {
			text := figure(o, 1)
			if i < len(d.Off) && d.Kind != string(specs.ShutOff) {
				text += "\n" + signed(*d.Off[i], 1)
			}
			cells = append(cells, layout.Cell{Text: text, Bold: d.Apart != nil && d.Apart.Place == i})
		}
		limits := (&Item{Low: d.Low, High: d.High, Decimals: d.decimals}).Limits()
		spread := figure(d.Spread, 1)
		if d.SpreadPc != nil && d.Kind != string(specs.ShutOff) {
			absolute, percent := d.spreadDecimals, 1
			if d.Per == "%" {
				absolute, percent = 1, d.spreadDecimals
			}
			spread = calc.Fixed(*d.SpreadIs, absolute) + "\n" + calc.Fixed(*d.SpreadPc, percent) + " %"
		}
		if d.Allowed != "" {
			limits += "\n" + strings.TrimSuffix(d.Allowed+"\u00a0"+d.Per, "\u00a0"+calc.CM3Per1000.Symbol)
		}
		verdict := d.Verdict
		if d.Worst != "" && d.Worst != Meets {
			verdict = d.Worst
		}
		cells = append(cells, layout.Cell{Text: figure(d.Mean, d.decimals), Bold: true}, layout.Cell{Text: limits}, layout.Cell{Text: spread})
		if judged {
			cells = append(cells, layout.Cell{Text: string(verdict), Bold: true})
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}
