package layout

import (
	"math"
	"strconv"
	"strings"
)

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

// share parts total among columns by weight, none below its least width.
func share(weights, least []float64, total float64) []float64 {
	out := make([]float64, len(weights))
	fixed := make([]bool, len(weights))
	for {
		var sumW float64
		room := total
		for i, w := range weights {
			if fixed[i] {
				room -= least[i]
			} else {
				sumW += w
			}
		}
		again := false
		for i, w := range weights {
			if fixed[i] {
				out[i] = least[i]
				continue
			}
			out[i] = max(room, 0) * w / max(sumW, 1e-9)
			if out[i] < least[i]-1e-9 {
				fixed[i], again = true, true
				break
			}
		}
		if !again {
			break
		}
	}
	// more asked for than there is: everyone gives alike
	if t := sum(out); t > total+1e-6 {
		for i := range out {
			out[i] *= total / t
		}
	}
	return out
}

// longest is the width of a text's longest word.
func (s *sheet) longest(f font, text string) float64 {
	var w float64
	for _, wd := range s.words(f, text) {
		w = max(w, wd.w)
	}
	return w
}

const (
	penRowH  = 9.2
	penCellW = 11.0
	tablePad = 1.2
)

var (
	penFont = font{sans, 8.5}
	subFont = font{sans, 7.5}
)

func (b PenTable) widths(s *sheet, w float64) []float64 {
	if b.set != nil {
		return b.set
	}
	weights, least := make([]float64, len(b.Cols)), make([]float64, len(b.Cols))
	hard := make([]float64, len(b.Cols))
	for j, c := range b.Cols {
		weights[j] = c.Weight
		if c.Weight <= 0 {
			weights[j] = 1
		}
		least[j] = max(c.MinWidth, s.longest(penFont.bold(), c.Head)+2*tablePad, s.longest(subFont, c.Sub)+2*tablePad)
	}
	for i, r := range b.Rows {
		if len(r.Cells) != len(b.Cols) {
			s.fail("table row %d has %d cells under %d headings; give it one for each", i+1, len(r.Cells), len(b.Cols))
			return weights
		}
		for j, c := range r.Cells {
			if c.Pen != nil {
				cw := penCellW
				if c.Pen.Kind == PenChoice {
					_, cw = s.choices(*c.Pen, w/2)
				}
				hard[j] = max(hard[j], penCellW)
				least[j] = max(least[j], min(cw, w/2), s.width(small.at(floorSize), c.Pen.Code)+2)
				continue
			}
			f := penFont
			if c.Bold {
				f = f.bold()
			}
			least[j] = max(least[j], s.longest(f, c.Text)+2*tablePad, s.longest(subFont, c.Sub)+2*tablePad)
		}
	}
	if sum(least) > w {
		// words may be parted, a cell to write into may not shrink
		if t := sum(hard); t > w {
			s.fail("table of %d columns needs %.0f mm for its cells to write into and has %.0f mm; use fewer columns", len(b.Cols), t, w)
		}
		over := sum(least) - w
		give := sum(least) - sum(hard)
		for j := range least {
			least[j] -= (least[j] - hard[j]) * min(1, over/give)
		}
	}
	return share(weights, least, w)
}

func (b PenTable) headHeight(s *sheet, widths []float64) float64 {
	var h float64
	for j, c := range b.Cols {
		room := widths[j] - 2*tablePad
		h = max(h, s.stackHeight(penFont.bold(), c.Head, c.Sub, room))
	}
	if h == 0 {
		return 0
	}
	return h + 1.6
}

// most lines in a cell of a table; longer text shrinks and then ends in "…".
const (
	penLines  = 8
	cellLines = 40
)

// stackHeight is the height of a text with a smaller one under it.
func (s *sheet) stackHeight(f font, text, sub string, w float64) float64 {
	var h float64
	if text != "" {
		g, ls := s.wrapMax(f, text, w, penLines)
		h += float64(len(ls)) * g.lead()
	}
	if sub != "" {
		g, ls := s.wrapMax(subFont, sub, w, penLines)
		h += float64(len(ls)) * g.lead()
	}
	return h
}

func (s *sheet) stack(x, y, w float64, f font, align, text, sub string) {
	if text != "" {
		g, ls := s.wrapMax(f, text, w, penLines)
		y = s.lines(x, y, w, g, 0, align, ls)
	}
	if sub != "" {
		g, ls := s.wrapMax(subFont, sub, w, penLines)
		s.lines(x, y, w, g, note, align, ls)
	}
}

func (b PenTable) rowHeight(s *sheet, r PenTableRow, widths []float64) float64 {
	h := 0.0
	for j, c := range r.Cells {
		if j >= len(widths) {
			break
		}
		room := widths[j] - 2*tablePad
		switch {
		case c.Pen == nil:
			f := penFont
			if c.Bold {
				f = f.bold()
			}
			h = max(h, s.stackHeight(f, c.Text, c.Sub, room)+1.6)
		case c.Pen.Kind == PenChoice:
			_, bh := s.body(*c.Pen, room)
			h = max(h, bh+1.2, penRowH)
		default:
			h = max(h, penRowH)
		}
	}
	return h
}

// rows has the heads' height with the first row's.
func (b PenTable) rows(s *sheet, w float64) []float64 {
	widths := b.widths(s, w)
	out := []float64{}
	for _, r := range b.Rows {
		out = append(out, b.rowHeight(s, r, widths))
	}
	if len(out) == 0 {
		out = []float64{0}
	}
	out[0] += b.headHeight(s, widths)
	return out
}

func (b PenTable) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b PenTable) part(s *sheet, w float64, from, to int) Block {
	return PenTable{b.Cols, b.Rows[from:to], b.widths(s, w)}
}

func (b PenTable) draw(s *sheet, x, y, w float64) {
	widths := b.widths(s, w)
	if s.err() != nil {
		return
	}
	if hh := b.headHeight(s, widths); hh > 0 {
		s.rect(x, y, w, hh, 0, 0, 0.93)
		at := x
		for j, c := range b.Cols {
			room := widths[j] - 2*tablePad
			h := s.stackHeight(penFont.bold(), c.Head, c.Sub, room)
			align := "L"
			if b.written(j) {
				align = "C"
			}
			s.stack(at+tablePad, y+(hh-h)/2, room, penFont.bold(), align, c.Head, c.Sub)
			at += widths[j]
		}
		y += hh
	}
	s.line(x, y, x+w, y, 0.25, 0)
	for _, r := range b.Rows {
		h := b.rowHeight(s, r, widths)
		at := x
		for j, c := range r.Cells {
			cw := widths[j]
			if c.Pen != nil {
				s.drawPenCell(*c.Pen, at, y, cw, h)
			} else {
				f := penFont
				if c.Bold {
					f = f.bold()
				}
				th := s.stackHeight(f, c.Text, c.Sub, cw-2*tablePad)
				s.stack(at+tablePad, y+(h-th)/2, cw-2*tablePad, f, "L", c.Text, c.Sub)
			}
			at += cw
		}
		y += h
		s.line(x, y, x+w, y, thin, 0.4)
	}
	s.line(x, y, x+w, y, 0.25, 0)
	// heavy frames last, or the next cell would paint over half of them
	for i := len(b.Rows) - 1; i >= 0; i-- {
		h := b.rowHeight(s, b.Rows[i], widths)
		y -= h
		at := x
		for j, c := range b.Rows[i].Cells {
			if c.Pen != nil && c.Pen.Computed {
				s.rect(at, y, widths[j], h, computed, 0, None)
			}
			at += widths[j]
		}
	}
}

// written reports whether column j is one to write into.
func (b PenTable) written(j int) bool {
	for _, r := range b.Rows {
		if r.Cells[j].Pen != nil {
			return true
		}
	}
	return false
}

// drawPenCell draws one cell of a table to be written into: its code small in
// the upper left, the decimal mark at its place with room on both sides.
func (s *sheet) drawPenCell(p Pen, x, y, w, h float64) {
	tiny := small.at(floorSize)
	switch p.Kind {
	case PenTick:
		s.tick(p.Code, x+w/2-tickSize/2, y+h-tickSize-1, p.Printed != "")
		s.fitted(x+0.8, y+2.5, w-1.6, tiny, note, "L", p.Code)
		return
	case PenChoice:
		bw, bh := s.body(p, w-2)
		s.drawBody(p, x+(w-min(bw, w-2))/2, y+(h-bh)/2, w-2)
		return
	}
	s.cell(p.Code, false, x, y, w, h, measured)
	s.fitted(x+1.1, y+2.9, w-2.2, tiny, note, "L", p.Code)
	if p.Printed != "" {
		s.fitted(x+1, y+h-1.8, w-2, read.at(11), 0.1, "C", p.Printed)
		return
	}
	unit := 0.0
	if p.Unit != "" && p.Kind == PenFigures && w >= 22 {
		unit = s.width(tiny, p.Unit) + 0.8
		s.text(x+w-unit-0.3, y+h-1.2, tiny, note, p.Unit)
	}
	if p.Kind == PenFigures && p.After > 0 {
		// a hand-written figure in a table takes about 3.4 mm
		after := min(float64(p.After)*3.4+1, 0.55*(w-unit))
		s.mark(x+w-unit-after, y+h-1.3)
	}
}

// Table sizes.
func (b Table) font() font {
	size := b.Size
	if size == 0 {
		size = 9
	}
	return font{sans, max(size, floorSize)}
}

// strips are at least this wide, mm.
const stripMin = 34.0

func (b Table) cellFont(c Cell) font {
	if c.Bold {
		return b.font().bold()
	}
	return b.font()
}

// cellText is what a cell prints; before pages are known, a number as wide.
func (s *sheet) cellText(c Cell) string {
	if c.PageOf == "" {
		return c.Text
	}
	n := "88"
	if s.pageOf != nil {
		p, ok := s.pageOf[c.PageOf]
		if !ok {
			s.fail("a table asks for the page of section %q, and there is none with that key; add the section or leave the reference out", c.PageOf)
		}
		n = strconv.Itoa(p)
	}
	return strings.TrimSpace(c.Text + " " + n)
}

func (b Table) widths(s *sheet, w float64) []float64 {
	if b.set != nil {
		return b.set
	}
	f := b.font()
	n := len(b.Cols)
	weights, least, natural := make([]float64, n), make([]float64, n), make([]float64, n)
	weighted := false
	for j, c := range b.Cols {
		weights[j] = c.Weight
		weighted = weighted || c.Weight > 0
		natural[j] = s.width(f.bold().at(f.size-0.5), c.Head) + 2*tablePad
		least[j] = s.longest(f.bold().at(f.size-0.5), c.Head) + 2*tablePad
	}
	for i, r := range b.Rows {
		if len(r) != n {
			s.fail("table row %d has %d cells under %d headings; give it one for each", i+1, len(r), n)
			return weights
		}
		for j, c := range r {
			switch {
			case c.Strip != nil:
				least[j], natural[j] = max(least[j], stripMin), max(natural[j], 44)
			case c.Pen != nil:
				bw, _ := s.body(*c.Pen, w/2)
				least[j], natural[j] = max(least[j], bw+2*tablePad), max(natural[j], bw+2*tablePad)
			default:
				t := s.cellText(c)
				if b.Cols[j].Align == "D" {
					l, r := s.decimals(b.cellFont(c), t)
					least[j] = max(least[j], l+r+2*tablePad)
				}
				full := 0.0
				for _, l := range s.wrap(b.cellFont(c), t, 1e6) {
					full = max(full, l.w)
				}
				natural[j] = max(natural[j], full+2*tablePad)
				least[j] = max(least[j], s.longest(b.cellFont(c), t)+2*tablePad)
			}
		}
	}
	if !weighted {
		copy(weights, natural)
	}
	for j := range weights {
		if weights[j] <= 0 {
			weights[j] = 1
		}
	}
	whole(least, natural, w)
	return share(weights, least, w)
}

// whole widens columns to what they want without wrapping; where that is more
// than total, to a common width above which none is widened, so that the long
// ones share the wrapping.
func whole(least, natural []float64, total float64) {
	room := func(level float64) float64 {
		left := total
		for j := range least {
			left -= max(least[j], min(natural[j], level))
		}
		return left
	}
	level := total
	if room(total) < 0 {
		low, high := 0.0, total
		for range 40 {
			if level = (low + high) / 2; room(level) < 0 {
				high = level
			} else {
				low = level
			}
		}
		level = low
	}
	for j := range least {
		least[j] = max(least[j], min(natural[j], level))
	}
}

// decimals are the widths of a figure before its decimal mark and from it on.
func (s *sheet) decimals(f font, text string) (left, right float64) {
	i := strings.IndexAny(text, ".,")
	if i < 0 {
		return s.width(f, text), 0
	}
	return s.width(f, text[:i]), s.width(f, text[i:])
}

func (b Table) headHeight(s *sheet, widths []float64) float64 {
	f := b.font().bold().at(b.font().size - 0.5)
	var h float64
	for j, c := range b.Cols {
		if c.Head != "" {
			g, ls := s.wrapMax(f, c.Head, widths[j]-2*tablePad, penLines)
			h = max(h, float64(len(ls))*g.lead())
		}
	}
	if h == 0 {
		return 0
	}
	return h + 2.2
}

func (b Table) rowHeight(s *sheet, r []Cell, widths []float64) float64 {
	h := max(b.RowHeight, b.font().lead()+1.6)
	for j, c := range r {
		if j >= len(widths) {
			break
		}
		switch {
		case c.Strip != nil:
			h = max(h, 7)
		case c.Pen != nil:
			_, bh := s.body(*c.Pen, widths[j]-2*tablePad)
			h = max(h, bh+1.6)
		default:
			f := b.cellFont(c)
			g, ls := s.wrapMax(f, s.cellText(c), widths[j]-2*tablePad, cellLines)
			h = max(h, float64(len(ls))*g.lead()+1.6)
		}
	}
	return h
}

// rows has the heads' height with the first row's.
func (b Table) rows(s *sheet, w float64) []float64 {
	widths := b.widths(s, w)
	out := []float64{}
	for _, r := range b.Rows {
		out = append(out, b.rowHeight(s, r, widths))
	}
	if len(out) == 0 {
		out = []float64{0}
	}
	out[0] += b.headHeight(s, widths)
	return out
}

func (b Table) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b Table) part(s *sheet, w float64, from, to int) Block {
	b.set = b.widths(s, w)
	b.Rows = b.Rows[from:to]
	return b
}

func (b Table) draw(s *sheet, x, y, w float64) {
	widths := b.widths(s, w)
	if s.err() != nil {
		return
	}
	if hh := b.headHeight(s, widths); hh > 0 {
		f := b.font().bold().at(b.font().size - 0.5)
		at := x
		for j, c := range b.Cols {
			f, ls := s.wrapMax(f, c.Head, widths[j]-2*tablePad, penLines)
			if c.Head != "" {
				s.lines(at+tablePad, y+hh-1.1-float64(len(ls))*f.lead(), widths[j]-2*tablePad, f, 0, c.Align, ls)
			}
			at += widths[j]
		}
		y += hh
		s.line(x, y, x+w, y, 0.25, 0)
	}
	after := make([]float64, len(b.Cols)) // widest part from the decimal mark on
	for j, c := range b.Cols {
		if c.Align != "D" {
			continue
		}
		for _, r := range b.Rows {
			_, right := s.decimals(b.cellFont(r[j]), s.cellText(r[j]))
			after[j] = max(after[j], right)
		}
	}
	for _, r := range b.Rows {
		h := b.rowHeight(s, r, widths)
		at := x
		for j, c := range r {
			cw := widths[j] - 2*tablePad
			switch {
			case c.Strip != nil:
				c.Strip.draw(s, at+tablePad, y, cw, h)
			case c.Pen != nil:
				bw, bh := s.body(*c.Pen, cw)
				if c.Pen.flexible() || c.Pen.Kind == PenTick || c.Pen.Kind == PenChoice {
					bw = cw
				}
				s.drawBody(*c.Pen, at+tablePad, y+(h-bh)/2, min(bw, cw))
			default:
				b.drawText(s, c, b.Cols[j].Align, after[j], at+tablePad, y, cw, h)
			}
			at += widths[j]
		}
		y += h
		s.line(x, y, x+w, y, thin, 0.5)
	}
}

func (b Table) drawText(s *sheet, c Cell, align string, after, x, y, w, h float64) {
	f, t := b.cellFont(c), s.cellText(c)
	grey := 0.0
	if c.Grey {
		grey = note
	}
	if align == "D" && t != "" {
		l, r := s.decimals(f, t)
		if l+after <= w && l+r <= w {
			s.text(x+w-after-l, y+h/2+0.35*f.mm(), f, grey, t)
			return
		}
	}
	f, ls := s.wrapMax(f, t, w, cellLines)
	s.lines(x, y+(h-float64(len(ls))*f.lead())/2, w, f, grey, align, ls)
}

// draw draws the strip in the middle of a cell.
func (b *Strip) draw(s *sheet, x, y, w, h float64) {
	mid := y + h/2
	const half = 2.2 // of the limit box, mm
	low, high := !math.IsInf(b.Low, 0) && !math.IsNaN(b.Low), !math.IsInf(b.High, 0) && !math.IsNaN(b.High)
	// the limits take the middle four tenths, so that strips compare
	from, to := x+0.3*w, x+0.7*w
	var scale, origin float64 // position = origin + scale·value
	switch {
	case low && high && b.High > b.Low:
		scale = (to - from) / (b.High - b.Low)
		origin = from - scale*b.Low
	default:
		// one limit: it stands where it would with two, and the values decide
		// the scale
		limit, at := b.Low, from
		if !low {
			limit, at = b.High, to
		}
		if !low && !high {
			limit, at = b.Target, x+w/2
		}
		reach := 0.0
		for _, v := range []*float64{b.Found, b.Left, &b.Target} {
			if v != nil && !math.IsNaN(*v) {
				reach = max(reach, math.Abs(*v-limit)+b.U)
			}
		}
		if math.IsNaN(limit) {
			limit = 0
		}
		if reach == 0 {
			reach = 1
		}
		scale = 0.27 * w / reach
		origin = at - scale*limit
	}
	s.line(x, mid, x+w, mid, 0.25, 0)
	left, right := x, x+w
	if low {
		left = from
	}
	if high {
		right = to
	}
	if low || high {
		s.rect(left, mid-half, right-left, 2*half, 0, 0, 0.85)
		s.line(left, mid-half, right, mid-half, 0.2, 0)
		s.line(left, mid+half, right, mid+half, 0.2, 0)
		s.line(x, mid, x+w, mid, 0.25, 0)
	}
	if low {
		s.line(left, mid-half, left, mid+half, 0.35, 0)
	}
	if high {
		s.line(right, mid-half, right, mid+half, 0.35, 0)
	}
	if t := origin + scale*b.Target; !math.IsNaN(t) && t >= x && t <= x+w {
		s.line(t, mid-half, t, mid+half, 0.2, 0)
		s.line(t, mid-half-0.9, t, mid-half, 0.3, 0)
		s.line(t, mid+half, t, mid+half+0.9, 0.3, 0)
	}
	const r = 0.95
	put := func(v *float64, fill float64) {
		if v == nil || math.IsNaN(*v) {
			return
		}
		at := origin + scale**v
		switch {
		case at < x+r:
			s.arrowhead(x, mid, -1, 0, 1.9, 0)
			at = x + 1.7 + r
		case at > x+w-r:
			s.arrowhead(x+w, mid, 1, 0, 1.9, 0)
			at = x + w - 1.7 - r
		case fill == 0 && b.U > 0:
			u1, u2 := max(at-scale*b.U, x), min(at+scale*b.U, x+w)
			s.line(u1, mid, u2, mid, 0.7, 0)
			s.line(u1, mid-0.8, u1, mid+0.8, 0.3, 0)
			s.line(u2, mid-0.8, u2, mid+0.8, 0.3, 0)
		}
		s.circle(at, mid, r, 0.35, 0, fill)
	}
	put(b.Found, 1)
	put(b.Left, 0)
}
