package layout

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
				hard[j] = max(hard[j], penCellW, s.width(codeFont, c.printed())+2.2)
				switch c.Pen.Kind {
				case PenChoice:
					_, cw = s.choices(*c.Pen, w/2)
					cw += 2*tablePad + s.beside(c)
				case PenTick:
					hard[j] = max(hard[j], tickSize+s.beside(c)+2*tablePad)
				}
				if c.framed() { // what is printed in it is not written over
					hard[j] = max(hard[j], s.width(codeFont, c.printed())+codePad+cellW)
				}
				least[j] = max(least[j], min(cw, w/2), hard[j])
				continue
			}
			least[j] = max(least[j], s.longest(c.font(), c.Text)+2*tablePad, s.longest(subFont, c.Sub)+2*tablePad)
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

// covered reports whether cell i, j is part of the words above it in its entry.
func (b PenTable) covered(i, j int) bool {
	c := b.Rows[i].Cells
	if i == 0 || !b.Rows[i-1].Keep || j >= len(c) || j >= len(b.Rows[i-1].Cells) || c[j].Pen != nil || b.Rows[i-1].Cells[j].Pen != nil {
		return false
	}
	if c[j].Text == "" && c[j].Sub == "" {
		return true
	}
	up := i - 1
	for b.covered(up, j) {
		up--
	}
	above := b.Rows[up].Cells[j]
	return j == 0 && c[j].Text == above.Text && c[j].Sub == above.Sub
}

// last is the row in which the cell that begins at i, j ends.
func (b PenTable) last(i, j int) int {
	for i+1 < len(b.Rows) && b.covered(i+1, j) {
		i++
	}
	return i
}

// heights are those of the rows without the heads. The last row of an entry
// takes what words over several rows want more than there is.
func (b PenTable) heights(s *sheet, widths []float64) []float64 {
	out := make([]float64, len(b.Rows))
	for i, r := range b.Rows {
		for j, c := range r.Cells {
			if j >= len(widths) {
				break
			}
			switch {
			case c.Pen == nil:
				if !b.covered(i, j) && b.last(i, j) == i {
					out[i] = max(out[i], b.wordsHeight(s, c, widths[j]))
				}
			case c.Pen.Kind == PenChoice:
				_, bh := s.body(*c.Pen, widths[j]-2*tablePad-s.beside(c))
				out[i] = max(out[i], bh+1.6, penRowH)
			default:
				out[i] = max(out[i], penRowH)
			}
		}
	}
	for i, r := range b.Rows {
		for j, c := range r.Cells {
			if k := b.last(i, j); j < len(widths) && c.Pen == nil && !b.covered(i, j) && k > i {
				out[k] += max(0, b.wordsHeight(s, c, widths[j])-sum(out[i:k+1]))
			}
		}
	}
	return out
}

func (b PenTable) wordsHeight(s *sheet, c PenCell, w float64) float64 {
	return s.stackHeight(c.font(), c.Text, c.Sub, w-2*tablePad) + 1.6
}

func (c PenCell) font() font {
	if c.Bold {
		return penFont.bold()
	}
	return penFont
}

// printed is what stands in the corner of a cell to write into.
func (c PenCell) printed() string {
	if c.Told {
		return c.Pen.Label
	}
	return c.Pen.Code
}

// framed reports whether a cell is one to write into that fills its place.
func (c PenCell) framed() bool {
	return c.Pen != nil && c.Pen.Kind != PenTick && c.Pen.Kind != PenChoice
}

func (b PenTable) rows(s *sheet, w float64) []float64 {
	widths := b.widths(s, w)
	return headed(b.headHeight(s, widths), b.heights(s, widths))
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
	heights := b.heights(s, widths)
	tops := []float64{y}
	entries := false // of more than one row
	for i, h := range heights {
		tops = append(tops, tops[i]+h)
		entries = entries || b.Rows[i].Keep && i+1 < len(heights)
	}
	end := tops[len(heights)]
	for i, r := range b.Rows {
		at := x
		for j, c := range r.Cells {
			cw := widths[j]
			switch {
			case c.Pen != nil:
				s.drawPenCell(c, at, tops[i], cw, heights[i])
			case !b.covered(i, j):
				th := s.stackHeight(c.font(), c.Text, c.Sub, cw-2*tablePad)
				s.stack(at+tablePad, (tops[i]+tops[b.last(i, j)+1]-th)/2, cw-2*tablePad, c.font(), "L", c.Text, c.Sub)
			}
			at += cw
		}
	}
	// rules after what is painted in the cells, the heaviest last
	for i := range b.Rows {
		at := x
		for j := range widths {
			if b.Rows[i].Keep && i+1 < len(b.Rows) && !b.covered(i+1, j) {
				s.line(at, tops[i+1], at+widths[j], tops[i+1], thin, 0.3)
			}
			at += widths[j]
		}
	}
	for i := range b.Rows {
		switch {
		case b.Rows[i].Keep && i+1 < len(b.Rows):
		case entries:
			s.line(x, tops[i+1], x+w, tops[i+1], 0.35, 0)
		default:
			s.line(x, tops[i+1], x+w, tops[i+1], thin, 0.4)
		}
	}
	s.line(x, end, x+w, end, 0.25, 0)
	at := x
	for j := range widths {
		for i := 0; i < len(b.Rows); i++ {
			if !b.Rows[i].Cells[j].framed() {
				continue
			}
			from := i
			for b.Rows[i].Keep && i+1 < len(b.Rows) && b.Rows[i+1].Cells[j].framed() {
				i++
			}
			s.rect(at, tops[from], widths[j], tops[i+1]-tops[from], measured, 0, None)
		}
		at += widths[j]
	}
	at = x
	for j := range widths {
		for i, r := range b.Rows {
			if c := r.Cells[j]; c.Pen != nil && c.Pen.Computed {
				s.rect(at, tops[i], widths[j], heights[i], computed, 0, None)
			}
		}
		at += widths[j]
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

var codeFont = small.at(floorSize).bold()

// codePad is the room a code takes besides its own width, mm.
const codePad = 1.6

// beside is what a code takes beside the boxes to tick of its cell, mm.
func (s *sheet) beside(c PenCell) float64 {
	if c.printed() == "" {
		return 0
	}
	return s.width(tickFont.bold(), c.printed()) + codePad
}

// drawPenCell draws one cell of a table to be written into. As in a list, the
// code stands behind a box to tick, and before a choice of them. Else it is small in
// the upper left with room for a figure beside it, the decimal mark at its place
// with room on both sides.
func (s *sheet) drawPenCell(c PenCell, x, y, w, h float64) {
	p, tiny := *c.Pen, small.at(floorSize)
	beside, f := s.beside(c), tickFont.bold()
	switch base := y + h/2 + 0.35*f.mm(); p.Kind {
	case PenTick:
		x += (w - tickSize - beside) / 2
		s.tick(p.Code, x, y+(h-tickSize)/2, p.Printed != "")
		s.text(x+tickSize+codePad, base, f, 0, c.printed())
		return
	case PenChoice:
		w -= 2 * tablePad
		bw, bh := s.body(p, w-beside)
		x += tablePad + max(0, w-beside-bw)/2
		s.text(x, base, f, 0, c.printed())
		s.drawBody(p, x+beside, y+(h-bh)/2, w-beside)
		return
	}
	s.cell(p.Code, false, x, y, w, h, 0) // the table draws the frames
	s.fitted(x+1.1, y+2.9, w-1.2, codeFont, 0, "L", c.printed())
	if p.Printed != "" {
		s.fitted(x+1, y+h-1.8, w-2, read.at(11), 0.1, "C", p.Printed)
		return
	}
	if p.Sign {
		s.text(x+1.1, y+h-1.5, tiny, note, "+ −")
	}
	unit := 0.0
	if p.Unit != "" && p.Kind == PenFigures && w >= 22 {
		unit = s.width(tiny, p.Unit) + 0.8
		s.text(x+w-unit-0.3, y+h-1.2, tiny, note, p.Unit)
	}
	if p.Kind == PenFigures && p.After > 0 {
		// a hand-written figure takes 7 mm where there is room, 3.4 at least
		each := min(max((w-unit)/(float64(p.Before+p.After)+0.5), 3.4), 7)
		after := min(float64(p.After)*each+1, (w-unit)*(float64(p.After)+0.5)/(float64(p.Before+p.After)+0.5))
		s.mark(x+w-unit-after, y+h-1.3)
	}
}
