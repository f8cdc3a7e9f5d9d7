package packet

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"

	"shimcard/packet/codes"
)

// tool runs a program from Debian on a file; a missing program fails the test.
func tool(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(t, err, "%s %s: %s", name, strings.Join(args, " "), out)
	return string(out)
}

// documents prints both documents of a demo.
func documents(t testing.TB, name string) map[byte]string {
	t.Helper()
	j, typed := demoJob(t, name)
	packet, err := j.Traveller()
	require.NoError(t, err)
	report, err := j.ReportPDF(j.Judge(read(t, j, typed)))
	require.NoError(t, err)
	dir := t.TempDir()
	out := map[byte]string{codes.Traveller: filepath.Join(dir, "packet.pdf"), codes.Report: filepath.Join(dir, "report.pdf")}
	require.NoError(t, os.WriteFile(out[codes.Traveller], packet, 0o644))
	require.NoError(t, os.WriteFile(out[codes.Report], report, 0o644))
	return out
}

// The PDF is sound by qpdf, and every font in it is embedded by pdffonts.
// Every page's symbol (ISO/IEC 18004) is read back from its picture by ZBar, a
// decoder that is not in our build, and says this job and this page.
func TestDocumentsAsOthersSeeThem(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		for kind, file := range documents(t, name) {
			t.Run(fmt.Sprintf("%s %c", name, kind), func(t *testing.T) {
				t.Parallel()
				require.Contains(t, tool(t, "qpdf", "--check", file), "No syntax or stream encoding errors")
				for _, line := range strings.Split(strings.TrimSpace(tool(t, "pdffonts", file)), "\n")[2:] {
					require.Regexp(t, `yes +(yes|no) +yes\s+\d+\s+\d+$`, line)
				}
				j, typed := demoJob(t, name)
				results := j.Judge(read(t, j, typed))
				pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", file, "-"), "\f"), "\f")
				prefix := filepath.Join(t.TempDir(), "p")
				tool(t, "pdftoppm", "-r", "100", "-gray", file, prefix)
				pictures, err := filepath.Glob(prefix + "*")
				require.NoError(t, err)
				require.Len(t, pictures, len(pages))
				for i, text := range pages {
					require.Contains(t, text, j.Number)
					require.Contains(t, text, j.Intake.Pump.Serial)
					require.Contains(t, text, fmt.Sprintf("page %d of %d", i+1, len(pages)))
					require.Contains(t, text, "INVENTED FIGURES")
					seen := strings.Fields(tool(t, "zbarimg", "-q", "--raw", pictures[i]))
					want := codes.Page{Number: j.Number, Document: kind, Page: i + 1}
					if kind == codes.Report {
						want.Digest = j.reportRecord(results).Digest()
						require.Contains(t, strings.ReplaceAll(text, "\u00a0", " "), "Digest "+strings.ReplaceAll(Grouped(want.Digest), "\u00a0", " "))
					}
					require.Contains(t, seen, want.Symbol())
				}
				if kind == codes.Report {
					require.Contains(t, pages[len(pages)-1], "end of report")
				}
			})
		}
	}
}

// A § stands before a sentence that the catalogue lacks; the pages are looked at
// by TestEveryDocument.
func TestNoSentenceOfTheFormIsLacking(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		for _, language := range []string{"en", "de"} {
			j := jobOf(t, want{name, "A4", language, "one side", "two holes", nil})
			typed, err := demoReadings(name, j.Plan)
			require.NoError(t, err)
			require.NotContains(t, string(formOf(j, typed)), "§", "%s %s", name, language)
		}
	}
}

// word is one word of a page with its box, in points from the upper left.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type seenPage struct {
	W     float64 `xml:"width,attr"`
	H     float64 `xml:"height,attr"`
	Words []word  `xml:"word"`
}

func seenPages(t testing.TB, file string) []seenPage {
	t.Helper()
	var doc struct {
		Pages []seenPage `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(strings.NewReader(tool(t, "pdftotext", "-bbox", file, "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	require.NoError(t, d.Decode(&doc))
	return doc.Pages
}

const millimetre = 72 / 25.4 // points

// document is one of our documents as printed.
type document struct {
	name             string
	job              *Job
	kind             byte // codes.Traveller, codes.Report, 0 for a blank packet
	print            func() ([]byte, error)
	file             string
	pages            []int // their numbers; set for pages printed again, else once printed
	letter, mirrored bool  // paper; printed on both sides
	holes            int
	typed            string // what people typed and the catalogue does not say
}

// want is what a document is printed of.
type want struct {
	demo, paper, language string
	sides, holes          string
	edits                 []string // of intake, spec and shop, as strings.NewReplacer takes them
}

var shopChoice = regexp.MustCompile(`(?m)^(paper|language|decimal mark|filing|printed on):.*\n`)

// jobOf makes a demo's job as another shop would print it.
func jobOf(t testing.TB, w want) *Job {
	t.Helper()
	spec := map[string]string{"saltmarsh": "ostrel-d4.yaml", "prairie": "vessant-s6.yaml"}[w.demo]
	edit := strings.NewReplacer(w.edits...)
	get := func(data []byte, err error) []byte {
		require.NoError(t, err)
		return []byte(edit.Replace(string(data)))
	}
	shop := shopChoice.ReplaceAllString(string(get(readDemoSpecs(w.demo+".yaml"))), "")
	mark := map[string]string{"en": "point", "de": "comma"}[w.language]
	shop += fmt.Sprintf("\npaper: %s\nlanguage: %s\ndecimal mark: %s\nfiling: %s\nprinted on: %s\n", w.paper, w.language, mark, w.holes, w.sides)
	number, ok := codes.NewNumber(2026, "", 412)
	require.True(t, ok)
	j, err := NewJob(number, File{"intake.yaml", get(demo.ReadFile("demo/" + w.demo + "-intake.yaml"))}, File{spec, get(readDemoSpecs(spec))}, File{"shop.yaml", []byte(shop)})
	require.NoError(t, err)
	return j
}

// long is an edit of the saltmarsh demo that makes everything as long as it may
// be: names of 60 characters in Greek and Cyrillic, a complaint of five lines,
// twelve outlets, trays of forty sizes.
var long = []string{
	"name: Ostrel D4", "name: Ostrel D12 with a name that is as long as sixty chars may be",
	"outlets: 4", "outlets: 12",
	"Brackwater Growers", "Αγροτικός Συνεταιρισμός Θεσσαλίας και Водоканал Северный",
	"serial: 7719-204", "serial: 7719-204-0000-0123456789-ABCDEFGHIJKLMNOPQRSTUVWXYZ0123",
	"complaint: Hard to start hot, smoke under load, low on power since harvest.",
	"complaint: " + strings.Repeat("Hard to start hot and smokes under load, hunts at idle. ", 7),
	"foot shims: {from: 1.90 mm, to: 2.90 mm, step: 0.05 mm}", "foot shims: {from: 1.00 mm, to: 2.95 mm, step: 0.05 mm}",
	"end plugs: {from: 8.00 mm, to: 9.60 mm, step: 0.10 mm, part: end plug}", "end plugs: {from: 6.00 mm, to: 9.90 mm, step: 0.10 mm, part: end plug}",
}

// everyDocument is what a shop may get: both demos on both papers in both
// languages, on one and both sides, filed by two and three holes; the report of
// a pump that meets its sheet, of one that does not and of a half-typed job; a
// blank packet, reprinted pages, and a job with everything as long as it may be.
func everyDocument(t testing.TB) (out []document) {
	t.Helper()
	add := func(w want, name string, j *Job, kind byte, print func() ([]byte, error)) *document {
		out = append(out, document{name: fmt.Sprintf("%s %s %s, %s, %s: %s", w.demo, w.paper, w.language, w.sides, w.holes, name), job: j, kind: kind, print: print,
			letter: w.paper == "Letter", mirrored: w.sides == "both sides", holes: map[string]int{"two holes": 2, "three holes": 3}[w.holes], typed: typedWords(j)})
		return &out[len(out)-1]
	}
	report := func(w want, name string, verdict Overall, j *Job, typed map[string]string) {
		r := j.Judge(read(t, j, typed))
		require.Equal(t, verdict, r.Overall, name)
		d := add(w, name, j, codes.Report, func() ([]byte, error) { return j.ReportPDF(r) })
		for _, b := range j.Boxes() {
			if b.Kind != Number {
				d.typed += "\n" + strings.ToLower(typed[b.Code])
			}
		}
		words := d.typed
		d = add(w, name+", short", j, codes.Report, func() ([]byte, error) { return j.ReportShort(r) })
		d.typed, d.pages = words, []int{1}
	}
	for d, name := range []string{"saltmarsh", "prairie"} {
		for p, paper := range []string{"A4", "Letter"} {
			for l, language := range []string{"en", "de"} {
				w := want{demo: name, paper: paper, language: language, sides: []string{"one side", "both sides"}[(d+p+l)%2], holes: []string{"two holes", "three holes"}[(p+l)%2]}
				j := jobOf(t, w)
				add(w, "packet", j, codes.Traveller, j.Traveller)
				good, err := demoReadings(name, j.Plan)
				require.NoError(t, err)
				report(w, "report", PumpMeets, j, good)
				if p == l { // once in each language
					failing, half := maps.Clone(good), maps.Clone(good)
					for code, v := range good {
						if code[0] == 'M' && strings.Contains(code, ".") { // low deliveries, and one where there may be none
							failing[code] = strings.Replace(strings.Replace(v, "3", "2", 1), "0.0", "4.0", 1)
						}
						if code[0] >= 'M' || code[0] == 'K' {
							delete(half, code)
						}
					}
					report(w, "report, failing", PumpFails, j, failing)
					report(w, "report, incomplete", PumpIncomplete, j, half)
					blank := &Job{Intake: &Intake{}, Plan: j.Plan}
					add(w, "blank packet", blank, 0, blank.Traveller)
					again := add(w, "reprinted pages", j, codes.Traveller, func() ([]byte, error) { return j.TravellerPages([]string{"H", "M", "cover"}) })
					again.mirrored = false // a page alone has no back
					whole := j.document()
					_, err = whole.Bytes()
					require.NoError(t, err)
					for _, info := range whole.Pages() {
						if slices.ContainsFunc(info.Marks, func(m string) bool { return m == "cover" || m[0] == 'H' || m[0] == 'M' }) {
							again.pages = append(again.pages, info.Number)
						}
					}
				}
				if d == 0 {
					w.edits = long
					j := jobOf(t, w)
					add(w, "long packet", j, codes.Traveller, j.Traveller)
					if p == l {
						some := map[string]string{}
						for i, b := range j.Boxes() {
							if v := good[b.Code]; v != "" && b.Code[0] < 'L' && b.Kind == Number {
								some[b.Code] = v
							}
							if b.Instrument == "graduates" { // as far apart as a table must hold
								some[b.Code] = []string{"0.1 !", "0.1 !", "0.1 !", "0.1 !", "99.9 !"}[i%5]
							}
						}
						report(w, "long report", PumpIncomplete, j, some)
					}
				}
			}
		}
	}
	return out
}

// typedWords is what the catalogue does not say: the words of the intake, the
// spec and the shop file.
func typedWords(j *Job) string {
	in, s, c := j.Intake, j.Spec, j.Spec.Bench.Conditions
	all := []string{
		in.By, in.Customer.Name, in.Customer.Reference, in.Customer.Contact, in.Pump.Serial, in.Engine, in.Complaint,
		in.Authorised.Work, in.Authorised.Limit, in.Authorised.By, strings.Join(in.Accessories, "; "),
		s.Pump.Name, s.Vouched.By, s.Vouched.From, c.TestOil, c.NozzleHolders, c.Pipes, strings.Join(s.Notes, " "),
		j.Shop.Name, strings.Join(j.Shop.Address, " "), j.Shop.Contact,
	}
	for _, d := range s.Bench.Deliveries {
		all = append(all, d.Name, d.Lever)
	}
	for _, d := range s.Torques {
		all = append(all, d.Name, d.Order)
	}
	for _, i := range j.Shop.Instruments {
		all = append(all, i.Number)
	}
	return strings.ToLower(strings.Join(all, "\n"))
}

// path is a line or an area as MuPDF sees it drawn, in mm from the upper left.
type path struct {
	fill         bool
	grey, weight float64
	x, y         []float64
	curved       bool
	box
}

// box is where something is, in mm from the upper left.
type box struct{ left, top, right, foot float64 }

func (b box) width() float64  { return b.right - b.left }
func (b box) height() float64 { return b.foot - b.top }

// rect reports whether a path is an upright rectangle.
func (p path) rect() bool {
	if p.curved || len(p.x) < 4 || len(p.x) > 5 {
		return false
	}
	for i := range p.x {
		if near := func(v, a, b float64) bool { return math.Abs(v-a) < .01 || math.Abs(v-b) < .01 }; !near(p.x[i], p.left, p.right) || !near(p.y[i], p.top, p.foot) {
			return false
		}
	}
	return p.width() > .1 && p.height() > .1
}

// run is a text as it was drawn in one go; its box is that of its ink: from the
// baseline to the height of a capital, and below it where a letter reaches there.
type run struct {
	text       string
	size, grey float64
	bold       bool
	box
}

// drawn is what is drawn on a page.
type drawn struct {
	w, h  float64
	paths []path
	texts []run
}

// pagesDrawn reads everything drawn on a document's pages, as MuPDF's trace
// tells it. It fails where anything is drawn in a colour.
func pagesDrawn(t testing.TB, file string) (out []drawn) {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil { // asked here, as it is asked a million times
			t.Fatal(err)
		}
		return v
	}
	attr := func(line, name string) string {
		_, rest, ok := strings.Cut(line, " "+name+`="`)
		if !ok {
			t.Fatalf("no %s in %s", name, line)
		}
		value, _, _ := strings.Cut(rest, `"`)
		return value
	}
	var page *drawn
	var p *path
	var text *run
	var height, grey float64
	var trm [6]float64 // of what is drawn, from below
	flush := func() {
		if p == nil || len(p.x) < 2 {
			return
		}
		p.box = box{slices.Min(p.x), slices.Min(p.y), slices.Max(p.x), slices.Max(p.y)}
		page.paths = append(page.paths, *p)
		p = &path{fill: p.fill, grey: p.grey, weight: p.weight}
	}
	for line := range strings.Lines(tool(t, "mutool", "trace", file)) {
		line = strings.TrimSpace(line)
		switch what, _, _ := strings.Cut(line, " "); what {
		case "<page":
			size := strings.Fields(attr(line, "mediabox"))
			height = number(size[3])
			out = append(out, drawn{w: number(size[2]) / millimetre, h: height / millimetre})
			page = &out[len(out)-1]
		case "<stroke_path", "<fill_path", "<fill_text":
			require.Equal(t, "DeviceGray", attr(line, "colorspace"))
			for i, m := range strings.Fields(attr(line, "transform")) {
				trm[i] = number(m)
			}
			require.Zero(t, trm[1]+trm[2], "nothing is turned")
			grey = number(attr(line, "color"))
			if what == "<fill_text" {
				continue
			}
			p = &path{fill: what == "<fill_path", grey: grey}
			if !p.fill {
				p.weight = number(attr(line, "linewidth")) / millimetre
			}
		case "</stroke_path>", "</fill_path>":
			flush()
			p = nil
		case "<moveto", "<lineto", "<curveto":
			if p == nil {
				continue // a path to clip by
			}
			x, y := "x", "y"
			if what == "<curveto" {
				x, y, p.curved = "x3", "y3", true
			}
			if what == "<moveto" {
				flush()
			}
			p.x = append(p.x, (number(attr(line, x))*trm[0]+trm[4])/millimetre)
			p.y = append(p.y, (number(attr(line, y))*trm[3]+trm[5])/millimetre)
		case "<span":
			size := number(strings.Fields(attr(line, "trm"))[0])
			text = &run{size: size, grey: grey, bold: strings.HasSuffix(attr(line, "font"), "B")}
		case "<g":
			if text == nil {
				continue
			}
			letter := html.UnescapeString(attr(line, "unicode"))
			x, base, em := number(attr(line, "x"))/millimetre, (height-number(attr(line, "y")))/millimetre, text.size/millimetre
			if text.text == "" {
				text.box = box{x, base - .7*em, x, base}
			}
			text.text += letter
			if strings.ContainsAny(letter, "gjpqyçßµρβγζημξφχψQ,;()[]{}|/§@„") {
				text.foot = max(text.foot, base+.2*em)
			}
			if letter != " " && letter != "\u00a0" {
				text.right = x + number(attr(line, "adv"))*em
			}
			if strings.Trim(text.text, ".,") == "" { // a decimal mark is ink at the foot only
				text.top = base - .2*em
			}
		case "</span>":
			if strings.TrimSpace(text.text) != "" {
				page.texts = append(page.texts, *text)
			}
			text = nil
		}
	}
	return out
}

// TestEveryDocument looks at what is printed for every document a shop may get.
func TestEveryDocument(t *testing.T) {
	for _, d := range everyDocument(t) {
		t.Run(d.name, func(t *testing.T) {
			t.Parallel()
			pdf, err := d.print()
			require.NoError(t, err)
			d.file = filepath.Join(t.TempDir(), "document.pdf")
			require.NoError(t, os.WriteFile(d.file, pdf, 0o644))
			pages := pagesDrawn(t, d.file)
			if d.pages == nil {
				for i := range pages {
					d.pages = append(d.pages, i+1)
				}
			}
			require.Len(t, pages, len(d.pages))
			for i, p := range pages {
				at := fmt.Sprintf("page %d", d.pages[i])
				d.paper(t, p, at)
				d.margins(t, p, d.pages[i], at)
				textsKeepApart(t, p, at)
				textsKeepToTheirFrames(t, p, at)
				d.headings(t, p, at)
			}
			d.lastPage(t, pages[len(pages)-1])
			d.places(t, pages)
			d.symbols(t, pages)
			d.said(t)
			d.nothingLost(t)
			d.readAloud(t)
		})
	}
}

// Where the last of a sheet's shorter versions saves no page, and it says that it is
// the least high, layout tries no other.
func TestLastVersionOfASheetIsTheLeast(t *testing.T) {
	tried := 0
	for _, d := range everyDocument(t) {
		if d.kind == codes.Report {
			continue
		}
		for n, heights := range d.job.document().Heights() {
			if heights == nil {
				continue
			}
			assert.InDelta(t, slices.Min(heights), heights[len(heights)-1], 1e-6, "%s, section %d: %.1f", d.name, n+1, heights)
			tried += len(heights) - 1
		}
	}
	require.Greater(t, tried, 100)
}

// Paper: ISO 216, A4 210 × 297 mm; ANSI/ASME Y14.1, size A 8.5 × 11 in. No type
// below 6.5 pt.
func (d document) paper(t *testing.T, p drawn, at string) {
	w, h := 210.0, 297.0
	if d.letter {
		w, h = 8.5*25.4, 11*25.4
	}
	assert.InDelta(t, w, p.w, .01, at)
	assert.InDelta(t, h, p.h, .01, at)
	for _, x := range p.texts {
		assert.GreaterOrEqual(t, x.size, 6.5, "%s: %q", at, x.text)
	}
}

// Filing holes by ISO 838: two, 80 mm apart, 12 mm from the edge, symmetric,
// 6 mm wide. Three: 4¼ in apart, 13 mm from the edge, 8 mm wide (no standard:
// an encyclopedia's article "Hole punch", en.wikipedia.org). Their guides are
// all there is in the filing margin, at the right on the back of a sheet, and
// nothing stands in the others.
func (d document) margins(t *testing.T, p drawn, number int, at string) {
	edge, radius, places := 12.0, 3.0, []float64{-40, 40}
	if d.holes == 3 {
		edge, radius, places = 13, 4, []float64{-108, 0, 108}
	}
	inner, outer := 19.7, p.w-9.7
	if d.mirrored && number%2 == 0 {
		edge, inner, outer = p.w-edge, 9.7, p.w-19.7
	}
	guides := 0
	inside := func(b box, what string) {
		t.Helper()
		assert.True(t, b.left > inner && b.right < outer && b.top > 8.5 && b.foot < p.h-8, "%s: %s in the margin: %.1f", at, what, b)
	}
	for _, x := range p.texts {
		inside(x.box, x.text)
	}
	for _, x := range p.paths {
		y := (x.top+x.foot)/2 - p.h/2
		i := slices.IndexFunc(places, func(v float64) bool { return math.Abs(v-y) < .1 })
		if x.curved && i >= 0 && math.Abs((x.left+x.right)/2-edge) < .1 {
			assert.InDelta(t, 2*radius, x.width(), .1, at)
			guides++
			continue
		}
		if !x.fill || x.grey < 1 {
			inside(x.box, fmt.Sprintf("a path of %d points", len(x.x)))
		}
	}
	assert.Equal(t, len(places), guides, at)
}

func (a box) over(b box) (x, y float64) {
	return min(a.right, b.right) - max(a.left, b.left), min(a.foot, b.foot) - max(a.top, b.top)
}

// No text lies on another.
func textsKeepApart(t *testing.T, p drawn, at string) {
	for i, a := range p.texts {
		for _, b := range p.texts[i+1:] {
			x, y := a.over(b.box)
			assert.False(t, x > .15 && y > .15, "%s: %q lies on %q, by %.1f × %.1f mm", at, a.text, b.text, x, y)
		}
	}
}

// A text is inside a frame or outside it, on no frame's line: those of boxes to
// write in, of charts, of cautions and of what is shown large.
func textsKeepToTheirFrames(t *testing.T, p drawn, at string) {
	for _, f := range p.paths {
		if f.fill || !f.rect() {
			continue
		}
		for _, x := range p.texts {
			w, h := x.over(f.box)
			if w < .2 || h < .2 {
				continue
			}
			in := x.left > f.left-.1 && x.right < f.right+.1 && x.top > f.top-.1 && x.foot < f.foot+.1
			assert.True(t, in, "%s: %q %.1f crosses a frame %.1f", at, x.text, x.box, f.box)
		}
	}
}

// Under a heading stands what it heads, on the same page: something black that
// is neither a note nor the foot where the stage is signed off.
func (d document) headings(t *testing.T, p drawn, at string) {
	foot := p.h
	for _, s := range d.job.Stages {
		for _, x := range p.texts {
			if d.kind != codes.Report && x.bold && strings.TrimSpace(x.text) == s.Done.Code {
				foot = min(foot, x.top)
			}
		}
	}
	heading := func(x run) bool { return x.bold && x.size == 10 }
	for _, h := range p.texts {
		if !heading(h) || h.top > foot || strings.TrimSpace(h.text) == d.job.T("end of report") {
			continue
		}
		headed := slices.ContainsFunc(p.texts, func(x run) bool { return x.top > h.foot && x.top < foot && x.grey == 0 && !heading(x) })
		assert.True(t, headed, "%s: nothing under the heading %q", at, h.text)
	}
}

// again tells that these are some pages of a packet, printed again.
func (d document) again() bool { return d.pages[len(d.pages)-1] != len(d.pages) }

// The last page is at least a third full, counting what stands within 3 mm.
func (d document) lastPage(t *testing.T, p drawn) {
	if d.kind == codes.Traveller && d.again() {
		return // pages printed again end where they end
	}
	var marks []box
	for _, x := range p.texts {
		marks = append(marks, x.box)
	}
	for _, x := range p.paths {
		if x.left > 19 && x.right < p.w-9 {
			marks = append(marks, x.box)
		}
	}
	full, from, to := 0, int(9+24+4), int(p.h-9)
	for y := from; y < to; y++ {
		if slices.ContainsFunc(marks, func(b box) bool { return b.top-3 < float64(y) && float64(y) < b.foot+3 }) {
			full++
		}
	}
	assert.Greater(t, float64(full)/float64(to-from), 1./3, "the last page is nearly empty")
}

// Every box of the plan has its place on the packet, its code at it: what is
// painted white with a code in it, below it or beside it. A cell to write figures
// in is 7 × 9 mm or more, one for each figure where the box stands in a row; a
// box to tick 5 mm. No place lies on another.
func (d document) places(t *testing.T, pages []drawn) {
	if d.kind == codes.Report || d.again() {
		return
	}
	found := map[string]bool{}
	boxes := map[string]*Box{}
	for _, b := range d.job.Boxes() {
		boxes[b.Code] = b
	}
	for i, p := range pages {
		var white, places []box
		for _, x := range p.paths {
			if x.fill && x.grey == 1 && x.rect() {
				white = append(white, x.box)
			}
		}
		for _, x := range p.texts {
			b := boxes[strings.Fields(x.text)[0]]
			if b == nil || !x.bold {
				continue
			}
			cells := cellsAt(white, x.box, b)
			if b.Kind == Text && len(cells) == 0 {
				found[b.Code] = true // its place is a line
			}
			if len(cells) == 0 {
				continue // lettering of a drawing
			}
			found[b.Code] = true
			for _, c := range cells {
				at := fmt.Sprintf("page %d, box %s: %.2f × %.2f mm", d.pages[i], b.Code, c.width(), c.height())
				if b.Kind == Tick || b.Kind == Choice {
					assert.InDelta(t, 5, c.width(), .01, at)
					assert.InDelta(t, 5, c.height(), .01, at)
				} else {
					assert.GreaterOrEqual(t, c.width(), 7.0, at)
					assert.GreaterOrEqual(t, c.height(), 8.999, at)
				}
				for _, o := range places {
					w, h := o.over(c)
					assert.False(t, w > .02 && h > .02, "%s lies on another", at)
				}
			}
			places = append(places, cells...)
		}
	}
	drawn, err := d.job.Places()
	require.NoError(t, err)
	for _, p := range drawn {
		if !found[p.Box.Code] {
			told(t, pages[p.Page-1].texts, p)
		}
	}
}

var codeParts = regexp.MustCompile(`^([A-Z]\d+)(\.\d+)?([a-z])?$`)

// rowOf is the code of the row that a box of a bench table stands in.
func rowOf(code string) string {
	if m := codeParts.FindStringSubmatch(code); m != nil {
		return m[1]
	}
	return code
}

// A box of a bench table has its row's code at its left, its column's above it,
// and its letter in its corner or beside it; the pen has 7 × 9 mm of the cell or
// more.
func told(t *testing.T, texts []run, p Place) {
	m := codeParts.FindStringSubmatch(p.Box.Code)
	if !assert.NotNil(t, m, "no place for %s", p.Box.Code) {
		return
	}
	row, column, letter := false, m[2] == "", m[3] == ""
	left := p.X
	for _, x := range texts {
		middle := (x.top + x.foot) / 2
		level := middle > p.Y && middle < p.Y+p.H
		inside := level && x.left > p.X && x.left < p.X+p.W
		words := strings.Fields(x.text)
		row = row || x.bold && words[0] == m[1] && x.right < p.X && math.Abs(middle-p.Y) < 45
		column = column || x.bold && x.foot < p.Y && x.right > p.X && x.left < p.X+p.W && slices.Contains(words, m[2])
		letter = letter || words[0] == m[3] && level && (inside || x.right < p.X)
		if inside && strings.Trim(x.text, ".,") != "" {
			left = max(left, x.right)
		}
	}
	assert.True(t, row && column && letter, "%s is not told: row %v, column %v, letter %v", p.Box.Code, row, column, letter)
	assert.GreaterOrEqual(t, p.X+p.W-left, 7.0, "room to write in %s", p.Box.Code)
	assert.GreaterOrEqual(t, p.H, 8.999, "room to write in %s", p.Box.Code)
}

// cellsAt is where a box with its code there is written, among what is white on
// a page; none where the code stands for something else.
func cellsAt(white []box, code box, b *Box) (out []box) {
	const near = .6
	from := func(first box, gap float64) []box { // it and what goes on at its right
		row := []box{first}
		for _, c := range white {
			if math.Abs(c.top-first.top) < .01 && math.Abs(c.foot-first.foot) < .01 && c.left > first.left && c.left < row[len(row)-1].right+gap {
				row = append(row, c)
			}
		}
		return row
	}
	middle := func(b box) float64 { return (b.top + b.foot) / 2 }
	slices.SortFunc(white, func(a, b box) int { // boxes to tick by the line they stand in
		return cmp.Or(cmp.Compare(math.Abs(middle(a)-middle(code)), math.Abs(middle(b)-middle(code))), cmp.Compare(a.left, b.left))
	})
	for _, c := range white {
		tick := math.Abs(c.width()-5) < .01 && math.Abs(middle(c)-middle(code)) < 12
		switch b.Kind {
		case Tick: // before its code, or in a table's cell with it
			if tick && (c.left < code.left && code.left-c.right < 3 || code.left < c.left && c.left-code.left < 15) {
				return []box{c}
			}
		case Choice:
			if tick && c.left > code.left {
				if row := from(c, 60); len(row) >= min(2, len(b.Choices)) {
					return row[:min(len(row), len(b.Choices))]
				}
			}
		default:
			if code.left > c.left && code.right < c.right && code.top > c.top && code.foot < c.foot {
				return []box{c} // a table's
			}
			if c.top > code.foot && c.top < code.foot+12 && c.left > code.left-near && c.left < code.left+3+near && c.height() > 8 {
				if b.Kind != Number {
					return []box{c}
				}
				figures := b.Before + b.Decimals
				if b.Signed {
					figures++
				}
				if row := from(c, 3+near); len(row) >= figures {
					return row[:figures]
				}
			}
		}
	}
	return nil
}

// Every page's symbol, and that of the tag, is read by ZBar at 150 dpi.
func (d document) symbols(t *testing.T, pages []drawn) {
	if d.kind == 0 {
		return
	}
	prefix := filepath.Join(t.TempDir(), "p")
	tool(t, "pdftoppm", "-r", "150", "-gray", "-x", "0", "-y", "0", "-W", "1300", "-H", "240", d.file, prefix) // the head of each page
	var expected []string
	for _, n := range d.pages {
		expected = append(expected, codes.Page{Number: d.job.Number, Document: d.kind, Page: n}.Symbol())
	}
	for i, p := range pages {
		if slices.ContainsFunc(p.texts, func(x run) bool { return x.text == d.job.T(tagWords) }) {
			n := strconv.Itoa(i + 1)
			tool(t, "pdftoppm", "-r", "150", "-gray", "-f", n, "-l", n, "-singlefile", "-x", "0", "-y", "1000", "-W", "1300", "-H", "800", d.file, prefix+"-tag")
			expected = append(expected, codes.Page{Number: d.job.Number, Document: codes.Traveller, Page: 1}.Symbol())
		}
	}
	var seen []string
	digests := map[string]bool{}
	for _, text := range scanned(t, prefix) {
		p, err := codes.ParsePage(text)
		require.NoError(t, err)
		digests[p.Digest], p.Digest = true, "" // of a report, the same on every page
		seen = append(seen, p.Symbol())
	}
	require.ElementsMatch(t, expected, seen)
	require.Len(t, digests, 1)
	require.Equal(t, d.kind == codes.Report, !digests[""])
}

// scanned is what ZBar reads from pictures.
func scanned(t *testing.T, prefix string) []string {
	t.Helper()
	pictures, err := filepath.Glob(prefix + "*")
	require.NoError(t, err)
	return strings.Fields(tool(t, "zbarimg", append([]string{"--nodbus", "-q", "--raw", "-Sdisable", "-Sqrcode.enable"}, pictures...)...))
}

var (
	oneWord   = regexp.MustCompile(`\pL+`)
	verb      = regexp.MustCompile(`%(\[\d\])?[a-z]|\*\*`)
	dated     = regexp.MustCompile(`\d\d\.\d\d\.\d{4}`)
	code      = regexp.MustCompile(`^[A-Z]\d+\.\d+[a-z]?$`)
	withPoint = regexp.MustCompile(`\S*\d\.\d\S*`)
	withComma = regexp.MustCompile(`\S*\d,\d\S*`)
	// little are words that no English sentence does without, and no German one has.
	little = strings.Fields("the and of with is are when from by to for each at on it this that then than into below above must be")
)

// plain is a text's words alone, with a space on either side.
func plain(text string) string {
	return " " + strings.Join(oneWord.FindAllString(strings.ToLower(text), -1), " ") + " "
}

// englishOnly are the catalogue's English words that are no German ones, as they
// follow each other.
var englishOnly = sync.OnceValue(func() (out []string) {
	data, err := os.ReadFile("words/catalogue.yaml")
	var catalogue []map[string]string
	if err = errors.Join(err, yaml.Unmarshal(data, &catalogue)); err != nil {
		panic(err)
	}
	var german strings.Builder
	for _, e := range catalogue {
		german.WriteString(plain(verb.ReplaceAllString(e["de"], " ")))
	}
	for _, e := range catalogue {
		for _, part := range verb.Split(e["en"], -1) {
			if p := plain(part); len(p) > 6 && !strings.Contains(german.String(), p) {
				out = append(out, p)
			}
		}
	}
	return out
})

// near is a little of the text before a word and after it.
func near(text, word string) string {
	i := strings.Index(text, word)
	return strings.ToValidUTF8(text[max(i-60, 0):min(i+60, len(text))], "")
}

// Everything is said in the shop's language and with its decimal mark, but for
// what people typed. A § stands before a sentence that the catalogue lacks.
func (d document) said(t *testing.T) {
	text := tool(t, "pdftotext", "-raw", d.file, "-")
	require.NotContains(t, text, "§")
	typed := plain(d.typed)
	if d.job.Language() == "en" {
		for _, figure := range withComma.FindAllString(text, -1) {
			require.Contains(t, d.typed, strings.ToLower(figure))
		}
		return
	}
	if d.kind != codes.Report && len(d.pages) > 10 {
		require.Greater(t, len(withComma.FindAllString(text, -1)), 100)
	}
	for _, figure := range withPoint.FindAllString(dated.ReplaceAllString(text, ""), -1) {
		figure = strings.Trim(figure, ".,;:()")
		require.True(t, code.MatchString(figure) || strings.Contains(d.typed, strings.ToLower(figure)), "%q in %q", figure, near(text, figure))
	}
	page := plain(text)
	for _, p := range englishOnly() {
		if strings.Contains(page, p) {
			require.Contains(t, typed, p, "English")
		}
	}
	said := strings.Fields(page)
	for i := 1; i < len(said)-1; i++ {
		if slices.Contains(little, said[i]) {
			before, after := " "+said[i-1]+" "+said[i]+" ", " "+said[i]+" "+said[i+1]+" "
			require.True(t, strings.Contains(typed, before) || strings.Contains(typed, after), "English: … %s", strings.Join(said[max(0, i-4):min(len(said), i+5)], " "))
		}
	}
}

// However a page gives way, no step, caution or hold of a packet is lost.
func (d document) nothingLost(t *testing.T) {
	if d.kind == codes.Report || len(d.pages) <= 10 {
		return
	}
	page := plain(tool(t, "pdftotext", "-raw", d.file, "-"))
	printed := func(text string) {
		for _, words := range strings.Split(text, "**") {
			require.Contains(t, page, strings.TrimSpace(plain(words)))
		}
	}
	for _, s := range d.job.Stages {
		printed(s.Hold)
		for _, sh := range s.Sheets {
			for _, part := range sh.Parts {
				if do, ok := part.(Do); ok {
					for _, step := range do.Steps {
						printed(step.Text)
						printed(step.Caution)
					}
				}
			}
		}
	}
}

// A document has a title and a language, and every stage of it a bookmark.
func (d document) readAloud(t *testing.T) {
	info := tool(t, "pdfinfo", d.file)
	title := regexp.MustCompile(`Title: +(.*)`).FindStringSubmatch(info)
	require.NotNil(t, title)
	require.Contains(t, title[1], d.job.Number)
	require.Contains(t, tool(t, "mutool", "show", d.file, "trailer/Root/Lang"), map[string]string{"en": "en-GB", "de": "de-DE"}[d.job.Language()])
	outline := tool(t, "mutool", "show", d.file, "outline")
	if d.kind == codes.Report {
		require.Contains(t, outline, d.job.T("Result"))
		if len(d.pages) > 1 { // not in the short form
			require.Contains(t, outline, d.job.T("Record"))
		}
		return
	}
	require.Contains(t, outline, d.job.T("Cover"))
	for _, s := range d.job.Stages {
		if len(d.pages) > 10 || strings.Contains("HM", s.Letter) {
			require.Contains(t, outline, s.Letter+"  "+s.Title)
		}
	}
}

// An adjustment's page is read from top to bottom, and the text is drawn in that
// order: title, steps, what to measure, the chart, the refit, the sign-off.
func TestReadingOrder(t *testing.T) {
	for _, w := range []want{
		{demo: "saltmarsh", paper: "A4", language: "en"}, {demo: "saltmarsh", paper: "A4", language: "de"},
		{demo: "prairie", paper: "Letter", language: "en"}, {demo: "prairie", paper: "Letter", language: "de"},
	} {
		w.sides, w.holes = "one side", "two holes"
		j := jobOf(t, w)
		pdf, err := j.TravellerPages([]string{"G"})
		require.NoError(t, err)
		file := filepath.Join(t.TempDir(), "g.pdf")
		require.NoError(t, os.WriteFile(file, pdf, 0o644))
		a := j.Adjustments[slices.IndexFunc(j.Adjustments, func(a *Adjustment) bool { return a.Stage == "G" })]
		stage := j.Stages[slices.IndexFunc(j.Stages, func(s *Stage) bool { return s.Letter == "G" })]
		look, again := "Or read it off", "Changed, and measured again"
		if w.language == "de" {
			look, again = "Oder ablesen", "Geändert und nachgemessen"
		}
		order := []string{j.Number, stage.Sheets[0].Title, "1.", "2.", "3.", a.Measured.Code, a.Wanted.Code, look, again, a.Tries[0].Now.Code, a.Tries[2].Now.Code, stage.Done.Code, stage.Remarks.Code}
		for _, how := range [][]string{{file, "-"}, {"-raw", file, "-"}} {
			text := tool(t, "pdftotext", how...)
			if how[0] == file { // then columns are guessed, also where there are none
				text = strings.Replace(text, stage.Done.Code, "", 1)
				text = strings.Replace(text, stage.Remarks.Code, stage.Done.Code+" "+stage.Remarks.Code, 1)
			}
			at := 0
			for _, s := range order {
				i := strings.Index(text[at:], s)
				require.GreaterOrEqual(t, i, 0, "%v: %q not after what comes before it", w, s)
				at += i + len(s)
			}
		}
	}
}

func TestSameInputSameBytes(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		var before map[byte][]byte
		for range 2 {
			now := map[byte][]byte{}
			for kind, file := range documents(t, name) {
				data, err := os.ReadFile(file)
				require.NoError(t, err)
				now[kind] = data
			}
			for kind := range before {
				require.True(t, bytes.Equal(before[kind], now[kind]), "%s %c", name, kind)
			}
			before = now
		}
	}
}

// A half-typed job says so on every page of its report.
func TestIncompleteOnEveryPage(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	delete(typed, "M1")
	pdf, err := j.ReportPDF(j.Judge(read(t, j, typed)))
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", file, "-"), "\f"), "\f")
	for _, p := range pages {
		require.Contains(t, p, "INCOMPLETE")
	}
	require.NotContains(t, pages[0], "Meets its test sheet")
}

// What weakens a verdict is said beside it: invented figures, an instrument overdue
// on the last day signed, a sheet that nobody vouches for, which every sheet says.
func TestSaidBesideTheVerdict(t *testing.T) {
	base, typed := demoJob(t, "saltmarsh")
	files := slices.Clone(base.files[:])
	files[1].Data = []byte(strings.Replace(string(files[1].Data), "by: R.T., on: 2026-10-02", "by: nobody, on: 2026-10-02", 1))
	files[2].Data = []byte(strings.Replace(string(files[2].Data), "permissible error: 0.06 bar, calibration due: 2027-04-12", "permissible error: 0.06 bar, calibration due: 2026-10-08", 1))
	j, err := NewJob(base.Number, files[0], files[1], files[2])
	require.NoError(t, err)
	text := func(print func() ([]byte, error)) []string {
		pdf, err := print()
		require.NoError(t, err)
		file := filepath.Join(t.TempDir(), "x.pdf")
		require.NoError(t, os.WriteFile(file, pdf, 0o644))
		pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-raw", file, "-"), "\f"), "\f")
		for i, p := range pages {
			pages[i] = strings.Join(strings.Fields(p), " ")
		}
		return pages
	}
	report := text(func() ([]byte, error) { return j.ReportPDF(j.Judge(read(t, j, typed))) })
	require.Contains(t, report[0], "Invented figures: says nothing of any pump. Calibration overdue: pressure gauge. Nobody vouches for the sheet's figures.")
	for _, p := range text(j.Traveller)[1:] {
		require.Contains(t, p, "nobody vouches for it")
	}
	report = text(func() ([]byte, error) { return base.ReportPDF(base.Judge(read(t, base, typed))) })
	require.NotContains(t, report[0], "overdue")
	require.NotContains(t, report[0], "Nobody")
}

func BenchmarkTraveller(b *testing.B) {
	j, _ := demoJob(b, "saltmarsh")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := j.Traveller(); err != nil {
			b.Fatal(err)
		}
	}
}
