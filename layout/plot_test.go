package layout

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// stroke is a path as MuPDF is told to paint it, in mm from the upper left
// corner of the page.
type stroke struct {
	fill          bool
	weight, grey  float64
	curved        bool
	x, y          []float64 // where its pieces end, the first piece's start first
	leftmost, top float64
	right, foot   float64
}

func (p stroke) middle() (x, y float64) {
	n := len(p.x)
	if n > 1 && math.Hypot(p.x[0]-p.x[n-1], p.y[0]-p.y[n-1]) < 0.02 {
		n-- // closed: its start is its end
	}
	return sum(p.x[:n]) / float64(n), sum(p.y[:n]) / float64(n)
}

// shape names a mark by its corners.
func (p stroke) shape() string {
	n := len(p.x)
	if n > 1 && math.Hypot(p.x[0]-p.x[n-1], p.y[0]-p.y[n-1]) < 0.02 {
		n--
	}
	mx, my := p.middle()
	near, far := math.Inf(1), 0.0
	for i := range n {
		r := math.Hypot(p.x[i]-mx, p.y[i]-my)
		near, far = min(near, r), max(far, r)
	}
	w, h := p.right-p.leftmost, p.foot-p.top
	switch {
	case far > 3 || far-near > 0.05:
		return "" // none of ours: no regular figure
	case p.curved:
		return "round"
	case n == 3 && my-p.top < p.foot-my:
		return "down"
	case n == 3:
		return "up"
	case n == 4 && math.Abs(w-2*far) < 0.05 && math.Abs(h-2*far) < 0.05:
		return "diamond"
	case n == 4:
		return "square"
	}
	return ""
}

// strokes reads the paths of a document's first page out of mutool (MuPDF).
func strokes(t *testing.T, path string) (out []stroke) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(program(t, "mutool", "trace", path, "1")))
	attr := func(e xml.StartElement, name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	numbers := func(text string) (out []float64) {
		for f := range strings.FieldsSeq(text) {
			v, err := strconv.ParseFloat(f, 64)
			require.NoError(t, err)
			out = append(out, v)
		}
		return out
	}
	var p *stroke
	var m []float64
	flush := func() {
		if p != nil && len(p.x) > 1 {
			p.leftmost, p.right = slices.Min(p.x), slices.Max(p.x)
			p.top, p.foot = slices.Min(p.y), slices.Max(p.y)
			out = append(out, *p)
		}
	}
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			require.NotEmpty(t, out)
			return out
		}
		require.NoError(t, err)
		if e, ok := tok.(xml.EndElement); ok && strings.HasSuffix(e.Name.Local, "_path") {
			flush()
			p = nil
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "fill_path", "stroke_path":
			m = numbers(attr(e, "transform"))
			p = &stroke{fill: e.Name.Local == "fill_path", grey: numbers(attr(e, "color"))[0]}
			if w := numbers(attr(e, "linewidth")); len(w) > 0 {
				p.weight = w[0] * mmPerPoint
			}
		case "moveto", "lineto", "curveto":
			if p == nil {
				continue // a path to clip by
			}
			at := [2]string{"x", "y"}
			if e.Name.Local == "curveto" {
				at, p.curved = [2]string{"x3", "y3"}, true
			}
			if e.Name.Local == "moveto" && len(p.x) > 0 {
				flush()
				p = &stroke{fill: p.fill, weight: p.weight, grey: p.grey}
			}
			x, y := numbers(attr(e, at[0]))[0], numbers(attr(e, at[1]))[0]
			p.x = append(p.x, (m[0]*x+m[2]*y+m[4])*mmPerPoint)
			p.y = append(p.y, (m[1]*x+m[3]*y+m[5])*mmPerPoint)
		}
	}
}

func (p stroke) level() bool {
	return !p.fill && len(p.x) == 2 && math.Abs(p.y[0]-p.y[1]) < 0.02
}

func (p stroke) upright() bool {
	return !p.fill && len(p.x) == 2 && math.Abs(p.x[0]-p.x[1]) < 0.02
}

// paperPlot is a plot as it can be read off the paper: what its axes say by the
// printed figures and the lines at them.
type paperPlot struct {
	left, right, top, foot float64
	x, y                   func(v float64) float64 // places of values, mm
	xs, ys                 []float64               // values printed at the axes
	paths                  []stroke                // in the frame
	words                  []seen                  // that are no figures at the axes
}

// printed reads a figure as printed, with either decimal mark.
func printed(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.NewReplacer("−", "-", ",", ".").Replace(text), 64)
	return v, err == nil
}

// readPlot reads the one plot or grid of a page: each printed figure belongs to
// the line nearest to its middle, and every one of them must agree with the
// scale that the outermost two give.
func readPlot(t *testing.T, path string) (g paperPlot) {
	t.Helper()
	all := strokes(t, path)
	// the two axes are the lines that meet at the lower left of the frame
	var up, along []stroke
	for _, p := range all {
		switch {
		case p.upright() && p.foot-p.top > 10:
			up = append(up, p)
		case p.level() && p.right-p.leftmost > 10 && p.top > marginTop+headHeight+1:
			along = append(along, p)
		}
	}
	require.NotEmpty(t, up)
	require.NotEmpty(t, along)
	g.left, g.right = math.Inf(1), 0
	for _, p := range along {
		g.left, g.right = min(g.left, p.leftmost), max(g.right, p.right)
	}
	g.top, g.foot = math.Inf(1), 0
	for _, p := range up {
		g.top, g.foot = min(g.top, p.top), max(g.foot, p.foot)
	}
	words, _, _ := wordsOf(t, path)
	type tick struct{ value, at float64 }
	var xt, yt []tick
	// the line over the whole frame nearest to where a figure stands
	nearest := func(lines []stroke, at float64, of func(stroke) float64, within float64) float64 {
		best := math.Inf(1)
		for _, p := range lines {
			if v := of(p); math.Abs(v-at) < math.Abs(best-at) {
				best = v
			}
		}
		require.InDelta(t, at, best, within, "no line at a figure")
		return best
	}
	full := func(lines []stroke, long func(stroke) float64, want float64) (out []stroke) {
		for _, p := range lines {
			if math.Abs(long(p)-want) < 0.05 {
				out = append(out, p)
			}
		}
		return out
	}
	up = full(up, func(p stroke) float64 { return p.foot - p.top }, g.foot-g.top)
	along = full(along, func(p stroke) float64 { return p.right - p.leftmost }, g.right-g.left)
	for _, w := range words {
		v, ok := printed(w.text)
		mx, my := (w.left+w.right)/2, (w.top+w.foot)/2
		switch {
		case ok && w.top > g.foot-1 && w.top < g.foot+4 && mx > g.left-1:
			xt = append(xt, tick{v, nearest(up, mx, func(p stroke) float64 { return p.x[0] }, 0.2)})
		case ok && w.right < g.left && my > g.top-2 && my < g.foot+2:
			yt = append(yt, tick{v, nearest(along, my, func(p stroke) float64 { return p.y[0] }, 0.8)})
		default:
			g.words = append(g.words, w)
		}
	}
	scale := func(ticks []tick) func(float64) float64 {
		require.GreaterOrEqual(t, len(ticks), 2, "two figures at an axis are the least")
		slices.SortFunc(ticks, func(a, b tick) int { return int(math.Copysign(1, a.value-b.value)) })
		a, b := ticks[0], ticks[len(ticks)-1]
		require.Greater(t, b.value, a.value)
		f := func(v float64) float64 { return a.at + (v-a.value)/(b.value-a.value)*(b.at-a.at) }
		for _, k := range ticks {
			require.InDelta(t, f(k.value), k.at, 0.05, "the figure %g is not where its axis says", k.value)
		}
		return f
	}
	g.x, g.y = scale(xt), scale(yt)
	for _, k := range xt {
		g.xs = append(g.xs, k.value)
	}
	for _, k := range yt {
		g.ys = append(g.ys, k.value)
	}
	for _, p := range all {
		if p.leftmost > g.left-2 && p.right < g.right+2 && p.top > g.top-2 && p.foot < g.foot+2 {
			g.paths = append(g.paths, p)
		}
	}
	return g
}

// read is how near to its value a mark must lie, mm.
const readable = 0.3

// marks are the marks of one shape in the frame, open or filled.
func (g paperPlot) marks(shape string, open bool) (out [][2]float64) {
	for _, p := range g.paths {
		if mx, my := p.middle(); p.fill && p.shape() == shape && (p.grey > 0.5) == open {
			out = append(out, [2]float64{mx, my})
		}
	}
	return out
}

// line reports whether a path goes through the values given, in their order.
func (g paperPlot) line(xs, ys []float64) bool {
	return slices.ContainsFunc(g.paths, func(p stroke) bool {
		if p.fill || len(p.x) != len(xs) {
			return false
		}
		for i := range xs {
			if math.Hypot(p.x[i]-g.x(xs[i]), p.y[i]-g.y(ys[i])) > readable {
				return false
			}
		}
		return true
	})
}

func (g paperPlot) hasBar(t *testing.T, l LimitBar) {
	t.Helper()
	x := g.x(l.X)
	end := func(v, edge, dy float64) float64 {
		if math.IsInf(v, 0) { // an arrowhead with its tip at the edge
			require.True(t, slices.ContainsFunc(g.paths, func(p stroke) bool {
				tip := p.top
				if dy > 0 {
					tip = p.foot
				}
				return p.fill && len(p.x) >= 3 && p.shape() == "" && math.Abs(tip-edge) < 0.05 && math.Abs((p.leftmost+p.right)/2-x) < readable
			}), "no arrow at the open end of %+v", l)
			return edge
		}
		require.True(t, slices.ContainsFunc(g.paths, func(p stroke) bool {
			return p.level() && p.weight > 0.3 && math.Abs(p.y[0]-g.y(v)) < readable && math.Abs((p.leftmost+p.right)/2-x) < readable && p.right-p.leftmost < 4
		}), "no foot at %g of %+v", v, l)
		return g.y(v)
	}
	top, foot := end(l.High, g.top, -1), end(l.Low, g.foot, 1)
	require.True(t, slices.ContainsFunc(g.paths, func(p stroke) bool {
		return p.upright() && p.weight > 0.3 && math.Abs(p.x[0]-x) < readable && math.Abs(p.top-top) < 1.1 && math.Abs(p.foot-foot) < 1.1
	}), "no bar %+v", l)
}

func plotted(t *testing.T, p Paper, f Frame, b Block, name string) paperPlot {
	t.Helper()
	d := New(p, Meta{}, f)
	d.Add(Section{Key: "k", Blocks: []Block{b}})
	return readPlot(t, write(t, d, name))
}

var shapes = map[Mark]string{MarkRound: "round", MarkDown: "down", MarkUp: "up", MarkSquare: "square", MarkDiamond: "diamond"}

// Every reading, limit and fitted curve lies where the figures printed at the
// axes say, read back from the finished page: paths as MuPDF paints them, words
// as Poppler places them.
func TestPlotsAreWhereTheirAxesSay(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	speeds := []float64{100, 500, 900, 1300, 1800, 2150, 2300, 2420}
	fit := Fit{Name: "fit", Half: []float64{0.4, 0.2, 0.1, 0.2, 0.5}, X: []float64{200, 700, 1200, 1700, 2200}, Y: []float64{1.5, 3.1, 4.4, 5.9, 7.3}}
	for name, b := range map[string]Plot{
		"delivery": {Title: "Delivery", XLabel: "rev/min", YLabel: "cm³ per 1000 strokes", Height: 76,
			Series: []Series{
				{Name: "as found", X: speeds, Y: []float64{40, 31.2, 32, 33, 33, 31, 24, 9}, Dash: true, Open: true},
				{Name: "as left", X: speeds, Y: []float64{46, 33.2, 34.6, 35.8, 36.5, 35, 21, 4}},
			},
			Limits: []LimitBar{{500, 31.5, 35}, {1300, 34.5, 37}, {1800, 35, inf}, {2300, 14, 24}, {2500, -inf, 6}}},
		"fit": {Title: "Pressure", XLabel: "rev/min", Height: 52, Limits: []LimitBar{{500, 2, 3}, {1900, 6, inf}}, Fits: []Fit{fit},
			Series: []Series{{Name: "read", Loose: true, X: []float64{300, 1000, 2000}, Y: []float64{1.8, 4, 6.6}}}},
		"loop over pressure": {Title: "Travel", XLabel: "bar", Height: 60, Series: []Series{
			{Name: "going up", X: []float64{2, 3.5, 5, 7.25}, Y: []float64{0.1, 1.3, 2.7, 5.05}},
			{Name: "coming down", X: []float64{7.25, 5, 3.5, 2}, Y: []float64{5.05, 3.2, 1.9, 0.4}, Mark: MarkDown, Join: true},
			{Name: "found, going up", X: []float64{2, 3.5, 5, 7.25}, Y: []float64{-0.4, 0.9, 2.1, 4.2}, Open: true, Dash: true},
			{Name: "found, coming down", X: []float64{7, 5, 3.5, 2}, Y: []float64{4.3, 3, 1.6, 0.25}, Open: true, Dash: true, Mark: MarkDown, Join: true},
		}},
		"many": {XLabel: "rev/min", Height: 40, Series: []Series{
			{Name: "1", X: speeds[:4], Y: []float64{31, 32, 33, 34}, Mark: MarkSquare}, {Name: "2", X: speeds[:4], Y: []float64{31, nan, inf, 36}, Mark: MarkUp},
			{Name: "3", X: speeds[:4], Y: []float64{30, 31, 30, 31}, Mark: MarkDiamond, Open: true}, {Name: "4", X: speeds[:4], Y: []float64{28, 29, 28, 29}, Mark: MarkSquare, Open: true},
			{Name: "5", X: speeds[:4], Y: []float64{31, 32, 33, 34}, Open: true},
		}},
		"one":       {Height: 40, Series: []Series{{X: []float64{1000}, Y: []float64{36.5}}}},
		"all equal": {Height: 40, Series: []Series{{X: []float64{5, 5, 5}, Y: []float64{0, 0, 0}}}},
		"small":     {Height: 40, YLabel: "mm", Series: []Series{{X: []float64{-0.004, 0.0125}, Y: []float64{3.142, 3.1589}}}, Limits: []LimitBar{{0.01, 3.15, 3.16}}},
		"large":     {Height: 40, Series: []Series{{X: []float64{1e6, 2.5e6}, Y: []float64{-120000, 98000}}}},
		"crowded":   {Title: "t", YLabel: "y", XLabel: "x", Height: 20, Series: []Series{{Name: strings.Repeat("a long name ", 12), X: speeds, Y: speeds}, {Name: strings.Repeat("another ", 20), X: speeds, Y: speeds, Open: true}}},
	} {
		for _, p := range []Paper{A4, Letter} {
			for _, comma := range []bool{false, true} {
				t.Run(fmt.Sprint(name, p.Name, comma), func(t *testing.T) {
					g := plotted(t, p, Frame{DecimalComma: comma}, b, "plot-"+name+p.Name)
					want := map[string]int{}
					key := func(c Series) string { return fmt.Sprint(shapes[c.Mark], c.Open) }
					for i, c := range b.Series {
						found := g.marks(shapes[c.Mark], c.Open)
						for k := range c.X {
							if !drawable(c.Y[k]) {
								continue
							}
							want[key(c)]++
							near := math.Inf(1)
							for _, m := range found {
								near = min(near, math.Hypot(m[0]-g.x(c.X[k]), m[1]-g.y(c.Y[k])))
							}
							require.LessOrEqualf(t, near, readable, "%q: %g, %g has no mark at its place", c.Name, c.X[k], c.Y[k])
							if k > 0 && drawable(c.Y[k-1]) {
								require.Equal(t, !c.Loose, g.line(c.X[k-1:k+1], c.Y[k-1:k+1]))
							}
						}
						if last := len(c.X) - 1; c.Join {
							up := b.Series[i-1]
							require.True(t, g.line([]float64{up.X[last], c.X[0]}, []float64{up.Y[last], c.Y[0]}), "the loop is not closed at its top")
						}
					}
					for _, c := range b.Series {
						require.Len(t, g.marks(shapes[c.Mark], c.Open), want[key(c)], "marks for which there is no reading")
					}
					for _, l := range b.Limits {
						g.hasBar(t, l)
					}
					for _, f := range b.Fits {
						require.True(t, g.line(f.X, f.Y), "no fitted curve")
						for _, side := range []float64{-1, 1} {
							edge := make([]float64, len(f.Y))
							for i := range edge {
								edge[i] = f.Y[i] + side*f.Half[i]
							}
							require.True(t, g.line(f.X, edge), "no edge of the band")
						}
					}
					for _, w := range g.words { // names stand over the frame, nothing over the data
						require.True(t, w.foot-0.5 < g.top || w.top > g.foot, "%+v", w)
						require.Less(t, w.right, p.W-marginOuter+0.05)
					}
				})
			}
		}
	}
}

// The figures at the axes of grids as small as three beside each other are
// round, two or more on each axis, and every limit bar is at its place.
func TestSketchGridsAreWhereTheirAxesSay(t *testing.T) {
	inf := math.Inf(1)
	for _, b := range []SketchGrid{
		{Title: "Delivery", XLabel: "rev/min", YLabel: "cm³ per 1000 strokes", XMax: 2600, YMax: 52, Height: 40, Limits: []LimitBar{{500, 31, 35}, {1800, 35, inf}, {2500, -inf, 6}}},
		{Title: "Travel", XLabel: "bar", YLabel: "mm", XMax: 7.5, YMax: 9, Height: 40, Limits: []LimitBar{{3, 0, 0.6}, {6, 4.2, 5.4}}},
		{XMin: 2000, XMax: 2100, YMin: -0.05, YMax: 0.11, Height: 40},
		{XMax: 4, YMax: 3, Limits: []LimitBar{{5, 2, 4.5}}}, // beyond what was asked for
	} {
		for _, p := range []Paper{A4, Letter} {
			for _, beside := range []int{1, 2, 3} {
				cols := Columns{Cols: make([][]Block, beside)}
				cols.Cols[0] = []Block{b}
				g := plotted(t, p, Frame{}, cols, "grid")
				for _, l := range b.Limits {
					g.hasBar(t, l)
				}
				for _, vs := range [][]float64{g.xs, g.ys} {
					step := vs[1] - vs[0]
					first := step / math.Pow(10, math.Floor(math.Log10(step*1.000001)))
					require.Condition(t, func() bool {
						return slices.ContainsFunc([]float64{1, 2, 2.5, 5}, func(v float64) bool { return math.Abs(v-first) < 1e-6 })
					}, "steps of %g", step)
					require.InDelta(t, 0, math.Remainder(vs[0], step), 1e-9*step+1e-12)
				}
				require.LessOrEqual(t, g.xs[0], b.XMin)
				require.GreaterOrEqual(t, g.xs[len(g.xs)-1], b.XMax)
				require.LessOrEqual(t, g.ys[0], b.YMin)
				require.GreaterOrEqual(t, g.ys[len(g.ys)-1], b.YMax)
			}
		}
	}
}

func TestPlotWithoutReadings(t *testing.T) {
	for _, b := range []Plot{
		{Empty: "no readings", Height: 40, XLabel: "rev/min"},
		{Empty: "no readings", Height: 40, Limits: []LimitBar{{500, 1, 2}, {900, 4, math.Inf(1)}, {1000, math.Inf(-1), math.Inf(1)}}, Series: []Series{{Name: "a"}, {Name: "b", X: []float64{math.NaN()}, Y: []float64{1}}}},
	} {
		g := plotted(t, A4, Frame{}, b, "empty")
		var inside []string
		for _, w := range g.words {
			if w.left > g.left && w.right < g.right && w.top > g.top && w.foot < g.foot {
				inside = append(inside, w.text)
			}
		}
		require.Equal(t, []string{"no", "readings"}, inside)
		require.Empty(t, g.marks("round", false))
	}
}

// A fit that says next to nothing away from its readings does not press them
// flat.
func TestWildBandLeavesTheReadingsTheirRoom(t *testing.T) {
	g := plotted(t, A4, Frame{}, Plot{Height: 50, Series: []Series{{X: []float64{100, 200}, Y: []float64{5, 6}}},
		Fits: []Fit{{X: []float64{50, 150, 250}, Y: []float64{4.5, 5.5, 6.5}, Half: []float64{1e6, 40, math.Inf(1)}}}}, "wild")
	require.Greater(t, g.y(5)-g.y(6), 0.3*(g.foot-g.top))
}

func TestFitsThatAreNotWhole(t *testing.T) {
	for _, f := range []Fit{{X: []float64{1}}, {X: []float64{1, 2}, Y: []float64{1, 2}, Half: []float64{1}}} {
		d := New(A4, Meta{}, Frame{})
		d.Add(Section{Key: "k", Blocks: []Block{Plot{Title: "p", Fits: []Fit{f}}}})
		_, err := d.Bytes()
		require.ErrorContains(t, err, `plot "p", fit 1`)
	}
}

// On a copy in black and white, 100 dpi, the two edges of a band and the curve
// between them are still three lines with white between.
func TestBandSurvivesABlackAndWhiteCopy(t *testing.T) {
	d := New(A4, Meta{}, Frame{})
	b := Plot{Height: 60, YMax: 10, Fits: []Fit{{X: []float64{0, 2000}, Y: []float64{2, 8}, Half: []float64{1, 1}}}}
	d.Add(Section{Key: "k", Blocks: []Block{b}})
	path := write(t, d, "band")
	p, g := picture(t, path, 1, 100), readPlot(t, path)
	for x := 150.0; x < 1900; x += 130 {
		lines, black := 0, false
		for py := int(g.top/p.mm) + 1; py < int(g.foot/p.mm)-1; py++ {
			now := p.pix[py*p.w+int(g.x(x)/p.mm)] < 128
			if now && !black {
				lines++
			}
			black = now
		}
		require.Equal(t, 3, lines, "at %g", x)
	}
}
