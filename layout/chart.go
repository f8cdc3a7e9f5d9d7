package layout

import "math"

const (
	chartBest = 7.5  // points
	chartPad  = 0.7  // either side of the text in a cell, mm
	chartMost = 17.0 // widest cell, mm
	bandGap   = 2.5  // between the parts of a chart too wide for the page
)

// chartSet is a chart's type size, the widths of its row heads and cells, and
// how many columns fit beside each other.
type chartSet struct {
	size, head, cell float64
	cols             int
}

func (b Chart) measure(s *sheet, w float64) (size, head, cell float64, cols int) {
	if b.set != nil {
		return b.set.size, b.set.head, b.set.cell, b.set.cols
	}
	f := font{cond, 10}
	var h, c float64 // widest at 10 points
	h = s.width(f.bold(), b.Corner)
	for _, t := range b.Head {
		c = max(c, s.width(f.bold(), t))
	}
	for i, r := range b.Rows {
		h = max(h, s.width(f.bold(), r.Head))
		if len(r.Cells) != len(b.Head) {
			s.fail("chart row %d (%q) has %d cells under %d headings; give it one for each", i+1, r.Head, len(r.Cells), len(b.Head))
		}
		for _, t := range r.Cells {
			c = max(c, s.width(f, t.Text))
		}
	}
	n := float64(max(len(b.Head), 1))
	size = chartBest
	if full := (h + n*c) * size / 10; full+(n+1)*2*chartPad > w {
		size = max(floorSize, math.Floor(size*(w-(n+1)*2*chartPad)/full*20)/20)
	}
	head, cell = h*size/10+2*chartPad+0.6, c*size/10+2*chartPad
	head = min(head, w/3)
	cell = min(cell, w-head)
	cols = min(max(len(b.Head), 1), max(1, int((w-head)/cell+1e-6)))
	if cols < len(b.Head) { // parts of equal width
		parts := (len(b.Head) + cols - 1) / cols
		cols = (len(b.Head) + parts - 1) / parts
	}
	cell = min((w-head)/float64(cols), chartMost)
	return size, head, cell, cols
}

// parts are the pieces a chart too wide for w is printed in, one below the
// other.
func (b Chart) parts(s *sheet, w float64) []Chart {
	size, head, cell, cols := b.measure(s, w)
	if len(b.Head) <= cols || s.err() != nil {
		return []Chart{b}
	}
	var out []Chart
	for i := 0; i < len(b.Head); i += cols {
		j := min(i+cols, len(b.Head))
		p := Chart{Corner: b.Corner, Head: b.Head[i:j], Outline: b.Outline, set: &chartSet{size, head, cell, cols}}
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
	size, _, _, _ := b.measure(s, w)
	out := make([]float64, max(len(b.Rows), 1))
	for i := range out {
		out[i] = b.rowHeight(size)
	}
	out[0] += b.rowHeight(size)
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
	size, head, cell, cols := b.measure(s, w)
	b.set = &chartSet{size, head, cell, cols}
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
	size, head, cell, _ := b.measure(s, w)
	if s.err() != nil {
		return
	}
	f := font{cond, size}
	rh := b.rowHeight(size)
	n, m := len(b.Head), len(b.Rows)
	right, bottom := x+head+float64(n)*cell, y+float64(m+1)*rh
	// greys first, then lines, then text in reading order
	s.rect(x, y, right-x, rh, 0, 0, 0.9)
	s.rect(x, y+rh, head, float64(m)*rh, 0, 0, 0.93)
	for i, r := range b.Rows {
		for j := 0; j < n; {
			if !r.Cells[j].Shade {
				j++
				continue
			}
			from := j
			for j < n && r.Cells[j].Shade {
				j++
			}
			s.rect(x+head+float64(from)*cell, y+float64(i+1)*rh, float64(j-from)*cell, rh, 0, 0, 0.85)
		}
	}
	for i := 0; i <= m+1; i++ {
		s.line(x, y+float64(i)*rh, right, y+float64(i)*rh, thin, 0.45)
	}
	s.line(x, y, x, bottom, thin, 0.45)
	for j := 0; j <= n; j++ {
		s.line(x+head+float64(j)*cell, y, x+head+float64(j)*cell, bottom, thin, 0.45)
	}
	if b.Outline {
		b.outline(s, x+head, y+rh, cell, rh)
	}
	base := func(i int) float64 { return y + (float64(i)+0.5)*rh + 0.35*f.mm() }
	s.fitted(x+chartPad, base(0), head-2*chartPad, f.bold(), 0, "C", b.Corner)
	for j, t := range b.Head {
		s.fitted(x+head+float64(j)*cell+chartPad/2, base(0), cell-chartPad, f.bold(), 0, "C", t)
	}
	for i, r := range b.Rows {
		s.fitted(x+chartPad, base(i+1), head-2*chartPad, f.bold(), 0, "C", r.Head)
		for j, c := range r.Cells {
			grey := 0.0
			if c.Faint {
				grey = note
			}
			s.fitted(x+head+float64(j)*cell+chartPad/2, base(i+1), cell-chartPad, f, grey, "C", c.Text)
		}
	}
}

// outline draws the edges between shaded and other cells, joined where they
// run on.
func (b Chart) outline(s *sheet, x, y, cell, rh float64) {
	shade := func(i, j int) bool {
		return i >= 0 && i < len(b.Rows) && j >= 0 && j < len(b.Head) && b.Rows[i].Cells[j].Shade
	}
	n, m := len(b.Head), len(b.Rows)
	for i := 0; i <= m; i++ {
		for j := 0; j < n; {
			from := j
			for j < n && shade(i-1, j) != shade(i, j) {
				j++
			}
			if j > from {
				s.line(x+float64(from)*cell, y+float64(i)*rh, x+float64(j)*cell, y+float64(i)*rh, 0.5, 0)
			} else {
				j++
			}
		}
	}
	for j := 0; j <= n; j++ {
		for i := 0; i < m; {
			from := i
			for i < m && shade(i, j-1) != shade(i, j) {
				i++
			}
			if i > from {
				s.line(x+float64(j)*cell, y+float64(from)*rh, x+float64(j)*cell, y+float64(i)*rh, 0.5, 0)
			} else {
				i++
			}
		}
	}
}
