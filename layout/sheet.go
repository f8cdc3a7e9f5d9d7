package layout

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"unicode/utf8"

	"github.com/go-pdf/fpdf"

	"shimcard/fonts"
)

const (
	mmPerPoint = 25.4 / 72
	floorSize  = 6.5  // smallest type on any page, points
	note       = 0.2  // grey of small notes; any lighter, and a black and white copy breaks it up
	thin       = 0.15 // mm, the thinnest line that does
)

// sheet measures and draws. What it tells fpdf it remembers, so as to say nothing
// twice.
type sheet struct {
	begun  *Begun         // for a sheet that will be drawn
	faces  [4]atomic.Bool // that text was measured in
	pdf    *fpdf.Fpdf     // when all is measured
	loaded [4]bool

	lock    sync.Mutex // of the next three: sections are measured beside each other
	parted  map[set][]word
	wrapped map[set][]line
	errs    []error

	font               font
	ink, weight, paint float64 // grey of lines, their weight, grey of fills
	letters            float64 // grey of text

	point   string // decimal mark
	pageOf  map[string]int
	pages   int
	page    int
	symbols symbols
	boxes   []box // places to write, as drawn
}

// box is a place to write as it was drawn.
type box struct {
	page       int
	code       string
	figure     bool // one cell of several
	x, y, w, h float64
}

func newSheet(comma bool) *sheet {
	s := &sheet{
		parted:  map[set][]word{},
		wrapped: map[set][]line{},
		ink:     -1, weight: -1, paint: -1, letters: -1,
		point: ".",
	}
	if comma {
		s.point = ","
	}
	return s
}

// fail keeps an error for Bytes to return; all of them are, not only the first.
func (s *sheet) fail(format string, args ...any) {
	err := fmt.Errorf("layout: "+format, args...)
	s.lock.Lock()
	defer s.lock.Unlock()
	for _, e := range s.errs {
		if e.Error() == err.Error() {
			return
		}
	}
	s.errs = append(s.errs, err)
}

// err is what failed, in an order that does not depend on which came first.
func (s *sheet) err() error {
	s.lock.Lock()
	defer s.lock.Unlock()
	slices.SortFunc(s.errs, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	return errors.Join(s.errs...)
}

// known reports whether the typeface can draw text; fpdf would draw nothing
// for a missing glyph and panic on a broken or far-off character.
func (s *sheet) known(text string) bool {
	missing := fonts.Missing(text)
	if len(missing) == 0 {
		return true
	}
	if !utf8.ValidString(text) {
		s.fail("text %q is not UTF-8; save the file it comes from as UTF-8", text)
		return false
	}
	var names []string
	for _, r := range missing {
		names = append(names, fmt.Sprintf("%q (%U)", r, r))
	}
	s.fail("the typeface has no %s, wanted for %q; write it another way", strings.Join(names, ", "), text)
	return false
}

var faceNames = [4]string{"sans", "sans", "cond", "cond"}

// measure notes that text is measured in a face, and so will be drawn in it.
func (s *sheet) measure(f fonts.Face) {
	if !s.faces[f].Load() && !s.faces[f].Swap(true) && s.begun != nil {
		s.begun.want(f)
	}
}

// ready makes the sheet one to draw on, when all is measured.
func (s *sheet) ready(p Paper) {
	s.begun.end()
	for f := range s.faces {
		if s.begun.loaded[f] && !s.faces[f].Load() {
			// fpdf would put a face in the file that nothing is drawn in.
			s.begun = begin(p)
			s.begun.end()
			break
		}
	}
	s.pdf, s.loaded, s.begun = s.begun.pdf, s.begun.loaded, nil
}

// Begun is a document that is begun: its typeface is read, which takes as long as to
// fit the document, beside what is done meanwhile.
type Begun struct {
	paper  Paper
	pdf    *fpdf.Fpdf
	wanted chan fonts.Face
	close  func()        // no more are wanted
	read   chan struct{} // closed when all are
	asked  [4]atomic.Bool
	used   atomic.Bool
	loaded [4]bool
}

// Begin begins a document that will use every face of the typeface, before it is
// known what is in it.
func Begin(p Paper) *Begun {
	b := begin(p)
	for f := range fonts.CondensedBold + 1 {
		b.want(f)
	}
	b.close()
	return b
}

// New starts the document that was begun; a second one begins anew.
func (b *Begun) New(m Meta, f Frame) *Doc {
	d := New(b.paper, m, f)
	if !b.used.Swap(true) {
		d.begun = b
	}
	return d
}

func begin(p Paper) *Begun {
	b := &Begun{paper: p, wanted: make(chan fonts.Face, 4), read: make(chan struct{}),
		pdf: fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: p.W, Ht: p.H}})}
	b.close = sync.OnceFunc(func() { close(b.wanted) })
	go func() {
		defer close(b.read)
		for f := range b.wanted {
			load(b.pdf, f)
			b.loaded[f] = true
		}
	}()
	return b
}

// want has a face read, once.
func (b *Begun) want(f fonts.Face) {
	if !b.asked[f].Swap(true) {
		b.wanted <- f
	}
}

// end waits until all that are wanted are read.
func (b *Begun) end() {
	b.close()
	<-b.read
}

func load(pdf *fpdf.Fpdf, f fonts.Face) {
	pdf.AddUTF8FontFromBytes(faceNames[f], [2]string{"", "B"}[f&1], f.Data())
}

func (s *sheet) use(f font) {
	if !s.loaded[f.face] {
		s.loaded[f.face] = true
		load(s.pdf, f.face)
	}
	if s.font != f {
		s.font = f
		s.pdf.SetFont(faceNames[f.face], [2]string{"", "B"}[f.face&1], f.size)
	}
}

func (s *sheet) stroke(weight, grey float64) {
	if s.weight != weight {
		s.weight = weight
		s.pdf.SetLineWidth(weight)
	}
	if s.ink != grey {
		s.ink = grey
		g := int(math.Round(grey * 255))
		s.pdf.SetDrawColor(g, g, g)
	}
}

func (s *sheet) fill(grey float64) {
	if s.paint != grey {
		s.paint = grey
		g := int(math.Round(grey * 255))
		s.pdf.SetFillColor(g, g, g)
	}
}

func (s *sheet) line(x1, y1, x2, y2, weight, grey float64) {
	s.stroke(weight, grey)
	s.pdf.Line(x1, y1, x2, y2)
}

func (s *sheet) dashed(x1, y1, x2, y2, weight, grey float64) {
	s.stroke(weight, grey)
	s.pdf.SetDashPattern([]float64{1.6, 1.2}, 0)
	s.pdf.Line(x1, y1, x2, y2)
	s.pdf.SetDashPattern(nil, 0)
}

// style is how fpdf is told to outline, fill or do both.
func (s *sheet) style(weight, grey, fill float64) string {
	style := ""
	if fill >= 0 {
		s.fill(fill)
		style = "F"
	}
	if weight > 0 {
		s.stroke(weight, grey)
		style += "D"
	}
	return style
}

// rect draws a rectangle; weight 0 leaves out the outline, fill None the inside.
func (s *sheet) rect(x, y, w, h, weight, grey, fill float64) {
	if style := s.style(weight, grey, fill); style != "" {
		s.pdf.Rect(x, y, w, h, style)
	}
}

func (s *sheet) circle(x, y, r, weight, grey, fill float64) {
	if style := s.style(weight, grey, fill); style != "" {
		s.pdf.Circle(x, y, r, style)
	}
}

func (s *sheet) polygon(weight, grey, fill float64, xy ...float64) {
	style := s.style(weight, grey, fill)
	if style == "" {
		return
	}
	var pts []fpdf.PointType
	for i := 0; i+1 < len(xy); i += 2 {
		pts = append(pts, fpdf.PointType{X: xy[i], Y: xy[i+1]})
	}
	s.pdf.Polygon(pts, style)
}

// path draws a line through points, with one run of dashes over all of it; no
// dash = solid.
func (s *sheet) path(weight, grey float64, dash []float64, xy ...float64) {
	if len(xy) < 4 {
		return
	}
	s.stroke(weight, grey)
	s.pdf.SetDashPattern(dash, 0)
	s.pdf.MoveTo(xy[0], xy[1])
	for i := 2; i+1 < len(xy); i += 2 {
		s.pdf.LineTo(xy[i], xy[i+1])
	}
	s.pdf.DrawPath("D")
	s.pdf.SetDashPattern(nil, 0)
}

// clipped draws inside a graph only.
func (s *sheet) clipped(g graph, draw func()) {
	s.pdf.ClipRect(g.left, g.top, g.right-g.left, g.foot-g.top, false)
	s.ink, s.weight, s.paint = -1, -1, -1
	draw()
	s.pdf.ClipEnd()
	s.ink, s.weight, s.paint = -1, -1, -1 // the file goes back to what was before
}

// arrowhead draws a filled head of length l with its tip at x, y, pointing
// along dx, dy.
func (s *sheet) arrowhead(x, y, dx, dy, l, grey float64) {
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	dx, dy = dx/n, dy/n
	s.polygon(0, 0, grey, x, y,
		x-l*dx-0.38*l*dy, y-l*dy+0.38*l*dx,
		x-l*dx+0.38*l*dy, y-l*dy-0.38*l*dx)
}

// cell draws a place to write and keeps where it is.
func (s *sheet) cell(code string, figure bool, x, y, w, h, weight float64) {
	s.rect(x, y, w, h, weight, 0, 1)
	s.boxes = append(s.boxes, box{s.page, code, figure, x, y, w, h})
}
