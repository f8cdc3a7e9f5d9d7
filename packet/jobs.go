package packet

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"shimcard/fonts"
	"shimcard/packet/codes"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Listed is one job folder as it is listed: who brought which pump, how far it
// is, what was found, and what its settings were.
type Listed struct {
	Folder    string   `json:"folder"`
	Job       string   `json:"job,omitempty"`
	State     string   `json:"state,omitempty"` // TakenIn, BeingTyped, else the verdict of its report
	Received  string   `json:"received,omitempty"`
	Tested    string   `json:"tested,omitempty"`
	Customer  string   `json:"customer,omitempty"`
	Reference string   `json:"reference,omitempty"`
	Pump      string   `json:"pump,omitempty"`
	Serial    string   `json:"serial,omitempty"`
	Complaint string   `json:"complaint,omitempty"`
	Met       int      `json:"items_met,omitempty"`
	Count     int      `json:"items,omitempty"`
	Found     []string `json:"found,omitempty"` // what was out or worn, in the words of the report
	Later     bool     `json:"later,omitempty"` // the report rests on something else than lies there now
	Invented  bool     `json:"invented,omitempty"`
	Trouble   string   `json:"trouble,omitempty"` // why it cannot be read

	settings []byte // of a report, as JSON: only few who list jobs ask for them
	form     string // the number that the form says, where there is trouble
}

// Settings are the static dimensions of the job's report.
func (l *Listed) Settings() []Setting {
	var s []Setting
	_ = json.Unmarshal(l.settings, &s) // as fill wrote them
	return s
}

// Setting is one static dimension of a job's report.
type Setting struct {
	Dimension  specs.DimensionName `json:"dimension"`
	Unit       string              `json:"unit"`
	Decimals   int                 `json:"decimals"`
	Low        float64             `json:"low"`
	High       float64             `json:"high"`
	Target     float64             `json:"target"`
	Found      *float64            `json:"found,omitempty"`
	Left       *float64            `json:"left,omitempty"`
	U          *float64            `json:"uncertainty,omitempty"`
	Sheet      string              `json:"sheet"`                // the spec rests on
	Instrument string              `json:"instrument,omitempty"` // the shop's number and its name
	By         string              `json:"by,omitempty"`         // who signed the stage
}

// The states before there is a report.
const (
	TakenIn    = "taken in"
	BeingTyped = "being typed"
)

// IndexFile is kept below the folder of the job folders so that they need not
// all be read again. It holds nothing that the folders do not; deleting it costs
// one slow listing.
const IndexFile = ".index"

const indexHead = `{"index of job folders":6}`

// stamp tells whether a file was changed; zero when there is none.
type stamp [2]int64 // size, time of last change in ns

type indexed struct {
	Stamps stamps  `json:"s"`
	Job    *Listed `json:"j"`
}

// stamps are of what a line of the index rests on: intake, form and results, and
// where there are results the shop file and the spec.
type stamps [5]stamp

var indexedFiles = [len(stamps{})]string{IntakeFile, FormFile, ResultsFile, ShopFile, SpecFile}

// List reads the job folders below root, by the day of receipt and number. A
// folder that cannot be read is listed with its trouble. Only folders that
// changed since the last listing are read again: sizes and times of their files
// are compared with the index.
func List(root string) ([]*Listed, error) {
	names, err := jobFolders(root)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: no such folder; name the one that holds the job folders with --jobs", root)
	}
	if err != nil {
		return nil, plainError(err)
	}
	index := readIndex(filepath.Join(root, IndexFile), len(names))
	now := make([]indexed, len(names))
	r := newReader()
	var wait sync.WaitGroup
	var lock sync.Mutex
	fresh, kept := false, 0
	part := (len(names) + runtime.NumCPU() - 1) / runtime.NumCPU()
	for from := 0; from < len(names); from += max(part, 1) {
		wait.Go(func() {
			for i := from; i < min(from+part, len(names)); i++ {
				dir := filepath.Join(root, names[i])
				now[i].Stamps = stampsOf(dir)
				if old, ok := index[names[i]]; ok && old.Stamps == now[i].Stamps {
					now[i].Job = old.Job
					lock.Lock()
					kept++
					lock.Unlock()
					continue
				}
				now[i].Job = r.read(dir, now[i].Stamps)
				if now[i].Job.Trouble == "" {
					lock.Lock()
					fresh = true
					lock.Unlock()
				}
			}
		})
	}
	wait.Wait()
	if fresh || kept != len(index) {
		_ = writeIndex(filepath.Join(root, IndexFile), now) // a folder that cannot be written to is read anew each time
	}
	list := make([]*Listed, len(now))
	for i, x := range now {
		list[i] = x.Job
	}
	slices.SortStableFunc(list, func(a, b *Listed) int {
		return cmp.Or(cmp.Compare(a.Received, b.Received), cmp.Compare(a.Job, b.Job), cmp.Compare(a.Folder, b.Folder))
	})
	return list, nil
}

// jobFolders are the names of the folders below root that may be of jobs. A link to a
// folder is one, but where that is among them itself, by its own name or another link;
// so is a link to nothing that has a job's number: its drive may not be there today.
func jobFolders(root string) (names []string, err error) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return nil, err
	}
	var links []string
	for _, e := range entries {
		name := e.Name()
		switch {
		case strings.HasPrefix(name, "."):
		case e.IsDir():
			names = append(names, name)
		case e.Type()&fs.ModeSymlink != 0:
			info, err := os.Stat(filepath.Join(root, name))
			if err == nil && info.IsDir() || err != nil && numberIn(name) != "" {
				links = append(links, name)
			}
		}
	}
	if links == nil {
		return names, nil
	}
	own, err := filepath.Abs(root)
	if err == nil {
		own, err = filepath.EvalSymlinks(own)
	}
	if err != nil {
		return nil, err
	}
	there := map[string]bool{}
	for _, name := range names {
		there[filepath.Join(own, name)] = true
	}
	for _, name := range links {
		at, err := filepath.EvalSymlinks(filepath.Join(own, name))
		if err != nil {
			at = name
		}
		if !there[at] {
			there[at] = true
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, nil
}

func stampsOf(dir string) (s stamps) {
	for i, name := range indexedFiles {
		if i > 2 && s[2] == (stamp{}) {
			break
		}
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil {
			s[i] = stamp{info.Size(), info.ModTime().UnixNano()}
		}
	}
	return s
}

// mostIndex is the largest index of so many folders that is read: what is larger
// was not written by writeIndex, whose lines take some 3 kB, and is made anew.
func mostIndex(folders int) int64 { return min(int64(folders+1)<<16, 1<<30) }

// readIndex reads the index of so many folders, as far as it is one.
func readIndex(name string, folders int) map[string]indexed {
	file, err := readUpTo(name, mostIndex(folders))
	if err != nil {
		return nil
	}
	lines := bytes.Split(file.Data, []byte("\n"))
	if string(lines[0]) != indexHead {
		return nil
	}
	lines = lines[1:]
	read := make([]indexed, len(lines))
	var wait sync.WaitGroup
	part := (len(lines) + runtime.NumCPU() - 1) / runtime.NumCPU()
	for from := 0; from < len(lines); from += part {
		wait.Go(func() {
			for i := from; i < min(from+part, len(lines)); i++ {
				line, settings, _ := bytes.Cut(lines[i], []byte("\t"))
				if json.Unmarshal(line, &read[i]) != nil {
					read[i].Job = nil
				} else if read[i].Job != nil && len(settings) > 0 {
					read[i].Job.settings = settings
				}
			}
		})
	}
	wait.Wait()
	index := make(map[string]indexed, len(lines))
	for _, x := range read {
		if x.Job != nil {
			index[x.Job.Folder] = x
		}
	}
	return index
}

func writeIndex(name string, list []indexed) error {
	var w bytes.Buffer
	w.WriteString(indexHead + "\n")
	for _, x := range list {
		if x.Job.Trouble != "" {
			continue // it may be readable next time, with nothing changed in it
		}
		line, err := json.Marshal(x)
		if err != nil {
			return err
		}
		w.Write(line)
		w.WriteByte('\t')
		w.Write(x.Job.settings)
		w.WriteByte('\n')
	}
	return replaceFile(name, w.Bytes())
}

// reader reads job folders; many hold one and the same spec and shop file.
type reader struct {
	sync.Mutex
	sheets map[[32]byte]*specs.Spec
	plans  map[[32]byte]*Plan // the last few
}

func newReader() *reader {
	return &reader{sheets: map[[32]byte]*specs.Spec{}, plans: map[[32]byte]*Plan{}}
}

// read reads one job folder.
func (r *reader) read(dir string, s stamps) *Listed {
	l := &Listed{Folder: filepath.Base(dir)}
	if err := closedTo(dir, r.fill(l, dir, s)); err != nil {
		return &Listed{Folder: l.Folder, Job: l.Job, Trouble: err.Error(), form: l.form}
	}
	l.form = "" // it is l.Job
	return l
}

// closedTo adds to the error that somebody may not read or write in a folder what opens
// it to him.
func closedTo(dir string, err error) error {
	if !errors.Is(err, fs.ErrPermission) {
		return err
	}
	return fmt.Errorf("%w; for its owner, to open it to the group that works in it: chgrp -R GROUP %[2]s && chmod -R g+rwX %[2]s", err, dir)
}

func (r *reader) fill(l *Listed, dir string, s stamps) error {
	if _, err := os.Stat(filepath.Join(dir, IntakeFile)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return plainError(err) // it may be there
	}
	named := numberIn(l.Folder)
	form, err := readOwn(filepath.Join(dir, FormFile))
	if err == nil {
		if l.form, err = numberOf(form.Data); err != nil {
			err = fmt.Errorf("%s: no job number in it: %s", form.Name, restore(dir))
		}
	}
	switch {
	case s[0] == (stamp{}) && (named != "" || l.form != ""):
		return fmt.Errorf("%s: no %s in it: %s", dir, IntakeFile, restore(dir))
	case s[0] == (stamp{}):
		return fmt.Errorf("%s: no %s in it: not a job folder, or only part of one", dir, IntakeFile)
	case err != nil && named == "" && s[1] == (stamp{}):
		return fmt.Errorf("%s: neither the folder's name nor its %s says which job this is", dir, FormFile)
	case err != nil:
		l.Job = named
		return err
	case named != "" && named != l.form:
		return otherJob(dir, named, l.form)
	}
	l.Job = l.form
	intake, err := readOwn(filepath.Join(dir, IntakeFile))
	if err != nil {
		return err
	}
	in, err := ReadIntake(intake.Name, intake.Data)
	if err != nil {
		return err
	}
	l.Received, l.Customer, l.Reference = in.Received.Format("2006-01-02"), in.Customer.Name, in.Customer.Reference
	l.Pump, l.Serial, l.Complaint, l.Invented = in.Pump.Name, in.Pump.Serial, in.Complaint, in.Invented
	l.State = TakenIn
	if s[2] != (stamp{}) {
		return r.report(l, dir, in, intake, form)
	}
	if typedBox.Match(form.Data) {
		l.State = BeingTyped
	}
	return nil
}

// typedBox is a line of a form with something typed in it.
var typedBox = regexp.MustCompile(`(?m)^[A-Z][0-9][0-9A-Za-z.]*:[ \t]*[^ \t\r\n#]`)

// numberWord is what may be a job number within the name of a folder.
var numberWord = regexp.MustCompile(`[0-9]{2}-[0-9A-Za-z]+-[0-9A-Za-z]`)

// numbersIn are the job numbers in the name of a folder: "Copy of 26-0412-B",
// "26-0412-B_done"; but 26-0412-B is not in 26-0412-BX.
func numbersIn(name string) (out []string) {
	word, _, more := strings.Cut(name, " ") // without its dashes, a number is a whole word
	if number, err := codes.ParseNumber(word); err == nil {
		if out = []string{number}; !more {
			return out
		}
	}
	letter := func(s string) bool {
		return strings.ContainsAny(s, "0123456789") || strings.ToLower(s) != strings.ToUpper(s)
	}
	for from := 0; ; {
		at := numberWord.FindStringIndex(name[from:])
		if at == nil {
			return out
		}
		start, end := from+at[0], from+at[1]
		from = start + 1
		_, before := utf8.DecodeLastRuneInString(name[:start])
		_, after := utf8.DecodeRuneInString(name[end:])
		if letter(name[start-before:start]) || letter(name[end:end+after]) {
			continue
		}
		if number, err := codes.ParseNumber(name[start:end]); err == nil && !slices.Contains(out, number) {
			out = append(out, number)
		}
	}
}

// numberIn is the job number that the name of a folder says; "" for none, or more
// than one.
func numberIn(name string) string {
	if all := numbersIn(name); len(all) == 1 {
		return all[0]
	}
	return ""
}

// otherJob is the trouble with a folder that has another job's form in it: nobody
// can tell whether the folder was renamed or the form is a copy.
func otherJob(dir, named, form string) error {
	return fmt.Errorf("%[1]s: the folder's name says job %[2]s, its %[3]s job %[4]s: give the folder its own name again, or put its own %[3]s back", dir, named, FormFile, form)
}

// mostResults is the largest report.json that is read; of a pump of twelve outlets
// it has some 100 kB.
const mostResults = 16 << 20

// readResults reads what a report left for programs; the error is fs.ErrNotExist
// when there is none.
func readResults(dir string) (File, error) {
	file, err := readUpTo(filepath.Join(dir, ResultsFile), mostResults)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		err = fmt.Errorf("%w; delete it, and make it again: benchreport make %s", err, dir)
	}
	return file, err
}

// madeFor is what the results of a report say they are of.
type madeFor struct {
	Job    string `json:"job"`
	Pump   string `json:"pump"`
	Serial string `json:"serial"`
}

// of is the trouble with a report that is another job's, or with a form that it does
// not rest on another pump's than the intake beside it: two folders were copied into one.
func (m madeFor) of(dir, number string, in *Intake) error {
	return mixedUp("%s: the report of job %s, %s %s, and %s says job %s, %s %s: where two folders were copied into one, put the files of each back from a backup; where %s was corrected, make the report again: benchreport make %s",
		filepath.Join(dir, ResultsFile), m.Job, m.Pump, m.Serial, IntakeFile, number, in.Pump.Name, in.Pump.Serial, IntakeFile, dir)
}

// mixedIn is that trouble, and of two issues of one number, with a job folder of a
// name; nil for none.
func mixedIn(dir, name string) *mixture {
	err := newReader().fill(&Listed{Folder: name}, dir, stampsOf(dir))
	m, _ := errors.AsType[*mixture](err)
	return m
}

// report takes from a job's results what is listed.
func (r *reader) report(l *Listed, dir string, in *Intake, intake, form File) error {
	file, err := readResults(dir)
	if err != nil {
		return err
	}
	var res struct {
		madeFor
		madeIssue
		Overall  Overall `json:"verdict"`
		Invented bool    `json:"invented"`
		Met      int     `json:"items_met"`
		Count    int     `json:"items"`
		Items    []*Item `json:"results"`
		Was      struct {
			Hints []struct {
				Finding string `json:"finding"`
			} `json:"hints"`
		} `json:"bench_as_found"`
		Worn     []Remark  `json:"wear"`
		SignOffs []SignOff `json:"sign_offs"`
	}
	if err := json.Unmarshal(file.Data, &res); err != nil || res.Overall == "" {
		return fmt.Errorf("%s: not the results of a report; make it again: benchreport make %s", file.Name, dir)
	}
	if res.Job != l.Job {
		return res.of(dir, l.Job, in)
	}
	l.State, l.Met, l.Count = string(res.Overall), res.Met, res.Count
	l.Invented = l.Invented || res.Invented
	by := map[string]string{}
	for _, s := range res.SignOffs {
		by[s.Stage] = s.By
		l.Tested = max(l.Tested, s.On)
	}
	for _, h := range res.Was.Hints {
		l.Found = append(l.Found, h.Finding)
	}
	for _, it := range res.Items {
		if it.FoundOut {
			l.Found = append(l.Found, it.Name)
		}
	}
	j := &Job{Number: l.Job, Intake: in, files: []File{intake, {}, {}}}
	spec, shop, err := r.sheet(dir, j)
	if err != nil {
		return err
	}
	var other bool
	if l.Later, other, err = r.later(dir, j, res.madeIssue, spec, shop, form); err != nil {
		return err
	}
	if other && res.madeFor != (madeFor{l.Job, in.Pump.Name, in.Pump.Serial}) {
		return res.of(dir, l.Job, in)
	}
	p := words.In(shop.Language, shop.DecimalComma)
	for _, w := range res.Worn {
		if w.Text == "worn" {
			l.Found = append(l.Found, p.T("%s worn, can stay", w.Label))
		} else {
			l.Found = append(l.Found, p.T("%s to replace", w.Label))
		}
	}
	var settings []Setting
	for _, it := range res.Items {
		if it.Group != Settings || it.Low == nil || it.High == nil || it.Target == nil {
			continue
		}
		for _, d := range spec.Dimensions {
			if p.T(practices[d.Name].title) != it.Name {
				continue
			}
			s := Setting{Dimension: d.Name, Unit: it.Unit, Decimals: it.Decimals, Low: *it.Low, High: *it.High, Target: *it.Target, Found: it.Found, Left: it.Left, U: it.U, Sheet: spec.Vouched.From, By: by[it.Stage]}
			if i := shop.Instrument(d.Instrument); i != nil {
				s.Instrument = i.Number + " " + i.Name
			}
			settings = append(settings, s)
		}
	}
	l.settings, err = json.Marshal(settings)
	return err
}

// sheet reads the spec and the shop file of a job folder.
func (r *reader) sheet(dir string, j *Job) (spec *specs.Spec, shop *specs.Shop, err error) {
	for i, name := range []string{SpecFile, ShopFile} {
		if j.files[i+1], err = readOwn(filepath.Join(dir, name)); err != nil {
			return nil, nil, err
		}
	}
	file := j.files[1]
	key := sha256.Sum256(file.Data)
	r.Lock()
	spec = r.sheets[key]
	r.Unlock()
	if spec == nil {
		if spec, err = specs.ReadSpec(file.Name, file.Data); err != nil {
			return nil, nil, err
		}
		r.Lock()
		r.sheets[key] = spec
		r.Unlock()
	}
	shop, err = specs.ReadShop(j.files[2].Name, j.files[2].Data)
	return spec, shop, err
}

// later reports whether a report rests on something else than the job folder holds:
// a correction may have come with any time. An issue is compared with its file, what
// is no issue with itself made again. other: most of the form is another than an issue's.
func (r *reader) later(dir string, j *Job, made madeIssue, spec *specs.Spec, shop *specs.Shop, form File) (later, other bool, err error) {
	j.Plan = r.plan(j, spec, shop)
	n := made.Issue.Number
	if n == 0 {
		s, err := j.State(dir)
		return err != nil || s.Stale, false, nil // a form that cannot be read is not what the report rests on
	}
	if _, err := os.Stat(filepath.Join(dir, issueName(n+1))); err == nil {
		return true, false, nil
	}
	last, err := readIssued(dir, n)
	if errors.Is(err, fs.ErrNotExist) {
		_, err = lastIssue(dir) // a later one, or it says what helps
		return true, false, err
	}
	if err == nil {
		err = last.single(dir, made)
	}
	if err != nil {
		return true, false, err
	}
	if !j.typedAs(form.Data, last.Readings) {
		later = true
		if readings, err := ReadForm(form.Name, form.Data, j.Number, j.Plan); err == nil {
			now := string(j.plainForm(j.documented(readings)))
			later, other = now != last.Readings, mostlyOther(last.Readings, now)
		}
	}
	for _, f := range j.record().Files {
		later = later || last.Files[f.Name] != codes.Digest(j.Number, codes.Traveller, []codes.File{f})
	}
	return later, other, nil
}

// mostlyOther reports whether of what a form holds more than half is not in another.
func mostlyOther(form, now string) bool {
	was, is := keyed(form, ":"), keyed(now, ":")
	same := 0
	for k, v := range was {
		if is[k] == v {
			same++
		}
	}
	return same < len(was)/2
}

// plan is that of a job's spec and shop file.
func (r *reader) plan(j *Job, spec *specs.Spec, shop *specs.Shop) *Plan {
	key := sha256.Sum256(slices.Concat(j.files[1].Data, []byte{0}, j.files[2].Data))
	r.Lock()
	p := r.plans[key]
	r.Unlock()
	if p == nil {
		p = NewPlan(spec, shop)
		r.Lock()
		if len(r.plans) >= mostPlans {
			clear(r.plans)
		}
		r.plans[key] = p
		r.Unlock()
	}
	return p
}

// mostPlans are kept: a shop file with counts of stock in it may be each job's own.
const mostPlans = 16

// typedAs reports whether a form says what another does, as plainForm writes it: line
// for line, much quicker than to read it all. False says nothing.
func (j *Job) typedAs(form []byte, plain string) bool {
	boxes := map[string]*Box{"typed by": nil}
	for _, b := range j.Boxes() {
		boxes[b.Code] = b
	}
	want, met := keyed(plain, ":"), 0
	all := len(want)
	for line := range bytes.Lines(form) {
		if line = bytes.TrimRight(line, " \r\n"); len(line) == 0 || line[0] == '#' {
			continue
		}
		key, text, is := strings.Cut(string(line), ":")
		value, of := want[key]
		box, known := boxes[key]
		rest, same := strings.CutPrefix(text, value)
		if comment := strings.TrimLeft(rest, " "); !same || rest != "" && (rest == comment || comment[0] != '#') {
			same = value != twice && box.means(text, value, box == j.Hours)
		}
		if !is || !same || !known && !of {
			return false
		}
		if of {
			met++
		}
		want[key] = twice
	}
	return met == all
}

// twice stands for the value of a key that came already: no line has it.
const twice = "\n"

// means reports whether a line of a form says of a box what a document does, only in
// other characters, or what is in no document.
func (b *Box) means(text, value string, undocumented bool) bool {
	if b == nil || strings.IndexAny(strings.TrimLeft(text, " \t"), "&*!|>[{") == 0 {
		return false
	}
	e := Entry{Raw: scalar(text)}
	_, wrong := b.read(e.Raw, &e)
	return wrong == "" && (undocumented || b.documented(e).Raw == scalar(value))
}

// oncePerJob takes one folder of each job from a list: where a job has several, since
// somebody copied one, that with the plain name, else the first by name. left are
// the names of the folders left out.
func oncePerJob(list []*Listed) (once []*Listed, left []string) {
	take := map[string]*Listed{}
	for _, l := range list {
		has := take[l.Job]
		if l.Trouble == "" && (has == nil || has.Folder != l.Job && (l.Folder == l.Job || l.Folder < has.Folder)) {
			take[l.Job] = l
		}
	}
	for _, l := range list {
		if l.Trouble != "" || take[l.Job] == l {
			once = append(once, l)
		} else {
			left = append(left, l.Folder)
		}
	}
	return once, left
}

// leftOut says which folders were left out, nothing where none were.
func leftOut(p words.Printer, left []string) []string {
	if left == nil {
		return nil
	}
	var names []string
	for _, name := range left {
		names = append(names, typed(strings.Map(func(r rune) rune {
			if len(fonts.Missing(string(r))) > 0 {
				return '?' // a page must be able to print it
			}
			return r
		}, brief(PrintableName(name), 60))))
	}
	return []string{p.T("Left out, further folders of jobs already counted: %s.", someOf(names, 4))}
}

// IsOf reports whether the job is of the pump with a serial number, in capitals or
// not, with blanks or without.
func (l *Listed) IsOf(serial string) bool {
	plain := func(s string) string { return strings.Join(strings.Fields(s), "") }
	return strings.EqualFold(plain(l.Serial), plain(serial))
}

// Has reports whether every word is somewhere in what is listed of a job, in
// capitals or not.
func (l *Listed) Has(find ...string) bool {
	text := strings.ToLower(strings.Join(append([]string{l.Folder, l.Job, l.Serial, l.Pump, l.Customer, l.Reference, l.Complaint}, l.Found...), "\n"))
	return !slices.ContainsFunc(find, func(w string) bool { return !strings.Contains(text, strings.ToLower(w)) })
}
