package packet

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"gopkg.in/yaml.v3"
)

// tidy undoes what word processors and keyboards of other scripts do to a form,
// line by line, so that a line keeps its number: no-break, thin and wide blanks,
// tabs and page breaks become blanks, invisible characters and the byte-order
// mark go, full-width figures and letters become plain ones, typographic quotes
// round a value become straight, and a value close behind its colon gets its
// blank.
func tidy(form []byte) []byte {
	var w bytes.Buffer
	w.Grow(len(form))
	for line := range strings.Lines(string(form)) {
		body := strings.TrimRight(line, "\r\n")
		w.WriteString(tidyLine(body))
		if len(body) < len(line) {
			w.WriteByte('\n')
		}
	}
	return w.Bytes()
}

var (
	closeBehind = regexp.MustCompile(`^(\s*(?:[A-Za-z][0-9]+(?:\.[0-9]+)?[A-Za-z]?|form|job|edition|typed by)\s*):(\S.*)$`)
	curlyDouble = regexp.MustCompile(`^([^#:"'“”„‟«»]+:\s+)([“”„‟«»"])(.*?)([“”„‟«»"])(\s*|\s+#.*)$`)
	curlySingle = regexp.MustCompile(`^([^#:"'‘’‚‛‹›]+:\s+)([‘’‚‛‹›])(.*?)([‘’‚‛‹›])(\s*|\s+#.*)$`)
	loneBang    = regexp.MustCompile(`^([^#:]+:\s+)!(\s*|\s+#.*)$`)
)

func tidyLine(line string) string {
	line = plainText(line)
	if m := closeBehind.FindStringSubmatch(line); m != nil {
		line = m[1] + ": " + m[2]
	}
	if m := curlyDouble.FindStringSubmatch(line); m != nil && m[2]+m[4] != `""` {
		return m[1] + strconv.Quote(m[3]) + m[5]
	}
	if m := curlySingle.FindStringSubmatch(line); m != nil {
		return m[1] + strconv.Quote(m[3]) + m[5]
	}
	return loneBang.ReplaceAllString(line, `$1"!"$2`) // to YAML a tag, to a typist a confirmation
}

// plainText is text without the blanks, invisible characters and full-width
// forms that look like plain ones.
func plainText(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t', r == '\v', r == '\f', r == '\r', unicode.Is(unicode.Zs, r):
			return ' '
		case r == '\uFEFF', r == '\u200B', r == '\u200C', r == '\u200D', r == '\u2060', r == '\u00AD':
			return -1
		case r >= '\uFF01' && r <= '\uFF5E':
			return r - '\uFF01' + '!'
		}
		return r
	}, s)
}

// dashes are what word processors make of a minus sign.
var dashes = strings.NewReplacer("\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", "\u2014", "-", "\uFE63", "-")

// cutComment splits what follows a key's colon into value and comment.
func cutComment(rest string) (value, comment string) {
	s := strings.TrimLeft(rest, " ")
	at := 0
	switch {
	case strings.HasPrefix(s, `"`):
		for at = 1; at < len(s) && s[at] != '"'; at++ {
			if s[at] == '\\' {
				at++
			}
		}
	case strings.HasPrefix(s, "'"):
		for at = 1; at < len(s); at++ {
			if s[at] == '\'' {
				if !strings.HasPrefix(s[at+1:], "'") {
					break
				}
				at++
			}
		}
	}
	for i := min(at, len(s)); i < len(s); i++ {
		if s[i] == '#' && (i == 0 || s[i-1] == ' ') {
			return strings.TrimRight(s[:i], " "), s[i:]
		}
	}
	return strings.TrimRight(s, " "), ""
}

// lineWith is a line of a form with another value; key and comment stay, the
// comment at its column where there is room.
func lineWith(line, value string) string {
	body := strings.TrimRight(line, "\r\n")
	end := line[len(body):]
	body = tidyLine(body)
	key, rest, _ := strings.Cut(body, ":")
	_, comment := cutComment(rest)
	column := len([]rune(body)) - len([]rune(comment))
	out := strings.TrimRight(key+": "+value, " ")
	if comment != "" {
		out += strings.Repeat(" ", max(1, column-len([]rune(out)))) + comment
	}
	return out + end
}

// formLine is the line that the form of a job has for a box.
func formLine(b *Box, value string) string {
	return fmt.Sprintf("%-22s # %s", strings.TrimRight(b.Code+": "+value, " "), b.hint())
}

// formValue is text as a value in a line of a form: as it is where YAML reads it
// back the same, else in quotes.
func formValue(s string) string {
	var v struct{ X string }
	if s == "" || !strings.ContainsAny(s, "\n\r") && tidyLine("x: "+s+" # .") == "x: "+s+" # ." && yaml.Unmarshal([]byte("x: "+s+" # .\n"), &v) == nil && v.X == s {
		return s
	}
	return strconv.Quote(s)
}

// withText is a form with another text in one box, and all else as it was, to
// the byte: other boxes, comments, the order of lines. The form must read as r.
func (j *Job) withText(form []byte, r *Readings, b *Box, text string) ([]byte, error) {
	value := formValue(text)
	lines := strings.SplitAfter(string(form), "\n")
	first, last := 0, 0 // the lines, from 0, that the value may take
	e, there := r.Entries[b.Code]
	if there {
		first = e.Line - 1
		last = r.before(e.Line, len(lines)) - 1
	} else {
		first, last = j.gap(r, b, len(lines))
	}
	fits := func(out []byte) (*Readings, error) {
		again, err := ReadForm("the form", out, j.Number, j.Plan)
		if err != nil {
			return nil, err
		}
		for _, x := range j.Boxes() {
			want := r.Entries[x.Code].Raw
			if x == b {
				want = text
			}
			if again.Entries[x.Code].Raw != want {
				return nil, fmt.Errorf("%s would not read back as typed; write its line in the form by hand", x.Code)
			}
		}
		return again, nil
	}
	end := "\n"
	if strings.Contains(string(form), "\r\n") {
		end = "\r\n"
	}
	var fault error
	for at := first; at <= last; at++ {
		var with []string
		if there { // its own line, and those its value goes on over
			with = slices.Concat(lines[:first], []string{lineWith(lines[first], value)}, lines[at+1:])
		} else {
			before := slices.Clone(lines[:at])
			if n := len(before); n > 0 && before[n-1] != "" && !strings.HasSuffix(before[n-1], "\n") {
				before[n-1] += end
			}
			with = slices.Concat(before, []string{formLine(b, value) + end}, lines[at:])
		}
		out := []byte(strings.Join(with, ""))
		_, err := fits(out)
		if err == nil {
			return out, nil
		}
		if fault == nil {
			fault = err
		}
	}
	return nil, fault
}

// before is the line of the next box after a line, or the end of the form.
func (r *Readings) before(line, end int) int {
	next := end + 1
	for _, e := range r.Entries {
		if e.Line > line {
			next = min(next, e.Line)
		}
	}
	return next - 1
}

// gap is where, in lines from 0, a box that the form lacks may be put in: below
// the nearest box before it on the sheets, else above the first box.
func (j *Job) gap(r *Readings, b *Box, end int) (first, last int) {
	at := 0
	for _, x := range j.Boxes() {
		if x == b {
			break
		}
		if e, ok := r.Entries[x.Code]; ok {
			at = e.Line
		}
	}
	if at > 0 {
		return at, r.before(at, end)
	}
	next := r.before(0, end)
	return next, next
}

// Difference is a box that two forms have different texts in.
type Difference struct {
	Box           *Box
	First, Second string
}

// MergeForms puts forms of one job together. The first stays as it is, with its
// comments, and gets a line for every box of the job that it lacks; what only
// another form has is put in. Where two differ in a box, neither is chosen: the
// box is left blank with both in its remark, and comes back as a difference.
func (j *Job) MergeForms(forms ...File) (merged []byte, differ []Difference, err error) {
	merged = forms[0].Data
	r, err := ReadForm(forms[0].Name, merged, j.Number, j.Plan)
	if err != nil {
		return nil, nil, err
	}
	put := func(b *Box, text string) error {
		if merged, err = j.withText(merged, r, b, text); err == nil {
			r, err = ReadForm(forms[0].Name, merged, j.Number, j.Plan)
		}
		return err
	}
	for _, b := range j.Boxes() {
		if _, ok := r.Entries[b.Code]; !ok {
			if err := put(b, ""); err != nil {
				return nil, nil, err
			}
		}
	}
	for _, f := range forms[1:] {
		other, err := ReadForm(f.Name, f.Data, j.Number, j.Plan)
		if err != nil {
			return nil, nil, err
		}
		for _, b := range j.Boxes() {
			mine, theirs := r.Entries[b.Code], other.Entries[b.Code]
			switch {
			case theirs.Raw == "" || b.same(mine, theirs):
				continue
			case mine.Raw == "":
				err = put(b, theirs.Raw)
			default:
				differ = append(differ, Difference{b, mine.Raw, theirs.Raw})
				err = put(b, b.either(mine.Raw, theirs.Raw))
			}
			if err != nil {
				return nil, nil, err
			}
		}
		merged = withComments(merged, forms[0].Data, f.Data)
		if r, err = ReadForm(forms[0].Name, merged, j.Number, j.Plan); err != nil {
			return nil, nil, err
		}
	}
	return merged, differ, nil
}

// same reports whether two entries say the same, however they are typed.
func (b *Box) same(x, y Entry) bool {
	switch {
	case x.Confirmed != y.Confirmed || x.Remark != y.Remark || x.Blank() != y.Blank():
		return false
	case x.Blank():
		return true
	case b.Kind == Number:
		return x.Number == y.Number
	case b.Kind == Tick:
		return x.Yes == y.Yes
	case b.Kind == Initials:
		return letters(x.Text) == letters(y.Text)
	}
	return x.Text == y.Text
}

// either holds two texts in one box of which nobody knows which is right.
func (b *Box) either(x, y string) string {
	if b.Kind == Text {
		return x + " / " + y
	}
	return "(" + strings.NewReplacer("(", "[", ")", "]").Replace(x+" / "+y) + " ?)"
}

// withComments is a form with the lines of comment that only another has, each
// above the line it stood above there.
func withComments(form, without, from []byte) []byte {
	known := map[string]bool{}
	for _, f := range [][]byte{form, without} {
		for line := range strings.Lines(string(tidy(f))) {
			known[strings.TrimSpace(line)] = true
		}
	}
	own, pending := map[string][]string{}, []string(nil)
	for line := range strings.Lines(string(tidy(from))) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "#") {
			if !known[line] {
				pending = append(pending, line)
			}
		} else if key, _, ok := strings.Cut(line, ":"); ok {
			own[strings.ToUpper(key)], pending = pending, nil
		}
	}
	var w bytes.Buffer
	for line := range strings.Lines(string(form)) {
		key, _, _ := strings.Cut(tidyLine(strings.TrimRight(line, "\r\n")), ":")
		for _, c := range own[strings.ToUpper(strings.TrimSpace(key))] {
			w.WriteString(c + "\n")
		}
		w.WriteString(line)
	}
	for _, c := range pending {
		w.WriteString(c + "\n")
	}
	return w.Bytes()
}
