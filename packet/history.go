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

	"shimcard/fonts"
)

// Change is one change of what stands in a box of the form.
type Change struct {
	Box  string    `json:"box"`
	Old  string    `json:"old"`
	New  string    `json:"new"`
	Who  string    `json:"who"`
	When time.Time `json:"when"`
	How  How       `json:"how"`
	Why  string    `json:"why,omitempty"`
}

// How is the way in which a value came into the form.
type How string

// The ways in. TypedAgain is of no box: a second person had typed everything, and
// nothing differed any more.
const (
	Entered    How = "entered"     // at the terminal
	InForm     How = "in the form" // by hand, in the file itself
	FromCSV    How = "from CSV"
	Merged     How = "merged"  // from another form
	Settled    How = "settled" // where two typists differed
	TypedAgain How = "typed again"
)

// history is the file of changes beside a form: one JSON object a line, only
// ever added to.
type history struct {
	name    string
	changes []Change
	whole   int64 // bytes of whole lines
	open    bool  // the last line is whole but for its end
	size    int64
}

// mostHistory is the most bytes of a history: some 100,000 changes.
const mostHistory = 16 << 20

// readHistory reads a history; none is an empty one. A last line cut off by a
// power cut is left out: the form was written before it, and what it said is
// noted again from there.
func readHistory(name string) (*history, error) {
	h := &history{name: name}
	f, err := readUpTo(name, mostHistory)
	if errors.Is(err, fs.ErrNotExist) {
		return h, nil
	}
	if err != nil {
		return nil, err
	}
	return h, h.parse(f.Data)
}

func (h *history) parse(data []byte) error {
	h.size = int64(len(data))
	for n, line := range bytes.SplitAfter(data, []byte("\n")) {
		var c Change
		ended := bytes.HasSuffix(line, []byte("\n"))
		err := json.Unmarshal(line, &c)
		switch {
		case len(bytes.TrimSpace(line)) == 0:
		case err == nil && len(fonts.Missing(c.Old+c.New+c.Who+c.Why)) == 0:
			h.changes = append(h.changes, c)
			h.open = !ended
		case err != nil && !ended && line[0] == '{':
			return nil
		default:
			return fmt.Errorf("%s:%d: no line of a history; put the file back from a backup, or take this line out", h.name, n+1)
		}
		h.whole += int64(len(line))
	}
	return nil
}

// again reads the history anew where somebody else has added to it.
func (h *history) again() error {
	if info, err := os.Stat(h.name); err != nil || info.Size() == h.size {
		return nil // none, or not to be looked at: then adding says why
	}
	now, err := readHistory(h.name)
	if err == nil {
		*h = *now
	}
	return err
}

// add appends changes; they are on the disk when it returns.
func (h *history) add(changes ...Change) error {
	var w bytes.Buffer
	if h.open {
		w.WriteByte('\n')
	}
	for i, c := range changes {
		c.When = c.When.Truncate(time.Second)
		changes[i] = c // as it will be read back
		line, err := json.Marshal(c)
		if err != nil {
			return err
		}
		w.Write(append(line, '\n'))
	}
	if h.whole < h.size {
		if err := os.Truncate(h.name, h.whole); err != nil {
			return notWritten(h.name, err)
		}
	}
	f, err := os.OpenFile(h.name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, permissions(filepath.Dir(h.name))&0o666|0o600)
	if err != nil {
		return notWritten(h.name, err)
	}
	_, err = f.Write(w.Bytes())
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return notWritten(h.name, err)
	}
	if h.size == 0 {
		syncFolder(filepath.Dir(h.name))
	}
	h.changes = append(h.changes, changes...)
	h.whole += int64(w.Len())
	h.size, h.open = h.whole, false
	return nil
}

// last is what the history says stands in each box.
func (h *history) last() map[string]string {
	out := map[string]string{}
	for _, c := range h.changes {
		out[c.Box] = c.New
	}
	return out
}

// regain puts back into the history the corrections that an issue of the report has
// and it has no longer: a report that was sent says them.
func (t *Typing) regain(i *issued) error {
	if i == nil || i.Corrections == "" {
		return nil
	}
	var lost bytes.Buffer
	for line := range strings.Lines(i.Corrections) {
		var c Change
		if err := json.Unmarshal([]byte(line), &c); err != nil {
			return fmt.Errorf("%s: no corrections; put the file back from a backup", filepath.Join(t.dir, issueName(i.Number)))
		}
		if c.Box != "" && !slices.Contains(t.history.changes, c) {
			lost.WriteString(line)
		}
	}
	if lost.Len() == 0 {
		return nil
	}
	return t.alone(func() error {
		f, err := readUpTo(t.history.name, mostHistory)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		// Before the rest, which tells what stands in each box now.
		if err := replaceFile(t.history.name, append(lost.Bytes(), f.Data...)); err != nil {
			return err
		}
		return t.read()
	})
}

// corrected tells the readings what the history of their form says: the changes
// that came after the first entry of a box and gave it another value, and who
// typed everything a second time, where nothing was corrected since.
func (j *Job) corrected(r *Readings, changes []Change) {
	byCode := map[string]*Box{}
	for _, b := range j.Boxes() {
		byCode[b.Code] = b
	}
	r.Corrections, r.TypedAgain = nil, ""
	stands := map[string]string{} // in each box that held something
	for _, c := range changes {
		if c.How == TypedAgain {
			r.TypedAgain = c.Who
			continue
		}
		b := byCode[c.Box]
		was, filled := stands[c.Box]
		stands[c.Box] = c.New
		// Two who type at once may both note one value.
		if b == nil || b == j.Hours || !filled && c.Old == "" || filled && was == c.New {
			continue
		}
		var old, new Entry
		b.read(c.Old, &old)
		b.read(c.New, &new)
		// A confirmation or a remark is no correction.
		old.Confirmed, old.Remark, new.Confirmed, new.Remark = false, "", false, ""
		if !b.same(old, new) {
			r.Corrections, r.TypedAgain = append(r.Corrections, c), ""
		}
	}
}

// kept is the history that a record of results keeps: the corrections, and who
// typed again; nil when there is neither.
func (r *Results) kept() []byte {
	changes := slices.Clone(r.Corrections)
	if r.TypedAgain != "" {
		changes = append(changes, Change{Who: r.TypedAgain, How: TypedAgain})
	}
	var w bytes.Buffer
	for _, c := range changes {
		line, err := json.Marshal(c)
		if err != nil {
			panic(err) // texts and a time
		}
		w.Write(append(line, '\n'))
	}
	return w.Bytes()
}
