package layout

import "math"

// draw draws the strip in the middle of a cell.
func (b *Strip) draw(s *sheet, x, y, w, h float64) {
	mid := y + h/2
	half := min(2.2, h/2-1.6) // of the limit box, mm; the cross has its place above
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
	if b.Expected == nil || math.IsNaN(*b.Expected) {
		return
	}
	// above the box, since what was left should lie at the same place
	const arm = 0.65
	at, above := min(max(origin+scale**b.Expected, x+arm), x+w-arm), mid-half-arm-0.25
	s.line(at-arm, above-arm, at+arm, above+arm, 0.3, 0)
	s.line(at-arm, above+arm, at+arm, above-arm, 0.3, 0)
}
