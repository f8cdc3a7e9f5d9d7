// Package scan is the way from paper and files back to a job: what a scanner
// types, pictures of pages, and the documents themselves. Both commands have
// it: whoever holds a page does not ask which command printed it.
package scan

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"shimcard/packet"
	"shimcard/packet/codes"
	"shimcard/packet/pictures"
)

// laid is what one argument came to: a record attached to a document, or the
// texts of the symbols in a picture, or one code as typed.
type laid struct {
	name    string
	pdf     []byte // of a file that is one
	record  *packet.Record
	results []byte // as attached beside the record
	found   []pictures.Found
	scans   []codes.Scan
	foreign []string // symbols that are none of a job, and what else was passed over
}

// mostBytes is the largest picture or PDF that is read.
const mostBytes = 100 << 20

// lay reads one argument: a file where there is one of that name, else a code.
func lay(arg string) (laid, error) {
	l := laid{name: arg}
	info, err := os.Stat(arg)
	if err != nil || info.IsDir() {
		s, bad := codes.Read(filepath.Base(arg)) // jobs/26-0412-B is a job too
		if bad != nil && err == nil {
			return l, fmt.Errorf("%s: found a folder; name a picture, a PDF or a code", arg)
		}
		if err != nil {
			s, bad = codes.Read(arg)
		}
		if errors.Is(bad, codes.ErrForeign) && strings.ContainsAny(arg, `/\.`) {
			return l, fmt.Errorf("%s: no such file, and no code of a job; write the path of a picture or PDF, or the code below its symbol", arg)
		}
		l.scans = append(l.scans, s)
		return l, bad
	}
	f, err := os.Open(arg)
	if err != nil {
		return l, err
	}
	defer f.Close()
	// A device or a pipe has no size to ask for.
	data, err := io.ReadAll(io.LimitReader(f, mostBytes+1))
	if err != nil {
		return l, err
	}
	if len(data) > mostBytes {
		return l, fmt.Errorf("%s: a picture or PDF of up to %d MiB is read, this is larger", arg, mostBytes>>20)
	}
	if !pictures.IsPDF(data) {
		return l, l.look(data)
	}
	l.pdf = data
	attached, err := pictures.Attachments(arg, data, func(name string) bool { number, _ := packet.Attached(name); return number != "" })
	if err != nil {
		return l, err
	}
	var files []codes.File
	for _, f := range attached {
		files = append(files, codes.File(f))
	}
	rec, err := packet.RecordOfDocument(files)
	switch {
	case errors.Is(err, packet.ErrNoRecord):
		return l, l.look(data)
	case err != nil:
		return l, fmt.Errorf("%s: %w", arg, err)
	}
	l.record = &rec
	for _, f := range files {
		if _, file := packet.Attached(f.Name); file == packet.ResultsFile {
			l.results = f.Data
		}
	}
	return l, nil
}

// look reads the symbols in a picture or PDF.
func (l *laid) look(data []byte) error {
	var err error
	l.found, err = pictures.Read(l.name, data)
	if err != nil && l.found == nil {
		return err
	}
	late := errors.Is(err, pictures.ErrTime)
	if err != nil && !late {
		return err
	}
	for _, f := range l.found {
		s, err := codes.Read(f.Text)
		if err == nil && s.Page == nil && s.Part == nil {
			// None of our symbols says a number alone; another firm's figures may look like one.
			err = fmt.Errorf("found %q, a symbol that is not of a job's paper", f.Text)
		}
		if err != nil {
			l.foreign = append(l.foreign, err.Error())
			continue
		}
		l.scans = append(l.scans, s)
	}
	if late {
		l.foreign = append(l.foreign, fmt.Sprintf("%v; symbols read before that: %d", err, len(l.found)))
	}
	if len(l.scans) == 0 {
		return fmt.Errorf("%s: symbols read: %d, none of a job: %s", l.name, len(l.found), strings.Join(l.foreign, "; "))
	}
	return nil
}

// sets gathers the symbols of whole jobs, each by its set.
type sets struct {
	all []*codes.Gather
}

// add takes a job symbol, and returns the set it belongs to.
func (s *sets) add(text codes.Scan) (*codes.Gather, bool, error) {
	for _, g := range s.all {
		fresh, err := g.Add(text.Part.Symbol())
		if err == nil {
			return g, fresh, nil
		}
		if !errors.Is(err, codes.ErrOtherSet) {
			return nil, false, err
		}
	}
	g := &codes.Gather{}
	s.all = append(s.all, g)
	fresh, err := g.Add(text.Part.Symbol())
	return g, fresh, err
}

// record is the record of a complete set.
func record(g *codes.Gather) (packet.Record, error) {
	files, err := g.Files()
	if err != nil {
		return packet.Record{}, err
	}
	return packet.RecordOf(g.Set().Number, files)
}

// unfinished names the sets that lack symbols.
func (s *sets) unfinished() error {
	var errs []error
	for _, g := range s.all {
		if !g.Complete() {
			set := g.Set()
			errs = append(errs, fmt.Errorf("job %s, its %s of printing %s: symbols %v; scan those too, in any order", set.Number, document(set.Document), set.Set, g))
		}
	}
	return errors.Join(errs...)
}
