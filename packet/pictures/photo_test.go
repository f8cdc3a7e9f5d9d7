package pictures

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/boombuler/barcode/qr"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/stretchr/testify/require"
)

// matrix is the symbol of a text, its dark modules row by row.
func matrix(t testing.TB, text string, level qr.ErrorCorrectionLevel) [][]bool {
	t.Helper()
	code, err := qr.Encode(text, level, qr.Auto)
	require.NoError(t, err)
	n := code.Bounds().Dx()
	m := make([][]bool, n)
	for y := range m {
		m[y] = make([]bool, n)
		for x := range m[y] {
			r, _, _, _ := code.At(x, y).RGBA()
			m[y][x] = r == 0
		}
	}
	return m
}

// A print is paper with a symbol on it, finely drawn: fine dots to a module.
type print struct {
	gray
	symbol [][]bool
	module float64 // mm
	margin int     // modules from the paper's edge to the symbol
}

const fine = 8

// printed draws a symbol with its quiet zone, a rule below and lines as of
// text beside it, as on the head of a page.
func printed(symbol [][]bool, module float64, r *rand.Rand) print {
	const margin = 10
	n := (len(symbol) + 2*margin) * fine
	p := print{gray{n, n, make([]byte, n*n)}, symbol, module, margin}
	p.fill(0, 0, n, n, 255)
	for y, row := range symbol {
		for x, dark := range row {
			if dark {
				p.fill((x+margin)*fine, (y+margin)*fine, (x+margin+1)*fine, (y+margin+1)*fine, 0)
			}
		}
	}
	end := (len(symbol) + margin + 5) * fine
	p.fill(0, end, n, end+fine/2, 0)
	for y := fine; y < end-2*fine; y += 4 * fine { // words
		for x := r.IntN(fine); x < (margin-5)*fine; x += fine/3 + r.IntN(fine) {
			p.fill(x, y+r.IntN(fine), min(x+fine/3, (margin-5)*fine), y+2*fine, 0)
		}
	}
	return p
}

func (g gray) fill(x0, y0, x1, y1 int, v byte) {
	for y := max(0, y0); y < min(g.h, y1); y++ {
		for x := max(0, x0); x < min(g.w, x1); x++ {
			g.pix[y*g.w+x] = v
		}
	}
}

// changed are the modules of which damage has turned more than a quarter.
func (p print) changed() [][]bool {
	out := make([][]bool, len(p.symbol))
	for y, row := range p.symbol {
		out[y] = make([]bool, len(row))
		for x, dark := range row {
			wrong := 0
			for dy := range fine {
				for dx := range fine {
					if p.at((x+p.margin)*fine+dx, (y+p.margin)*fine+dy) < 128 != dark {
						wrong++
					}
				}
			}
			out[y][x] = wrong*4 > fine*fine
		}
	}
	return out
}

// blot spills ink over a share of the symbol, in one uneven patch.
func (p print) blot(share float64, shade byte, r *rand.Rand) {
	n := float64(len(p.symbol) * fine)
	radius := math.Sqrt(share * n * n / math.Pi)
	m := float64(p.margin * fine)
	cx, cy := m+r.Float64()*n, m+r.Float64()*n
	stretch, turn := math.Exp(r.Float64()*0.8-0.4), r.Float64()*math.Pi
	co, si := math.Cos(turn), math.Sin(turn)
	bumps, phase := float64(2+r.IntN(4)), r.Float64()*7
	for y := range p.h {
		for x := range p.w {
			dx, dy := float64(x)-cx, float64(y)-cy
			u, v := (dx*co+dy*si)*stretch, (dy*co-dx*si)/stretch
			if r := math.Hypot(u, v); r < 1.2*radius && r < radius*(1+0.2*math.Sin(bumps*math.Atan2(v, u)+phase)) {
				p.pix[y*p.w+x] = min(p.pix[y*p.w+x], shade)
			}
		}
	}
}

// fold breaks the toner along a line through the symbol, or shades it.
func (p print) fold(width float64, shade byte, r *rand.Rand) {
	n := float64(len(p.symbol) * fine)
	m := float64(p.margin * fine)
	x0, y0, turn := m+n*(0.1+0.8*r.Float64()), m+n*(0.1+0.8*r.Float64()), r.Float64()*math.Pi
	co, si := math.Cos(turn), math.Sin(turn)
	for y := range p.h {
		for x := range p.w {
			if d := (float64(x)-x0)*si - (float64(y)-y0)*co; math.Abs(d) < width*fine/2 {
				p.pix[y*p.w+x] = shade
			}
		}
	}
}

// A camera is how a print is looked at.
type camera struct {
	dpi          float64
	turn, tilt   float64 // radians
	tiltAxis     float64
	blur         float64 // standard deviation, in dots
	noise        float64 // standard deviation, grey levels of 255
	paper, toner float64 // brightness at the lightest
	dim          float64 // share of light lost across the picture
	dimTurn      float64
	copier       float64 // share of white below which is black; 0 no copier
}

// look takes the picture.
func (c camera) look(p print, r *rand.Rand) gray {
	perDot := fine * 25.4 / p.module / c.dpi
	side, height := float64(p.w)/perDot, float64(p.h)/perDot
	// From a distance of two and a half sides; the tilt brings one edge nearer.
	dist := 2.5 * side
	ct, st := math.Cos(c.turn), math.Sin(c.turn)
	ca, sa := math.Cos(c.tiltAxis), math.Sin(c.tiltAxis)
	cz, sz := math.Cos(c.tilt), math.Sin(c.tilt)
	project := func(x, y float64) (float64, float64) {
		x, y = x*ct-y*st, x*st+y*ct
		u, v := x*ca+y*sa, y*ca-x*sa // v is across the axis
		z := v * sz
		v *= cz
		f := dist / (dist + z)
		u, v = u*f, v*f
		return u*ca - v*sa, v*ca + u*sa
	}
	back := func(x, y float64) (float64, float64) {
		u, v := x*ca+y*sa, y*ca-x*sa
		// v = v0·cos·f, f = dist/(dist+v0·sin)
		v0 := v * dist / (dist*cz - v*sz)
		f := dist / (dist + v0*sz)
		u0 := u / f
		x, y = u0*ca-v0*sa, v0*ca+u0*sa
		return x*ct + y*st, y*ct - x*st
	}
	var x0, y0, x1, y1 float64
	for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		x, y := project(k[0]*side/2, k[1]*height/2)
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	ox, oy := x0-r.Float64(), y0-r.Float64()
	w, h := int(x1-ox)+2, int(y1-oy)+2
	v := make([]float64, w*h)
	k := max(1, min(4, int(perDot+0.5)))
	for y := range h {
		for x := range w {
			var sum float64
			for sy := range k {
				for sx := range k {
					px, py := back(float64(x)+(float64(sx)+0.5)/float64(k)+ox, float64(y)+(float64(sy)+0.5)/float64(k)+oy)
					ix, iy := int((px+side/2)*perDot), int((py+height/2)*perDot)
					if px < -side/2 || py < -height/2 || ix >= p.w || iy >= p.h {
						sum += 200 // what the paper lies on
						continue
					}
					sum += float64(p.pix[iy*p.w+ix])
				}
			}
			v[y*w+x] = sum / float64(k*k) / 255
		}
	}
	v = smooth(v, w, h, c.blur)
	out := gray{w, h, make([]byte, w*h)}
	dx, dy := math.Cos(c.dimTurn), math.Sin(c.dimTurn)
	for y := range h {
		for x := range w {
			along := 0.5 + (float64(x)/float64(w)-0.5)*dx/1.5 + (float64(y)/float64(h)-0.5)*dy/1.5
			light := 1 - c.dim*along
			b := (c.toner+(c.paper-c.toner)*v[y*w+x])*light + c.noise*r.NormFloat64()
			if c.copier > 0 {
				if b < c.copier*c.paper {
					b = 0
				} else {
					b = 255
				}
			}
			out.pix[y*w+x] = byte(max(0, min(b, 255)))
		}
	}
	return out
}

// smooth is a Gaussian blur.
func smooth(v []float64, w, h int, sigma float64) []float64 {
	if sigma < 0.05 {
		return v
	}
	n := int(3*sigma) + 1
	kernel := make([]float64, 2*n+1)
	var total float64
	for i := range kernel {
		d := float64(i - n)
		kernel[i] = math.Exp(-d * d / 2 / sigma / sigma)
		total += kernel[i]
	}
	for i := range kernel {
		kernel[i] /= total
	}
	pass := func(in []float64, count, step, lines, jump int) []float64 {
		out := make([]float64, len(in))
		line := make([]float64, count+2*n)
		for l := range lines {
			for i := range line {
				line[i] = in[l*jump+max(0, min(i-n, count-1))*step]
			}
			for i := range count {
				var s float64
				for k, f := range kernel {
					s += f * line[i+k]
				}
				out[l*jump+i*step] = s
			}
		}
		return out
	}
	return pass(pass(v, w, 1, h, w), h, w, w, 1)
}

func (g gray) image() image.Image {
	return &image.Gray{Pix: g.pix, Stride: g.w, Rect: image.Rect(0, 0, g.w, g.h)}
}

// readable reports whether damage lies within what the symbol can bear: no
// block of codewords has more wrong ones than half its check words, one of the
// two format informations has at most three wrong bits (ISO/IEC 18004, 8.9),
// and two of the three finder patterns are whole: without them there is nothing
// to find.
func readable(t testing.TB, p print, level string) bool {
	t.Helper()
	bad := p.changed()
	n := len(bad)
	whole := 3
	for _, c := range [][2]int{{0, 0}, {n - 7, 0}, {0, n - 7}} {
		damaged := 0
		for y := c[1]; y < c[1]+7; y++ {
			for x := c[0]; x < c[0]+7; x++ {
				damaged |= count(bad[y][x])
			}
		}
		whole -= damaged
	}
	if whole < 2 {
		return false
	}
	first, second := 0, 0
	for i := range 9 {
		if i != 6 {
			first += count(bad[8][i]) + count(i != 8 && bad[i][8])
		}
		if i < 8 {
			second += count(bad[8][n-1-i])
		}
		if i < 7 {
			second += count(bad[n-1-i][8])
		}
	}
	if first > 3 && second > 3 {
		return false
	}
	v, err := decoder.Version_GetProvisionalVersionForDimension(n)
	require.NoError(t, err)
	l, err := decoder.ErrorCorrectionLevel_ForBits(map[string]uint{"M": 0, "L": 1, "H": 2, "Q": 3}[level])
	require.NoError(t, err)
	blocks := v.GetECBlocksForLevel(l)
	var data []int // data codewords of each block
	for _, b := range blocks.GetECBlocks() {
		for range b.GetCount() {
			data = append(data, b.GetDataCodewords())
		}
	}
	// Which block each codeword belongs to, as they are interleaved.
	var block []int
	for i := range data[len(data)-1] {
		for b := range data {
			if i < data[b] {
				block = append(block, b)
			}
		}
	}
	for range blocks.GetECCodewordsPerBlock() {
		for b := range data {
			block = append(block, b)
		}
	}
	wrong := make([]int, len(data))
	for i, w := range codewords(n) {
		if i < len(block) {
			for _, m := range w {
				if bad[m[1]][m[0]] {
					wrong[block[i]]++
					break
				}
			}
		}
	}
	for _, w := range wrong {
		if w > blocks.GetECCodewordsPerBlock()/2 {
			return false
		}
	}
	return true
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// codewords are the modules of each codeword, in the order of placement:
// columns by twos from the right, up and down in turn (ISO/IEC 18004, 7.7.3).
func codewords(n int) [][][2]int {
	fixed := make(map[[2]int]bool)
	for i := range n {
		fixed[[2]int{i, 6}], fixed[[2]int{6, i}] = true, true
	}
	for y := range 9 {
		for x := range 9 {
			fixed[[2]int{x, y}] = true
			if x < 8 {
				fixed[[2]int{n - 1 - x, y}], fixed[[2]int{y, n - 1 - x}] = true, true
			}
		}
	}
	for _, c := range alignments(n) {
		for dy := -2; dy <= 2; dy++ {
			for dx := -2; dx <= 2; dx++ {
				fixed[[2]int{c[0] + dx, c[1] + dy}] = true
			}
		}
	}
	if n >= 45 {
		for i := range 6 {
			for j := range 3 {
				fixed[[2]int{i, n - 11 + j}], fixed[[2]int{n - 11 + j, i}] = true, true
			}
		}
	}
	var out [][][2]int
	var word [][2]int
	up := true
	for right := n - 1; right > 0; right -= 2 {
		if right == 6 {
			right--
		}
		for i := range n {
			y := i
			if up {
				y = n - 1 - i
			}
			for _, x := range [2]int{right, right - 1} {
				if !fixed[[2]int{x, y}] {
					if word = append(word, [2]int{x, y}); len(word) == 8 {
						out, word = append(out, word), nil
					}
				}
			}
		}
		up = !up
	}
	return out
}
