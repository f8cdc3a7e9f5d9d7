package layout

import "strings"

// Places to write, mm. A cell holds one hand-written figure, oily fingers
// allowed for.
const (
	cellW    = 7.2
	cellH    = 9.5
	pointW   = 3.0 // between the cells for the decimal mark or the dash
	tickSize = 5.0
	initialW = 16.0
	initialH = 9.0
	dateW    = 30.0
	lineMin  = 28.0
	penGap   = 5.0 // between pens in a row
	rowGap   = 3.0
	unitGap  = 1.0

	labelLines = 8   // most lines of a label; more end in "…"
	measured   = 0.3 // weight of a frame
	computed   = 0.6 // and of one whose figure is worked out
)

// words is code and label as rich text.
func (p Pen) words() string {
	if p.Code == "" {
		return p.Label
	}
	code := "**" + strings.ReplaceAll(p.Code, " ", "\u00a0") + "**"
	if p.Label == "" {
		return code
	}
	return code + "\u00a0 " + p.Label
}

func (p Pen) frame() float64 {
	if p.Computed {
		return computed
	}
	return measured
}

// cells is the number of cells before and after the decimal mark.
func (p Pen) cells() (before, after int) {
	before, after = max(p.Before, 0), max(p.After, 0)
	if before+after == 0 {
		before = 4
	}
	return before, after
}

func (p Pen) cellsWidth() float64 {
	before, after := p.cells()
	w := float64(before+after) * cellW
	if p.Sign {
		w += cellW
	}
	if after > 0 {
		w += pointW
	}
	return w
}

// flexible pens take what the row leaves.
func (p Pen) flexible() bool { return p.Kind == PenLine && p.Width == 0 }

// body is the place to write without its label, at most w wide.
func (s *sheet) body(p Pen, w float64) (bw, bh float64) {
	switch p.Kind {
	case PenFigures:
		bw = p.cellsWidth()
		if p.Unit != "" {
			bw += unitGap + s.width(small, p.Unit)
		}
		return bw, cellH
	case PenTick:
		room := w - tickSize - 1.6
		f, ls := s.wrapMax(tickFont, p.words(), room, labelLines)
		for _, l := range ls {
			bw = max(bw, l.w)
		}
		return tickSize + 1.6 + bw, max(6, float64(len(ls))*f.lead())
	case PenChoice:
		rows, bw := s.choices(p, w)
		return bw, float64(len(rows)) * 6.4
	case PenInitials:
		return initialW, initialH
	case PenDate:
		if p.Width == 0 {
			if full := 8*cellW + 2*pointW; full <= w {
				return full, cellH
			}
			return dateW, initialH
		}
		return min(p.Width, w), initialH
	}
	bw = p.Width
	if bw == 0 {
		bw = lineMin
	}
	if p.Unit != "" {
		bw += unitGap + s.width(small, p.Unit)
	}
	return min(bw, w), cellH * float64(max(p.Lines, 1))
}

const choiceGap = 3.4

// choices sets a pen's choices in rows no wider than w.
func (s *sheet) choices(p Pen, w float64) (rows [][]string, widest float64) {
	var row []string
	var at float64
	for _, c := range p.Choices {
		cw := tickSize + 1.3 + s.width(tickFont, c)
		if len(row) > 0 && at+choiceGap+cw > w {
			rows, row, at = append(rows, row), nil, 0
		}
		if len(row) > 0 {
			at += choiceGap
		}
		row = append(row, c)
		at += cw
		widest = max(widest, min(at, w))
	}
	return append(rows, row), widest
}

// drawBody draws the place to write in w, its upper left corner at x, y.
func (s *sheet) drawBody(p Pen, x, y, w float64) {
	switch p.Kind {
	case PenFigures:
		s.figures(p, x, y)
	case PenTick:
		f, ls := s.wrapMax(tickFont, p.words(), w-tickSize-1.6, labelLines)
		h := max(6, float64(len(ls))*f.lead())
		s.tick(p.Code, x, y+h/2-tickSize/2, p.Printed != "")
		s.lines(x+tickSize+1.6, y+h/2-float64(len(ls))*f.lead()/2, w, f, 0, "L", ls)
	case PenChoice:
		rows, _ := s.choices(p, w)
		for _, row := range rows {
			at := x
			for _, c := range row {
				f, t := s.fit(tickFont, c, w-tickSize-1.3)
				s.tick(p.Code, at, y+0.7, p.Printed != "" && p.Printed == c)
				s.text(at+tickSize+1.3, y+0.7+tickSize/2+0.35*f.mm(), f, 0, t)
				at += tickSize + 1.3 + s.width(f, t) + choiceGap
			}
			y += 6.4
		}
	case PenInitials:
		s.cell(p.Code, false, x, y, initialW, initialH, p.frame())
		s.fitted(x+1, y+6.3, initialW-2, read.at(11), 0, "C", p.Printed)
	case PenDate:
		full := 8*cellW + 2*pointW
		if p.Width > 0 || full > w+1e-6 {
			bw := dateW
			if p.Width > 0 {
				bw = p.Width
			}
			bw = min(bw, w)
			s.cell(p.Code, false, x, y, bw, initialH, p.frame())
			s.fitted(x+1, y+6.3, bw-2, read.at(11), 0, "C", p.Printed)
			return
		}
		digits := strings.Split(strings.ReplaceAll(p.Printed, "-", ""), "")
		for i := range 8 {
			if i == 4 || i == 6 {
				s.line(x+0.8, y+cellH/2, x+pointW-0.8, y+cellH/2, 0.4, 0)
				x += pointW
			}
			s.cell(p.Code, true, x, y, cellW, cellH, measured)
			if i < len(digits) {
				s.figure(x, y, digits[i])
			}
			x += cellW
		}
	default:
		if p.Unit != "" {
			uw := s.width(small, p.Unit)
			s.text(x+w-uw, y+cellH-1.2, small, 0, p.Unit)
			w -= uw + unitGap
		}
		lines := max(p.Lines, 1)
		for i := range lines {
			s.line(x, y+cellH*float64(i+1), x+w, y+cellH*float64(i+1), 0.25, 0)
		}
		s.fitted(x+0.5, y+cellH-1.4, w-1, read.at(10.5), 0, "L", p.Printed)
		s.boxes = append(s.boxes, box{s.page, p.Code, false, x, y, w, cellH * float64(lines)})
	}
}

// tick draws a box to tick.
func (s *sheet) tick(code string, x, y float64, on bool) {
	s.cell(code, false, x, y, tickSize, tickSize, measured)
	if on {
		s.stroke(0.6, 0)
		s.pdf.Line(x+1, y+2.6, x+2.1, y+3.8)
		s.pdf.Line(x+2.1, y+3.8, x+4.1, y+1.1)
	}
}

// figure prints one figure in the cell at x, y.
func (s *sheet) figure(x, y float64, c string) {
	f := read.at(13)
	s.text(x+(cellW-s.width(f, c))/2, y+cellH/2+0.35*f.mm(), f, 0.1, c)
}

// figures draws the cells of a number with its mark and unit.
func (s *sheet) figures(p Pen, x, y float64) {
	before, after := p.cells()
	sign, whole, decimals := splitFigures(p.Printed)
	put := func(n int, text string, right bool) {
		r := []rune(text)
		for i := range n {
			s.cell(p.Code, true, x, y, cellW, cellH, measured)
			j := i
			if right {
				j = i - (n - len(r))
			}
			if j >= 0 && j < len(r) {
				s.figure(x, y, string(r[j]))
			}
			x += cellW
		}
		if p.Computed { // a heavier frame round the group
			s.rect(x-float64(n)*cellW, y, float64(n)*cellW, cellH, computed, 0, None)
		}
	}
	if p.Sign {
		at := x
		put(1, sign, false)
		if p.Printed == "" {
			s.text(at+0.9, y+2.7, small.at(6.5), note, "+ −")
		}
	} else {
		whole = sign + whole
	}
	if len([]rune(whole)) > before || len([]rune(decimals)) > after {
		s.fail("box %s has %d cells before and %d after the mark, %q does not fit; give it more cells", p.Code, before, after, p.Printed)
	}
	if before > 0 {
		put(before, whole, true)
	}
	if after > 0 {
		s.mark(x+pointW/2, y+cellH-0.6)
		x += pointW
		put(after, decimals, false)
	}
	if p.Unit != "" {
		s.text(x+unitGap, y+cellH/2+0.35*small.mm(), small, 0, p.Unit)
	}
}

// mark prints the decimal mark, its middle at x and its baseline at y.
func (s *sheet) mark(x, y float64) {
	f := font{sansBold, 15}
	s.text(x-s.width(f, s.point)/2, y, f, 0, s.point)
}

// splitFigures parts a printed figure at its sign and decimal mark.
func splitFigures(text string) (sign, whole, decimals string) {
	text = strings.TrimSpace(text)
	for _, m := range []string{"+", "−", "-", "±"} {
		if strings.HasPrefix(text, m) {
			sign, text = m, strings.TrimSpace(text[len(m):])
			break
		}
	}
	if sign == "-" {
		sign = "−"
	}
	if i := strings.IndexAny(text, ".,"); i >= 0 {
		return sign, text[:i], text[i+1:]
	}
	return sign, text, ""
}

// place is a pen set in a row.
type place struct {
	pen    Pen
	font   font
	label  []line
	x, w   float64
	bw, bh float64
}

// place measures a pen with its label above, at most w wide.
func (s *sheet) place(p Pen, w float64) place {
	out := place{pen: p}
	out.bw, out.bh = s.body(p, w)
	out.w = out.bw
	if p.Kind == PenTick || p.words() == "" {
		return out
	}
	// a label may be somewhat longer than its box before it wraps
	room := min(max(out.bw, min(out.bw*1.5, out.bw+14), 26), w)
	if p.flexible() { // its line will be longer
		room = min(2*lineMin, w)
	}
	out.font, out.label = s.wrapMax(small, p.words(), room, labelLines)
	for _, l := range out.label {
		out.w = max(out.w, l.w)
	}
	return out
}

// row is pens side by side: labels on a common foot, bodies below.
type row struct {
	places        []place
	labelH, bodyH float64
}

func (r row) height() float64 { return r.labelH + r.bodyH }

func (r *row) settle() {
	r.labelH, r.bodyH = 0, 0
	for _, p := range r.places {
		if len(p.label) > 0 {
			r.labelH = max(r.labelH, float64(len(p.label))*p.font.lead()+0.6)
		}
		r.bodyH = max(r.bodyH, p.bh)
	}
}

func (b PenRow) set(s *sheet, w float64) []row {
	var rows []row
	var cur row
	var at float64
	end := func() {
		if len(cur.places) == 0 {
			return
		}
		// what the row leaves goes to its lines; else a figure worked out from
		// the row stands apart at its right end
		slack := w - at
		flex := 0
		for _, p := range cur.places {
			if p.pen.flexible() {
				flex++
			}
		}
		shift := 0.0
		last := len(cur.places) - 1
		for i := range cur.places {
			p := &cur.places[i]
			p.x += shift
			switch {
			case flex > 0 && p.pen.flexible():
				p.w += slack / float64(flex)
				p.bw = p.w
				shift += slack / float64(flex)
			case flex == 0 && i == last && i > 0 && p.pen.Computed && !cur.places[i-1].pen.Computed:
				p.x += slack
			}
		}
		cur.settle()
		rows, cur, at = append(rows, cur), row{}, 0
	}
	for _, p := range b.Pens {
		pl := s.place(p, w)
		if len(cur.places) > 0 && at+penGap+pl.w > w+1e-6 {
			end()
		}
		if len(cur.places) > 0 {
			at += penGap
		}
		pl.x = at
		at += pl.w
		cur.places = append(cur.places, pl)
	}
	end()
	return rows
}

func (b PenRow) rows(s *sheet, w float64) []float64 {
	var out []float64
	for i, r := range b.set(s, w) {
		h := r.height()
		if i > 0 {
			h += rowGap
		}
		out = append(out, h)
	}
	return out
}

func (b PenRow) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b PenRow) part(s *sheet, w float64, from, to int) Block {
	var pens []Pen
	for _, r := range b.set(s, w)[from:to] {
		for _, p := range r.places {
			pens = append(pens, p.pen)
		}
	}
	return PenRow{pens}
}

func (b PenRow) draw(s *sheet, x, y, w float64) {
	for i, r := range b.set(s, w) {
		if i > 0 {
			y += rowGap
		}
		for _, p := range r.places {
			s.drawPlace(p, x, y, r)
		}
		y += r.height()
	}
}

func (s *sheet) drawPlace(p place, x, y float64, r row) {
	top := y + r.labelH
	if len(p.label) > 0 {
		s.lines(x+p.x, top-0.6-float64(len(p.label))*p.font.lead(), p.w, p.font, 0, "L", p.label)
	}
	if p.pen.Kind == PenTick || p.pen.Kind == PenChoice {
		top += (r.bodyH - p.bh) / 2
	}
	s.drawBody(p.pen, x+p.x, top, p.bw)
}
