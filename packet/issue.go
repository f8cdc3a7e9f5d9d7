package packet

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"

	"shimcard/packet/codes"
	"shimcard/packet/words"
)

// Issue numbers a report: 1 for the first that says how the pump is, and the
// next for each that rests on anything else than the one before. An incomplete
// report releases nothing and is no issue.
//
// In the job folder each issue has a small file, issue-1.yaml, made once and
// never written again, before the report itself: so a number is not given out
// twice, whoever is killed when and however many make reports at a time. It holds
// what the issue rested on; a report that was replaced is kept as
// report-issue-1.pdf, and can be printed again from it.
type Issue struct {
	Number   int       `json:"number" yaml:"issue"`
	On       string    `json:"on" yaml:"date"` // the last date on the sheets, or of a correction
	Replaces *Replaced `json:"replaces" yaml:"replaces,omitempty"`
}

// Replaced is the issue that an issue replaces, and what changed.
type Replaced struct {
	Number  int       `json:"number" yaml:"issue"`
	On      string    `json:"on" yaml:"date"`
	Digest  string    `json:"digest" yaml:"digest"`
	Changed []Amended `json:"changed" yaml:"changed,flow"`
	More    int       `json:"more_changed" yaml:"more,omitempty"` // than are listed
}

// Amended is one thing that differs between two issues.
type Amended struct {
	Of  AmendedOf `json:"of" yaml:"of"`
	Box string    `json:"box" yaml:"box,omitempty"` // or the name of a file
	Was string    `json:"was" yaml:"was,omitempty"`
	Now string    `json:"now" yaml:"now,omitempty"`
}

// AmendedOf says what differs.
type AmendedOf string

// What may differ between two issues.
const (
	OfPump    AmendedOf = "pump"    // its verdict
	OfItem    AmendedOf = "verdict" // an item's
	OfReading AmendedOf = "reading" // as typed
	OfFile    AmendedOf = "file"    // intake, spec, shop file, or the corrections after entry
)

// mostAmended are named; of the rest only the number is kept.
const mostAmended = 12

// IssueFile is the name of an issue's facts in a record.
const IssueFile = "issue.yaml"

// issued is an issue as its file in the job folder has it: the facts, the digest
// printed on it, and what it rested on.
type issued struct {
	Issue       `yaml:",inline"`
	Digest      string            `yaml:"digest"`
	PDF         string            `yaml:"pdf"` // SHA-256 of report.pdf
	Files       map[string]string `yaml:"files"`
	Readings    string            `yaml:"readings"`
	Results     string            `yaml:"results"`
	Corrections string            `yaml:"corrections,omitempty"`
}

// issueEnd is the last line of an issue's file: without it, the rest is not there.
const issueEnd = "# End of the issue."

func issueName(n int) string { return fmt.Sprintf("issue-%d.yaml", n) }

func replacedName(n int) string { return fmt.Sprintf("report-issue-%d.pdf", n) }

// file are the facts of an issue as a record carries them, nil for none.
func (i *Issue) file() []byte {
	if i == nil {
		return nil
	}
	data, err := yaml.Marshal(i)
	if err != nil {
		panic(err) // texts and numbers
	}
	return data
}

// readIssue reads the facts of an issue; none are none.
func readIssue(name string, data []byte) (*Issue, error) {
	if data == nil {
		return nil, nil
	}
	var i Issue
	if err := yaml.Unmarshal(data, &i); err != nil || i.Number < 1 {
		return nil, fmt.Errorf("%s: no facts of an issue; it was changed after it was made", name)
	}
	return &i, nil
}

// lastIssue is the last issue made in a job folder, nil for none.
func lastIssue(dir string) (*issued, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, plainError(err)
	}
	last := 0
	for _, e := range entries {
		digits, ok := strings.CutPrefix(e.Name(), "issue-")
		digits, is := strings.CutSuffix(digits, ".yaml")
		if n, err := strconv.Atoi(digits); ok && is && err == nil && e.Name() == issueName(n) {
			last = max(last, n)
		}
	}
	if n := issueMade(dir).Issue.Number; n > last {
		return nil, fmt.Errorf("%s: the report in it is issue %d, but %s is not there. Wait for what synchronises the folder, or put the file back from a backup; where it is lost, benchreport reopen of %s into another folder makes it again", dir, n, issueName(n), ReportFile)
	}
	if last == 0 {
		return nil, nil
	}
	return readIssued(dir, last)
}

// readIssued reads the file of an issue.
func readIssued(dir string, n int) (*issued, error) {
	f, err := readUpTo(filepath.Join(dir, issueName(n)), mostHistory) // the corrections are in it
	if err != nil {
		return nil, err
	}
	var i issued
	if err := yaml.Unmarshal(f.Data, &i); err != nil || i.Number != n || !strings.HasSuffix(strings.TrimSpace(string(f.Data)), issueEnd) {
		return nil, fmt.Errorf("%s: the facts of issue %d are not all there. Wait for what synchronises the folder, or put the file back from a backup; where it is lost, benchreport reopen of that issue's report into another folder makes it again: copy it from there", f.Name, n)
	}
	return &i, nil
}

// madeIssue is what the report's data say of their issue.
type madeIssue struct {
	Issue  Issue  `json:"issue"`
	Digest string `json:"digest"`
}

// issueMade is the issue that the report's data in a job folder name, zero for none:
// its number has been given out, whatever became of its file.
func issueMade(dir string) (made madeIssue) {
	if f, err := readUpTo(filepath.Join(dir, ResultsFile), mostResults); err == nil && json.Unmarshal(f.Data, &made) != nil {
		return madeIssue{}
	}
	return made
}

// single refuses an issue that is another than the one of its number of which the
// report is in the folder: both may have been sent.
func (i *issued) single(dir string, made madeIssue) error {
	if i == nil || made.Issue.Number != i.Number || made.Digest == i.Digest ||
		made.Digest == "" && bytes.Equal(made.Issue.file(), i.Issue.file()) {
		return nil
	}
	return mixedUp("%s: %s and %s are of another issue %d than %s: it was made on two computers. Compare the two readings; take %[2]s and %[3]s out of the folder and keep them, since they may have been sent; then the same command again",
		dir, ReportFile, ResultsFile, i.Number, issueName(i.Number))
}

// awaited reports whether the report of an issue never was in the folder, which its
// file came to alone.
func (i *issued) awaited(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, replacedName(i.Number)))
	return issueMade(dir).Issue.Number < i.Number && errors.Is(err, fs.ErrNotExist)
}

// mixture is the trouble with a folder that holds files of two.
type mixture struct{ error }

func mixedUp(format string, args ...any) error { return &mixture{fmt.Errorf(format, args...)} }

// issuedNow are the facts of results' issue for the job folder.
func (j *Job) issuedNow(res *Results, pdf []byte) *issued {
	r := j.reportRecord(res)
	sum := sha256.Sum256(pdf)
	out := &issued{Issue: *res.Issue, Digest: r.Digest(), PDF: hex.EncodeToString(sum[:]), Files: map[string]string{},
		Readings: string(r.file(FormFile)), Results: string(r.file(RecordedResults)), Corrections: string(r.file(HistoryFile))}
	for _, f := range r.Files[:3] {
		out.Files[f.Name] = codes.Digest(j.Number, codes.Traveller, []codes.File{f})
	}
	return out
}

// data is the file of an issue.
func (i *issued) data(number string) []byte {
	var w bytes.Buffer
	fmt.Fprintf(&w, "# Issue %d of the report of job %s, and what it rested on. Made once, by benchreport make; leave it as it is.\n", i.Number, number)
	data, err := yaml.Marshal(i)
	if err != nil {
		panic(err) // texts and numbers
	}
	w.Write(data)
	w.WriteString(issueEnd + "\n")
	return w.Bytes()
}

// issue gives results the issue that they are after the last one: that one
// itself where they rest on the same, none where they are incomplete.
func (j *Job) issue(res *Results, last *issued) {
	res.Issue = nil
	switch {
	case res.Overall == PumpIncomplete:
		return
	case last == nil:
		res.Issue = &Issue{Number: 1, On: res.lastDay}
		return
	}
	res.Issue = &last.Issue
	if j.reportRecord(res).Digest() == last.Digest {
		return
	}
	res.Issue = &Issue{Number: last.Number + 1, On: max(res.lastDay, last.On)}
	changed := last.changed(j.issuedNow(res, nil))
	more := max(len(changed)-mostAmended, 0)
	res.Issue.Replaces = &Replaced{Number: last.Number, On: last.On, Digest: last.Digest, Changed: changed[:len(changed)-more], More: more}
}

// changed is what differs in a later issue: verdicts, then readings, then files.
func (i *issued) changed(now *issued) []Amended {
	out := []Amended{}
	before := func(text, mark string) string { v, _, _ := strings.Cut(text, mark); return v }
	pumpWas, itemsWas, _ := strings.Cut(i.Results, "\n")
	pumpNow, itemsNow, _ := strings.Cut(now.Results, "\n")
	if a, b := before(pumpWas, ";"), before(pumpNow, ";"); a != b {
		out = append(out, Amended{Of: OfPump, Was: a, Now: b})
	}
	was, is := keyed(itemsWas, ";"), keyed(itemsNow, ";")
	for _, k := range keys(itemsWas, itemsNow, ";") {
		if a, b := before(was[k], ";"), before(is[k], ";"); a != b {
			out = append(out, Amended{Of: OfItem, Box: k, Was: a, Now: b})
		}
	}
	was, is = keyed(i.Readings, ":"), keyed(now.Readings, ":")
	for _, k := range keys(i.Readings, now.Readings, ":") {
		if was[k] != is[k] {
			out = append(out, Amended{Of: OfReading, Box: k, Was: scalar(was[k]), Now: scalar(is[k])})
		}
	}
	for _, name := range []string{IntakeFile, SpecFile, ShopFile} {
		if i.Files[name] != now.Files[name] {
			out = append(out, Amended{Of: OfFile, Box: name})
		}
	}
	if i.Corrections != now.Corrections {
		out = append(out, Amended{Of: OfFile, Box: HistoryFile})
	}
	return out
}

// keyed are the lines of a text by what stands before a mark, the first of each.
func keyed(text, mark string) map[string]string {
	out := map[string]string{}
	for line := range strings.Lines(text) {
		k, v, _ := strings.Cut(strings.TrimSuffix(line, "\n"), mark)
		if _, twice := out[k]; !twice {
			out[k] = v
		}
	}
	return out
}

// keys are the keys of two texts, those of the first in order, then the rest.
func keys(a, b, mark string) (out []string) {
	seen := map[string]bool{}
	for line := range strings.Lines(a + b) {
		if k, _, _ := strings.Cut(strings.TrimSuffix(line, "\n"), mark); !seen[k] {
			seen[k] = true
			out = append(out, k)
		}
	}
	return out
}

// scalar is a value of a form as typed.
func scalar(v string) string {
	var s string
	if yaml.Unmarshal([]byte(v), &s) != nil {
		return strings.TrimSpace(v)
	}
	return s
}

// write gives results their issue number and writes the report, its data and the
// lines for the books to the job folder.
func (j *Job) write(dir string, res *Results) error {
	for {
		last, err := lastIssue(dir)
		if err != nil {
			return err
		}
		j.issue(res, last)
		data, err := j.data(res)
		if err != nil {
			return err
		}
		pdf, err := j.ReportPDF(res)
		if err != nil {
			return err
		}
		fresh := res.Issue != nil && (last == nil || res.Issue.Number > last.Number)
		if last != nil && (fresh || res.Issue == nil) {
			if err := j.keep(dir, last); err != nil {
				return err
			}
		}
		if fresh {
			err := makeFile(filepath.Join(dir, issueName(res.Issue.Number)), j.issuedNow(res, pdf).data(j.Number))
			if errors.Is(err, fs.ErrExist) {
				continue // another process made that issue meanwhile
			}
			if err != nil {
				return err
			}
		}
		files := []File{{ReportFile, pdf}, {LinesFile, j.bookLines(res)}, {ResultsFile, data}}
		if _, err := os.Stat(filepath.Join(dir, ShortFile)); err == nil { // it says no longer what the report says
			short, err := j.ReportShort(res)
			if err != nil {
				return err
			}
			files = append([]File{{ShortFile, short}}, files...)
		}
		// The data last: they never say what the report does not say yet.
		return replaceFiles(dir, files...)
	}
}

// WriteShort writes the short form beside the report of the same results.
func (j *Job) WriteShort(dir string, res *Results) error {
	short, err := j.ReportShort(res)
	if err != nil {
		return err
	}
	return replaceFile(filepath.Join(dir, ShortFile), short)
}

// keep puts the report of an issue aside before another takes its place. Where it
// was never written, since its process was killed, it is printed now.
func (j *Job) keep(dir string, i *issued) error {
	name := filepath.Join(dir, replacedName(i.Number))
	if _, err := os.Stat(name); err == nil {
		return nil
	}
	f, err := readUpTo(filepath.Join(dir, ReportFile), mostPDF)
	pdf := f.Data
	if sum := sha256.Sum256(pdf); err != nil || hex.EncodeToString(sum[:]) != i.PDF {
		r := j.record()
		r.Document = codes.Report
		r.Files = append(r.Files, codes.File{Name: FormFile, Data: []byte(i.Readings)})
		r.Files = append(r.Files, codes.File{Name: IssueFile, Data: i.file()})
		if i.Corrections != "" {
			r.Files = append(r.Files, codes.File{Name: HistoryFile, Data: []byte(i.Corrections)})
		}
		if pdf, err = r.Reprint(); err != nil {
			return nil // its spec was changed since: nobody can print it any more
		}
	}
	return replaceFile(name, pdf)
}

// makeFile makes a file that is not there yet, whole or not at all; the error is
// fs.ErrExist when it is.
func makeFile(name string, data []byte) error {
	dir := filepath.Dir(name)
	temp := filepath.Join(dir, beside())
	defer os.Remove(temp)
	if err := writeSynced(temp, data, permissions(dir)&0o666|0o600); err != nil {
		return notWritten(name, err)
	}
	err := os.Link(temp, name)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		// No links on this file system.
		if _, is := os.Lstat(name); is == nil {
			return fs.ErrExist
		}
		err = os.Rename(temp, name)
	}
	if errors.Is(err, fs.ErrExist) {
		return fs.ErrExist
	}
	if err != nil {
		return notWritten(name, err)
	}
	syncFolder(dir)
	return nil
}

// issueTitle is the number of an issue as the head of every page has it.
func (r *Results) issueTitle() string {
	if r.Issue == nil {
		return r.T("not issued")
	}
	return r.T("issue %d", r.Issue.Number)
}

// replaces says what an issue replaces, and what changed, naming so many; "" for
// one that replaces nothing.
func (j *Job) replaces(r *Results, most int) string {
	if r.Issue == nil || r.Issue.Replaces == nil {
		return ""
	}
	old := r.Issue.Replaces
	// A customer knows no boxes: the item's name, else the box's label.
	name := map[string]string{}
	for _, b := range j.Boxes() {
		name[b.Code] = b.Label + " (" + b.Code + ")"
	}
	for _, it := range r.Items {
		name[it.Code] = it.Name + " (" + it.Code + ")"
	}
	var what []string
	for _, c := range old.Changed {
		what = append(what, c.words(r.Printer, cmp.Or(name[c.Box], c.Box)))
	}
	more := old.More
	if n := len(what) - most; n > 0 {
		what, more = what[:most], more+n
	}
	if more > 0 {
		what = append(what, r.T("… and %d more", more))
	}
	return r.T("Issue %d of %s replaces issue %d of %s, digest %s. Changed: %s.", r.Issue.Number, r.day(r.Issue.On), old.Number, r.day(old.On), Grouped(old.Digest), strings.Join(what, "; "))
}

// words say one change, of what has a name.
func (c Amended) words(p words.Printer, name string) string {
	verdict := func(v string) string {
		if v == "" {
			return "–"
		}
		return p.T(v)
	}
	switch c.Of {
	case OfPump:
		return p.T("verdict %s → %s", verdict(c.Was), verdict(c.Now))
	case OfItem:
		return name + " " + verdict(c.Was) + " → " + verdict(c.Now)
	case OfReading:
		return name + " " + orDash(c.Was) + " → " + orDash(c.Now)
	}
	if c.Box == HistoryFile {
		return p.T("corrections after the first entry")
	}
	return c.Box
}

// lastDay is the last date of what a report rests on: signed on the sheets, or of
// a correction. No document has the clock in it.
func lastDay(signed string, corrections []Change) string {
	for _, c := range corrections {
		signed = max(signed, c.When.Format("2006-01-02"))
	}
	return signed
}
