package layout

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"time"
)

// Margins, mm. The inner one, at the left of a page printed on one side, takes
// the filing holes.
const (
	marginInner  = 20.0
	marginOuter  = 10.0
	marginTop    = 9.0
	marginBottom = 9.0
	headHeight   = 24.0
	headGap      = 4.0
	footHeight   = 4.5
)

// Filing holes of ISO 838: centres 12 mm from the edge, 80 mm apart, symmetric
// about the middle of the edge, 6 mm wide.
const (
	holeEdge   = 12.0
	holeApart  = 80.0
	holeRadius = 3.0
)

// Three holes as punched for Letter paper: 4¼ in apart, the middle one in the
// middle of the edge, 8 mm wide, 13 mm from it. No standard says so; it is what
// punches make.
const (
	threeEdge   = 13.0
	threeApart  = 108.0
	threeRadius = 4.0
)

// Doc is a document being put together. Its zero value is of no use; New makes
// one.
type Doc struct {
	paper    Paper
	meta     Meta
	frame    Frame
	sections []Section
	pages    []PageInfo
	only     func(PageInfo) bool // nil: all

	begun *Begun // ahead of the document; nil once it is used up
	last  *sheet // of the last Bytes
}

// New starts a document.
func New(p Paper, m Meta, f Frame) *Doc { return &Doc{paper: p, meta: m, frame: f} }

// Add appends a section.
func (d *Doc) Add(s Section) { d.sections = append(d.sections, s) }

// Only has some pages printed: as they are in the whole document, with the same
// numbers.
func (d *Doc) Only(which func(PageInfo) bool) { d.only = which }

// Pages says which sections are on each page. It is empty before Bytes or
// Arrange.
func (d *Doc) Pages() []PageInfo { return d.pages }

// Arrange decides what stands on which page, and draws nothing.
func (d *Doc) Arrange() error {
	_, err := d.arrange(newSheet(d.frame.DecimalComma))
	return err
}

// Heights are how high every version is, mm, as if a page had room for it, of the
// sections that say that their last is the least: for a test that it is.
func (d *Doc) Heights() [][]float64 {
	fl := &flow{s: newSheet(d.frame.DecimalComma), w: d.paper.W - marginInner - marginOuter, room: math.Inf(1), on: d.frame.Continued}
	out := make([][]float64, len(d.sections))
	for n, sec := range d.sections {
		if !sec.LastLeast {
			continue
		}
		set := fl.setting(n, sec)
		for version := range sec.Shortest + 1 {
			out[n] = append(out[n], used(set.lay(version, fl.room, fl.room, 1)[0]))
		}
	}
	return out
}

// arrange decides which blocks stand on which page.
func (d *Doc) arrange(s *sheet) (*flow, error) {
	fl := &flow{s: s, w: d.paper.W - marginInner - marginOuter, room: d.room(), on: d.frame.Continued}
	fl.set(d.sections)
	if len(fl.pages) == 0 {
		fl.pages = [][]item{nil}
	}
	fl.check(d.sections)
	if err := s.err(); err != nil {
		return nil, err
	}

	d.pages = nil
	s.pageOf = map[string]int{}
	s.pages = len(fl.pages)
	for n, items := range fl.pages {
		info := PageInfo{Number: n + 1}
		for _, it := range items {
			key := d.sections[it.sec].Key
			if _, ok := s.pageOf[key]; !ok {
				s.pageOf[key] = n + 1
			}
			if k := len(info.Marks); k == 0 || info.Marks[k-1] != key {
				info.Marks = append(info.Marks, key)
			}
		}
		d.pages = append(d.pages, info)
	}
	return fl, nil
}

func name(b Block) string { return strings.ToLower(reflect.TypeOf(b).Name()) }

// Bytes lays the document out and returns it as a PDF. The error names every
// text with characters the typeface lacks, and every block that does not fit a
// page or is not whole.
func (d *Doc) Bytes() ([]byte, error) {
	s := newSheet(d.frame.DecimalComma)
	d.last = s
	if s.begun = d.begun; s.begun == nil {
		s.begun = begin(d.paper)
	}
	d.begun = nil
	for _, text := range []string{d.meta.Title, d.meta.Subject, d.meta.Author} {
		s.known(text)
	}
	for _, a := range d.meta.Attachments {
		s.known(a.Name)
		s.known(a.Description)
	}
	fl, err := d.arrange(s)
	s.ready(d.paper)
	if err != nil {
		return nil, err
	}
	date := d.meta.Date
	if date.IsZero() {
		date = time.Unix(0, 0) // fpdf would take the clock
	}
	date = date.UTC()
	p := s.pdf
	p.SetCompression(false) // packed does it
	p.SetCatalogSort(true)
	p.SetCreationDate(date)
	p.SetModificationDate(date)
	p.SetMargins(0, 0, 0)
	p.SetAutoPageBreak(false, 0)
	p.SetTitle(d.meta.Title, true)
	p.SetSubject(d.meta.Subject, true)
	p.SetAuthor(d.meta.Author, true)
	p.SetLang(d.meta.Language)

	var wanted []int // pages, from 1
	for _, page := range d.pages {
		if d.only == nil || d.only(page) {
			wanted = append(wanted, page.Number)
		}
	}
	var symbols []string
	for _, page := range wanted {
		if d.frame.Symbol == nil {
			break
		}
		if text := d.frame.Symbol(page); text != "" {
			symbols = append(symbols, text)
		}
	}
	if d.only == nil { // some pages may be those without the big ones
		go s.symbols.ahead(symbols)
		defer s.symbols.over.Store(true)
	}
	top := marginTop + headHeight + headGap
	for _, page := range wanted {
		p.AddPage()
		s.page = page
		items := fl.pages[page-1]
		left := d.left(s.page)
		d.drawFrame(s)
		for i, y := range fl.settle(items, top) {
			it := items[i]
			if sec := d.sections[it.sec]; it.first && sec.Bookmark != "" && s.known(sec.Bookmark) {
				s.use(read)
				p.Bookmark(sec.Bookmark, 0, y)
			}
			it.b.draw(s, left, y, fl.w)
		}
		if d.frame.Foot != "" {
			s.fitted(left, d.paper.H-marginBottom, fl.w, small.at(7), note, "L", d.frame.Foot)
		}
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	var out given
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("layout: writing the PDF: %w", err)
	}
	return packed(out, d.meta.Attachments)
}

// given is what fpdf wrote, kept without a copy: it does so with one call, of a
// buffer that it has no more use for.
type given []byte

func (w *given) Write(p []byte) (int, error) {
	if *w == nil {
		*w = p
	} else {
		*w = slices.Concat(*w, p)
	}
	return len(p), nil
}

// room is the height of a page between head and foot.
func (d *Doc) room() float64 {
	h := d.paper.H - marginTop - headHeight - headGap - marginBottom
	if d.frame.Foot != "" {
		h -= footHeight
	}
	return h
}

var (
	overFont   = small
	numberFont = font{sansBold, 20}
)

// mirrored tells that a page is the back of a sheet, filed at its right.
func (d *Doc) mirrored(page int) bool { return d.frame.TwoSided && page%2 == 0 }

// left is where the text of a page begins.
func (d *Doc) left(page int) float64 {
	if d.mirrored(page) {
		return marginOuter
	}
	return marginInner
}

// holes draws the guides for the filing holes.
func (d *Doc) holes(s *sheet) {
	edge, radius, dys := holeEdge, holeRadius, []float64{-holeApart / 2, holeApart / 2}
	if d.frame.ThreeHoles {
		edge, radius, dys = threeEdge, threeRadius, []float64{-threeApart, 0, threeApart}
	}
	if d.mirrored(s.page) {
		edge = d.paper.W - edge
	}
	for _, dy := range dys {
		s.circle(edge, d.paper.H/2+dy, radius, thin, 0.75, None)
	}
}

// drawFrame draws the head of a page, its symbol in the outer corner, and the
// guides for the filing holes.
func (d *Doc) drawFrame(s *sheet) {
	f := d.frame
	d.holes(s)
	left := d.left(s.page)
	right := left + d.paper.W - marginInner - marginOuter
	foot := marginTop + headHeight
	// First the symbol, to know the room beside it, from x0 to x1; drawn after
	// the text, as it is read. Its dark square fills the corner; the quiet zone
	// reaches into the margins and to the rule.
	x0, x1, symbolX := left, right, 0.0
	var m matrix
	var module float64
	if f.Symbol != nil {
		if text := f.Symbol(s.page); text != "" {
			if m, module = s.pageSymbol(text); m != nil {
				const gap = 3.0
				room := float64(len(m)+quiet)*module + gap
				if d.mirrored(s.page) {
					symbolX, x0 = left, left+room
				} else {
					symbolX, x1 = right-float64(len(m))*module, right-room
				}
			}
		}
	}
	pageW := 0.0
	var page []line
	if f.PageOf != "" {
		t := fmt.Sprintf(strings.Replace(f.PageOf, "%d", "**%d**", 1), s.page, s.pages)
		page = s.wrap(read, t, 60)
		pageW = page[0].w
	}
	notice := []line(nil)
	noticeFont, noticeW := font{sansBold, 8}, 0.0
	if f.Notice != "" {
		noticeFont, notice = s.wrapMax(noticeFont, f.Notice, 62, 2)
		for _, l := range notice {
			noticeW = max(noticeW, l.w)
		}
		noticeW += 4
	}
	upper := x1 - noticeW - 3 - x0
	lower := x1 - pageW - 4 - x0
	s.fitted(x0, marginTop+3, upper, overFont, note, "L", f.Over)
	s.fitted(x0, marginTop+10.6, upper, numberFont, 0, "L", f.Number)
	y := marginTop + 12.9
	if f.Rules {
		s.line(x0+s.width(numberFont, f.Number)+3, marginTop+11.2, x1-noticeW-3, marginTop+11.2, thin, 0)
	}
	for i, l := range f.Lines {
		if i == 2 {
			break
		}
		g, ls := s.wrapMax(read, l, lower, 1)
		if f.Rules {
			s.line(x0+ls[0].w+2, y+read.lead()-0.6, x0+lower, y+read.lead()-0.6, thin, 0)
		}
		s.lines(x0, y, lower, g, 0, "L", ls)
		y += read.lead() + 0.3
	}
	if len(notice) > 0 {
		h := float64(len(notice))*noticeFont.lead() + 2
		x := x1 - noticeW
		s.rect(x, marginTop+0.5, noticeW, h, 0.4, 0.4, None)
		s.lines(x, marginTop+1.5, noticeW, noticeFont, note, "C", notice)
	}
	if pageW > 0 {
		s.lines(x1-pageW, marginTop+12.9+read.lead()+0.3, pageW, read, 0, "L", page)
	}
	if m != nil {
		s.modules(m, symbolX, marginTop+0.8, module)
	}
	s.line(left, foot, right, foot, 0.3, 0)
}

// pageSymbol is the symbol of a page's head.
func (s *sheet) pageSymbol(text string) (matrix, float64) {
	if m, module := s.symbols.ofPage(text); m != nil {
		return m, module
	}
	s.fail("the symbol text of page %d (%d bytes) is too long for the head of a page; shorten it", s.page, len(text))
	return nil, 0
}
