package pictures

import (
	"math"
	"sync"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/common"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"golang.org/x/text/encoding/charmap"
)

// A place is where a symbol lies in a level: the centres of its three finder
// patterns, its modules a side, and how it tilts: g and h are the projection's
// shortening along its rows and columns, 0 when looked at squarely.
type place struct {
	topLeft, topRight, bottomLeft point
	size                          int
	g, h                          float64
}

// at is the picture's point of a symbol's, in modules from its corner.
func (p *place) at(mx, my float64) point {
	n := float64(p.size - 7)
	s, t := (mx-3.5)/n, (my-3.5)/n
	w := 1 / (1 + p.g*s + p.h*t)
	a, b, c := (1-s-t)*w, s*(1+p.g)*w, t*(1+p.h)*w
	return point{
		a*p.topLeft.x + b*p.topRight.x + c*p.bottomLeft.x,
		a*p.topLeft.y + b*p.topRight.y + c*p.bottomLeft.y,
	}
}

// module is the mean size of a module.
func (p *place) module() float64 {
	return (p.topLeft.distance(p.topRight) + p.topLeft.distance(p.bottomLeft)) / 2 / float64(p.size-7)
}

// A mark is a module that every symbol of a size has alike.
type mark struct {
	x, y float64
	dark bool
}

// finderMarks are the marks of each of the three finder patterns, which come first.
const finderMarks = 81

// marks of a size: finder patterns with the light around them, timing,
// alignment patterns, the one dark module, and a module of quiet zone.
func marks(size int) []mark {
	if m, ok := markCache.Load(size); ok {
		return m.([]mark)
	}
	var m []mark
	seen := map[[2]int]bool{}
	put := func(x, y int, dark bool) {
		if !seen[[2]int{x, y}] {
			seen[[2]int{x, y}] = true
			m = append(m, mark{float64(x) + 0.5, float64(y) + 0.5, dark})
		}
	}
	for _, c := range [][2]int{{3, 3}, {size - 4, 3}, {3, size - 4}} {
		for dy := -4; dy <= 4; dy++ {
			for dx := -4; dx <= 4; dx++ {
				r := max(dx, -dx, dy, -dy)
				put(c[0]+dx, c[1]+dy, r != 2 && r != 4)
			}
		}
	}
	for i := 8; i < size-8; i++ {
		put(i, 6, i%2 == 0)
		put(6, i, i%2 == 0)
	}
	put(8, size-8, true)
	for _, c := range alignments(size) {
		for dy := -2; dy <= 2; dy++ {
			for dx := -2; dx <= 2; dx++ {
				put(c[0]+dx, c[1]+dy, max(dx, -dx, dy, -dy) != 1)
			}
		}
	}
	for i := 0; i < size; i++ {
		put(i, -1, false)
		put(-1, i, false)
		put(i, size, false)
		put(size, i, false)
	}
	markCache.Store(size, m)
	return m
}

var markCache sync.Map

// centres of alignment patterns along a side, in modules.
func centres(size int) []int {
	v, err := decoder.Version_GetProvisionalVersionForDimension(size)
	if err != nil {
		return nil
	}
	return v.GetAlignmentPatternCenters()
}

// alignments are the centres of a size's alignment patterns.
func alignments(size int) [][2]int {
	var out [][2]int
	c := centres(size)
	for i, y := range c {
		for j, x := range c {
			last := len(c) - 1
			if !(i == 0 && j == 0 || i == 0 && j == last || i == last && j == 0) {
				out = append(out, [2]int{x, y})
			}
		}
	}
	return out
}

// fit says how well a place shows the marks, 1 all, 0 as chance would.
func (l *level) fit(p *place, m []mark, depth float64) float64 {
	var sum float64
	for _, k := range m {
		v := max(-1, min(l.sample(p.at(k.x, k.y))/depth, 1))
		if k.dark {
			v = -v
		}
		sum += v
	}
	return sum / float64(len(m))
}

// depth is how far dark lies below the threshold and light above it, at the
// finder patterns.
func (l *level) depth(p *place) float64 {
	var sum float64
	n := 0
	for _, c := range []point{p.topLeft, p.topRight, p.bottomLeft} {
		sum += math.Abs(l.sample(c))
		n++
	}
	return max(8, sum/float64(n))
}

// refine moves a place to where its marks fit best.
func (l *level) refine(p place, m []mark, depth, step float64) (place, float64) {
	best := l.fit(&p, m, depth)
	u := p.module()
	for ; step > 0.03; step /= 2 {
		for moved, rounds := true, 0; moved && rounds < 8; rounds++ {
			moved = false
			tilt := step * 2 / float64(p.size-7)
			for k := range 8 {
				for _, sign := range []float64{1, -1} {
					q := p
					d := sign * step * u
					switch k {
					case 0:
						q.topLeft.x += d
					case 1:
						q.topLeft.y += d
					case 2:
						q.topRight.x += d
					case 3:
						q.topRight.y += d
					case 4:
						q.bottomLeft.x += d
					case 5:
						q.bottomLeft.y += d
					case 6:
						q.g += sign * tilt
					case 7:
						q.h += sign * tilt
					}
					if q.g+q.h < -0.8 {
						continue // seen from behind
					}
					if s := l.fit(&q, m, depth); s > best {
						p, best, moved = q, s, true
					}
				}
			}
		}
	}
	return p, best
}

// A grid is what is read at each module of a symbol: brightness less threshold.
type grid struct {
	size int
	v    []float32
}

func (l *level) grid(p *place, shift func(x, y float64) point) grid {
	g := grid{p.size, make([]float32, p.size*p.size)}
	const d = 0.2
	for y := range p.size {
		for x := range p.size {
			mx, my := float64(x)+0.5, float64(y)+0.5
			if shift != nil {
				s := shift(mx, my)
				mx, my = mx+s.x, my+s.y
			}
			v := 2*l.sample(p.at(mx, my)) +
				l.sample(p.at(mx-d, my-d)) + l.sample(p.at(mx+d, my-d)) +
				l.sample(p.at(mx-d, my+d)) + l.sample(p.at(mx+d, my+d))
			g.v[y*p.size+x] = float32(v / 6)
		}
	}
	return g
}

// sharper takes off the share of its neighbours that blur put into a module.
func (g grid) sharper(k float32) grid {
	out := grid{g.size, make([]float32, len(g.v))}
	for y := range g.size {
		for x := range g.size {
			c := g.v[y*g.size+x]
			var s, n float32
			for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
				if xx, yy := x+d[0], y+d[1]; xx >= 0 && yy >= 0 && xx < g.size && yy < g.size {
					s += g.v[yy*g.size+xx]
					n++
				}
			}
			out.v[y*g.size+x] = c + k*(c-s/n)
		}
	}
	return out
}

// balanced is brightness less the middle between the dark and the light modules
// around, which follows a stain or a shadow more closely than the picture's threshold.
func (g grid) balanced() grid {
	n := g.size
	lows, highs := make([]float32, n*n), make([]float32, n*n)
	nl, nh := make([]float32, n*n), make([]float32, n*n)
	for i, v := range g.v {
		if v < 0 {
			lows[i], nl[i] = v, 1
		} else {
			highs[i], nh[i] = v, 1
		}
	}
	const r = 4
	lows, highs, nl, nh = boxSum(lows, n, n, r), boxSum(highs, n, n, r), boxSum(nl, n, n, r), boxSum(nh, n, n, r)
	out := grid{n, make([]float32, n*n)}
	for i, v := range g.v {
		out.v[i] = v
		if nl[i] > 3 && nh[i] > 3 {
			out.v[i] = v - (lows[i]/nl[i]+highs[i]/nh[i])/2
		}
	}
	return out
}

// text corrects a grid's bits and reads them.
func (g grid) text() (text string, ok bool) {
	bits, err := gozxing.NewSquareBitMatrix(g.size)
	if err != nil {
		return "", false
	}
	for i, v := range g.v {
		if v < 0 {
			bits.Set(i%g.size, i/g.size)
		}
	}
	r, err := decoder.NewDecoder().Decode(bits, hints)
	if err != nil || r.GetText() == "" {
		return "", false
	}
	return raw(r), true
}

// Bytes are taken as Latin-1 to get them one by one: gozxing would guess.
var hints = map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_CHARACTER_SET: charmap.ISO8859_1}

func raw(r *common.DecoderResult) string {
	b := []byte{}
	for _, c := range r.GetText() {
		if c > 0xff {
			return r.GetText() // a symbol that names another character set
		}
		b = append(b, byte(c))
	}
	return string(b)
}

// read tries to read the symbol at a place, the likeliest way first.
func (l *level) read(p *place, shift func(x, y float64) point) (string, bool) {
	g := l.grid(p, shift)
	b := g.balanced()
	for _, try := range []func() grid{
		func() grid { return b },
		func() grid { return g },
		func() grid { return b.sharper(0.6) },
		func() grid { return b.sharper(1.5) },
	} {
		if text, ok := try().text(); ok {
			return text, true
		}
	}
	return "", false
}

// bend finds how far each alignment pattern lies from where a flat sheet would
// have it, and gives the shift between them: paper curls.
func (l *level) bend(p *place, depth float64) func(x, y float64) point {
	c := centres(p.size)
	if len(c) < 2 {
		return nil
	}
	n := len(c)
	nodes := make([]point, n*n)
	var template []mark
	for dy := -2.; dy <= 2; dy++ {
		for dx := -2.; dx <= 2; dx++ {
			template = append(template, mark{dx, dy, max(dx, -dx, dy, -dy) != 1})
		}
	}
	score := func(x, y float64) float64 {
		var sum float64
		for _, k := range template {
			v := max(-1, min(l.sample(p.at(x+k.x, y+k.y))/depth, 1))
			if k.dark {
				v = -v
			}
			sum += v
		}
		return sum / 25
	}
	for i, y := range c {
		for j, x := range c {
			if i == 0 && j == 0 || i == 0 && j == n-1 || i == n-1 && j == 0 {
				continue
			}
			// Where the patterns before it went is where to look first.
			var from point
			switch {
			case i > 0 && j > 0:
				from = nodes[(i-1)*n+j].add(nodes[i*n+j-1]).times(0.5)
			case i > 0:
				from = nodes[(i-1)*n+j]
			default:
				from = nodes[i*n+j-1]
			}
			fx, fy := float64(x)+0.5, float64(y)+0.5
			best, at := 0.5, from
			for dy := -1.5; dy <= 1.5; dy += 0.25 {
				for dx := -1.5; dx <= 1.5; dx += 0.25 {
					s := score(fx+from.x+dx, fy+from.y+dy) - 0.02*math.Hypot(dx, dy)
					if s > best {
						best, at = s, from.add(point{dx, dy})
					}
				}
			}
			nodes[i*n+j] = at
		}
	}
	return func(x, y float64) point {
		cell := func(v float64) (int, float64) {
			k := 0
			for k < n-2 && v > float64(c[k+1])+0.5 {
				k++
			}
			return k, (v - float64(c[k]) - 0.5) / float64(c[k+1]-c[k])
		}
		j, fx := cell(x)
		i, fy := cell(y)
		fx, fy = max(-0.3, min(fx, 1.3)), max(-0.3, min(fy, 1.3))
		top := nodes[i*n+j].times(1 - fx).add(nodes[i*n+j+1].times(fx))
		low := nodes[(i+1)*n+j].times(1 - fx).add(nodes[(i+1)*n+j+1].times(fx))
		return top.times(1 - fy).add(low.times(fy))
	}
}
