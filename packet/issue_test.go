package packet

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/packet/codes"
)

// retype gives boxes of a job's form other values, as by hand in the file.
func retype(t *testing.T, dir string, values map[string]string) {
	t.Helper()
	name := filepath.Join(dir, FormFile)
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	var out strings.Builder
	for line := range strings.Lines(string(data)) {
		code, _, _ := strings.Cut(line, ":")
		if v, ok := values[code]; ok {
			_, comment, _ := strings.Cut(line, "#")
			line = code + ": " + v + "  #" + comment
			delete(values, code)
		}
		out.WriteString(line)
	}
	require.Empty(t, values)
	require.NoError(t, os.WriteFile(name, []byte(out.String()), 0o644))
}

// projection is the box of the governor shaft projection: 4.34 mm, not changed.
func projection(t *testing.T, dir string) string {
	t.Helper()
	j, err := Open(dir)
	require.NoError(t, err)
	for _, a := range j.Adjustments {
		if a.Dim.Name == "governor shaft projection" {
			return a.Measured.Code
		}
	}
	t.Fatal("no governor shaft")
	return ""
}

// remade makes the report of a folder anew.
func remade(t *testing.T, dir string) *Results {
	t.Helper()
	j, err := Open(dir)
	require.NoError(t, err)
	res, doubts, err := j.Report(dir)
	require.NoError(t, err)
	require.Empty(t, doubts)
	return res
}

// notMade tries to make the report of a folder, and wants what keeps it from that.
func notMade(t *testing.T, dir, want string) {
	t.Helper()
	j, err := Open(dir)
	require.NoError(t, err)
	_, _, err = j.Report(dir)
	require.ErrorContains(t, err, want)
}

func content(t *testing.T, dir, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	require.NoError(t, err)
	return data
}

// A report made again is the same issue to the byte; one that rests on anything
// else is the next, says what changed, and the one before is kept.
func TestIssues(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	first := content(t, dir, ReportFile)
	res := remade(t, dir)
	require.Equal(t, 1, res.Issue.Number)
	require.Nil(t, res.Issue.Replaces)
	require.Equal(t, first, content(t, dir, ReportFile))

	digest, err := DigestIn(dir)
	require.NoError(t, err)
	was := string(content(t, dir, FormFile))
	// The projection as it was measured: still inside, another reading.
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	res = remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	old := res.Issue.Replaces
	require.Equal(t, 1, old.Number)
	require.Equal(t, digest, old.Digest)
	require.Contains(t, old.Changed, Amended{Of: OfReading, Box: projection(t, dir), Was: "4.34", Now: "4.33"})
	require.Equal(t, first, content(t, dir, "report-issue-1.pdf"))
	text := tool(t, "pdftotext", "-raw", filepath.Join(dir, ReportFile), "-")
	require.Contains(t, text, "issue 2")
	text = strings.Join(strings.Fields(text), " ")
	require.Contains(t, text, "replaces issue 1 of")
	require.Contains(t, text, "("+projection(t, dir)+") 4.34 → 4.33")

	// Taken back, it is the third, not the first again: that was given out before.
	require.NoError(t, os.WriteFile(filepath.Join(dir, FormFile), []byte(was), 0o644))
	res = remade(t, dir)
	require.Equal(t, 3, res.Issue.Number)
	require.Equal(t, 2, res.Issue.Replaces.Number)
	third := content(t, dir, ReportFile)

	// Incomplete, it is none, and takes the place of none.
	retype(t, dir, map[string]string{projection(t, dir): ""})
	res = remade(t, dir)
	require.Equal(t, PumpIncomplete, res.Overall)
	require.Nil(t, res.Issue)
	require.Equal(t, third, content(t, dir, "report-issue-3.pdf"))
	require.Contains(t, tool(t, "pdftotext", "-raw", filepath.Join(dir, ReportFile), "-"), "not issued")
	require.NoFileExists(t, filepath.Join(dir, "issue-4.yaml"))
}

// Killed between any two writes, a job neither gives a number out twice nor loses
// a report that had one.
func TestIssueAfterAKill(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	first := content(t, dir, ReportFile)
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	remade(t, dir)
	second, facts := content(t, dir, ReportFile), content(t, dir, "issue-2.yaml")

	// The number was taken, the report not written; made again it is that issue.
	require.NoError(t, os.WriteFile(filepath.Join(dir, ReportFile), first, 0o644))
	res := remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	require.Equal(t, second, content(t, dir, ReportFile))
	require.Equal(t, facts, content(t, dir, "issue-2.yaml"))

	// The same, and somebody corrected the form before: the issue that nobody saw
	// is printed from its facts, and the next number taken.
	require.NoError(t, os.WriteFile(filepath.Join(dir, ReportFile), first, 0o644))
	retype(t, dir, map[string]string{projection(t, dir): "4.32"})
	res = remade(t, dir)
	require.Equal(t, 3, res.Issue.Number)
	require.Equal(t, second, content(t, dir, "report-issue-2.pdf"))
	require.Equal(t, first, content(t, dir, "report-issue-1.pdf"))

	// The same, typed another way, is the same issue; so is another count of hours.
	issue := content(t, dir, ReportFile)
	job, err := Open(dir)
	require.NoError(t, err)
	retype(t, dir, map[string]string{projection(t, dir): "4,320 mm", job.Hours.Code: "12.5 (two people)"})
	res = remade(t, dir)
	require.Equal(t, 3, res.Issue.Number)
	require.Equal(t, issue, content(t, dir, ReportFile))
	require.Contains(t, string(content(t, dir, LinesFile)), ",12.5,h\r\n")

	// A number is taken by one of two.
	require.ErrorIs(t, makeFile(filepath.Join(dir, "issue-3.yaml"), []byte("x")), fs.ErrExist)
	entries, err := filepath.Glob(filepath.Join(dir, unfinished+"*"))
	require.NoError(t, err)
	require.Empty(t, entries)
}

// Form and history older than the last issue: what that rested on counts as typed,
// and is asked about.
func TestOlderThanItsIssue(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	older := map[string][]byte{FormFile: content(t, dir, FormFile), HistoryFile: content(t, dir, HistoryFile)}
	typing := opened(t, dir, "K.S.")
	corrected := boxOf(t, typing.Plan, projection(t, dir))
	was := typing.Raw(corrected)
	first := typing.Boxes()[slices.IndexFunc(typing.Boxes(), func(b *Box) bool { return b.Kind == Text && typing.Raw(b) == "" })]
	require.NoError(t, typing.Put(corrected, "4.33", "misread"))
	require.NoError(t, typing.Put(first, "scratched", ""))
	require.Equal(t, 2, remade(t, dir).Issue.Number)

	back := func() {
		t.Helper()
		for name, data := range older {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o644))
		}
	}
	back()
	want := fmt.Sprintf("something was typed since: %s, %s.", first.Code, corrected.Code)
	_, _, err := typing.Report(dir)
	require.ErrorContains(t, err, want)
	back()
	again := opened(t, dir, "K.S.")
	require.ErrorContains(t, again.Whole(), want)
	require.NoError(t, again.PutBack())
	res := remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	require.Len(t, res.Corrections, 1)

	back()
	again = opened(t, dir, "K.S.")
	require.NoError(t, again.AsItIs())
	res = remade(t, dir)
	require.Equal(t, 3, res.Issue.Number)
	require.Equal(t, was, opened(t, dir, "").Raw(corrected))
	require.Len(t, res.Corrections, 3, "there, back, and the other taken away")

	// A history alone that is lost is made again, without a question.
	require.NoError(t, os.Remove(filepath.Join(dir, HistoryFile)))
	require.NoError(t, opened(t, dir, "").Whole())
	require.Equal(t, 3, remade(t, dir).Issue.Number)
}

// Of two who make the report at once the later one has the later readings.
func TestReportsTakeTurns(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	job, err := Open(dir)
	require.NoError(t, err)
	unlock, err := locked(filepath.Join(dir, lockFile))
	require.NoError(t, err)
	made := make(chan *Results)
	go func() {
		res, _, err := job.Report(dir)
		assert.NoError(t, err)
		made <- res
	}()
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	unlock()
	res := <-made
	require.Equal(t, 2, res.Issue.Number)
	require.Equal(t, 2, issueMade(dir).Issue.Number)
}

// An issue's file that came only half says so.
func TestHalfAnIssue(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	name := filepath.Join(dir, issueName(1))
	whole := content(t, dir, issueName(1))
	job, err := Open(dir)
	require.NoError(t, err)
	for _, n := range []int{0, 1, len(whole) / 3, len(whole) * 2 / 3, len(whole) - 3} {
		require.NoError(t, os.WriteFile(name, whole[:n], 0o644))
		_, _, err := job.Report(dir)
		require.ErrorContains(t, err, "issue-1.yaml: ", n)
	}
	require.NoError(t, os.WriteFile(name, bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")), 0o644))
	require.Equal(t, 1, remade(t, dir).Issue.Number)
}

// Two computers made an issue of one number, the first or a later one: neither takes
// the other's place.
func TestTwoIssuesOfOneNumber(t *testing.T) {
	for n := 1; n <= 2; n++ {
		dir, root := demoFolders(t)[0].Folder, t.TempDir()
		other := filepath.Join(root, filepath.Base(dir))
		require.NoError(t, os.CopyFS(other, os.DirFS(dir)))
		code := projection(t, dir)
		for folder, figure := range map[string]string{dir: "4.33", other: "4.32"} {
			if n == 1 {
				for _, name := range []string{issueName(1), ReportFile, ResultsFile} {
					require.NoError(t, os.Remove(filepath.Join(folder, name)))
				}
			}
			retype(t, folder, map[string]string{code: figure})
			require.Equal(t, n, remade(t, folder).Issue.Number)
		}
		own := content(t, dir, ReportFile)
		for _, name := range []string{issueName(n), FormFile, HistoryFile} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), content(t, other, name), 0o644))
		}
		want := fmt.Sprintf("are of another issue %d than issue-%d.yaml", n, n)
		list, err := List(filepath.Dir(dir))
		require.NoError(t, err)
		require.Contains(t, list[0].Trouble, want)
		require.Contains(t, strings.Join(Copies(dir, false), "\n"), want)
		retype(t, dir, map[string]string{code: "4.31"})
		notMade(t, dir, want)
		require.Equal(t, own, content(t, dir, ReportFile))
		for _, name := range []string{ReportFile, ResultsFile} {
			require.NoError(t, os.Remove(filepath.Join(dir, name)))
		}
		require.Equal(t, n+1, remade(t, dir).Issue.Number)
	}
}

// What cannot be put in the report's place keeps the data from saying more than it.
func TestReportThatCannotBeReplaced(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	data := content(t, dir, ResultsFile)
	require.NoError(t, os.Remove(filepath.Join(dir, ReportFile)))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, ReportFile, "x"), 0o755))
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	notMade(t, dir, "report.pdf: not written")
	require.Equal(t, data, content(t, dir, ResultsFile))
	left, err := filepath.Glob(filepath.Join(dir, unfinished+"*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

// A folder that came back from its report goes on as the one it was: a box may be
// blanked in its form by hand.
func TestRebuiltFormByHand(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	r, err := recordIn(dir, codes.Report)
	require.NoError(t, err)
	again, err := Rebuild(t.TempDir(), r)
	require.NoError(t, err)
	job, err := Open(again)
	require.NoError(t, err)
	readings, err := ReadForm("form", content(t, again, FormFile), job.Number, job.Plan)
	require.NoError(t, err)
	for _, b := range job.Boxes() {
		if b.Kind == Text && readings.Entries[b.Code].Raw != "" {
			retype(t, again, map[string]string{b.Code: ""})
			res := remade(t, again)
			require.Equal(t, 2, res.Issue.Number)
			require.Len(t, res.Corrections, 1)
			return
		}
	}
	require.Fail(t, "no text in any box")
}

// So it is where corrections are written otherwise than its form.
func TestRebuiltCorrections(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	typing := opened(t, dir, "K.S.")
	for _, x := range []string{"4.33", "4,34", "4,33"} {
		require.NoError(t, typing.Put(boxOf(t, typing.Plan, projection(t, dir)), x, ""))
	}
	require.Len(t, remade(t, dir).Corrections, 3)
	r, err := recordIn(dir, codes.Report)
	require.NoError(t, err)
	again, err := Rebuild(t.TempDir(), r)
	require.NoError(t, err)
	require.Equal(t, 2, remade(t, again).Issue.Number)
	require.Equal(t, content(t, dir, issueName(2)), content(t, again, issueName(2)))
}

// Of issues that came alone, or not yet, a folder is told by what is there.
func TestIssuesOnTheirWay(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	code := projection(t, dir)
	facts := content(t, dir, issueName(1))
	require.NoError(t, os.Remove(filepath.Join(dir, issueName(1))))
	third := bytes.Replace(facts, []byte("\nissue: 1\n"), []byte("\nissue: 3\n"), 1)
	require.NoError(t, os.WriteFile(filepath.Join(dir, issueName(3)), third, 0o644))
	list, err := List(filepath.Dir(dir))
	require.NoError(t, err)
	require.Empty(t, list[0].Trouble)
	require.True(t, list[0].Later)
	last, err := lastIssue(dir)
	require.NoError(t, err)
	require.True(t, last.awaited(dir))
	require.Equal(t, 3, last.Number)

	// An incomplete report in the place of one that was there.
	dir = demoFolders(t)[0].Folder
	retype(t, dir, map[string]string{code: ""})
	require.Nil(t, remade(t, dir).Issue)
	last, err = lastIssue(dir)
	require.NoError(t, err)
	require.False(t, last.awaited(dir))

	// Data of a build that wrote no digest there.
	dir = demoFolders(t)[0].Folder
	data := regexp.MustCompile(`(?m)^  "digest": .*\n`).ReplaceAll(content(t, dir, ResultsFile), nil)
	require.NotEqual(t, content(t, dir, ResultsFile), data)
	require.NoError(t, os.WriteFile(filepath.Join(dir, ResultsFile), data, 0o644))
	require.Nil(t, mixedIn(dir, filepath.Base(dir)))
	require.Equal(t, 1, remade(t, dir).Issue.Number)
}

// Two corrections that are alike in everything, within one second, are two.
func TestAlikeCorrectionsAreTwo(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	older := content(t, dir, HistoryFile)
	typing := opened(t, dir, "K.S.")
	b := boxOf(t, typing.Plan, projection(t, dir))
	for _, x := range []string{"4.33", "4.34", "4.33"} {
		require.NoError(t, typing.Put(b, x, ""))
	}
	res := remade(t, dir)
	require.Len(t, res.Corrections, 3)
	require.NoError(t, os.WriteFile(filepath.Join(dir, HistoryFile), older, 0o644))
	require.Equal(t, 2, remade(t, dir).Issue.Number)
	require.Equal(t, res.Corrections, opened(t, dir, "").Readings.Corrections)
}

// A later issue with corrections comes back from its symbols and from its
// attachments, to the byte, and stays that issue. The hours, for the books alone, do
// not.
func TestIssueFromItsSymbols(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	res := remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	require.NotEmpty(t, res.Corrections)
	was, err := recordIn(dir, codes.Report)
	require.NoError(t, err)
	require.NotEmpty(t, was.file(HistoryFile))

	job, err := Open(dir)
	require.NoError(t, err)
	retype(t, dir, map[string]string{job.Hours.Code: ""})
	require.Equal(t, 2, remade(t, dir).Issue.Number)

	data := content(t, dir, ResultsFile)
	attached := []codes.File{}
	for _, f := range []string{IntakeFile, SpecFile, ShopFile, FormFile} {
		attached = append(attached, codes.File{Name: filepath.Base(dir) + "-" + f, Data: content(t, dir, f)})
	}
	attached = append(attached, codes.File{Name: filepath.Base(dir) + "-" + ResultsFile, Data: data})
	document, err := RecordOfDocument(attached)
	require.NoError(t, err)
	require.Equal(t, was.Digest(), document.Digest())

	for _, r := range []Record{through(t, was), document} {
		again, err := Rebuild(t.TempDir(), r)
		require.NoError(t, err)
		for _, name := range []string{ReportFile, ResultsFile, LinesFile, "issue-2.yaml"} {
			require.True(t, bytes.Equal(content(t, dir, name), content(t, again, name)), name)
		}
		res := remade(t, again)
		require.Equal(t, 2, res.Issue.Number)
		require.True(t, bytes.Equal(content(t, dir, ReportFile), content(t, again, ReportFile)))
	}
}

// The lines for the books are RFC 4180: CRLF, a header, figures with a point.
func TestLinesForTheBooks(t *testing.T) {
	for _, d := range demoFolders(t) {
		data := content(t, d.Folder, LinesFile)
		require.Equal(t, bytes.Count(data, []byte("\n")), bytes.Count(data, []byte("\r\n")))
		rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
		require.NoError(t, err)
		require.Equal(t, bookColumns, rows[0])
		kinds := map[string]int{}
		for _, r := range rows[1:] {
			kinds[r[2]]++
			require.Regexp(t, `^\d+(\.\d+)?$`, r[5])
		}
		require.Equal(t, 1, bytes.Count(data, []byte(",h\r\n")))
		require.Equal(t, 2, kinds["part"])
		require.Greater(t, kinds["shim"], 2)
		require.Greater(t, kinds["work"], 2)
	}
}

// An issue that the report's data name and whose file is not there, as while a folder
// is synchronised, is not given out again.
func TestIssueWithoutItsFile(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	sent := content(t, dir, ReportFile)
	require.NoError(t, os.Remove(filepath.Join(dir, issueName(1))))
	retype(t, dir, map[string]string{projection(t, dir): "4.33"})
	notMade(t, dir, "the report in it is issue 1, but issue-1.yaml is not there")
	require.Equal(t, sent, content(t, dir, ReportFile))
}

// A history that was lost takes the corrections back from the last issue.
func TestHistoryRegained(t *testing.T) {
	dir := demoFolders(t)[0].Folder
	typing := opened(t, dir, "K.S.")
	box := boxOf(t, typing.Plan, projection(t, dir))
	require.NoError(t, typing.Put(box, "4.33", "misread"))
	res := remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	require.Len(t, res.Corrections, 1)
	require.NoError(t, os.Remove(filepath.Join(dir, HistoryFile)))
	res = remade(t, dir)
	require.Equal(t, 2, res.Issue.Number)
	require.Len(t, res.Corrections, 1)
	require.Equal(t, "misread", res.Corrections[0].Why)
	require.NoError(t, opened(t, dir, "").Whole())
}
