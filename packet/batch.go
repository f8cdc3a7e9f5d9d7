package packet

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"shimcard/layout"
	"shimcard/packet/codes"
	"shimcard/specs"
	"shimcard/specs/strict"
)

// The bounds on a file of many intakes.
const (
	mostBatchBytes = 8 << 20
	mostBatchLines = 10000
	mostOpenQuotes = 50 // lines given up because of their quotes or line breaks
)

// batchColumn is a column of a file of many intakes: its name, and where in an
// intake its text stands.
type batchColumn struct{ name, group, key string }

// batchID is the column that tells a line from every other; not part of an intake.
const batchID = "id"

var batchColumns = []batchColumn{
	{"received", "", "received"}, {"by", "", "by"},
	{"customer", "customer", "name"}, {"reference", "customer", "reference"}, {"contact", "customer", "contact"},
	{"pump", "pump", "name"}, {"serial", "pump", "serial"}, {"outlets", "pump", "outlets"}, {"rotation", "pump", "rotation"},
	{"engine", "", "engine"}, {"complaint", "", "complaint"}, {"came with it", "", "came with it"},
	{"work", "authorised", "work"}, {"limit", "authorised", "limit"}, {"agreed by", "authorised", "by"},
	{"invented", "", "invented"}, {batchID, "", ""},
}

// BatchColumns are the names of the columns that a file of many intakes may have.
func BatchColumns() (names []string) {
	for _, c := range batchColumns {
		names = append(names, c.name)
	}
	return names
}

// BatchLine is one line of such a file: the intake it comes to, or what is wrong
// with it.
type BatchLine struct {
	Line   int // from 1, with the line of names
	Number string
	Dir    string // of the job, once it is made
	Old    bool   // it was made before
	Err    error

	intake File
	given  []string // the columns with something in them
	id     string   // stands in the first line of the job's intake
	packet []byte
}

// ReadBatch reads a file of many intakes: CSV with commas, semicolons or tabs,
// below a line that names the columns. A line that cannot be taken has its Err; the
// error is that of the file as a whole.
func ReadBatch(name string) ([]*BatchLine, error) {
	f, err := readUpTo(name, mostBatchBytes)
	if err != nil {
		return nil, err
	}
	return readBatch(f)
}

func readBatch(f File) ([]*BatchLine, error) {
	text := strings.TrimPrefix(string(f.Data), "\uFEFF")
	if !utf8.ValidString(text) {
		return nil, fmt.Errorf("%s: found bytes that are not UTF-8; save the table again as CSV in UTF-8", f.Name)
	}
	head, _, _ := strings.Cut(text, "\n")
	rows, err := batchRows(f.Name, text, separator(head))
	if err != nil {
		return nil, err
	}
	var columns []batchColumn
	if len(rows) > 0 {
		columns, err = batchHead(f.Name, rows[0])
	} else {
		err = fmt.Errorf("%s: found nothing; write a line that names the columns: %s", f.Name, strings.Join(BatchColumns(), ", "))
	}
	if err != nil {
		return nil, err
	}
	rows = slices.DeleteFunc(rows[1:], func(row batchRow) bool {
		return row.err == nil && strings.TrimSpace(strings.Join(row.fields, "")) == ""
	})
	if len(rows) > mostBatchLines {
		return nil, fmt.Errorf("%s: found %d lines, at most %d are taken at once; part the file", f.Name, len(rows), mostBatchLines)
	}
	var lines []*BatchLine
	seen, first := map[string]int{}, map[string]int{}
	for _, row := range rows {
		l := &BatchLine{Line: row.line, Err: row.err}
		lines = append(lines, l)
		if l.Err == nil && len(row.fields) != len(columns) {
			l.Err = fmt.Errorf("%s:%d: found %d columns, the first line names %d; write as many, in quotes what has a separator in it", f.Name, l.Line, len(row.fields), len(columns))
		}
		if l.Err != nil {
			continue
		}
		l.read(f.Name, row, columns)
		// Two lines that say the same are two pumps, unless an id says otherwise.
		switch seen[l.id]++; {
		case seen[l.id] == 1:
			first[l.id] = l.Line
		case strings.HasPrefix(l.id, batchID):
			l.Err = fmt.Errorf("%s: %s: found the one of line %d again; write another, or take one of the lines out", l.intake.Name, batchID, first[l.id])
		default:
			l.id = fmt.Sprintf("%s.%d", l.id, seen[l.id])
		}
		l.intake.Data = append([]byte(batchMark+l.id+batchMarkStays), l.intake.Data...)
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("%s: found no line below the names of the columns; write a line for each pump", f.Name)
	}
	return lines, nil
}

// separator is the likeliest separator of a table with this first line.
func separator(head string) rune {
	best := ','
	for _, c := range ";\t" {
		if strings.Count(head, string(c)) > strings.Count(head, string(best)) {
			best = c
		}
	}
	return best
}

type batchRow struct {
	csvRow
	err error
}

// batchRows parts a table into rows. A row with a quote that is not closed, or out
// of place, is given up alone: what follows is read from the next line on. So is one
// below the first with a line break in a field, since two stray quotes make one of
// all lines between them.
func batchRows(name, text string, comma rune) ([]batchRow, error) {
	var rows []batchRow
	lines := strings.SplitAfter(text, "\n")
	for at, bad := 0, 0; at < len(lines); {
		r := csv.NewReader(strings.NewReader(strings.Join(lines[at:], "")))
		r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace = comma, -1, true
		failed := 0
		for {
			fields, err := r.Read()
			if errors.Is(err, io.EOF) {
				return rows, nil
			}
			if e := (*csv.ParseError)(nil); errors.As(err, &e) {
				failed = at + e.StartLine
				rows = append(rows, batchRow{err: fmt.Errorf("%s:%d: found a quote that is out of place or not closed; write \"\" for a quote inside quotes", name, failed)})
				rows[len(rows)-1].line = failed
				break
			} else if err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
			line, _ := r.FieldPos(0)
			if len(rows) > 0 && strings.Contains(strings.Join(fields, ""), "\n") {
				failed = at + line
				rows = append(rows, batchRow{err: fmt.Errorf("%s:%d: found a quote that is not closed, or a line break inside a field; close it, or write the field on one line", name, failed)})
				rows[len(rows)-1].line = failed
				break
			}
			rows = append(rows, batchRow{csvRow: csvRow{fields: fields, line: at + line}})
		}
		if bad++; bad > mostOpenQuotes {
			return nil, fmt.Errorf("%s: found over %d lines with quotes out of place or line breaks inside fields; take those out, and save the table again as CSV", name, mostOpenQuotes)
		}
		at = failed
	}
	return rows, nil
}

func batchHead(name string, row batchRow) ([]batchColumn, error) {
	if row.err != nil {
		return nil, row.err
	}
	var columns []batchColumn
	for i, field := range row.fields {
		field = strings.ToLower(strings.Join(strings.Fields(field), " "))
		k := slices.IndexFunc(batchColumns, func(c batchColumn) bool { return c.name == field })
		if k < 0 {
			want := strict.Nearest(field, BatchColumns())
			if want == "" {
				want = "one of " + strings.Join(BatchColumns(), ", ")
			}
			return nil, fmt.Errorf("%s:%d: column %d: found the name %.60q; write %s", name, row.line, i+1, field, want)
		}
		if slices.Contains(columns, batchColumns[k]) {
			return nil, fmt.Errorf("%s:%d: column %d: found %s a second time; write it once", name, row.line, i+1, field)
		}
		columns = append(columns, batchColumns[k])
	}
	return columns, nil
}

// read makes the intake of a line, and its identity: the digest of its id, else of
// all it says. That stands in the first line of the job's intake, and the job is
// known again by it.
func (l *BatchLine) read(name string, row batchRow, columns []batchColumn) {
	texts := map[batchColumn]string{}
	for i, c := range columns {
		if text := formulaOff(strings.TrimSpace(row.fields[i])); text != "" {
			texts[c] = text
		}
	}
	var out, said bytes.Buffer
	out.WriteString("intake: 1\n")
	at := map[string]string{} // column by the field that a fault names
	group := ""
	for _, c := range batchColumns {
		text, ok := texts[c]
		if !ok {
			continue
		}
		fmt.Fprintf(&said, "%s=%s\n", c.name, text)
		l.given = append(l.given, c.name)
		if c.key == "" {
			continue
		}
		indent := ""
		if c.group != "" {
			if c.group != group {
				fmt.Fprintf(&out, "%s:\n", c.group)
			}
			indent = "  "
		}
		group = c.group
		if c.key == "came with it" {
			fmt.Fprintf(&out, "%s:\n", c.key)
			for part := range strings.SplitSeq(text, ",") {
				if part = strings.TrimSpace(part); part != "" {
					fmt.Fprintf(&out, "  - %s\n", formValue(part))
				}
			}
			continue
		}
		fmt.Fprintf(&out, "%s%s: %s\n", indent, c.key, formValue(text))
	}
	for _, c := range batchColumns {
		field := c.key
		if c.group != "" {
			field = c.group + " / " + c.key
		}
		at[field] = c.name
	}
	if id, ok := texts[batchColumns[len(batchColumns)-1]]; ok {
		l.id = fmt.Sprintf("%s-%x", batchID, sha256.Sum256([]byte(id)))[:16+len(batchID)]
	} else {
		l.id = fmt.Sprintf("%x", sha256.Sum256(said.Bytes()))[:16]
	}
	l.intake = File{fmt.Sprintf("%s:%d", name, l.Line), out.Bytes()}
	_, err := ReadIntake(l.intake.Name, l.intake.Data)
	var faults strict.Faults
	if !errors.As(err, &faults) {
		l.Err = err
		return
	}
	var all []error
	for _, f := range faults {
		field := f.Field
		for of := field; ; {
			if column, ok := at[of]; ok {
				field = column
				break
			}
			k := strings.LastIndex(of, " / ")
			if k < 0 {
				break
			}
			of = of[:k]
		}
		if f.Found == "no such key" {
			f.Found = "nothing"
			_, f.Want, _ = strings.Cut(f.Want, ": ")
		}
		all = append(all, strict.Fault{File: l.intake.Name, Field: field, Found: f.Found, Want: f.Want})
	}
	l.Err = errors.Join(all...)
}

// batchMark begins the intake of a job that came from a line of many; its identity
// stands behind it, and what people are told of the line.
const (
	batchMark      = "# batch line "
	batchMarkStays = ": leave this line, the batch knows the job by it\n"
)

// made finds the jobs below root that came from lines of a batch: their folders, by
// the identity of the line; and what is wrong with folders of jobs that may have come
// from one, half synchronised ones say.
func made(root string) (out map[string]string, unread []string, err error) {
	entries, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, plainError(err)
	}
	out = map[string]string{}
	var lock sync.Mutex
	var wait sync.WaitGroup
	names := make(chan string)
	for range 4 * runtime.GOMAXPROCS(0) { // they wait for the disk
		wait.Go(func() {
			for name := range names {
				id, err := batchLineOf(filepath.Join(root, name, IntakeFile))
				lock.Lock()
				first, _, _ := strings.Cut(name, " ") // words may stand behind the number
				if _, other := codes.ParseNumber(first); err != nil && other == nil {
					unread = append(unread, err.Error())
				}
				// Of a folder and its copies the one with the plain name.
				if old, twice := out[id]; id != "" && (!twice || name < old) {
					out[id] = name
				}
				lock.Unlock()
			}
		})
	}
	for _, e := range entries {
		// A link to a folder is one too.
		if !e.Type().IsRegular() && !strings.HasPrefix(e.Name(), ".") {
			names <- e.Name()
		}
	}
	close(names)
	wait.Wait()
	slices.Sort(unread)
	return out, unread, nil
}

// batchLineOf is the identity of the line that an intake came from, "" for one that
// came from none: of the comments before its first key one may be the mark, wherever
// an editor put it. The error says why that cannot be told.
func batchLineOf(name string) (id string, err error) {
	f, err := ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("%s: not there", name)
	} else if err != nil {
		return "", err
	}
	text := strings.TrimPrefix(string(f.Data), "\uFEFF")
	if text == "" {
		return "", fmt.Errorf("%s: found nothing in it", name)
	}
	for line := range strings.Lines(text) {
		said, ended := strings.CutSuffix(line, "\n")
		said = strings.TrimSpace(said)
		marked, ok := strings.CutPrefix(said, batchMark)
		switch {
		case strings.IndexByte(said, 0) >= 0:
			return "", fmt.Errorf("%s: found zeros in it", name)
		case !ended && (ok || strings.HasPrefix(said, "#") || said == ""):
			return "", fmt.Errorf("%s: cut off in its first lines", name)
		case ok:
			id, _, _ = strings.Cut(marked, ":")
			return strings.TrimSpace(id), nil
		case said != "" && said[0] != '#':
			return "", nil
		}
	}
	return "", fmt.Errorf("%s: cut off in its first lines", name)
}

// mostUnread is how many folders that cannot be read are named.
const mostUnread = 20

// Batch makes the jobs of lines below root, numbered in their order, except those
// that are there from an earlier run and lines with an Err. done is told of each
// line, in order. Into a book, where there is one, goes every packet, those made
// before as well. The error is one that stopped everything; what was made until
// then stays, is told of, and is known again.
func Batch(root string, lines []*BatchLine, spec, shop File, book *layout.Book, done func(*BatchLine)) error {
	sheet, err1 := specs.ReadSpec(spec.Name, spec.Data)
	own, err2 := specs.ReadShop(shop.Name, shop.Data)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	plan := NewPlan(sheet, own) // of all of them
	n, err := openNumbers(root, own.Site)
	if err != nil {
		return err
	}
	release, err := n.batch()
	if err != nil {
		return err
	}
	defer release()
	before, unread, err := made(root)
	if err != nil {
		return err
	}
	missing := func(l *BatchLine) bool { return l.Err == nil && before[l.id] == "" }
	if len(unread) > 0 && slices.ContainsFunc(lines, missing) {
		many := len(unread)
		if many > mostUnread {
			unread = append(unread[:mostUnread], fmt.Sprintf("and %d more", many-mostUnread))
		}
		return fmt.Errorf("%s\n%s: the jobs of these folders (%d) may be of this table, which cannot be seen, so nothing is made: wait until whatever synchronises or restores them is done, else restore them or take them elsewhere; then the same command again", strings.Join(unread, "\n"), root, many)
	}
	type work struct {
		line  *BatchLine
		ready chan struct{}
		fatal error
	}
	// Numbers are taken in the order of the lines, packets printed beside each
	// other: one more than there are processors, as some wait for the disk.
	var stopped atomic.Bool
	workers := make(chan struct{}, runtime.GOMAXPROCS(0)+1)
	inOrder := make(chan *work, cap(workers))
	go func() {
		defer close(inOrder)
		for _, l := range lines {
			if stopped.Load() {
				return
			}
			w := &work{line: l, ready: make(chan struct{})}
			job, t, err := l.begin(n, before, plan, spec, shop)
			w.fatal = err
			workers <- struct{}{}
			go func() {
				defer func() { <-workers; close(w.ready) }()
				if t != nil {
					w.fatal = l.finish(n, job, t, book != nil)
				} else if l.Old {
					l.Err = l.compare()
				}
			}()
			inOrder <- w
			if err != nil {
				return
			}
		}
	}()
	var failed error
	for w := range inOrder {
		<-w.ready
		if failed == nil {
			failed = w.fatal
		}
		if failed == nil && book != nil && w.line.Err == nil {
			failed = w.line.into(book, own.TwoSided)
		}
		w.line.packet = nil
		if failed != nil {
			stopped.Store(true)
		}
		if w.fatal == nil { // those that were at work already have their folders
			done(w.line)
		}
	}
	return failed
}

// begin takes a number for a line that has no job yet.
func (l *BatchLine) begin(n *numbers, before map[string]string, plan *Plan, spec, shop File) (*Job, *taken, error) {
	if l.Err != nil {
		return nil, nil, nil
	}
	if name, ok := before[l.id]; ok {
		l.Old, l.Dir = true, filepath.Join(n.root, name)
		l.Number, _, _ = strings.Cut(name, " ")
		return nil, nil, nil
	}
	in, err := ReadIntake(l.intake.Name, l.intake.Data)
	if err == nil {
		in.place = l.intake.Name + ": "
		err = in.Fits(plan.Spec)
	}
	if err != nil {
		l.Err = err
		return nil, nil, nil
	}
	t, err := n.take(in.Received.Year())
	return &Job{Intake: in, Plan: plan, files: []File{l.intake, spec, shop}}, t, err
}

// finish prints the packet of a line and makes its folder. The error is one that
// other lines will have too; one of this line alone is its Err.
func (l *BatchLine) finish(n *numbers, job *Job, t *taken, keep bool) error {
	for {
		files, err := job.folder(t.number)
		if err != nil {
			t.giveBack()
			l.Err = fmt.Errorf("%s: %w", l.intake.Name, err)
			return nil
		}
		dir, err := t.keep(files)
		if err == nil {
			l.Number, l.Dir = t.number, dir
			if keep {
				l.packet = files[len(files)-1].Data
			}
			return nil
		}
		if !errors.Is(err, fs.ErrExist) {
			t.giveBack()
			return err
		}
		if t, err = n.take(job.Intake.Received.Year()); err != nil {
			return err
		}
	}
}

// compare holds a line with an id against the intake of the job that is known by it:
// an id that was used again for another pump must not bring the packet of the first.
// One without an id says what it said, whatever somebody corrected in the intake since.
func (l *BatchLine) compare() error {
	if !strings.HasPrefix(l.id, batchID) {
		return nil
	}
	name := filepath.Join(l.Dir, IntakeFile)
	f, err := ReadFile(name)
	if err != nil {
		return fmt.Errorf("%s: %s: job %s has this one, and cannot be compared: %w", l.intake.Name, batchID, l.Number, err)
	}
	in, err := ReadIntake(name, f.Data)
	if err != nil {
		return fmt.Errorf("%s: %s: job %s has this one, and cannot be compared: %w", l.intake.Name, batchID, l.Number, err)
	}
	line, err := ReadIntake(l.intake.Name, l.intake.Data)
	if err != nil {
		return err
	}
	var differ []error
	says, stands := line.byColumn(), in.byColumn()
	for _, column := range l.given {
		if says[column] != stands[column] {
			differ = append(differ, fmt.Errorf("%s: %s: found %q, job %s has the id of this line and says %q", l.intake.Name, column, says[column], l.Number, stands[column]))
		}
	}
	if differ == nil {
		return nil
	}
	return errors.Join(append(differ, fmt.Errorf("%s: %s: for another pump write an id of its own; where the table is right, correct %s and delete %s there, which --out prints anew; else correct the table", l.intake.Name, batchID, name, PacketFile))...)
}

// byColumn is an intake as the columns of a file of many name it.
func (in *Intake) byColumn() map[string]string {
	outlets := ""
	if in.Pump.Outlets > 0 {
		outlets = fmt.Sprint(in.Pump.Outlets)
	}
	return map[string]string{
		"received": in.Received.Format(time.DateOnly), "by": in.By,
		"customer": in.Customer.Name, "reference": in.Customer.Reference, "contact": in.Customer.Contact,
		"pump": in.Pump.Name, "serial": in.Pump.Serial, "outlets": outlets, "rotation": string(in.Pump.Rotation),
		"engine": in.Engine, "complaint": in.Complaint, "came with it": strings.Join(in.Accessories, ", "),
		"work": in.Authorised.Work, "limit": in.Authorised.Limit, "agreed by": in.Authorised.By,
		"invented": fmt.Sprint(in.Invented),
	}
}

// into puts the packet of a line's job into a book. One made before that is gone or
// damaged is printed from its folder again. The error is that of the book.
func (l *BatchLine) into(book *layout.Book, twoSided bool) error {
	name := filepath.Join(l.Dir, PacketFile)
	if l.Old {
		f, err := readUpTo(name, mostPDF)
		if err == nil && book.Add(l.Number, f.Data, twoSided) == nil {
			return nil
		}
		if l.packet, l.Err = packetAnew(l.Dir); l.Err != nil {
			l.Err = fmt.Errorf("%s: job %s: its %s cannot be read, nor printed anew: %w", l.intake.Name, l.Number, PacketFile, l.Err)
			return nil
		}
		if errors.Is(err, fs.ErrNotExist) {
			_ = replaceFile(name, l.packet) // the book has it, whether the folder can or not
		}
	}
	if err := book.Add(l.Number, l.packet, twoSided); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// packetAnew is the packet of a job folder as the folder says it now.
func packetAnew(dir string) ([]byte, error) {
	job, err := Open(dir)
	if err != nil {
		return nil, err
	}
	return job.Traveller()
}

// batch lets one batch at a time work below the folder: two of the same lines would
// make every job twice.
func (n *numbers) batch() (release func(), err error) {
	const what = "-batch"
	own := beside() + what
	release = func() { os.Remove(filepath.Join(n.dir, own)) }
	// On the disk, since a power cut is what it is read after.
	if err := writeSynced(filepath.Join(n.dir, own), []byte(life(os.Getpid())), permissions(n.dir)&0o666|0o600); err != nil {
		release()
		return nil, notWritten(n.root, err)
	}
	syncFolder(n.dir)
	entries, err := os.ReadDir(n.dir)
	if err != nil {
		release()
		return nil, plainError(err)
	}
	for _, e := range entries {
		if e.Name() == own || !strings.HasSuffix(e.Name(), what) {
			continue
		}
		name := filepath.Join(n.dir, e.Name())
		said, _ := os.ReadFile(name) // none: then the number alone tells
		on, pid := maker(strings.TrimSuffix(e.Name(), what))
		if on == host() && (gone(pid) || another(pid, string(said))) {
			os.Remove(name)
			continue
		}
		release()
		return nil, fmt.Errorf("%s: another batch is at work here, process %d on %s; wait for it, or where that machine is down, delete %s", n.root, pid, on, name)
	}
	return release, nil
}

// life tells a process from every other that had its number on this machine, or will
// have: which start of the machine it belongs to, and when it began after that. It
// goes by no clock, which may be set. "" where the system does not say.
func life(pid int) string {
	start, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return ""
	}
	// The 22nd field; the second is a name in brackets, which may hold anything.
	stat, _ := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	if len(fields) < 20 {
		return ""
	}
	return strings.TrimSpace(string(start)) + " " + fields[19] + "\n"
}

// another reports whether a process number of this machine belongs to another process
// than the one that said its life. What is not told whole tells nothing.
func another(pid int, said string) bool {
	if !strings.HasSuffix(said, "\n") {
		return false
	}
	// Other people's processes may be hidden; when the machine started is not.
	start, _, _ := strings.Cut(said, " ")
	if own, _, ok := strings.Cut(life(os.Getpid()), " "); ok && start != own {
		return true
	}
	now := life(pid)
	return now != "" && said != now
}
