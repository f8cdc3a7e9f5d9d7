package packet

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"shimcard/fonts"
)

// The files of typing, beside those of the job: the history of the form, the
// form of the person who types a second time, and its history; and what whoever
// writes to one of them holds locked.
const (
	HistoryFile       = "readings-history.jsonl"
	secondFile        = "readings-second.yaml"
	secondHistoryFile = "readings-second-history.jsonl"
	lockFile          = ".lock"
)

// Typing is a job folder opened to type its sheets in. The form is what counts:
// every value put is in the form and in the history on the disk before Put
// returns, and what somebody wrote into the form by hand meanwhile is taken up
// and noted in the history as well.
type Typing struct {
	*Job
	Who      string    // types
	Readings *Readings // as the form stands; after a Put, a new one
	dir      string
	form     string // path
	text     []byte // of the form, as it was read or written last
	history  *history
	now      func() time.Time
	deciding bool // what counts, of what went back
	held     bool // the lock

	without struct { // what is doubted while a box is blank, kept for the next Check of it
		box    *Box
		of     *Readings
		doubts []Doubt
	}
}

// OpenTyping opens a job folder to type into its form. who may be blank to look
// only. Faults of the form are strict.Faults.
func OpenTyping(dir, who string) (*Typing, error) {
	job, err := Open(dir)
	if err != nil {
		return nil, err
	}
	t, err := job.typing(dir, who, FormFile, HistoryFile)
	if err != nil {
		return nil, err
	}
	// A folder that cannot be written to can still be looked at; Put says why not.
	if last, err := lastIssue(dir); err == nil && who != "" {
		_ = t.regain(last)
	}
	_ = t.note()
	return t, nil
}

// OpenSecond opens a job folder for a second person, who types every sheet once
// more without seeing what the first one typed.
func OpenSecond(dir, who string) (*Typing, error) {
	job, err := Open(dir)
	if err != nil {
		return nil, err
	}
	first, err := job.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return nil, err
	}
	if l := letters(who); l != "" && l == letters(first.Readings.TypedBy) {
		return nil, fmt.Errorf("%s: %s typed the first time; a second person types the second time", dir, who)
	}
	name := filepath.Join(dir, secondFile)
	if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
		if err := makeFile(name, Form(job.Number, job.Plan, nil)); err != nil && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
	}
	t, err := job.typing(dir, who, secondFile, secondHistoryFile)
	if err != nil {
		return nil, err
	}
	_ = t.note()
	return t, nil
}

// typing opens a form of the job and its history; nothing is written.
func (j *Job) typing(dir, who, form, log string) (*Typing, error) {
	if err := printable(who, mostLine); err != nil {
		return nil, err
	}
	t := &Typing{Job: j, Who: who, dir: dir, form: filepath.Join(dir, form), now: time.Now}
	var err error
	if t.history, err = readHistory(filepath.Join(dir, log)); err != nil {
		return nil, err
	}
	return t, t.read()
}

// printable refuses what has no place in the report: of a name, or of why a reading
// was corrected.
func printable(text string, most int) error {
	if n := utf8.RuneCountInString(text); n > most {
		return fmt.Errorf("%s: found %d characters; write %d at most", cut(text, 40), n, most)
	}
	if i := strings.IndexFunc(text, unicode.IsControl); i >= 0 {
		r, _ := utf8.DecodeRuneInString(text[i:])
		return fmt.Errorf("%q: found the control character %q; write it without", text, r)
	}
	if m := fonts.Missing(text); len(m) > 0 {
		return fmt.Errorf("%s: found %q, which the printed typeface has not; write it another way", text, m[0])
	}
	return nil
}

// cut is the beginning of a text that is too long.
func cut(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return text
}

// read takes the form up as it is on the disk.
func (t *Typing) read() error {
	f, err := readOwn(t.form)
	if err != nil {
		return err
	}
	if err := t.history.again(); err != nil {
		return err
	}
	if t.Readings != nil && bytes.Equal(f.Data, t.text) {
		t.corrected(t.Readings, t.history.changes)
		return nil
	}
	r, err := ReadForm(f.Name, f.Data, t.Number, t.Plan)
	if err != nil {
		return err
	}
	t.text, t.Readings = f.Data, r
	t.corrected(r, t.history.changes)
	return nil
}

// note adds to the history what the form says and the history does not: somebody
// wrote it there by hand.
func (t *Typing) note() error {
	if len(t.unrecorded("", InForm, "")) == 0 {
		return nil
	}
	return t.alone(func() error { return nil })
}

// lock lets nobody else write meanwhile: two who type at once, at one computer or at
// two, take turns. The lock goes with its process, whatever ends that. The name is
// that of what is to be written.
func (t *Typing) lock(name string, do func() error) error {
	if !t.held {
		unlock, err := locked(filepath.Join(t.dir, lockFile))
		if err != nil {
			return notWritten(name, err)
		}
		t.held = true
		defer func() { t.held = false; unlock() }()
	}
	return do()
}

// alone does something to the files while nobody else does. The form is taken up as
// it stands, and what somebody wrote there by hand is noted first.
func (t *Typing) alone(do func() error) error {
	return t.lock(t.form, func() error {
		if err := t.read(); err != nil {
			return err
		}
		if err := t.Whole(); err != nil {
			if t.deciding {
				return do()
			}
			return err
		}
		if err := t.record(t.Readings.TypedBy, InForm, ""); err != nil {
			return err
		}
		return do()
	})
}

// GoneBack are the boxes that somebody typed something in and that are blank in the
// form now, or hold what they held before: an older form was put back, or an editor
// saved over a newer one. Nothing is written until it is decided which counts.
func (t *Typing) GoneBack() []Change {
	held, how := map[string]map[string]bool{}, map[string]How{}
	for _, c := range t.history.changes {
		if held[c.Box] == nil {
			held[c.Box] = map[string]bool{"": true}
		}
		held[c.Box][c.Old], held[c.Box][c.New] = true, true
		how[c.Box] = c.How
	}
	return slices.DeleteFunc(t.unrecorded("", InForm, ""), func(c Change) bool {
		return !held[c.Box][c.New] || how[c.Box] == InForm || c.Old == ""
	})
}

// Whole tells what the form has lost against the history, as an error; nil where
// that is nothing.
func (t *Typing) Whole() error {
	if lost := t.GoneBack(); len(lost) > 0 {
		return t.goneBack(lost)
	}
	return nil
}

func (t *Typing) goneBack(lost []Change) error {
	var codes []string
	for _, c := range lost {
		codes = append(codes, c.Box)
	}
	if n := len(codes) - 8; n > 1 {
		codes = append(codes[:8], fmt.Sprintf("%d more", n))
	}
	why := "An older file was put back, or an editor saved over it."
	if last, err := lastIssue(t.dir); err == nil && last != nil && last.awaited(t.dir) {
		why = fmt.Sprintf("%s is there, its report is not: if something synchronises this folder, wait until it is through. Otherwise an older file was put back, or an editor saved over it.", issueName(last.Number))
	}
	return fmt.Errorf("%s: blank, or as before, though something was typed since: %s. %s To have back what was typed: benchreport enter --put-back %s. If the file is right: benchreport enter --as-it-is %s",
		t.form, strings.Join(codes, ", "), why, t.dir, t.dir)
}

// PutBack decides for the history: what was typed stands in the form again.
func (t *Typing) PutBack() error {
	return t.decided(func(lost []Change) error {
		texts := map[string]string{}
		for _, c := range lost {
			texts[c.Box] = c.Old
		}
		return t.putAll(texts, InForm, "")
	})
}

// AsItIs decides for the form: the history notes what it says.
func (t *Typing) AsItIs() error {
	return t.decided(func([]Change) error { return t.record(t.Who, InForm, "") })
}

// decided does something about the boxes that went back, as alone does.
func (t *Typing) decided(do func(lost []Change) error) error {
	t.deciding = true
	defer func() { t.deciding = false }()
	return t.alone(func() error {
		if lost := t.GoneBack(); len(lost) > 0 {
			return do(lost)
		}
		return nil
	})
}

// unrecorded are the boxes in which the form differs from the history.
func (t *Typing) unrecorded(who string, how How, why string) []Change {
	last := t.history.last()
	var changes []Change
	for _, b := range t.Boxes() {
		if raw := t.Raw(b); raw != last[b.Code] {
			changes = append(changes, Change{b.Code, last[b.Code], raw, who, t.now(), how, why})
		}
	}
	return changes
}

// record adds those to the history.
func (t *Typing) record(who string, how How, why string) error {
	changes := t.unrecorded(who, how, why)
	if len(changes) == 0 {
		return nil
	}
	return t.add(changes...)
}

// add adds to the history what the readings are then told.
func (t *Typing) add(changes ...Change) error {
	if err := t.history.add(changes...); err != nil {
		return err
	}
	t.corrected(t.Readings, t.history.changes)
	return nil
}

// Last is the box typed last at the terminal, nil where none was.
func (t *Typing) Last() *Box {
	for _, c := range slices.Backward(t.history.changes) {
		if c.How == Entered {
			i := slices.IndexFunc(t.Boxes(), func(b *Box) bool { return b.Code == c.Box })
			if i >= 0 {
				return t.Boxes()[i]
			}
		}
	}
	return nil
}

// Raw is what stands in the form for a box: value, confirmation and remark.
func (t *Typing) Raw(b *Box) string { return t.Readings.Entries[b.Code].Raw }

// Put accepts a text for a box, as it would be typed into the form: a value, a
// "!" behind it where it is confirmed, a remark in round brackets with a value or
// alone; "" for blank. why is kept in the history. A text that cannot be read is
// refused.
func (t *Typing) Put(b *Box, text, why string) error { return t.put(b, text, Entered, why) }

func (t *Typing) put(b *Box, text string, how How, why string) error {
	text = oneLine(text)
	if err := printable(why, mostWords); err != nil {
		return err
	}
	if d := t.refused(b, text); d != nil {
		return fmt.Errorf("%s, %s: %s", b.Code, b.Label, d.Reason)
	}
	seen := t.Raw(b)
	return t.alone(func() error {
		switch now := t.Raw(b); {
		case text == now:
			return nil
		case seen != now:
			return &Taken{b, t.whose(b), now, text}
		}
		return t.putAll(map[string]string{b.Code: text}, how, why)
	})
}

// Taken tells that somebody else typed into a box after whoever types into it now had
// looked: nothing was written.
type Taken struct {
	Box         *Box
	By          string
	Theirs, Own string
}

func (e *Taken) Error() string {
	return fmt.Sprintf("%s, %s: %s has just typed %s; if yours is right, %s, type it again", e.Box.Code, e.Box.Label, e.By, blankOr(e.Theirs), blankOr(e.Own))
}

// whose is what stands in a box now.
func (t *Typing) whose(b *Box) string {
	for _, c := range slices.Backward(t.history.changes) {
		if c.Box == b.Code && c.Who != "" {
			return c.Who
		}
	}
	return "somebody"
}

func blankOr(text string) string {
	if text == "" {
		return "blank"
	}
	return text
}

// putAll puts texts, by box code, at once; alone.
func (t *Typing) putAll(texts map[string]string, how How, why string) error {
	form, r, err := t.withTexts(t.text, t.Readings, texts)
	if err != nil {
		return err
	}
	return t.replace(form, r, how, why)
}

// replace writes the form, which reads as r, then the history of what is new in it;
// alone.
func (t *Typing) replace(form []byte, r *Readings, how How, why string) error {
	who := t.Who
	if who == "" {
		who = r.TypedBy
	} else if r.TypedBy == "" {
		var err error
		form = typedBy(form, who)
		if r, err = ReadForm(t.form, form, t.Number, t.Plan); err != nil {
			return err
		}
	}
	if now, err := ReadFile(t.form); err == nil && !bytes.Equal(now.Data, t.text) { // an editor knows no locks
		return fmt.Errorf("%s: somebody else has just changed it; once more", t.form)
	}
	if err := replaceFile(t.form, form); err != nil {
		return err
	}
	old, was := t.text, t.Readings
	t.text, t.Readings = form, r
	t.corrected(r, t.history.changes)
	err := t.record(who, how, why)
	if err == nil {
		return nil
	}
	// What the history does not have is not accepted.
	if also := replaceFile(t.form, old); also != nil {
		return fmt.Errorf("%w; the form has what was typed all the same", err)
	}
	t.text, t.Readings = old, was
	return err
}

// typedBy is a form whose blank "typed by" names somebody.
func typedBy(form []byte, who string) []byte {
	lines := strings.SplitAfter(string(form), "\n")
	for i, l := range lines {
		if key, _, _ := strings.Cut(tidyLine(l), ":"); strings.TrimSpace(key) == "typed by" {
			lines[i] = lineWith(l, formValue(who))
			return []byte(strings.Join(lines, ""))
		}
	}
	return append([]byte("typed by: "+formValue(who)+"\n"), form...)
}

// refused says why a text cannot be read in a box, nil when it can.
func (t *Typing) refused(b *Box, text string) *Doubt {
	var e Entry
	if found, want := b.read(text, &e); want != "" {
		return &Doubt{Box: b, Value: found, Reason: b.T("found %s; write %s", found, want), Refused: true}
	}
	return nil
}

// Check lists what is doubtful about a text for a box, given what is typed so
// far: in the box itself, and what it newly makes doubtful in others. Nothing is
// written.
func (t *Typing) Check(b *Box, text string) []Doubt {
	text = oneLine(text)
	if d := t.refused(b, text); d != nil {
		return []Doubt{*d}
	}
	var out []Doubt
	for _, d := range t.Doubts(t.Readings.with(b, text)) {
		if d.Box == b || !t.awaited(d.Box, b) && !t.doubtedWithout(b, d.Box) {
			out = append(out, d)
		}
	}
	if text == "" && b.Required {
		if _, ok := newValues(t.Readings.with(b, "")).number(b); b.From == nil || !ok {
			out = append(out, Doubt{Box: b, Reason: t.unfilled(b)})
		}
	}
	return out
}

// doubtedWithout reports whether a box is doubted while another is blank.
func (t *Typing) doubtedWithout(blank, b *Box) bool {
	if t.without.box != blank || t.without.of != t.Readings {
		t.without.box, t.without.of, t.without.doubts = blank, t.Readings, t.Doubts(t.Readings.with(blank, ""))
	}
	return slices.ContainsFunc(t.without.doubts, func(d Doubt) bool { return d.Box == b })
}

// awaited reports whether a box has its turn still to come while another is typed:
// it is blank, or a figure of it is that comes after the other on the sheets.
func (t *Typing) awaited(b, typing *Box) bool {
	if b.From == nil {
		return t.Raw(b) == ""
	}
	after := false
	for _, x := range t.Boxes() {
		if after && t.Raw(x) == "" && slices.ContainsFunc(b.From.Terms, func(t Term) bool { return t.Box == x }) {
			return true
		}
		after = after || x == typing
	}
	return false
}

// unfilled says what it means that a required box is left blank.
func (t *Typing) unfilled(b *Box) string {
	for _, s := range t.Stages {
		if s.Second == b {
			return s.Hold
		}
	}
	return b.T("required: without it the report is incomplete")
}

// with are the readings with another text in one box.
func (r *Readings) with(b *Box, text string) *Readings {
	out := &Readings{TypedBy: r.TypedBy, Entries: maps.Clone(r.Entries)}
	e := Entry{Raw: text, Line: r.Entries[b.Code].Line}
	b.read(text, &e)
	out.Entries[b.Code] = e
	return out
}

// Worked is what a worked-out box comes to from what is typed so far, as the pen
// would write it: "" while it cannot be, and why says so. slip is the pen's own
// figure where one is typed and differs.
func (t *Typing) Worked(b *Box) (figure string, slip *Slip, why string) {
	if b.From == nil {
		return "", nil, ""
	}
	v := newValues(t.Readings)
	x, ok, why := b.From.Value(v.number)
	if !ok {
		return "", nil, why
	}
	return b.Decimal(x), v.slip(b), ""
}

// Merge puts other forms of the job into its form; without any, the form gets a
// line for every box that it lacks. Where two differ in a box, neither is chosen:
// the box is left blank with both in its remark, and comes back as a difference.
func (t *Typing) Merge(others ...File) (differ []Difference, err error) {
	err = t.alone(func() error {
		var merged []byte
		merged, differ, err = t.mergeForms(append([]File{{t.form, t.text}}, others...)...)
		if err != nil || bytes.Equal(merged, t.text) {
			return err
		}
		r, err := ReadForm(t.form, merged, t.Number, t.Plan)
		if err != nil {
			return err
		}
		return t.replace(merged, r, Merged, "")
	})
	if err != nil {
		return nil, err
	}
	return differ, nil
}

// second is the second typing of the job, nil when there is none.
func (t *Typing) second() (*Typing, error) {
	if _, err := os.Stat(filepath.Join(t.dir, secondFile)); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return t.typing(t.dir, t.Who, secondFile, secondHistoryFile)
}

// Differences lists the boxes in which the two typings differ in value, in sheet
// order; twice is false where nobody typed a second time. A box that only one of
// them has is a difference, unless what it holds is worked out.
func (t *Typing) Differences() (differ []Difference, twice bool, err error) {
	s, err := t.second()
	if s == nil || err != nil {
		return nil, false, err
	}
	for _, b := range t.Boxes() {
		x, y := t.Readings.Entries[b.Code], s.Readings.Entries[b.Code]
		if b.From != nil && (x.Blank() || y.Blank()) {
			continue // the pen's arithmetic need not be typed
		}
		x.Confirmed, y.Confirmed, x.Remark, y.Remark = false, false, "", ""
		if !b.same(x, y) {
			differ = append(differ, Difference{b, t.Raw(b), s.Raw(b)})
		}
	}
	return differ, true, nil
}

// Settle puts a text into a box of both typings, where they differed.
func (t *Typing) Settle(b *Box, text, why string) error {
	s, err := t.second()
	if err != nil {
		return err
	}
	if s != nil {
		if err := s.put(b, text, Settled, why); err != nil {
			return err
		}
	}
	return t.put(b, text, Settled, why)
}

// noteTwice notes that a second person typed everything and nothing differs, once.
func (t *Typing) noteTwice() error {
	return t.alone(func() error {
		differ, twice, err := t.Differences()
		if err != nil || !twice || len(differ) > 0 || t.Readings.TypedAgain != "" {
			return err
		}
		s, err := t.second()
		if err != nil || s.Readings.TypedBy == "" {
			return err
		}
		return t.add(Change{Who: s.Readings.TypedBy, When: t.now(), How: TypedAgain})
	})
}
