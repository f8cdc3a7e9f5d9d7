package main

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"shimcard/packet"
)

// cell is where a box stands on a sheet of characters: code and label, and
// behind or below them the field to type into.
type cell struct {
	at          int // index of its place
	line, x, w  int
	code, label string
	codes       int  // width kept for codes in its column
	labels      int  // and for labels; 0: there are none
	head        int  // width of code and label before a flat field
	field       int  // its width, without its brackets
	unit        int  // and the unit's behind it
	flat        bool // the field stands on the same line
	table       int  // of the job, 1 the first; its label is the column's heading
	short       bool // the code is that of a bench table's column
}

// grid is a page of the packet set in characters: its boxes where they are on
// paper, as near as whole characters let.
type grid struct {
	cells []cell
	names map[int]string // of rows of a table, by line
	lines int
}

// row is boxes side by side, y where it is on paper.
type row struct {
	cells   []cell
	y       float64
	name    string // of a table's row
	columns []cell // of the table that it is a row of
}

func (r row) height() int {
	if slices.ContainsFunc(r.cells, func(c cell) bool { return !c.flat }) {
		return 2
	}
	return 1
}

// Labels are cut to between these many characters, or left out.
const (
	longLabel  = 34
	shortLabel = 6
)

// rowPitch is the height of a row of a bench table, mm: no line is less than one
// on a screen with room to spare.
const rowPitch = 9.2

// newGrid sets the places of one page, whose indices are given, in so many
// columns and, where they fit, lines.
func newGrid(job *packet.Job, all []packet.Place, page []int, cols, lines int) grid {
	left, right := math.Inf(1), 0.0
	for _, p := range all {
		left, right = min(left, p.X), max(right, p.X+p.W)
	}
	rows := rowsOf(job, all, page)
	height := 0
	for i := range rows {
		rows[i].shorten()
		height += rows[i].height()
	}
	align(rows, all)
	g := grid{names: map[int]string{}}
	var set []row
	for _, r := range rows {
		for i := range r.cells {
			r.cells[i].flat = r.cells[i].flat || height > lines
		}
		for _, part := range r.fold(cols) {
			part.across(all, left, right, cols)
			set = append(set, part)
		}
	}
	var want, size []int
	first, last := set[0].y, set[len(set)-1].y
	scale := 1 / rowPitch // lines per mm
	if last > first {
		scale = min(scale, float64(lines-set[len(set)-1].height())/(last-first))
	}
	for _, r := range set {
		want, size = append(want, int(math.Round((r.y-first)*scale))), append(size, r.height())
		g.lines += r.height()
	}
	g.lines = max(g.lines, lines)
	for i, at := range spread(want, size, g.lines) {
		for _, c := range set[i].cells {
			c.line = at
			g.cells = append(g.cells, c)
		}
		if x := set[i].cells[0].x; x > 3 {
			name := set[i].name
			if code := stem.FindString(name); code != "" && x < 10 { // no room for words
				name = code
			}
			g.names[at] = cut(name, x-1)
		}
	}
	return g
}

// align makes the columns of tables and of lists of choices columns on the screen
// as well. Under its first row a table's headings are not said again.
func align(rows []row, all []packet.Place) {
	type column struct{ table, x int }
	of := func(c cell) (column, bool) {
		return column{c.table, int(all[c.at].X)}, c.table > 0 || all[c.at].Box.Kind == packet.Choice
	}
	widest := map[column]cell{}
	for _, r := range rows {
		for _, c := range r.cells {
			if k, in := of(c); in {
				w, there := widest[k]
				if !there {
					w = c
				}
				w.codes, w.labels = max(w.codes, c.codes), max(w.labels, c.labels)
				w.field, w.unit = max(w.field, c.field), max(w.unit, c.unit)
				widest[k] = w
			}
		}
	}
	said := map[column]string{}
	for i := range rows {
		r := &rows[i]
		for j := range r.cells {
			c := &r.cells[j]
			k, in := of(*c)
			if !in {
				continue
			}
			w := widest[k]
			c.codes, c.labels, c.unit = w.codes, w.labels, w.unit
			if c.table > 0 && all[c.at].Box.Kind == packet.Number {
				c.field = w.field
			}
			if c.table > 0 && said[k] == c.label {
				c.label = ""
			} else {
				said[k] = c.label
			}
		}
		if table := r.cells[0].table; table > 0 {
			for k, w := range widest {
				if k.table == table {
					r.columns = append(r.columns, w)
				}
			}
			slices.SortFunc(r.columns, func(a, b cell) int { return cmp.Compare(all[a.at].X, all[b.at].X) })
		}
	}
}

// rowsOf groups places into rows from top to bottom, each from left to right.
func rowsOf(job *packet.Job, all []packet.Place, page []int) []row {
	middle := func(i int) float64 { return all[i].Y + all[i].H/2 }
	page = slices.Clone(page)
	slices.SortStableFunc(page, func(a, b int) int { return cmp.Compare(middle(a), middle(b)) })
	tables := tables(job)
	var rows []row
	for _, i := range page {
		if k := len(rows) - 1; k < 0 || middle(i)-rows[k].y > 3 {
			rows = append(rows, row{y: middle(i)})
		}
		r := &rows[len(rows)-1]
		b := all[i].Box
		c := cell{at: i, code: b.Code, label: b.Label, field: fieldWidth(b), unit: unitWidth(b), flat: b.Kind == packet.Tick || b.Kind == packet.Choice}
		if in, is := tables[b.Code]; is {
			c.label, c.flat, c.table, r.name = in.heading, true, in.table, in.name
		}
		if b.Short != "" {
			c.label = b.Short
		}
		c.codes, c.labels = runes(c.code), runes(c.label)
		r.cells = append(r.cells, c)
	}
	for _, r := range rows {
		slices.SortStableFunc(r.cells, func(a, b cell) int { return cmp.Compare(all[a.at].X, all[b.at].X) })
	}
	return rows
}

// tabled is what a table says of a box.
type tabled struct {
	table         int
	heading, name string // of its column and its row
}

// tables are the boxes in tables, by code.
func tables(job *packet.Job) map[string]tabled {
	out, n := map[string]tabled{}, 0
	for _, s := range job.Stages {
		for _, sh := range s.Sheets {
			for _, part := range sh.Parts {
				t, ok := part.(packet.Table)
				if !ok {
					continue
				}
				n++
				for _, r := range t.Rows {
					for i, b := range r.Boxes {
						if b == nil {
							continue
						}
						x := tabled{table: n, heading: oneLine(t.Columns[len(r.Before)+i])}
						if len(r.Before) > 0 {
							x.name = oneLine(r.Before[0])
						}
						out[b.Code] = x
					}
				}
			}
		}
	}
	return out
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

var stem = regexp.MustCompile(`^[A-Z]+[0-9]+`)

// shorten says once, at the left, what the codes in a row of a bench table
// share.
func (r *row) shorten() {
	first := stem.FindString(r.cells[0].code)
	if len(r.cells) < 4 || slices.ContainsFunc(r.cells, func(c cell) bool { return stem.FindString(c.code) != first }) {
		return
	}
	if !strings.HasPrefix(r.name, first) {
		r.name = strings.TrimSpace(first + " " + r.name)
	}
	for i := range r.cells {
		c := &r.cells[i]
		c.code, c.label, c.short = strings.TrimPrefix(c.code[len(first):], "."), "", true
		c.codes, c.labels, c.unit = runes(c.code), 0, 0
	}
}

// heads is the width of code and label, the label cut to so many characters.
func (c cell) heads(label int) int {
	n := min(c.labels, label)
	if n <= 0 || n < c.labels && n < shortLabel {
		return c.codes
	}
	return c.codes + 1 + n
}

// least is the width a cell cannot do without, its label cut to so many
// characters.
func (c cell) least(label int) int {
	field := c.field + 2
	if c.short {
		return c.codes + field
	}
	if label > 0 {
		field += c.unit
	}
	if c.flat && c.labels > 0 {
		field++ // apart from the words
	}
	if c.flat {
		return c.heads(label) + field + 1
	}
	return max(c.heads(label), field) + 1
}

func unitWidth(b *packet.Box) int {
	if b.Unit.Symbol == "" {
		return 0
	}
	return 1 + runes(b.Printer.Unit(b.Unit.Symbol))
}

func least(cells []cell) int {
	w := 0
	for _, c := range cells {
		w += c.least(0)
	}
	return w
}

// fold breaks a row that is wider than the screen over several lines.
func (r row) fold(cols int) []row {
	if len(r.columns) > 0 && least(r.columns) > cols {
		r.columns = nil
	}
	if least(r.cells) <= cols || len(r.cells) == 1 {
		return []row{r}
	}
	a, b := r, r
	half := (len(r.cells) + 1) / 2
	a.cells, b.cells = r.cells[:half], r.cells[half:]
	return append(a.fold(cols), b.fold(cols)...)
}

// across gives each cell of a row its columns, and as much label as fits.
func (r row) across(all []packet.Place, left, right float64, cols int) {
	cells := r.cells
	if len(r.columns) > 0 {
		cells = r.columns
	}
	name := 0 // room for the row's
	if r.name != "" {
		name = min(runes(r.name), shortLabel) + 1
	}
	var want, size []int
	label := longLabel
	for ; label >= 0; label -= 2 {
		want, size = want[:0], size[:0]
		w := 0
		for _, c := range cells {
			p := all[c.at]
			n := c.least(label)
			x := int((p.X - left) / (right - left) * float64(cols))
			if p.Box.Kind == packet.Choice && c.table == 0 {
				x -= n - c.field - 4 // on paper its label stands left of the boxes to tick
			}
			want, size, w = append(want, max(x, name)), append(size, n), w+n
		}
		if w <= cols-name {
			break
		}
	}
	label = max(label, 0)
	at := append(spread(want, size, cols), cols+1)
	for i := range r.cells {
		c := &r.cells[i]
		j := i
		for k, q := range r.columns {
			if int(all[q.at].X) == int(all[c.at].X) {
				j = k
			}
		}
		c.x, c.w = at[j], at[j+1]-at[j]-1
		if c.short {
			c.w++
		}
		c.head = c.heads(label)
		if c.labels > 0 {
			c.head++
		}
		if all[c.at].Box.Kind == packet.Text {
			room := c.w - 2
			if c.flat {
				room -= c.head
			}
			c.field = max(c.field, room)
		}
	}
}

// spread gives things of some sizes, one after another on a line, the places
// they want, or the nearest that do not overlap.
func spread(want, size []int, length int) []int {
	at := make([]int, len(want))
	end := 0
	for i, w := range want {
		at[i] = max(w, end)
		end = at[i] + size[i]
	}
	for i := len(at) - 1; i >= 0; i-- {
		at[i] = max(0, min(at[i], length-size[i]))
		length = at[i]
	}
	return at
}

// fieldWidth is how many characters what belongs in a box takes.
func fieldWidth(b *packet.Box) int {
	switch b.Kind {
	case packet.Number:
		n := max(b.Before, 1)
		if b.Decimals > 0 {
			n += 1 + b.Decimals
		}
		if b.Signed || b.Low < 0 {
			n++
		}
		return max(n, 3)
	case packet.Tick:
		return 1
	case packet.Choice:
		n := 0
		for _, c := range b.Choices {
			n = max(n, runes(b.T(c)))
		}
		return n
	case packet.Initials:
		return 5
	case packet.Text:
		return 6
	}
	return 10
}

func runes(s string) int { return utf8.RuneCountInString(s) }

// cut shortens text to so many characters.
func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		if n < 1 {
			return ""
		}
		return string(r[:n-1]) + "…"
	}
	return s
}
