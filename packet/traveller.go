package packet

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"shimcard/layout"
	"shimcard/packet/codes"
	"shimcard/specs"
)

// notice is what every page of a demonstration says.
const notice = "INVENTED FIGURES, for demonstration: not for any pump on a bench"

func (j *Job) paper() layout.Paper { return paper(j.Shop) }

func paper(shop *specs.Shop) layout.Paper {
	if shop.Letter {
		return layout.Letter
	}
	return layout.A4
}

// frame is what every page of a document of this job carries; the symbols are
// the traveller's.
func (j *Job) frame(document string) layout.Frame {
	s := j.Spec.Pump
	f := layout.Frame{
		Over: j.Shop.Name + "  ·  " + document, PageOf: j.T("page %d of %d"), Continued: j.T("continued"),
		DecimalComma: j.Shop.DecimalComma, ThreeHoles: j.Shop.ThreeHoles, TwoSided: j.Shop.TwoSided,
	}
	if j.invented() {
		f.Notice = j.T(notice)
	}
	if j.blank() {
		f.Number, f.Rules = j.T("job no."), true
		f.Lines = []string{j.T("**%s**, %s, %d outlets,  serial", typed(s.Name), j.hand(), s.Outlets), j.T("customer")}
		return f
	}
	f.Number = j.Number
	pump := j.T("**%s**, %s, %d outlets,  serial **%s**", typed(s.Name), j.hand(), s.Outlets, typed(j.Intake.Pump.Serial))
	if j.longNames() {
		// What has no room on the line is cut off its end.
		pump = j.T("serial **%s**,  %s, %d outlets, **%s**", typed(j.Intake.Pump.Serial), j.hand(), s.Outlets, typed(s.Name))
	}
	f.Lines = []string{
		pump,
		typed(join(", ", j.Intake.Customer.Name, j.Intake.Customer.Reference)),
	}
	f.Symbol = func(page int) string {
		return codes.Page{Number: j.Number, Document: codes.Traveller, Page: page}.Symbol()
	}
	return f
}

// longNames tells that the pump's name and serial number together are too long
// for one line at its full size.
func (j *Job) longNames() bool {
	return utf8.RuneCountInString(j.Spec.Pump.Name)+utf8.RuneCountInString(j.Intake.Pump.Serial) > 50
}

// typed keeps two asterisks that somebody typed from being taken for bold type.
// A space that parts thousands is not one to break a line at.
func typed(s string) string {
	return thousands.ReplaceAllString(strings.ReplaceAll(s, "**", "*\u200a*"), "$1\u00a0$2")
}

var thousands = regexp.MustCompile(`(\d) (\d{3}\b)`)

// join joins what is not empty.
func join(sep string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, sep)
}

func (j *Job) vouched() string {
	v := j.Spec.Vouched
	if v.By == "" {
		return j.T("%s, nobody vouches for it", v.From)
	}
	return j.T("%s, vouched %s %s", v.From, v.By, j.Date(v.On))
}

// Traveller prints the packet: cover, then every stage's sheets.
func (j *Job) Traveller() ([]byte, error) { return j.document().Bytes() }

// TravellerPages prints some pages of the packet as they are in the whole one:
// those of stages by their letters, "cover", or pages by number, such as "12".
func (j *Job) TravellerPages(which []string) ([]byte, error) {
	d := j.printing(true)
	found := map[string]bool{}
	d.Only(func(p layout.PageInfo) bool {
		wanted := false
		for _, w := range which {
			here := w == strconv.Itoa(p.Number)
			for _, mark := range p.Marks {
				here = here || strings.EqualFold(strings.TrimRight(mark, "0123456789"), w)
			}
			found[w] = found[w] || here
			wanted = wanted || here
		}
		return wanted
	})
	pdf, err := d.Bytes()
	if err != nil {
		return nil, err
	}
	for _, w := range which {
		if !found[w] {
			letters := []string{"cover", symbolsKey}
			for _, s := range j.Stages {
				letters = append(letters, s.Letter)
			}
			return nil, fmt.Errorf("no page %q in this packet: write stages (%s) or page numbers from 1 to %d", w, strings.Join(letters, ", "), len(d.Pages()))
		}
	}
	return pdf, nil
}

func (j *Job) document() *layout.Doc { return j.printing(false) }

// printing lays the packet out; again is for pages of it printed once more,
// which say so and are each the front of a sheet.
func (j *Job) printing(again bool) *layout.Doc {
	frame := j.frame(j.T("Job traveller"))
	frame.Foot = j.T("Figures from: %s. The pump maker's test sheet has the last word.", j.vouched())
	meta := layout.Meta{
		Title: j.T("Job traveller %s", j.Number), Subject: j.T("%s serial %s", j.Spec.Pump.Name, j.Intake.Pump.Serial),
		Author: j.Shop.Name, Language: j.locale(), Date: j.Intake.Received,
	}
	if again {
		frame.Over, frame.TwoSided = frame.Over+"  ·  "+j.T("printed again"), false
	}
	if j.blank() {
		meta.Title, meta.Subject = j.T("Job traveller, blank"), j.Spec.Pump.Name
	} else {
		meta.Attachments = j.attachments(j.record().Files)
	}
	d := layout.New(j.paper(), meta, frame)
	if j.begun != nil {
		d, j.begun = j.begun.New(meta, frame), nil
	}
	var symbols layout.Section
	var packing sync.WaitGroup // beside the other sections
	if !j.blank() {
		packing.Go(func() {
			symbols = j.symbolSheet(j.record(), j.T("With the folder lost, this page makes it again: intake, spec and shop file, and so the same packet. It holds the customer's name and complaint: keep it as you keep the sheets."))
			symbols.NewPage = false // below the last sheet, where that leaves room
		})
	}
	d.Add(j.cover())
	if j.Shop.TwoSided {
		// The tag is cut from the cover: nothing to keep may stand behind it.
		d.Add(layout.Section{Key: "back", NewPage: true, Blocks: note(j.T("Left empty: the tag is cut from this sheet."))})
	}
	for k, s := range j.Stages {
		for i, sh := range s.Sheets {
			section := j.section(s, sh, i)
			section.NewPage = section.NewPage || k == 0 && i == 0 && j.Shop.TwoSided
			d.Add(section)
		}
	}
	if !j.blank() {
		packing.Wait()
		d.Add(symbols)
	}
	return d
}

// locale is the language of a document, for what reads it aloud or hyphenates it.
func (j *Job) locale() string { return map[string]string{"en": "en-GB", "de": "de-DE"}[j.Language()] }

// blank tells that the packet is for a job that has no number and no intake
// yet: there are spaces to write them in.
func (j *Job) blank() bool { return j.Number == "" }

// cover is the first page: what is known of the job, the stages, the tag.
func (j *Job) cover() layout.Section {
	if j.blank() {
		return j.blankCover()
	}
	in := j.Intake
	facts := [][]layout.Cell{
		fact(j.T("received"), j.T("%s by %s", j.Date(in.Received), in.By)),
		fact(j.T("customer"), join(", ", in.Customer.Name, in.Customer.Reference, in.Customer.Contact)),
		fact(j.T("pump"), j.T("%s, serial %s, %s, %d outlets", j.Spec.Pump.Name, in.Pump.Serial, j.hand(), j.Spec.Pump.Outlets)),
		fact(j.T("fitted"), j.equipmentWords()),
	}
	if in.Engine != "" {
		facts = append(facts, fact(j.T("engine"), in.Engine))
	}
	facts = append(facts,
		fact(j.T("complaint"), in.Complaint),
		fact(j.T("authorised"), join(", ", in.Authorised.Work, in.Authorised.Limit, in.Authorised.By)),
	)
	if len(in.Accessories) > 0 {
		facts = append(facts, fact(j.T("came with it"), strings.Join(in.Accessories, "; ")))
	}
	facts = append(facts, fact(j.T("test sheet"), j.vouched()))
	for _, n := range j.Spec.Notes {
		facts = append(facts, fact(j.T("note"), n))
	}
	named := 11.0
	if j.longNames() {
		named = 9
	}
	tag := layout.TearOff{Cut: j.T(tagWords), Blocks: []layout.Block{
		layout.Columns{Weights: []float64{3, 1}, Cols: [][]layout.Block{
			{
				layout.Para{Text: "**" + j.Number + "**", Size: 22},
				layout.Para{Text: j.T("**%s**, %s, serial **%s**", typed(j.Spec.Pump.Name), j.hand(), typed(in.Pump.Serial)), Size: named},
				layout.Para{Text: typed(join(", ", in.Customer.Name, in.Customer.Reference)) + "\n" + j.T("received %s", j.Date(in.Received))},
			},
			{layout.Symbol{Text: codes.Page{Number: j.Number, Document: codes.Traveller, Page: 1}.Symbol(), Size: 26, Level: "H"}},
		}},
	}}
	// Long names and complaints are set smaller, for the tag to stay on the first page.
	blocks := func(n int) []layout.Block {
		return slices.Concat(j.coverHead(), []layout.Block{layout.Table{Cols: []layout.Col{{Weight: 1}, {Weight: 7}}, Rows: facts, Size: max(9.5-float64(n), 6.5)}}, j.stageList(6.5-0.35*float64(n)))
	}
	return layout.Section{Key: "cover", Bookmark: j.T("Cover"), NewPage: true, Blocks: blocks(0), Foot: tag, Shortest: 4, Shorter: blocks}
}

const tagWords = "cut here: tag for the pump"

func fact(name, value string) []layout.Cell {
	return []layout.Cell{{Text: name, Grey: true}, {Text: typed(value)}}
}

func (j *Job) coverHead() []layout.Block {
	return []layout.Block{layout.Band{Mark: "✓", Title: j.T("Injection pump overhaul"), Purpose: j.T("This packet goes with the pump through every stage. Write with a pen; what is written is typed back for the report. Wrong, or counted again: strike it through, the new figure beside it. Thick frames are worked out from the others; the computer checks them.")}}
}

// blankCover has spaces for what the intake would say, for the day the computer
// is down.
func (j *Job) blankCover() layout.Section {
	space := func(label string, width float64) layout.Pen {
		return layout.Pen{Label: j.T(label), Kind: layout.PenLine, Width: width}
	}
	blankNote := layout.Para{Text: j.T("Blank packet: no job yet. Give the pump its number when the computer is back, with an intake of these facts, and write it on every page; the boxes are those of any packet for this pump."), Size: 8.5, Grey: true}
	facts := []layout.Block{
		layout.PenRow{Pens: []layout.Pen{space("received on", 35), space("received by", 20), space("customer's reference", 50), space("contact", 55)}},
		layout.PenRow{Pens: []layout.Pen{space("engine", 70), space("authorised: what work", 95)}},
		layout.PenRow{Pens: []layout.Pen{space("complaint", 170)}},
		layout.PenRow{Pens: []layout.Pen{space("came with it", 90), space("authorised up to", 32), space("by whom", 38)}},
	}
	known := layout.Table{Cols: []layout.Col{{Weight: 1}, {Weight: 7}}, Size: 9.5, Rows: [][]layout.Cell{
		fact(j.T("pump"), j.T("%s, %s, %d outlets; the plate must say the same", j.Spec.Pump.Name, j.hand(), j.Spec.Pump.Outlets)),
		fact(j.T("fitted"), j.equipmentWords()), fact(j.T("test sheet"), j.vouched())}}
	// What a short page has no room for is given up.
	blocks := func(n int) []layout.Block {
		out := j.coverHead()
		if n == 0 {
			out = append(out, blankNote)
		}
		out = append(out, facts...)
		if n < 2 {
			out = append(out, known)
		}
		return append(out, j.stageList(6.5)...)
	}
	tag := layout.TearOff{Cut: j.T(tagWords), Blocks: []layout.Block{
		layout.Para{Text: j.T("**%s**, %s", typed(j.Spec.Pump.Name), j.hand()), Size: 11},
		layout.PenRow{Pens: []layout.Pen{space("job number", 50), space("serial number", 50), space("customer", 60)}},
	}}
	return layout.Section{Key: "cover", Bookmark: j.T("Cover"), NewPage: true, Blocks: blocks(0), Foot: tag, Shortest: 2, Shorter: blocks}
}

// stageList is where each stage is, to be initialled when it is closed, in rows
// of that height, mm.
func (j *Job) stageList(row float64) []layout.Block {
	stages := [][]layout.Cell{}
	for _, s := range j.Stages {
		hold := ""
		if s.Hold != "" {
			hold = j.T("hold: %s", firstSentence(s.Hold))
		}
		stages = append(stages, []layout.Cell{
			{Text: s.Letter, Bold: true}, {Text: s.Title}, {PageOf: s.Letter}, {Text: s.Done.Code, Grey: true}, {Text: ""}, {Text: hold, Grey: true},
		})
	}
	return []layout.Block{
		layout.Heading{Text: j.T("Stages"), Right: j.T("initials here when a stage is closed")},
		layout.Table{Cols: []layout.Col{{Head: "", Weight: .4}, {Head: j.T("stage"), Weight: 3}, {Head: j.T("page"), Weight: .6, Align: "R"}, {Head: j.T("box"), Weight: .6}, {Head: j.T("done by"), Weight: 1.2}, {Head: "", Weight: 4}}, Rows: stages, RowHeight: row},
	}
}

func (j *Job) equipmentWords() string {
	e := j.Spec.Equipment
	out := j.all("cover plate, no cold-start device", "no boost capsule", "no shut-off solenoid", "stroke start by plunger depth")
	if e.ColdStartDevice {
		out[0] = j.T("cold-start device")
	}
	if e.BoostCapsule {
		out[1] = j.T("boost capsule")
	}
	if e.ShutOffSolenoid != "" {
		out[2] = j.T("shut-off solenoid %s", j.Mark(e.ShutOffSolenoid))
	}
	if e.PreStroke {
		out[3] = j.T("stroke start by pre-stroke")
	}
	return strings.Join(out, "; ")
}

// section draws one sheet of a stage; the last one carries the sign-off.
func (j *Job) section(s *Stage, sh *Sheet, i int) layout.Section {
	out := layout.Section{Key: s.Letter, NewPage: slices.ContainsFunc(sh.Parts, charted) || i == 0 && strings.Contains("CM", s.Letter)}
	if i == 0 {
		out.Bookmark = s.Letter + "  " + s.Title
	} else {
		out.Key = fmt.Sprint(s.Letter, i+1)
	}
	last := i == len(s.Sheets)-1
	blocks := func(less int) []layout.Block {
		out := j.sheetBlocks(s, sh, less)
		if last && s.Second != nil {
			out = append(out, layout.Caution{Text: j.T("Hold. %s", s.Hold)})
		}
		return out
	}
	out.Blocks = blocks(0)
	most := 2 // its instructions in smaller type
	if slices.ContainsFunc(sh.Parts, givesWay) {
		most = shortest
	}
	out.Shortest, out.LastLeast, out.Shorter = most/2, !slices.ContainsFunc(sh.Parts, turned), func(n int) []layout.Block { return blocks(2 * n) }
	if last {
		fields := []layout.Pen{pen(s.Done)}
		if s.Second != nil {
			fields = append(fields, pen(s.Second))
		}
		fields = append(fields, pen(s.When))
		tick := j.T("job closed")
		if s.Next != "" {
			tick = j.T("all done, on to %s", s.Next)
		}
		for _, a := range j.Adjustments {
			if a.Stage != s.Letter {
				continue
			}
			tick = j.T("inside the zone to keep, on to %s", s.Next)
			if a.Total != nil {
				tick = j.T("in its zone, or by M's total; on to %s (sent back: L)", s.Next)
				break
			}
		}
		out.Foot = layout.SignOff{Fields: append(fields, pen(s.Remarks)), Tick: tick}
	}
	return out
}

// givesWay tells that a part is shorter on a page that is short of room.
func givesWay(p Part) bool {
	switch p.(type) {
	case Lookup, Free, Grid, Grids, AsYouGo:
		return true
	}
	return false
}

// charted tells that a part takes what a page of its own has room for.
func charted(p Part) bool { _, ok := p.(Lookup); return ok }

// turned tells that a part is a chart of turns: where that has fewer columns, its type
// is larger, and it is not always lower.
func turned(p Part) bool {
	l, ok := p.(Lookup)
	return ok && l.Adjustment.Dim.Thread != nil
}

// shortest is the most chart lines that a sheet gives up to stay on one page.
const shortest = 12

// sheetBlocks draws a sheet, its chart less lines shorter than there is room for
// on an emptier page, and its instructions in smaller type.
func (j *Job) sheetBlocks(s *Stage, sh *Sheet, less int) []layout.Block {
	out := []layout.Block{layout.Band{Mark: s.Letter, Title: sh.Title, Purpose: sh.Purpose, RightTop: sh.Figure, RightBottom: sh.Limits, Under: sh.Zone}}
	for _, p := range sh.Parts {
		out = append(out, j.draw(s, p, less)...)
	}
	return out
}

// pen is how a box is drawn.
func pen(b *Box) layout.Pen {
	p := layout.Pen{Code: b.Code, Label: b.Label, Computed: b.From != nil}
	switch b.Kind {
	case Number:
		p.Kind, p.Before, p.After, p.Sign, p.Unit = layout.PenFigures, b.Before, b.Decimals, b.Signed, b.Printer.Unit(b.Unit.Symbol)
	case Tick:
		p.Kind = layout.PenTick
	case Choice:
		p.Kind, p.Choices = layout.PenChoice, b.answers()
	case Initials:
		p.Kind = layout.PenInitials
	case Date:
		p.Kind, p.Width = layout.PenDate, 30
	default:
		p.Kind, p.Lines = layout.PenLine, b.Lines
	}
	return p
}

// penShort is a box in a row of arithmetic.
func penShort(b *Box) layout.Pen {
	p := pen(b)
	if b.Short != "" {
		p.Label = b.Short
	}
	return p
}

func pens(boxes []*Box) []layout.Pen {
	var out []layout.Pen
	for _, b := range boxes {
		out = append(out, pen(b))
	}
	return out
}

func heading(text, right string) []layout.Block {
	if text == "" {
		return nil
	}
	return []layout.Block{layout.Heading{Text: text, Right: right}}
}

func note(text string) []layout.Block {
	if text == "" {
		return nil
	}
	return []layout.Block{layout.Para{Text: text, Size: 8.5, Grey: true}}
}

// rule is what one works by, below a chart, and what explains it.
func rule(text, more string) []layout.Block {
	return []layout.Block{layout.Para{Text: join(" ", "**"+text+"**", more), Size: 8.5}}
}

// draw turns one part of a sheet into blocks.
func (j *Job) draw(s *Stage, part Part, less int) []layout.Block {
	switch p := part.(type) {
	case Do:
		return j.drawDo(s, p, less)
	case Write:
		return []layout.Block{layout.Group{Blocks: append(append(heading(p.Heading, j.readWith(p.Boxes)), note(p.Note)...), layout.PenRow{Pens: pens(p.Boxes)})}}
	case Decide:
		return append(append(heading(p.Heading, ""), note(p.Note)...), layout.TickList{Pens: pens(p.Boxes), Columns: p.Columns})
	case WorkOut:
		out := append(heading(p.Heading, j.readWith(p.boxes())), note(p.Note)...)
		if len(p.Readings) > 0 {
			out = append(out, layout.PenRow{Pens: pens(p.Readings)})
		}
		return append(append(out, arith(p.Results)...), note(p.Worked)...)
	case Note:
		return note(p.Text)
	case Pictures:
		var cols [][]layout.Block
		for _, d := range p.Drawings {
			cols = append(cols, []layout.Block{d.figure(j.Printer, j.Spec, "")})
		}
		return append(heading(p.Heading, ""), layout.Columns{Cols: cols})
	case Free:
		const line, least = 4.6, 20 // mm: of a chart, and of what is of use
		if p.Height-line*float64(less) < least {
			return nil
		}
		return []layout.Block{layout.Boxed{Blocks: append(note(p.Heading), layout.Space{H: p.Height - line*float64(less)})}}
	case Advice:
		return append(append(heading(p.Heading, ""), note(p.Note)...), p.table(), layout.Group{Blocks: []layout.Block{layout.Para{Text: p.Foot, Size: 8.5, Bold: true}}})
	case Handover:
		return j.handover(p)
	case AsYouGo:
		if less > 0 {
			return nil
		}
		return append(heading(p.Heading, ""), p.grid())
	case Lookup:
		return p.Adjustment.lookup(less)
	case Refit:
		return p.Adjustment.refit()
	case Table:
		return j.drawTable(p)
	case Factors:
		c := layout.Chart{Corner: p.Corner, Head: p.Head, Rows: []layout.ChartRow{{Head: p.Name}}}
		for _, x := range p.Cells {
			c.Rows[0].Cells = append(c.Rows[0].Cells, layout.ChartCell{Text: x})
		}
		return append(append(heading(p.Heading, ""), c), note(p.Note)...)
	case Grid:
		return []layout.Block{p.sketch(less)}
	case Grids:
		if less > mostLessSketched {
			return nil
		}
		var cols [][]layout.Block
		for _, g := range p {
			cols = append(cols, []layout.Block{g.sketch(less)})
		}
		return []layout.Block{layout.Columns{Cols: cols}}
	}
	panic(fmt.Sprintf("part %T is not drawn", part))
}

// mostLessSketched is by how many chart lines a page may be short before the
// sketches beside each other go: the report plots the same.
const mostLessSketched = 8

// sketch gives up some of its height, less chart lines.
func (g Grid) sketch(less int) layout.Block {
	const line, least = 2.5, 30 // mm
	step := math.Pow10(int(math.Floor(math.Log10(g.YMax))))
	return layout.SketchGrid{Title: g.Heading, XLabel: g.X, YLabel: g.Y, XMax: curveMax(g.XMax*1.03, 500), YMax: curveMax(g.YMax*1.1, step), Limits: bars(g.Bars), Height: max(g.Height-line*float64(less), least)}
}

// readWith names the instruments that read some boxes, with the shop's numbers.
func (j *Job) readWith(boxes []*Box) string {
	var out []string
	for _, b := range boxes {
		name := nameWord(j.Printer, b.Instrument)
		if i := j.Shop.Instrument(b.Instrument); i != nil {
			name += " " + i.Number
		}
		if name != "" && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return strings.Join(out, ", ")
}

// UnknownInstruments names the instruments the sheets ask for and the shop file
// lacks, in sheet order.
func (j *Job) UnknownInstruments() []string {
	var out []string
	for _, b := range j.Boxes() {
		if b.Instrument == "" || b.Kind != Number || slices.Contains(out, b.Instrument) {
			continue
		}
		if i := j.Shop.Instrument(b.Instrument); i == nil || i.Permissible.Unit.Kind != b.Unit.Kind {
			out = append(out, b.Instrument)
		}
	}
	return out
}

func bars(in []Bar) (out []layout.LimitBar) {
	for _, b := range in {
		out = append(out, layout.LimitBar(b))
	}
	return out
}

func (j *Job) drawDo(s *Stage, p Do, less int) []layout.Block {
	steps := layout.Steps{After: p.From}
	if less > 0 {
		steps.Size = 9
	}
	for _, st := range p.Steps {
		steps.Items = append(steps.Items, layout.Step(st))
	}
	if len(p.Steps) == 0 {
		return nil
	}
	if p.Drawing == "" {
		return append(heading(p.Heading, ""), steps)
	}
	code := ""
	for _, a := range j.Adjustments {
		if practices[a.Dim.Name].drawing == p.Drawing {
			code = a.Measured.Code
		}
	}
	return []layout.Block{layout.Columns{Weights: []float64{1.25, 1}, Cols: [][]layout.Block{{steps}, {p.Drawing.figure(j.Printer, j.Spec, code)}}}}
}

// arith draws worked-out boxes with their linear formulas. A result that the
// next formula begins with is not drawn again: the row goes on from it.
func arith(results []*Box) (rows []layout.Block) {
	var a layout.Arith
	for i, b := range results {
		f := b.From
		terms := f.Terms
		if i > 0 && f.Const <= 0 && terms[0].Box == results[i-1] && terms[0].Factor > 0 {
			terms = terms[1:]
		} else {
			if i > 0 {
				rows, a = append(rows, a), layout.Arith{}
			}
		}
		divide := math.Abs(1 / f.Terms[0].Factor)
		fixed := layout.Term{Fixed: b.Fixed(math.Abs(f.Const)*divide, b.Decimals), Label: f.Constant}
		first := len(a.Terms)
		if f.Const > 0 {
			a.Terms = append(a.Terms, fixed)
		}
		for _, t := range terms {
			q := penShort(t.Box)
			q.Computed, q.Unit = t.Box.From != nil && (t.Box.From.Op != Linear || len(t.Box.From.Terms) > 1), ""
			sign := ""
			if len(a.Terms) > 0 {
				sign = "+"
			}
			if t.Factor < 0 {
				sign = "−"
			}
			a.Terms = append(a.Terms, layout.Term{Sign: sign, Pen: &q})
		}
		if f.Const < 0 {
			fixed.Sign = "−"
			a.Terms = append(a.Terms, fixed)
		}
		if f.By != "" {
			by := layout.Term{Sign: "÷", Fixed: f.By, Label: f.Divisor}
			if len(a.Terms) > first+1 {
				a.Terms[first].Sign = strings.TrimSpace("( " + a.Terms[first].Sign)
				by.Sign = ") ÷"
			}
			a.Terms = append(a.Terms, by)
		}
		q := penShort(b)
		if i < len(results)-1 {
			q.Unit = ""
		}
		a.Terms = append(a.Terms, layout.Term{Sign: "=", Pen: &q})
	}
	return append(rows, a)
}

// refit draws the rows of fitting and measuring again.
func (a *Adjustment) refit() []layout.Block {
	t := layout.PenTable{Cols: []layout.PenCol{{Head: "", Weight: .7}}}
	unit := a.Dim.Unit.Symbol
	for _, b := range a.Tries[0].boxes() {
		c := layout.PenCol{Head: b.Label, Weight: 1, MinWidth: 20}
		switch b {
		case a.Tries[0].Expected:
			c.Sub = a.expectedWords()
		case a.Tries[0].Now:
			c.Sub = a.T("%s: done", a.zone())
			if a.Total != nil {
				c.Sub = a.T("%s, or as near M's total: done", a.zone())
			}
		}
		switch {
		case b == a.Tries[0].What:
			c.Weight = 3
		case b.Unit.Symbol != unit:
			unit = ""
		}
		t.Cols = append(t.Cols, c)
	}
	for i, try := range a.Tries {
		row := layout.PenTableRow{Cells: []layout.PenCell{{Text: []string{a.T("first try"), a.T("second try"), a.T("third try")}[i], Bold: true}}}
		for _, b := range try.boxes() {
			q := pen(b)
			q.Label, q.Unit = "", ""
			row.Cells = append(row.Cells, layout.PenCell{Pen: &q})
		}
		t.Rows = append(t.Rows, row)
	}
	title := a.T("Changed, and measured again")
	if unit != "" {
		title = a.T("Changed, and measured again, %s", unit)
	}
	first := a.Tries[0]
	again := a.T("“%s” outside: once more; third try outside: stop, ask.", first.Now.Label)
	switch {
	case a.Total != nil:
		again = a.T("“%s” outside, or wrongly split: once more; third try outside: stop, ask.", first.Now.Label)
	case a.Dim.Thread != nil:
		again = join(" ", a.T("“%s” outside: do not turn, work it out again. Lock nut to its torque, then measure.", first.Expected.Label), again)
	case first.Expected != nil:
		again = join(" ", a.T("“%s” outside: do not fit, work it out again.", first.Expected.Label), again)
	}
	return append(heading(title, a.T("no line free: fresh page from the office, traveller new --pages %s", a.Stage)), append(rule(again, ""), t)...)
}

// expectedWords says how a pen works out what a refit should read.
func (a *Adjustment) expectedWords() string {
	d := a.Dim
	switch {
	case d.Thread != nil && d.Thread.OutGrows:
		return a.T("last reading + turns × pitch")
	case d.Thread != nil:
		return a.T("last reading − turns × pitch")
	case d.Effect == 1:
		return a.T("last reading + fitted − out")
	case d.Effect == -1:
		return a.T("last reading − fitted + out")
	}
	return a.T("last reading + (fitted − out) × %s", a.Fixed(d.Effect, 2))
}

// drawTable draws a bench table.
func (j *Job) drawTable(p Table) []layout.Block {
	if len(p.Rows) == 0 {
		return nil
	}
	var t layout.PenTable
	n := len(p.Rows[0].Before)
	longest := func(word func(TableRow) string) float64 {
		n := 0
		for _, r := range p.Rows {
			for line := range strings.SplitSeq(word(r), "\n") {
				n = max(n, len([]rune(line)))
			}
		}
		most := 4.0
		if len(p.Rows[0].Boxes) > 2 {
			most = 1.1 // words wrap before pen cells get narrow
			if p.Told {
				most = 2 // where the cells are as narrow as they may be
			}
		}
		return min(max(float64(n)/11, .7), most)
	}
	for i, c := range p.Columns {
		col := layout.PenCol{Head: c, Weight: 1}
		switch k := i - n; {
		case k < 0:
			col.Weight = longest(func(r TableRow) string { return r.Before[i] })
		case k < len(p.Rows[0].Boxes):
			col.MinWidth = 11
			if b := p.Rows[0].Boxes[k]; b != nil && b.Kind == Text {
				col.Weight = 5
			}
			if !slices.ContainsFunc(p.Rows, func(r TableRow) bool { return r.Boxes[k] != nil }) {
				col.MinWidth, col.Weight = 0, .3
			}
		default:
			col.Weight = 1.4
		}
		t.Cols = append(t.Cols, col)
	}
	for _, r := range p.Rows {
		var cells []layout.PenCell
		for i, w := range r.Before {
			cells = append(cells, layout.PenCell{Text: w, Bold: i == 0})
		}
		for k, b := range r.Boxes {
			if b == nil {
				cells = append(cells, layout.PenCell{Text: r.Fill[k], Bold: len(r.Fill[k]) == 1}) // a letter that tells the row
				continue
			}
			q := pen(b)
			q.Label, q.Unit = b.Short, ""
			cells = append(cells, layout.PenCell{Pen: &q, Told: p.Told})
		}
		for _, w := range r.After {
			main, sub, _ := strings.Cut(w, "\n")
			cells = append(cells, layout.PenCell{Text: main, Sub: sub})
		}
		t.Rows = append(t.Rows, layout.PenTableRow{Cells: cells, Keep: r.Keep})
	}
	return append(append(heading(p.Heading, j.readWith(p.boxes())), note(p.Note)...), t)
}

// handover lists what came with the pump, to be ticked as it goes back; a blank
// packet has lines for it.
func (j *Job) handover(p Handover) []layout.Block {
	var list []layout.Pen
	for _, what := range append(slices.Clone(j.Intake.Accessories), p.Also...) {
		list = append(list, layout.Pen{Kind: layout.PenTick, Label: typed(what)})
	}
	out := append(heading(p.Heading, ""), layout.TickList{Pens: list, Columns: 2})
	if j.blank() {
		out = append(out, layout.PenRow{Pens: []layout.Pen{{Label: j.T("came with it"), Kind: layout.PenLine, Lines: 2}}})
	}
	return out
}

// grid draws what to tick in turn.
func (p AsYouGo) grid() layout.PenTable {
	t := layout.PenTable{Cols: []layout.PenCol{{Weight: 3}}}
	for _, c := range p.Columns {
		t.Cols = append(t.Cols, layout.PenCol{Head: typed(c)})
	}
	for _, r := range p.Rows {
		row := layout.PenTableRow{Cells: []layout.PenCell{{Text: typed(r)}}}
		for range p.Columns {
			row.Cells = append(row.Cells, layout.PenCell{Pen: &layout.Pen{Kind: layout.PenTick}})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// table draws what to do when something is out.
func (p Advice) table() layout.Table {
	t := layout.Table{Size: 7.7, Cols: []layout.Col{{Weight: 1}, {Weight: 4}}}
	for _, r := range p.Rows {
		t.Rows = append(t.Rows, []layout.Cell{{Text: r[0], Bold: true}, {Text: r[1]}})
	}
	return t
}

func firstSentence(s string) string {
	if i := strings.Index(s, ". "); i > 0 {
		return s[:i+1]
	}
	return s
}
