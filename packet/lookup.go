package packet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/packet/words"
)

// The most of a chart that leaves room for the rest of its sheet.
const (
	chartLines = 18  // on A4, with the heads, the line to keep and the sizes by the sum
	stripLines = 14  // columns beside the one to keep
	turnLines  = 44  // the same of the turns, in parts one below the other
	turnParts  = 4   // of so many such columns
	chartWidth = 180 // mm
)

// charts are what the picker says of every line of an adjustment's charts. Each is
// worked out once, when it is first asked for, however often a sheet is fitted to
// its page and for however many jobs.
type charts struct {
	whole      func() (calc.Chart, error)      // of all the sizes of the tray
	strip      func() (calc.Chart, error)      // of one size in the middle of an endless even tray
	stackTable func() ([]calc.StackRow, error) // of all stacks, as far as is believable
	sizesBySum func() ([]calc.StackRow, error) // of the size for every sum there can be
}

func chartsOf(a *Adjustment) charts {
	return charts{sync.OnceValues(a.wholeChart), sync.OnceValues(a.endlessStrip), sync.OnceValues(a.allStacks), sync.OnceValues(a.allSums)}
}

// lookup is the chart that answers what the arithmetic above it works out; less
// is by how many lines the paper is shorter than A4.
func (a *Adjustment) lookup(less int) []layout.Block {
	switch {
	case a.Dim.Thread != nil:
		return a.turnsChart(less)
	case a.nothing():
		return note(a.T("No chart: too few of every %s in stock today. Order what the sum asks for.", a.part()))
	case a.stacked():
		return a.stackChart(less)
	case a.strips():
		return a.stripChart()
	}
	return a.shimChart(less)
}

func (a *Adjustment) noChart(err error) []layout.Block {
	return note(a.T("No chart: use the sum. (%s)", reason(a.Printer, err)))
}

// stacked tells that more than one shim can be fitted in one place.
func (a *Adjustment) stacked() bool {
	return a.Dim.Shims.Prescribed > 0 || a.Dim.Shims.MostPerPlace > 1
}

// short lists the sizes of which there are too few to fit.
func (a *Adjustment) short() []calc.Length {
	var out []calc.Length
	for i, n := range a.Stock {
		if n < a.Dim.Shims.Places {
			out = append(out, a.Dim.Shims.Tray.Sizes[i])
		}
	}
	return out
}

func (a *Adjustment) nothing() bool { return len(a.short()) == len(a.Dim.Shims.Tray.Sizes) }

// shortWords says which sizes a chart does not offer.
func (a *Adjustment) shortWords() string {
	out := a.short()
	if len(out) == 0 {
		return ""
	}
	list := make([]string, len(out))
	for i, l := range out {
		list[i] = a.f(l)
	}
	sizes := strings.Join(list, ", ")
	switch p := a.Dim.Shims.Places; {
	case p == 2:
		return a.T("Too few for both sides today: %s.", sizes)
	case p > 2:
		return a.T("Too few for %d places today: %s.", p, sizes)
	}
	return a.T("None in stock today: %s.", sizes)
}

// part is what the tray holds, in the language of the shop.
func (a *Adjustment) part() string { return nameWord(a.Printer, a.Dim.Shims.Tray.Part) }

// f writes a length of the dimension or of its shims.
func (a *Adjustment) f(l calc.Length) string { return a.Mark(l.Fixed(a.Dim.Unit, a.decimals())) }

func (a *Adjustment) decimals() int {
	if a.Dim.Shims == nil {
		return a.Dim.Decimals
	}
	return max(a.Dim.Decimals, a.Dim.Shims.Tray.Decimals)
}

// read writes a reading, to its last figure.
func (a *Adjustment) read(l calc.Length) string { return a.Mark(l.Fixed(a.Dim.Unit, a.Dim.Decimals)) }

// zone writes in which readings nothing need change.
func (a *Adjustment) zone() string { return a.read(a.Low) + " – " + a.read(a.High) }

// allowance is how far from its target a pack may be, either way.
func (a *Adjustment) allowance() string {
	return a.T("%s less or %s more", a.read(a.Dim.Target-a.Low), a.read(a.High-a.Dim.Target))
}

// zoneUnit is the zone with its unit.
func (a *Adjustment) zoneUnit() string { return a.zone() + " " + a.Dim.Unit.Symbol }

// zoneLine says what the zone is in which nothing need change, and why.
func (a *Adjustment) zoneLine() string {
	u := a.Mark(a.Uncertainty.Fixed(a.Dim.Unit, a.Dim.Decimals+1))
	why := a.T("the limits less the uncertainty of a reading, ±%s.", u)
	switch {
	case a.Coarse:
		why = a.T("the limits. The uncertainty of a reading, ±%s, is too coarse for these limits and this tray: take a finer instrument, or the report may not decide.", u)
	case a.Uncertainty == 0:
		why = a.T("the limits; the uncertainty of a reading is not known.")
	}
	return a.T("**Zone to keep: %s**, its ends included: %s", a.zoneUnit(), why)
}

// lines are the readings a chart may have a line for.
func (a *Adjustment) lines(most int) calc.Lines {
	d := a.Dim
	return calc.Lines{Reading: calc.LengthOf(math.Pow10(-d.Decimals), d.Unit), From: d.BelievableLow, To: d.BelievableHigh, Most: most}
}

// perBand is how many columns fit beside each other in type that can be read.
func (a *Adjustment) perBand() int {
	sizes := a.Dim.Shims.Tray.Sizes
	return max(27-3*len(a.f(sizes[len(sizes)-1]))/2, 1)
}

// bands is in how many parts, one below the other, all sizes of the tray fit.
func (a *Adjustment) bands() int {
	return (len(a.Dim.Shims.Tray.Sizes) + a.perBand() - 1) / a.perBand()
}

// strips tells that a tray with too many sizes for one band has them evenly
// spaced: then the difference to what came out says it all in one line.
func (a *Adjustment) strips() bool {
	s := a.Dim.Shims.Tray.Sizes
	for i := 2; i < len(s); i++ {
		if s[i]-s[i-1] != s[1]-s[0] {
			return false
		}
	}
	return a.bands() > 1
}

// mostLines is how many lines the chart for all sizes of the tray may have on a
// paper less lines shorter than A4.
func (a *Adjustment) mostLines(less int) int {
	bands := a.bands()
	return max((chartLines-less-2*bands)/bands-2, 2)
}

// wholeChart is the chart for all sizes of the tray, as long as it may be on A4.
func (a *Adjustment) wholeChart() (calc.Chart, error) {
	if a.mostLines(0) == 2 {
		return calc.Chart{}, &calc.Error{Of: "chart", Format: "a tray of %d sizes is too large for this page", Args: []any{len(a.Dim.Shims.Tray.Sizes)}}
	}
	return calc.ChartFor(calc.ChartQuestion{Question: a.question(0, 0), Lines: a.lines(a.mostLines(0)), Presents: a.Dim.Shims.Tray.Sizes})
}

// chart is the same on a paper less lines shorter. Its lines stand as on A4.
func (a *Adjustment) chart(less int) (calc.Chart, error) {
	c, err := a.whole()
	from, to := nearestLimits(len(c.Measured), c.Under, a.mostLines(less))
	c.Measured, c.Cell, c.Under = c.Measured[from:to], c.Cell[from:to], c.Under-from
	return c, err
}

// nearestLimits leaves out the lines of a chart that stand farthest from the
// limits until no more than most are left: those from from to to stay.
func nearestLimits(n, under, most int) (from, to int) {
	to = n
	for to-from > most {
		below, above := under-from, to-under
		if above >= below {
			to--
		}
		if below >= above {
			from++
		}
	}
	return from, to
}

// sampleCell is the cell of a chart that the worked line explains: a figure
// in the middle of the second line above the limits, or one near it.
func sampleCell(c calc.Chart) (i, j int, ok bool) {
	for _, i := range []int{c.Under + 1, c.Under, c.Under - 2, c.Under - 1} {
		if i < 0 || i >= len(c.Measured) {
			continue
		}
		for k := range c.Present {
			j := (len(c.Present)/3 + k) % len(c.Present)
			if c.Cell[i][j].Kind == calc.CellFit {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

// shimChart: measured down the side, shim taken out along the top, shim to fit
// where they meet.
func (a *Adjustment) shimChart(less int) []layout.Block {
	c, err := a.chart(less)
	if err != nil {
		return a.noChart(err)
	}
	part := a.part()
	out := layout.Chart{Corner: a.Measured.Code + " \\ " + a.Present.Code, Outline: true}
	keep := layout.ChartRow{Head: a.zone()}
	for _, p := range c.Present {
		out.Head = append(out.Head, a.f(p))
		keep.Cells = append(keep.Cells, layout.ChartCell{Text: a.T("keep"), Shade: true})
	}
	measured, present, sampled := a.sample()
	none := ""
	for i, m := range c.Measured {
		row := layout.ChartRow{Head: a.read(m)}
		for j, cell := range c.Cell[i] {
			w := layout.ChartCell{Text: a.f(cell.Total), Mark: sampled && m == measured && c.Present[j] == present}
			// The line is for its own reading; what its neighbours take is the sum's.
			if x := cell.Predicted; cell.Kind == calc.CellNone || x < a.Low || x > a.High {
				w = layout.ChartCell{Text: "–", Faint: true}
				none = a.T("“–”: no %s fits; stop and ask.", part)
			}
			row.Cells = append(row.Cells, w)
		}
		out.Rows = append(out.Rows, row)
	}
	out.Rows = slices.Insert(out.Rows, c.Under, keep)
	return slices.Concat(heading(a.T("Or read it off (%s)", a.Dim.Unit.Symbol),
		a.T("measured down the side, %s out along the top, the one to fit where they meet", part)),
		[]layout.Block{out}, a.sizeChart(),
		rule(join(" ", a.T("Reading and %s out exactly on a line and a column: read it off. Between them, or off the chart: %s", part, a.beyond())),
			join(" ", a.T("Grey: keep."), none, a.shortWords())))
}

// allSums lists what size serves every sum there can be, to the last figure of
// reading and tray.
func (a *Adjustment) allSums() ([]calc.StackRow, error) {
	return calc.StackTable(a.question(0, 0), calc.LengthOf(math.Pow10(-a.decimals()), a.Dim.Unit), a.mostWanted())
}

// everyStep tells that the sizes in stock are even steps: the nearest to the
// sum needs no chart.
func (a *Adjustment) everyStep() bool { return a.strips() && len(a.short()) == 0 }

// sizeChart: for readings off the chart, what the sum wants along the top, and
// below it the size to fit. Each column goes on from the one before it.
func (a *Adjustment) sizeChart() []layout.Block {
	rows, err := a.sizesBySum()
	if err != nil || len(rows) == 0 || a.everyStep() {
		return nil
	}
	out := layout.Chart{Corner: a.T("%s up to", a.Wanted.Code), Rows: []layout.ChartRow{{Head: a.T("to fit")}}}
	for _, r := range rows {
		out.Head = append(out.Head, a.f(r.To))
		fit := layout.ChartCell{Text: a.f(r.Total)}
		if r.Total == 0 {
			fit = layout.ChartCell{Text: "–", Faint: true}
		}
		out.Rows[0].Cells = append(out.Rows[0].Cells, fit)
	}
	return []layout.Block{layout.Space{H: 1.5}, out}
}

// beyond says what to do between the lines of a chart, and off it.
func (a *Adjustment) beyond() string {
	rows, err := a.sizesBySum()
	if err != nil || len(rows) == 0 {
		return a.T("stop and ask.")
	}
	below, above := a.f(rows[0].From), a.f(rows[len(rows)-1].To)
	if a.everyStep() {
		return a.T("the sum, then the size nearest to it. %s below %s or above %s: stop and ask.", a.Wanted.Code, below, above)
	}
	return a.T("the sum, then the line of sizes: “%s up to”, the first figure not below it. %[1]s below %[2]s or above %[3]s: stop and ask.", a.Wanted.Code, below, above)
}

// expectedLabel is what the box of a refit is called that predicts its reading.
const expectedLabel = "should now read"

// endlessStrip is the chart of one shim in the middle of an endless even tray: how
// much thicker or thinner the next one must be does not depend on which.
func (a *Adjustment) endlessStrip() (c calc.Chart, err error) {
	s := a.Dim.Shims.Tray.Sizes
	gap := s[1] - s[0]
	q := a.question(0, 0)
	q.Tray, q.Stock = nil, nil
	reach := max(a.Dim.BelievableHigh-a.Dim.Low, a.Dim.High-a.Dim.BelievableLow)
	n := calc.Length(math.Ceil(float64(reach)/math.Abs(q.Effect)/float64(gap))) + 1
	if n > 2000 {
		return c, &calc.Error{Of: "chart", Format: "the sizes of the tray are too fine for a chart"}
	}
	for i := range 2*n + 1 {
		q.Tray = append(q.Tray, (i+1)*gap)
	}
	return calc.ChartFor(calc.ChartQuestion{Question: q, Lines: a.lines(stripLines), Presents: []calc.Length{(n + 1) * gap}})
}

// stripChart: measured along the top, below it how the shim to fit differs
// from the one taken out.
func (a *Adjustment) stripChart() []layout.Block {
	c, err := a.strip()
	if err != nil {
		return a.noChart(err)
	}
	part := a.part()
	out := a.across(c.Measured, c.Under, []string{part, a.T("by how much")}, func(i int) []string {
		change := c.Cell[i][0].Total - c.Present[0]
		if change < 0 {
			return []string{a.T("thinner"), a.f(-change)}
		}
		return []string{a.T("thicker"), a.f(change)}
	})
	if i, _, _, ok := a.sampleStrip(c); ok {
		a.mark(&out, c.Under, i)
	}
	sizes := a.Dim.Shims.Tray.Sizes
	words := join(" ", a.T("Grey: keep."),
		a.T("The tray has %s to %s by %s.", a.f(sizes[0]), a.f(sizes[len(sizes)-1]), a.f(sizes[1]-sizes[0])), a.shortWords())
	return append(heading(a.T("Or read it off (%s)", a.Dim.Unit.Symbol),
		a.T("measured along the top, below it the %s to fit against what came out", part)),
		slices.Concat([]layout.Block{out}, a.sizeChart(), rule(a.columnRule(a.beyond()), words))...)
}

// columnRule is how a chart with the readings along its top is read.
func (a *Adjustment) columnRule(otherwise string) string {
	return a.T("Reading exactly on a column: read it off. Between two, or off the chart: %s", otherwise)
}

// sampleStrip finds, for a column of the strip, a shim of the tray from which
// it holds today.
func (a *Adjustment) sampleStrip(c calc.Chart) (i int, measured, present calc.Length, ok bool) {
	i, _, ok = sampleCell(c)
	if !ok {
		return 0, 0, 0, false
	}
	sizes := a.Dim.Shims.Tray.Sizes
	for k := range sizes {
		present := sizes[(len(sizes)/3+k)%len(sizes)]
		ans, err := calc.PickShims(a.question(c.Measured[i], present))
		if err == nil && ans.Reaches && ans.Best.Total-present == c.Cell[i][0].Total-c.Present[0] {
			return i, c.Measured[i], present, true
		}
	}
	return 0, 0, 0, false
}

// across is a chart of few lines with the readings along the top, and the
// limits among them.
func (a *Adjustment) across(measured []calc.Length, under int, names []string, cells func(i int) []string) layout.Chart {
	out := layout.Chart{Corner: a.Measured.Code, Outline: true}
	for _, n := range names {
		out.Rows = append(out.Rows, layout.ChartRow{Head: n})
	}
	for i := range len(measured) + 1 {
		if i == under {
			out.Head = append(out.Head, a.zone())
			for k := range names {
				text := ""
				if k == 0 {
					text = a.T("keep")
				}
				out.Rows[k].Cells = append(out.Rows[k].Cells, layout.ChartCell{Text: text, Shade: true})
			}
		}
		if i == len(measured) {
			break
		}
		out.Head = append(out.Head, a.read(measured[i]))
		for k, text := range cells(i) {
			out.Rows[k].Cells = append(out.Rows[k].Cells, layout.ChartCell{Text: text})
		}
	}
	return out
}

// mark frames the figures below one reading of such a chart.
func (a *Adjustment) mark(c *layout.Chart, under, i int) {
	if i >= under {
		i++
	}
	for k := range c.Rows {
		c.Rows[k].Cells[i].Mark = true
	}
}

// allStacks is the whole table of stacks, as far as is believable.
func (a *Adjustment) allStacks() ([]calc.StackRow, error) {
	return calc.StackTable(a.question(0, 0), a.lines(2).Reading, a.mostWanted())
}

// mostWanted is the thickest stack that can be wanted.
func (a *Adjustment) mostWanted() calc.Length {
	s := a.Dim.Shims
	if s.Prescribed > 0 {
		return a.Dim.BelievableHigh - s.Prescribed
	}
	return 2 * s.Tray.Sizes[len(s.Tray.Sizes)-1] * calc.Length(s.MostPerPlace)
}

// stacks are the rows of the stack table that fit a page, so many columns of
// them: from the thinnest that reaches, or from further up where the tray makes
// far more than this dimension is likely to want. beyond says what to do with
// what they leave out.
func (a *Adjustment) stacks(all []calc.StackRow, less int) (rows []calc.StackRow, across int, beyond string) {
	s := a.Dim.Shims
	likely := (s.Tray.Sizes[0] + s.Tray.Sizes[len(s.Tray.Sizes)-1]*calc.Length(s.MostPerPlace)) / 2
	if s.Prescribed > 0 {
		likely = a.Aim - s.Prescribed
	}
	at := 0
	for at < len(all)-1 && all[at].To < likely {
		at++
	}
	if s.Prescribed > 0 && a.Reach > 0 {
		all = slices.DeleteFunc(slices.Clone(all), func(r calc.StackRow) bool {
			return r.To < likely-a.Reach || r.From > likely+a.Reach
		})
		at = 0
		for at < len(all)-1 && all[at].To < likely {
			at++
		}
	}
	for across = 6; ; across-- {
		n := min((chartLines-less-1)*across, len(all))
		from := min(max(0, at-3*n/4), len(all)-n)
		rows = all[from : from+n]
		if across > 1 && a.stacksWidth(rows, across) > chartWidth {
			continue
		}
		below, above := a.read(rows[0].From), a.read(rows[n-1].To)
		reading := a.lines(2).Reading
		switch ends := from+n == len(all) && rows[n-1].To < a.mostWanted()/reading*reading; {
		case s.Prescribed > 0 && from == 0 && n == len(all):
			beyond = a.T("Below %s or above %s: stop and ask.", below, above)
		case from == 0 && ends:
			beyond = a.T("Below %s or above %s no stack of at most %d reaches the limits: stop and ask.", below, above, s.MostPerPlace)
		default:
			beyond = a.T("Off the chart: make it up of at most %d. Below %s or above %s no such stack reaches the limits: stop and ask.", s.MostPerPlace, a.read(all[0].From), a.read(all[len(all)-1].To))
		}
		return rows, across, beyond
	}
}

// wantedWord heads what is wanted: the sum's box, or of a pack what lies in the
// cap, which has a box only where M asks for it.
func (a *Adjustment) wantedWord() string {
	if a.Total != nil {
		return a.T("cap wanted")
	}
	return a.T("%s wanted", a.Wanted.Code)
}

// stacksWidth is about how wide the rows come out, in mm.
func (a *Adjustment) stacksWidth(rows []calc.StackRow, across int) float64 {
	w := 0.0
	for some := range slices.Chunk(rows, (len(rows)+across-1)/across) {
		runes := utf8.RuneCountInString
		wanted, fit := runes(a.wantedWord()), runes(a.T("to fit"))
		for _, r := range some {
			wanted, fit = max(wanted, runes(a.span(r))), max(fit, runes(a.stackWords(r.Stack)))
		}
		w += 1.15*float64(wanted+fit) + 2.8
	}
	return w
}

func (a *Adjustment) stackWords(stack []calc.Length) string {
	return stackWords(a.Printer, stack, a.Dim.Unit, a.decimals())
}

// span is what is wanted in one row of the stack table.
func (a *Adjustment) span(r calc.StackRow) string {
	if r.From == r.To {
		return a.read(r.From)
	}
	return a.read(r.From) + " – " + a.read(r.To)
}

// stackChart: for each wanted thickness, the shims that make it.
func (a *Adjustment) stackChart(less int) []layout.Block {
	d, s := a.Dim, a.Dim.Shims
	all, err := a.stackTable()
	if err != nil {
		return a.noChart(err)
	}
	if len(all) == 0 {
		return note(join(" ", a.T("No chart: no stack that can be had today reaches the limits. Stop and ask."), a.shortWords()))
	}
	marked, _, _, sampled := a.sampleStack(all)
	rows, across, beyond := a.stacks(all, less)
	per := (len(rows) + across - 1) / across
	across = (len(rows) + per - 1) / per
	wantedWord := a.wantedWord()
	out := layout.Chart{Corner: wantedWord, Whole: true}
	for i := range across {
		if i > 0 {
			out.Head = append(out.Head, wantedWord)
		}
		out.Head = append(out.Head, a.T("to fit"))
	}
	holes := ""
	for i := range per {
		row := layout.ChartRow{}
		for k := range across {
			wanted, fit := layout.ChartCell{}, layout.ChartCell{}
			if j := i + k*per; j < len(rows) {
				r := rows[j]
				wanted = layout.ChartCell{Text: a.span(r), Head: true}
				fit = layout.ChartCell{Text: a.stackWords(r.Stack), Mark: sampled && r.From == marked.From}
				if len(r.Stack) == 0 {
					fit = layout.ChartCell{Text: "–", Faint: true}
					holes = a.T("“–”: no stack reaches the limits; stop and ask.")
				}
			}
			if k == 0 {
				row.Head = wanted.Text
			} else {
				row.Cells = append(row.Cells, wanted)
			}
			row.Cells = append(row.Cells, fit)
		}
		out.Rows = append(out.Rows, row)
	}
	u := d.Unit.Symbol
	title, words := a.T("Or read it off: the stack (%s)", u), ""
	switch {
	case s.Prescribed > 0:
		title = a.T("Or read it off: cap pack, besides %s at the piston (%s)", a.f(s.Prescribed), u)
	case s.Places > 1:
		title = a.T("Or read it off: stack for each side (%s)", u)
		words = a.T("The same stack on both sides, always.")
	}
	return append(heading(title, ""), append([]layout.Block{out}, note(join(" ", words, beyond, holes, a.shortWords()))...)...)
}

// sampleStack finds what the worked line of a stack explains: a row of the
// table, and what was measured and came out that leads there.
func (a *Adjustment) sampleStack(all []calc.StackRow) (row calc.StackRow, measured, present calc.Length, ok bool) {
	d := a.Dim
	rows, _, _ := a.stacks(all, shortest)
	if p := d.Shims.Prescribed; p > 0 {
		for _, r := range rows {
			if cap := a.Aim - p; r.From <= cap && cap <= r.To && len(r.Stack) > 0 {
				return r, a.Aim, a.Aim, true
			}
		}
		return row, 0, 0, false
	}
	reading := a.lines(2).Reading
	for _, most := range []int{2, 1} { // a stack of two explains more
		for i, r := range rows {
			if len(r.Stack) != most {
				continue
			}
			wanted := min(r.Total/reading*reading+reading, r.To)
			for _, out := range rows[i+1:] {
				change := calc.Length(math.Round(float64(wanted-out.Total) * d.Effect))
				if m := a.Aim - change; len(out.Stack) > 0 && m%reading == 0 && (m < a.Low || m > a.High) {
					return r, m, out.Total, m >= d.BelievableLow && m <= d.BelievableHigh
				}
			}
		}
	}
	return row, 0, 0, false
}

// turn is what to do at one reading of the governor shaft: turns to a
// hundredth, the same to 5°, and whether the shaft comes out.
func (a *Adjustment) turn(measured calc.Length) (turns, degrees float64, out, clockwise bool) {
	d := a.Dim
	t, clockwise := calc.Turns(a.Aim-measured, d.Thread.Pitch, d.Thread.LeftHanded, d.Thread.OutGrows)
	return calc.Rounded(t, 2), 5 * math.Round(t*72), clockwise == d.Thread.LeftHanded, clockwise
}

// turnsChart: what is measured, and how far and which way to turn.
func (a *Adjustment) turnsChart(less int) []layout.Block {
	d := a.Dim
	measured, under, err := calc.TurnLines(a.Aim, a.Low, a.High, d.Thread.Pitch, a.lines(turnLines))
	if err != nil {
		return a.noChart(err)
	}
	parts := max(turnParts-(less+3)/4, 1)
	from, to := nearestLimits(len(measured), under, turnLines/turnParts*parts-1)
	measured, under = measured[from:to], under-from
	c := a.across(measured, under, []string{a.T("turn"), a.T("turns"), a.T("or by")}, func(i int) []string {
		turns, degrees, out, _ := a.turn(measured[i])
		way := a.T("in")
		if out {
			way = a.T("out")
		}
		return []string{way, a.Fixed(turns, 2), a.Fixed(degrees, 0) + "°"}
	})
	a.mark(&c, under, sampleTurn(measured, under))
	pitch := a.f(d.Thread.Pitch) + " " + d.Unit.Symbol
	thread := a.T("Right-hand thread, %s a turn: out is anticlockwise, in is clockwise, looking at the measured end, which is the one that is turned.", pitch)
	if d.Thread.LeftHanded {
		thread = a.T("Left-hand thread, %s a turn: out is clockwise, in is anticlockwise, looking at the measured end, which is the one that is turned.", pitch)
	}
	return append(heading(a.T("Or read it off (%s)", d.Unit.Symbol), a.T("measured along the top, below it how far to turn")),
		slices.Concat([]layout.Block{c}, rule(a.columnRule(a.T("the sum.")), join(" ", a.T("Grey: keep."), thread)))...)
}

// sampleTurn is the column of the turns chart that the worked line explains.
func sampleTurn(measured []calc.Length, under int) int {
	if under+1 < len(measured) {
		return under + 1
	}
	return len(measured) - 1
}

// question is what the picker is asked, for the dimension as measured with the
// present shim in each place.
func (a *Adjustment) question(measured, present calc.Length) calc.Question {
	d, s := a.Dim, a.Dim.Shims
	return calc.Question{
		Measured: measured, Present: present, Target: a.Aim, Low: a.Low, High: a.High,
		Effect: d.Effect, Places: s.Places, MostPerPlace: s.MostPerPlace, Tray: s.Tray.Sizes, Stock: a.Stock, Prescribed: s.Prescribed,
	}
}

// sample returns figures for the worked line, from a cell of the chart, which
// frames it.
func (a *Adjustment) sample() (measured, present calc.Length, ok bool) {
	switch {
	case a.nothing():
	case a.stacked():
		if all, err := a.stackTable(); err == nil && len(all) > 0 {
			_, measured, present, ok = a.sampleStack(all)
		}
	case a.strips():
		if c, err := a.strip(); err == nil {
			_, measured, present, ok = a.sampleStrip(c)
		}
	default:
		c, err := a.chart(shortest)
		if err != nil {
			break
		}
		if i, j, found := sampleCell(c); found {
			return c.Measured[i], c.Present[j], true
		}
	}
	return measured, present, ok
}

// worked is the arithmetic with sample figures, computed by the same functions
// that make the chart and the report; nothing where there is no chart.
func (a *Adjustment) worked() string {
	d := a.Dim
	if d.Thread != nil {
		return a.workedTurns()
	}
	measured, present, ok := a.sample()
	if !ok {
		return ""
	}
	ans, err := calc.PickShims(a.question(measured, present))
	if err != nil || !ans.Reaches {
		return ""
	}
	stack := a.stackWords(ans.Best.Stack)
	if len(ans.Best.Stack) > 1 {
		sum := calc.Length(0)
		for _, s := range ans.Best.Stack {
			sum += s
		}
		stack += " = " + a.f(sum)
	}
	if p := d.Shims.Prescribed; p > 0 {
		if len(ans.Best.Stack) == 1 {
			stack = a.T("one %s", stack)
		}
		return a.T("worked line, framed below: %s − %s = %s wanted in the cap; fit %s", a.f(a.Aim), a.f(p), a.f(ans.Wanted-p), stack)
	}
	change := ans.Wanted - present
	first := a.read(a.Aim) + " − " + a.read(measured)
	if d.Effect == -1 {
		first = a.read(measured) + " − " + a.read(a.Aim)
	} else if d.Effect != 1 {
		first = fmt.Sprintf("(%s) ÷ %s", first, a.Fixed(d.Effect, 2))
	}
	return a.T("worked line, framed below: %s = %s, + %s = %s wanted; fit %s; then it reads %s",
		first, a.Mark(change.Signed(d.Unit, a.decimals())), a.f(present), a.f(ans.Wanted), stack, a.then(measured, ans.Best.Predicted))
}

// then writes how a reading changes: "3.36 − 0.15 = 3.21".
func (a *Adjustment) then(measured, predicted calc.Length) string {
	// From what is printed to what is printed, so that it subtracts.
	predicted = calc.LengthOf(calc.Rounded(predicted.In(a.Dim.Unit), a.decimals()), a.Dim.Unit)
	sign, delta := "+", predicted-measured
	if delta < 0 {
		sign, delta = "−", -delta
	}
	return fmt.Sprintf("%s %s %s = %s", a.read(measured), sign, a.f(delta), a.f(predicted))
}

func (a *Adjustment) workedTurns() string {
	d := a.Dim
	list, under, err := calc.TurnLines(a.Aim, a.Low, a.High, d.Thread.Pitch, a.lines(turnLines))
	if err != nil {
		return ""
	}
	measured := list[sampleTurn(list, under)]
	turns, degrees, out, clockwise := a.turn(measured)
	signed := turns
	if !out {
		signed = -turns
	}
	moved := calc.Length(math.Round(signed * float64(d.Thread.Pitch)))
	if !d.Thread.OutGrows {
		moved = -moved
	}
	pitch := a.Mark(d.Thread.Pitch.Fixed(d.Unit, d.Thread.Decimals))
	if !d.Thread.OutGrows {
		pitch = "−" + pitch // screwing out makes it smaller
	}
	return a.T(workedTurn[[2]bool{out, clockwise}], a.read(a.Aim), a.read(measured), a.Mark((a.Aim-measured).Signed(d.Unit, d.Decimals)), pitch,
		a.signedTurns(signed), a.Fixed(degrees, 0), a.then(measured, measured+moved))
}

// workedTurn is the worked line of a turn out or in, clockwise or not.
var workedTurn = map[[2]bool]string{
	{true, false}:  "worked line, framed below: %s − %s = %s, ÷ %s = %s turns: out, anticlockwise (%s°); then it reads %s",
	{true, true}:   "worked line, framed below: %s − %s = %s, ÷ %s = %s turns: out, clockwise (%s°); then it reads %s",
	{false, false}: "worked line, framed below: %s − %s = %s, ÷ %s = %s turns: in, anticlockwise (%s°); then it reads %s",
	{false, true}:  "worked line, framed below: %s − %s = %s, ÷ %s = %s turns: in, clockwise (%s°); then it reads %s",
}

func (a *Adjustment) signedTurns(x float64) string {
	if x > 0 {
		return "+" + a.Fixed(x, 2)
	}
	return a.Fixed(x, 2)
}

// stackWords writes a stack as a person would: "0.60 + 0.55".
func stackWords(p words.Printer, stack []calc.Length, u calc.Unit, decimals int) string {
	out := ""
	for i, s := range stack {
		if i > 0 {
			out += " + "
		}
		out += p.Mark(s.Fixed(u, decimals))
	}
	return out
}
