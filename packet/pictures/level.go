package pictures

import "math"

// A level is a picture at one size with its threshold, dark or light, block by
// block: the middle between the darkest and the lightest dot, as the blocks
// around see it, each counted by its contrast, so that paper and toner follow
// the edges near them. 0, nothing is dark, where there is no contrast.
type level struct {
	gray
	scale float64 // dots of the picture in one of the level's
	bw    int     // blocks in a row
	limit []byte
}

const (
	block  = 8  // dots
	around = 3  // blocks that count on each side
	faint  = 20 // least contrast taken for print
)

func newLevel(g gray, scale float64) level {
	bw, bh := (g.w+block-1)/block, (g.h+block-1)/block
	l := level{g, scale, bw, make([]byte, bw*bh)}
	mid := make([]float32, bw*bh)
	weight := make([]float32, bw*bh)
	for by := range bh {
		for bx := range bw {
			least, most := byte(255), byte(0)
			for y := by * block; y < min(g.h, (by+1)*block); y++ {
				for _, v := range g.pix[y*g.w+bx*block : y*g.w+min(g.w, (bx+1)*block)] {
					least, most = min(least, v), max(most, v)
				}
			}
			if c := float32(most) - float32(least); c >= faint {
				i := by*bw + bx
				weight[i] = c * c
				mid[i] = weight[i] * (float32(most) + float32(least)) / 2
			}
		}
	}
	mid, weight = boxSum(mid, bw, bh, around), boxSum(weight, bw, bh, around)
	for i, w := range weight {
		if w > 0.5 {
			l.limit[i] = byte(mid[i] / w)
		}
	}
	return l
}

// boxSum sums a grid over the square of radius r around each place.
func boxSum(v []float32, w, h, r int) []float32 {
	rows := make([]float32, len(v))
	for y := range h {
		in, out := v[y*w:(y+1)*w], rows[y*w:(y+1)*w]
		for x := range w {
			var s float32
			for _, a := range in[max(0, x-r):min(w, x+r+1)] {
				s += a
			}
			out[x] = s
		}
	}
	sum := make([]float32, len(v))
	for y := range h {
		out := sum[y*w : (y+1)*w]
		for yy := max(0, y-r); yy < min(h, y+r+1); yy++ {
			for x, a := range rows[yy*w : (yy+1)*w] {
				out[x] += a
			}
		}
	}
	return sum
}

func (l *level) limitAt(x, y int) byte { return l.limit[y/block*l.bw+x/block] }

// sample is the brightness less the threshold at a point, between the dots;
// the edge of the picture goes on outside.
func (l *level) sample(p point) float64 {
	x, y := p.x-0.5, p.y-0.5
	x, y = max(0, min(x, float64(l.w-1))), max(0, min(y, float64(l.h-1)))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, l.w-1), min(y0+1, l.h-1)
	fx, fy := x-float64(x0), y-float64(y0)
	a, b := l.pix[y0*l.w:], l.pix[y1*l.w:]
	top := float64(a[x0])*(1-fx) + float64(a[x1])*fx
	low := float64(b[x0])*(1-fx) + float64(b[x1])*fx
	return top*(1-fy) + low*fy - float64(l.limitAt(int(x+0.5), int(y+0.5)))
}

// A finder is where a finder pattern seems to lie. unit is the mean of what a
// module measures along the row and along the column through its centre.
type finder struct {
	point
	unit  float64
	votes int
}

type point struct{ x, y float64 }

func (p point) add(q point) point        { return point{p.x + q.x, p.y + q.y} }
func (p point) sub(q point) point        { return point{p.x - q.x, p.y - q.y} }
func (p point) times(f float64) point    { return point{p.x * f, p.y * f} }
func (p point) length() float64          { return math.Hypot(p.x, p.y) }
func (p point) cross(q point) float64    { return p.x*q.y - p.y*q.x }
func (p point) dot(q point) float64      { return p.x*q.x + p.y*q.y }
func (p point) turned() point            { return point{-p.y, p.x} }
func (p point) distance(q point) float64 { return p.sub(q).length() }

// finders looks along the rows for the finder pattern's 1:1:3:1:1.
func (l *level) finders(loose float64) []finder {
	var found []finder
	edges := make([]float64, 0, l.w)
	for y := range l.h {
		if len(found) > 20_000 {
			break // a picture of noise
		}
		edges = edges[:0]
		row := l.pix[y*l.w : (y+1)*l.w]
		limits := l.limit[y/block*l.bw : (y/block+1)*l.bw]
		dark := false
		for x, v := range row {
			if t := limits[x/block]; (v < t) != dark {
				edges = append(edges, edge(x, row[max(0, x-1)], v, t))
				dark = !dark
			}
		}
		if dark {
			edges = append(edges, float64(l.w))
		}
		for i := 0; i+5 < len(edges); i += 2 {
			centre, unit, ok := finderLike((*[6]float64)(edges[i:i+6]), loose)
			if !ok {
				continue
			}
			cy, uy, ok := l.along(centre, float64(y)+0.5, unit, loose, true)
			if !ok || uy > 2.2*unit || unit > 2.2*uy {
				continue
			}
			cx, ux, ok := l.along(centre, cy, uy, loose, false)
			if !ok {
				continue
			}
			f := finder{point{cx, cy}, (ux + uy) / 2, 1}
			found = vote(found, f)
		}
	}
	return found
}

func vote(found []finder, f finder) []finder {
	// Rows come in order: a pattern's other rows are among the last found.
	for i := len(found) - 1; i >= max(0, len(found)-500); i-- {
		g := &found[i]
		if g.distance(f.point) < 1.5*g.unit && f.unit < 1.4*g.unit && g.unit < 1.4*f.unit {
			n := float64(g.votes)
			g.point = g.times(n).add(f.point).times(1 / (n + 1))
			g.unit = (g.unit*n + f.unit) / (n + 1)
			g.votes++
			return found
		}
	}
	return append(found, f)
}

// edge is where between the dots x-1 and x brightness passes t.
func edge(x int, before, after, t byte) float64 {
	if x == 0 || before == after {
		return float64(x)
	}
	f := (float64(before) - float64(t)) / (float64(before) - float64(after))
	return float64(x) - 0.5 + max(0, min(f, 1))
}

// finderLike judges six edges from light to dark and back. Distances between
// like edges stay what they are when ink spreads or light bleeds.
func finderLike(e *[6]float64, loose float64) (centre, unit float64, ok bool) {
	u := (e[5] - e[0]) / 7
	if u < 0.9 {
		return 0, 0, false
	}
	near := func(d, n float64) bool { return math.Abs(d-n*u) < loose*u }
	if !near(e[2]-e[0], 2) || !near(e[5]-e[3], 2) || !near(e[3]-e[1], 4) || !near(e[4]-e[2], 4) {
		return 0, 0, false
	}
	if core := e[3] - e[2]; core < 1.7*u || core > 4.4*u {
		return 0, 0, false
	}
	for i := range 5 {
		if e[i+1]-e[i] < 0.2*u {
			return 0, 0, false
		}
	}
	return (e[2] + e[3]) / 2, u, true
}

// along judges the pattern through a point along its column or its row.
func (l *level) along(x, y, unit, loose float64, column bool) (centre, u float64, ok bool) {
	n, at, step, start := l.w, int(y)*l.w, 1, int(x)
	if column {
		n, at, step, start = l.h, int(x), l.w, int(y)
	}
	other := int(y)
	if column {
		other = int(x)
	}
	isDark := func(i int) (v, t byte) {
		if column {
			return l.pix[at+i*step], l.limitAt(other, i)
		}
		return l.pix[at+i*step], l.limitAt(i, other)
	}
	if start < 0 || start >= n {
		return 0, 0, false
	}
	if v, t := isDark(start); v >= t {
		return 0, 0, false
	}
	var e [6]float64
	most := int(8*unit) + 2
	k, dark := 2, true
	for i := start - 1; k >= 0; i-- {
		if i < 0 {
			if k != 0 {
				return 0, 0, false
			}
			e[0], k = 0, -1
			break
		}
		if start-i > most {
			return 0, 0, false
		}
		v, t := isDark(i)
		if (v < t) != dark {
			next, _ := isDark(i + 1)
			e[k] = edge(i+1, v, next, t)
			k--
			dark = !dark
		}
	}
	k, dark = 3, true
	for i := start + 1; k <= 5; i++ {
		if i >= n {
			if k != 5 {
				return 0, 0, false
			}
			e[5] = float64(n)
			break
		}
		if i-start > most {
			return 0, 0, false
		}
		v, t := isDark(i)
		if (v < t) != dark {
			before, _ := isDark(i - 1)
			e[k] = edge(i, before, v, t)
			k++
			dark = !dark
		}
	}
	return finderLike(&e, loose)
}
