package packet

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"shimcard/packet/codes"
)

// Find is the folder of a job below root; "" when there is none. The one that has
// the number for its name is looked for first, and no other is read then; a folder
// that somebody renamed is found by the number in its name, else by its form.
func Find(root, number string) (string, error) {
	dir := filepath.Join(root, number)
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return dir, nil
	}
	names, err := jobFolders(root)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", plainError(err)
	}
	var found []string
	for _, name := range names {
		if dir := filepath.Join(root, name); numberIn(name) == number && !ofAnother(dir, number) {
			found = append(found, dir)
		}
	}
	if found == nil {
		list, err := List(root)
		if err != nil {
			return "", err
		}
		for _, l := range list {
			dir := filepath.Join(root, l.Folder)
			if l.Trouble != "" && l.form == number {
				if named := numberIn(l.Folder); named != "" {
					return "", otherJob(dir, named, number)
				}
			}
			if l.form == number || l.Trouble == "" && l.Job == number {
				found = append(found, dir)
			}
		}
	}
	switch len(found) {
	case 0:
		return "", nil
	case 1:
		return found[0], nil
	}
	return "", fmt.Errorf("job %s: has %d folders, and none is named %s: %s; compare them, and give the one to keep that name", number, len(found), number, strings.Join(found, ", "))
}

// ofAnother reports whether the form in a folder says that it is of another job than
// the folder's name.
func ofAnother(dir, number string) bool {
	form, err := formNumber(filepath.Join(dir, FormFile))
	return err == nil && form != number
}

// State is how far a job has come.
type State struct {
	Typed, Boxes int // boxes typed, and boxes there are; worked-out ones are not counted
	Missing      int // without which the job cannot be released
	Doubts       int // to be corrected or confirmed
	Report       string
	Stale        bool // the report says something else than the form does now
	Next         string
}

// State reads how far the job of a folder has come, and what comes next.
func (j *Job) State(dir string) (*State, error) {
	t, err := j.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return nil, err
	}
	r := t.Readings
	s := &State{}
	for _, b := range j.Boxes() {
		if b.From == nil {
			s.Boxes++
			if r.Entries[b.Code].Raw != "" {
				s.Typed++
			}
		}
	}
	s.Doubts = len(stopping(j.Doubts(r)))
	res := j.Judge(r)
	s.Missing = len(res.Missing)
	last, err := lastIssue(dir)
	if err != nil {
		return nil, err
	}
	j.issue(res, last)
	old, err := readResults(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, err
	case s.Doubts > 0:
		s.Report, s.Stale = "made", true
	default:
		now, err := j.data(res)
		if err != nil {
			return nil, err
		}
		s.Report, s.Stale = string(res.Overall), !bytes.Equal(old.Data, now)
	}
	switch {
	case len(t.GoneBack()) > 0:
		s.Next = "the form has lost what was typed, or went back: benchreport enter " + dir + " says what to do"
	case s.Typed == 0:
		s.Next = "the bench; then type the sheets back: benchreport enter " + dir
	case s.Doubts > 0:
		s.Next = "correct or confirm what is in doubt: benchreport enter " + dir
	case s.Missing > 0:
		s.Next = "type the rest: benchreport enter " + dir
	case s.Report == "" || s.Stale:
		s.Next = "the report: benchreport make " + dir
	default:
		s.Next = "nothing: the report is made, " + filepath.Join(dir, ReportFile)
	}
	return s, nil
}

// PageOf says what is on a page of the packet: the stage's letter and title, and
// how many of its boxes are typed.
func (j *Job) PageOf(page int) (what string, of int, err error) {
	doc := j.document()
	if err := doc.Arrange(); err != nil {
		return "", 0, err
	}
	pages := doc.Pages()
	if page < 1 || page > len(pages) {
		return "", len(pages), nil
	}
	var on []string
	for _, mark := range pages[page-1].Marks {
		name := sheetNames[mark]
		for _, s := range j.Stages {
			if strings.TrimRight(mark, "0123456789") == s.Letter {
				name = s.Letter + "  " + s.Title
			}
		}
		if name != "" && !slices.Contains(on, name) {
			on = append(on, name)
		}
	}
	return strings.Join(on, ", "), len(pages), nil
}

// sheetNames are the pages of a packet that belong to no stage.
var sheetNames = map[string]string{"cover": "cover", "back": "back of the cover", symbolsKey: "the whole job in symbols"}

// RecordOf makes a record from files that came out of symbols or attachments.
// Only the files of a job are taken.
func RecordOf(number string, files []codes.File) (Record, error) {
	r := Record{Number: number, Document: codes.Traveller}
	names := []string{IntakeFile, SpecFile, ShopFile}
	for _, f := range files {
		if f.Name == FormFile || f.Name == RecordedResults {
			r.Document = codes.Report
			names = []string{IntakeFile, SpecFile, ShopFile, FormFile, RecordedResults, IssueFile, HistoryFile}
		}
	}
	for _, name := range names {
		i := slices.IndexFunc(files, func(f codes.File) bool { return f.Name == name })
		if i < 0 && (name == IssueFile || name == HistoryFile) {
			continue
		}
		if i < 0 {
			return Record{}, fmt.Errorf("job %s: its record has no %s; scan the symbols of a packet or report of this job", number, name)
		}
		r.Files = append(r.Files, files[i])
	}
	if len(files) > len(r.Files) {
		return Record{}, fmt.Errorf("job %s: its record holds %d files where a job has %d; it was not made by these commands", number, len(files), len(r.Files))
	}
	return r, nil
}

// ErrNoRecord is a document that carries no job.
var ErrNoRecord = errors.New("no job is attached")

// Attached tells of which job's record a file attached to a document is, and which
// file of it; "" when of none.
func Attached(name string) (number, file string) {
	for _, file := range []string{IntakeFile, SpecFile, ShopFile, FormFile, ResultsFile} {
		before, ok := strings.CutSuffix(name, "-"+file)
		if number, err := codes.ParseNumber(before); ok && err == nil && number == before {
			return number, file
		}
	}
	return "", ""
}

// RecordOfDocument makes a record from the files attached to a packet or to a
// report.
func RecordOfDocument(attached []codes.File) (Record, error) {
	byName, number := map[string][]byte{}, ""
	for _, f := range attached {
		n, name := Attached(f.Name)
		if n == "" {
			continue
		}
		if number != "" && n != number {
			return Record{}, fmt.Errorf("documents of jobs %s and %s in one file; give them one by one", number, n)
		}
		if _, twice := byName[name]; twice {
			return Record{}, fmt.Errorf("%s is attached twice; the file was put together from several documents: give them one by one", f.Name)
		}
		number, byName[name] = n, f.Data
	}
	if number == "" {
		return Record{}, ErrNoRecord
	}
	r := Record{Number: number, Document: codes.Traveller}
	for _, name := range []string{IntakeFile, SpecFile, ShopFile} {
		data, ok := byName[name]
		if !ok {
			return Record{}, fmt.Errorf("job %s: %s-%s is not attached; the file was changed after it was made", number, number, name)
		}
		r.Files = append(r.Files, codes.File{Name: name, Data: data})
	}
	form, results := byName[FormFile], byName[ResultsFile]
	if form == nil && results == nil {
		return r, nil
	}
	if form == nil || results == nil {
		return Record{}, fmt.Errorf("job %s: of %s and %s only one is attached; the file was changed after it was made", number, FormFile, ResultsFile)
	}
	job, err := r.Job()
	if err != nil {
		return Record{}, err
	}
	readings, err := ReadForm("attached "+FormFile, form, number, job.Plan)
	if err != nil {
		return Record{}, err
	}
	var res Results
	if err := json.Unmarshal(results, &res); err != nil {
		return Record{}, fmt.Errorf("attached %s: %w; the file was changed after it was made", ResultsFile, err)
	}
	res.readings = readings
	return job.reportRecord(&res), nil
}

// Job is the job of a record.
func (r Record) Job() (*Job, error) {
	var f [3]File
	for i, name := range []string{IntakeFile, SpecFile, ShopFile} {
		f[i] = File{"record of job " + r.Number + ": " + name, r.file(name)}
	}
	return NewJob(r.Number, f[0], f[1], f[2])
}

// issue are the facts of the record's issue, nil when it is none.
func (r Record) issue() (*Issue, error) {
	return readIssue("record of job "+r.Number+": "+IssueFile, r.file(IssueFile))
}

// readings are the record's readings, nil when it has none.
func (r Record) readings(j *Job) (*Readings, error) {
	data := r.file(FormFile)
	if data == nil {
		return nil, nil
	}
	readings, err := ReadForm("record of job "+r.Number+": "+FormFile, data, r.Number, j.Plan)
	if err != nil {
		return nil, err
	}
	h := history{name: "record of job " + r.Number + ": " + HistoryFile}
	if err := h.parse(r.file(HistoryFile)); err != nil {
		return nil, err
	}
	j.corrected(readings, h.changes)
	return readings, nil
}

// rebuilt is the history of a form that comes back from its record: each box as it
// was first, on the day of the report, the corrections kept, and then what the form
// writes otherwise than they do.
func (j *Job) rebuilt(readings *Readings, res *Results, kept []byte) []byte {
	first, last := map[string]string{}, map[string]string{}
	for _, c := range readings.Corrections {
		if _, again := first[c.Box]; !again {
			first[c.Box] = c.Old
		}
		last[c.Box] = c.New
	}
	day, _ := time.Parse(time.DateOnly, res.lastDay)
	var changes []Change
	for _, b := range j.Boxes() {
		text, corrected := first[b.Code]
		if !corrected {
			text = readings.Entries[b.Code].Raw
		}
		if text != "" {
			changes = append(changes, Change{b.Code, "", text, readings.TypedBy, day, InForm, ""})
		}
	}
	out := append(lines(changes), kept...)
	changes = nil
	for _, b := range j.Boxes() { // 3,20 is 3.20 there
		was, corrected := last[b.Code]
		if now := readings.Entries[b.Code].Raw; corrected && now != was {
			changes = append(changes, Change{b.Code, was, now, readings.TypedBy, day, InForm, ""})
		}
	}
	return append(out, lines(changes)...)
}

// Rebuild makes the folder of a job below root from its record, whole or not at
// all: the packet is printed anew, and with readings in the record the form is
// filled in and the report made. The error is fs.ErrExist when the job has a
// folder already: it is never written over.
func Rebuild(root string, r Record) (dir string, err error) {
	job, err := r.Job()
	if err != nil {
		return "", err
	}
	if dir, err = Find(root, r.Number); err != nil {
		return "", err
	}
	if dir != "" {
		return dir, fs.ErrExist
	}
	files := []File{}
	for _, f := range job.record().Files {
		files = append(files, File{f.Name, f.Data})
	}
	pdf, err := job.Traveller()
	if err != nil {
		return "", err
	}
	files = append(files, File{PacketFile, pdf})
	readings, err := r.readings(job)
	if err != nil {
		return "", err
	}
	if readings == nil {
		files = append(files, File{FormFile, Form(job.Number, job.Plan, nil)})
	} else {
		res := job.Judge(readings)
		if res.Issue, err = r.issue(); err != nil {
			return "", err
		}
		data, err := job.data(res)
		if err != nil {
			return "", err
		}
		pdf, err := job.ReportPDF(res)
		if err != nil {
			return "", err
		}
		files = append(files, File{FormFile, job.fullForm(readings)}, File{ResultsFile, data}, File{ReportFile, pdf}, File{LinesFile, job.bookLines(res)})
		if res.Issue != nil {
			files = append(files, File{issueName(res.Issue.Number), job.issuedNow(res, pdf).data(job.Number)})
		}
		if history := job.rebuilt(readings, res, r.file(HistoryFile)); len(history) > 0 {
			files = append(files, File{HistoryFile, history})
		}
	}
	if _, err := openNumbers(root, ""); err != nil { // as new makes it and tries it
		return "", err
	}
	if err := raise(root, r.Number); err != nil {
		return "", err
	}
	dir = filepath.Join(root, r.Number)
	return dir, writeFolder(root, dir, files)
}
