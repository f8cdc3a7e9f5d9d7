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
	head        int  // least width of code and label
	field       int  // width, without its brackets
	flat        bool // the field stands on the same line
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
	cells []cell
	y     float64
	name  string // of a table's row
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
	// Columns stay columns: those of a bench table by their width, of a list of
	// choices by their labels'.
	type column struct {
		x    int
		kind packet.Kind
	}
	of := func(c cell) column { return column{int(all[c.at].X), all[c.at].Box.Kind} }
	width := map[column]int{}
	height := 0
	for i := range rows {
		rows[i].shorten()
		height += rows[i].height()
		for _, c := range rows[i].cells {
			switch {
			case c.short:
				width[of(c)] = max(width[of(c)], c.field+runes(c.code))
			case all[c.at].Box.Kind == packet.Choice:
				width[of(c)] = max(width[of(c)], runes(c.code)+1+runes(c.label))
			}
		}
	}
	for _, r := range rows {
		for i := range r.cells {
			c := &r.cells[i]
			switch n := width[of(*c)]; {
			case c.short:
				c.field = n - runes(c.code)
			case n > 0:
				c.head = n
			}
		}
	}
	g := grid{names: map[int]string{}}
	var set []row
	for _, r := range rows {
		for i := range r.cells {
			r.cells[i].flat = r.cells[i].flat || height > lines
		}
		for _, part := range r.fold(all, cols) {
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

// rowsOf groups places into rows from top to bottom, each from left to right.
func rowsOf(job *packet.Job, all []packet.Place, page []int) []row {
	middle := func(i int) float64 { return all[i].Y + all[i].H/2 }
	page = slices.Clone(page)
	slices.SortStableFunc(page, func(a, b int) int { return cmp.Compare(middle(a), middle(b)) })
	headings, names := tables(job)
	var rows []row
	for _, i := range page {
		if k := len(rows) - 1; k < 0 || middle(i)-rows[k].y > 3 {
			rows = append(rows, row{y: middle(i)})
		}
		r := &rows[len(rows)-1]
		b := all[i].Box
		c := cell{at: i, code: b.Code, label: b.Label, field: fieldWidth(b), flat: b.Kind == packet.Tick || b.Kind == packet.Choice}
		if heading, in := headings[b.Code]; in {
			c.label, c.flat, r.name = heading, true, names[b.Code]
		}
		if b.Short != "" {
			c.label = b.Short
		}
		r.cells = append(r.cells, c)
	}
	for _, r := range rows {
		slices.SortStableFunc(r.cells, func(a, b cell) int { return cmp.Compare(all[a.at].X, all[b.at].X) })
	}
	return rows
}

// tables are what stands over the boxes of tables, and beside them, by code.
func tables(job *packet.Job) (headings, names map[string]string) {
	headings, names = map[string]string{}, map[string]string{}
	for _, s := range job.Stages {
		for _, sh := range s.Sheets {
			for _, part := range sh.Parts {
				t, ok := part.(packet.Table)
				if !ok {
					continue
				}
				for _, r := range t.Rows {
					for i, b := range r.Boxes {
						if b == nil {
							continue
						}
						headings[b.Code] = oneLine(t.Columns[len(r.Before)+i])
						if len(r.Before) > 0 {
							names[b.Code] = oneLine(r.Before[0])
						}
					}
				}
			}
		}
	}
	return headings, names
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
	r.name = strings.TrimSpace(first + " " + r.name)
	for i := range r.cells {
		c := &r.cells[i]
		c.code, c.label, c.short = strings.TrimPrefix(c.code[len(first):], "."), "", true
	}
}

// least is the width a cell cannot do without, its label cut to so many
// characters.
func (c cell) least(b *packet.Box, label int) int {
	head := runes(c.code)
	if n := min(runes(c.label), label); n > 0 && (n == runes(c.label) || n >= shortLabel) {
		head += 1 + n
	}
	if label == longLabel {
		head = max(head, c.head)
	}
	field := c.field + 2
	if c.short {
		return head + field
	}
	if label > 0 {
		field += unitWidth(b)
	}
	if c.flat && c.label != "" {
		field++ // apart from the words
	}
	if c.flat {
		return head + field + 1
	}
	return max(head, field) + 1
}

func unitWidth(b *packet.Box) int {
	if b.Unit.Symbol == "" {
		return 0
	}
	return 1 + runes(b.Printer.Unit(b.Unit.Symbol))
}

// fold breaks a row that is wider than the screen over several lines.
func (r row) fold(all []packet.Place, cols int) []row {
	w := 0
	for _, c := range r.cells {
		w += c.least(all[c.at].Box, 0)
	}
	if w <= cols || len(r.cells) == 1 {
		return []row{r}
	}
	half := (len(r.cells) + 1) / 2
	a, b := row{r.cells[:half], r.y, r.name}, row{r.cells[half:], r.y, r.name}
	return append(a.fold(all, cols), b.fold(all, cols)...)
}

// across gives each cell of a row its columns, and as much label as fits.
func (r row) across(all []packet.Place, left, right float64, cols int) {
	var want, size []int
	label := longLabel
	name := 0 // room for the row's
	if r.name != "" {
		name = min(runes(r.name), shortLabel) + 1
	}
	for ; label >= 0; label -= 2 {
		want, size = want[:0], size[:0]
		w := 0
		for _, c := range r.cells {
			p := all[c.at]
			n := c.least(p.Box, label)
			x := int((p.X - left) / (right - left) * float64(cols))
			if p.Box.Kind == packet.Choice && c.label != "" {
				x -= n - c.field - 4 // on paper its label stands left of the boxes to tick
			}
			want, size, w = append(want, max(x, name)), append(size, n), w+n
		}
		if w <= cols-name {
			break
		}
	}
	at := spread(want, size, cols)
	for i := range r.cells {
		c := &r.cells[i]
		end := cols
		if i+1 < len(at) {
			end = at[i+1]
		}
		c.x, c.w = at[i], end-at[i]-1
		if c.short {
			c.w++
		}
		if all[c.at].Box.Kind == packet.Text {
			room := c.w - 2
			if c.flat {
				room -= runes(c.code) + 2 + min(runes(c.label), max(label, 0))
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
		if b.Signed || b.Low < 0 || b.From != nil {
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
