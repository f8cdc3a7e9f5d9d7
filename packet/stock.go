package packet

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"shimcard/calc"
	"shimcard/specs"
)

// ShimUse is what became of the shims of one size of a tray in one job.
type ShimUse struct {
	Tray   string `json:"tray"`
	Size   string `json:"size"`
	Out    int    `json:"taken_out"` // of the pump
	Fitted int    `json:"fitted"`
	Kept   int    `json:"kept"` // of those taken out: fitted again

	length calc.Length
}

// used is how many came from the tray, off how many are left over of those that
// came out.
func (u ShimUse) used() int { return u.Fitted - u.Kept }
func (u ShimUse) off() int  { return u.Out - u.Kept }

// Shims tells from the readings of a job which shims came out of the pump and
// which were fitted at last, by the trays of its spec. A shim counts as the size
// of the tray that it is nearest to, within half the narrowest step; a stack of
// which only the thickness is typed, as the stack that the sheet would have
// picked for it. A size that came out and is fitted again counts as the same
// shim. What cannot be told is named in unclear.
func (j *Job) Shims(r *Readings) (uses []ShimUse, unclear []string) {
	v := newValues(r)
	for _, a := range j.Adjustments {
		if a.Dim.Shims == nil {
			continue
		}
		s := a.Dim.Shims
		tray, half := s.Tray, narrowest(s.Tray)/2
		not := func(b *Box, l calc.Length) {
			unclear = append(unclear, fmt.Sprintf("%s %s: %s %s is no size of the tray %s, nor a stack of up to %d of them", b.Code, b.Label, l.Fixed(b.Unit, b.Decimals), b.Unit.Symbol, tray.Name, s.MostPerPlace))
		}
		// As the sheet's table of stacks picks it; a shim that the tray did not have may
		// have been one of those out.
		stack := func(b *Box, most int, stock []int, out []calc.Length) []calc.Length {
			l, ok := v.length(b)
			if !ok || l == 0 {
				return nil
			}
			places := s.Places
			if s.Prescribed > 0 {
				places = 1
			}
			q := calc.Question{Target: l, Low: l - half, High: l + half, Effect: 1, Places: places, MostPerPlace: most, Tray: tray.Sizes, Stock: stock}
			ans, err := calc.PickShims(q)
			if stock != nil && (err != nil || !ans.Reaches) {
				q.Stock, q.Out = nil, out
				ans, err = calc.PickShims(q)
			}
			if err != nil || !ans.Reaches {
				not(b, l)
				return nil
			}
			return ans.Best.Stack
		}
		most := func(place int) int {
			if s.Prescribed > 0 && place == 0 {
				return 1
			}
			return s.MostPerPlace
		}
		fitted := a.inAtLast(v)
		if fitted == nil {
			continue // what came out went back
		}
		var out, in []calc.Length
		for i, b := range a.Out {
			one := false
			if b.From != nil {
				for _, t := range b.From.Terms {
					if _, ok := v.number(t.Box); ok {
						one = true
						out = append(out, stack(t.Box, 1, nil, nil)...)
					}
				}
			}
			if !one {
				out = append(out, stack(b, most(i), nil, nil)...)
			}
		}
		for i, b := range fitted {
			in = append(in, stack(b, most(i), a.Stock, out)...)
		}
		for i, size := range tray.Sizes {
			u := ShimUse{Tray: tray.Name, Size: size.Fixed(tray.Unit, tray.Decimals) + " " + tray.Unit.Symbol, length: tray.Sizes[i], Out: count(out, size), Fitted: count(in, size)}
			u.Kept = min(u.Out, u.Fitted)
			if u.Out+u.Fitted > 0 {
				uses = append(uses, u)
			}
		}
	}
	return uses, unclear
}

func count(list []calc.Length, x calc.Length) (n int) {
	for _, y := range list {
		if x == y {
			n++
		}
	}
	return n
}

// inAtLast are the boxes of what was fitted at last, one a place: of the last
// try that has one, else the stacks made alike; nil where nothing was fitted.
func (a *Adjustment) inAtLast(v *values) []*Box {
	has := func(boxes []*Box) bool {
		return slices.ContainsFunc(boxes, func(b *Box) bool { _, ok := v.number(b); return ok })
	}
	for _, t := range slices.Backward(a.Tries) {
		if has(t.Fitted) {
			return t.Fitted
		}
	}
	if has(a.Alike) {
		return a.Alike
	}
	return nil
}

// The stock book lies beside the shop file: one line of JSON for each job that
// was applied, with what the job does to the counts in all. A later line of a job
// takes the place of the earlier. The shop file says how many lines are in its
// counts, so that a line is never applied twice, and one written before a power
// cut is applied by the next run.
type stockLine struct {
	Job    string        `json:"job"`
	On     string        `json:"on"`
	Back   bool          `json:"back,omitempty"` // unworn shims went back into the tray
	Change []stockChange `json:"change"`
}

type stockChange struct {
	Tray  string `json:"tray"`
	Size  string `json:"size"`
	Count int    `json:"count"`
}

func (c stockChange) place() stockPlace {
	l, _ := lengthOf(c.Size) // as readBook has read it, or as it was just written
	return stockPlace{c.Tray, l}
}

// StockBook is the name of the stock book of a shop file.
func StockBook(shop string) string { return shop + ".stock" }

// mostBook is the most bytes of a stock book: some 300,000 jobs.
const mostBook = 64 << 20

// readBook reads the stock book's lines, and how many bytes are whole lines.
func readBook(name string) (lines []stockLine, whole int64, err error) {
	f, err := readUpTo(name, mostBook)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, err
	}
	for n, line := range bytes.SplitAfter(f.Data, []byte("\n")) {
		if !bytes.HasSuffix(line, []byte("\n")) {
			break // cut off by a power cut, before anything was applied
		}
		var l stockLine
		err := json.Unmarshal(line, &l)
		for _, c := range l.Change {
			if err == nil {
				_, err = lengthOf(c.Size)
			}
		}
		if err != nil {
			return nil, 0, fmt.Errorf("%s:%d: %w; this line was changed: put the file back from a backup", name, n+1, err)
		}
		lines = append(lines, l)
		whole += int64(len(line))
	}
	return lines, whole, nil
}

// appendBook adds lines, in one piece, behind the whole lines that are there.
func appendBook(name string, whole int64, lines []stockLine) error {
	var w bytes.Buffer
	for _, l := range lines {
		data, err := json.Marshal(l)
		if err != nil {
			return err
		}
		w.Write(append(data, '\n'))
	}
	f, err := os.OpenFile(name, os.O_CREATE|os.O_RDWR, permissions(filepath.Dir(name))&0o666|0o600)
	if err != nil {
		return notWritten(name, err)
	}
	if info, err2 := f.Stat(); err2 == nil && info.Size() > whole {
		err = f.Truncate(whole)
	}
	if err == nil {
		_, err = f.WriteAt(w.Bytes(), whole)
	}
	err = errors.Join(err, f.Sync(), f.Close())
	syncFolder(filepath.Dir(name))
	return notWritten(name, err)
}

// stockPlace is one count of the shop file, however a size is written: "2.6 mm" in
// one spec and "2.60 mm" in another are one.
type stockPlace struct {
	tray string
	size calc.Length
}

// standing is what the lines do to the counts in all.
func standing(lines []stockLine) map[stockPlace]int {
	last := map[string]stockLine{}
	for _, l := range lines {
		last[l.Job] = l
	}
	sum := map[stockPlace]int{}
	for _, l := range last {
		for _, c := range l.Change {
			sum[c.place()] += c.Count
		}
	}
	return sum
}

// StockJob is what one job does to the stock.
type StockJob struct {
	Job     string    `json:"job"`
	Back    bool      `json:"back"`    // unworn shims go back into the tray
	Before  bool      `json:"before"`  // in the counts already, all of it
	Changed bool      `json:"changed"` // in the counts before, with other shims
	Shims   []ShimUse `json:"shims"`
	Unclear []string  `json:"unclear,omitempty"`
}

// StockCount is one count of the shop file and what became of it.
type StockCount struct {
	Tray  string `json:"tray"`
	Size  string `json:"size"`
	Was   int    `json:"was"`
	Is    int    `json:"is"`
	Short int    `json:"short,omitempty"` // how many more were taken than the count said were there
	Note  string `json:"note,omitempty"`  // why it was not applied

	length calc.Length
}

// StockTaken is what applying jobs to a shop's stock came to.
type StockTaken struct {
	Shop    string       `json:"shop"`
	DryRun  bool         `json:"dry_run,omitempty"`
	Jobs    []StockJob   `json:"jobs"`
	Counts  []StockCount `json:"counts"`  // those that changed, or should have
	Reorder []StockCount `json:"reorder"` // at or below the count at which to order
	// Trays that shims were taken from and the shop file does not count.
	Uncounted []string `json:"trays_not_counted,omitempty"`
}

// Right reports whether everything could be told and no count would have gone
// below nothing.
func (t *StockTaken) Right() bool {
	for _, c := range t.Counts {
		if c.Short > 0 || c.Note != "" {
			return false
		}
	}
	return !slices.ContainsFunc(t.Jobs, func(j StockJob) bool { return len(j.Unclear) > 0 })
}

// StockQuestion says what to apply. Back is nil to leave a job's shims taken out
// as they were booked before: not back into the tray, unless it was said.
type StockQuestion struct {
	Shop      string
	Jobs      []string // folders
	Back      *bool
	DryRun    bool
	ReorderAt int
	Today     time.Time
}

// TakeStock applies the shims of jobs to the counts in a shop file, each job
// once; of a job applied before, only what differs. Nothing in the shop file
// changes but the counts and the number of lines applied. Several at once take
// turns; the lock goes with its process, whatever ends that.
func TakeStock(q StockQuestion) (*StockTaken, error) {
	name, err := filepath.EvalSymlinks(q.Shop) // its place is where the file is
	if err != nil {
		return nil, fmt.Errorf("%s: no such shop file; name it with --shop", q.Shop)
	}
	book := StockBook(name)
	var noLock error // matters where something is to be written
	lock := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+lockFile)
	if !q.DryRun {
		if unlock, err := locked(lock); err != nil {
			noLock = notWritten(lock, err)
		} else {
			defer unlock()
		}
	}
	// The shop file first, since it is written last: however many lines somebody else
	// books and counts in meanwhile, the book has those that this file counts.
	file, err := ReadFile(name)
	if err != nil {
		return nil, err
	}
	lines, whole, err := readBook(book)
	if err != nil {
		return nil, err
	}
	t := &StockTaken{Shop: q.Shop, DryRun: q.DryRun, Jobs: []StockJob{}, Counts: []StockCount{}, Reorder: []StockCount{}}
	var added []stockLine
	for _, dir := range q.Jobs {
		last := map[string]stockLine{}
		for _, l := range slices.Concat(lines, added) {
			last[l.Job] = l
		}
		job, line, err := stockOfJob(dir, q, last)
		if err != nil {
			return nil, err
		}
		t.Jobs = append(t.Jobs, *job)
		if line != nil {
			added = append(added, *line)
		}
	}
	// The shop file first: where it cannot be counted in, nothing is booked.
	data, err := t.count(file, lines, slices.Concat(lines, added), q.ReorderAt)
	if err != nil || q.DryRun || data == nil && len(added) == 0 {
		return t, err
	}
	if noLock != nil {
		return nil, noLock
	}
	if err := asRead(file, whole); err != nil {
		return nil, err
	}
	if len(added) > 0 {
		if err := appendBook(book, whole, added); err != nil {
			return nil, err
		}
	}
	if data == nil {
		return t, nil
	}
	return t, replaceFile(name, data)
}

// asRead is an error where a shop file or its stock book is no more as it was read:
// an editor knows no locks.
func asRead(shop File, whole int64) error {
	now, err := ReadFile(shop.Name)
	if err != nil {
		return err
	}
	_, size, err := readBook(StockBook(shop.Name))
	if err == nil && (size != whole || !bytes.Equal(now.Data, shop.Data)) {
		err = fmt.Errorf("%s: it or its stock book was changed by somebody else at this moment; nothing applied: the same command again", shop.Name)
	}
	return err
}

// stockOfJob is what a job does, and the line to book, nil when it is booked.
func stockOfJob(dir string, q StockQuestion, last map[string]stockLine) (*StockJob, *stockLine, error) {
	job, err := Open(dir)
	if err != nil {
		return nil, nil, err
	}
	t, err := job.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return nil, nil, err
	}
	if doubts := stopping(t.Doubts(t.Readings)); len(doubts) > 0 {
		return nil, nil, fmt.Errorf("%s:%s\nnothing applied until it is corrected or confirmed (%d in all)", filepath.Join(dir, FormFile), doubts[0], len(doubts))
	}
	before, was := last[job.Number]
	s := &StockJob{Job: job.Number, Back: before.Back, Shims: []ShimUse{}}
	if q.Back != nil {
		s.Back = *q.Back
	}
	uses, unclear := job.Shims(t.Readings)
	s.Shims, s.Unclear = append(s.Shims, uses...), unclear
	line := stockLine{Job: job.Number, On: q.Today.Format("2006-01-02"), Back: s.Back, Change: []stockChange{}}
	for _, u := range uses {
		n := -u.used()
		if s.Back {
			n += u.off()
		}
		if n != 0 {
			line.Change = append(line.Change, stockChange{u.Tray, u.Size, n})
		}
	}
	switch {
	case was && slices.Equal(line.Change, before.Change):
		s.Before = true
		return s, nil, nil
	case !was && len(line.Change) == 0:
		return s, nil, nil
	}
	s.Changed = was
	return s, &line, nil
}

// count brings the counts of the shop file up to the lines of the book, and
// returns its text, nil when it stays as it is.
func (t *StockTaken) count(file File, booked, lines []stockLine, reorderAt int) ([]byte, error) {
	name := file.Name
	shop, err := specs.ReadShop(file.Name, file.Data)
	if err != nil {
		return nil, err
	}
	if shop.StockApplied > len(booked) {
		return nil, fmt.Errorf("%s: stock applied: %d, and %s has %d lines; put that file back, or count the trays anew and write %d", name, shop.StockApplied, StockBook(name), len(booked), len(booked))
	}
	if len(shop.Stock) == 0 {
		return nil, fmt.Errorf("%s: no stock in it; write stock: with the trays and how many of each size they hold", name)
	}
	// What is to change, by tray and size.
	change := standing(lines)
	for p, n := range standing(lines[:shop.StockApplied]) {
		change[p] -= n
	}
	written := map[stockPlace]string{} // the size as the last line has it
	for _, l := range lines {
		for _, c := range l.Change {
			written[c.place()] = c.Size
		}
	}
	set := map[stockPlace]int{}
	for p, n := range change {
		if n == 0 {
			continue
		}
		c := StockCount{Tray: p.tray, Size: written[p], length: p.size}
		tray := slices.IndexFunc(shop.Stock, func(s *specs.Stock) bool { return s.Tray == p.tray })
		k := -1
		if tray >= 0 {
			k = slices.Index(shop.Stock[tray].Sizes, p.size)
		}
		switch {
		case tray < 0:
			if !slices.Contains(t.Uncounted, p.tray) {
				t.Uncounted = append(t.Uncounted, p.tray)
			}
			continue
		case k < 0:
			c.Note = fmt.Sprintf("%+d, and the shop file does not count this size", n)
		default:
			stock := shop.Stock[tray]
			c.Was = stock.Count[k]
			c.Is = max(c.Was+n, 0)
			c.Short = c.Is - (c.Was + n)
			stock.Count[k] = c.Is
			set[p] = c.Is
		}
		t.Counts = append(t.Counts, c)
	}
	slices.SortFunc(t.Counts, func(a, b StockCount) int {
		return cmp.Or(cmp.Compare(a.Tray, b.Tray), cmp.Compare(a.length, b.length))
	})
	slices.Sort(t.Uncounted)
	t.reorder(shop, reorderAt)
	if shop.StockApplied == len(lines) {
		return nil, nil
	}
	data, err := setCounts(file, set, len(lines))
	if err != nil {
		return nil, err
	}
	// Whatever the layout of the file: it must read as it was meant to.
	now, err := specs.ReadShop(file.Name, data)
	if err != nil {
		return nil, err
	}
	for i, s := range shop.Stock {
		if !slices.Equal(s.Count, now.Stock[i].Count) || now.StockApplied != len(lines) {
			return nil, fmt.Errorf("%s: the counts of %s cannot be written in their places; write each count plainly, 0.50 mm: 4", name, s.Tray)
		}
	}
	return data, nil
}

// reorder lists what is at or below the count at which to order.
func (t *StockTaken) reorder(shop *specs.Shop, at int) {
	for _, s := range shop.Stock {
		order := make([]int, len(s.Sizes))
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(s.Sizes[a], s.Sizes[b]) })
		for _, i := range order {
			if s.Count[i] <= at {
				t.Reorder = append(t.Reorder, StockCount{Tray: s.Tray, Size: s.Sizes[i].Fixed(s.Unit, s.Decimals) + " " + s.Unit.Symbol, Was: s.Count[i], Is: s.Count[i]})
			}
		}
	}
}

// lengthOf reads a size as a book or a shop file writes it.
func lengthOf(size string) (calc.Length, error) {
	q, _, err := calc.ParseQuantity(size)
	return calc.LengthOf(q.Value, q.Unit), err
}

// setCounts writes counts into the text of a shop file, and the number of lines
// applied, and leaves all else as it is.
func setCounts(file File, set map[stockPlace]int, applied int) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(file.Data, &doc); err != nil || len(doc.Content) != 1 {
		return nil, fmt.Errorf("%s: not to be read as YAML: %w", file.Name, err)
	}
	root := doc.Content[0]
	type edit struct {
		at  int
		old string
		new string
	}
	var edits []edit
	starts := []int{0}
	for i, c := range file.Data {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	key := keyOf(root, "stock")
	offset := func(n *yaml.Node) int {
		at := starts[min(n.Line, len(starts))-1]
		if n.Line == 1 && bytes.HasPrefix(file.Data, []byte("\uFEFF")) {
			at += len("\uFEFF")
		}
		for range n.Column - 1 {
			_, size := utf8.DecodeRune(file.Data[at:])
			at += size
		}
		if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 && n.Kind == yaml.ScalarNode && n != key {
			at++ // the quote
		}
		return at
	}
	replace := func(n *yaml.Node, with int) { edits = append(edits, edit{offset(n), n.Value, strconv.Itoa(with)}) }
	stock := field(root, "stock")
	if n := field(root, "stock applied"); n != nil {
		replace(n, applied)
	} else {
		line := fmt.Sprintf("stock applied: %d", applied)
		if root.Style&yaml.FlowStyle != 0 {
			line += ", "
		} else {
			line += "\n" + strings.Repeat(" ", key.Column-1)
		}
		edits = append(edits, edit{offset(key), "", line})
	}
	for i := 0; i+1 < len(stock.Content); i += 2 {
		sizes := stock.Content[i+1]
		for k := 0; k+1 < len(sizes.Content); k += 2 {
			size, _ := lengthOf(sizes.Content[k].Value) // as it was read before
			if n, ok := set[stockPlace{stock.Content[i].Value, size}]; ok {
				replace(sizes.Content[k+1], n)
			}
		}
	}
	slices.SortFunc(edits, func(a, b edit) int { return b.at - a.at })
	data := slices.Clone(file.Data)
	for _, e := range edits {
		if !bytes.HasPrefix(data[e.at:], []byte(e.old)) {
			return nil, fmt.Errorf("%s: a count is not written plainly; write it as in 0.50 mm: 4", file.Name)
		}
		data = slices.Concat(data[:e.at], []byte(e.new), data[e.at+len(e.old):])
	}
	return data, nil
}

// field is the value of a key of a mapping, nil when it has none.
func field(n *yaml.Node, key string) *yaml.Node {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

func keyOf(n *yaml.Node, key string) *yaml.Node {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i]
		}
	}
	return nil
}

// String is the account for a person.
func (t *StockTaken) String() string {
	var w strings.Builder
	for _, j := range t.Jobs {
		fmt.Fprintf(&w, "%s", j.Job)
		switch {
		case j.Before:
			w.WriteString("  in the counts already, nothing changed since")
		case j.Changed:
			w.WriteString("  in the counts already, and otherwise: the difference is applied")
		case len(j.Shims) == 0:
			w.WriteString("  no shim changed")
		}
		w.WriteByte('\n')
		tray := ""
		for _, u := range j.Shims {
			if u.Tray != tray {
				tray = u.Tray
				fmt.Fprintf(&w, "  %s\n", tray)
			}
			fmt.Fprintf(&w, "    %8s", u.Size)
			if u.Kept > 0 {
				fmt.Fprintf(&w, "  %d fitted again", u.Kept)
			}
			if n := u.used(); n > 0 {
				fmt.Fprintf(&w, "  %d from the tray", n)
			}
			if n := u.off(); n > 0 {
				if j.Back {
					fmt.Fprintf(&w, "  %d taken out, back into the tray", n)
				} else {
					fmt.Fprintf(&w, "  %d taken out, not put back", n)
				}
			}
			w.WriteByte('\n')
		}
		for _, u := range j.Unclear {
			fmt.Fprintf(&w, "  not counted: %s\n", u)
		}
	}
	if len(t.Counts) > 0 {
		fmt.Fprintf(&w, "%s\n", t.Shop)
	}
	for _, c := range t.Counts {
		switch {
		case c.Note != "":
			fmt.Fprintf(&w, "  %s  %s: %s\n", c.Tray, c.Size, c.Note)
		case c.Short > 0:
			fmt.Fprintf(&w, "  %s  %s: %d → 0, %d more taken than it counted: count them anew\n", c.Tray, c.Size, c.Was, c.Short)
		default:
			fmt.Fprintf(&w, "  %s  %s: %d → %d\n", c.Tray, c.Size, c.Was, c.Is)
		}
	}
	if len(t.Uncounted) > 0 {
		fmt.Fprintf(&w, "not counted in the shop file: %s\n", strings.Join(t.Uncounted, ", "))
	}
	if len(t.Reorder) > 0 {
		w.WriteString("reorder\n")
	}
	for _, c := range t.Reorder {
		fmt.Fprintf(&w, "  %s  %s: %d left\n", c.Tray, c.Size, c.Is)
	}
	if t.DryRun {
		w.WriteString("dry run: nothing written\n")
	}
	return w.String()
}

// JSON is the account for a program.
func (t *StockTaken) JSON() ([]byte, error) {
	data, err := json.MarshalIndent(t, "", "  ")
	return append(data, '\n'), err
}
