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

// is reports whether two lines are of one change; zones of time may be written
// otherwise.
func (c Change) is(other Change) bool {
	same := c.When.Equal(other.When)
	c.When = other.When
	return same && c == other
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
	Issued     How = "issued" // in an issue of the report, and no longer in the history
)

// history is the file of changes beside a form: one JSON object a line. It is added
// to, and written anew only where an issue of the report knows more (regain).
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
		case bytes.HasPrefix(line, []byte("<<<<<<<")):
			return fmt.Errorf("%s:%d: found the mark of a merge; keep the lines of both versions, and take the marks out", h.name, n+1)
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
	for i := range changes {
		changes[i].When = changes[i].When.Truncate(time.Second) // as it will be read back
	}
	w.Write(lines(changes))
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
		_ = os.Truncate(h.name, h.whole) // none of it was accepted
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

// regain puts back into the history what an issue of the report rested on and it has
// no longer, since an older one was put back: a report that was sent says it. What the
// form then lacks is asked about as ever.
func (t *Typing) regain(i *issued) error {
	if i == nil {
		return nil
	}
	if all, err := t.whole(i); err != nil || len(all) == len(t.history.changes) {
		return err
	}
	return t.lock(t.form, func() error {
		if err := t.read(); err != nil {
			return err
		}
		all, err := t.whole(i)
		if err != nil || len(all) == len(t.history.changes) {
			return err
		}
		if err := replaceFile(t.history.name, lines(all)); err != nil {
			return err
		}
		return t.read()
	})
}

// whole is the history with the corrections that an issue has, and its readings that
// the history has never heard of.
func (t *Typing) whole(i *issued) ([]Change, error) {
	all := slices.Clone(t.history.changes)
	found := make([]bool, len(all)) // lines that are one of the issue's
	after := 0                      // of the issue's corrections so far
	for line := range strings.Lines(i.Corrections) {
		var c Change
		if err := json.Unmarshal([]byte(line), &c); err != nil {
			return nil, fmt.Errorf("%s: no corrections; put the file back from a backup", filepath.Join(t.dir, issueName(i.Number)))
		}
		if c.Box == "" {
			continue
		}
		at := 0
		for at < len(all) && (found[at] || !c.is(all[at])) {
			at++
		}
		if at < len(all) {
			found[at] = true
		} else {
			// Behind what it corrected, whatever the clocks said.
			at = len(all)
			for at > after && (all[at-1].Box != c.Box || all[at-1].New != c.Old) {
				at--
			}
			all, found = slices.Insert(all, at, c), slices.Insert(found, at, true)
		}
		after = max(after, at+1)
	}
	r, err := ReadForm(issueName(i.Number), []byte(i.Readings), t.Number, t.Plan)
	if err != nil {
		return all, nil // of another sheet
	}
	day, _ := time.Parse(time.DateOnly, i.On)
	last := t.history.last()
	for _, b := range t.Boxes() {
		e := r.Entries[b.Code]
		heard := func(c Change) bool {
			if c.Box != b.Code {
				return false
			}
			var had Entry
			b.read(c.New, &had)
			had.Confirmed, had.Remark = e.Confirmed, e.Remark
			return b.same(had, e)
		}
		if e.Raw != "" && b.From == nil && !slices.ContainsFunc(all, heard) {
			all = append(all, Change{b.Code, last[b.Code], e.Raw, r.TypedBy, day, Issued, ""})
		}
	}
	return all, nil
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
	return lines(changes)
}

// lines are changes as a history holds them.
func lines(changes []Change) []byte {
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
