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

	"shimcard/calc"
	"shimcard/layout"
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
	return strings.ToUpper(string(r.Overall[:1])) + string(r.Overall[1:])
}

// failing names the items that are not met, safety items first.
func (r *Results) failing() []string {
	var safety, other []string
	for _, it := range r.Items {
		if it.Verdict == Meets {
			continue
		}
		if it.Safety {
			safety = append(safety, "safety: "+it.Name+" "+string(it.Verdict))
		} else if it.Verdict != NotMeasured {
			other = append(other, it.Name+" "+string(it.Verdict))
		}
	}
	return append(safety, other...)
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
			worst, worstWords = far, fmt.Sprintf("%s, %s %s too %s", lowerFirst(it.Name), calc.Fixed(it.off, it.Decimals), it.Unit, lowHigh(sideOf(it.side), "small", "large"))
		}
	}
	for _, h := range r.Was.Hints {
		out = append(out, h.Finding)
	}
	if bench > 0 && len(r.Was.Hints) == 0 {
		out = append(out, fmt.Sprintf("%d of the bench readings outside their limits", bench))
	}
	const most = 3 // the record has the rest
	if n := len(out) - most; n > 0 {
		out = append(out[:most], fmt.Sprintf("%d more on the bench, see the record", n))
	}
	if static > 0 {
		out = append(out, fmt.Sprintf("%d of %d inner settings out, most of all %s", static, measured, worstWords))
	}
	var worn []string
	for _, w := range r.Worn {
		words := " worn, can stay"
		if w.Text != "worn" {
			words = " to " + w.Text
		}
		worn = append(worn, w.Label+words)
	}
	if worn != nil {
		out = append(out, sentenceCase(strings.Join(worn, "; ")))
	}
	switch {
	case len(out) > 0:
		return out
	case measured == 0:
		return []string{"Nothing measured yet"}
	}
	return []string{"Nothing outside its limits, nothing worn"}
}

func sideOf(word string) int {
	if word == "low" {
		return -1
	}
	return 1
}

// outside is how far, and to which side, an item as found lies outside.
func (i *Item) outside() (off float64, side string) {
	if i.Low != nil && *i.Found < *i.Low {
		return *i.Low - *i.Found, "low"
	}
	if i.High != nil && *i.Found > *i.High {
		return *i.Found - *i.High, "high"
	}
	return 0, ""
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// did says what the readings show to have been done, and nothing more.
func (r *Results) did(j *Job) string {
	out := []string{"agreed: " + j.Intake.Authorised.Work}
	measured, changed, run, tight := 0, 0, 0, 0
	for _, it := range r.Items {
		if it.Group == Settings && it.Found != nil {
			measured++
			if it.Change != "none" {
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
	count := func(n int, format string) {
		if n > 0 {
			out = append(out, fmt.Sprintf(format, n))
		}
	}
	if measured > 0 {
		out = append(out, fmt.Sprintf("%d static dimensions measured, %d of them changed and measured again", measured, changed))
	}
	if r.Screw != "" {
		out = append(out, "full-load screw set")
	}
	if r.PartsDrawn {
		for _, p := range r.Parts {
			out = append(out, fmt.Sprintf("%s × %s", calc.Fixed(p.Quantity, 0), p.What))
		}
	}
	count(tight, fmt.Sprintf("%%d of %d torques", len(r.Torques)))
	count(run, fmt.Sprintf("bench run, %%d of %d delivery points", len(r.Left)))
	return sentence(out)
}

// lines are what is typed, ready to print as a list.
func lines(parts []string) (out []string) {
	for _, p := range parts {
		out = append(out, typed(p))
	}
	return out
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
func figure(x *float64, decimals int) string {
	if x == nil {
		return "–"
	}
	return calc.Fixed(*x, decimals)
}

const decisionRule = "An item meets when its reading lies inside the limits by at least the reading's own uncertainty (95 %), does not meet when it lies outside by more, and is too close to call between. Shut-off meets when nothing at all comes out."

// ReportPDF prints the report.
func (j *Job) ReportPDF(r *Results) ([]byte, error) {
	frame := j.frame("Report of overhaul and test", reportPage)
	frame.Foot = "Applies to the pump with this serial number as tested. " + join(" · ", append([]string{j.Shop.Name}, append(append([]string(nil), j.Shop.Address...), j.Shop.Contact)...)...)
	frame.Notice = join("  ·  ", r.banner(), frame.Notice)
	meta := layout.Meta{
		Title: "Report of overhaul and test " + j.Number, Subject: j.Spec.Pump.Name + " serial " + j.Intake.Pump.Serial,
		Author: j.Shop.Name, Language: "en-GB", Date: j.Intake.Received,
	}
	first := layout.Section{Key: "1", Bookmark: "Result", NewPage: true, Blocks: j.firstPage(r, curveHeights[0]), Foot: r.signatures(),
		Shorter: func(n int) []layout.Block {
			if n >= len(curveHeights) {
				return nil
			}
			return j.firstPage(r, curveHeights[n])
		}}
	alone := layout.New(j.paper(), meta, frame)
	alone.Add(first)
	if _, err := alone.Bytes(); err != nil {
		return nil, err
	}
	var curve []layout.Block
	if len(alone.Pages()) > 1 { // then the curve goes to the record
		first.Blocks, first.Shorter = j.firstPage(r, 0), nil
		curve = []layout.Block{r.curve(curveHeights[0])}
	}
	d := layout.New(j.paper(), meta, frame)
	d.Add(first)
	// One section, so that its tables may share pages.
	d.Add(layout.Section{Key: "2", Bookmark: "Record", NewPage: true, Blocks: slices.Concat(curve, j.benchBlocks(r), j.itemBlocks(r), j.recordBlocks(r))})
	return d.Bytes()
}

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
			return "NOT SAFE: must not be fitted"
		}
	}
	switch r.Overall {
	case PumpIncomplete:
		return "INCOMPLETE: not a release"
	case PumpFails:
		return "DOES NOT MEET: not a release"
	case PumpUndecided:
		return "NOT DECIDED: not a release"
	}
	return ""
}

// released says who released the pump; a signature under a report that releases
// nothing is none.
func (r *Results) released() string {
	s := r.signed("N")
	words := join(" by ", orDash(day(s.On)), s.Second)
	if s.Second != "" && r.Overall != PumpMeets {
		words += ": signed, and not valid"
	}
	return words
}

// day writes a date as the reports do.
func day(iso string) string {
	d, err := time.Parse("2006-01-02", iso)
	if err != nil {
		return iso
	}
	return d.Format("2 Jan 2006")
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
	return layout.SignOff{Fields: []layout.Pen{line("tested by", tested.By), line("released by", released.Second), line("date", day(released.On))}}
}

// curveHeights are the heights of the first page's curve, mm: it gives way to
// words before the page does, and at last goes to the record.
var curveHeights = []float64{62, 54, 46, 38, 32, 28}

func (j *Job) firstPage(r *Results, curve float64) []layout.Block {
	small := fmt.Sprintf("%d of %d items met, %d of %d conditions", r.Met, r.Count, r.InRange, r.Conditions)
	if n := len(r.Missing); n > 0 {
		small += fmt.Sprintf(", %d required missing", n)
	}
	rule := decisionRule
	if curve == 0 {
		rule = "How each item is decided: see “How it was tested”."
	}
	blocks := []layout.Block{
		layout.Verdict{Big: r.headline(), Small: small, Note: "Sheet: " + j.vouched() + ". " + rule},
	}
	if f := r.failing(); len(f) > 0 {
		blocks = append(blocks, layout.Caution{Text: sentence(f)})
	}
	tested := r.signed("M")
	in := j.Intake
	blocks = append(blocks, layout.Table{Size: 8.5, Cols: []layout.Col{{Weight: 1.1}, {Weight: 4}, {Weight: 1.1}, {Weight: 4}}, Rows: [][]layout.Cell{
		{{Text: "received", Grey: true}, {Text: in.Received.Format("2 Jan 2006") + " by " + in.By}, {Text: "tested", Grey: true}, {Text: join(" by ", orDash(day(tested.On)), tested.By)}},
		{{Text: "engine", Grey: true}, {Text: typed(orDash(in.Engine))}, {Text: "released", Grey: true}, {Text: r.released()}},
		{{Text: "authorised", Grey: true}, {Text: typed(join(", ", in.Authorised.Work, in.Authorised.Limit, in.Authorised.By))}, {Text: "at strip", Grey: true}, {Text: typed(orDash(r.Approval))}},
	}})
	noteText := r.Note
	if noteText == "" {
		noteText = "Fit and time the pump to the engine maker's instructions; bleed before starting."
	}
	blocks = append(blocks, layout.Columns{Weights: []float64{1.35, 1}, Cols: [][]layout.Block{
		{layout.Heading{Text: "You told us"}, layout.Para{Text: typed(j.Intake.Complaint)}, layout.Heading{Text: "We found"}, layout.Bullets{Items: lines(r.found())}},
		{layout.Heading{Text: "We did"}, layout.Para{Text: typed(r.did(j))}, layout.Heading{Text: "Please note"}, layout.Para{Text: typed(noteText)}},
	}})
	unit := ""
	for _, it := range r.Items {
		if it.Group == Settings {
			unit = it.Unit
		}
	}
	blocks = append(blocks, layout.Heading{Text: "Static dimensions, " + unit})
	blocks = append(blocks, settingsTable(r),
		layout.Para{Text: "found: cleaned, with the shims that came out.  ±: uncertainty of the reading, 95 %.  Small cross: what the change should give.", Size: 7.5, Grey: true})
	if curve > 0 {
		blocks = append(blocks, r.curve(curve))
	}
	return blocks
}

func settingsTable(r *Results) layout.Table {
	t := layout.Table{RowHeight: 8, Size: 8.5, Cols: []layout.Col{
		{Head: "item", Weight: 3.2}, {Head: "limits", Weight: 1.7}, {Head: "found", Weight: 1, Align: "R"}, {Head: "changed", Weight: 2.4},
		{Head: "left", Weight: 1, Align: "R"}, {Head: "±", Weight: .9, Align: "R"}, {Head: "open: found, full: left", Weight: 3.4}, {Head: "", Weight: 1.7, Align: "R"},
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
			{Text: it.Name}, {Text: it.Limits()}, {Text: figure(it.Found, it.Decimals)}, {Text: it.Change},
			{Text: figure(it.Left, it.Decimals), Bold: true}, {Text: uncertainty(it)}, {Strip: s}, {Text: string(it.Verdict), Bold: true},
		})
	}
	return t
}

// uncertainty is that of a reading as printed.
func uncertainty(it *Item) string {
	if it.U == nil {
		return "–"
	}
	return roundedUp(*it.U, it.Decimals)
}

// roundedUp prints an uncertainty so that no figure looks surer than it is.
func roundedUp(u float64, decimals int) string {
	p := math.Pow10(decimals)
	return calc.Fixed(math.Ceil(u*p-1e-9)/p, decimals)
}

// curve is the full-lever delivery curve, as found and as left, with its
// limits.
func (r *Results) curve(height float64) layout.Block {
	p := layout.Plot{Title: "Full lever: mean delivery, cm³ per 1000 strokes; bars: limits", XLabel: "pump speed, rev/min", Height: height}
	for _, d := range r.Left {
		if d.OnCurve {
			p.Limits = append(p.Limits, layout.LimitBar{X: d.Speed, Low: open(d.Low, -1), High: open(d.High, 1)})
		}
	}
	p.Series = series(curveOf(r.Found), curveOf(r.Left))
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
func series(found, left []point) (out []layout.Series) {
	for i, ps := range [][]point{found, left} {
		if len(ps) == 0 {
			continue
		}
		sort.SliceStable(ps, func(a, b int) bool { return ps[a].x < ps[b].x })
		s := layout.Series{Name: []string{"as found", "as left"}[i], Dash: i == 0, Open: i == 0}
		for _, p := range ps {
			s.X, s.Y = append(s.X, p.x), append(s.Y, p.y)
		}
		out = append(out, s)
	}
	return out
}

// itemBlocks is every item, then what was changed and predicted.
func (j *Job) itemBlocks(r *Results) []layout.Block {
	out := []layout.Block{layout.Heading{Text: "Every item", Right: "±: uncertainty of the reading, 95 %; P: probability that the value lies within its limits, where it is not over 99.9 %"}, r.itemTable()}
	var rows [][]string
	for _, it := range r.Items {
		if it.Group != Settings {
			continue
		}
		rows = append(rows, []string{it.Name, orDash(it.Change), orDash(it.Advice), orDash(join("; ", it.prediction(), it.Note))})
	}
	if r.Screw != "" {
		rows = append(rows, []string{"Full-load screw", "turned", "–", r.Screw})
	}
	return append(out, record("Shims and settings", []layout.Col{{Head: "item", Weight: 2.6}, {Head: "changed", Weight: 2}, {Head: "the tray's answer to what was found", Weight: 3.2}, {Head: "measured again", Weight: 3.8}}, rows)...)
}

// prediction says whether the last refit did what it must.
func (i *Item) prediction() string {
	if i.Miss == nil && i.Change != "none" && i.Left != nil && strings.Contains(i.Change, " + ") {
		return figure(i.Left, i.Decimals) + ", the sum of its parts as measured"
	}
	if i.Miss == nil {
		return ""
	}
	words := fmt.Sprintf("%s worked out, %s measured", figure(i.Expected, i.Decimals), figure(i.Left, i.Decimals))
	switch {
	case i.MissAllow == nil:
		return words
	case i.MissesPrediction():
		return words + fmt.Sprintf(": off by %s where ±%s is allowed; a part or a figure is not what it was taken for", signed(*i.Miss, i.Decimals), roundedUp(*i.MissAllow, i.Decimals+1))
	}
	return words + fmt.Sprintf(": agree within ±%s", roundedUp(*i.MissAllow, i.Decimals+1))
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
	t := layout.Table{Size: 8, Cols: []layout.Col{{Head: "box", Weight: .8}, {Head: "item", Weight: 4.2}, {Head: "limits", Weight: 1.8, Align: "R"}, {Head: "unit", Weight: 1.4}, {Head: "found", Weight: 1, Align: "R"},
		{Head: "left", Weight: 1, Align: "R"}, {Head: "±", Weight: .9, Align: "R"}, {Head: "P", Weight: 1.1, Align: "R"}, {Head: "", Weight: 2, Align: "R"}}}
	for _, it := range r.Items {
		name := it.Name
		if it.Safety {
			name += " (safety)"
		}
		if it.Group == Conditions {
			name += " (condition)"
		}
		if it.Note != "" {
			name += ": " + it.Note
		}
		if it.Wanted != "" {
			t.Rows = append(t.Rows, []layout.Cell{{Text: it.Code}, {Text: name}, {Text: it.Wanted}, {}, {}, {Text: it.Seen, Bold: true}, {}, {}, {Text: string(it.Verdict), Bold: true}})
			continue
		}
		t.Rows = append(t.Rows, []layout.Cell{{Text: it.Code}, {Text: name}, {Text: it.Limits()}, {Text: it.Unit}, {Text: figure(it.Found, it.Decimals)},
			{Text: figure(it.Left, it.Decimals), Bold: true}, {Text: uncertainty(it)}, {Text: probability(it.P)}, {Text: string(it.Verdict), Bold: true}})
	}
	return t
}

// probability is printed rounded down, so that nothing looks surer than it is.
func probability(p *float64) string {
	if p == nil {
		return "–"
	}
	if *p >= .9995 {
		return ""
	}
	return calc.Fixed(math.Floor(*p*1000+1e-9)/10, 1) + " %"
}

// recordBlocks is the rest: what was changed and predicted, parts, torques,
// instruments, remarks, who did what, and the end.
func (j *Job) recordBlocks(r *Results) []layout.Block {
	var out []layout.Block
	table := func(title string, cols []layout.Col, rows [][]string) {
		out = append(out, record(title, cols, rows)...)
	}
	var rows [][]string
	for _, m := range r.Missing {
		rows = append(rows, []string{m.Code, m.Label, m.Why})
	}
	table("Required, and not there", []layout.Col{{Head: "box", Weight: 1}, {Head: "what", Weight: 5}, {Head: "why", Weight: 4}}, rows)

	var left, right []layout.Block
	rows = nil
	for _, p := range r.Parts {
		rows = append(rows, []string{calc.Fixed(p.Quantity, 0), p.What})
	}
	parts := "Parts noted as needed, not ticked as drawn"
	if r.PartsDrawn {
		parts = "Parts fitted"
	}
	left = append(left, record(parts, []layout.Col{{Head: "quantity", Weight: 1, Align: "R"}, {Head: "part", Weight: 5}}, rows)...)

	rows = nil
	for _, t := range r.Torques {
		done := "not ticked"
		if t.Done {
			done = "done"
		}
		rows = append(rows, []string{t.Name, fmt.Sprint(t.Count), t.Steps, done})
	}
	left = append(left, record("Torques", []layout.Col{{Head: "fastener", Weight: 4}, {Head: "count", Weight: 1.2, Align: "R"}, {Head: "steps", Weight: 3.4}, {Head: "", Weight: 1.6, Align: "R"}}, rows)...)

	rows = nil
	for _, s := range r.SignOffs {
		rows = append(rows, []string{s.Stage, s.Title, s.By, day(s.On), s.Second})
	}
	right = record("Who did what", []layout.Col{{Head: "", Weight: .6}, {Head: "stage", Weight: 4}, {Head: "by", Weight: 1.2}, {Head: "on", Weight: 2.2}, {Head: "second", Weight: 1.6}}, rows)
	out = append(out, layout.Columns{Cols: [][]layout.Block{left, right}})

	rows = nil
	for _, i := range r.Instruments {
		if i.Unknown {
			rows = append(rows, []string{i.Name, "–", "not in the shop file: its readings are not decided", "", ""})
			continue
		}
		due := day(i.Due)
		if due == "" {
			due = "not given"
		}
		if i.Overdue {
			due += " OVERDUE"
		}
		rows = append(rows, []string{i.Name, i.Number, i.Permissible, i.Resolution, due})
	}
	table("Instruments", []layout.Col{{Head: "instrument", Weight: 3}, {Head: "number", Weight: 1.5}, {Head: "permissible error", Weight: 3}, {Head: "resolution", Weight: 2}, {Head: "calibration due", Weight: 2.2}}, rows)

	rows = nil
	for _, m := range r.Remarks {
		rows = append(rows, []string{m.Code, m.Label, m.Text})
	}
	for _, m := range r.Confirmed {
		rows = append(rows, []string{m.Code, m.Label, "confirmed: " + m.Text})
	}
	for _, s := range r.Slips {
		rows = append(rows, []string{s.Code, s.Label, fmt.Sprintf("the pen wrote %v, the sheet's own figures make %v; the latter counts", s.Pen, s.Worked)})
	}
	table("Remarks", []layout.Col{{Head: "box", Weight: .8}, {Head: "what", Weight: 3}, {Head: "remark", Weight: 7}}, rows)

	c := j.Spec.Bench.Conditions
	typist := ""
	if r.TypedBy != "" {
		typist = " Readings typed by " + r.TypedBy + "."
	}
	out = append(out, layout.Heading{Text: "How it was tested"}, layout.Para{Text: decisionRule, Size: 8.5}, layout.Para{Text: fmt.Sprintf("Test oil %s; nozzle holders %s; pipes %s. %s Sheet: %s.%s",
		c.TestOil, c.NozzleHolders, c.Pipes, r.normalised(j), j.vouched(), typist), Size: 8.5},
		layout.Caution{Text: "Spray at injection pressure goes through skin: keep hands away when bleeding. Check the stop device and the governed speed on the engine before work: a pump that sticks open can overspeed it."},
		layout.Para{Text: "end of report", Bold: true})
	return out
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}
