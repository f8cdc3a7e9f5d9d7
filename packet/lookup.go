package packet

import (
	"fmt"
	"math"

	"shimcard/calc"
	"shimcard/layout"
)

// The most of a chart that leaves room for the rest of its sheet.
const (
	chartRows    = 15 // on A4
	chartColumns = 21
	stackRows    = 13 // on A4
	letterLess   = 5  // rows fewer on Letter, which is 18 mm shorter
)

// lookup is the chart that answers what the arithmetic above it works out; less
// is by how many rows the paper is shorter than A4.
func (a *Adjustment) lookup(less int) []layout.Block {
	switch {
	case a.Dim.Thread != nil:
		return a.turnsChart()
	case a.Dim.Shims.Prescribed > 0 || a.Dim.Shims.MostPerPlace > 1:
		return a.stackChart(stackRows - less)
	}
	return a.shimChart(chartRows - less)
}

func (a *Adjustment) f(l calc.Length) string { return l.Fixed(a.Dim.Unit, a.Dim.Decimals) }

// step is the last printed figure of the dimension.
func (a *Adjustment) step() calc.Length {
	return calc.LengthOf(math.Pow10(-a.Dim.Decimals), a.Dim.Unit)
}

// shimChart: measured down the side, shim taken out along the top, shim to fit
// where they meet.
func (a *Adjustment) shimChart(most int) []layout.Block {
	d := a.Dim
	reach := max(d.High-d.Target, d.Target-d.Low) * 14 / 5
	c, err := calc.ChartFor(calc.ChartQuestion{
		Question: a.question(0, 0), Rows: most, Columns: chartColumns,
		RowLow: d.Target - reach, RowHigh: d.Target + reach, Step: a.step(),
	})
	if err != nil {
		return note("no chart: " + err.Error())
	}
	out := layout.Chart{Corner: a.Measured.Code + " \\ " + a.Present.Code, Outline: true}
	for _, p := range c.Present {
		out.Head = append(out.Head, a.f(p))
	}
	blank := false
	for i, m := range c.Measured {
		row := layout.ChartRow{Head: a.f(m)}
		for _, cell := range c.Cell[i] {
			switch cell.Kind {
			case calc.CellKeep:
				row.Cells = append(row.Cells, layout.ChartCell{Text: "keep", Shade: true})
			case calc.CellFit:
				row.Cells = append(row.Cells, layout.ChartCell{Text: a.f(cell.Total)})
			default:
				blank = true
				row.Cells = append(row.Cells, layout.ChartCell{Text: "–", Faint: true})
			}
		}
		out.Rows = append(out.Rows, row)
	}
	part := d.Shims.Tray.Part
	words := "Grey: inside the limits, keep the " + part + "."
	if blank {
		words += fmt.Sprintf(" “–”: no %s of the tray reaches the limits; stop and ask.", part)
	}
	sizes := d.Shims.Tray.Sizes
	words += fmt.Sprintf(" Between two lines take the nearer. Tray: %d sizes, %s to %s.", len(sizes), a.f(sizes[0]), a.f(sizes[len(sizes)-1]))
	return append(heading(fmt.Sprintf("Or read it off (%s)", d.Unit.Symbol),
		fmt.Sprintf("measured down the side, %s taken out along the top, %s to fit where they meet", part, part)),
		append([]layout.Block{out}, note(words)...)...)
}

// stackChart: for each wanted thickness, the shims that make it.
func (a *Adjustment) stackChart(most int) []layout.Block {
	d, s := a.Dim, a.Dim.Shims
	low, high := s.Tray.Sizes[0], s.Tray.Sizes[len(s.Tray.Sizes)-1]*calc.Length(s.MostPerPlace)
	if s.Prescribed > 0 {
		reach := max(d.High-d.Target, d.Target-d.Low) * 6
		low, high = max(low, d.Target-s.Prescribed-reach), min(high, d.Target-s.Prescribed+reach)
	}
	across := 4
	if d.Decimals > 2 {
		across = 3 // what the page is wide enough for
	}
	step := a.step()
	for k := 0; (high-low)/step >= calc.Length(across*most); k++ {
		step = step * calc.Length([]int{2, 5, 10}[k%3]) / calc.Length([]int{1, 2, 5}[k%3])
	}
	rows := calc.StackTable(s.Tray.Sizes, s.MostPerPlace, (low+step-1)/step*step, high/step*step, step)
	per := (len(rows) + across - 1) / across
	out := layout.Chart{Corner: "wanted"}
	for i := range across {
		if i > 0 {
			out.Head = append(out.Head, "wanted")
		}
		out.Head = append(out.Head, "fit", "makes")
	}
	for i := range per {
		row := layout.ChartRow{}
		for k := range across {
			j := i + k*per
			cells := make([]layout.ChartCell, 3)
			if j < len(rows) {
				cells = []layout.ChartCell{{Text: a.f(rows[j].Wanted), Shade: true}, {Text: stackWords(rows[j].Stack, d.Unit, d.Decimals)}, {Text: a.f(rows[j].Total), Faint: rows[j].Total == rows[j].Wanted}}
			}
			if k == 0 {
				row.Head = cells[0].Text
				cells = cells[1:]
			}
			row.Cells = append(row.Cells, cells...)
		}
		out.Rows = append(out.Rows, row)
	}
	words := fmt.Sprintf("Nearest stack of at most %d from the tray: %d sizes, %s to %s.", s.MostPerPlace, len(s.Tray.Sizes), a.f(s.Tray.Sizes[0]), a.f(s.Tray.Sizes[len(s.Tray.Sizes)-1]))
	title := "Or read it off: stack for each side"
	switch {
	case s.Prescribed > 0:
		title = fmt.Sprintf("Or read it off: cap pack, besides %s at the piston", a.f(s.Prescribed))
	case s.Places > 1:
		words += " The same stack on both sides, always."
	}
	return append(heading(title+" ("+d.Unit.Symbol+")", ""), append([]layout.Block{out}, note(words)...)...)
}

// turnsChart: what is measured, and how far and which way to turn.
func (a *Adjustment) turnsChart() []layout.Block {
	d := a.Dim
	reach := max(d.High-d.Target, d.Target-d.Low) * 5
	step := a.step()
	for k := 0; 2*reach/step >= 20; k++ {
		step = step * calc.Length([]int{2, 5, 10}[k%3]) / calc.Length([]int{1, 2, 5}[k%3])
	}
	var values []calc.Length
	for m := (d.Target - reach) / step * step; m <= d.Target+reach; m += step {
		values = append(values, m)
	}
	const across = 10
	var out []layout.Block
	for len(values) > 0 {
		n := min(across, len(values))
		c := layout.Chart{Corner: a.Measured.Code, Outline: true}
		way, turns := layout.ChartRow{Head: "turn"}, layout.ChartRow{Head: "turns"}
		for _, m := range values[:n] {
			c.Head = append(c.Head, a.f(m))
			if m >= d.Low && m <= d.High {
				way.Cells = append(way.Cells, layout.ChartCell{Text: "keep", Shade: true})
				turns.Cells = append(turns.Cells, layout.ChartCell{Text: "0", Shade: true})
				continue
			}
			t, clockwise := calc.Turns(d.Target-m, d.Thread.Pitch, d.Thread.LeftHanded, d.Thread.OutGrows)
			dir := "anticlockwise"
			if clockwise {
				dir = "clockwise"
			}
			way.Cells = append(way.Cells, layout.ChartCell{Text: dir})
			turns.Cells = append(turns.Cells, layout.ChartCell{Text: calc.Fixed(math.Abs(t), 2)})
		}
		c.Rows = []layout.ChartRow{turns, way}
		out = append(out, c)
		values = values[n:]
	}
	hand := "right"
	if d.Thread.LeftHanded {
		hand = "left"
	}
	words := fmt.Sprintf("%s-hand thread, %s %s a turn; clockwise as seen on the end that is turned. Grey: inside the limits, leave it.", hand, a.f(d.Thread.Pitch), d.Unit.Symbol)
	return append(heading("Or read it off: measured, turns, direction", ""), append(out, note(words)...)...)
}

// question is what the picker is asked, for the dimension as measured with the
// present shim in each place.
func (a *Adjustment) question(measured, present calc.Length) calc.Question {
	d, s := a.Dim, a.Dim.Shims
	return calc.Question{
		Measured: measured, Present: present, Target: d.Target, Low: d.Low, High: d.High,
		Effect: d.Effect, Places: s.Places, MostPerPlace: s.MostPerPlace, Tray: s.Tray.Sizes, Prescribed: s.Prescribed,
	}
}

// sample returns figures for the worked line: a reading clearly outside the
// limits, and a present shim from the middle of the tray.
func (a *Adjustment) sample() (measured, present calc.Length) {
	d := a.Dim
	step := calc.LengthOf(math.Pow10(-d.Decimals), d.Unit)
	measured = d.High + max((d.High-d.Low)*9/10/step*step, step)
	if d.Shims == nil {
		return measured, 0
	}
	sizes := d.Shims.Tray.Sizes
	present = sizes[len(sizes)/3]
	if d.Shims.Prescribed > 0 {
		present = measured
	}
	return measured, present
}

// worked is the arithmetic with sample figures, computed by the same functions
// that make the chart and the report.
func (a *Adjustment) worked() string {
	d := a.Dim
	measured, present := a.sample()
	f := func(l calc.Length) string { return l.Fixed(d.Unit, d.Decimals) }
	if d.Thread != nil {
		turns, clockwise := calc.Turns(d.Target-measured, d.Thread.Pitch, d.Thread.LeftHanded, d.Thread.OutGrows)
		way := "anticlockwise"
		if clockwise {
			way = "clockwise"
		}
		return fmt.Sprintf("worked line: %s − %s = %s; one turn is %s, so %s turn %s",
			f(d.Target), f(measured), (d.Target-measured).Signed(d.Unit, d.Decimals), f(d.Thread.Pitch), calc.Fixed(math.Abs(turns), 2), way)
	}
	ans, err := calc.PickShims(a.question(measured, present))
	if err != nil || !ans.Reaches {
		return ""
	}
	if d.Shims.Prescribed > 0 {
		return fmt.Sprintf("worked line: %s − %s = %s for the cap; nearest from the tray %s = %s",
			f(d.Target), f(d.Shims.Prescribed), f(ans.Wanted-d.Shims.Prescribed), stackWords(ans.Best.Stack, d.Unit, d.Decimals), f(ans.Best.Total-d.Shims.Prescribed))
	}
	change := ans.Wanted - present
	first := fmt.Sprintf("%s − %s", f(d.Target), f(measured))
	if d.Effect == -1 {
		first = fmt.Sprintf("%s − %s", f(measured), f(d.Target))
	} else if d.Effect != 1 {
		first = fmt.Sprintf("(%s) ÷ %s", first, calc.Fixed(d.Effect, 2))
	}
	stack := f(ans.Best.Total)
	if len(ans.Best.Stack) > 1 {
		stack = stackWords(ans.Best.Stack, d.Unit, d.Decimals) + " = " + stack
	}
	delta := ans.Best.Predicted - measured
	sign := "+"
	if delta < 0 {
		sign, delta = "−", -delta
	}
	return fmt.Sprintf("worked line: %s = %s; %s + %s = %s wanted; from the tray %s; then it reads %s %s %s = %s",
		first, change.Signed(d.Unit, d.Decimals), change.Fixed(d.Unit, d.Decimals), f(present), f(ans.Wanted), stack,
		f(measured), sign, f(delta), f(ans.Best.Predicted))
}

// stackWords writes a stack as a person would: "0.60 + 0.55".
func stackWords(stack []calc.Length, u calc.Unit, decimals int) string {
	out := ""
	for i, s := range stack {
		if i > 0 {
			out += " + "
		}
		out += s.Fixed(u, decimals)
	}
	return out
}
