package layout

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// words reads what pdftotext (Poppler) sees: each word with its box in mm.
type seen struct {
	page                   int
	text                   string
	left, top, right, foot float64
}

func wordsOf(t *testing.T, path string) (out []seen, pageW, pageH float64) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(program(t, "pdftotext", "-bbox", path, "-")))
	dec.Strict = false
	dec.Entity = xml.HTMLEntity
	page := 0
	at := func(e xml.StartElement, name string) float64 {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				v, err := strconv.ParseFloat(a.Value, 64)
				require.NoError(t, err)
				return v * mmPerPoint
			}
		}
		return 0
	}
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out, pageW, pageH
		}
		require.NoError(t, err)
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "page":
			page++
			pageW, pageH = at(e, "width"), at(e, "height")
		case "word":
			var text string
			require.NoError(t, dec.DecodeElement(&text, &e))
			out = append(out, seen{page, text, at(e, "xMin"), at(e, "yMin"), at(e, "xMax"), at(e, "yMax")})
		}
	}
}

func both(t *testing.T, check func(t *testing.T, d *Doc, path string)) {
	for _, p := range []Paper{A4, Letter} {
		t.Run(p.Name, func(t *testing.T) {
			d := sample(p)
			check(t, d, write(t, d, p.Name))
		})
	}
}

// Sizes: ISO 216, A4 210 × 297 mm; ANSI/ASME Y14.1, size A 8.5 × 11 in.
func TestPaperSizes(t *testing.T) {
	want := map[string][2]float64{"A4": {210, 297}, "Letter": {8.5 * 25.4, 11 * 25.4}}
	both(t, func(t *testing.T, d *Doc, path string) {
		_, w, h := wordsOf(t, path)
		require.InDelta(t, want[d.paper.Name][0], w, 0.01)
		require.InDelta(t, want[d.paper.Name][1], h, 0.01)
	})
}

func TestWordsKeepApartAndInsideTheMargins(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) { apart(t, path, 1000) })
}

// apart checks that no two words touch and none is outside the margins.
func apart(t *testing.T, path string, least int) {
	t.Helper()
	words, w, h := wordsOf(t, path)
	require.Greater(t, len(words), least)
	for i := range words {
		// the typeface's ascent and descent leave room above capitals and
		// below figures: compare the ink, not the body
		v := &words[i]
		body := v.foot - v.top
		v.top, v.foot = v.top+0.22*body, v.foot-0.14*body
	}
	for i, a := range words {
		ok := a.left >= marginInner-0.1 && a.right <= w-marginOuter+0.1 && a.top >= marginTop-0.1 && a.foot <= h-marginBottom+0.6
		require.Truef(t, ok, "outside the margins: %+v", a)
		for _, b := range words[i+1:] {
			if b.page != a.page {
				break
			}
			x := min(a.right, b.right) - max(a.left, b.left)
			y := min(a.foot, b.foot) - max(a.top, b.top)
			require.Falsef(t, x > 0.05 && y > 0.05, "one over the other: %+v %+v", a, b)
		}
	}
}

// Whatever is typed into a spec or an intake, it stays in its place.
func TestLongWordsStayInTheirPlaces(t *testing.T) {
	long := strings.Repeat("Unabbreviated", 6)
	many := strings.Repeat("a good many words ", 9)
	for _, text := range []string{long, many, long + " " + many} {
		d := New(Letter, Meta{Title: text}, Frame{Over: text, Number: text, Lines: []string{"**" + text + "** " + text, text}, Notice: text,
			Foot: text, PageOf: "page %d of %d", Continued: "continued", Symbol: func(int) string { return "A" }})
		figures := Pen{Code: "M10.12s", Label: text, Before: 3, After: 2, Unit: "mm"}
		kinds := []Pen{figures}
		for k := PenTick; k <= PenDate; k++ {
			kinds = append(kinds, Pen{Code: "M10.12s", Label: text, Kind: k, Choices: []string{"good", text, "replace"}, Printed: text[:9]})
		}
		ptrs := []PenCell{{Text: text, Sub: text}}
		for _, p := range kinds {
			ptrs = append(ptrs, PenCell{Pen: &p})
		}
		x := 4.0
		for i, b := range []Block{
			Band{"W", text, text, "3.20 mm", text, "**" + text + "**"}, Heading{text, text}, Para{Text: text}, Steps{Items: []Step{{text, text}}}, Caution{Text: text}, Bullets{[]string{text}},
			PenRow{kinds}, TickList{Pens: kinds, Columns: 1}, TickList{Pens: kinds, Columns: 2},
			Arith{[]Term{{Pen: &figures}, {Sign: "−", Fixed: "3.20", Label: text}, {Sign: "=", Pen: &figures}, {Fixed: "1.00", Label: text}}},
			Chart{Corner: text, Head: []string{"1.00", text}, Rows: []ChartRow{{text, []ChartCell{{Text: text}, {Text: "keep"}}}}},
			PenTable{Cols: []PenCol{{Head: text, Sub: text}, {}, {}, {}, {Head: "mean"}, {}, {}}, Rows: []PenTableRow{{Cells: ptrs}}},
			Table{Cols: []Col{{Head: text}, {Head: "found", Align: "D"}, {Head: "strip"}, {Align: "R"}}, Rows: [][]Cell{{{Text: text}, {Text: "3.14"}, {Strip: &Strip{High: 1, Found: &x}}, {Text: text}}}},
			Table{Cols: []Col{{Head: "a", Weight: 1}, {Head: text, Weight: 5}, {Weight: 1, Align: "C"}}, Rows: [][]Cell{{{Text: text}, {PageOf: "k0", Text: text}, {Text: text, Bold: true}}}},
			Plot{Title: text, XLabel: text, YLabel: text, Series: []Series{{Name: text, X: []float64{1e6, 2e6}, Y: []float64{1e-4, 2e-4}}, {Name: text}}},
			SketchGrid{Title: text, XLabel: text, YLabel: text, XMax: 1e6, YMax: 3e-3},
			Figure{Height: 20, Draw: func(c *Canvas) {
				c.Text(3, 5, 9, "L", false, text)
				c.Text(c.W/2, 10, 9, "C", true, text)
				c.Dim(0, 18, 9, 18, text)
			}},
			Verdict{text, text, text}, SignOff{Fields: kinds[3:], Tick: text}, SignOff{Fields: kinds[4:5], Tick: text},
			TearOff{Cut: text, Blocks: []Block{Boxed{[]Block{Group{[]Block{Para{Text: text, Size: 20}}}}}}},
			Columns{Weights: []float64{1, 2}, Cols: [][]Block{{Heading{Text: text}, Steps{Items: []Step{{text, ""}}}}, {Para{Text: text, Bold: true}, TickList{Pens: kinds}}}},
		} {
			d.Add(Section{Key: fmt.Sprint("k", i), Bookmark: text, Blocks: []Block{b}})
		}
		apart(t, write(t, d, "long"), 300)
	}
}

// The size of every text as MuPDF sees it.
func TestTypeIsNeverTooSmall(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		sizes := regexp.MustCompile(`<font name="[^"]*" size="([0-9.]+)"`).FindAllStringSubmatch(program(t, "mutool", "draw", "-q", "-F", "stext", path), -1)
		require.NotEmpty(t, sizes)
		for _, m := range sizes {
			v, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			require.GreaterOrEqual(t, v, floorSize)
		}
	})
}

func TestPlacesToWrite(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		words, _, _ := wordsOf(t, path)
		boxes := d.last.boxes
		require.Greater(t, len(boxes), 100)
		for i, a := range boxes {
			switch {
			case a.figure:
				require.GreaterOrEqual(t, a.w, 7.0, a)
				require.GreaterOrEqual(t, a.h, 9.0, a)
			case a.w == tickSize && a.h == tickSize:
			default:
				require.GreaterOrEqual(t, a.w, 11.0, a)
				require.GreaterOrEqual(t, a.h, 9.0, a)
			}
			require.Truef(t, a.x >= marginInner-1e-6 && a.x+a.w <= d.paper.W-marginOuter+1e-6 &&
				a.y >= marginTop+headHeight && a.y+a.h <= d.paper.H-marginBottom, "outside the page's middle: %+v", a)
			for _, b := range boxes[i+1:] {
				x := min(a.x+a.w, b.x+b.w) - max(a.x, b.x)
				y := min(a.y+a.h, b.y+b.h) - max(a.y, b.y)
				require.Falsef(t, a.page == b.page && x > 0.01 && y > 0.01, "one over the other: %+v %+v", a, b)
			}
			if !a.figure {
				continue
			}
			for _, w := range words {
				x := min(a.x+a.w, w.right) - max(a.x, w.left)
				y := min(a.y+a.h, w.foot-0.8) - max(a.y, w.top+1)
				if a.page == w.page && x > 0.1 && y > 0.1 && a.code != "A13" { // printed beforehand
					require.Containsf(t, []string{"+", "−"}, w.text, "text in an empty cell: %+v %+v", a, w)
				}
			}
		}
	})
}

// grey is a page as Poppler paints it.
type grey struct {
	w, h int
	pix  []byte
	mm   float64 // of a pixel
}

func picture(t *testing.T, path string, page, dpi int) grey {
	t.Helper()
	base := filepath.Join(t.TempDir(), "page")
	n := strconv.Itoa(page)
	program(t, "pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-f", n, "-l", n, "-singlefile", path, base)
	data, err := os.ReadFile(base + ".pgm")
	require.NoError(t, err)
	r := bufio.NewReader(bytes.NewReader(data))
	g := grey{mm: 25.4 / float64(dpi)}
	var depth int
	_, err = fmt.Fscanf(r, "P5\n%d %d\n%d\n", &g.w, &g.h, &depth)
	require.NoError(t, err)
	g.pix, err = io.ReadAll(r)
	require.NoError(t, err)
	require.Len(t, g.pix, g.w*g.h)
	return g
}

// Filing holes. ISO 838: centres 12 mm from the edge, 80 mm apart, symmetric
// about the middle; 6 mm wide. Three holes: 4¼ in (108 mm) apart and 8 mm wide,
// 13 mm from the edge (an encyclopedia's article "Hole punch", en.wikipedia.org;
// no standard). Seen in the picture: the guides stand there and nothing else is
// in that margin, which on the back of a sheet is the right one.
func TestFilingMarginIsClear(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		for _, three := range []bool{false, true} {
			d := sample(paper)
			d.frame.ThreeHoles, d.frame.TwoSided = three, true
			path := write(t, d, paper.Name)
			edge, radius, dys := 12.0, 3.0, []float64{-40, 40}
			if three {
				edge, radius, dys = 13, 4, []float64{-108, 0, 108}
			}
			for page := 1; page <= 2; page++ {
				g := picture(t, path, page, 200)
				ring := map[float64]int{}
				for py := range g.h {
					for px := range int(19.5 / g.mm) {
						at := px
						if page == 2 {
							at = g.w - 1 - px
						}
						if g.pix[py*g.w+at] > 245 {
							continue
						}
						x, y := (float64(px)+0.5)*g.mm, (float64(py)+0.5)*g.mm-paper.H/2
						near := dys[0]
						for _, dy := range dys {
							if math.Abs(y-dy) < math.Abs(y-near) {
								near = dy
							}
						}
						require.InDeltaf(t, radius, math.Hypot(x-edge, y-near), 0.3, "%s page %d: something at %.1f, %.1f mm from the middle", paper.Name, page, x, y)
						ring[near]++
					}
				}
				for _, dy := range dys {
					require.Greater(t, ring[dy], 50)
				}
			}
			// the symbol is in the outer corner, on either side, and read
			base := filepath.Join(t.TempDir(), "back")
			program(t, "pdftoppm", "-gray", "-r", "150", "-f", "2", "-l", "2", "-singlefile", path, base)
			require.Equal(t, "26-0412-B/2\n", program(t, "zbarimg", "--nodbus", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", base+".pgm"))
		}
	}
}

// Symbols: ISO/IEC 18004, decoded by ZBar from pictures at 150 dpi.
func TestSymbolsAreRead(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		dir := t.TempDir()
		program(t, "pdftoppm", "-r", "150", "-gray", path, filepath.Join(dir, "p"))
		files, err := filepath.Glob(filepath.Join(dir, "p-*.pgm"))
		require.NoError(t, err)
		require.Len(t, files, len(d.Pages()))
		for i, f := range files {
			got := strings.Split(strings.TrimSpace(program(t, "zbarimg", "--nodbus", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", f)), "\n")
			want := []string{fmt.Sprintf("26-0412-B/%d", i+1)}
			for _, m := range d.Pages()[i].Marks {
				if m == "tag" {
					want = append(want, "26-0412-B/TAG")
				}
			}
			require.ElementsMatch(t, want, got)
		}
	})
}

// Level H gives back about 30 % of a symbol (ISO/IEC 18004): a blot of oil 6 mm
// across does no harm.
func TestStainedSymbolIsRead(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		g := picture(t, path, 1, 150)
		x, y := d.paper.W-marginOuter-9, marginTop+11.0
		for py := range g.h {
			for px := range g.w {
				if math.Hypot(float64(px)*g.mm-x, float64(py)*g.mm-y) < 3 {
					g.pix[py*g.w+px] = 60
				}
			}
		}
		file := filepath.Join(t.TempDir(), "stained.pgm")
		require.NoError(t, os.WriteFile(file, append(fmt.Appendf(nil, "P5\n%d %d\n255\n", g.w, g.h), g.pix...), 0o644))
		require.Equal(t, "26-0412-B/1\n", program(t, "zbarimg", "--nodbus", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", file))
	})
}

// A large symbol at every level, and the quiet zone of four modules.
func TestSymbolLevels(t *testing.T) {
	text := strings.Repeat("0123456789ABCDEFGHIJ", 15)
	for _, level := range []string{"L", "M", "Q", "H"} {
		d := New(A4, Meta{}, Frame{})
		d.Add(Section{Key: "s", Blocks: []Block{Symbol{Text: text, Size: 80, Level: level}}})
		path := write(t, d, "symbol"+level)
		base := filepath.Join(t.TempDir(), "s")
		program(t, "pdftoppm", "-r", "150", "-gray", "-singlefile", path, base)
		require.Equal(t, text+"\n", program(t, "zbarimg", "--nodbus", "-q", "--raw", base+".pgm"))
	}
}

func TestFileIsSound(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		require.Contains(t, program(t, "qpdf", "--check", path), "No syntax or stream encoding errors")
		fonts := strings.Split(strings.TrimSpace(program(t, "pdffonts", path)), "\n")[2:]
		require.Len(t, fonts, 4)
		for _, f := range fonts {
			require.Regexp(t, `yes\s+(yes|no)\s+yes\s+\d+`, f) // embedded, with a way back to text
		}
		require.Contains(t, program(t, "pdfdetach", "-list", path), "job.json")
		outline := program(t, "mutool", "show", path, "outline")
		for _, s := range []string{"H  Plunger depth at its lowest point", "A  Receive", "M  Bench run", "Report"} {
			require.Contains(t, outline, s)
		}
		require.Contains(t, program(t, "mutool", "show", path, "trailer/Root/Lang"), "en-GB")
		info := program(t, "pdfinfo", "-isodates", path)
		require.Contains(t, info, "Sample of every block")
		require.Contains(t, info, "2026-10-02T09:30:00Z")
	})
}

func TestSameInputSameBytes(t *testing.T) {
	a, err := sample(A4).Bytes()
	require.NoError(t, err)
	d := sample(A4)
	b, err := d.Bytes()
	require.NoError(t, err)
	require.True(t, bytes.Equal(a, b))
	c, err := d.Bytes() // and once more from the same document
	require.NoError(t, err)
	require.True(t, bytes.Equal(a, c))
}

func TestReadingOrder(t *testing.T) {
	both(t, func(t *testing.T, d *Doc, path string) {
		text := program(t, "pdftotext", "-raw", "-f", "1", "-l", "2", path, "-")
		at := 0
		for _, s := range []string{"Saltmarsh", "26-0412-B", "Ostrel D4", "Brackwater", "page 1 of", "Plunger depth at its lowest point", "Sets where", "3.20 mm", "1.", "2.", "3.", "Springs are under load", "Measure", "H1a", "H1b", "H1c", "deepest", "Work it out", "target", "H4", "worked line", "Or read it off", "3.06", "3.34", "Fitted", "H5", "H8", "done by"} {
			i := strings.Index(text[at:], s)
			require.GreaterOrEqualf(t, i, 0, "%q not after what comes before it", s)
			at += i
		}
	})
}

func TestBytesNamesWhatIsWrong(t *testing.T) {
	chart := Chart{Head: []string{"1", "2"}, Rows: []ChartRow{{"a", []ChartCell{{Text: "1"}}}}}
	for _, c := range []struct {
		name  string
		block Block
		want  []string
	}{
		{"no glyph", Para{Text: "before 中 after"}, []string{"'中' (U+4E2D)", "before 中 after"}},
		{"beyond the plane", Heading{Text: "smile 😀"}, []string{"U+1F600", "smile"}},
		{"not UTF-8", Para{Text: "b\xe9ton"}, []string{"not UTF-8"}},
		{"cells and headings", chart, []string{`row 1 ("a") has 1 cells under 2 headings`}},
		{"unknown page", Table{Cols: []Col{{}}, Rows: [][]Cell{{{PageOf: "Z"}}}}, []string{`section "Z"`}},
		{"too tall", Figure{Height: 400}, []string{`section "k"`, "figure is 400 mm high"}},
		{"too many figures", PenRow{[]Pen{{Code: "H1", Before: 1, After: 2, Printed: "12.34"}}}, []string{"H1", `"12.34"`}},
		{"x without y", Plot{Series: []Series{{Name: "s", X: []float64{1}}}}, []string{`series 1 ("s") has 1 x and 0 y`}},
		{"symbol level", Symbol{Text: "a", Level: "X"}, []string{`level "X"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := New(A4, Meta{}, Frame{})
			d.Add(Section{Key: "k", Blocks: []Block{c.block}})
			_, err := d.Bytes()
			require.Error(t, err)
			for _, w := range c.want {
				require.ErrorContains(t, err, w)
			}
		})
	}
	d := New(A4, Meta{Title: "\U0001F527"}, Frame{Number: "中", Symbol: func(int) string { return strings.Repeat("x", 400) }})
	_, err := d.Bytes()
	require.ErrorContains(t, err, "U+1F527")
	d.meta.Title = ""
	_, err = d.Bytes()
	require.ErrorContains(t, err, "U+4E2D")
	require.ErrorContains(t, err, "symbol text of page 1 (400 bytes)")
}

func TestDecimalComma(t *testing.T) {
	d := New(A4, Meta{}, Frame{DecimalComma: true})
	d.Add(Section{Key: "k", Blocks: []Block{PenRow{[]Pen{{Code: "H1", Before: 1, After: 2, Printed: "3.25"}}}}})
	require.Contains(t, strings.Join(strings.Fields(program(t, "pdftotext", "-raw", write(t, d, "comma"), "-")), ""), "3,25")
}

// Nothing in the flow may leave a heading without what it heads, or put a
// block over the page's edge, whatever the lengths.
func TestFlow(t *testing.T) {
	for n := 1; n < 60; n += 2 {
		d := New(A4, Meta{}, Frame{Continued: "continued", Foot: "foot"})
		var rows []PenTableRow
		for range n {
			rows = append(rows, PenTableRow{Cells: []PenCell{{Text: "a"}, {Pen: &Pen{Code: "M1", Before: 2, After: 1}}}})
		}
		d.Add(Section{Key: "1", NewPage: true, Foot: SignOff{Fields: []Pen{{Label: "by", Kind: PenLine}}}, Blocks: []Block{
			Band{Mark: "M", Title: "Bench"}, Heading{Text: "A"}, PenTable{Cols: []PenCol{{Head: "a"}, {Head: "b"}}, Rows: rows},
			Heading{Text: "B"}, Para{Text: strings.Repeat("word ", 40*n%300)}, Heading{Text: "C"}, Heading{Text: "D"}, PenRow{[]Pen{{Code: "H1", Before: 3}}},
		}})
		d.Add(Section{Key: "2", Blocks: []Block{Heading{Text: "E"}, Para{Text: "short"}}})
		s := newSheet(false)
		fl := &flow{s: s, w: 180, room: d.room(), on: "continued"}
		fl.set(d.sections)
		fl.check(d.sections)
		require.NoError(t, s.err())
		pens := 0
		for p, items := range fl.pages {
			ys := fl.settle(items, 0)
			for i, it := range items {
				require.LessOrEqual(t, ys[i]+it.h, fl.room+1e-6)
				if i > 0 {
					require.GreaterOrEqual(t, ys[i], ys[i-1]+items[i-1].h-1e-6)
				}
				if _, ok := it.b.(Heading); ok {
					require.Less(t, i, len(items)-1, "page %d of %d rows ends in a heading", p+1, n)
					require.False(t, items[i+1].low)
				}
				if b, ok := it.b.(PenTable); ok {
					pens += len(b.Rows)
					require.True(t, len(b.Rows) >= 2 || n == 1, "one row alone")
				}
				if it.low {
					require.Positive(t, i, "a page with nothing but the foot")
					if i == len(items)-1 {
						require.InDelta(t, fl.room, ys[i]+it.h, 1e-6, "a foot not at the foot")
					}
				}
			}
		}
		require.Equal(t, n, pens)
	}
}

// A section does not end on a page with next to nothing on it.
func TestLastPageIsNotBare(t *testing.T) {
	for n := 1; n < 80; n++ {
		s := newSheet(false)
		fl := &flow{s: s, w: 180, room: 246, on: "continued"}
		rows := make([][]Cell, n)
		for i := range rows {
			rows[i] = []Cell{{Text: "a"}}
		}
		fl.set([]Section{{Blocks: []Block{Band{Mark: "A"}, Table{Cols: []Col{{Head: "a"}}, Rows: rows}}}})
		if k := len(fl.pages); k > 1 {
			require.Greater(t, used(fl.pages[k-1]), 0.25*fl.room, "%d rows", n)
		}
	}
}

// Nothing stands below a tag to be cut off.
func TestTagIsLastOnItsPage(t *testing.T) {
	d := New(A4, Meta{}, Frame{})
	d.Add(Section{Key: "A", Foot: TearOff{Cut: "cut here", Blocks: []Block{Para{Text: "tag"}}}, Blocks: []Block{Para{Text: "a"}}})
	d.Add(Section{Key: "B", Blocks: []Block{Para{Text: "b"}}})
	_, err := d.Bytes()
	require.NoError(t, err)
	require.Equal(t, []PageInfo{{1, []string{"A"}}, {2, []string{"B"}}}, d.Pages())
}

func TestPages(t *testing.T) {
	d := New(A4, Meta{}, Frame{})
	short := []Block{Para{Text: "short"}}
	d.Add(Section{Key: "A", Blocks: short})
	d.Add(Section{Key: "B", Blocks: short})
	d.Add(Section{Key: "C", NewPage: true, Blocks: short})
	require.Empty(t, d.Pages())
	_, err := d.Bytes()
	require.NoError(t, err)
	require.Equal(t, []PageInfo{{1, []string{"A", "B"}}, {2, []string{"C"}}}, d.Pages())
}

func TestShare(t *testing.T) {
	require.Equal(t, []float64{25, 75}, share([]float64{1, 3}, []float64{0, 0}, 100))
	require.Equal(t, []float64{40, 60}, share([]float64{1, 3}, []float64{40, 0}, 100))
	require.InDelta(t, 100, sum(share([]float64{1, 1}, []float64{90, 90}, 100)), 1e-9)
}

func TestWhole(t *testing.T) {
	for _, c := range []struct{ least, natural, want []float64 }{
		{[]float64{10, 10}, []float64{20, 30}, []float64{20, 30}},             // all there is room for
		{[]float64{10, 10, 10}, []float64{20, 80, 90}, []float64{20, 40, 40}}, // the long ones alike
		{[]float64{10, 60, 10}, []float64{20, 80, 90}, []float64{20, 60, 20}}, // none below its least
		{[]float64{50, 60, 10}, []float64{50, 80, 90}, []float64{50, 60, 10}}, // no room at all
	} {
		whole(c.least, c.natural, 100)
		require.InDeltaSlice(t, c.want, c.least, 1e-6)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		n         int
		want      axis
	}{
		{0, 46, 6, axis{0, 50, 10, 0}},
		{0, 2500, 6, axis{0, 2500, 500, 0}},
		{3.15, 3.25, 5, axis{3.14, 3.26, 0.02, 2}},
		{-1.2, 1, 5, axis{-1.5, 1, 0.5, 1}},
	} {
		got := ticks(c.low, c.high, c.n)
		require.InDelta(t, c.want.low, got.low, 1e-9)
		require.InDelta(t, c.want.high, got.high, 1e-9)
		require.InDelta(t, c.want.step, got.step, 1e-9)
		require.Equal(t, c.want.decimals, got.decimals)
	}
}

func TestFitted(t *testing.T) {
	s := newSheet(false)
	f, text := s.fit(read, "a text much too long for its place", 20)
	require.GreaterOrEqual(t, f.size, floorSize)
	require.True(t, strings.HasSuffix(text, "…"))
	require.LessOrEqual(t, s.width(f, text), 20.0)
	f, ls := s.wrapMax(read, "a text **much too long** for the two lines it is given here", 20, 2)
	require.Len(t, ls, 2)
	require.True(t, strings.HasSuffix(ls[1].runs[len(ls[1].runs)-1].text, "…"))
	require.LessOrEqual(t, ls[1].w, 20.0)
	require.Equal(t, floorSize, f.size)
}

// What is read as one stays on one line, at every width that has room for it.
// Common practice, no source.
func TestFiguresKeepTheirUnits(t *testing.T) {
	s := newSheet(false)
	for text, whole := range map[string]string{
		"set 22.1, then 37.1 N·m.":                          "37.1 N·m.",
		"of the mean, at most 3 %":                          "3 %",
		"a droop of (B37 – 2100) × 100 ÷ 2100":              "(B37 – 2100)",
		"it reads 3.36 − 0.15 = 3.21":                       "− 0.15",
		"last reading − fitted + out":                       "+ out",
		"keep what lies within 31.5 – 34.5 of it":           "31.5 – 34.5",
		"speed + (its mean − the delivery) × step":          "(its mean − the delivery)",
		"with **TW-2** set **12 N·m**, crosswise":           "12 N·m",
		"held at 0.5 bar for 60 s, then wiped dry":          "60 s,",
		"turns ( + out, − in ) from where the screw stands": "( + out, − in )",
	} {
		for w := s.width(read.bold(), whole) + 1; w < 90; w += 0.7 {
			found := false
			for _, l := range s.wrap(read, text, w) {
				line := ""
				for _, r := range l.runs {
					if r.x > 0 && line != "" {
						line += " "
					}
					line += r.text
				}
				found = found || strings.Contains(strings.ReplaceAll(line, "  ", " "), whole)
				require.LessOrEqual(t, l.w, w+1e-6)
			}
			require.True(t, found, "%q at %.1f mm: %v", text, w, s.wrap(read, text, w))
		}
	}
	// A sentence in brackets is no formula, and a dash between words no range.
	require.Len(t, s.wrap(read, "a word (worn: seen, can stay) here", 22), 3)
	require.Len(t, s.wrap(read, "open – closed", s.width(read, "open – ")), 2)
	// Narrower than a figure with its unit, they are parted.
	require.Len(t, s.wrap(read, "37.1 N·m", s.width(read, "37.1")+0.1), 2)
}

// Wrapped lines keep every character but the spaces, and none is too wide.
func FuzzWrap(f *testing.F) {
	f.Add("a few **bold** words, then averyverylongwordthatmustbeparted", 30.0)
	f.Add("one\ntwo\n\nthree", 12.0)
	f.Add("****", 5.0)
	f.Add("a column of no room", -2.4)
	f.Add("WWWWWWWW\nb\nc", 7.0)
	f.Add("a **b** **c**  d**e**f **g", 40.0)
	s := newSheet(false)
	f.Fuzz(func(t *testing.T, text string, w float64) {
		if !(w > -10 && w < 400) || len(text) > 500 || !s.known(text) {
			return
		}
		s.wrapMax(read, text, w, 2)
		var got strings.Builder
		for _, l := range s.wrap(read, text, w) {
			if w > 6 { // else one character is wider
				require.LessOrEqual(t, l.w, w+1e-3)
			}
			end := 0.0
			for _, r := range l.runs {
				require.GreaterOrEqual(t, r.x, end-1e-6, "one run over the other")
				got.WriteString(r.text)
				face := read
				if r.bold {
					face = face.bold()
				}
				end = r.x + s.width(face, r.text)
			}
			require.InDelta(t, end, l.w, 1e-6)
		}
		bare := strings.NewReplacer("**", "", " ", "", "\n", "", "\t", "", "\r", "")
		require.Equal(t, bare.Replace(text), strings.ReplaceAll(got.String(), " ", ""))
	})
}

// A page with faults in several sections, which are measured beside each other, says
// the same of them every time.
func TestFaultsInAnyOrder(t *testing.T) {
	want := ""
	for range 20 {
		d := New(A4, Meta{}, Frame{})
		for range 3 {
			d.Add(Section{Blocks: []Block{
				Chart{Corner: "中", Head: []string{"1"}, Rows: []ChartRow{{"a", []ChartCell{{Text: "\U0001F600"}}}}},
				Table{Cols: []Col{{Head: "a"}, {Head: "b"}}, Rows: [][]Cell{{{Text: "one cell"}}}},
			}})
		}
		_, err := d.Bytes()
		require.ErrorContains(t, err, "under 2 headings")
		if want == "" {
			want = err.Error()
		}
		require.EqualError(t, err, want)
	}
}

// A word that was parted to its end and a new line behind it make no empty line.
func TestPartedWordThenNewLine(t *testing.T) {
	s := newSheet(false)
	for n := range 12 {
		for _, l := range s.wrap(read, strings.Repeat("W", n+1)+"\nb", 7.5) {
			require.NotEmpty(t, l.runs)
		}
	}
}

func TestSymbolsOfAnyLevel(t *testing.T) {
	var s symbols
	a, err0 := s.of("Mabc", "")()
	b, err1 := s.of("abc", "M")()
	require.NoError(t, errors.Join(err0, err1))
	require.NotEqual(t, a, b)
}

// What was begun ahead, with every face of the typeface, is the same document: faces
// that it does not use are not in it.
func TestBegunDocumentIsTheSame(t *testing.T) {
	for name, block := range map[string]Block{
		"two faces":  Para{Text: "some **words**"},
		"four faces": Group{Blocks: []Block{Para{Text: "some **words**"}, Chart{Corner: "K1", Head: []string{"1.00"}, Rows: []ChartRow{{"**a**", []ChartCell{{Text: "0.10", Mark: true}}}}}}},
	} {
		meta, frame := Meta{Title: name, Attachments: []Attachment{{Name: "ä.yaml", Description: "what", Data: []byte("endstream\nendobj\n")}}}, Frame{Number: "26-0001-C", Symbol: func(int) string { return "P260001C01" }}
		pdf := func(d *Doc) []byte {
			d.Add(Section{Key: "1", Blocks: []Block{block, Symbol{Text: "J1"}}})
			out, err := d.Bytes()
			require.NoError(t, err)
			again, err := d.Bytes()
			require.NoError(t, err)
			require.Equal(t, out, again)
			return out
		}
		begun := Begin(A4)
		require.Equal(t, pdf(New(A4, meta, frame)), pdf(begun.New(meta, frame)), name)
		require.Equal(t, pdf(New(A4, meta, frame)), pdf(begun.New(meta, frame)), "a second one")
	}
}

func BenchmarkSample(b *testing.B) {
	for b.Loop() {
		if _, err := sample(A4).Bytes(); err != nil {
			b.Fatal(err)
		}
	}
}
