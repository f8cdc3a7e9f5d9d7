package packet

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"time"

	"shimcard/calc"
	"shimcard/packet/codes"
	"shimcard/specs/strict"
)

// Entry is what was typed for one box.
type Entry struct {
	Text      string  // as typed, without confirmation and remark
	Number    float64 // of a number, in the box's unit
	Decimals  int     // of a number typed in the box's unit
	Yes       bool    // of a tick
	Confirmed bool    // "!": the value stands although it is hard to believe
	Remark    string  // in round brackets after the value
	Raw       string  // all that stands in the form: text, confirmation, remark
	Line      int     // in the form
}

// Blank reports whether nothing was written in the box; a remark may still say why.
func (e Entry) Blank() bool { return e.Text == "" }

// Readings is a typing form read back.
type Readings struct {
	TypedBy string
	Entries map[string]Entry // by box code
	// As the history of the form tells: the changes after the first entry of a
	// box, and who typed everything a second time.
	Corrections []Change
	TypedAgain  string
}

// Form writes the typing form of a job: every box in sheet order, a place to
// type, and as a comment its label, unit and window. fill gives what stands
// after the colon; nil leaves every place blank.
func Form(number string, p *Plan, fill func(*Box) string) []byte {
	var w bytes.Buffer
	for _, line := range append([]string{p.T("Typing form of job %s: boxes in the order of the sheets.", number)}, p.all(
		"Type each figure after its colon; decimal point or comma, both do. Blank: not measured.",
		"A remark goes in round brackets after the value, or alone:  3.34 (face scored)   (illegible)",
		"Words with a : or a # in them go in double quotes:  \"filter #4: changed\"",
		"A value outside what is believable stops the report: put it right, or confirm it:  4.90 !",
		"Boxes marked = are worked out for you; type what the pen wrote and it is compared.",
	)...) {
		fmt.Fprintf(&w, "# %s\n", line)
	}
	fmt.Fprintf(&w, "form: 1\njob: %s\nedition: %d\ntyped by:\n", number, Edition)
	for _, s := range p.Stages {
		fmt.Fprintf(&w, "\n# ---- %s  %s\n", s.Letter, s.Title)
		for _, b := range s.Boxes() {
			value := ""
			if fill != nil {
				value = fill(b)
			}
			line := fmt.Sprintf("%s: %s", b.Code, value)
			fmt.Fprintf(&w, "%-22s # %s\n", strings.TrimRight(line, " "), b.hint())
		}
	}
	return w.Bytes()
}

// hint says beside a box in the form what belongs there.
func (b *Box) hint() string {
	h := b.Label
	if b.From != nil {
		h = "= " + h
	}
	switch b.Kind {
	case Number:
		if b.Unit.Symbol != "" {
			h += ", " + b.Printer.Unit(b.Unit.Symbol)
		}
		if w := b.Window(); w != "" && b.From == nil {
			h += ", " + w
		}
	case Tick:
		h += ": " + b.T("yes or no")
	case Choice:
		h += ": " + strings.Join(b.answers(), " / ")
	case Date:
		h += ", 2026-10-05"
	}
	if b.Required {
		h += " " + b.T("(required)")
	}
	return h
}

// ReadForm reads a typing form of the job. Errors are strict.Faults: every
// fault at once, each with its place.
func ReadForm(file string, data []byte, number string, p *Plan) (*Readings, error) {
	byCode := map[string]*Box{}
	for _, b := range p.Boxes() {
		byCode[strings.ToUpper(b.Code)] = b
	}
	r := &Readings{Entries: map[string]Entry{}}
	doc := strict.Open(file, tidy(data))
	m := doc.Root()
	m.Need("form", "form: 1").Int(1, 1)
	m.Need("edition", fmt.Sprintf("edition: %d", Edition)).Int(Edition, Edition)
	if v := m.Need("job", "job: "+number); !v.IsNull() {
		if n, err := codes.ParseNumber(v.Text()); err != nil || n != number {
			v.Fault(v.Text(), "the number of this job, "+number+"; is this the right form?")
		}
	}
	r.TypedBy = optional(m, "typed by")
	for _, e := range m.Entries() {
		switch e.Key {
		case "form", "job", "edition", "typed by":
			continue
		}
		b := byCode[strings.ToUpper(e.Key)]
		if b == nil {
			like := strict.Nearest(strings.ToUpper(e.Key), sortedKeys(byCode))
			if like == "" {
				like = p.Stages[0].Boxes()[0].Code
			}
			e.Value.Fault(e.Key, "a box code of this job, such as "+like+"; nothing else may stand in the form")
			continue
		}
		if before, twice := r.Entries[b.Code]; twice {
			e.Value.Fault(fmt.Sprintf("%s a second time (first in line %d)", b.Code, before.Line), "it once")
			continue
		}
		entry := Entry{Line: e.Line}
		if !e.Value.IsNull() {
			entry.Raw = strings.TrimSpace(plainText(e.Value.Text()))
			if found, want := b.read(entry.Raw, &entry); want != "" {
				e.Value.Fault(found, want)
			}
		}
		r.Entries[b.Code] = entry
	}
	if err := doc.Err(); err != nil {
		return nil, err
	}
	return r, nil
}

var remarkForm = regexp.MustCompile(`^(.*?)\s*\(([^()]*)\)\s*$`)

// read takes one value as typed into e. When it cannot be read, want says what
// to write instead.
func (b *Box) read(s string, e *Entry) (found, want string) {
	s = strings.TrimSpace(plainText(s))
	if b.Kind == Text {
		e.Text = s
		return "", ""
	}
	confirm := func() { // before a remark or after it
		if rest, ok := strings.CutSuffix(s, "!"); ok {
			s, e.Confirmed = strings.TrimSpace(rest), true
		}
	}
	confirm()
	if m := remarkForm.FindStringSubmatch(s); m != nil {
		s, e.Remark = m[1], m[2]
	}
	confirm()
	e.Text = s
	if s == "" {
		return "", ""
	}
	switch b.Kind {
	case Number:
		s = minusSigns(s)
		x, decimals, err := calc.ParseNumber(s)
		e.Decimals = decimals
		if err != nil {
			q, _, qerr := calc.ParseQuantity(s)
			if qerr != nil || q.Unit.Kind != b.Unit.Kind || q.Unit.Kind == calc.Count {
				return s, b.T("a figure in %s, like %s; a remark goes in round brackets", unitWords(b), b.example())
			}
			x = q.In(b.Unit)
		}
		e.Number = x
	case Tick:
		switch strings.ToLower(s) {
		case "yes", "y", "ja", "j", "x", "ok", "done", "✓", "true":
			e.Yes = true
		case "no", "n", "nein", "–", "false":
		default:
			return s, b.T("yes or no")
		}
	case Choice:
		if e.Text = b.answer(s); e.Text == "" {
			e.Text = s
			return s, b.T("one of: %s", strings.Join(b.answers(), ", "))
		}
	case Date:
		for _, layout := range []string{"2006-01-02", "2.1.2006"} {
			if d, err := time.Parse(layout, s); err == nil {
				e.Text = d.Format("2006-01-02")
				return "", ""
			}
		}
		return s, b.T("a date like 2026-10-05")
	}
	return "", ""
}

// answer is the choice that somebody typed, as it is stored: the word on the
// sheet or the English one, or the beginning of one that begins no other.
func (b *Box) answer(typed string) string {
	found := ""
	for _, list := range [][]string{b.answers(), b.Choices} {
		for i, word := range list {
			if strings.EqualFold(word, typed) {
				return b.Choices[i]
			}
		}
	}
	for _, list := range [][]string{b.answers(), b.Choices} {
		if found != "" {
			break // a beginning of the sheet's own words goes before English
		}
		for i, word := range list {
			if len(word) <= len(typed) || !strings.EqualFold(word[:len(typed)], typed) {
				continue
			}
			if found != "" && found != b.Choices[i] {
				return ""
			}
			found = b.Choices[i]
		}
	}
	return found
}

func unitWords(b *Box) string {
	if b.Unit.Symbol == "" {
		return b.T("plain numbers")
	}
	return b.Printer.Unit(b.Unit.Symbol)
}

func (b *Box) example() string {
	x := (finite(b.Low) + finite(b.High)) / 2
	return b.Decimal(x)
}
