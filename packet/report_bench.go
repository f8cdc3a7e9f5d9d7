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
// left; its curves are of a height, mm.
func (j *Job) benchBlocks(r *Results, height float64) []layout.Block {
	var out []layout.Block
	if len(r.Now.Hints) > 0 {
		out = append(out, layout.Heading{Text: r.T("What to look at next"), Right: r.T("usual causes, first the most usual; the pump maker's sheet has the last word")}, r.findings(r.Now.Hints, true))
	}
	at := r.Quantity(j.Spec.Bench.Conditions.Reference)
	oil := j.Spec.Bench.Conditions.InletTemperature.Unit.Symbol
	out = append(out, layout.Heading{Text: r.T("Delivery, cm³ per 1000 strokes at %s", at), Right: r.T("below each outlet how far it is from the mean, %")}, r.deliveryTable(r.Left, true, oil))
	out = append(out, r.apartNote(r.Left)...)
	out = append(out, j.curves(r, height)...)
	out = append(out, r.speedTable(j)...)
	out = append(out, r.comesTo(j)...)
	if len(r.Found) > 0 {
		out = append(out, layout.Heading{Text: r.T("Delivery as found, cm³ per 1000 strokes at %s", at)}, r.deliveryTable(r.Found, false, oil))
		out = append(out, r.apartNote(r.Found)...)
	}
	if len(r.Was.Hints) > 0 {
		out = append(out, layout.Heading{Text: r.T("What the run as found pointed to")}, r.findings(r.Was.Hints, false))
	}
	return append(out, r.notDone()...)
}

// findings prints hints: what was seen, the readings it rests on and, where
// whole, the usual causes in order and what to check.
func (r *Results) findings(hints []Hint, whole bool) layout.Block {
	var f layout.Findings
	for _, h := range hints {
		x := layout.Finding{Text: r.finding(h)}
		rests, causes := codeWords(r.Printer, h.RestsOn), strings.Join(h.Causes, "; ")
		if whole {
			x.Lines = []string{r.T("rests on %s", rests), r.T("causes, in this order: %s", causes), "**" + h.Check + "**"}
		} else {
			x.Lines = []string{r.T("rests on %s; usual causes: %s", rests, causes)}
		}
		f.Items = append(f.Items, x)
	}
	return f
}

// normalised says how the deliveries were brought to the sheet's terms.
func (r *Results) normalised(j *Job) string {
	c := j.Spec.Bench.Conditions
	words := r.T("Deliveries are per 1000 strokes, means of the readings taken, brought to %s by the volume factor for oil of %s at 15 °C (ISO 91, ASTM D1250 table 54B); spread: %s.",
		r.Quantity(c.Reference), r.Quantity(c.Density15), spreadWords(r.Printer, &j.Spec.Bench))
	if !calc.CalibrationFluid(c.Density15.Base()) {
		words += " " + r.T("The test oil's density is not that of a calibration fluid to ISO 4113 (820 to 830 kg/m³).")
	}
	return words
}

// curves draws supply pressure and timing travel against speed, travel against
// pressure, and the boost curve where there is one.
func (j *Job) curves(r *Results, height float64) []layout.Block {
	var cols [][]layout.Block
	pressure := layout.Plot{Title: r.T("Supply pressure"), XLabel: r.Unit("rev/min"), Height: height, Empty: r.T("no readings")}
	travel := layout.Plot{Title: r.T("Timing travel"), XLabel: r.Unit("rev/min"), Height: height, Empty: r.T("no readings")}
	for _, it := range r.Items {
		bar := layout.LimitBar{X: it.Speed, Low: open(it.Low, -1), High: open(it.High, 1)}
		switch it.Group {
		case Pressures:
			pressure.Title, pressure.Limits = r.T("Supply pressure, %s", r.Unit(it.Unit)), append(pressure.Limits, bar)
		case Travels:
			travel.Title, travel.Limits = r.T("Timing travel, %s", r.Unit(it.Unit)), append(travel.Limits, bar)
		}
	}
	of := func(e *Evaluated, y func(atSpeed) *float64) (xs, ys []float64) {
		for _, a := range e.Read {
			if v := y(a); v != nil {
				xs, ys = append(xs, a.Speed), append(ys, *v)
			}
		}
		return xs, ys
	}
	isPressure := func(a atSpeed) *float64 { return a.Pressure }
	add := func(p *layout.Plot, s layout.Series, xs, ys []float64) {
		if len(xs) > 0 {
			s.X, s.Y = xs, ys
			p.Series = append(p.Series, s)
		}
	}
	xs, ys := of(r.Was, isPressure)
	add(&pressure, layout.Series{Name: r.run(0), Open: true, Dash: true, Loose: true}, xs, ys)
	xs, ys = of(r.Now, isPressure)
	add(&pressure, layout.Series{Name: r.run(1), Loose: true}, xs, ys)
	for i, c := range []*pressureLine{r.Was.Pressure, r.Now.Pressure} {
		if c == nil {
			continue
		}
		f := layout.Fit{Dash: i == 0}
		if i == 1 {
			f.Name = r.T("fit, 95 % band")
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
			if i == 1 {
				f.Name = r.T("fit")
			}
		}
		pressure.Fits = append(pressure.Fits, f)
	}
	up, down := func(a atSpeed) *float64 { return a.Travel }, func(a atSpeed) *float64 { return a.Down }
	for i, e := range []*Evaluated{r.Was, r.Now} {
		name := r.run(i)
		if i == 1 {
			name = r.T("as left, up")
		}
		xs, ys := of(e, up)
		add(&travel, layout.Series{Name: name, Open: i == 0, Dash: i == 0}, xs, ys)
		xs, ys = of(e, down)
		slices.Reverse(xs)
		slices.Reverse(ys)
		name = ""
		if i == 1 {
			name = r.T("down")
		}
		add(&travel, layout.Series{Name: name, Open: i == 0, Dash: i == 0, Mark: layout.MarkDown, Join: true}, xs, ys)
	}
	if p := r.Now.Pack; p != nil && p.Reaches {
		f := layout.Fit{Name: r.T("with the pack advised"), Dash: true}
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
		p.Title, p.XLabel = r.T("Travel on pressure, %s", r.Unit(t.Unit)), r.Unit(t.Pressure)
		s := layout.Series{Name: r.run(i), Open: i == 0, Loose: true}
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
	p := layout.Plot{Title: r.T("Delivery on boost, cm³ per 1000"), Height: height}
	var unit calc.Unit // of the first, for all
	for i, rows := range [][]*Delivery{r.Found, r.Left} {
		s := layout.Series{Name: r.run(i), Open: i == 0, Dash: i == 0}
		for _, d := range rows {
			if d.Kind != string(specs.Boost) || d.boost == nil {
				continue
			}
			if unit == (calc.Unit{}) {
				unit = d.boost.Unit
			}
			p.XLabel = r.T("boost, %s", r.Unit(unit.Symbol))
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
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: r.Unit("rev/min")}, {Head: r.T("pressure, limits")}, {Head: r.T("found")}, {Head: r.T("left")}, {Head: r.T("travel, limits")},
		{Head: r.T("found")}, {Head: r.T("down")}, {Head: r.T("left")}, {Head: r.T("down")}, {Head: r.T("pump °")}, {Head: r.T("crank °")}}}
	for i := range t.Cols {
		t.Cols[i].Weight, t.Cols[i].Align = 1, "R"
	}
	t.Cols[1].Weight, t.Cols[4].Weight = 1.7, 1.7 // the limits
	was := map[float64]atSpeed{}
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
			return it.limits()
		}
		w := was[a.Speed]
		cells := []layout.Cell{{Text: r.Fixed(a.Speed, 0)}, {Text: limits(of(Pressures, a.Speed))}, {Text: figure(r.Printer, w.Pressure, decimals[0])}, {Text: figure(r.Printer, a.Pressure, decimals[0]), Bold: true}, {Text: limits(of(Travels, a.Speed))},
			{Text: figure(r.Printer, w.Travel, decimals[1])}, {Text: figure(r.Printer, w.Down, decimals[1])}, {Text: figure(r.Printer, a.Travel, decimals[1]), Bold: true}, {Text: figure(r.Printer, a.Down, decimals[1])}, {Text: "–"}, {Text: "–"}}
		if g, ok := angle[a.Speed]; ok {
			cells[9].Text, cells[10].Text = r.Fixed(g.Pump, 1), r.Fixed(g.Crank, 1)
		}
		t.Rows = append(t.Rows, cells)
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []layout.Block{layout.Heading{Text: r.T("Supply pressure, %s, and timing travel, %s", r.Unit(units[0]), r.Unit(units[1])), Right: r.T("travel going up, then coming down; angles as left, crankshaft of a four-stroke engine")}, t}
}

// comesTo sets what the readings come to as found against as left.
func (r *Results) comesTo(j *Job) []layout.Block {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: r.T("what the readings come to"), Weight: 5.5}, {Head: r.run(0), Weight: 2.8, Align: "R"}, {Head: r.run(1), Weight: 2.8, Align: "R"}, {Head: r.T("unit"), Weight: 1.2}}}
	row := func(name, unit string, of func(*Evaluated) string) {
		was, now := of(r.Was), of(r.Now)
		if was == "" && now == "" {
			return
		}
		t.Rows = append(t.Rows, []layout.Cell{{Text: name}, {Text: orDash(was)}, {Text: orDash(now), Bold: true}, {Text: unit}})
	}
	pressure, travel, decimals := "", "", 1
	for _, x := range r.final.Pressure {
		pressure = r.Unit(x.Box.Unit.Symbol)
	}
	for _, x := range r.final.Travel {
		travel, decimals = r.Unit(x.Box.Unit.Symbol), x.Box.Decimals
	}
	row(r.T("supply pressure rises, for 1000 rev/min"), pressure, func(e *Evaluated) string {
		if e.Pressure == nil {
			return ""
		}
		return join(", ", figures(r.Printer, e.Pressure.Per1000), r.T(e.Pressure.Bends))
	})
	timing := func(f func(*Timing) string) func(*Evaluated) string {
		return func(e *Evaluated) string {
			if e.Timing == nil {
				return ""
			}
			return f(e.Timing)
		}
	}
	row(r.T("timing piston begins to move at"), pressure, timing(func(t *Timing) string {
		if t.Begins == nil {
			return ""
		}
		if t.U != nil {
			return figures(r.Printer, *t.Begins) + " ± " + roundedUp(r.Printer, *t.U, counting(*t.Begins))
		}
		return figures(r.Printer, *t.Begins)
	}))
	row(r.T("which is at"), r.Unit("rev/min"), timing(func(t *Timing) string {
		if t.BeginsAt == nil {
			return ""
		}
		return r.Fixed(*t.BeginsAt, 0)
	}))
	moves := r.T("then moves for 1 %s", pressure)
	if t := r.Now.Timing; t != nil {
		moves = r.T("then moves for 1 %s (from the readings)", pressure)
		if t.From == fromSheet {
			moves = r.T("then moves for 1 %s (from the sheet's piston and spring)", pressure)
		}
	}
	row(moves, travel, timing(func(t *Timing) string { return figures(r.Printer, t.Per) }))
	row(r.T("and by the readings alone"), travel, timing(func(t *Timing) string {
		if t.Read == nil {
			return ""
		}
		return figures(r.Printer, *t.Read)
	}))
	row(r.T("travel gained in 1000 rev/min on the slope"), travel, timing(func(t *Timing) string {
		if t.Per1000 == nil {
			return ""
		}
		return figures(r.Printer, *t.Per1000)
	}))
	row(r.T("its stop"), travel, timing(func(t *Timing) string {
		if t.Stop == nil {
			return ""
		}
		return r.Fixed(*t.Stop, decimals)
	}))
	row(r.T("most that coming down differs from going up"), travel, func(e *Evaluated) string {
		most, sticks := math.NaN(), false
		for _, l := range e.Loops {
			if d := math.Abs(l.Falling - l.Rising); math.IsNaN(most) || d > most {
				most = d
			}
			sticks = sticks || l.Sticks
		}
		switch {
		case math.IsNaN(most):
			return ""
		case sticks:
			return r.T("%s, sticks", r.Fixed(most, decimals))
		}
		return r.Fixed(most, decimals)
	})
	optional := func(of func(*Evaluated) *float64, decimals int) func(*Evaluated) string {
		return func(e *Evaluated) string {
			if x := of(e); x != nil {
				return r.Fixed(*x, decimals)
			}
			return ""
		}
	}
	if d := j.Spec.Bench.Droop; d != nil {
		row(r.T("no-load speed, at %s", r.Quantity(d.NoLoadAt)), r.Unit("rev/min"), optional(func(e *Evaluated) *float64 { return e.NoLoad }, 0))
		row(r.T("speed droop from %s rev/min (ISO 3046-4)", r.Fixed(d.Rated, 0)), "%", optional(func(e *Evaluated) *float64 { return e.Droop }, r.final.Droop.Decimals))
	}
	if s := j.Spec.Engine; s != nil {
		seen := map[string]bool{}
		for _, e := range []*Evaluated{r.Now, r.Was} {
			for _, x := range e.Engine {
				if seen[x.Name] {
					continue
				}
				seen[x.Name] = true
				row(r.T("estimate: fuel at full load, %s rev/min, and what it is enough for", r.Fixed(x.Speed, 0)), "", func(e *Evaluated) string {
					for _, y := range e.Engine {
						if y.Name == x.Name {
							return r.T("%s kg/h, about %s kW", r.Fixed(y.KgPerH, 1), r.Fixed(y.KW, 0))
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
		out = append(out, layout.Para{Size: 7.5, Grey: true, Text: r.T("Estimate of the power the fuel supports: fuel of %s at 15 °C, all outlets, at a specific consumption of %s; what the engine gives is for its own test to say.", r.Quantity(s.FuelDensity15), r.Quantity(s.SpecificConsumption))})
	}
	return out
}

// notDone lists what could not be worked out, and why.
func (r *Results) notDone() []layout.Block {
	var out []string
	for i, e := range []*Evaluated{r.Was, r.Now} {
		for _, n := range e.NotDone {
			if i == 0 {
				n = r.T("as found, %s", n)
			}
			out = append(out, n)
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
	return []layout.Block{layout.Heading{Text: r.T("Not worked out, and why")}, layout.Bullets{Items: out}}
}

// apart says which outlet stands apart, and how far.
func (r *Results) apart(a *Apart) string {
	by := r.Fixed(math.Abs(a.Percent), 1)
	if a.Percent < 0 {
		return r.T("outlet %s %s %% below the others", a.Outlet, by)
	}
	return r.T("outlet %s %s %% above the others", a.Outlet, by)
}

// apartNote names the outlets of a table that do not belong to their fellows.
func (r *Results) apartNote(rows []*Delivery) []layout.Block {
	var out []string
	for _, d := range rows {
		if d.Apart != nil {
			out = append(out, d.Name+": "+r.apart(d.Apart))
		}
	}
	if out == nil {
		return nil
	}
	return note(r.T("Spread too wide; bold does not belong to the others by Grubbs' test, 5 %.") + " " + sentence(out))
}

// worse tells that a verdict says more against a pump than another.
func worse(a, b Verdict) bool {
	order := []Verdict{"", Meets, NotMeasured, InDoubt, TooClose, DoesNotMeet}
	return slices.Index(order, a) > slices.Index(order, b)
}

// deliveryTable prints each point in two lines, what it was and what came of it;
// of a pump with many outlets in as many rows as the sheet has.
func (r *Results) deliveryTable(rows []*Delivery, judged bool, unit string) layout.Table {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: r.T("point"), Weight: 3.2}, {Head: r.T("rev/min\nstrokes"), Weight: 1.1, Align: "R"}, {Head: r.T("oil %s\n× factor", unit), Weight: 1.2, Align: "R"}}}
	lines, across := outletLines(len(r.Marks))
	for i := range across {
		t.Cols = append(t.Cols, layout.Col{Head: outletHead(r.Marks, i, across), Weight: 1, Align: "R"})
	}
	t.Cols = append(t.Cols, layout.Col{Head: r.T("mean"), Weight: 1, Align: "R"}, layout.Col{Head: r.T("limits\nspread"), Weight: 1.9, Align: "R"}, layout.Col{Head: r.T("spread"), Weight: 1.1, Align: "R"})
	if judged {
		t.Cols = append(t.Cols, layout.Col{Head: "", Weight: 1.7, Align: "R"})
	}
	for _, d := range rows {
		name := d.Name
		if d.boost != nil {
			name = r.T("%s, boost %s", name, r.Quantity(*d.boost))
			if d.boostRead != "" {
				name = r.T("%s, read %s", name, d.boostRead)
			}
		}
		oil := "–"
		if d.Oil != nil {
			oil = d.oil + "\n" + r.Fixed(*d.Factor, 4)
		}
		var outlets []layout.Cell
		for i, o := range d.Outlets {
			text := figure(r.Printer, o, 1)
			if i < len(d.Off) && d.Kind != string(specs.ShutOff) {
				text += "\n" + signed(r.Printer, *d.Off[i], 1)
			}
			outlets = append(outlets, layout.Cell{Text: text, Bold: d.Apart != nil && d.Apart.Place == i})
		}
		outlets = append(outlets, make([]layout.Cell, lines*across-len(outlets))...)
		limits := limitsWords(r.Printer, specs.Range{Low: open(d.Low, -1), High: open(d.High, 1), Decimals: d.decimals})
		spread := figure(r.Printer, d.Spread, 1)
		if d.SpreadPc != nil && d.Kind != string(specs.ShutOff) {
			absolute, percent := d.spreadDecimals, 1
			if d.Per == "%" {
				absolute, percent = 1, d.spreadDecimals
			}
			spread = r.Fixed(*d.SpreadIs, absolute) + "\n" + r.Fixed(*d.SpreadPc, percent) + " %"
		}
		if d.Allowed != "" {
			limits += "\n" + strings.TrimSuffix(d.Allowed+"\u00a0"+d.Per, "\u00a0"+calc.CM3Per1000.Symbol)
		}
		verdict := d.Verdict
		if worse(d.Worst, verdict) {
			verdict = d.Worst
		}
		before := []layout.Cell{{Text: name}, {Text: r.Fixed(d.Speed, 0) + "\n" + fmt.Sprint(d.Strokes)}, {Text: oil}}
		after := []layout.Cell{{Text: figure(r.Printer, d.Mean, d.decimals), Bold: true}, {Text: limits}, {Text: spread}}
		if judged {
			after = append(after, layout.Cell{Text: r.T(string(verdict)), Bold: true})
		}
		for line := range slices.Chunk(outlets, across) {
			t.Rows = append(t.Rows, slices.Concat(before, line, after))
			before, after = make([]layout.Cell, len(before)), make([]layout.Cell, len(after))
		}
	}
	return t
}
