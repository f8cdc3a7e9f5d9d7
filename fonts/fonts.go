// Package fonts embeds the one typeface of the printed pages: a sans with
// tabular figures, Latin with accents, Greek and Cyrillic, in which 1, l, I
// and 0, O tell apart, and its condensed cut for charts. The files are subsets
// (no hinting, no layout tables) under another name, as OFL.txt asks for; the
// commands that made them are in DEVELOPERS.md.
package fonts

import (
	_ "embed"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Face is one cut of the typeface. All of them cover the same characters.
type Face int

// The bold cut of a face is Face|1.
const (
	Regular Face = iota
	Bold
	Condensed
	CondensedBold
)

var (
	//go:embed sans-regular.ttf
	regular []byte
	//go:embed sans-bold.ttf
	bold []byte
	//go:embed condensed-regular.ttf
	condensed []byte
	//go:embed condensed-bold.ttf
	condensedBold []byte
)

// Data is the font file of a face, with TrueType outlines.
func (f Face) Data() []byte { return [...][]byte{regular, bold, condensed, condensedBold}[f] }

// Has reports whether the typeface has a glyph for r.
func Has(r rune) bool {
	_, has := Regular.Advance(r)
	return has
}

// Missing returns the characters of s that the typeface cannot draw, each
// once, in order of appearance. Line breaks and tabs count as drawable: the
// page turns them into white space. A broken character counts as U+FFFD, which
// the typeface does not have.
func Missing(s string) []rune {
	var out []rune
	for _, r := range s {
		if r != '\n' && r != '\t' && r != '\r' && !Has(r) && !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	return out
}

// looked is what was looked up in a face, by character: no glyph has a number as
// high as the first that is not kept.
var looked [4][0x2800]atomic.Uint32

const (
	asked   = 1 << 31
	missing = 1 << 30
)

// Advance is how far a character takes the pen, in thousandths of the size of the
// type, rounded as a PDF says it: OpenType specification, tables head and hmtx. A
// character that the face has no glyph for takes that of the missing glyph.
func (f Face) Advance(r rune) (advance int, has bool) {
	if r >= 0 && int(r) < len(looked[f]) {
		if v := looked[f][r].Load(); v&asked != 0 {
			return int(v &^ (asked | missing)), v&missing == 0
		}
	}
	file := parsed[f]()
	b := buffers.Get().(*sfnt.Buffer)
	g, _ := file.GlyphIndex(b, r)
	units := file.UnitsPerEm()
	a, _ := file.GlyphAdvance(b, g, fixed.Int26_6(units), font.HintingNone)
	buffers.Put(b)
	advance, has = int(math.Round(float64(a)*1000/float64(units))), g != 0
	if r >= 0 && int(r) < len(looked[f]) {
		v := uint32(advance) | asked
		if !has {
			v |= missing
		}
		looked[f][r].Store(v)
	}
	return advance, has
}

var buffers = sync.Pool{New: func() any { return new(sfnt.Buffer) }}

var parsed = func() (out [4]func() *sfnt.Font) {
	for f := range out {
		out[f] = sync.OnceValue(func() *sfnt.Font {
			file, err := sfnt.Parse(Face(f).Data())
			if err != nil {
				panic(err) // embedded; the tests read it
			}
			return file
		})
	}
	return out
}()
