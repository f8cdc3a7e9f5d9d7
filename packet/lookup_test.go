package packet

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/specs"
)

// readable is a chart as a technician sees it, with the words around it.
type readable struct {
	*layout.Chart
	bySum        *layout.Chart // the sizes by what the sum wants, below it
	title, words string
}

func printedChart(t testing.TB, a *Adjustment, less int) (p readable) {
	t.Helper()
	for _, b := range a.lookup(less) {
		switch b := b.(type) {
		case layout.Heading:
			p.title = b.Text + " " + b.Right
		case layout.Chart:
			if p.Chart == nil {
				p.Chart = &b
			} else {
				p.bySum = &b
			}
		case layout.Para:
			p.words += b.Text
		}
	}
	return p
}

// figure reads a printed length.
func (a *Adjustment) figure(t testing.TB, text string) calc.Length {
	t.Helper()
	x, _, err := calc.ParseNumber(text)
	require.NoError(t, err, text)
	return calc.LengthOf(x, a.Dim.Unit)
}

// sum reads a printed stack.
func (a *Adjustment) sum(t testing.TB, text string) (total calc.Length) {
	t.Helper()
	for _, s := range strings.Split(text, " + ") {
		total += a.figure(t, s)
	}
	return total
}

func (a *Adjustment) inside(x calc.Length) bool { return x >= a.Low && x <= a.High }

// predicted is what a reading becomes with one shim in the place of another.
func (a *Adjustment) predicted(reading, out, in calc.Length) calc.Length {
	return reading + calc.Length(math.Round(a.Dim.Effect*float64(in-out)))
}

func (a *Adjustment) picked(t testing.TB, reading, present calc.Length) calc.Answer {
	t.Helper()
	ans, err := calc.PickShims(a.question(reading, present))
	require.NoError(t, err)
	return ans
}

// restock gives an adjustment other counts than the shop file's.
func (a *Adjustment) restock(counts []int) { a.Stock, a.charts = counts, chartsOf(a) }

// plans are the demos as they are, short of stock, and with other limits and
// trays; all of it invented.
func plans(t testing.TB) map[string]*Plan {
	stock := func(p *Plan, count func(i int) int) *Plan {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil {
				continue
			}
			counts := make([]int, len(a.Dim.Shims.Tray.Sizes))
			for i := range counts {
				counts[i] = count(i)
			}
			a.restock(counts)
		}
		return p
	}
	other := func(name string, edits ...string) *Plan {
		return NewPlan(demoSpec(t, name, edits...), &specs.Shop{})
	}
	return map[string]*Plan{
		"mm, in its shop":   shopPlan(t, "ostrel-d4.yaml", "saltmarsh.yaml"),
		"inch, in its shop": shopPlan(t, "vessant-s6.yaml", "prairie.yaml"),
		"mm":                demoPlan(t, "ostrel-d4.yaml"),
		"inch":              demoPlan(t, "vessant-s6.yaml"),
		"mm, sizes out":     stock(demoPlan(t, "ostrel-d4.yaml"), func(i int) int { return (i * 7) % 5 }),
		"inch, sizes out":   stock(demoPlan(t, "vessant-s6.yaml"), func(i int) int { return 3 - i%4 }),
		"lopsided": other("ostrel-d4.yaml", "limits: [3.15 mm, 3.25 mm]", "limits: [3.18 mm, 3.30 mm]",
			"limits: [6.10 mm, 6.30 mm]", "limits: [6.20 mm, 6.30 mm]", "limits: [0.80 mm, 1.00 mm]", "limits: [0.90 mm, 1.15 mm]"),
		"close limits":        other("ostrel-d4.yaml", "limits: [3.15 mm, 3.25 mm]", "limits: [3.17 mm, 3.23 mm]"),
		"two bands":           other("ostrel-d4.yaml", "foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}", "foot shims: {sizes: ["+sizes(1.90, 0.04, 26)+", 2.95 mm]}"),
		"long even tray":      other("ostrel-d4.yaml", "to: 2.90 mm, step: 0.05 mm", "to: 3.10 mm, step: 0.03 mm"),
		"pulled by its screw": other("ostrel-d4.yaml", "hand: right, out: grows", "hand: left, out: shrinks"),
	}
}

// shopPlan is a demo in its own shop, whose instruments narrow the grey.
func shopPlan(t testing.TB, spec, shop string) *Plan {
	data, err := readDemoSpecs(shop)
	require.NoError(t, err)
	s, err := specs.ReadShop(shop, data)
	require.NoError(t, err)
	return NewPlan(demoSpec(t, spec), s)
}

// The grey of the chart and the report's verdict are one rule: at every reading
// near the limits, kept means met and nothing else does.
func TestGreyIsWhatTheReportCallsMet(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		for _, a := range j.Adjustments {
			if a.Dim.Take == specs.Bracket || a.Dim.Shims != nil && a.Dim.Shims.Prescribed > 0 {
				continue // their uncertainty is that of the blades, or shims, as typed
			}
			require.Positive(t, a.Uncertainty, a.Dim.Name)
			reading := a.lines(2).Reading
			for m := a.Dim.Low - 3*reading; m <= a.Dim.High+3*reading; m += reading {
				for _, b := range append([]*Box{a.Measured}, a.Repeats...) {
					typed[b.Code] = a.read(m)
				}
				for _, try := range a.Tries {
					for _, b := range try.boxes() {
						delete(typed, b.Code)
					}
				}
				it := item(t, j.Judge(read(t, j, typed)), practices[a.Dim.Name].title)
				require.Equal(t, a.inside(m), it.Verdict == Meets, "%s at %s: %s, ±%v", a.Dim.Name, a.read(m), it.Verdict, *it.U)
			}
		}
	}
}

func sizes(from, step float64, n int) string {
	var out []string
	for i := range n {
		out = append(out, fmt.Sprintf("%.2f mm", from+step*float64(i)))
	}
	return strings.Join(out, ", ")
}

// span is from the lowest head to the highest.
func span(heads map[int]calc.Length) (from, to calc.Length) {
	all := slices.Sorted(maps.Values(heads))
	return all[0], all[len(all)-1]
}

// nearest lists the lines (row or column heads) that a technician may take for
// a reading: the nearest on its side of the grey, either of two as near.
func nearest(heads map[int]calc.Length, a *Adjustment, reading calc.Length) (take []int) {
	least := calc.Length(math.MaxInt64)
	far := func(h calc.Length) calc.Length {
		if (h < a.Low) != (reading < a.Low) {
			return math.MaxInt64
		}
		return max(h-reading, reading-h)
	}
	for i, h := range heads {
		if d := far(h); d < least {
			least, take = d, []int{i}
		} else if d == least && d < math.MaxInt64 {
			take = append(take, i)
		}
	}
	return take
}

// What is printed serves every reading, to the last figure: the nearest line
// outside the grey, with every column, gives a shim that brings the dimension
// inside its limits whenever the exact reading has one. Where it gives none,
// nothing serves the reading on that very line; off the lines one goes by the sum.
func TestNearestPrintedLineServes(t *testing.T) {
	for name, p := range plans(t) {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil || a.stacked() || a.strips() {
				continue
			}
			for _, less := range []int{0, 4, shortest} {
				at := fmt.Sprintf("%s, %s, %d lines less", name, a.Dim.Name, less)
				c := printedChart(t, a, less)
				require.NotNil(t, c.Chart, at)
				require.Contains(t, c.words, "out exactly on a line and a column: read it off. Between them, or off the chart: the sum, then the line of sizes: “"+a.Wanted.Code+" up to”, the first figure not below it.")
				require.Len(t, c.Head, len(a.Dim.Shims.Tray.Sizes), "%s: a column for every size", at)
				heads := map[int]calc.Length{}
				for i, r := range c.Rows {
					if r.Cells[0].Shade {
						require.Equal(t, a.zone(), r.Head, at)
						continue
					}
					heads[i] = a.figure(t, r.Head)
					require.False(t, a.inside(heads[i]), at)
				}
				require.Equal(t, len(c.Rows)-1, len(heads), "%s: one line to keep", at)
				require.GreaterOrEqual(t, len(heads), 2, at)
				if len(heads) > 2 {
					require.LessOrEqual(t, (len(c.Rows)+1+2)*a.bands(), chartLines-less, at)
				}
				reading := a.lines(2).Reading
				from, to := span(heads)
				for m := from; m <= to; m += reading {
					if a.inside(m) {
						continue
					}
					take := nearest(heads, a, m)
					require.NotEmpty(t, take, "%s: %s", at, a.read(m))
					for j, head := range c.Head {
						present := a.figure(t, head)
						ans := a.picked(t, m, present)
						for _, i := range take {
							cell := c.Rows[i].Cells[j].Text
							where := fmt.Sprintf("%s: %s with %s takes %s: %s", at, a.read(m), head, c.Rows[i].Head, cell)
							if cell == "–" {
								if m == heads[i] {
									require.False(t, ans.Reaches, where)
								}
								require.Contains(t, c.words, "stop and ask")
								continue
							}
							got := a.inside(a.predicted(m, present, a.figure(t, cell)))
							require.Equal(t, ans.Reaches, got, where)
							if m == heads[i] {
								require.True(t, got, where)
							}
						}
					}
				}
			}
		}
	}
}

// Whatever is measured, believable or not, and whatever came out: what the sum
// wants stands in the line of sizes, and the size below it is one PickShims
// could not better reach the limits with; where it says to stop, nothing does.
func TestSizesBySumServeEveryReading(t *testing.T) {
	found := 0
	for name, p := range plans(t) {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil || a.stacked() || a.nothing() {
				continue
			}
			found++
			at := fmt.Sprintf("%s, %s", name, a.Dim.Name)
			c := printedChart(t, a, shortest)
			m := regexp.MustCompile(`the sum, then (?:the line of sizes: “\w+ up to”, the first figure not below it|the size nearest to it)\. (\w+) below ([\d.]+) or above ([\d.]+): stop and ask`).FindStringSubmatch(c.words)
			require.NotNil(t, m, c.words)
			require.Equal(t, a.Wanted.Code, m[1])
			if c.bySum == nil {
				require.Contains(t, c.words, "size nearest to it")
			} else {
				require.Equal(t, m[1]+" up to", c.bySum.Corner)
			}
			least, most := a.figure(t, m[2]), a.figure(t, m[3])
			fit := func(wanted calc.Length) (calc.Length, bool) {
				if wanted < least || wanted > most {
					return 0, false
				}
				if c.bySum == nil {
					size := a.Dim.Shims.Tray.Sizes[0]
					for _, s := range a.Dim.Shims.Tray.Sizes {
						if max(s-wanted, wanted-s) <= max(size-wanted, wanted-size) {
							size = s
						}
					}
					return size, true
				}
				for j, h := range c.bySum.Head {
					if wanted <= a.figure(t, h) {
						if text := c.bySum.Rows[0].Cells[j].Text; text != "–" {
							return a.figure(t, text), true
						}
						return 0, false
					}
				}
				t.Fatalf("%s: %s is in no column", at, a.f(wanted))
				return 0, false
			}
			reading := a.lines(2).Reading
			for m := a.Dim.BelievableLow / reading * reading; m <= a.Dim.BelievableHigh; m += reading {
				if a.inside(m) {
					continue
				}
				for _, present := range a.Dim.Shims.Tray.Sizes {
					wanted := present + calc.Length(math.Round(float64(a.Aim-m)/a.Dim.Effect))
					size, ok := fit(wanted)
					ans := a.picked(t, m, present)
					require.Equal(t, ans.Reaches, ok, "%s: %s, %s out, %s wanted", at, a.read(m), a.f(present), a.f(wanted))
					if ok && c.bySum == nil {
						require.True(t, a.inside(a.predicted(m, present, size)), "%s: %s, %s out, %s wanted", at, a.read(m), a.f(present), a.f(wanted))
					} else if ok {
						require.Equal(t, ans.Best.Total, size, "%s: %s, %s out, %s wanted", at, a.read(m), a.f(present), a.f(wanted))
					}
				}
			}
		}
	}
	require.Greater(t, found, 30)
}

// columnHeads are the readings of a chart that has them along the top.
func (a *Adjustment) columnHeads(t testing.TB, c readable, most int) map[int]calc.Length {
	t.Helper()
	heads := map[int]calc.Length{}
	for j, h := range c.Head {
		if c.Rows[0].Cells[j].Shade {
			require.Equal(t, a.zone(), h)
			require.Equal(t, "keep", c.Rows[0].Cells[j].Text)
			continue
		}
		heads[j] = a.figure(t, h)
	}
	require.Equal(t, len(c.Head)-1, len(heads), "one column to keep")
	require.LessOrEqual(t, len(c.Head), most+1)
	return heads
}

// The same for the strip of an even tray: thicker or thinner than any size of
// the tray that came out, where the tray has that size.
func TestStripServes(t *testing.T) {
	found := 0
	for name, p := range plans(t) {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil || a.stacked() || !a.strips() {
				continue
			}
			found++
			c := printedChart(t, a, 0)
			heads := a.columnHeads(t, c, stripLines)
			reading := a.lines(2).Reading
			from, to := span(heads)
			for m := from; m <= to; m += reading {
				if a.inside(m) {
					continue
				}
				for _, j := range nearest(heads, a, m) {
					by := a.figure(t, c.Rows[1].Cells[j].Text)
					if c.Rows[0].Cells[j].Text == "thinner" {
						by = -by
					}
					served := 0
					for _, present := range a.Dim.Shims.Tray.Sizes {
						if slices.Contains(a.Dim.Shims.Tray.Sizes, present+by) {
							served++
							require.True(t, a.inside(a.predicted(m, present, present+by)), "%s %s: %s from %s", name, a.Dim.Name, a.read(m), a.f(present))
						}
					}
					require.NotZero(t, served)
				}
			}
		}
	}
	require.GreaterOrEqual(t, found, 3)
}

// Every thickness wanted that the stack table prints has the stack that
// PickShims calls best; a hole is a hole.
func TestStackTableIsThePicker(t *testing.T) {
	for name, p := range plans(t) {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil || !a.stacked() {
				continue
			}
			for _, less := range []int{0, 4, shortest} {
				c := printedChart(t, a, less)
				rows := map[string]string{}
				var order []string
				for k := -1; k < len(c.Head); k += 2 { // columns of wanted, the row heads first
					for _, r := range c.Rows {
						wanted, fit := r.Head, r.Cells[k+1].Text
						if k >= 0 {
							wanted = r.Cells[k].Text
						}
						if wanted != "" {
							rows[wanted], order = fit, append(order, wanted)
						}
					}
				}
				require.LessOrEqual(t, len(c.Rows)+1, chartLines-less)
				reading := a.lines(2).Reading
				next := calc.Length(-1)
				for _, wanted := range order {
					from, to, several := strings.Cut(wanted, " – ")
					if !several {
						to = from
					}
					w := a.figure(t, from)
					require.True(t, next < 0 || w == next, "%s %s: a row for every thickness, %s", name, a.Dim.Name, wanted)
					for ; w <= a.figure(t, to); w += reading {
						ans := a.picked(t, a.Dim.Target, w+a.Dim.Shims.Prescribed)
						if rows[wanted] == "–" {
							require.False(t, ans.Reaches)
							require.Contains(t, c.words, "“–”: no stack reaches the limits; stop and ask.")
							continue
						}
						require.Equal(t, a.stackWords(ans.Best.Stack), rows[wanted], "%s %s: %s", name, a.Dim.Name, a.read(w))
						require.True(t, ans.Reaches)
						require.True(t, a.inside(a.predicted(a.Dim.Target, w, a.sum(t, rows[wanted]))))
					}
					next = w
				}
				first := strings.Split(order[0], " – ")[0]
				require.Contains(t, c.words, "Below "+first)
				if less > 0 {
					continue
				}
				// Down to the thinnest shim that there is enough of, or to the least
				// thickness that the limits let stand, whichever is more.
				thin := slices.IndexFunc(a.Dim.Shims.Tray.Sizes, func(l calc.Length) bool { return !slices.Contains(a.short(), l) })
				require.GreaterOrEqual(t, a.sum(t, rows[order[0]]), a.Dim.Shims.Tray.Sizes[thin], "%s %s", name, a.Dim.Name)
			}
		}
	}
}

// Turned as the nearest column says, in turns or in degrees, the shaft comes
// inside its limits.
func TestPrintedTurnsServe(t *testing.T) {
	for name, p := range plans(t) {
		a := adjustment(t, p, specs.ShaftProjection)
		c := printedChart(t, a, 0)
		heads := a.columnHeads(t, c, turnLines)
		clockwise := map[string]bool{}
		m := regexp.MustCompile(`out is (\w+), in is (\w+),`).FindStringSubmatch(c.words)
		require.NotNil(t, m, c.words)
		clockwise["out"], clockwise["in"] = m[1] == "clockwise", m[2] == "clockwise"
		require.NotEqual(t, clockwise["out"], clockwise["in"])
		require.Equal(t, a.Dim.Thread.LeftHanded, clockwise["out"], "a right-hand thread comes out anticlockwise")
		from, to := span(heads)
		for r := from; r <= to; r += a.lines(2).Reading {
			if a.inside(r) {
				continue
			}
			for _, j := range nearest(heads, a, r) {
				way := 1.0
				if (c.Rows[0].Cells[j].Text == "out") != a.Dim.Thread.OutGrows {
					way = -1
				}
				turns, _, err := calc.ParseNumber(c.Rows[1].Cells[j].Text)
				require.NoError(t, err)
				degrees, _, err := calc.ParseNumber(strings.TrimSuffix(c.Rows[2].Cells[j].Text, "°"))
				require.NoError(t, err)
				require.Zero(t, math.Mod(degrees, 5))
				for _, turned := range []float64{turns, degrees / 360} {
					now := r + calc.Length(math.Round(way*turned*float64(a.Dim.Thread.Pitch)))
					require.True(t, a.inside(now), "%s: %s becomes %s", name, a.read(r), a.read(now))
				}
			}
		}
	}
}

// The worked line is read off the chart: its figures stand at the framed cell.
func TestWorkedLineIsFramed(t *testing.T) {
	for name, p := range plans(t) {
		for _, a := range p.Adjustments {
			if a.Dim.Shims == nil && a.Dim.Thread == nil {
				continue
			}
			for _, less := range []int{0, 4, shortest} {
				at := fmt.Sprintf("%s, %s: %s", name, a.Dim.Name, a.worked())
				require.Contains(t, a.worked(), "worked line, framed below: ", at)
				c := printedChart(t, a, less)
				var framed [][2]int
				for i, r := range c.Rows {
					for j, cell := range r.Cells {
						if cell.Mark {
							framed = append(framed, [2]int{i, j})
						}
					}
				}
				require.NotEmpty(t, framed, at)
				i, j := framed[0][0], framed[0][1]
				switch {
				case a.Dim.Thread != nil:
					require.Len(t, framed, 3, at)
					for _, text := range []string{c.Head[j], c.Rows[0].Cells[j].Text + ",", c.Rows[1].Cells[j].Text, c.Rows[2].Cells[j].Text} {
						require.Contains(t, a.worked(), text, at)
					}
				case a.stacked():
					require.Len(t, framed, 1, at)
					require.Contains(t, a.worked(), c.Rows[i].Cells[j].Text, at)
					wanted := c.Rows[i].Head
					if j > 0 {
						wanted = c.Rows[i].Cells[j-1].Text
					}
					from, to, _ := strings.Cut(wanted, " – ")
					m := regexp.MustCompile(`= ([\d.]+) wanted`).FindStringSubmatch(a.worked())
					require.NotNil(t, m, at)
					w := a.figure(t, m[1])
					require.True(t, w >= a.figure(t, from) && w <= a.figure(t, to), "%s in %s", at, wanted)
				case a.strips():
					require.Len(t, framed, 2, at)
					require.Contains(t, a.worked(), c.Head[j], at)
					m := regexp.MustCompile(`\+ ([\d.]+) = [\d.]+ wanted; fit ([\d.]+);`).FindStringSubmatch(a.worked())
					require.NotNil(t, m, at)
					by := a.figure(t, m[2]) - a.figure(t, m[1])
					require.Equal(t, a.f(max(by, -by)), c.Rows[1].Cells[j].Text, at)
					require.Equal(t, by > 0, c.Rows[0].Cells[j].Text == "thicker", at)
				default:
					require.Len(t, framed, 1, at)
					require.Contains(t, a.worked(), c.Rows[i].Head, at)
					require.Contains(t, a.worked(), "+ "+c.Head[j]+" =", at)
					require.Contains(t, a.worked(), "fit "+c.Rows[i].Cells[j].Text+";", at)
				}
				require.NotContains(t, a.worked(), "nearest")
			}
		}
	}
}

// The pages of both demos, word for word: what the sums come to was worked out
// by hand.
func TestWorkedLines(t *testing.T) {
	mm, inch := demoPlan(t, "ostrel-d4.yaml"), demoPlan(t, "vessant-s6.yaml")
	for _, w := range []struct {
		p    *Plan
		name specs.DimensionName
		want string
	}{
		{mm, specs.TimingPack, "1.60 − 0.60 = 1.00 wanted in the cap; fit one 1.00"},
		{mm, specs.PlungerDepth, "3.26 − 3.20 = +0.06, + 2.25 = 2.31 wanted; fit 2.30; then it reads 3.26 − 0.05 = 3.21"},
		{mm, specs.ShaftProjection, "4.30 − 4.51 = −0.21, ÷ 1.0 = −0.21 turns: in, clockwise (75°); then it reads 4.51 − 0.21 = 4.30"},
		{mm, specs.EndFloat, "0.41 − 0.30 = +0.11, + 2.40 = 2.51 wanted; fit 2.50; then it reads 0.41 − 0.10 = 0.31"},
		{mm, specs.StartingGap, "1.01 − 0.90 = +0.11, + 8.50 = 8.61 wanted; fit 8.60; then it reads 1.01 − 0.10 = 0.91"},
		{inch, specs.TimingPack, "0.0780 − 0.0240 = 0.0540 wanted in the cap; fit 0.0400 + 0.0140 = 0.0540"},
		{inch, specs.PreStroke, "0.0141 − 0.0120 = +0.0021, + 0.0900 = 0.0921 wanted; fit 0.0920; then it reads 0.0141 − 0.0020 = 0.0121"},
		{inch, specs.ShaftProjection, "0.174 − 0.184 = −0.010, ÷ 0.050 = −0.20 turns: in, anticlockwise (70°); then it reads 0.184 − 0.010 = 0.174"},
	} {
		require.Equal(t, "worked line, framed below: "+w.want, adjustment(t, w.p, w.name).worked())
	}
}

// What is out of stock is said, and not offered.
func TestStockOnTheCharts(t *testing.T) {
	p := demoPlan(t, "ostrel-d4.yaml")
	depth := adjustment(t, p, specs.PlungerDepth)
	require.NotContains(t, printedChart(t, depth, 0).words, "stock")
	counts := slices.Repeat([]int{2}, 21)
	counts[9] = 0 // 2.35
	depth.restock(counts)
	c := printedChart(t, depth, 0)
	require.Contains(t, c.words, "None in stock today: 2.35.")
	require.Contains(t, c.Head, "2.35", "one may have come out")
	for _, r := range c.Rows {
		for _, cell := range r.Cells {
			require.NotEqual(t, "2.35", cell.Text)
		}
	}
	require.NotContains(t, depth.worked(), "fit 2.35")

	springs := adjustment(t, p, specs.SpringPreset)
	counts = slices.Repeat([]int{4}, 13)
	counts[7], counts[0] = 1, 0 // 0.85, 0.50
	springs.restock(counts)
	c = printedChart(t, springs, 0)
	require.Contains(t, c.words, "Too few for both sides today: 0.50, 0.85.")
	for _, r := range c.Rows {
		for j := 0; j < len(r.Cells); j += 2 {
			for _, one := range strings.Split(r.Cells[j].Text, " + ") {
				require.NotContains(t, []string{"0.50", "0.85"}, one)
			}
		}
	}

	for _, name := range []specs.DimensionName{specs.PlungerDepth, specs.SpringPreset, specs.TimingPack, specs.StartingGap} {
		a := adjustment(t, p, name)
		a.restock(make([]int, len(a.Dim.Shims.Tray.Sizes)))
		c := printedChart(t, a, 0)
		require.Nil(t, c.Chart, name)
		require.Contains(t, c.words, "No chart: too few of every "+a.Dim.Shims.Tray.Part+" in stock today.")
		require.Empty(t, a.worked())
	}
}
