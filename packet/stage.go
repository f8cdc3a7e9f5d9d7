package packet

import (
	"fmt"
	"math"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Stage is one lettered stage of the job.
type Stage struct {
	Letter string
	Title  string
	Sheets []*Sheet
	// Remarks, Done and When close the stage; Second is the other person's
	// signature where the stage holds the job, and Hold says what waits for it.
	Remarks, Done, When, Second *Box
	Hold                        string
	Next                        string // letter of the following stage, "" for the last

	listed []*Box
}

// Sheet is one page's worth of a stage: a band, then its parts in order.
type Sheet struct {
	Title, Purpose string
	Figure         string // large at the right of the band: the target
	Limits         string // small below it
	Zone           string // in which readings the dimension is kept, and why
	Parts          []Part
}

// Part is one thing on a sheet.
type Part interface{ boxes() []*Box }

// Do is a list of numbered instructions, beside a drawing where one helps.
type Do struct {
	Heading string
	Steps   []Step
	From    int // steps of the list that stand above
	Drawing Drawing
}

// Step is one instruction, with the caution that belongs to it.
type Step struct{ Text, Caution string }

// Write is a row of boxes to write into.
type Write struct {
	Heading string
	Note    string
	Boxes   []*Box
}

// Decide is a list of ticks and choices.
type Decide struct {
	Heading string
	Note    string
	Columns int
	Boxes   []*Box
}

// WorkOut is rows of arithmetic, one drawn from the formula of each result.
type WorkOut struct {
	Heading  string
	Note     string
	Readings []*Box // to be written first, in a row of their own
	Boxes    []*Box // those first met in the arithmetic: the results, and what they need besides
	Results  []*Box
	Worked   string // the same with sample figures, computed
}

// Lookup is a chart that answers the same question as the arithmetic above it.
type Lookup struct{ Adjustment *Adjustment }

// Pictures are drawings side by side, to mark on.
type Pictures struct {
	Heading  string
	Drawings []Drawing
}

// Free is an empty frame, to sketch or write in what stays on paper. It gives
// way where the sheet is short of room.
type Free struct {
	Heading string
	Height  float64 // mm, on A4
}

// AsYouGo is a grid to tick of what is done to one after another, a column each.
// It has no boxes, and goes where the sheet is short of room.
type AsYouGo struct {
	Heading       string
	Columns, Rows []string
}

// Note is a line of small print, none when empty.
type Note struct{ Text string }

// Refit is the rows of fitting and measuring again.
type Refit struct{ Adjustment *Adjustment }

// Table is a bench table: a row for each point, a cell to write into for each
// outlet or reading.
type Table struct {
	Heading string
	Note    string
	Columns []string // a second line in small type after a line break
	Rows    []TableRow
	Told    bool // rows and columns tell the codes of the boxes, which leave the pen all of the cell
}

// TableRow is printed words, then boxes, then printed words. A nil box is an
// empty place, or a printed word of Fill.
type TableRow struct {
	Before []string
	Boxes  []*Box
	Fill   map[int]string // by the place among Boxes
	After  []string
	Keep   bool // the next row goes on with it
}

// Advice is what to do when something is out: of each thing what to look at, in
// this order, and what is run again.
type Advice struct {
	Heading, Note string
	Rows          [][2]string
	Foot          string
}

// Handover is a list to tick of what goes back with the pump: what came with it,
// and Also. It has no boxes.
type Handover struct {
	Heading string
	Also    []string
}

// Factors is one printed line of factors to multiply by.
type Factors struct {
	Heading, Note string
	Corner, Name  string
	Head, Cells   []string
}

// Grids are grids side by side.
type Grids []Grid

// Grid is squared paper with printed limit bars, to sketch a curve by hand.
type Grid struct {
	Heading, X, Y      string
	XMax, YMax, Height float64 // Height in mm
	Bars               []Bar
}

// Bar is a printed pair of limits at X; an open end is ±Inf.
type Bar struct{ X, Low, High float64 }

func (p Do) boxes() []*Box       { return nil }
func (p Advice) boxes() []*Box   { return nil }
func (Handover) boxes() []*Box   { return nil }
func (AsYouGo) boxes() []*Box    { return nil }
func (p Write) boxes() []*Box    { return p.Boxes }
func (p Decide) boxes() []*Box   { return p.Boxes }
func (p Lookup) boxes() []*Box   { return nil }
func (p Note) boxes() []*Box     { return nil }
func (p Pictures) boxes() []*Box { return nil }
func (p Free) boxes() []*Box     { return nil }
func (p Grid) boxes() []*Box     { return nil }
func (p Grids) boxes() []*Box    { return nil }
func (p Factors) boxes() []*Box  { return nil }
func (p Refit) boxes() []*Box {
	var out []*Box
	for _, t := range p.Adjustment.Tries {
		out = append(out, t.boxes()...)
	}
	return out
}

func (p WorkOut) boxes() []*Box { return append(append([]*Box(nil), p.Readings...), p.Boxes...) }
func (p Table) boxes() []*Box {
	var out []*Box
	for _, r := range p.Rows {
		for _, b := range r.Boxes {
			if b != nil {
				out = append(out, b)
			}
		}
	}
	return out
}

// Boxes lists every box of the stage in sheet order.
func (s *Stage) Boxes() []*Box { return s.listed }

func (s *Stage) list() []*Box {
	var out []*Box
	for _, sh := range s.Sheets {
		for _, p := range sh.Parts {
			out = append(out, p.boxes()...)
		}
	}
	for _, b := range []*Box{s.Done, s.Second, s.When, s.Remarks} {
		if b != nil {
			out = append(out, b)
		}
	}
	return out
}

// Adjustment is one static dimension in this job: its boxes and what they do.
type Adjustment struct {
	words.Printer
	Dim   *specs.Dimension
	Stage string
	Stock []int // of each tray size, as the shop file says; nil: not counted
	// Low and High bound the zone in which nothing need change, and Aim is what
	// a change aims at in it: see guard. Uncertainty is that of one reading, 0
	// when not known; Coarse tells that it leaves no zone.
	Low, High, Aim, Uncertainty calc.Length
	Coarse                      bool
	Apart                       calc.Length // how far two stacks may differ and be of one size
	Gauge                       string      // that oil is fed under, as the shop calls it
	Reach                       calc.Length // how far from its target the timing run can ask a pack to be; 0: not known
	// Out holds the thickness taken out at the strip, one box a place.
	Out      []*Box
	Repeats  []*Box // the readings; one is Measured itself
	Measured *Box
	Block    *Box   // size of the spacer block, where the spec does not say
	Alike    []*Box // the stacks once they were made alike, one a place; nil where there is one place
	Present  *Box   // what was in at the reading: taken out, or made alike
	Total    *Box   // of a pack: the total wanted, where the timing run asks for another
	Change   *Box   // nil for a pack
	Wanted   *Box   // shim wanted in one place; turns for a thread
	Tries    []*Try
	charts
}

// Try is one refit: what was fitted, what the dimension should then read, what it reads.
type Try struct {
	What     *Box   // what was changed, where neither shims nor a thread do it
	Fitted   []*Box // one a place
	Expected *Box   // nil where nothing predicts it
	Blades   []*Box // of a bracket: the one that goes, the one that does not
	Now      *Box
}

func (t *Try) boxes() []*Box {
	out := append([]*Box(nil), t.Fitted...)
	if t.What != nil {
		out = append(out, t.What)
	}
	if t.Expected != nil {
		out = append(out, t.Expected)
	}
	return append(append(out, t.Blades...), t.Now)
}

// Reading is one bench value with limits.
type Reading struct {
	Name string
	Spec *specs.SpeedPoint
	Box  *Box
	// Of a timing travel: the same speed reached from above, and the supply
	// pressure there.
	Down, Pressure *Box
}

// Run is one bench run: as found at stage B, or the final one.
type Run struct {
	Stage       string
	Temperature *Box
	Inlet       *Box
	// At the end of the run; nil at stage B.
	TemperatureEnd *Box
	Pressure       []*Reading // by speed, as Travel
	Travel         []*Reading
	Points         []*Point
	RunOut         []*RunOut
	NoLoad         *Box // speed, where the droop is asked for
	Droop          *Box
	ReturnFlow     *Reading
	Screw          []*ScrewPlace // of the full-load screw, as tried one after another
	ScrewLeft      *Box          // where it was locked, in turns
}

// ScrewPlace is one place of the full-load screw, in turns, and what it delivers
// there; from the second on, the turns still wanted from this and the one before.
type ScrewPlace struct{ At, Mean, Wanted *Box }

// RunOut is one run-out speed, worked out from the steps counted.
type RunOut struct {
	Spec *specs.RunOut
	Box  *Box
}

// builder numbers the boxes of one stage in the order they are declared.
type builder struct {
	*Plan
	stage *Stage
	n     int
}

// build begins a stage; its title, like the words of its sheets, steps, ticks and
// choices, is a sentence of the catalogue. Labels are in the shop's language.
func (p *Plan) build(letter, title string) *builder {
	return &builder{Plan: p, stage: &Stage{Letter: letter, Title: p.T(title)}}
}

func (b *builder) code() string {
	b.n++
	return fmt.Sprintf("%s%d", b.stage.Letter, b.n)
}

func (b *builder) sheet(title, purpose string) *Sheet {
	s := &Sheet{Title: b.T(title), Purpose: b.T(purpose)}
	b.stage.Sheets = append(b.stage.Sheets, s)
	return s
}

// step is an instruction with its caution, "" for none; the verbs are the
// instruction's.
func (b *builder) step(sentence, caution string, a ...any) Step {
	return Step{b.T(sentence, a...), b.T(caution)}
}

// all are sentences of the catalogue, each on its own.
func (p *Plan) all(sentences ...string) []string {
	var out []string
	for _, s := range sentences {
		out = append(out, p.T(s))
	}
	return out
}

func (s *Sheet) add(p ...Part) { s.Parts = append(s.Parts, p...) }

// number declares a box for a figure; low and high are what is believable.
func (b *builder) number(label string, unit calc.Unit, decimals int, low, high float64) *Box {
	// The window is widened to figures that can be written in the box.
	step := math.Pow10(-decimals)
	low, high = math.Floor(low/step+1e-9)*step, math.Ceil(high/step-1e-9)*step
	return &Box{Printer: b.Printer, Code: b.code(), Label: label, Kind: Number, Unit: unit, Decimals: decimals, Low: low, High: high,
		Before: max(cellsBefore(finite(low)), cellsBefore(finite(high)))}
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return 0
	}
	return x
}

// length declares a box for a dimension or a shim of it, as its spec writes it.
func (b *builder) length(label string, d *specs.Dimension, low, high calc.Length) *Box {
	x := b.number(label, d.Unit, d.Decimals, low.In(d.Unit), high.In(d.Unit))
	if d.Unit == calc.IN && max(-low, high) < calc.Inch {
		x.Before = 0 // an inch man writes .0780
	}
	return x
}

// shim declares a box for a thickness of the tray that restores a dimension.
func (b *builder) shim(label string, d *specs.Dimension, low, high calc.Length) *Box {
	fine := *d
	fine.Decimals = max(d.Decimals, d.Shims.Tray.Decimals)
	return b.length(label, &fine, low, high)
}

// worked turns a box into one that is worked out.
func (x *Box) worked(f *Formula) *Box { x.From = f; return x }

func (x *Box) with(instrument string) *Box { x.Instrument = instrument; return x }
func (x *Box) needed() *Box                { x.Required = true; return x }

// sub makes x, just declared, a part of another box: its number goes back.
func (b *builder) sub(x *Box, code string) *Box {
	b.n--
	x.Code = code
	return x
}

func (b *builder) box(label string, kind Kind) *Box {
	return &Box{Printer: b.Printer, Code: b.code(), Label: label, Kind: kind}
}

func (b *builder) tick(label string) *Box { return b.box(label, Tick) }
func (b *builder) text(label string) *Box { return b.box(label, Text) }

// choice holds its answers in English, as they are stored and compared.
func (b *builder) choice(label string, answers ...string) *Box {
	x := b.box(label, Choice)
	x.Choices = answers
	return x
}

func (b *builder) ticks(sentences ...string) []*Box {
	var out []*Box
	for _, l := range b.all(sentences...) {
		out = append(out, b.tick(l))
	}
	return out
}

// close declares the stage's sign-off, last on its last sheet.
func (b *builder) close(hold, second string) *Stage {
	s := b.stage
	s.Done = b.box(b.T("done by"), Initials).needed()
	if hold != "" {
		s.Hold = b.T(hold)
		s.Second = b.box(b.T(second), Initials).needed()
	}
	s.When = b.box(b.T("date"), Date)
	s.Remarks = b.text(b.T("remarks"))
	return s
}
