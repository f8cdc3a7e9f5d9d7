package packet

import (
	"bytes"
	"encoding/binary"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"shimcard/fonts"
)

// typingJob is a fresh job folder of a demo, with what is typed in its form.
func typingJob(t testing.TB, typed bool, edits ...string) (dir string, readings map[string]string) {
	t.Helper()
	intake, spec, shop := demoFiles(t, edits...)
	dir, job, err := Create(filepath.Join(t.TempDir(), "jobs"), intake, spec, shop)
	require.NoError(t, err)
	_, readings = demoJob(t, "saltmarsh")
	if typed {
		form := Form(job.Number, job.Plan, func(b *Box) string { return readings[b.Code] })
		require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), form, 0o644))
	}
	return dir, readings
}

func opened(t testing.TB, dir, who string) *Typing {
	t.Helper()
	typing, err := OpenTyping(dir, who)
	require.NoError(t, err)
	typing.now = func() time.Time { return time.Date(2026, 10, 20, 9, 30, 0, 0, time.UTC) }
	return typing
}

func boxOf(t testing.TB, p *Plan, code string) *Box {
	t.Helper()
	for _, b := range p.Boxes() {
		if b.Code == code {
			return b
		}
	}
	t.Fatalf("no box %s", code)
	return nil
}

// A whole job typed box by box is what the form holds, line by line.
func TestPutWholeJob(t *testing.T) {
	dir, readings := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	for _, b := range typing.Boxes() {
		if text := readings[b.Code]; text != "" {
			require.NoError(t, typing.Put(b, text, ""))
			require.Equal(t, text, typing.Raw(b))
		}
	}
	again := opened(t, dir, "")
	require.Equal(t, "K.S.", again.Readings.TypedBy)
	require.Empty(t, again.Readings.Corrections, "a first entry is no correction")
	for _, b := range again.Boxes() {
		require.Equal(t, readings[b.Code], again.Raw(b), b.Code)
	}
	got, err := os.ReadFile(filepath.Join(dir, FormFile))
	require.NoError(t, err)
	want := Form(typing.Number, typing.Plan, func(b *Box) string { return formValue(readings[b.Code]) })
	want = bytes.Replace(want, []byte("typed by:"), []byte("typed by: K.S."), 1)
	require.Equal(t, string(want), string(got))
}

func TestCheckSaysWhatAndInstead(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	for _, c := range []struct{ code, typed, reason, instead string }{
		{"H1a", "33.4", "believable is 1.00 to 6.00", "3.34"},
		{"H1a", "334", "believable is", "3.34"},
		{"H1a", "0.131", "believable is", "3.33"},
		{"H1a", "3.3.4", "found 3.3.4", ""},
	} {
		d := typing.Check(boxOf(t, typing.Plan, c.code), c.typed)
		require.NotEmpty(t, d, c.typed)
		require.Contains(t, d[0].Reason, c.reason)
		require.Equal(t, c.instead, d[0].Instead, c.typed)
	}
	for _, b := range typing.Boxes() {
		require.Empty(t, typing.Check(b, typing.Raw(b)), b.Code)
	}
}

func TestCorrectionsAreKept(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	b := boxOf(t, typing.Plan, "H1a")
	was := typing.Raw(b)
	require.NoError(t, typing.Put(b, "3.34", "misread"))
	require.NoError(t, typing.Put(b, "3.34 !", ""))
	form := filepath.Join(dir, FormFile)
	data, err := os.ReadFile(form)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(form, []byte(strings.Replace(string(data), "H1a: 3.34 !", "H1a: 3.32", 1)), 0o644))
	got := opened(t, dir, "").Readings.Corrections
	require.Len(t, got, 2)
	require.Equal(t, Change{"H1a", was, "3.34", "K.S.", time.Date(2026, 10, 20, 9, 30, 0, 0, time.UTC), Entered, "misread"}, got[0])
	require.Equal(t, []any{"3.34 !", "3.32", "K.S.", InForm}, []any{got[1].Old, got[1].New, got[1].Who, got[1].How})
}

// What word processors, other keyboards and other systems make of a form.
func TestFormsFromWordProcessors(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	typed["A9"] = "filter #4: changed"
	for _, c := range []struct{ code, line, raw string }{
		{"A9", "A9: “filter #4: changed”   # x", "filter #4: changed"},
		{"A9", "A9: „filter #4: changed“", "filter #4: changed"},
		{"A9", "A9: «filter #4: changed»\t# x", "filter #4: changed"},
		{"A9", "A9: ‘filter #4: changed’", "filter #4: changed"},
		{"A9", "A9: \"filter #4: changed”", "filter #4: changed"},
		{"H1a", "H1a:\u00a03.33\u00a0\u00a0# first", "3.33"},
		{"H1a", "H1a:\t3.33\t# first", "3.33"},
		{"H1a", "H1a:3.33", "3.33"},
		{"H1a", "h1a:\u20093,33\u202f!", "3,33 !"},
		{"H1a", "H1a: ３．３３", "3.33"},
		{"H1a", "H1a: ３，３３", "3,33"},
		{"H1a", "\ufeffH1a: 3.\u200b33", "3.33"},
		{"H1a", "H1a: 3.33 （scored）", "3.33 (scored)"},
		{"H1a", "H1a: !", "!"},
		{"A9", "A9:", ""},
	} {
		lines := strings.Split(string(formOf(j, nil)), "\n")
		for i, l := range lines {
			if strings.HasPrefix(l, c.code+":") {
				lines[i] = c.line
			}
		}
		for _, end := range []string{"\n", "\r\n"} {
			form := []byte("\ufeff" + strings.Join(lines, end))
			r, err := ReadForm("f", form, j.Number, j.Plan)
			require.NoError(t, err, c.line)
			require.Equal(t, c.raw, r.Entries[c.code].Raw, c.line)

			// A line that is written over keeps its end, its comment and its fellows.
			out, again, err := j.withTexts(form, r, map[string]string{c.code: "3.1"})
			require.NoError(t, err)
			require.Equal(t, "3.1", again.Entries[c.code].Raw)
			require.Equal(t, strings.Count(string(form), end), strings.Count(string(out), end))
		}
	}
}

// Every minus sign there is.
func TestMinusSigns(t *testing.T) {
	j, _ := demoJob(t, "saltmarsh")
	for _, b := range j.Boxes() {
		if b.Kind != Number || !b.Signed {
			continue
		}
		for _, sign := range []string{"-", "−", "–", "—", "‐", "‑", "－", "﹣"} {
			var e Entry
			_, want := b.read(sign+"0.22", &e)
			require.Empty(t, want, sign)
			require.Equal(t, -.22, e.Number, sign)
		}
	}
}

// Everything a person wrote into a form stays when a value is put: comments,
// blank lines, the order, values over several lines elsewhere.
func TestPutKeepsWhatAPersonWrote(t *testing.T) {
	dir, _ := typingJob(t, true)
	name := filepath.Join(dir, FormFile)
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	form := strings.Replace(string(data), "\nH1b:", "\n# ask R. about this one\n\nH1b:", 1)
	form = regexp.MustCompile(`(?m)^A9:.*$`).ReplaceAllString(form, "A9: \"dent on the left,\n   see photo\"  # mine")
	form = regexp.MustCompile(`(?m)^(H1c:[^#]*)#.*$`).ReplaceAllString(form, "${1}# read twice")
	require.NoError(t, os.WriteFile(name, []byte(form), 0o644))

	typing := opened(t, dir, "K.S.")
	require.NoError(t, typing.Put(boxOf(t, typing.Plan, "H1c"), "3.31", ""))
	got, err := os.ReadFile(name)
	require.NoError(t, err)
	want := regexp.MustCompile(`(?m)^H1c: 3.3[0-9]`).ReplaceAllString(form, "H1c: 3.31")
	want = strings.Replace(want, "\ntyped by:\n", "\ntyped by: K.S.\n", 1)
	require.Equal(t, want, string(got))

	// A value over two lines becomes one.
	require.NoError(t, typing.Put(boxOf(t, typing.Plan, "A9"), "dent: left", ""))
	require.Equal(t, "dent: left", opened(t, dir, "").Raw(boxOf(t, typing.Plan, "A9")))
	got, err = os.ReadFile(name)
	require.NoError(t, err)
	require.NotContains(t, string(got), "see photo")
	require.Contains(t, string(got), "# ask R. about this one\n\nH1b:")
}

// A history whose last line was cut off anywhere loses nothing: what it said
// stands in the form and is noted from there.
func TestTornHistory(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	b := boxOf(t, typing.Plan, "H1a")
	require.NoError(t, typing.Put(b, "3.35", "misread"))
	name := filepath.Join(dir, HistoryFile)
	whole, err := os.ReadFile(name)
	require.NoError(t, err)
	last := bytes.LastIndexByte(whole[:len(whole)-1], '\n') + 1
	for cut := last; cut < len(whole); cut += 7 {
		require.NoError(t, os.WriteFile(name, whole[:cut], 0o644))
		again := opened(t, dir, "")
		require.Equal(t, "3.35", again.Raw(b))
		require.Len(t, again.Readings.Corrections, 1, cut)
		require.NoError(t, again.Put(boxOf(t, again.Plan, "H1a"), "3.35 (worn)", ""))
		h, err := readHistory(name)
		require.NoError(t, err, cut)
		require.Equal(t, h.size, h.whole)
		require.Equal(t, "3.35 (worn)", h.last()["H1a"])
		require.NoError(t, again.Put(boxOf(t, again.Plan, "H1a"), "3.35", ""))
	}
	require.NoError(t, os.WriteFile(name, append([]byte("rubbish\n"), whole...), 0o644))
	_, err = OpenTyping(dir, "")
	require.ErrorContains(t, err, HistoryFile+":1: no line of a history")
}

// Two who type into one job at once: each value is in the history once, by whom
// it was typed, and none is a correction, nor is one written over.
func TestTwoTypeAtOnce(t *testing.T) {
	dir, _ := typingJob(t, false)
	one, two := opened(t, dir, "K.S."), opened(t, dir, "M.L.")
	at := func(code string) *Box { return boxOf(t, one.Plan, code) }
	require.NoError(t, one.Put(at("G5"), "0.90", ""))
	require.NoError(t, two.Put(at("H1a"), "3.33", ""))
	require.NoError(t, one.Put(at("G6"), "0.90", ""))
	name := filepath.Join(dir, HistoryFile)
	h, err := readHistory(name)
	require.NoError(t, err)
	var who []string
	for _, c := range h.changes {
		who = append(who, c.Box+" "+c.Who)
	}
	require.Equal(t, []string{"G5 K.S.", "H1a M.L.", "G6 K.S."}, who)

	// Noted by both at the same moment all the same.
	require.NoError(t, h.add(Change{Box: "H1a", New: "3.33", Who: "K.S.", How: InForm}))
	require.Empty(t, opened(t, dir, "").Readings.Corrections)

	// Written between reading and writing.
	form, r, err := one.withTexts(one.text, one.Readings, map[string]string{"H1b": "3.34"})
	require.NoError(t, err)
	require.NoError(t, two.Put(at("H1c"), "3.32", ""))
	require.ErrorContains(t, one.replace(form, r, Entered, ""), "somebody else has just changed it")
	require.NoError(t, one.Put(at("H1b"), "3.34", ""))
	again := opened(t, dir, "")
	require.Equal(t, "3.32", again.Raw(at("H1c")))
	require.Equal(t, "3.34", again.Raw(at("H1b")))
}

// A refit that does not read what its shims must do is asked about at once, not
// when the stage is signed; that it is still out of its limits is not.
func TestRefitIsCheckedAsTyped(t *testing.T) {
	dir, readings := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	for _, code := range []string{"C7a", "C8a", "G1", "G5", "G6"} {
		require.NoError(t, typing.Put(boxOf(t, typing.Plan, code), readings[code], ""))
	}
	b := boxOf(t, typing.Plan, "G8")
	require.Empty(t, typing.Check(b, readings["G8"]))
	d := typing.Check(b, "6.61") // for 6.16
	require.Len(t, d, 1)
	require.Equal(t, b, d[0].Box)
	require.Contains(t, d[0].Reason, "the refit should read 6.22")
	for _, code := range []string{"G5", "G6"} { // too little, and it reads so
		require.NoError(t, typing.Put(boxOf(t, typing.Plan, code), "0.70", ""))
	}
	require.Empty(t, typing.Check(b, "6.02"))
}

// The second person types blind; only differences are settled; the report names
// both, until something is corrected again.
func TestTypedTwice(t *testing.T) {
	dir, readings := typingJob(t, true)
	first := opened(t, dir, "K.S.")
	h1a, a9 := boxOf(t, first.Plan, "H1a"), boxOf(t, first.Plan, "A9")
	require.NoError(t, first.Put(h1a, readings["H1a"], ""))
	require.NoError(t, first.replace(first.text, first.Readings, Entered, ""))
	_, err := OpenSecond(dir, "ks")
	require.ErrorContains(t, err, "a second person types the second time")

	second, err := OpenSecond(dir, "M.L.")
	require.NoError(t, err)
	for _, b := range second.Boxes() {
		require.Empty(t, second.Raw(b), "blind")
	}
	typed := map[string]string{}
	for code, text := range readings {
		typed[code] = strings.ReplaceAll(text, ".", ",")
		if b := boxOf(t, second.Plan, code); b.Kind == Initials || b.Kind == Text || b.Kind == Date {
			typed[code] = text
		}
	}
	typed["H1a"] = "3.55"
	delete(typed, "A9")
	require.NoError(t, second.putAll(typed, Entered, ""))
	require.NoError(t, first.Put(a9, "scratched", ""))

	differ, twice, err := first.Differences()
	require.NoError(t, err)
	require.True(t, twice)
	require.Len(t, differ, 2)
	require.Equal(t, []Difference{{a9, "scratched", ""}, {h1a, readings["H1a"], "3.55"}}, differ)
	res, _, err := first.Job.Report(dir)
	require.NoError(t, err)
	require.Empty(t, res.TypedAgain)

	require.NoError(t, first.Settle(h1a, readings["H1a"], ""))
	require.NoError(t, first.Settle(a9, "scratched", ""))
	res, _, err = first.Job.Report(dir)
	require.NoError(t, err)
	require.Equal(t, "M.L.", res.TypedAgain)
	require.Empty(t, res.Corrections, "the first was right")
	require.NoError(t, opened(t, dir, "K.S.").Put(h1a, "3.32", "misread"))
	require.Empty(t, opened(t, dir, "").Readings.TypedAgain)
}

// Merged, nothing is lost: two halves make the whole, comments stay, and where
// two differ both are kept and neither is chosen.
func TestMergeForms(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	halves := [2]map[string]string{{}, {}}
	i := 0
	for _, b := range j.Boxes() {
		if typed[b.Code] != "" {
			halves[i%2][b.Code] = typed[b.Code]
			i++
		}
	}
	one := bytes.Replace(formOf(j, halves[0]), []byte("\nH1a:"), []byte("\n# mine\nH1a:"), 1)
	two := bytes.Replace(formOf(j, halves[1]), []byte("\nH5:"), []byte("\n# theirs\nH5:"), 1)
	merged, differ, err := j.mergeForms(File{"one", one}, File{"two", two})
	require.NoError(t, err)
	require.Empty(t, differ)
	r, err := ReadForm("merged", merged, j.Number, j.Plan)
	require.NoError(t, err)
	for _, b := range j.Boxes() {
		require.Equal(t, typed[b.Code], r.Entries[b.Code].Raw, b.Code)
	}
	require.Contains(t, string(merged), "\n# mine\nH1a:")
	require.Contains(t, string(merged), "\n# theirs\nH5:")

	// A fresh form with one half filled in, either way round.
	for _, f := range [][]File{{{"fresh", formOf(j, nil)}, {"one", one}}, {{"one", one}, {"fresh", formOf(j, nil)}}} {
		merged, differ, err := j.mergeForms(f...)
		require.NoError(t, err)
		require.Empty(t, differ)
		r, err := ReadForm("merged", merged, j.Number, j.Plan)
		require.NoError(t, err)
		for code, text := range halves[0] {
			require.Equal(t, text, r.Entries[code].Raw)
		}
		require.Contains(t, string(merged), "# mine\nH1a:")
	}

	// A form that lacks boxes, as a record has it, gets them.
	short := j.plainForm(r)
	merged, _, err = j.mergeForms(File{"short", short})
	require.NoError(t, err)
	r, err = ReadForm("merged", merged, j.Number, j.Plan)
	require.NoError(t, err)
	require.Len(t, r.Entries, len(j.Boxes()))
	line := 0
	for _, b := range j.Boxes() {
		require.Greater(t, r.Entries[b.Code].Line, line, "sheet order")
		line = r.Entries[b.Code].Line
	}

	a, b := map[string]string{"H1a": "3.33 (scored)", "A9": "dent"}, map[string]string{"H1a": "3.38", "A9": "scratch"}
	merged, differ, err = j.mergeForms(File{"a", formOf(j, a)}, File{"b", formOf(j, b)})
	require.NoError(t, err)
	require.Len(t, differ, 2)
	r, err = ReadForm("merged", merged, j.Number, j.Plan)
	require.NoError(t, err)
	require.Equal(t, "(3.33 [scored] / 3.38 ?)", r.Entries["H1a"].Raw)
	require.True(t, r.Entries["H1a"].Blank())
	require.Equal(t, "dent / scratch", r.Entries["A9"].Raw)

	// Once more with the same changes nothing, and still says so.
	again, differ, err := j.mergeForms(File{"merged", merged}, File{"b", formOf(j, b)})
	require.NoError(t, err)
	require.Equal(t, string(merged), string(again))
	require.Len(t, differ, 1)
}

// A job corrected and typed twice is the same to the byte when it is made again
// from its record.
func TestCorrectionsAreInTheRecord(t *testing.T) {
	dir, readings := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	require.NoError(t, typing.Put(boxOf(t, typing.Plan, "H1a"), "3.32", ""))
	require.NoError(t, typing.Put(boxOf(t, typing.Plan, "H1a"), readings["H1a"], "misread: the 3 is a 2"))
	require.NoError(t, typing.add(Change{Who: "M.L.", When: typing.now(), How: TypedAgain}))
	res, doubts, err := typing.Job.Report(dir)
	require.NoError(t, err)
	require.Empty(t, doubts)
	require.Len(t, res.Corrections, 2)
	require.Equal(t, "M.L.", res.TypedAgain)
	text := reportText(t, typing.Job, res)
	for _, s := range []string{"Corrections after the first entry", "misread: the 3 is a 2", "M.L."} {
		require.Contains(t, text, s)
	}

	again, err := Rebuild(t.TempDir(), typing.Job.reportRecord(res))
	require.NoError(t, err)
	for range 2 {
		for _, name := range []string{ReportFile, ResultsFile} {
			want, err := os.ReadFile(filepath.Join(dir, name))
			require.NoError(t, err)
			got, err := os.ReadFile(filepath.Join(again, name))
			require.NoError(t, err)
			require.True(t, bytes.Equal(want, got), name)
		}
		j, err := Open(again)
		require.NoError(t, err)
		_, _, err = j.Report(again)
		require.NoError(t, err)
	}
}

// A typist of TestTwoProcessesTypeAtOnce, in a process of its own.
func TestTypist(t *testing.T) {
	dir := os.Getenv("TYPE_IN")
	if dir == "" {
		return
	}
	typing := opened(t, dir, os.Getenv("TYPE_AS"))
	for _, b := range halfOfTheBoxes(typing.Plan, typing.Who) {
		require.NoError(t, typing.Put(b, anyText(b), ""))
	}
}

// halfOfTheBoxes are 200 boxes that only one of two typists types.
func halfOfTheBoxes(p *Plan, who string) (out []*Box) {
	for i, b := range p.Boxes() {
		if (i%2 == 0) == (who == "K.L.") && len(out) < 200 {
			out = append(out, b)
		}
	}
	return out
}

func anyText(b *Box) string {
	switch b.Kind {
	case Number:
		return b.example()
	case Tick:
		return "yes"
	case Choice:
		return b.Choices[0]
	case Date:
		return "2026-10-05"
	}
	return "M.N."
}

// Two who type one job at once, box by box in turn or together, lose nothing of
// each other's, in the form or in its history.
func TestTwoProcessesTypeAtOnce(t *testing.T) {
	dir, _ := typingJob(t, false)
	self, err := os.Executable()
	require.NoError(t, err)
	typists := []string{"K.L.", "O.P."}
	var wait sync.WaitGroup
	for _, who := range typists {
		c := exec.Command(self, "-test.run=^TestTypist$")
		c.Env = append(os.Environ(), "TYPE_IN="+dir, "TYPE_AS="+who)
		wait.Go(func() {
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("%s: %v: %s", who, err, out)
			}
		})
	}
	wait.Wait()
	typing := opened(t, dir, "")
	by := map[string]string{}
	for _, c := range typing.history.changes {
		require.Equal(t, Entered, c.How, "%s: somebody's form was written over", c.Box)
		require.Empty(t, by[c.Box], c.Box)
		by[c.Box] = c.Who
	}
	for _, who := range typists {
		boxes := halfOfTheBoxes(typing.Plan, who)
		require.Len(t, boxes, 200)
		for _, b := range boxes {
			require.Equal(t, anyText(b), typing.Raw(b), b.Code)
			require.Equal(t, who, by[b.Code], b.Code)
		}
	}
}

// Typing goes on behind the box typed last, not behind the last filled one; what
// came in otherwise is not typed.
func TestLastTyped(t *testing.T) {
	dir, _ := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	require.Nil(t, typing.Last())
	for _, code := range []string{"H1a", "G1", "A9"} {
		require.NoError(t, typing.Put(boxOf(t, typing.Plan, code), "3.33", ""))
	}
	_, err := typing.PutCSV(File{"t", []byte("box,value\nH1b,3.34\n")})
	require.NoError(t, err)
	require.Equal(t, "A9", opened(t, dir, "K.S.").Last().Code)
}

func inUTF16(text string, order binary.ByteOrder) []byte {
	var out []byte
	for _, u := range utf16.Encode([]rune("\uFEFF" + text)) {
		out = append(out, 0, 0)
		order.PutUint16(out[len(out)-2:], u)
	}
	return out
}

// A form that an editor saved in UTF-16, which it calls Unicode, reads and is
// written on; one that was cut off is refused. Source of the encoding: the standard
// library's unicode/utf16, which the reader does not use.
func TestFormInUTF16(t *testing.T) {
	dir, _ := typingJob(t, true)
	name := filepath.Join(dir, FormFile)
	utf8Form, err := os.ReadFile(name)
	require.NoError(t, err)
	text := strings.Replace(strings.ReplaceAll(string(utf8Form), "\n", "\r\n"), "H1a: 3.33", "H1a: 3,32 (Öl, 𝟑)", 1)
	for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
		form := inUTF16(text, order)
		require.NoError(t, os.RemoveAll(filepath.Join(dir, HistoryFile))) // else the second form has gone back
		require.NoError(t, os.WriteFile(name, inUTF16(strings.Replace(text, ", 𝟑", "", 1), order), 0o644))
		typing := opened(t, dir, "K.S.")
		require.Equal(t, "3,32 (Öl)", typing.Raw(boxOf(t, typing.Plan, "H1a")))
		require.NoError(t, typing.Put(boxOf(t, typing.Plan, "H1b"), "3.31", ""))
		require.Equal(t, "3.31", opened(t, dir, "").Raw(boxOf(t, typing.Plan, "H1b")))
		again, err := os.ReadFile(name)
		require.NoError(t, err)
		require.True(t, utf8.Valid(again))

		half := bytes.Index(form, inUTF16("𝟑", order)[2:]) + 2
		for _, broken := range [][]byte{form[:len(form)-1], append(bytes.Clone(form[:half]), form[half+2:]...), form[:half]} {
			require.NoError(t, os.WriteFile(name, broken, 0o644))
			_, err = OpenTyping(dir, "K.S.")
			require.ErrorContains(t, err, "readings.yaml: found a text in UTF-16 that is cut off or broken; save it again as UTF-8")
		}
	}
}

// A figure that is worked out to what cannot be believed can be confirmed where
// nothing was typed.
func TestWorkedOutBoxIsConfirmed(t *testing.T) {
	dir, _ := typingJob(t, true)
	typing := opened(t, dir, "K.S.")
	doubted := func() *Doubt {
		for _, d := range typing.Doubts(typing.Readings) {
			if d.Box.From != nil && d.Value == "" && d.Stops {
				return &d
			}
		}
		return nil
	}
	for _, b := range typing.Boxes() { // the first figure that upsets a sum
		if was := typing.Raw(b); b.Kind == Number && b.From == nil && was != "" {
			typing.Readings = typing.Readings.with(b, was)
			typing.Readings.Entries[b.Code] = Entry{Raw: was, Text: was, Number: b.High, Line: 1}
			if doubted() != nil {
				break
			}
			typing.Readings = typing.Readings.with(b, was)
		}
	}
	d := doubted()
	require.NotNil(t, d)
	require.Empty(t, typing.Raw(d.Box))
	typing.Readings = typing.Readings.with(d.Box, "!")
	for _, x := range typing.Doubts(typing.Readings) {
		require.NotEqual(t, d.Box, x.Box)
	}
	_, slip, _ := typing.Worked(d.Box)
	require.Nil(t, slip)
}

// Whatever form can be read takes a value, and nothing else in it changes; what
// word processors do is undone once for all.
func FuzzPut(f *testing.F) {
	j, typed := demoJob(f, "saltmarsh")
	f.Add(formOf(j, typed), "A9", "dent: left # see photo")
	f.Add([]byte("form: 1\njob: "+j.Number+"\nedition: 1\nH1a: 3,34 ! (x)\nA9: “a\n  b”"), "H1b", "3.3")
	f.Add([]byte("\ufeffform:1\r\njob: "+j.Number+"\r\nedition: 1\r\nA9: 'it''s'\r\n# x\r\nA10: \"a\n  #b\"  # y"), "A9", "")
	f.Fuzz(func(t *testing.T, form []byte, code, text string) {
		require.Equal(t, string(tidy(form)), string(tidy(tidy(form))))
		r, err := ReadForm("f", form, j.Number, j.Plan)
		if err != nil {
			return
		}
		text = oneLine(text)
		b := j.Boxes()[0]
		for _, x := range j.Boxes() {
			if x.Code == code {
				b = x
			}
		}
		if _, want := b.read(text, &Entry{}); want != "" {
			return
		}
		// That the other boxes stay is checked by withTexts itself.
		if _, again, err := j.withTexts(form, r, map[string]string{b.Code: text}); err == nil {
			require.Equal(t, text, again.Entries[b.Code].Raw)
		} else if utf8.ValidString(text) && len(fonts.Missing(text)) == 0 && len(text) < 500 {
			t.Fatalf("%v", err)
		}
	})
}

// Who typed and why have room in the report, also where a history says more: it may
// have been written by hand.
func TestNamesAndReasonsHaveRoom(t *testing.T) {
	dir, _ := typingJob(t, true)
	_, err := OpenTyping(dir, strings.Repeat("K", 61))
	require.ErrorContains(t, err, "found 61 characters; write 60 at most")
	_, err = OpenTyping(dir, "K.\nS.")
	require.ErrorContains(t, err, "found the control character '\\n'")
	typing := opened(t, dir, strings.Repeat("K", 60))
	a15 := boxOf(t, typing.Plan, "A15")
	require.ErrorContains(t, typing.Put(a15, "dented", strings.Repeat("why ", 101)), "found 404 characters; write 400 at most")
	require.NoError(t, typing.Put(a15, "dented", strings.Repeat("W", 400)))
	log := filepath.Join(dir, HistoryFile)
	data, err := os.ReadFile(log)
	require.NoError(t, err)
	long := strings.Replace(string(data), strings.Repeat("K", 60), strings.Repeat("K", 10000), 1)
	require.NoError(t, os.WriteFile(log, []byte(strings.Replace(long, strings.Repeat("W", 400), strings.Repeat("W", 60000), 1)), 0o666))
	job, err := Open(dir)
	require.NoError(t, err)
	r, doubts, err := job.Results(dir)
	require.NoError(t, err)
	require.Empty(t, doubts)
	_, err = job.ReportPDF(r)
	require.NoError(t, err)
}

// An older form that is put back, or saved over a newer one, loses nothing unseen.
func TestFormGoneBack(t *testing.T) {
	dir, _ := typingJob(t, false)
	form := filepath.Join(dir, FormFile)
	typing := opened(t, dir, "K.S.")
	a2, a3, a4 := boxOf(t, typing.Plan, "A2"), boxOf(t, typing.Plan, "A3"), boxOf(t, typing.Plan, "A4")
	require.NoError(t, typing.Put(a2, "freely", ""))
	older, err := os.ReadFile(form)
	require.NoError(t, err)
	require.NoError(t, typing.Put(a3, "dry", ""))
	require.NoError(t, typing.Put(a2, "stiff", ""))
	require.NoError(t, os.WriteFile(form, older, 0o666)) // A2 as before, A3 blank
	require.ErrorContains(t, typing.Put(a4, "clean", ""), "something was typed since: A2, A3.")
	again := opened(t, dir, "K.S.")
	require.ErrorContains(t, again.Whole(), "A2, A3")
	_, _, err = again.Report(dir)
	require.ErrorContains(t, err, "A2, A3")
	require.NoFileExists(t, filepath.Join(dir, ReportFile))

	require.NoError(t, again.PutBack())
	require.Equal(t, "stiff", again.Raw(a2))
	require.Equal(t, "dry", again.Raw(a3))
	require.NoError(t, again.Put(a4, "clean", ""))

	require.NoError(t, os.WriteFile(form, older, 0o666))
	last := opened(t, dir, "L.M.")
	require.NoError(t, last.AsItIs())
	require.NoError(t, last.Whole())
	require.Equal(t, "freely", last.Raw(a2))
	require.Empty(t, last.Raw(a3))
	require.Equal(t, "L.M.", last.history.changes[len(last.history.changes)-1].Who)

	// What was only ever written into the form by hand may be blanked there.
	byHand, _ := typingJob(t, true)
	first := opened(t, byHand, "")
	text, err := os.ReadFile(filepath.Join(byHand, FormFile))
	require.NoError(t, err)
	require.NotEmpty(t, first.Raw(boxOf(t, first.Plan, "A2")))
	blank := regexp.MustCompile(`(?m)^A2: *\S+`).ReplaceAll(text, []byte("A2:"))
	require.NoError(t, os.WriteFile(filepath.Join(byHand, FormFile), blank, 0o666))
	require.NoError(t, opened(t, byHand, "").Whole())
}

// Two who type into one box at once: the second is told.
func TestTwoInOneBox(t *testing.T) {
	dir, _ := typingJob(t, false)
	one, two := opened(t, dir, "K.S."), opened(t, dir, "L.M.")
	a2 := boxOf(t, one.Plan, "A2")
	require.NoError(t, one.Put(a2, "freely", ""))
	require.ErrorContains(t, two.Put(boxOf(t, two.Plan, "A2"), "stiff", ""), "K.S. has just typed freely; if yours is right, stiff, type it again")
	require.NoError(t, two.Put(boxOf(t, two.Plan, "A2"), "stiff", ""))
	require.NoError(t, one.Put(boxOf(t, one.Plan, "A3"), "dry", ""))
	require.Equal(t, "stiff", one.Raw(a2))
}

// What the history cannot take is not in the form either.
func TestHistoryThatCannotBeWritten(t *testing.T) {
	dir, _ := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	before, err := os.ReadFile(filepath.Join(dir, FormFile))
	require.NoError(t, err)
	name := typing.history.name
	typing.history.name = filepath.Join(dir, "no such folder", "history")
	a2 := boxOf(t, typing.Plan, "A2")
	require.ErrorContains(t, typing.Put(a2, "freely", ""), "not written")
	after, err := os.ReadFile(filepath.Join(dir, FormFile))
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))
	require.Empty(t, typing.Raw(a2))
	typing.history.name = name
	require.NoError(t, typing.Put(a2, "freely", ""))
}

// A group that types in turn: its history and lock are open to those to whom the
// folder is.
func TestHistoryHasTheFoldersModes(t *testing.T) {
	old := syscall.Umask(0o002)
	defer syscall.Umask(old)
	dir, _ := typingJob(t, false)
	require.NoError(t, os.Chmod(dir, 0o770))
	typing := opened(t, dir, "K.S.")
	require.NoError(t, typing.Put(boxOf(t, typing.Plan, "A2"), "freely", ""))
	for _, name := range []string{HistoryFile, lockFile} {
		info, err := os.Stat(filepath.Join(dir, name))
		require.NoError(t, err)
		require.Equal(t, fs.FileMode(0o660), info.Mode().Perm(), name)
	}
}

// A history of noughts, or of more than a shop types in its life, is none.
func TestHistoryThatIsNone(t *testing.T) {
	dir, _ := typingJob(t, false)
	name := filepath.Join(dir, HistoryFile)
	require.NoError(t, os.WriteFile(name, make([]byte, 400), 0o666))
	_, err := OpenTyping(dir, "K.S.")
	require.ErrorContains(t, err, HistoryFile+":1: no line of a history")
	require.NoError(t, os.Truncate(name, 3<<30))
	_, err = OpenTyping(dir, "K.S.")
	require.ErrorContains(t, err, "larger than 16 MiB")
}

// A program that was stopped while it held the lock is waited for, not for ever.
func TestLockHeld(t *testing.T) {
	dir, _ := typingJob(t, false)
	typing := opened(t, dir, "K.S.")
	unlock, err := locked(filepath.Join(dir, lockFile))
	require.NoError(t, err)
	defer func(was time.Duration) { lockWait = was }(lockWait)
	lockWait = 50 * time.Millisecond
	a2 := boxOf(t, typing.Plan, "A2")
	require.ErrorContains(t, typing.Put(a2, "freely", ""), "another program has held")
	unlock()
	lockWait = 20 * time.Second
	require.NoError(t, typing.Put(a2, "freely", "")) // the one that came too late let go of it
}
