package packet

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	utf16 "golang.org/x/text/encoding/unicode"
	"gopkg.in/yaml.v3"

	"shimcard/specs/strict"
)

// inUTF8 is a text in UTF-8, where it has the mark of UTF-16 before it.
func inUTF8(name string, data []byte) ([]byte, error) {
	if !bytes.HasPrefix(data, []byte("\xFF\xFE")) && !bytes.HasPrefix(data, []byte("\xFE\xFF")) {
		return data, nil
	}
	out, err := utf16Text.NewDecoder().Bytes(data)
	// The decoder puts U+FFFD in the place of halves of a character.
	if err != nil || bytes.ContainsRune(out, '\uFFFD') {
		return nil, fmt.Errorf("%s: found a text in UTF-16 that is cut off or broken; save it again as UTF-8", name)
	}
	return out, nil
}

var utf16Text = utf16.UTF16(utf16.LittleEndian, utf16.ExpectBOM)

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
	if !strings.ContainsAny(line, "!\"'“”„‟«»‘’‚‛‹›") && !strings.HasPrefix(strings.TrimLeft(line, " "), "#") {
		if _, rest, _ := strings.Cut(line, ":"); rest == "" || rest[0] == ' ' {
			return line // the usual one, without the work below
		}
	}
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

// oneLine is a text as it stands in a box: a cell of a spreadsheet may have several
// lines, a box has one.
func oneLine(s string) string {
	return strings.TrimSpace(strings.ReplaceAll(plainText(s), "\n", " "))
}

// minusSigns makes a minus of the dashes that word processors put in its place.
func minusSigns(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '\u2010' && r <= '\u2014' || r == '\uFE63' {
			return '-'
		}
		return r
	}, s)
}

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

// withTexts is a form, which reads as r, with other texts in boxes named by their codes, and all
// else as it was, to the byte: other boxes, comments, the order of lines. A box
// that the form lacks gets a line below the nearest one before it on the sheets.
func (j *Job) withTexts(form []byte, r *Readings, texts map[string]string) ([]byte, *Readings, error) {
	lines := strings.SplitAfter(string(form), "\n")
	end := "\n"
	if strings.Contains(string(form), "\r\n") {
		end = "\r\n"
	}
	at := -1 // the line, from 0, that the box before ends in
	below := map[int][]string{}
	for _, b := range j.Boxes() {
		e, there := r.Entries[b.Code]
		text, other := texts[b.Code]
		line := formLine(b, formValue(text)) + end
		if there {
			at = valueEnd(lines, e.Line-1)
		}
		switch {
		case !other:
		case there:
			lines[e.Line-1] = lineWith(lines[e.Line-1], formValue(text))
			clear(lines[e.Line : at+1])
		case at < 0: // no box before it
			first := len(lines) - 1
			for _, e := range r.Entries {
				first = min(first, e.Line-2)
			}
			below[first] = append(below[first], line)
		default:
			below[at] = append(below[at], line)
		}
	}
	var w strings.Builder
	w.WriteString(strings.Join(below[-1], ""))
	for i, l := range lines {
		w.WriteString(l)
		if below[i] != nil && l != "" && !strings.HasSuffix(l, "\n") {
			w.WriteString(end)
		}
		w.WriteString(strings.Join(below[i], ""))
	}
	out := []byte(w.String())
	again, err := ReadForm("the form as it would be", out, j.Number, j.Plan)
	if faults := (strict.Faults)(nil); errors.As(err, &faults) {
		// What stands in the form reads; what cannot is the text to be put in.
		f := faults[0]
		return nil, nil, fmt.Errorf("%s: found %s; write %s", strings.Join(slices.Sorted(maps.Keys(texts)), ", "), f.Found, f.Want)
	}
	if err != nil {
		return nil, nil, err
	}
	for _, b := range j.Boxes() {
		want, other := texts[b.Code]
		if !other {
			want = r.Entries[b.Code].Raw
		}
		if again.Entries[b.Code].Raw != want {
			return nil, nil, fmt.Errorf("line %d: %s would not read back as %q; write it into the form by hand", again.Entries[b.Code].Line, b.Code, want)
		}
	}
	return out, again, nil
}

// valueEnd is the line in which the value ends that begins in line i: it goes on
// to its closing quote, or over indented lines.
func valueEnd(lines []string, i int) int {
	_, rest, _ := strings.Cut(tidyLine(lines[i]), ":")
	rest = strings.TrimSpace(rest)
	if value, _ := cutComment(rest); rest != "" && strings.Contains(`"'`, rest[:1]) && (len(value) < 2 || value[len(value)-1] != rest[0]) {
		for k := i + 1; k < len(lines); k++ {
			if strings.Contains(lines[k], rest[:1]) {
				return k
			}
		}
		return i
	}
	for i+1 < len(lines) {
		next := strings.TrimSpace(lines[i+1])
		if next == "" || strings.HasPrefix(next, "#") || lines[i+1][0] != ' ' {
			break
		}
		i++
	}
	return i
}

// Difference is a box that two forms have different texts in.
type Difference struct {
	Box           *Box
	First, Second string
}

// mergeForms puts forms of one job together. The first stays as it is, with its
// comments, and gets a line for every box of the job that it lacks; what only
// another form has is put in. Where two differ in a box, neither is chosen: the
// box is left blank with both in its remark, and comes back as a difference.
func (j *Job) mergeForms(forms ...File) (merged []byte, differ []Difference, err error) {
	merged = forms[0].Data
	r, err := ReadForm(forms[0].Name, merged, j.Number, j.Plan)
	if err != nil {
		return nil, nil, err
	}
	texts := map[string]string{}
	for _, b := range j.Boxes() {
		if _, ok := r.Entries[b.Code]; !ok {
			texts[b.Code] = ""
		}
	}
	if merged, r, err = j.withTexts(merged, r, texts); err != nil {
		return nil, nil, err
	}
	for _, f := range forms[1:] {
		other, err := ReadForm(f.Name, f.Data, j.Number, j.Plan)
		if err != nil {
			return nil, nil, err
		}
		texts := map[string]string{}
		for _, b := range j.Boxes() {
			mine, theirs := r.Entries[b.Code], other.Entries[b.Code]
			switch {
			case theirs.Raw == "" || b.same(mine, theirs) || b.Kind == Text && b.holds(mine, theirs.Raw):
			case b.holds(mine, theirs.Raw):
				differ = append(differ, Difference{b, mine.Raw, theirs.Raw})
			case mine.Raw == "":
				texts[b.Code] = theirs.Raw
			default:
				differ = append(differ, Difference{b, mine.Raw, theirs.Raw})
				texts[b.Code] = b.either(mine.Raw, theirs.Raw)
			}
		}
		if merged, _, err = j.withTexts(merged, r, texts); err != nil {
			return nil, nil, err
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

// holds reports whether an entry has a text already as one of several.
func (b *Box) holds(e Entry, text string) bool {
	if b.Kind == Text {
		return slices.Contains(strings.Split(e.Text, " / "), text)
	}
	both, ok := strings.CutSuffix(e.Remark, " ?")
	return ok && slices.Contains(strings.Split(both, " / "), inRemark.Replace(text))
}

// inRemark is what a text becomes inside a remark.
var inRemark = strings.NewReplacer("(", "[", ")", "]")

// either holds two texts in one box of which nobody knows which is right.
func (b *Box) either(x, y string) string {
	if b.Kind == Text {
		return x + " / " + y
	}
	return "(" + inRemark.Replace(x+" / "+y) + " ?)"
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
