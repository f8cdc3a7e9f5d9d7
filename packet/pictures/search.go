package pictures

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// A hit is a symbol that was read, with the corners of its place in the picture.
type hit struct {
	text    string
	corners [4]point
}

// search finds the texts of all symbols in a picture, in reading order. late: time
// ran out, there may be more.
func search(g gray, deadline time.Time) (texts []string, late bool) {
	s := searcher{deadline: deadline}
	levels := pyramid(g)
	for i := range levels {
		s.look(&levels[i], 0.75, false)
	}
	// What looks like a corner of a symbol that was not read deserves a closer
	// look: speckles smoothed, looser rules, and a corner missing.
	for i := range levels {
		if s.hits != nil && s.left(&levels[i]) < 2 {
			continue
		}
		soft := newLevel(levels[i].softened(), levels[i].scale)
		s.look(&soft, 0.75, false)
		s.look(&levels[i], 1.1, true)
		s.look(&soft, 1.1, true)
	}
	hits := s.hits
	slices.SortStableFunc(hits, func(a, b hit) int {
		// Rows of symbols: half a symbol's height apart is another row.
		ca, cb := a.centre(), b.centre()
		if d := ca.y - cb.y; math.Abs(d) > a.side()/2 {
			return cmp.Compare(ca.y, cb.y)
		}
		return cmp.Compare(ca.x, cb.x)
	})
	for _, h := range hits {
		if !slices.Contains(texts, h.text) {
			texts = append(texts, h.text)
		}
	}
	return texts, s.late
}

// pyramid is the picture in sizes from its own down to where a symbol over all
// of it would still be seen.
func pyramid(g gray) []level {
	var out []level
	scale := 1.
	for ; g.w >= 21 && g.h >= 21; g, scale = g.half(), scale*2 {
		out = append(out, newLevel(g, scale))
		if max(g.w, g.h) < 300 {
			break
		}
	}
	return out
}

func (h hit) centre() point {
	return h.corners[0].add(h.corners[1]).add(h.corners[2]).add(h.corners[3]).times(0.25)
}

func (h hit) side() float64 { return h.corners[0].distance(h.corners[1]) }

func (h hit) holds(p point) bool {
	for i := range 4 {
		a, b := h.corners[i], h.corners[(i+1)%4]
		if b.sub(a).cross(p.sub(a)) < 0 {
			return false
		}
	}
	return true
}

// A searcher collects what is read at any level of a picture.
type searcher struct {
	hits     []hit
	deadline time.Time
	late     bool // it has passed
}

func (s *searcher) over() bool {
	s.late = s.late || time.Now().After(s.deadline)
	return s.late
}

func (s *searcher) taken(l *level, f finder) bool {
	return slices.ContainsFunc(s.hits, func(h hit) bool { return h.holds(f.times(l.scale)) })
}

// left counts the sure finder patterns of a level that are no read symbol's.
func (s *searcher) left(l *level) int {
	n := 0
	for _, f := range l.finders(0.75) {
		if f.votes >= 3 && !s.taken(l, f) {
			n++
		}
	}
	return n
}

// look reads what it can in a level, with pairs also symbols of which but two
// finder patterns are seen.
func (s *searcher) look(l *level, loose float64, pairs bool) {
	all := l.finders(loose)
	all = slices.DeleteFunc(all, func(f finder) bool { return s.taken(l, f) })
	slices.SortStableFunc(all, func(a, b finder) int { return b.votes - a.votes })
	all = all[:min(len(all), 150)]
	for _, t := range triples(all) {
		if s.over() {
			return
		}
		if s.taken(l, t.f[0]) || s.taken(l, t.f[1]) || s.taken(l, t.f[2]) {
			continue
		}
		if p, text, ok := l.readTriple(t); ok {
			s.hit(l, &p, text)
		}
	}
	if !pairs {
		return
	}
	all = all[:min(len(all), 16)]
	for i := range all {
		for j := range all {
			if s.over() {
				return
			}
			if i == j || s.taken(l, all[i]) || s.taken(l, all[j]) {
				continue
			}
			if p, text, ok := l.readPair(all[i], all[j]); ok {
				s.hit(l, &p, text)
			}
		}
	}
}

func (s *searcher) hit(l *level, p *place, text string) {
	n := float64(p.size)
	h := hit{text: text}
	for i, c := range [4]point{{0, 0}, {n, 0}, {n, n}, {0, n}} {
		h.corners[i] = p.at(c.x, c.y).times(l.scale)
	}
	s.hits = append(s.hits, h)
}

const none = -1

// readPair reads a symbol of which two finder patterns are seen: the third is
// tried for wherever it may lie.
func (l *level) readPair(a, b finder) (place, string, bool) {
	if r := a.unit / b.unit; r > 1.5 || r < 1/1.5 {
		return place{}, "", false
	}
	v := b.sub(a.point)
	half := v.times(0.5)
	for missing, p := range [3]place{
		{topRight: a.point, bottomLeft: b.point, topLeft: a.add(half).add(half.turned())},
		{topLeft: a.point, bottomLeft: b.point, topRight: a.sub(v.turned())},
		{topLeft: a.point, topRight: b.point, bottomLeft: a.add(v.turned())},
	} {
		side := p.topRight.sub(p.topLeft)
		unit := (a.unit + b.unit) / 2 * lean(side, side.length())
		about := side.length()/unit + 7
		nearest := 4*int(math.Round((about-17)/4)) + 17
		for _, size := range [3]int{nearest, nearest - 4, nearest + 4} {
			if size < 21 || size > 177 || math.Abs(float64(size)-about) > 3+0.05*about {
				continue
			}
			p := p
			p.size = size
			depth := max(8, (math.Abs(l.sample(a.point))+math.Abs(l.sample(b.point)))/2)
			m := marks(size)
			if !l.looksLikeFinders(&p, depth, missing) || l.fit(&p, m, depth) < 0.12 {
				continue
			}
			third := [3]*point{&p.topLeft, &p.topRight, &p.bottomLeft}[missing]
			around, best, at := *third, -1.0, *third
			u := p.module()
			for dy := -2.; dy <= 2; dy += 0.5 {
				for dx := -2.; dx <= 2; dx += 0.5 {
					*third = around.add(point{dx * u, dy * u})
					if f := l.fit(&p, m, depth); f > best {
						best, at = f, *third
					}
				}
			}
			*third = at
			q, fit := l.refine(p, m, depth, 0.5)
			if fit < 0.3 {
				continue
			}
			if text, ok := l.read(&q, nil); ok {
				return q, text, true
			}
		}
	}
	return place{}, "", false
}

// A triple is three finders that may be one symbol's: top left, top right, bottom left.
type triple struct {
	f     [3]finder
	score float64
	size  float64 // modules a side, about
}

// triples are sorted, the likeliest first.
func triples(all []finder) []triple {
	var out []triple
	for i := range all {
		for j := i + 1; j < len(all); j++ {
			if r := all[i].unit / all[j].unit; r > 1.8 || r < 1/1.8 {
				continue
			}
			for k := j + 1; k < len(all); k++ {
				if t, ok := newTriple(all[i], all[j], all[k]); ok {
					out = append(out, t)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b triple) int { return cmp.Compare(a.score, b.score) })
	return out[:min(len(out), 3000)]
}

func newTriple(a, b, c finder) (triple, bool) {
	// The corner lies opposite the longest side.
	ab, bc, ca := a.distance(b.point), b.distance(c.point), c.distance(a.point)
	switch max(ab, bc, ca) {
	case ab:
		a, c = c, a
	case ca:
		a, b = b, a
	}
	v, w := b.sub(a.point), c.sub(a.point)
	lv, lw := v.length(), w.length()
	if lv == 0 || lw == 0 {
		return triple{}, false
	}
	if v.cross(w) < 0 {
		b, c, v, w, lv, lw = c, b, w, v, lw, lv
	}
	least, most := min(a.unit, b.unit, c.unit), max(a.unit, b.unit, c.unit)
	cos := v.dot(w) / lv / lw
	if most > 1.8*least || lv > 1.7*lw || lw > 1.7*lv || math.Abs(cos) > 0.6 {
		return triple{}, false
	}
	// A row through a turned square is longer than its side.
	u := (a.unit + b.unit + c.unit) / 3 * (lean(v, lv) + lean(w, lw)) / 2
	size := (lv+lw)/2/u + 7
	if size < 17 || size > 195 {
		return triple{}, false
	}
	return triple{[3]finder{a, b, c}, math.Abs(math.Log(lv/lw)) + math.Abs(cos) + math.Log(most/least), size}, true
}

func lean(v point, length float64) float64 { return max(math.Abs(v.x), math.Abs(v.y)) / length }

// readTriple finds size and tilt from the timing patterns and reads.
func (l *level) readTriple(t triple) (place, string, bool) {
	type guess struct {
		place
		fit float64
	}
	var guesses []guess
	from := place{topLeft: t.f[0].point, topRight: t.f[1].point, bottomLeft: t.f[2].point}
	depth := l.depth(&from)
	nearest := 4*int(math.Round((t.size-17)/4)) + 17
	from.size = max(21, min(nearest, 177))
	if !l.looksLikeFinders(&from, depth, none) {
		return place{}, "", false
	}
	reach := 4 + 4*int(t.size*0.06/4+0.5)
	for size := nearest - reach; size <= nearest+reach; size += 4 {
		if size < 21 || size > 177 {
			continue
		}
		p := from
		p.size = size
		var sx, sy float64
		p.g, sx = l.timing(&p, depth, false)
		p.h, sy = l.timing(&p, depth, true)
		if sx+sy < 0.2 {
			continue
		}
		guesses = append(guesses, guess{p, (sx+sy)/2 - 0.003*math.Abs(float64(size)-t.size)})
	}
	slices.SortStableFunc(guesses, func(a, b guess) int { return cmp.Compare(b.fit, a.fit) })
	for _, g := range guesses[:min(len(guesses), 3)] {
		m := marks(g.size)
		if l.fit(&g.place, m, depth) < 0.15 {
			continue
		}
		if text, ok := l.read(&g.place, nil); ok {
			return g.place, text, true
		}
		p, fit := l.refine(g.place, m, depth, 0.5)
		if fit < 0.3 {
			continue
		}
		if text, ok := l.read(&p, nil); ok {
			return p, text, true
		}
		if shift := l.bend(&p, depth); shift != nil {
			if text, ok := l.read(&p, shift); ok {
				return p, text, true
			}
		}
	}
	return place{}, "", false
}

// looksLikeFinders says whether the finder patterns show at a place, but for the
// missing one of the three, if any. Its size may be wrong by some modules.
func (l *level) looksLikeFinders(p *place, depth float64, missing int) bool {
	m := marks(p.size)
	for k := range 3 {
		if k != missing && l.fit(p, m[k*finderMarks:(k+1)*finderMarks], depth) < 0.35 {
			return false
		}
	}
	return true
}

// timing finds the tilt with which the timing pattern of the size shows best,
// along the row or the column.
func (l *level) timing(p *place, depth float64, column bool) (tilt, score float64) {
	n := p.size - 16
	step := min(0.05, 1/float64(p.size))
	score = -1
	for k := range int(2*0.4/step) + 1 {
		// 0, step, -step, 2 step, …: of equals the least tilt stays.
		d := float64((k+1)/2) * step
		if k%2 == 0 {
			d = -d
		}
		q := *p
		if column {
			q.h = d
		} else {
			q.g = d
		}
		var sum float64
		for i := 8; i < p.size-8; i++ {
			at := q.at(float64(i)+0.5, 6.5)
			if column {
				at = q.at(6.5, float64(i)+0.5)
			}
			v := max(-1, min(l.sample(at)/depth, 1))
			if i%2 == 0 {
				v = -v
			}
			sum += v
		}
		if s := sum/float64(n) - 0.2*math.Abs(d); s > score {
			tilt, score = d, s
		}
	}
	return tilt, score
}
