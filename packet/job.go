// Package packet is one job: who brought which pump, the stages and boxes its
// spec asks for, what was typed back, what follows from it, the folder that
// holds it all, and what the two documents say.
//
// A box is declared once, in stages.go; the traveller, the typing form, the
// checks and the report all come from that declaration.
package packet

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"shimcard/layout"
	"shimcard/packet/codes"
	"shimcard/specs"
)

// The files of a job folder.
const (
	IntakeFile  = "intake.yaml"
	SpecFile    = "spec.yaml"
	ShopFile    = "shop.yaml"
	PacketFile  = "packet.pdf"
	FormFile    = "readings.yaml"
	ReportFile  = "report.pdf"
	ShortFile   = "report-short.pdf" // its first page alone
	ResultsFile = "report.json"
)

// mostBytes is the largest input file that is read at all.
const mostBytes = 1 << 20

// File is a file as read: its name for messages, and its bytes.
type File struct {
	Name string
	Data []byte
}

// ReadFile reads an input file; "-" is standard input. A file of more than
// 1 MiB is refused without reading it, and so is what is no file: a pipe that
// nobody writes to would wait for ever. One that an editor saved in UTF-16, which
// some call Unicode, comes in UTF-8.
func ReadFile(name string) (File, error) {
	f, err := readUpTo(name, mostBytes)
	if err == nil {
		f.Data, err = inUTF8(f.Name, f.Data)
	}
	return f, err
}

func readUpTo(name string, most int64) (File, error) {
	var r io.Reader = os.Stdin
	size := int64(0)
	if name == "-" {
		name = "standard input"
	} else {
		info, err := os.Stat(name)
		if err != nil {
			return File{}, plainError(err)
		}
		if mode := info.Mode(); mode.IsRegular() {
			size = info.Size()
		} else if !mode.IsDir() && !handed(name) {
			return File{}, fmt.Errorf("%s: found a pipe or a device; put the file itself there", name)
		}
		if size > most {
			return File{}, tooLarge(name, most)
		}
		f, err := os.Open(name)
		if err != nil {
			return File{}, plainError(err)
		}
		defer f.Close()
		r = f
	}
	var data bytes.Buffer
	data.Grow(int(size) + bytes.MinRead) // an index may be large; growing would copy it
	if _, err := data.ReadFrom(io.LimitReader(r, most+1)); err != nil {
		return File{}, plainError(err)
	}
	if int64(data.Len()) > most {
		return File{}, tooLarge(name, most)
	}
	return File{name, data.Bytes()}, nil
}

// mostPDF is the most bytes of a packet or report of ours, which have some 200 kB.
const mostPDF = 64 << 20

// readOwn reads a file of a job folder, which no person writes from nothing: where
// it is missing, empty or has a hole, it is half a copy, and what helps is said.
func readOwn(name string) (File, error) {
	f, err := ReadFile(name)
	found := ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return f, fmt.Errorf("%w: %s", err, restore(filepath.Dir(name)))
	case err != nil:
		return f, err
	case len(bytes.TrimSpace(f.Data)) == 0:
		found = "an empty file"
	case bytes.IndexByte(f.Data, 0) >= 0:
		found = "a NUL byte"
	default:
		return f, nil
	}
	return f, fmt.Errorf("%s: found %s: %s", name, found, restore(filepath.Dir(name)))
}

// restore says what brings back the files of a job folder that did not come whole.
func restore(dir string) string {
	return fmt.Sprintf("wait until the synchroniser is through, or put the file back from a backup, or move %s away and make it again: traveller reopen, with the PDF or the last page of its report or packet", dir)
}

func tooLarge(name string, most int64) error {
	return fmt.Errorf("%s: larger than %d MiB; no file that people write is that large", name, most>>20)
}

// handed reports whether a name is one by which a shell hands over the output of
// another program: --spec <(…).
func handed(name string) bool {
	return strings.HasPrefix(name, "/dev/") || strings.HasPrefix(name, "/proc/")
}

// plainError says what the system said without the name of its call.
func plainError(err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	if l, ok := errors.AsType[*os.LinkError](err); ok {
		return fmt.Errorf("%s: %w", l.New, l.Err)
	}
	return err
}

// Job is one job: its number, what its files say, and the sheets that follow.
type Job struct {
	Number string
	Intake *Intake
	*Plan         // with Spec and Shop
	files  []File // as read: intake, spec, shop

	begun *layout.Begun // its packet, ahead; nil when nobody did
}

// NewJob makes the job of a number from its three files.
func NewJob(number string, intake, spec, shop File) (*Job, error) {
	in, sheet, own, err := readJob(intake, spec, shop)
	if err != nil {
		return nil, err
	}
	return &Job{Number: number, Intake: in, Plan: NewPlan(sheet, own), files: []File{intake, spec, shop}}, nil
}

func readJob(intake, spec, shop File) (*Intake, *specs.Spec, *specs.Shop, error) {
	var sheet *specs.Spec
	var err1 error
	var reading sync.WaitGroup
	reading.Go(func() { sheet, err1 = specs.ReadSpec(spec.Name, spec.Data) }) // the longest
	in, err0 := ReadIntake(intake.Name, intake.Data)
	own, err2 := specs.ReadShop(shop.Name, shop.Data)
	reading.Wait()
	err := errors.Join(err0, err1, err2)
	if err == nil {
		err = in.Fits(sheet)
	}
	return in, sheet, own, err
}

// Blank is the packet of a pump of a spec in a shop, with spaces where the job's
// facts would stand.
func Blank(spec, shop File) ([]byte, error) {
	sheet, err1 := specs.ReadSpec(spec.Name, spec.Data)
	own, err2 := specs.ReadShop(shop.Name, shop.Data)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	return (&Job{Intake: &Intake{}, Plan: NewPlan(sheet, own)}).Traveller()
}

// WriteFile writes a document, whole or not at all: the old one stays until the
// new one is.
func WriteFile(name string, data []byte) error { return replaceFile(name, data) }

// WriteFileBy is WriteFile for what is written piece by piece.
func WriteFileBy(name string, write func(io.Writer) error) error { return replaceBy(name, write) }

// invented reports whether any figure of the job is a demonstration.
func (j *Job) invented() bool { return j.Spec.Invented || j.Shop.Invented || j.Intake.Invented }

// Create takes the next free job number below root, prints the packet and
// makes the job folder, whole or not at all. It returns the folder.
func Create(root string, intake, spec, shop File) (string, *Job, error) {
	in, sheet, own, err := readJob(intake, spec, shop)
	if err != nil {
		return "", nil, err
	}
	// While the stages are planned, the packet is begun and the folder looked at.
	begun := layout.Begin(paper(own))
	var n *numbers
	var opened sync.WaitGroup
	opened.Go(func() { n, err = openNumbers(root, own.Site) })
	job := &Job{Intake: in, Plan: NewPlan(sheet, own), files: []File{intake, spec, shop}, begun: begun}
	opened.Wait()
	if err != nil {
		return "", nil, err
	}
	dir, err := n.create(job.Intake.Received.Year(), job.folder)
	return dir, job, err
}

// folder is what lies in the folder of a new job of a number.
func (j *Job) folder(number string) ([]File, error) {
	j.Number = number
	var form []byte
	var writing sync.WaitGroup
	writing.Go(func() { form = Form(number, j.Plan, nil) })
	pdf, err := j.Traveller()
	writing.Wait()
	if err != nil {
		return nil, err
	}
	return []File{
		{IntakeFile, j.files[0].Data}, {SpecFile, j.files[1].Data}, {ShopFile, j.files[2].Data},
		{FormFile, form}, {PacketFile, pdf},
	}, nil
}

// Open reads a job folder.
func Open(dir string) (*Job, error) {
	info, err := os.Stat(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: no such job folder; write the path of a folder that `traveller new` made", dir)
	}
	if err != nil {
		return nil, plainError(err)
	}
	if !info.IsDir() {
		return nil, fmt.Errorf("%s: found a file; write the path of the job folder it lies in", dir)
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	// The folder is named by its job. Where somebody renamed it, the form still
	// says the number; where the two contradict each other, nobody knows.
	named := numberIn(filepath.Base(full))
	form, noForm := formNumber(filepath.Join(dir, FormFile))
	if _, err := os.Stat(filepath.Join(dir, IntakeFile)); errors.Is(err, fs.ErrNotExist) && named == "" && noForm != nil {
		return nil, fmt.Errorf("%s: no %s in it: not a job folder; write the path of a folder that `traveller new` made", dir, IntakeFile)
	}
	var files [3]File
	for i, name := range []string{IntakeFile, SpecFile, ShopFile} {
		if files[i], err = readOwn(filepath.Join(dir, name)); err != nil {
			return nil, closedTo(dir, err)
		}
	}
	number := cmp.Or(named, form)
	switch {
	case number == "":
		return nil, fmt.Errorf("%s: neither the folder's name nor its %s says which job this is", dir, FormFile)
	case noForm == nil && form != number:
		return nil, otherJob(dir, number, form)
	}
	return NewJob(number, files[0], files[1], files[2])
}

// formNumber reads only the job number of a form.
func formNumber(name string) (string, error) {
	form, err := ReadFile(name)
	if err != nil {
		return "", err
	}
	return numberOf(form.Data)
}

// numberOf is the job number that a form says.
func numberOf(form []byte) (string, error) {
	for _, text := range []func() []byte{func() []byte { return form }, func() []byte { return tidy(form) }} {
		for line := range bytes.Lines(text()) {
			if rest, ok := bytes.CutPrefix(line, []byte("job:")); ok {
				rest, _, _ = bytes.Cut(rest, []byte("#"))
				if number, err := codes.ParseNumber(strings.Trim(strings.TrimSpace(string(rest)), `"'`)); err == nil {
					return number, nil
				}
			}
		}
	}
	return "", errors.New("no job number")
}

// Results judges what is typed in the form of the job's folder so far. Doubts
// left in it come back instead.
func (j *Job) Results(dir string) (*Results, []Doubt, error) {
	t, err := j.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return nil, nil, err
	}
	return t.results()
}

func (t *Typing) results() (*Results, []Doubt, error) {
	if doubts := stopping(t.Doubts(t.Readings)); len(doubts) > 0 {
		return nil, doubts, nil
	}
	return t.Judge(t.Readings), nil, nil
}

// Report computes the results from the job folder's typing form and writes the
// report, its data and the lines for the books there; the history of the form is brought up to date first.
// Doubts come back with no report written.
func (j *Job) Report(dir string) (*Results, []Doubt, error) {
	t, err := j.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return nil, nil, err
	}
	var res *Results
	var doubts []Doubt
	// One at a time from reading to writing: of two who make it at once, the later one
	// has the later readings.
	err = t.lock(filepath.Join(dir, ReportFile), func() error {
		last, err := lastIssue(dir)
		if err == nil {
			err = last.single(dir, issueMade(dir))
		}
		if err != nil {
			return err
		}
		if err := t.regain(last); err != nil {
			return err
		}
		return t.alone(func() error {
			if err := t.noteTwice(); err != nil {
				return err
			}
			if res, doubts, err = t.results(); res == nil {
				return err
			}
			return j.write(dir, res)
		})
	})
	if err != nil {
		return nil, nil, err
	}
	return res, doubts, nil
}
