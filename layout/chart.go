package layout

import (
	"math"
	"slices"
)

const (
	chartBest = 7.5  // points
	chartPad  = 0.7  // either side of the text in a cell, mm
	chartMost = 17.0 // widest cell, mm
	bandGap   = 2.5  // between the parts of a chart too wide for the page
)

// chartSet is a chart's type size and the widths of its row heads and columns.
type chartSet struct {
	size, head float64
	cells      []float64
}

// measure sets the columns beside each other at the same width, but for those
// that say far more than most; cols is how many of them fit.
func (b Chart) measure(s *sheet, w float64) (set chartSet, cols int) {
	if b.set != nil {
		return *b.set, len(b.set.cells)
	}
	f := font{cond, 10}
	n := len(b.Head)
	own := make([]float64, n) // widest of the column at 10 points
	h := s.width(f.bold(), b.Corner)
	for j, t := range b.Head {
		own[j] = s.width(f.bold(), t)
	}
	for i, r := range b.Rows {
		h = max(h, s.width(f.bold(), r.Head))
		if len(r.Cells) != n {
			s.fail("chart row %d (%q) has %d cells under %d headings; give it one for each", i+1, r.Head, len(r.Cells), n)
			return chartSet{size: floorSize}, n
		}
		for j, t := range r.Cells {
			g := f
			if t.Head {
				g = f.bold()
			}
			own[j] = max(own[j], s.width(g, t.Text))
		}
	}
	if n == 0 {
		return chartSet{size: chartBest, head: min(h*chartBest/10+2*chartPad+0.6, w/3)}, 0
	}
	sorted := slices.Sorted(slices.Values(own))
	usual := sorted[0]
	for _, c := range sorted {
		if c <= 1.4*sorted[n/2] {
			usual = c
		}
	}
	full := h
	for j := range own {
		own[j] = max(own[j], usual)
		full += own[j]
	}
	pad := float64(n+1) * 2 * chartPad
	size := chartBest
	if full*size/10+pad > w {
		size = max(floorSize, math.Floor(size*(w-pad)/(full*size/10)*20)/20)
	}
	head := min(h*size/10+2*chartPad+0.6, w/3)
	set = chartSet{size: size, head: head, cells: make([]float64, n)}
	room := w - head
	for j := range own {
		set.cells[j] = own[j]*size/10 + 2*chartPad
		room -= set.cells[j]
	}
	if room >= -1e-6 {
		for j := range own {
			set.cells[j] = max(set.cells[j], min(set.cells[j]+room/float64(n), chartMost))
		}
		return set, n
	}
	if b.Whole { // narrower than is good, but nothing stands under another's head
		for j := range own {
			set.cells[j] *= (w - head) / (w - head - room)
		}
		return set, n
	}
	// parts of equal width, one below the other
	cell := min(sorted[n-1]*size/10+2*chartPad, w-head)
	cols = min(n, max(1, int((w-head)/cell+1e-6)))
	parts := (n + cols - 1) / cols
	cols = (n + parts - 1) / parts
	for j := range set.cells {
		set.cells[j] = min((w-head)/float64(cols), chartMost)
	}
	return set, cols
}

// parts are the pieces a chart too wide for w is printed in, one below the
// other.
func (b Chart) parts(s *sheet, w float64) []Chart {
	set, cols := b.measure(s, w)
	if len(b.Head) <= cols || len(set.cells) == 0 { // it fits, or is not whole
		b.set = &set
		return []Chart{b}
	}
	var out []Chart
	for i := 0; i < len(b.Head); i += cols {
		j := min(i+cols, len(b.Head))
		p := Chart{Corner: b.Corner, Head: b.Head[i:j], Outline: b.Outline, Whole: b.Whole, set: &chartSet{set.size, set.head, set.cells[i:j]}}
		for _, r := range b.Rows {
			p.Rows = append(p.Rows, ChartRow{r.Head, r.Cells[i:j]})
		}
		out = append(out, p)
	}
	return out
}

func (b Chart) rowHeight(size float64) float64 { return size*mmPerPoint*1.32 + 0.75 }

// rows has the head row's height with the first row's.
func (b Chart) rows(s *sheet, w float64) []float64 {
	set, _ := b.measure(s, w)
	out := make([]float64, max(len(b.Rows), 1))
	for i := range out {
		out[i] = b.rowHeight(set.size)
	}
	out[0] += b.rowHeight(set.size)
	return out
}

func (b Chart) height(s *sheet, w float64) float64 {
	var h float64
	for i, p := range b.parts(s, w) {
		if i > 0 {
			h += bandGap
		}
		h += sum(p.rows(s, w))
	}
	return h
}

func (b Chart) part(s *sheet, w float64, from, to int) Block {
	set, _ := b.measure(s, w)
	b.set = &set
	b.Rows = b.Rows[from:to]
	return b
}

func (b Chart) draw(s *sheet, x, y, w float64) {
	for _, p := range b.parts(s, w) {
		p.drawPart(s, x, y, w)
		y += sum(p.rows(s, w)) + bandGap
	}
}

func (b Chart) drawPart(s *sheet, x, y, w float64) {
	set, _ := b.measure(s, w)
	if s.err() != nil {
		return
	}
	f := font{cond, set.size}
	rh := b.rowHeight(set.size)
	n, m := len(b.Head), len(b.Rows)
	at := []float64{x + set.head} // left edges of the columns, and the right of the last
	for _, c := range set.cells {
		at = append(at, at[len(at)-1]+c)
	}
	right, bottom := at[n], y+float64(m+1)*rh
	// greys first, then lines, then text in reading order
	s.rect(x, y, right-x, rh, 0, 0, 0.9)
	s.rect(x, y+rh, set.head, float64(m)*rh, 0, 0, 0.93)
	for i, r := range b.Rows {
		for j, c := range r.Cells {
			if c.Head {
				s.rect(at[j], y+float64(i+1)*rh, at[j+1]-at[j], rh, 0, 0, 0.93)
			}
		}
		for j := 0; j < n; {
			if !r.Cells[j].Shade {
				j++
				continue
			}
			from := j
			for j < n && r.Cells[j].Shade {
				j++
			}
			s.rect(at[from], y+float64(i+1)*rh, at[j]-at[from], rh, 0, 0, 0.85)
		}
	}
	for i := 0; i <= m+1; i++ {
		s.line(x, y+float64(i)*rh, right, y+float64(i)*rh, thin, 0.45)
	}
	s.line(x, y, x, bottom, thin, 0.45)
	for _, x := range at {
		s.line(x, y, x, bottom, thin, 0.45)
	}
	if b.Outline {
		b.outline(s, at, y+rh, rh, func(c ChartCell) bool { return c.Shade })
	}
	b.outline(s, at, y+rh, rh, func(c ChartCell) bool { return c.Mark })
	base := func(i int) float64 { return y + (float64(i)+0.5)*rh + 0.35*f.mm() }
	text := func(i, j int, f font, grey float64, text string) {
		s.fitted(at[j]+chartPad/2, base(i), set.cells[j]-chartPad, f, grey, "C", text)
	}
	s.fitted(x+chartPad, base(0), set.head-2*chartPad, f.bold(), 0, "C", b.Corner)
	for j, t := range b.Head {
		text(0, j, f.bold(), 0, t)
	}
	for i, r := range b.Rows {
		s.fitted(x+chartPad, base(i+1), set.head-2*chartPad, f.bold(), 0, "C", r.Head)
		for j, c := range r.Cells {
			grey := 0.0
			if c.Faint {
				grey = note
			}
			g := f
			if c.Head {
				g = f.bold()
			}
			text(i+1, j, g, grey, c.Text)
		}
	}
}

// outline draws the edges between cells of a zone and other cells, joined
// where they run on.
func (b Chart) outline(s *sheet, at []float64, y, rh float64, zone func(ChartCell) bool) {
	n, m := len(b.Head), len(b.Rows)
	in := func(i, j int) bool { return i >= 0 && i < m && j >= 0 && j < n && zone(b.Rows[i].Cells[j]) }
	for i := 0; i <= m; i++ {
		for j := 0; j < n; {
			from := j
			for j < n && in(i-1, j) != in(i, j) {
				j++
			}
			if j > from {
				s.line(at[from], y+float64(i)*rh, at[j], y+float64(i)*rh, 0.5, 0)
			} else {
				j++
			}
		}
	}
	for j := 0; j <= n; j++ {
		for i := 0; i < m; {
			from := i
			for i < m && in(i, j-1) != in(i, j) {
				i++
			}
			if i > from {
				s.line(at[j], y+float64(from)*rh, at[j], y+float64(i)*rh, 0.5, 0)
			} else {
				i++
			}
		}
	}
}
