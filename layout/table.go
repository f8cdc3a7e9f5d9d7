package layout

import (
	"strconv"
	"strings"
)

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
			h = max(h, 6.2)
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

// headed adds the height of a table's heads to its first row's.
func headed(head float64, rows []float64) []float64 {
	if len(rows) == 0 {
		return []float64{head}
	}
	rows[0] += head
	return rows
}

func (b Table) rows(s *sheet, w float64) []float64 {
	widths := b.widths(s, w)
	var out []float64
	for _, r := range b.Rows {
		out = append(out, b.rowHeight(s, r, widths))
	}
	return headed(b.headHeight(s, widths), out)
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
