package packet

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
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

// The ways in.
const (
	Entered  How = "entered"     // at the terminal
	InForm   How = "in the form" // by hand, in the file itself
	FromCSV  How = "from CSV"
	Merged   How = "merged"  // from another form
	SettledT How = "settled" // where two typists differed
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

// readHistory reads a history; none is an empty one. A last line cut off by a
// power cut is left out: the form was written before it, and what it said is
// noted again from there.
func readHistory(name string) (*history, error) {
	h := &history{name: name}
	data, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return h, nil
	}
	if err != nil {
		return nil, plainError(err)
	}
	h.size = int64(len(data))
	for n, line := range bytes.SplitAfter(data, []byte("\n")) {
		var c Change
		ended := bytes.HasSuffix(line, []byte("\n"))
		switch err := json.Unmarshal(line, &c); {
		case len(bytes.TrimSpace(line)) == 0:
		case err == nil:
			h.changes = append(h.changes, c)
			h.open = !ended
		case !ended:
			return h, nil
		default:
			return nil, fmt.Errorf("%s:%d: no line of a history; put the file back from a backup, or take this line out", name, n+1)
		}
		h.whole += int64(len(line))
	}
	return h, nil
}

// add appends changes; they are on the disk when it returns.
func (h *history) add(changes ...Change) error {
	var w bytes.Buffer
	if h.open {
		w.WriteByte('\n')
	}
	for _, c := range changes {
		c.When = c.When.Truncate(time.Second)
		line, err := json.Marshal(c)
		if err != nil {
			return err
		}
		w.Write(append(line, '\n'))
	}
	if h.whole < h.size {
		if err := os.Truncate(h.name, h.whole); err != nil {
			return plainError(err)
		}
	}
	f, err := os.OpenFile(h.name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return plainError(err)
	}
	_, err = f.Write(w.Bytes())
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return plainError(err)
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

// Corrections are the changes that came after the first entry of a box and gave
// it another value, in the order they were made.
func (t *Typing) Corrections() []Change {
	byCode := map[string]*Box{}
	for _, b := range t.Boxes() {
		byCode[b.Code] = b
	}
	out, filled := []Change{}, map[string]bool{}
	for _, c := range t.history.changes {
		b := byCode[c.Box]
		again := filled[c.Box] || c.Old != ""
		filled[c.Box] = true
		if !again || b == nil {
			continue
		}
		var old, new Entry
		b.read(c.Old, &old)
		b.read(c.New, &new)
		// A confirmation or a remark is no correction.
		old.Confirmed, old.Remark, new.Confirmed, new.Remark = false, "", false, ""
		if !b.same(old, new) {
			out = append(out, c)
		}
	}
	return out
}
