package layout

// signing places, mm under the rule; a line alone needs less than a box.
const (
	signFoot   = 14.6
	signLine   = 11.0
	signGutter = 4.0
	signMin    = 26.0
)

// set puts the fields in rows; the tick stands at the right end of the last.
func (b SignOff) set(s *sheet, w float64) (rows [][]place, f font, tick []line, tickW float64) {
	if b.Tick != "" {
		f, tick = s.wrapMax(read, b.Tick, min(48, w/3), 3)
		for _, l := range tick {
			tickW = max(tickW, l.w)
		}
		tickW += tickSize + 1.8
	}
	room := w
	if tickW > 0 {
		room -= tickW + signGutter
	}
	var cur []place
	var at float64
	end := func() {
		flex := 0
		for _, p := range cur {
			if p.pen.flexible() {
				flex++
			}
		}
		slack, shift := room-at, 0.0
		for i := range cur {
			p := &cur[i]
			p.x += shift
			if p.pen.flexible() {
				p.w += slack / float64(flex)
				p.bw = p.w
				shift += slack / float64(flex)
			}
			_, p.label = s.wrapMax(small, p.pen.words(), p.w, 1)
		}
		rows, cur, at = append(rows, cur), nil, 0
	}
	for _, p := range b.Fields {
		if p.Kind == PenDate && p.Width == 0 {
			p.Width = dateW
		}
		pl := place{pen: p}
		if p.flexible() {
			pl.w = signMin
		} else {
			pl.bw, pl.bh = s.body(p, room)
			pl.w = max(pl.bw, min(s.width(small, p.Code+"  "+p.Label)+1, 30))
		}
		if len(cur) > 0 && at+signGutter+pl.w > room+1e-6 {
			end()
		}
		if len(cur) > 0 {
			at += signGutter
		}
		pl.x = at
		at += pl.w
		cur = append(cur, pl)
	}
	end()
	return rows, f, tick, tickW
}

func (b SignOff) height(s *sheet, w float64) float64 {
	rows, _, _, _ := b.set(s, w)
	return b.rowHeight()*float64(len(rows)) + 0.3
}

func (b SignOff) rowHeight() float64 {
	for _, p := range b.Fields {
		if p.Kind != PenLine {
			return signFoot
		}
	}
	return signLine
}

func (b SignOff) draw(s *sheet, x, y, w float64) {
	s.line(x, y, x+w, y, 0.25, 0)
	rows, f, tick, tickW := b.set(s, w)
	for _, r := range rows {
		for _, p := range r {
			f, ls := s.wrapMax(small, p.pen.words(), p.w, 1)
			s.lines(x+p.x, y+0.9, p.w, f, 0.15, "L", ls)
			h := cellH
			if p.pen.Kind == PenInitials || p.pen.Kind == PenDate {
				h = initialH
			}
			pen := p.pen
			if pen.Kind == PenTick {
				pen.Code, pen.Label = "", ""
				h = 6
			}
			s.drawBody(pen, x+p.x, y+b.rowHeight()-h, p.bw)
		}
		y += b.rowHeight()
	}
	if tickW > 0 {
		h := max(float64(len(tick))*f.lead(), tickSize)
		s.tick("", x+w-tickW, y-h/2-tickSize/2, false)
		s.lines(x+w-tickW+tickSize+1.8, y-h/2-float64(len(tick))*f.lead()/2, tickW, f, 0, "L", tick)
	}
}
