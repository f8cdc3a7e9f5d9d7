package layout

import (
	"fmt"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the clear margin of a symbol in modules, ISO/IEC 18004.
const quiet = 4

// matrix is a symbol's dark modules, row by row.
type matrix [][]bool

// encode makes the symbol of text; level is L, M, Q or H.
func (s *sheet) encode(text, level string) (matrix, error) {
	key := level + text
	if m, ok := s.symbols[key]; ok {
		return m, nil
	}
	levels := map[string]qr.ErrorCorrectionLevel{"L": qr.L, "": qr.M, "M": qr.M, "Q": qr.Q, "H": qr.H}
	l, ok := levels[level]
	if !ok {
		return nil, fmt.Errorf("symbol level %q: must be L, M, Q or H", level)
	}
	code, err := qr.Encode(text, l, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("symbol of %d bytes at level %s: %w; shorten its text or lower the level", len(text), level, err)
	}
	n := code.Bounds().Dx()
	m := make(matrix, n)
	for y := range m {
		m[y] = make([]bool, n)
		for x := range m[y] {
			r, _, _, _ := code.At(x, y).RGBA()
			m[y][x] = r == 0
		}
	}
	s.symbols[key] = m
	return m, nil
}

// modules draws a symbol whose first dark module would be at x, y. Dark
// modules are merged into as few rectangles as rows and then equal rows allow:
// sharp at any scale, and small.
func (s *sheet) modules(m matrix, x, y, module float64) {
	type span struct{ from, to int }
	open := map[span]int{} // runs of the row above and the row they began in
	k := 72 / 25.4
	_, pageH := s.pdf.GetPageSize()
	var out strings.Builder
	// In modules, from the lower left: small numbers that pack well.
	fmt.Fprintf(&out, "q %.5f 0 0 %.5f %.3f %.3f cm\n", module*k, module*k, x*k, (pageH-y-float64(len(m))*module)*k)
	emit := func(r span, top, bottom int) {
		fmt.Fprintf(&out, "%d %d %d %d re\n", r.from, len(m)-bottom, r.to-r.from, bottom-top)
	}
	for row := 0; row <= len(m); row++ {
		var runs []span
		if row < len(m) {
			for c := 0; c < len(m); c++ {
				if from := c; m[row][c] {
					for c < len(m) && m[row][c] {
						c++
					}
					runs = append(runs, span{from, c})
				}
			}
		}
		next := map[span]int{}
		for _, r := range runs {
			next[r] = row
			if top, ok := open[r]; ok {
				next[r] = top
			}
		}
		if row > 0 {
			for c := 0; c < len(m); c++ { // left to right, so that the bytes never vary
				for r, top := range open {
					if _, on := next[r]; r.from == c && !on {
						emit(r, top, row)
					}
				}
			}
		}
		open = next
	}
	s.fill(0)
	s.pdf.RawWriteStr(out.String() + "f Q")
}

// symbol draws a symbol with its quiet zone in a white square.
func (s *sheet) symbol(text, level string, x, y, size float64) {
	m, err := s.encode(text, level)
	if err != nil {
		s.fail("%v", err)
		return
	}
	module := size / float64(len(m)+2*quiet)
	s.rect(x, y, size, size, 0, 0, 1)
	s.modules(m, x+quiet*module, y+quiet*module, module)
}

func (b Symbol) height(s *sheet, w float64) float64 { return min(b.side(), w) }

func (b Symbol) side() float64 {
	if b.Size == 0 {
		return 30
	}
	return b.Size
}

func (b Symbol) draw(s *sheet, x, y, w float64) { s.symbol(b.Text, b.Level, x, y, min(b.side(), w)) }
