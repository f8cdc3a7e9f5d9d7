package layout

// arithmetic faces.
var (
	signFont  = font{sansBold, 15}
	fixedFont = font{sansBold, 14}
)

// gaps either side of a sign: the usual one, and the one that saves a row
const (
	signGap   = 2.6
	signTight = 1.3
)

// operand is a term set in a row.
type operand struct {
	place
	term Term
	sign float64 // width of the sign with its gaps
	gap  float64
}

func (b Arith) set(s *sheet, w float64) [][]operand {
	rows := b.setWith(s, w, signGap)
	if tight := b.setWith(s, w, signTight); len(tight) < len(rows) {
		return tight
	}
	return rows
}

func (b Arith) setWith(s *sheet, w, signGap float64) [][]operand {
	var rows [][]operand
	var cur []operand
	var at float64
	for _, t := range b.Terms {
		o := operand{term: t, gap: signGap}
		if t.Sign != "" {
			o.sign = s.width(signFont, t.Sign) + 2*signGap
		} else if len(cur) > 0 {
			o.sign = penGap
		}
		if t.Pen != nil {
			o.place = s.place(*t.Pen, w-o.sign)
			o.w = max(o.bw, o.w)
		} else {
			o.bw = s.width(fixedFont, t.Fixed)
			o.bh = cellH
			if t.Label != "" {
				o.font, o.label = s.wrapMax(small, t.Label, max(o.bw, 24), labelLines)
			}
			o.w = o.bw
			for _, l := range o.label {
				o.w = max(o.w, l.w)
			}
		}
		if len(cur) > 0 && at+o.sign+o.w > w+1e-6 {
			rows, cur, at = append(rows, cur), nil, 0
			if t.Sign == "" {
				o.sign = 0
			}
		}
		if len(cur) == 0 && t.Sign != "" && len(rows) == 0 {
			o.sign -= signGap
		}
		o.x = at + o.sign
		at += o.sign + o.w
		cur = append(cur, o)
	}
	if len(cur) > 0 {
		rows = append(rows, cur)
	}
	return rows
}

func band(ops []operand) row {
	var r row
	for _, o := range ops {
		r.places = append(r.places, o.place)
	}
	r.settle()
	return r
}

func (b Arith) height(s *sheet, w float64) float64 {
	var h float64
	for i, ops := range b.set(s, w) {
		if i > 0 {
			h += rowGap
		}
		h += band(ops).height()
	}
	return h
}

func (b Arith) draw(s *sheet, x, y, w float64) {
	for i, ops := range b.set(s, w) {
		if i > 0 {
			y += rowGap
		}
		r := band(ops)
		mid := y + r.labelH + cellH/2
		for _, o := range ops {
			if o.term.Sign != "" {
				f := signFont
				tw := s.width(f, o.term.Sign)
				s.text(x+o.x-o.gap-tw, mid+0.35*f.mm(), f, 0, o.term.Sign)
			}
			if o.term.Pen != nil {
				s.drawPlace(o.place, x, y, r)
				continue
			}
			s.lines(x+o.x, y+r.labelH-0.6-float64(len(o.label))*o.font.lead(), o.w, o.font, 0, "C", o.label)
			s.text(x+o.x+(o.w-o.bw)/2, mid+0.35*fixedFont.mm(), fixedFont, 0, o.term.Fixed)
		}
		y += r.height()
	}
}
