package layout

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// axis runs from low to high in nice steps.
type axis struct {
	low, high, step float64
	decimals        int
}

// nice is the least of 1, 2, 2.5 and 5 times a power of ten that is no less
// than x.
func nice(x float64) float64 {
	if x <= 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*p >= x*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// decimalsOf is how many decimals tell multiples of step apart.
func decimalsOf(step float64) int {
	for d := range 9 {
		if v := step * math.Pow(10, float64(d)); math.Abs(v-math.Round(v)) < 1e-6*v {
			return d
		}
	}
	return 9
}

// ticks makes an axis over low to high with at most n steps.
func ticks(low, high float64, n int) axis {
	if !(high-low > 1e-9*max(math.Abs(low), math.Abs(high))) {
		d := math.Abs(low) * 0.1
		if d == 0 {
			d = 1
		}
		low, high = low-d, low+d
	}
	step := nice((high - low) / float64(max(n, 1)))
	a := axis{math.Floor(low/step+1e-9) * step, math.Ceil(high/step-1e-9) * step, step, decimalsOf(step)}
	for int(math.Round((a.high-a.low)/a.step)) > n+1 {
		a.step = nice(a.step * 1.01)
		a.low, a.high = math.Floor(low/a.step+1e-9)*a.step, math.Ceil(high/a.step-1e-9)*a.step
		a.decimals = decimalsOf(a.step)
	}
	return a
}

func (a axis) count() int { return int(math.Round((a.high - a.low) / a.step)) }

func (a axis) at(i int) float64 { return a.low + float64(i)*a.step }

// divide is in how many parts of round size a step pitch mm long is divided,
// none shorter than a millimetre.
func (a axis) divide(pitch float64) int {
	first := math.Round(a.step * math.Pow(10, 1-math.Floor(math.Log10(a.step*(1+1e-9))))) // 10, 20, 25 or 50
	parts := []int{10, 5, 2}
	switch first {
	case 20:
		parts = []int{20, 10, 4, 2}
	case 25:
		parts = []int{5}
	}
	for _, n := range parts {
		if pitch/float64(n) >= 1 {
			return n
		}
	}
	return 1
}

func (s *sheet) number(v float64, decimals int) string {
	t := strconv.FormatFloat(v, 'f', decimals, 64)
	if v < 0 {
		t = strings.Replace(t, "-", "−", 1)
		if strings.Trim(t, "−0.") == "" {
			t = t[len("−"):]
		}
	}
	return strings.Replace(t, ".", s.point, 1)
}

var tickText = small

const (
	plotHead = 4.6 // height of a line of text over a plot, mm
	tickLine = 0.9 // length of the stroke at a figure on an axis
)

// graph is the field between two axes, its edges in page coordinates.
type graph struct {
	x, y                   axis
	left, right, top, foot float64
}

func (g graph) px(v float64) float64 {
	return g.left + (v-g.x.low)/(g.x.high-g.x.low)*(g.right-g.left)
}

func (g graph) py(v float64) float64 {
	return g.foot - (v-g.y.low)/(g.y.high-g.y.low)*(g.foot-g.top)
}

// span is a range of values that grows to hold what is added to it.
type span struct {
	low, high float64
	whole     bool // of whole things
}

func nothing() span { return span{low: math.Inf(1), high: math.Inf(-1)} }

func (r *span) add(v float64) {
	if drawable(v) {
		r.low, r.high = min(r.low, v), max(r.high, v)
	}
}

func (r span) empty() bool { return r.low > r.high }

// drawable reports whether a value has a place on an axis.
func drawable(v float64) bool { return math.Abs(v) < 1e15 }

// labels are the words about a graph.
type labels struct{ title, x, y string }

// heads is the room for words above a graph, foot for what is below it.
func (l labels) heads() float64 {
	h := 0.0
	if l.title != "" {
		h += plotHead
	}
	if l.y != "" {
		return h + plotHead + 0.6
	}
	return h + 2
}

func (l labels) foot() float64 {
	if l.x != "" {
		return 9.2
	}
	return 5
}

// graph lays axes over x and y between top and foot, as many steps as there is
// room for.
func (s *sheet) graph(xs, ys span, x, w, top, foot float64) graph {
	g := graph{top: top, foot: foot}
	h := foot - top
	g.y = ticks(ys.low, ys.high, max(2, int(h/min(max(h/5, 4.2), 6.5))))
	left := 0.0
	for i := range g.y.count() + 1 {
		left = max(left, s.width(tickText, s.number(g.y.at(i), g.y.decimals)))
	}
	left += 2.2
	g.left = x + left
	room := w - left - 4
	a := ticks(xs.low, xs.high, 5)
	label := max(s.width(tickText, s.number(a.low, a.decimals)), s.width(tickText, s.number(a.high, a.decimals)))
	most := max(2, int(room/max(label+4, min(room/5, 20))))
	for g.x = ticks(xs.low, xs.high, most); xs.whole && g.x.decimals > 0 && most > 1; {
		most--
		g.x = ticks(xs.low, xs.high, most)
	}
	g.right = x + w - max(s.width(tickText, s.number(g.x.high, g.x.decimals))/2+0.5, 2.5)
	return g
}

// scales draws the two axes and says what they are.
func (s *sheet) scales(g graph, x float64, l labels) {
	if l.y != "" {
		s.fitted(g.left, g.top-plotHead+2.7, g.right-g.left, small, 0, "L", l.y)
	}
	s.line(g.left, g.top, g.left, g.foot, 0.25, 0.2)
	s.line(g.left, g.foot, g.right, g.foot, 0.25, 0.2)
	// short strokes, since a photocopier may drop the grey lines
	for i := range g.y.count() + 1 {
		s.line(g.left-tickLine, g.py(g.y.at(i)), g.left, g.py(g.y.at(i)), 0.25, 0.2)
	}
	for i := range g.x.count() + 1 {
		s.line(g.px(g.x.at(i)), g.foot, g.px(g.x.at(i)), g.foot+tickLine, 0.25, 0.2)
	}
	for i := g.y.count(); i >= 0; i-- {
		s.fitted(x, g.py(g.y.at(i))+0.35*tickText.mm(), g.left-x-1.6, tickText, 0, "R", s.number(g.y.at(i), g.y.decimals))
	}
	for i := range g.x.count() + 1 {
		t := s.number(g.x.at(i), g.x.decimals)
		s.text(g.px(g.x.at(i))-s.width(tickText, t)/2, g.foot+3.9, tickText, 0, t)
	}
	if l.x != "" {
		s.fitted(g.left, g.foot+l.foot()-1, g.right-g.left, small, 0, "R", l.x)
	}
}

func (b Plot) labels() labels { return labels{b.Title, b.XLabel, b.YLabel} }

// height leaves the axes at least 18 mm, however many names stand over them.
func (b Plot) height(s *sheet, w float64) float64 {
	h := b.Height
	if h <= 0 {
		h = 70
	}
	return max(h, b.labels().heads()+float64(len(b.legend(s, w)))*plotHead+18+b.labels().foot())
}

// entry is a name over a plot and how to draw what it names between two points
// on a level.
type entry struct {
	name string
	draw func(x1, x2, y float64)
}

const (
	legendLine = 8.0 // a sample of a line, mm
	legendGap  = 5.0
)

func (b Plot) entries(s *sheet) (out []entry) {
	for _, c := range b.Series {
		if c.Name != "" {
			out = append(out, entry{c.Name, func(x1, x2, y float64) {
				s.joined(c, b.weight(), []float64{x1, x2}, []float64{y, y})
				s.marks(c, []float64{(x1 + x2) / 2}, []float64{y})
			}})
		}
	}
	for _, f := range b.Fits {
		if f.Name != "" {
			out = append(out, entry{f.Name, func(x1, x2, y float64) {
				xs, ys := []float64{x1, x2}, []float64{y, y}
				if f.Half != nil {
					half := []float64{1.1, 1.1}
					s.band(xs, ys, half)
					s.bandEdges(xs, ys, half)
				}
				s.fitLine(f, xs, ys)
			}})
		}
	}
	if len(out) < 2 {
		return nil // a curve alone needs no name
	}
	return out
}

// legend sets the names of the curves in rows no wider than w.
func (b Plot) legend(s *sheet, w float64) (rows [][]entry) {
	var row []entry
	at := 0.0
	for _, e := range b.entries(s) {
		cw := min(legendLine+2+s.width(small, e.name)+legendGap, w)
		if len(row) > 0 && at+cw-legendGap > w {
			rows, row, at = append(rows, row), nil, 0
		}
		row = append(row, e)
		at += cw
	}
	if len(row) > 0 {
		rows = append(rows, row)
	}
	return rows
}

// weight is that of the lines, thinner where many run close together.
func (b Plot) weight() float64 {
	if len(b.Series) > 2 {
		return 0.4
	}
	return 0.6
}

// bounds are the least axes that hold every reading and limit. A fitted curve
// and its band widen them by no more than half, so that the readings are not
// squeezed; what is beyond is cut off at the frame.
func (b Plot) bounds() (xs, ys span) {
	xs, ys = nothing(), nothing()
	for _, c := range b.Series {
		for i := range c.X {
			if drawable(c.X[i]) && drawable(c.Y[i]) {
				xs.add(c.X[i])
				ys.add(c.Y[i])
			}
		}
	}
	limits(b.Limits, &xs, &ys)
	fx, fy := xs, ys
	for _, f := range b.Fits {
		for i := range f.X {
			fx.add(f.X[i])
			fy.add(f.Y[i])
			if f.Half != nil {
				fy.add(f.Y[i] - f.Half[i])
				fy.add(f.Y[i] + f.Half[i])
			}
		}
	}
	xs, ys = within(fx, xs), within(fy, ys)
	// a curve well above nought is read better from nought
	if ys.low > 0 && ys.low < 0.6*ys.high {
		ys.low = 0
	}
	if xs.low > 0 && xs.low < 0.5*xs.high {
		xs.low = 0
	}
	xs = widened(xs, b.XMin, b.XMax)
	xs.whole = b.Whole
	return xs, widened(ys, b.YMin, b.YMax)
}

// limits widens axes to hold limit bars, with room for the arrow of an open end
// that does not go below nought for it.
func limits(bars []LimitBar, xs, ys *span) {
	for _, l := range bars {
		xs.add(l.X)
		ys.add(l.Low)
		ys.add(l.High)
	}
	room, floor := 0.12*(ys.high-ys.low), math.Inf(-1)
	if ys.low >= 0 {
		floor = 0
	}
	for _, l := range bars {
		if math.IsInf(l.High, 1) {
			ys.add(l.Low + room)
		}
		if math.IsInf(l.Low, -1) {
			ys.add(max(l.High-room, floor))
		}
	}
}

// within cuts a range down to another and half of it more at either end.
func within(r, data span) span {
	if d := (data.high - data.low) / 2; d > 0 {
		return span{low: max(r.low, data.low-d), high: min(r.high, data.high+d)}
	}
	return r
}

// widened makes a range hold what was asked for; it is never empty.
func widened(r span, low, high float64) span {
	if low < high {
		r.add(low)
		r.add(high)
	}
	if r.empty() {
		return span{low: 0, high: 1}
	}
	return r
}

// whole reports whether the plot has what it needs to be drawn.
func (b Plot) whole(s *sheet) bool {
	for i, c := range b.Series {
		if len(c.X) != len(c.Y) {
			s.fail("plot %q, series %d (%q) has %d x and %d y; give it as many of each", b.Title, i+1, c.Name, len(c.X), len(c.Y))
			return false
		}
	}
	for i, f := range b.Fits {
		if len(f.X) != len(f.Y) || f.Half != nil && len(f.Half) != len(f.X) {
			s.fail("plot %q, fit %d (%q) has %d x, %d y and %d half-widths; give it as many of each, or no half-widths", b.Title, i+1, f.Name, len(f.X), len(f.Y), len(f.Half))
			return false
		}
	}
	return true
}

// bare reports whether there is neither a reading nor a fitted curve.
func (b Plot) bare() bool {
	for _, c := range b.Series {
		for i := range c.X {
			if drawable(c.X[i]) && drawable(c.Y[i]) {
				return false
			}
		}
	}
	return len(b.Fits) == 0
}

func (b Plot) draw(s *sheet, x, y, w float64) {
	if !b.whole(s) {
		return
	}
	bottom := y + b.height(s, w)
	if b.Title != "" {
		s.fitted(x, y+3.3, w, font{sansBold, 9}, 0, "L", b.Title)
		y += plotHead
	}
	for _, row := range b.legend(s, w) {
		at := x
		for _, e := range row {
			e.draw(at, at+legendLine, y+2.2)
			f, t := s.fit(small, e.name, w-legendLine-2)
			s.text(at+legendLine+2, y+3.3, f, 0, t)
			at += legendLine + 2 + s.width(f, t) + legendGap
		}
		y += plotHead
	}
	xs, ys := b.bounds()
	l := labels{x: b.XLabel, y: b.YLabel}
	g := s.graph(xs, ys, x, w, y+l.heads(), bottom-l.foot())
	place := func(vx, vy []float64) (xs, ys []float64) {
		xs, ys = make([]float64, len(vx)), make([]float64, len(vx))
		for i := range vx {
			xs[i], ys[i] = math.NaN(), math.NaN()
			if drawable(vx[i]) && drawable(vy[i]) {
				xs[i], ys[i] = g.px(vx[i]), g.py(vy[i])
			}
		}
		return xs, ys
	}
	half := func(f Fit) []float64 { // on paper
		out := make([]float64, len(f.Half))
		for i, v := range f.Half {
			out[i] = math.Abs(v) / (g.y.high - g.y.low) * (g.foot - g.top)
		}
		return out
	}
	s.clipped(g, func() {
		for _, f := range b.Fits {
			xs, ys := place(f.X, f.Y)
			s.band(xs, ys, half(f))
		}
	})
	for i := range g.y.count() + 1 {
		v := g.py(g.y.at(i))
		s.line(g.left, v, g.right, v, thin, 0.72)
	}
	for i := range g.x.count() + 1 {
		v := g.px(g.x.at(i))
		s.line(v, g.top, v, g.foot, thin, 0.82)
	}
	s.clipped(g, func() {
		for _, f := range b.Fits {
			xs, ys := place(f.X, f.Y)
			s.bandEdges(xs, ys, half(f))
			s.fitLine(f, xs, ys)
		}
	})
	s.scales(g, x, l)
	if b.bare() && b.Empty != "" {
		s.inside(g, b.Limits, b.Empty)
	}
	for _, l := range b.Limits {
		s.limitBar(g, l)
	}
	// open marks are the larger and drawn first: a filled one at the same place
	// leaves them to be seen
	var lastX, lastY []float64
	for _, c := range b.Series {
		xs, ys := place(c.X, c.Y)
		if c.Join {
			x1, y1, ok1 := endOf(lastX, lastY, -1)
			x2, y2, ok2 := endOf(xs, ys, 1)
			if ok1 && ok2 {
				s.joined(c, b.weight(), []float64{x1, x2}, []float64{y1, y2})
			}
		}
		s.joined(c, b.weight(), xs, ys)
		lastX, lastY = xs, ys
	}
	for _, open := range []bool{true, false} {
		for _, c := range b.Series {
			if c.Open == open {
				xs, ys := place(c.X, c.Y)
				s.marks(c, xs, ys)
			}
		}
	}
}

// endOf is the first point there is from the start of a series (way 1) or from
// its end (way -1).
func endOf(xs, ys []float64, way int) (x, y float64, ok bool) {
	for i := range xs {
		if way < 0 {
			i = len(xs) - 1 - i
		}
		if !math.IsNaN(xs[i]) {
			return xs[i], ys[i], true
		}
	}
	return 0, 0, false
}

// inside prints words in the middle of the widest gap between limit bars.
func (s *sheet) inside(g graph, limits []LimitBar, words string) {
	at := []float64{g.left, g.right}
	for _, l := range limits {
		if drawable(l.X) {
			at = append(at, g.px(l.X))
		}
	}
	slices.Sort(at)
	best := 1
	for i := range at {
		if i > 0 && at[i]-at[i-1] > at[best]-at[best-1] {
			best = i
		}
	}
	room := at[best] - at[best-1] - 4
	f, t := s.fit(read, words, room)
	tw, mx, my := s.width(f, t), (at[best]+at[best-1])/2, (g.top+g.foot)/2
	s.rect(mx-tw/2-1, my-f.lead()/2, tw+2, f.lead(), 0, 0, 1)
	s.text(mx-tw/2, my+0.35*f.mm(), f, 0, t)
}

// limitBar draws a bar with feet; an open end runs to the edge with an
// arrowhead.
func (s *sheet) limitBar(g graph, l LimitBar) {
	low, high := drawable(l.Low), drawable(l.High)
	if !drawable(l.X) || math.IsNaN(l.Low) || math.IsNaN(l.High) || !low && !high {
		return
	}
	x := g.px(l.X)
	up, down := g.top, g.foot
	if high {
		up = g.py(l.High)
		s.line(x-1.5, up, x+1.5, up, 0.4, 0)
	} else {
		s.arrowhead(x, g.top, 0, -1, 2, 0)
		up += 1
	}
	if low {
		down = g.py(l.Low)
		s.line(x-1.5, down, x+1.5, down, 0.4, 0)
	} else {
		s.arrowhead(x, g.foot, 0, 1, 2, 0)
		down -= 1
	}
	s.line(x, up, x, down, 0.4, 0)
}

// joined draws the line of a series given in page coordinates; a gap in the
// data is a gap in the line.
func (s *sheet) joined(c Series, weight float64, xs, ys []float64) {
	if c.Loose {
		return
	}
	for i := 1; i < len(xs); i++ {
		switch {
		case math.IsNaN(xs[i-1]) || math.IsNaN(xs[i]):
		case c.Dash:
			s.dashed(xs[i-1], ys[i-1], xs[i], ys[i], 0.75*weight, 0)
		default:
			s.line(xs[i-1], ys[i-1], xs[i], ys[i], weight, 0)
		}
	}
}

// marks draws the marks of a series given in page coordinates.
func (s *sheet) marks(c Series, xs, ys []float64) {
	size, weight, fill := 1.0, 0.0, 0.0 // as the radius of a circle
	if c.Open {
		size, weight, fill = 1.2, 0.35, 1
	}
	for i, x := range xs {
		if math.IsNaN(x) {
			continue
		}
		y := ys[i]
		// the middle of gravity of each is where the reading lies
		corner := func(n int, r, from float64) {
			var xy []float64
			for k := range n {
				sin, cos := math.Sincos(from + 2*math.Pi*float64(k)/float64(n))
				xy = append(xy, x+r*cos, y+r*sin)
			}
			s.polygon(weight, 0, fill, xy...)
		}
		switch c.Mark {
		case MarkDown:
			corner(3, 1.4*size, math.Pi/2)
		case MarkUp:
			corner(3, 1.4*size, -math.Pi/2)
		case MarkSquare:
			corner(4, 1.2*size, math.Pi/4)
		case MarkDiamond:
			corner(4, 1.35*size, 0)
		default:
			s.circle(x, y, size, weight, 0, fill)
		}
	}
}

// runs are the stretches of a curve without a gap, as from and to.
func runs(n int, ok func(i int) bool) (out [][2]int) {
	for i := 0; i < n; i++ {
		from := i
		for i < n && ok(i) {
			i++
		}
		if i > from+1 {
			out = append(out, [2]int{from, i})
		}
	}
	return out
}

// band shades what lies within half of a curve given in page coordinates.
func (s *sheet) band(xs, ys, half []float64) {
	for _, r := range runs(len(half), func(i int) bool { return !math.IsNaN(xs[i]) && drawable(half[i]) }) {
		var xy []float64
		for i := r[0]; i < r[1]; i++ {
			xy = append(xy, xs[i], ys[i]-half[i])
		}
		for i := r[1] - 1; i >= r[0]; i-- {
			xy = append(xy, xs[i], ys[i]+half[i])
		}
		s.polygon(0, 0, 0.92, xy...)
	}
}

// bandEdges are what is left of a band when a photocopier drops its grey.
func (s *sheet) bandEdges(xs, ys, half []float64) {
	for _, r := range runs(len(half), func(i int) bool { return !math.IsNaN(xs[i]) && drawable(half[i]) }) {
		for _, side := range []float64{-1, 1} {
			var xy []float64
			for i := r[0]; i < r[1]; i++ {
				xy = append(xy, xs[i], ys[i]+side*half[i])
			}
			s.path(0.25, 0, nil, xy...) // a thinner one is lost in a black and white copy
		}
	}
}

func (s *sheet) fitLine(f Fit, xs, ys []float64) {
	var dash []float64
	if f.Dash {
		dash = []float64{2.4, 1}
	}
	for _, r := range runs(len(xs), func(i int) bool { return !math.IsNaN(xs[i]) }) {
		var xy []float64
		for i := r[0]; i < r[1]; i++ {
			xy = append(xy, xs[i], ys[i])
		}
		s.path(0.45, 0, dash, xy...)
	}
}

func (b SketchGrid) labels() labels { return labels{b.Title, b.XLabel, b.YLabel} }

func (b SketchGrid) height(s *sheet, w float64) float64 {
	h := b.Height
	if h <= 0 {
		h = 70
	}
	return max(h, b.labels().heads()+15+b.labels().foot())
}

func (b SketchGrid) draw(s *sheet, x, y, w float64) {
	bottom := y + b.height(s, w)
	if b.Title != "" {
		s.fitted(x, y+3.3, w, font{sansBold, 9}, 0, "L", b.Title)
		y += plotHead
	}
	xs, ys := nothing(), nothing()
	limits(b.Limits, &xs, &ys)
	l := labels{x: b.XLabel, y: b.YLabel}
	g := s.graph(widened(xs, b.XMin, b.XMax), widened(ys, b.YMin, b.YMax), x, w, y+l.heads(), bottom-l.foot())
	nx := g.x.divide((g.right - g.left) / float64(g.x.count()))
	ny := g.y.divide((g.foot - g.top) / float64(g.y.count()))
	// the finest first, so that the others are not crossed by it
	for level, pen := range []struct{ weight, grey float64 }{{thin, 0.88}, {thin, 0.72}, {thin, 0.4}} {
		for i := range g.x.count()*nx + 1 {
			if v := g.left + (g.right-g.left)*float64(i)/float64(g.x.count()*nx); rank(i, nx) == level {
				s.line(v, g.top, v, g.foot, pen.weight, pen.grey)
			}
		}
		for i := range g.y.count()*ny + 1 {
			if v := g.foot - (g.foot-g.top)*float64(i)/float64(g.y.count()*ny); rank(i, ny) == level {
				s.line(g.left, v, g.right, v, pen.weight, pen.grey)
			}
		}
	}
	s.scales(g, x, l)
	for _, l := range b.Limits {
		s.limitBar(g, l)
	}
}

// rank is the weight of line i of a grid with n parts to the step: 2 at a step,
// 1 at half of one, else 0.
func rank(i, n int) int {
	switch {
	case i%n == 0:
		return 2
	case n%2 == 0 && n > 2 && i%(n/2) == 0:
		return 1
	}
	return 0
}
