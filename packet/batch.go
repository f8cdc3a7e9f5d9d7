package packet

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"shimcard/layout"
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
	data, err := inUTF8(f.Name, f.Data)
	if err != nil {
		return nil, err
	}
	text := strings.TrimPrefix(string(data), "\uFEFF")
	if !utf8.ValidString(text) {
		return nil, fmt.Errorf("%s: found bytes that are not UTF-8; save the table again as CSV in UTF-8", f.Name)
	}
	comma, first := separator(text)
	rows, err := batchRows(f.Name, text, comma, first)
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
	names := len(rows[0].fields) // those that are blank too
	rows = slices.DeleteFunc(rows[1:], func(row batchRow) bool {
		return row.err == nil && strings.TrimSpace(strings.Join(row.fields, "")) == ""
	})
	if len(rows) > mostBatchLines {
		return nil, fmt.Errorf("%s: found %d lines, at most %d are taken at once; part the file", f.Name, len(rows), mostBatchLines)
	}
	var lines []*BatchLine
	seen, firstOf := map[string]int{}, map[string]int{}
	for _, row := range rows {
		l := &BatchLine{Line: row.line, Err: row.err}
		lines = append(lines, l)
		for i := len(columns); l.Err == nil && len(row.fields) <= names && i < len(row.fields); i++ {
			if field := row.fields[i]; strings.TrimSpace(field) != "" {
				l.Err = fmt.Errorf("%s:%d: column %d: found %.60q, and the first line has no name for it; name the column, or leave it blank", f.Name, l.Line, i+1, field)
			}
		}
		if l.Err == nil && len(row.fields) != len(columns) && (len(row.fields) < len(columns) || len(row.fields) > names) {
			l.Err = fmt.Errorf("%s:%d: found %d columns, the first line names %d; write as many, in quotes what has a separator in it", f.Name, l.Line, len(row.fields), len(columns))
		}
		if l.Err != nil {
			continue
		}
		l.read(f.Name, row, columns)
		// Two lines that say the same are two pumps, unless an id says otherwise.
		switch seen[l.id]++; {
		case seen[l.id] == 1:
			firstOf[l.id] = l.Line
		case strings.HasPrefix(l.id, batchID):
			l.Err = fmt.Errorf("%s: %s: found the one of line %d again; write another, or take one of the lines out", l.intake.Name, batchID, firstOf[l.id])
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

// separator is the one that the first line of a table names, as a spreadsheet reads
// it, else the likeliest; first is where the table begins behind such a line.
func separator(text string) (comma rune, first int) {
	if m := separatorLine.FindStringSubmatch(text); m != nil {
		comma, _ = utf8.DecodeRuneInString(m[1])
		return comma, 1
	}
	head, _, _ := strings.Cut(text, "\n")
	comma = ','
	for _, c := range ";\t" {
		if strings.Count(head, string(c)) > strings.Count(head, string(comma)) {
			comma = c
		}
	}
	return comma, 0
}

var separatorLine = regexp.MustCompile(`^(?i:sep)=([^"\r\n])\r?\n`)

type batchRow struct {
	csvRow
	err error
}

// batchRows parts a table into rows. A row with a quote that is not closed, or out
// of place, is given up alone: what follows is read from the next line on. So is one
// below the first with a line break in a field, since two stray quotes make one of
// all lines between them. The table begins at a line.
func batchRows(name, text string, comma rune, at int) ([]batchRow, error) {
	var rows []batchRow
	lines := strings.SplitAfter(text, "\n")
	for bad := 0; at < len(lines); {
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
	names := row.fields
	for len(names) > 1 && strings.TrimSpace(names[len(names)-1]) == "" {
		names = names[:len(names)-1] // a spreadsheet's empty columns
	}
	for i, field := range names {
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
				if err != nil && len(numbersIn(name)) > 0 {
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

// errBatchBroken is that of a batch that somebody broke off.
var errBatchBroken = errors.New("broken off")

// mostUnread is how many folders that cannot be read are named.
const mostUnread = 20

// Batch makes the jobs of lines below root, numbered in their order, except those
// that are there from an earlier run and lines with an Err. done is told of each
// line, in order. Into a book, where there is one, goes every packet, those made
// before as well. The error is one that stopped everything, the end of the context
// too; what was made until then stays, is told of, and is known again.
func Batch(ctx context.Context, root string, lines []*BatchLine, spec, shop File, book *layout.Book, done func(*BatchLine)) error {
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
	turn, err := n.batch()
	if err != nil {
		return err
	}
	defer turn.end()
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
	// other: one more than there are processors, as some wait for the disk. More than
	// eight are not faster, and each has a packet in memory.
	var stopped atomic.Bool
	workers := make(chan struct{}, min(runtime.GOMAXPROCS(0), 8)+1)
	inOrder := make(chan *work, cap(workers))
	go func() {
		defer close(inOrder)
		for _, l := range lines {
			if stopped.Load() || ctx.Err() != nil {
				return
			}
			w := &work{line: l, ready: make(chan struct{})}
			job, t, err := l.begin(n, before, plan, spec, shop)
			w.fatal = err
			workers <- struct{}{}
			go func() {
				defer func() { <-workers; close(w.ready) }()
				if t != nil {
					w.fatal = l.finish(n, turn, job, t, book != nil)
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
	come := 0
	for w := range inOrder {
		<-w.ready
		come++
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
	if failed == nil && come < len(lines) {
		failed = errBatchBroken
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
		form, _ := formNumber(filepath.Join(l.Dir, FormFile))
		l.Number = cmp.Or(numberIn(name), form, name)
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
func (l *BatchLine) finish(n *numbers, turn *turn, job *Job, t *taken, keep bool) error {
	for {
		files, err := job.folder(t.number)
		if err != nil {
			t.giveBack()
			l.Err = fmt.Errorf("%s: %w", l.intake.Name, err)
			return nil
		}
		if err := turn.lost(); err != nil {
			t.giveBack()
			return err
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

// turn is one batch's at a time: two of the same lines would make every job twice. A
// file of the folder's .new stands for it, which says whose it is, and whose time the
// batch renews while it works.
type turn struct {
	root, file string
	said       []byte
	stopped    chan struct{}
}

const (
	batchTurn = "-batch"     // ends the name of its file
	batchLock = "batch.lock" // lets two that begin in the same moment come one after the other
)

// After turnOver nobody can still be at work whose turn was not renewed.
var turnRenewed = time.Minute

const turnOver = leftHere

// batch takes the turn, where no other batch has it.
func (n *numbers) batch() (*turn, error) {
	unlock, err := locked(filepath.Join(n.dir, batchLock))
	if err != nil {
		return nil, notWritten(n.root, err)
	}
	defer unlock()
	own := beside() + batchTurn
	place, began := life(os.Getpid())
	t := &turn{n.root, filepath.Join(n.dir, own), []byte(place + " " + began + "\n"), make(chan struct{})}
	// On the disk, since a power cut is what it is read after.
	if err := writeSynced(t.file, t.said, permissions(n.dir)&0o666|0o600); err != nil {
		os.Remove(t.file)
		return nil, notWritten(n.root, err)
	}
	syncFolder(n.dir)
	if err := n.others(own); err != nil {
		os.Remove(t.file)
		return nil, err
	}
	go func() {
		for {
			select {
			case <-time.After(turnRenewed):
				t.renew()
			case <-t.stopped:
				return
			}
		}
	}()
	return t, nil
}

// others clears the turns of batches that are no more; the error names one that may
// be at work.
func (n *numbers) others(own string) error {
	mine, err := os.Stat(filepath.Join(n.dir, own))
	if err != nil {
		return plainError(err)
	}
	entries, err := os.ReadDir(n.dir)
	if err != nil {
		return plainError(err)
	}
	for _, e := range entries {
		if e.Name() == own || !strings.HasPrefix(e.Name(), unfinished) || !strings.HasSuffix(e.Name(), batchTurn) {
			continue
		}
		name := filepath.Join(n.dir, e.Name())
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		} else if err != nil {
			return plainError(err)
		}
		said, _ := readUpTo(name, mostMark) // none: then its age tells
		on, pid := maker(strings.TrimSuffix(e.Name(), batchTurn))
		// By the file system's time, which may be another machine's.
		age := max(mine.ModTime().Sub(info.ModTime()), 0)
		here, dead := ended(pid, string(said.Data))
		switch {
		case here && !dead:
			return fmt.Errorf("%s: another batch is at work here, process %d on %s; wait for it", n.root, pid, on)
		case here, age >= turnOver:
			os.Remove(name)
		default:
			minutes := (turnOver - age + time.Minute - 1) / time.Minute
			return fmt.Errorf("%s: another batch is at work here, process %d on %s, last heard of %s ago; wait for it; if it was killed, or that machine switched off, run this again in %d min, or delete %s", n.root, pid, on, age.Round(time.Second), minutes, name)
		}
	}
	return nil
}

// renew gives the turn's file the time of now: written, since setting a time would
// take this machine's. Where that fails it is tried again.
func (t *turn) renew() {
	if f, err := os.OpenFile(t.file, os.O_WRONLY, 0); err == nil {
		_, _ = f.WriteAt(t.said, 0)
		_ = f.Close()
	}
}

// lost says that the turn is another's by now: this process was stopped for long, or
// somebody deleted the file. It is opened, since a network's drive may only remember it.
func (t *turn) lost() error {
	f, err := os.Open(t.file)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %s is gone: another batch may be at work here; when none is, the same command again", t.root, t.file)
	}
	if err == nil {
		_ = f.Close()
	}
	return nil
}

func (t *turn) end() {
	close(t.stopped)
	os.Remove(t.file)
}

// life tells a process from every other that had its number, or will have: the place,
// which is a start of a machine and one of the worlds of processes in it (containers
// have their own), and when the process began after that start. It goes by no clock,
// which may be set. Both are "" where the system does not say.
func life(pid int) (place, began string) {
	start, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	world, err2 := os.Readlink("/proc/self/ns/pid")
	self, err3 := os.Readlink("/proc/self") // of another world, where /proc is
	if errors.Join(err, err2, err3) != nil || self != fmt.Sprint(os.Getpid()) {
		return "", ""
	}
	// The 22nd field; the second is a name in brackets, which may hold anything. One
	// that has ended, and is not waited for, is no process.
	stat, _ := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:])); len(fields) >= 20 {
		if began = fields[19]; fields[0] == "Z" {
			began = "ended"
		}
	}
	return strings.TrimSpace(string(start)) + " " + world, began
}

// ended reports whether the process of a number, that said its life, is one of this
// place, and then whether it is no more. What is not told whole, and other people's
// processes, which may be hidden, tell nothing.
func ended(pid int, said string) (here, dead bool) {
	said, whole := strings.CutSuffix(said, "\n")
	at := strings.LastIndexByte(said, ' ')
	place, now := life(pid)
	if !whole || at < 0 || place == "" || said[:at] != place {
		return false, false
	}
	if gone(pid) {
		return true, true
	}
	return now != "", now != said[at+1:]
}
