package packet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"shimcard/layout"
	"shimcard/packet/codes"
	"shimcard/packet/words"
	"shimcard/specs"
)

// JSON is the report's data: the same results, for a program to read.
func (r *Results) JSON() ([]byte, error) {
	var w bytes.Buffer
	e := json.NewEncoder(&w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(r); err != nil {
		return nil, err
	}
	return w.Bytes(), nil
}

// headline is the overall verdict, ready to print.
func (r *Results) headline() string {
	return sentenceCase(r.T(string(r.Overall)))
}

// unmet are the sentences about an item that is not met.
var unmet = map[Verdict]string{
	DoesNotMeet: "%s does not meet",
	TooClose:    "%s too close to call",
	InDoubt:     "%s in doubt",
	NotMeasured: "%s not measured",
}

// failing names the items that are not met, safety items on their own.
func (r *Results) failing() (safety, other []string) {
	for _, it := range r.Items {
		if it.Verdict == Meets {
			continue
		}
		what := r.T(unmet[it.Verdict], it.Name)
		if it.Safety {
			safety = append(safety, r.T("safety: %s", what))
		} else if it.Verdict != NotMeasured {
			other = append(other, what)
		}
	}
	return safety, other
}

// foundLine is how many characters of what was found go in a line of the first
// page's left column.
const foundLine = 46

// within are as many of some findings as go in so many lines, and how many more
// the record has.
func (r *Results) within(findings []string, lines int) string {
	left, more := lines*foundLine, 0
	var out []string
	for i, f := range findings {
		n := len([]rune(f)) + 2
		if i > 0 && (n > left || n > left-foundLine/2 && i < len(findings)-1) {
			more++
			continue
		}
		out, left = append(out, f), left-n
	}
	if more > 0 {
		out = append(out, r.T("%d more, see the record", more))
	}
	return strings.Join(out, ". ") + "."
}

// found says in a few plain words what was out as it came in.
func (r *Results) found() []string {
	var out []string
	static, measured := 0, 0
	worst, worstWords := 0.0, ""
	bench := 0
	for _, it := range r.Items {
		if it.Group == Settings && it.Found != nil {
			measured++
		}
		if !it.FoundOut {
			continue
		}
		if it.Group != Settings {
			bench++
			continue
		}
		static++
		// The furthest out is the one that lies most limit-widths outside.
		if far := it.off / (*it.High - *it.Low); far > worst {
			worst, worstWords = far, r.T(lowHigh(it.side, "%s, %s %s too small", "%s, %s %s too large"), it.Name, r.Fixed(it.off, it.Decimals), r.Unit(it.Unit))
		}
	}
	for _, h := range r.Was.Hints {
		out = append(out, h.Finding)
	}
	if bench > 0 && len(r.Was.Hints) == 0 {
		out = append(out, r.T("%d of the bench readings outside their limits", bench))
	}
	if static > 0 {
		out = slices.Insert(out, 0, r.T("%d of %d inner settings out, most of all: %s", static, measured, worstWords))
	}
	var worn []string
	for _, w := range r.Worn {
		if w.Text == "worn" {
			worn = append(worn, r.T("%s worn, can stay", w.Label))
		} else {
			worn = append(worn, r.T("%s to replace", w.Label))
		}
	}
	if worn != nil {
		out = slices.Insert(out, min(1, len(out)), sentenceCase(strings.Join(worn, "; ")))
	}
	switch {
	case len(out) > 0:
		return out
	case measured == 0:
		return []string{r.T("Nothing measured yet")}
	}
	return []string{r.T("Nothing outside its limits, nothing worn")}
}

// outside is how far, and to which side, an item as found lies outside.
func (i *Item) outside() (off float64, side int) {
	if i.Low != nil && *i.Found < *i.Low {
		return *i.Low - *i.Found, -1
	}
	if i.High != nil && *i.Found > *i.High {
		return *i.Found - *i.High, 1
	}
	return 0, 0
}

// did says what the readings show to have been done, and nothing more.
func (r *Results) did(j *Job) string {
	out := []string{r.T("agreed: %s", j.Intake.Authorised.Work)}
	measured, changed, run, tight := 0, 0, 0, 0
	for _, it := range r.Items {
		if it.Group == Settings && it.Found != nil {
			measured++
			if it.Change != unchanged {
				changed++
			}
		}
	}
	for _, d := range r.Left {
		if d.Mean != nil {
			run++
		}
	}
	for _, t := range r.Torques {
		if t.Done {
			tight++
		}
	}
	if measured > 0 {
		out = append(out, r.T("%d static dimensions measured, %d of them changed and measured again", measured, changed))
	}
	if r.Screw != "" {
		out = append(out, r.T("full-load screw set"))
	}
	if r.PartsDrawn {
		for _, p := range r.Parts {
			out = append(out, r.Fixed(p.Quantity, 0)+"\u00a0×\u00a0"+p.What)
		}
	}
	if tight > 0 {
		out = append(out, r.T("%d of %d torques", tight, len(r.Torques)))
	}
	if run > 0 {
		out = append(out, r.T("bench run, %d of %d delivery points", run, len(r.Left)))
	}
	return sentence(out)
}

func sentenceCase(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

func sentence(parts []string) string {
	s := strings.Join(parts, "; ")
	if s == "" {
		return ""
	}
	return sentenceCase(s) + "."
}

// figure prints an optional figure, "–" when there is none.
func figure(p words.Printer, x *float64, decimals int) string {
	if x == nil {
		return "–"
	}
	return p.Fixed(*x, decimals)
}

const decisionRule = "An item meets when its reading lies inside the limits by at least the reading's own uncertainty (95 %), does not meet when it lies outside by more, and is too close to call between. Shut-off meets when nothing at all comes out."

// ReportPDF prints the report.
func (j *Job) ReportPDF(r *Results) ([]byte, error) {
	d, err := j.report(r)
	if err != nil {
		return nil, err
	}
	return d.Bytes()
}

// ReportShort prints the report's first page alone, which says so and how many
// pages the report has. It carries the digest, and not the data.
func (j *Job) ReportShort(r *Results) ([]byte, error) {
	full, err := j.report(r)
	if err != nil {
		return nil, err
	}
	if err := full.Arrange(); err != nil {
		return nil, err
	}
	frame := j.reportFrame(r, j.reportRecord(r).Digest())
	frame.Over += ", " + j.T("short form")
	d := layout.New(j.paper(), j.reportMeta(), frame)
	// Where all else fails the curve is left to the full report.
	first := j.first(r, append(slices.Clone(rooms), room{22, 1, true}, room{0, 4, false}, room{0, 2, true}, room{0, 1, true}))
	first.Blocks = append(first.Blocks, j.shortNote(len(full.Pages())))
	shorter := first.Shorter
	first.Shorter = func(n int) []layout.Block { return append(shorter(n), j.shortNote(len(full.Pages()))) }
	d.Add(first)
	return d.Bytes()
}

func (j *Job) shortNote(pages int) layout.Block {
	return layout.Para{Text: j.T("Short form: the full report has %d pages, with every item, reading, part and instrument.", pages), Size: 7.5, Grey: true}
}

// reportFrame is what every page of a report carries.
func (j *Job) reportFrame(r *Results, digest string) layout.Frame {
	frame := j.frame(j.T("Report of overhaul and test") + ", " + r.issueTitle())
	frame.Symbol = func(page int) string {
		return codes.Page{Number: j.Number, Document: codes.Report, Page: page, Digest: digest}.Symbol()
	}
	frame.Foot = j.T("Digest %s.", Grouped(digest)) + " " + j.T("Results relate only to this pump as tested.") + " " + join(" · ", append([]string{j.Shop.Name}, append(append([]string(nil), j.Shop.Address...), j.Shop.Contact)...)...)
	// Two notices have no room in full; page one says the rest beside the verdict.
	if b := r.banner(); b != "" && frame.Notice != "" {
		frame.Notice = b + "  ·  " + strings.ReplaceAll(r.T("INVENTED FIGURES"), " ", "\u00a0")
	} else if b != "" {
		frame.Notice = b
	}
	return frame
}

// reportMeta is what a report's file says of itself.
func (j *Job) reportMeta() layout.Meta {
	return layout.Meta{
		Title: j.T("Report of overhaul and test %s", j.Number), Subject: j.T("%s serial %s", j.Spec.Pump.Name, j.Intake.Pump.Serial),
		Author: j.Shop.Name, Language: j.locale(), Date: j.Intake.Received,
	}
}

// first is the first page, shared out in one of some ways.
func (j *Job) first(r *Results, rooms []room) layout.Section {
	return layout.Section{Key: "1", Bookmark: j.T("Result"), NewPage: true, Blocks: j.firstPage(r, rooms[0]), Foot: r.signatures(),
		Shortest: len(rooms) - 1, Shorter: func(n int) []layout.Block { return j.firstPage(r, rooms[n]) }}
}

// report sets the report.
func (j *Job) report(r *Results) (*layout.Doc, error) {
	data, err := j.data(r)
	if err != nil {
		return nil, err
	}
	record := j.reportRecord(r)
	frame, meta := j.reportFrame(r, record.Digest()), j.reportMeta()
	meta.Attachments = j.attachments(append(j.record().Files, codes.File{Name: FormFile, Data: j.fullForm(r.readings)}, codes.File{Name: ResultsFile, Data: data}))
	first := j.first(r, rooms)
	alone := layout.New(j.paper(), meta, frame)
	alone.Add(first)
	if err := alone.Arrange(); err != nil {
		return nil, err
	}
	var curve []layout.Block
	if len(alone.Pages()) > 1 { // then the curve goes to the record
		first.Blocks, first.Shortest = j.firstPage(r, room{found: 4}), 0
		curve = []layout.Block{r.curve(rooms[0].curve)}
	}
	d := layout.New(j.paper(), meta, frame)
	d.Add(first)
	// One section, so that its tables may share pages.
	pages := func(height float64) []layout.Block {
		return slices.Concat(curve, j.benchBlocks(r, height), j.itemBlocks(r), j.recordBlocks(r))
	}
	d.Add(layout.Section{Key: "2", Bookmark: j.T("Record"), NewPage: true, Blocks: pages(curveHeights[0]), Shortest: len(curveHeights) - 1, Shorter: func(n int) []layout.Block {
		return pages(curveHeights[n])
	}})
	d.Add(j.symbolSheet(record, j.T("Spec, readings and results of this report, to be read by machine: they make the job's folder again, and show whether this paper says what was measured. It holds the customer's name and complaint."),
		layout.Para{Text: r.T("end of report"), Bold: true}))
	return d, nil
}

// curveHeights of the record are tried in turn, mm, where that saves a page.
var curveHeights = []float64{56, 50, 45, 40, 36}

// signed is the sign-off of a stage.
func (r *Results) signed(stage string) SignOff {
	for _, s := range r.SignOffs {
		if s.Stage == stage {
			return s
		}
	}
	return SignOff{}
}

// banner stands on every page of a report that releases nothing.
func (r *Results) banner() string {
	for _, it := range r.Items {
		if it.Safety && it.Verdict == DoesNotMeet {
			return r.T("NOT SAFE: must not be fitted")
		}
	}
	switch r.Overall {
	case PumpIncomplete:
		return r.T("INCOMPLETE: not a release")
	case PumpFails:
		return r.T("DOES NOT MEET: not a release")
	case PumpUndecided:
		return r.T("NOT DECIDED: not a release")
	}
	return ""
}

// released says who released the pump; a signature under a report that releases
// nothing is none.
func (r *Results) released() string {
	s := r.signed("N")
	on := orDash(r.day(s.On))
	switch {
	case s.Second == "":
		return on
	case r.Overall != PumpMeets:
		return r.T("%s by %s: signed, and not valid", on, s.Second)
	}
	return r.T("%s by %s", on, s.Second)
}

// day writes a date as the reports do.
func (r *Results) day(iso string) string {
	d, err := time.Parse("2006-01-02", iso)
	if err != nil {
		return iso
	}
	return r.Date(d)
}

// beside is what must be known beside the verdict: whether the figures are
// invented, an instrument was overdue.
func (r *Results) beside() string {
	var out []string
	if r.Invented {
		out = append(out, r.T("Invented figures: says nothing of any pump."))
	}
	var overdue []string
	for _, i := range r.Instruments {
		if i.Overdue {
			overdue = append(overdue, nameWord(r.Printer, i.Name))
		}
	}
	if overdue != nil {
		out = append(out, r.T("Calibration overdue: %s.", strings.Join(r.some(overdue, 3), ", ")))
	}
	return strings.Join(out, " ")
}

// unvouched says that nobody stands for the sheet's figures, "" when somebody does.
func (j *Job) unvouched() string {
	if j.Spec.Vouched.By == "" {
		return j.T("Nobody vouches for the sheet's figures.")
	}
	return ""
}

// signatures is where two people sign, with the initials typed for the bench
// run and for the release.
func (r *Results) signatures() layout.SignOff {
	tested, released := r.signed("M"), r.signed("N")
	line := func(label, typed string) layout.Pen {
		if typed != "" {
			label += ": " + typed
		}
		return layout.Pen{Label: label, Kind: layout.PenLine, Width: 45}
	}
	return layout.SignOff{Fields: []layout.Pen{line(r.T("tested by"), tested.By), line(r.T("released by"), released.Second), line(r.T("date"), r.day(released.On))}}
}

// room is how the first page is shared out: the height of its curve, mm, the lines
// of what was found, and whether all else is set tight.
type room struct {
	curve float64
	found int
	tight bool
}

// rooms are tried in turn: the words give way to the curve, the curve to them, and at
// last it goes to the record.
var rooms = []room{{66, 9, false}, {66, 7, false}, {66, 5, false}, {60, 5, false}, {54, 4, false}, {48, 4, false}, {44, 4, false}, {40, 3, false},
	{44, 4, true}, {40, 4, true}, {36, 4, true}, {32, 3, true}, {28, 2, true}, {25, 2, true}, {25, 1, true}}

// some are the first few of a list, and how many more there are.
func (r *Results) some(list []string, most int) []string {
	if n := len(list) - most; n > 1 {
		return append(slices.Clone(list[:most]), r.T("and %d more", n))
	}
	return list
}

func (j *Job) firstPage(r *Results, room room) []layout.Block {
	small := r.T("%d of %d items met, %d of %d conditions", r.Met, r.Count, r.InRange, r.Conditions)
	if n := len(r.Missing); n > 0 {
		small = r.T("%s, %d required missing", small, n)
	}
	// The one thing that must never be read over has its own line.
	for _, it := range r.Items {
		if it.Kind != string(specs.ShutOff) {
			continue
		}
		switch it.Verdict {
		case Meets:
			small += "\n" + r.T("shut-off: nothing came out")
		case DoesNotMeet:
			small += "\n**" + r.T("shut-off: FUEL CAME OUT") + "**"
		default:
			small += "\n" + r.T("shut-off: not seen at every outlet")
		}
	}
	note := r.T("Sheet: %s.", j.vouched()) + " " + r.T("An item is met only when its reading lies inside the limits by at least the reading's own uncertainty (95 %), shut-off only when nothing comes out.")
	if warn := join(" ", r.beside(), j.unvouched()); warn != "" {
		note = "**" + warn + "**\n" + note
	}
	blocks := []layout.Block{layout.Verdict{Big: r.headline(), Small: small, Note: note}}
	if s := j.replaces(r, 6); s != "" {
		blocks = append(blocks, layout.Para{Text: typed(s), Size: 8.5})
	}
	safety, other := r.failing()
	if len(safety) > 0 {
		blocks = append(blocks, layout.Caution{Text: sentence(r.some(safety, 6))})
	}
	if len(other) > 0 {
		blocks = append(blocks, layout.Para{Text: sentence(r.some(other, 5)), Bold: true})
	}
	tested := r.signed("M")
	on := orDash(r.day(tested.On))
	if tested.By != "" {
		on = r.T("%s by %s", on, tested.By)
	}
	grey := func(label string) layout.Cell { return layout.Cell{Text: label, Grey: true} }
	blocks = append(blocks, layout.Table{Size: 8.5, Cols: []layout.Col{{Weight: 1}, {Weight: 3}, {Weight: 1}, {Weight: 3}, {Weight: 1}, {Weight: 3}}, Rows: [][]layout.Cell{
		{grey(r.T("received")), {Text: r.T("%s by %s", r.Date(j.Intake.Received), j.Intake.By)}, grey(r.T("tested")), {Text: on}, grey(r.T("released")), {Text: r.released()}},
	}})
	noteText := r.Note
	if noteText == "" {
		noteText = r.T("Fit and time the pump to the engine maker's instructions; bleed before starting.")
	}
	left := .95
	if room.tight { // then what was done is the longer
		left = .65
	}
	blocks = append(blocks, layout.Columns{Weights: []float64{left, 1}, Cols: [][]layout.Block{
		{layout.Heading{Text: r.T("You told us")}, layout.Para{Text: typed(j.Intake.Complaint)}, layout.Heading{Text: r.T("We found")}, layout.Para{Text: typed(r.within(r.found(), room.found))}},
		{layout.Heading{Text: r.T("We did")}, layout.Para{Text: typed(r.did(j))}, layout.Heading{Text: r.T("Please note")}, layout.Para{Text: typed(noteText)}},
	}})
	unit := ""
	for _, it := range r.Items {
		if it.Group == Settings {
			unit = it.Unit
		}
	}
	blocks = append(blocks, layout.Heading{Text: r.T("Static dimensions, %s", unit)})
	blocks = append(blocks, settingsTable(r, room.tight))
	if room.curve == 0 || room.curve > 25 { // the record has it too
		blocks = append(blocks, layout.Para{Text: r.T("found: cleaned, with the shims that came out.  ±: uncertainty of the reading, 95 %.  Circle: found; dot: left; small cross: what the change should give."), Size: 7.5, Grey: true})
	}
	if room.curve > 0 {
		blocks = append(blocks, r.curve(room.curve))
	}
	return blocks
}

// settingsTable has a line for each dimension where it must be tight, and the wider
// strip else.
func settingsTable(r *Results, tight bool) layout.Table {
	size, name, changed, strip := 8.5, 3.4, 3.2, 2.5
	if tight {
		size, name, changed, strip = 8, 4.3, 2.9, 2.0
	}
	t := layout.Table{Size: size, Cols: []layout.Col{
		{Head: r.T("item"), Weight: name}, {Head: r.T("limits"), Weight: 1.7}, {Head: r.T("found"), Weight: 1, Align: "R"}, {Head: r.T("changed"), Weight: changed},
		{Head: r.T("left"), Weight: 1, Align: "R"}, {Head: "±", Weight: .8, Align: "R"}, {Head: "", Weight: strip}, {Head: "", Weight: 1.6, Align: "R"},
	}}
	for _, it := range r.Items {
		if it.Group != Settings {
			continue
		}
		s := &layout.Strip{Low: *it.Low, High: *it.High, Target: *it.Target, Found: it.Found, Left: it.Left, Expected: it.Expected}
		if it.U != nil {
			s.U = *it.U
		}
		t.Rows = append(t.Rows, []layout.Cell{
			{Text: it.Name}, {Text: it.limits()}, {Text: figure(r.Printer, it.Found, it.Decimals)}, {Text: it.change()},
			{Text: figure(r.Printer, it.Left, it.Decimals), Bold: true}, {Text: it.uncertainty()}, {Strip: s}, {Text: r.T(string(it.Verdict)), Bold: true},
		})
	}
	return t
}

// change is what was changed, as printed.
func (i *Item) change() string {
	if i.Change == unchanged {
		return i.in.T("none")
	}
	return i.Change
}

// uncertainty is that of a reading as printed.
func (i *Item) uncertainty() string {
	if i.U == nil {
		return "–"
	}
	return roundedUp(i.in, *i.U, i.Decimals)
}

// roundedUp prints an uncertainty so that no figure looks surer than it is.
func roundedUp(p words.Printer, u float64, decimals int) string {
	scale := math.Pow10(decimals)
	return p.Fixed(math.Ceil(u*scale-1e-9)/scale, decimals)
}

// curve is the full-lever delivery curve, as found and as left, with its
// limits.
func (r *Results) curve(height float64) layout.Block {
	p := layout.Plot{Title: r.T("Full lever: mean delivery, cm³ per 1000 strokes; bars: limits"), XLabel: r.T("pump speed, rev/min"), Height: height}
	for _, d := range r.Left {
		if d.OnCurve {
			p.Limits = append(p.Limits, layout.LimitBar{X: d.Speed, Low: open(d.Low, -1), High: open(d.High, 1)})
		}
	}
	p.Series = r.series(curveOf(r.Found), curveOf(r.Left))
	return p
}

func open(x *float64, sign int) float64 {
	if x == nil {
		return math.Inf(sign)
	}
	return *x
}

type point struct{ x, y float64 }

func curveOf(rows []*Delivery) (out []point) {
	for _, d := range rows {
		if d.OnCurve && d.Mean != nil {
			out = append(out, point{d.Speed, *d.Mean})
		}
	}
	return out
}

// series draws found dashed and left whole; one point alone is shown as it is.
func (r *Results) series(found, left []point) (out []layout.Series) {
	for i, ps := range [][]point{found, left} {
		if len(ps) == 0 {
			continue
		}
		sort.SliceStable(ps, func(a, b int) bool { return ps[a].x < ps[b].x })
		s := layout.Series{Name: r.run(i), Dash: i == 0, Open: i == 0}
		for _, p := range ps {
			s.X, s.Y = append(s.X, p.x), append(s.Y, p.y)
		}
		out = append(out, s)
	}
	return out
}

// run names the runs: 0 as found, 1 as left.
func (r *Results) run(i int) string {
	if i == 0 {
		return r.T("as found")
	}
	return r.T("as left")
}

// itemBlocks is every item, then what was changed and predicted.
func (j *Job) itemBlocks(r *Results) []layout.Block {
	out := []layout.Block{layout.Heading{Text: r.T("Every item"), Right: r.T("±: uncertainty, 95 %%; P: probability of lying within the limits, unless over %s %%", r.Fixed(99.9, 1))}, r.itemTable()}
	var rows [][]string
	for _, it := range r.Items {
		if it.Group != Settings {
			continue
		}
		rows = append(rows, []string{it.Name, orDash(it.change()), orDash(it.Advice), orDash(join("; ", it.prediction(), it.Note))})
	}
	if r.Screw != "" {
		rows = append(rows, []string{r.T("Full-load screw"), r.T("turned"), "–", r.Screw})
	}
	return append(out, record(r.T("Shims and settings"), []layout.Col{{Head: r.T("item"), Weight: 2.6}, {Head: r.T("changed"), Weight: 2}, {Head: r.T("the tray's answer to what was found"), Weight: 3.2}, {Head: r.T("measured again"), Weight: 3.8}}, rows)...)
}

// prediction says whether the last refit did what it must.
func (i *Item) prediction() string {
	if i.Miss == nil && i.parts && i.Left != nil {
		return i.in.T("%s, the sum of its parts as measured", figure(i.in, i.Left, i.Decimals))
	}
	if i.Miss == nil {
		return ""
	}
	expected, left := figure(i.in, i.Expected, i.Decimals), figure(i.in, i.Left, i.Decimals)
	switch {
	case i.MissAllow == nil:
		return i.in.T("%s worked out, %s measured", expected, left)
	case i.MissesPrediction():
		return i.in.T("%s worked out, %s measured: off by %s where ±%s is allowed; a part or a figure is not what it was taken for", expected, left,
			signed(i.in, *i.Miss, i.Decimals), roundedUp(i.in, *i.MissAllow, i.Decimals+1))
	}
	return i.in.T("%s worked out, %s measured: agree within ±%s", expected, left, roundedUp(i.in, *i.MissAllow, i.Decimals+1))
}

// record is a titled table of words, nothing when it has no rows.
func record(title string, cols []layout.Col, rows [][]string) []layout.Block {
	if len(rows) == 0 {
		return nil
	}
	t := layout.Table{Size: 8.5, Cols: cols}
	for _, row := range rows {
		var cells []layout.Cell
		for _, c := range row {
			cells = append(cells, layout.Cell{Text: typed(c)})
		}
		t.Rows = append(t.Rows, cells)
	}
	return []layout.Block{layout.Heading{Text: title}, t}
}

// itemTable is every item with its limits, uncertainty and verdict.
func (r *Results) itemTable() layout.Table {
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: r.T("box"), Weight: .8}, {Head: r.T("item"), Weight: 4.2}, {Head: r.T("limits"), Weight: 1.8, Align: "R"}, {Head: r.T("unit"), Weight: 1.4}, {Head: r.T("found"), Weight: 1, Align: "R"},
		{Head: r.T("left"), Weight: 1, Align: "R"}, {Head: "±", Weight: .9, Align: "R"}, {Head: "P", Weight: 1.1, Align: "R"}, {Head: "", Weight: 2, Align: "R"}}}
	for _, it := range r.Items {
		name := it.Name
		if it.Safety {
			name = r.T("%s (safety)", name)
		}
		if it.Group == Conditions {
			name = r.T("%s (condition)", name)
		}
		if it.Note != "" {
			name += ": " + it.Note
		}
		if it.Wanted != "" {
			t.Rows = append(t.Rows, []layout.Cell{{Text: it.Code}, {Text: name}, {Text: r.T(it.Wanted)}, {}, {}, {Text: r.T(it.Seen), Bold: true}, {}, {}, {Text: r.T(string(it.Verdict)), Bold: true}})
			continue
		}
		t.Rows = append(t.Rows, []layout.Cell{{Text: it.Code}, {Text: name}, {Text: it.limits()}, {Text: r.Unit(it.Unit)}, {Text: figure(r.Printer, it.Found, it.Decimals)},
			{Text: figure(r.Printer, it.Left, it.Decimals), Bold: true}, {Text: it.uncertainty()}, {Text: it.probability()}, {Text: r.T(string(it.Verdict)), Bold: true}})
	}
	return t
}

// probability is printed rounded down, so that nothing looks surer than it is.
func (i *Item) probability() string {
	switch {
	case i.P == nil:
		return "–"
	case *i.P >= .9995:
		return ""
	}
	return i.in.Fixed(math.Floor(*i.P*1000+1e-9)/10, 1) + " %"
}

// recordBlocks is the rest: what was changed and predicted, parts, torques,
// instruments, remarks, who did what, and the end.
func (j *Job) recordBlocks(r *Results) []layout.Block {
	var out []layout.Block
	table := func(title string, cols []layout.Col, rows [][]string) {
		out = append(out, record(title, cols, rows)...)
	}
	var rows [][]string
	point := ""
	for _, m := range r.Missing {
		of, _, outlet := strings.Cut(m.Code, ".")
		if outlet && of == point && m.Why == "" { // the outlets of a point in one row
			row := rows[len(rows)-1]
			row[0], row[1] = row[0]+", "+m.Code, inCommon(row[1], m.Label)
			continue
		}
		point = ""
		if outlet && m.Why == "" {
			point = of
		}
		rows = append(rows, []string{m.Code, m.Label, m.Why})
	}
	table(r.T("Required, and not there"), []layout.Col{{Head: r.T("box"), Weight: 3}, {Head: r.T("what"), Weight: 5}, {Head: r.T("why"), Weight: 4}}, rows)

	var left, right []layout.Block
	rows = nil
	for _, p := range r.Parts {
		rows = append(rows, []string{r.Fixed(p.Quantity, 0), p.What})
	}
	parts := r.T("Parts noted as needed, not ticked as drawn")
	if r.PartsDrawn {
		parts = r.T("Parts fitted")
	}
	left = append(left, record(parts, []layout.Col{{Head: r.T("quantity"), Weight: 1, Align: "R"}, {Head: r.T("part"), Weight: 5}}, rows)...)

	rows = nil
	for _, t := range r.Torques {
		done := r.T("not ticked")
		if t.Done {
			done = r.T("done")
		}
		rows = append(rows, []string{t.Name, fmt.Sprint(t.Count), t.Steps, done})
	}
	left = append(left, record(r.T("Torques"), []layout.Col{{Head: r.T("fastener"), Weight: 4}, {Head: r.T("count"), Weight: 1.2, Align: "R"}, {Head: r.T("steps"), Weight: 3.4}, {Head: "", Weight: 1.6, Align: "R"}}, rows)...)

	rows = nil
	for _, s := range r.SignOffs {
		rows = append(rows, []string{s.Stage, s.Title, s.By, r.day(s.On), s.Second})
	}
	right = record(r.T("Who did what"), []layout.Col{{Head: "", Weight: .6}, {Head: r.T("stage"), Weight: 4}, {Head: r.T("by"), Weight: 1.2}, {Head: r.T("on"), Weight: 2.2}, {Head: r.T("and by"), Weight: 1.6}}, rows)

	rows = nil
	for _, i := range r.Instruments {
		if i.Unknown {
			rows = append(rows, []string{nameWord(r.Printer, i.Name), "–", r.T("not in the shop file: its readings are not decided"), "", ""})
			continue
		}
		due := r.day(i.Due)
		if due == "" {
			due = r.T("not given")
		}
		if i.Overdue {
			due = r.T("%s OVERDUE", due)
		}
		rows = append(rows, []string{nameWord(r.Printer, i.Name), i.Number, i.Permissible, i.Resolution, due})
	}
	table(r.T("Instruments"), []layout.Col{{Head: r.T("instrument"), Weight: 3}, {Head: r.T("number"), Weight: 1.5}, {Head: r.T("permissible error"), Weight: 3}, {Head: r.T("resolution"), Weight: 2}, {Head: r.T("calibration due"), Weight: 2.2}}, rows)
	// After the table that may be parted between pages, since these may not.
	out = append(out, layout.Columns{Cols: [][]layout.Block{left, right}})

	rows = nil
	for _, m := range r.Remarks {
		rows = append(rows, []string{m.Code, m.Label, m.Text})
	}
	for _, m := range r.Confirmed {
		rows = append(rows, []string{m.Code, m.Label, r.T("confirmed: %s", m.Text)})
	}
	for _, s := range r.Slips {
		rows = append(rows, []string{s.Code, s.Label, r.T("the pen wrote %s, the sheet's own figures make %s; the latter counts", r.Mark(fmt.Sprint(s.Pen)), r.Mark(fmt.Sprint(s.Worked)))})
	}
	table(r.T("Remarks"), []layout.Col{{Head: r.T("box"), Weight: .8}, {Head: r.T("what"), Weight: 3}, {Head: r.T("remark"), Weight: 7}}, rows)

	rows = nil
	label := map[string]string{}
	for _, b := range j.Boxes() {
		label[b.Code] = b.Label
	}
	for _, c := range r.Corrections {
		rows = append(rows, []string{c.Box, label[c.Box], orDash(c.Old), orDash(c.New), cut(c.Who, mostLine), r.Date(c.When), join(": ", r.T(string(c.How)), cut(c.Why, mostWords))})
	}
	table(r.T("Corrections after the first entry"), []layout.Col{{Head: r.T("box"), Weight: .8}, {Head: r.T("what"), Weight: 3}, {Head: r.T("was"), Weight: 1.6}, {Head: r.T("is now"), Weight: 1.6}, {Head: r.T("by"), Weight: 1}, {Head: r.T("on"), Weight: 1.5}, {Head: r.T("how, why"), Weight: 2.5}}, rows)

	c := j.Spec.Bench.Conditions
	tested := []string{r.T("Test oil %s; nozzle holders %s; pipes %s.", c.TestOil, c.NozzleHolders, c.Pipes), r.normalised(j), r.T("Sheet: %s.", j.vouched())}
	if r.TypedBy != "" {
		tested = append(tested, r.T("%s typed the readings.", r.TypedBy))
	}
	if r.TypedAgain != "" {
		tested = append(tested, r.T("Typed a second time by %s, without seeing the first; what differed was settled.", r.TypedAgain))
	}
	out = append(out, layout.Heading{Text: r.T("Deviations from the sheet")}, layout.Para{Text: typed(r.deviations()), Size: 8.5})
	out = append(out, layout.Heading{Text: r.T("How it was tested")}, layout.Para{Text: r.T(decisionRule), Size: 8.5}, layout.Para{Text: strings.Join(tested, " "), Size: 8.5})
	out = append(out, j.jobFacts(r)...)
	out = append(out,
		layout.Caution{Text: r.T("Spray at injection pressure goes through skin: keep hands away when bleeding. Check the stop device and the governed speed on the engine before work: a pump that sticks open can overspeed it.")})
	return out
}

// inCommon is what two labels begin with, up to a comma.
func inCommon(a, b string) string {
	n := 0
	for n < min(len(a), len(b)) && a[n] == b[n] {
		n++
	}
	if i := strings.LastIndex(a[:n], ", "); n < len(a) && i > 0 {
		return a[:i]
	}
	return a[:n]
}

// deviations are what was not as the test sheet has it: what it asks for and was
// not measured, conditions outside their limits, limits that others took the place
// of, readings that were confirmed, instruments that were not as they must be.
func (r *Results) deviations() string {
	var missing, conditions, out []string
	for _, m := range r.Missing {
		missing = append(missing, m.Code)
	}
	for _, it := range r.Items {
		switch {
		case it.Group == Conditions && it.Verdict != Meets:
			conditions = append(conditions, r.T(unmet[it.Verdict], it.Name))
		case it.Verdict == NotMeasured && !slices.Contains(missing, it.Code):
			missing = append(missing, it.Code)
		}
		if it.instead {
			out = append(out, it.Name+": "+it.Note)
		}
	}
	if missing != nil {
		out = slices.Insert(out, 0, r.T("Asked for and not there: %s", strings.Join(r.some(missing, 30), ", ")))
	}
	if conditions != nil {
		out = append(out, r.T("Conditions: %s", strings.Join(conditions, ", ")))
	}
	if len(r.Confirmed) > 0 {
		var codes []string
		for _, c := range r.Confirmed {
			codes = append(codes, c.Code)
		}
		out = append(out, r.T("Hard to believe, and confirmed (see remarks): %s", strings.Join(r.some(codes, 30), ", ")))
	}
	for _, i := range r.Instruments {
		switch {
		case i.Unknown:
			out = append(out, r.T("%s: not in the shop file", nameWord(r.Printer, i.Name)))
		case i.Overdue:
			out = append(out, r.T("%s: calibration was due %s", nameWord(r.Printer, i.Name), r.day(i.Due)))
		}
	}
	if out == nil {
		return r.T("None.")
	}
	return strings.Join(out, ". ") + "."
}

// jobFacts are who and what the report is about, and who made it.
func (j *Job) jobFacts(r *Results) []layout.Block {
	in := j.Intake
	var seen []string
	for _, b := range j.Stages[0].Boxes() {
		if e := r.readings.Entries[b.Code]; b.Kind == Choice && !e.Blank() {
			seen = append(seen, b.Label+": "+r.T(e.Text))
		}
	}
	grey := func(label string) layout.Cell { return layout.Cell{Text: label, Grey: true} }
	shop := join(", ", append([]string{j.Shop.Name}, append(append([]string(nil), j.Shop.Address...), j.Shop.Contact)...)...)
	last := ""
	if r.Issue != nil {
		last = r.day(r.Issue.On)
	}
	row := func(a, b, c, d string) []layout.Cell {
		return []layout.Cell{grey(a), {Text: typed(orDash(b))}, grey(c), {Text: typed(orDash(d))}}
	}
	return []layout.Block{layout.Heading{Text: r.T("The job"), Right: r.T("engine, complaint and what is authorised: as the customer says")},
		layout.Table{Size: 8.5, Cols: []layout.Col{{Weight: 1.2}, {Weight: 4}, {Weight: 1.2}, {Weight: 4}}, Rows: [][]layout.Cell{
			row(r.T("tested at"), shop, r.T("customer"), join(", ", in.Customer.Name, in.Customer.Reference, in.Customer.Contact)),
			row(r.T("pump"), r.T("%s, %s, %d outlets, serial %s", j.Spec.Pump.Name, j.hand(), j.Spec.Pump.Outlets, in.Pump.Serial), r.T("engine"), in.Engine),
			row(r.T("came in"), join(": ", r.Date(in.Received), strings.Join(seen, ", ")), r.T("with it"), strings.Join(in.Accessories, ", ")),
			row(r.T("authorised"), join(", ", in.Authorised.Work, in.Authorised.Limit, in.Authorised.By), r.T("at strip"), r.Approval),
			row(r.T("bench run"), r.day(r.signed("M").On), r.T("issued"), join(": ", r.issueTitle(), last)),
		}},
		layout.Para{Text: r.T("To be copied whole or not at all. What to look at next, usual causes and the engine's power are opinions, not results."), Size: 7.5, Grey: true}}
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}
