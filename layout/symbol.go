package layout

import (
	"fmt"
	"strconv"
	"sync"
	"sync/atomic"

	qr "github.com/piglig/go-qr"
)

// quiet is the clear margin of a symbol in modules, ISO/IEC 18004.
const quiet = 4

// matrix is a symbol's dark modules, row by row.
type matrix [][]bool

var levels = map[string]qr.Ecc{"L": qr.Low, "": qr.Medium, "M": qr.Medium, "Q": qr.Quartile, "H": qr.High}

// symbols makes the symbols of a document, each once, and ahead of its drawing.
type symbols struct {
	lock   sync.Mutex
	making map[symbol]func() (matrix, error)
	asked  []func() (matrix, error) // in the order in which they were first asked for
	over   atomic.Bool              // nobody asks any more
}

type symbol struct{ text, level string }

// of is what makes the symbol of text; level is L, M, Q or H, or a stronger one
// where the symbol has room for it.
func (s *symbols) of(text, level string) func() (matrix, error) {
	s.lock.Lock()
	defer s.lock.Unlock()
	key := symbol{text, level}
	made := s.making[key]
	if made == nil {
		made = sync.OnceValues(func() (matrix, error) { return encode(text, level) })
		if s.making == nil {
			s.making = map[symbol]func() (matrix, error){}
		}
		s.making[key] = made
		s.asked = append(s.asked, made)
	}
	return made
}

// ahead makes the symbols of pages with these texts, then all that were asked for,
// until it is over.
func (s *symbols) ahead(pages []string) {
	for _, text := range pages {
		if s.over.Load() {
			return
		}
		s.ofPage(text)
	}
	s.lock.Lock()
	asked := s.asked
	s.lock.Unlock()
	for _, made := range asked {
		if s.over.Load() {
			return
		}
		_, _ = made() // the error is there for who draws it
	}
}

func encode(text, level string) (matrix, error) {
	l, ok := levels[level]
	if !ok {
		return nil, fmt.Errorf("symbol level %q: must be L, M, Q or H", level)
	}
	code, err := qr.EncodeText(text, l)
	if err != nil {
		return nil, fmt.Errorf("symbol of %d bytes at level %s: %w; shorten its text or lower the level", len(text), level, err)
	}
	m := make(matrix, code.Size())
	for y := range m {
		m[y] = make([]bool, len(m))
		for x := range m[y] {
			m[y][x] = code.Module(x, y)
		}
	}
	return m, nil
}

// modules draws a symbol whose first dark module would be at x, y. Dark
// modules are merged into as few rectangles as rows and then equal rows allow:
// sharp at any scale, and small.
func (s *sheet) modules(m matrix, x, y, module float64) {
	type run struct{ from, to, top int } // from column to column, since the row it began in
	var open, next []run                 // of the row above, and of this one
	k := 72 / 25.4
	_, pageH := s.pdf.GetPageSize()
	out := make([]byte, 0, 16<<10)
	// In modules, from the lower left: small numbers that pack well.
	out = fmt.Appendf(out, "q %.5f 0 0 %.5f %.3f %.3f cm\n", module*k, module*k, x*k, (pageH-y-float64(len(m))*module)*k)
	for row := 0; row <= len(m); row++ {
		next = next[:0]
		for c := 0; row < len(m) && c < len(m); c++ {
			if from := c; m[row][c] {
				for c < len(m) && m[row][c] {
					c++
				}
				next = append(next, run{from, c, row})
			}
		}
		i := 0
		for _, r := range open {
			for i < len(next) && next[i].from < r.from {
				i++
			}
			if i < len(next) && next[i].from == r.from && next[i].to == r.to {
				next[i].top = r.top
				continue
			}
			for _, v := range [4]int{r.from, len(m) - row, r.to - r.from, row - r.top} {
				out = append(strconv.AppendInt(out, int64(v), 10), ' ')
			}
			out = append(out, "re\n"...)
		}
		open, next = next, open
	}
	s.fill(0)
	s.pdf.RawWriteStr(string(append(out, "f Q"...)))
}

// symbol draws a symbol with its quiet zone in a white square.
func (s *sheet) symbol(text, level string, x, y, size float64) {
	m, err := s.symbols.of(text, level)()
	if err != nil {
		s.fail("%v", err)
		return
	}
	module := size / float64(len(m)+2*quiet)
	s.rect(x, y, size, size, 0, 0, 1)
	s.modules(m, x+quiet*module, y+quiet*module, module)
}

func (b Symbol) height(s *sheet, w float64) float64 {
	s.symbols.of(b.Text, b.Level) // it will be drawn
	return min(b.side(), w)
}

func (b Symbol) side() float64 {
	if b.Size == 0 {
		return 30
	}
	return b.Size
}

func (b Symbol) draw(s *sheet, x, y, w float64) { s.symbol(b.Text, b.Level, x, y, min(b.side(), w)) }

// ofPage is the symbol of a page's head: at the strongest error correction with
// which its modules are 0.6 mm or more; nil when there is none.
func (s *symbols) ofPage(text string) (matrix, float64) {
	const least = 0.6
	for _, level := range []string{"H", "Q", "M"} {
		m, err := s.of(text, level)()
		if err != nil {
			continue
		}
		if module := (headHeight - 0.8) / float64(len(m)+quiet); module >= least {
			return m, module
		}
	}
	return nil, 0
}
