package layout

import (
	"math"
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
	if !(high > low) {
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

var (
	tickText = small
	plotHead = 4.6 // height of a line of text over a plot, mm
)

func (b Plot) height(s *sheet, w float64) float64 {
	if b.Height > 0 {
		return b.Height
	}
	return 70
}

// legend sets the names of the series in rows no wider than w.
func (b Plot) legend(s *sheet, w float64) (rows [][]int) {
	if len(b.Series) < 2 {
		return nil
	}
	var row []int
	at := 1.2
	for i, c := range b.Series {
		cw := min(10+s.width(small, c.Name)+5, w-1.2)
		if len(row) > 0 && at+cw > w {
			rows, row, at = append(rows, row), nil, 1.2
		}
		row = append(row, i)
		at += cw
	}
	return append(rows, row)
}

// bounds are the least axes that hold everything, whatever was asked for.
func (b Plot) bounds() (x1, x2, y1, y2 float64) {
	x1, x2, y1, y2 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	add := func(x, y float64) {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			x1, x2 = min(x1, x), max(x2, x)
		}
		if !math.IsNaN(y) && !math.IsInf(y, 0) {
			y1, y2 = min(y1, y), max(y2, y)
		}
	}
	for _, c := range b.Series {
		for i := range min(len(c.X), len(c.Y)) {
			add(c.X[i], c.Y[i])
		}
	}
	for _, l := range b.Limits {
		add(l.X, l.Low)
		add(l.X, l.High)
	}
	// a curve well above nought is read better from nought
	if y1 > 0 && y1 < 0.6*y2 {
		y1 = 0
	}
	if x1 > 0 && x1 < 0.5*x2 {
		x1 = 0
	}
	if b.XMin < b.XMax {
		x1, x2 = min(x1, b.XMin), max(x2, b.XMax)
	}
	if b.YMin < b.YMax {
		y1, y2 = min(y1, b.YMin), max(y2, b.YMax)
	}
	if x1 > x2 {
		x1, x2 = 0, 1
	}
	if y1 > y2 {
		y1, y2 = 0, 1
	}
	return x1, x2, y1, y2
}

func (b Plot) draw(s *sheet, x, y, w float64) {
	bottom := y + b.height(s, w)
	for i, c := range b.Series {
		if len(c.X) != len(c.Y) {
			s.fail("plot %q, series %d (%q) has %d x and %d y; give it as many of each", b.Title, i+1, c.Name, len(c.X), len(c.Y))
			return
		}
	}
	if b.Title != "" {
		s.fitted(x, y+3.3, w, font{sansBold, 9}, 0, "L", b.Title)
		y += plotHead
	}
	for _, row := range b.legend(s, w) {
		at := x + 1.2 // a round end more
		for _, i := range row {
			s.curve(b.Series[i], []float64{at, at + 8}, []float64{y + 2.2, y + 2.2})
			f, t := s.fit(small, b.Series[i].Name, w-12)
			s.text(at+10, y+3.3, f, 0, t)
			at += 10 + s.width(f, t) + 5
		}
		y += plotHead
	}
	x1, x2, y1, y2 := b.bounds()
	foot := 5.0
	if b.XLabel != "" {
		foot += 4.2
	}
	top := y + 2
	if b.YLabel != "" {
		top = y + plotHead + 0.6
	}
	low := bottom - foot
	ya := ticks(y1, y2, max(2, int((low-top)/6.5)))
	left := 0.0
	for i := range ya.count() + 1 {
		left = max(left, s.width(tickText, s.number(ya.at(i), ya.decimals)))
	}
	left += 2.2
	xa := ticks(x1, x2, max(2, int((w-left-6)/20)))
	right := s.width(tickText, s.number(xa.high, xa.decimals))/2 + 0.5
	right = max(right, 2.5)
	px := func(v float64) float64 { return x + left + (v-xa.low)/(xa.high-xa.low)*(w-left-right) }
	py := func(v float64) float64 { return low - (v-ya.low)/(ya.high-ya.low)*(low-top) }

	if b.YLabel != "" {
		s.fitted(x+left, y+3.3, w-left, small, 0, "L", b.YLabel)
	}
	for i := range ya.count() + 1 {
		v := py(ya.at(i))
		s.line(px(xa.low), v, px(xa.high), v, thin, 0.72)
	}
	for i := range xa.count() + 1 {
		v := px(xa.at(i))
		s.line(v, top, v, low, thin, 0.82)
	}
	s.line(px(xa.low), top, px(xa.low), low, 0.25, 0.2)
	s.line(px(xa.low), low, px(xa.high), low, 0.25, 0.2)
	for i := ya.count(); i >= 0; i-- {
		s.fitted(x, py(ya.at(i))+0.35*tickText.mm(), left-1.6, tickText, 0, "R", s.number(ya.at(i), ya.decimals))
	}
	for i := range xa.count() + 1 {
		t := s.number(xa.at(i), xa.decimals)
		s.text(px(xa.at(i))-s.width(tickText, t)/2, low+3.9, tickText, 0, t)
	}
	if b.XLabel != "" {
		s.fitted(x+left, bottom-1, w-left-right, small, 0, "R", b.XLabel)
	}
	for _, l := range b.Limits {
		s.limitBar(px(l.X), l, py, top, low)
	}
	for _, c := range b.Series {
		xs, ys := make([]float64, len(c.X)), make([]float64, len(c.X))
		for i := range c.X {
			xs[i], ys[i] = px(c.X[i]), py(c.Y[i])
		}
		s.curve(c, xs, ys)
	}
}

// limitBar draws a bar with feet; an open end runs to the edge with an
// arrowhead.
func (s *sheet) limitBar(x float64, l LimitBar, py func(float64) float64, top, low float64) {
	if math.IsNaN(l.Low) || math.IsNaN(l.High) {
		return
	}
	up, down := top, low
	if !math.IsInf(l.High, 0) {
		up = py(l.High)
		s.line(x-1.5, up, x+1.5, up, 0.4, 0)
	} else {
		s.arrowhead(x, top, 0, -1, 2, 0)
		up += 1
	}
	if !math.IsInf(l.Low, 0) {
		down = py(l.Low)
		s.line(x-1.5, down, x+1.5, down, 0.4, 0)
	} else {
		s.arrowhead(x, low, 0, 1, 2, 0)
		down -= 1
	}
	s.line(x, up, x, down, 0.4, 0)
}

// curve draws a series given in page coordinates; a gap in the data is a gap
// in the line.
func (s *sheet) curve(c Series, xs, ys []float64) {
	ok := func(i int) bool {
		return !math.IsNaN(xs[i]) && !math.IsNaN(ys[i]) && !math.IsInf(xs[i], 0) && !math.IsInf(ys[i], 0)
	}
	for i := 1; i < len(xs); i++ {
		if !ok(i-1) || !ok(i) {
			continue
		}
		if c.Dash {
			s.dashed(xs[i-1], ys[i-1], xs[i], ys[i], 0.45, 0)
		} else {
			s.line(xs[i-1], ys[i-1], xs[i], ys[i], 0.6, 0)
		}
	}
	fill := 0.0
	if c.Open {
		fill = 1
	}
	for i := range xs {
		if ok(i) {
			s.circle(xs[i], ys[i], 1, 0.35, 0, fill)
		}
	}
}

func (b SketchGrid) height(s *sheet, w float64) float64 {
	if b.Height > 0 {
		return b.Height
	}
	return 70
}

// perMM is the least nice value of a millimetre with which low to high, taken
// out to whole centimetres, is no longer than room.
func perMM(low, high, room float64) (unit, from float64, length float64) {
	if !(high > low) {
		high = low + 1
	}
	unit = nice((high - low) / room)
	for {
		cm := 10 * unit
		from = math.Floor(low/cm+1e-9) * cm
		length = math.Round((math.Ceil(high/cm-1e-9)*cm - from) / unit)
		if length <= room || room < 10 {
			return unit, from, length
		}
		unit = nice(unit * 1.01)
	}
}

func (b SketchGrid) draw(s *sheet, x, y, w float64) {
	bottom := y + b.height(s, w)
	if b.Title != "" {
		s.fitted(x, y+3.3, w, font{sansBold, 9}, 0, "L", b.Title)
		y += plotHead
	}
	foot := 5.0
	if b.XLabel != "" {
		foot += 4.2
	}
	top := y + 2
	if b.YLabel != "" {
		top = y + plotHead + 0.6
	}
	yu, y0, high := perMM(b.YMin, b.YMax, bottom-foot-top)
	left := 0.0
	dy := decimalsOf(10 * yu)
	for i := 0.0; i <= high; i += 10 {
		left = max(left, s.width(tickText, s.number(y0+i*yu, dy)))
	}
	left += 2.2
	xu, x0, wide := perMM(b.XMin, b.XMax, w-left-4)
	dx := decimalsOf(10 * xu)
	low := top + high
	px := func(v float64) float64 { return x + left + (v-x0)/xu }
	py := func(v float64) float64 { return low - (v-y0)/yu }
	if b.YLabel != "" {
		s.fitted(x+left, y+3.3, w-left, small, 0, "L", b.YLabel)
	}
	for _, pass := range []struct {
		step         int
		weight, grey float64
	}{{1, thin, 0.9}, {5, thin, 0.75}, {10, 0.2, 0.6}} {
		for i := 0; i <= int(wide); i += pass.step {
			s.line(x+left+float64(i), top, x+left+float64(i), low, pass.weight, pass.grey)
		}
		for i := 0; i <= int(high); i += pass.step {
			s.line(x+left, low-float64(i), x+left+wide, low-float64(i), pass.weight, pass.grey)
		}
	}
	s.line(x+left, top, x+left, low, 0.3, 0)
	s.line(x+left, low, x+left+wide, low, 0.3, 0)
	for i := high; i >= 0; i -= 10 {
		s.fitted(x, low-i+0.35*tickText.mm(), left-1.6, tickText, 0, "R", s.number(y0+i*yu, dy))
	}
	step := 10.0
	for _, c := range []float64{10, 20, 50, 100} {
		step = c
		if s.width(tickText, s.number(x0+wide*xu, dx))+2 <= c {
			break
		}
	}
	for i := 0.0; i <= wide; i += step {
		t := s.number(x0+i*xu, dx)
		s.text(x+left+i-s.width(tickText, t)/2, low+3.9, tickText, 0, t)
	}
	if b.XLabel != "" {
		s.fitted(x+left, low+foot-1, wide, small, 0, "R", b.XLabel)
	}
	for _, l := range b.Limits {
		if p := px(l.X); p >= x+left-1e-6 && p <= x+left+wide+1e-6 {
			s.limitBar(p, l, func(v float64) float64 { return min(max(py(v), top), low) }, top, low)
		}
	}
}
