package layout

const tickGutter = 6.0

func (b TickList) columns() int { return max(b.Columns, 1) }

func (b TickList) columnWidth(w float64) float64 {
	n := float64(b.columns())
	return (w - (n-1)*tickGutter) / n
}

var tickFont = small.at(9)

// labels is the width of the labels left of what is not a plain tick: as much
// as the longest needs, but leave the choices on one line where labels can
// wrap instead.
func (b TickList) labels(s *sheet, cw float64) float64 {
	var lw, body float64
	for _, p := range b.Pens {
		if p.Kind == PenTick {
			continue
		}
		for _, l := range s.wrap(tickFont, p.words(), cw) {
			lw = max(lw, l.w)
		}
		bw, _ := s.body(p, cw)
		body = max(body, bw)
	}
	return min(lw+4, max(cw-body-0.1, 0.3*cw))
}

func (b TickList) item(s *sheet, p Pen, cw, lw float64) float64 {
	if p.Kind == PenTick {
		_, h := s.body(p, cw)
		return max(h, 6.4)
	}
	_, h := s.body(p, cw-lw)
	f, ls := s.wrapMax(tickFont, p.words(), lw-2, labelLines)
	return max(h, float64(len(ls))*f.lead(), 6.4)
}

func (b TickList) rows(s *sheet, w float64) []float64 {
	cw := b.columnWidth(w)
	lw := b.labels(s, cw)
	var out []float64
	for i := 0; i < len(b.Pens); i += b.columns() {
		h := 0.0
		for _, p := range b.Pens[i:min(i+b.columns(), len(b.Pens))] {
			h = max(h, b.item(s, p, cw, lw))
		}
		if i > 0 {
			h += 1
		}
		out = append(out, h)
	}
	return out
}

func (b TickList) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b TickList) part(_ *sheet, _ float64, from, to int) Block {
	n := b.columns()
	return TickList{b.Pens[from*n : min(to*n, len(b.Pens))], b.Columns}
}

func (b TickList) draw(s *sheet, x, y, w float64) {
	cw := b.columnWidth(w)
	lw := b.labels(s, cw)
	rows := b.rows(s, w)
	for i, p := range b.Pens {
		r, c := i/b.columns(), i%b.columns()
		if c == 0 && r > 0 {
			y += rows[r-1]
		}
		top, h := y, rows[r]
		if r > 0 {
			top, h = y+1, h-1
		}
		at := x + float64(c)*(cw+tickGutter)
		if p.Kind == PenTick {
			_, bh := s.body(p, cw)
			s.drawBody(p, at, top+(h-bh)/2, cw)
			continue
		}
		f, ls := s.wrapMax(tickFont, p.words(), lw-2, labelLines)
		s.lines(at, top+(h-float64(len(ls))*f.lead())/2, lw, f, 0, "L", ls)
		bw, bh := s.body(p, cw-lw)
		if p.flexible() || p.Kind == PenChoice {
			bw = cw - lw
		}
		s.drawBody(p, at+lw, top+(h-bh)/2, min(bw, cw-lw))
	}
}
