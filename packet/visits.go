package packet

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Visits is the history of one pump: its jobs by day of receipt, and how its
// static dimensions moved in service between them.
type Visits struct {
	words.Printer `json:"-"`
	Serial        string    `json:"serial"`
	Pump          string    `json:"pump"`
	Jobs          []*Listed `json:"jobs"`
	Courses       []*Course `json:"dimensions"`
	LeftOut       []string  `json:"left_out,omitempty"` // further folders of the same jobs

	job *Job // the last: its shop's paper
}

// Course is one static dimension over the jobs, all in one unit.
type Course struct {
	Dimension specs.DimensionName `json:"dimension"`
	Title     string              `json:"title"`
	Unit      string              `json:"unit"`
	Decimals  int                 `json:"decimals"`
	Points    []CoursePoint       `json:"points"`
	Moves     []Move              `json:"in_service"`
	Drifts    bool                `json:"drifts"` // moved the same way, beyond uncertainty, at least twice and every time
}

// CoursePoint is what one job found and left.
type CoursePoint struct {
	Job   string   `json:"job"`
	Date  string   `json:"date"`
	Low   float64  `json:"low"`
	High  float64  `json:"high"`
	Found *float64 `json:"found,omitempty"`
	Left  *float64 `json:"left,omitempty"`
	U     *float64 `json:"uncertainty,omitempty"`
}

// Move is how a dimension moved in service: from what one job left to what the
// next one found.
type Move struct {
	From   string  `json:"from_job"`
	To     string  `json:"to_job"`
	By     float64 `json:"by"`
	Allow  float64 `json:"uncertainty,omitempty"` // of the difference, 95 %; 0 where not known
	Beyond bool    `json:"beyond_uncertainty"`
}

// date is the day that counts for a job.
func (l *Listed) date() string {
	if _, err := time.Parse("2006-01-02", l.Tested); err != nil {
		return l.Received
	}
	return l.Tested
}

// History gathers the jobs of one pump from a list of jobs below root. pump is its
// name, which may be "" where no other has its serial number.
func History(root, serial, pump string, list []*Listed) (*Visits, error) {
	v := &Visits{Serial: serial, Courses: []*Course{}}
	named := map[string]bool{}
	for _, l := range list {
		if l.Trouble == "" && l.IsOf(serial) {
			named[l.Pump] = true
			if pump == "" || strings.EqualFold(l.Pump, pump) {
				v.Jobs, v.Serial, v.Pump = append(v.Jobs, l), l.Serial, l.Pump
			}
		}
	}
	if of := strings.Join(slices.Sorted(maps.Keys(named)), ", "); len(named) > 0 && len(v.Jobs) == 0 {
		return nil, fmt.Errorf("%s: no job of a pump %s with the serial number %q; there are: %s", root, pump, serial, of)
	} else if pump == "" && len(named) > 1 {
		return nil, fmt.Errorf("%s: more than one pump with the serial number %q: %s; say which with --pump", root, serial, of)
	}
	if len(v.Jobs) == 0 {
		return nil, fmt.Errorf("%s: no job of a pump with the serial number %q; to search: traveller find %s", root, serial, serial)
	}
	v.Jobs, v.LeftOut = oncePerJob(v.Jobs)
	last := v.Jobs[len(v.Jobs)-1]
	job, err := Open(filepath.Join(root, last.Folder))
	if err != nil {
		return nil, err
	}
	v.job, v.Printer = job, job.Printer
	for _, name := range specs.DimensionNames {
		if c := v.course(name); c != nil {
			v.Courses = append(v.Courses, c)
		}
	}
	return v, nil
}

// course follows one dimension, in the unit of the last job that has it.
func (v *Visits) course(name specs.DimensionName) *Course {
	c := &Course{Dimension: name, Title: v.T(practices[name].title), Moves: []Move{}}
	var unit calc.Unit
	for _, l := range slices.Backward(v.Jobs) {
		for _, s := range l.Settings() {
			if s.Dimension != name {
				continue
			}
			u, ok := calc.ParseUnit(s.Unit)
			if !ok {
				continue
			}
			if c.Unit == "" {
				unit, c.Unit, c.Decimals = u, s.Unit, s.Decimals
			}
			in := func(x *float64) *float64 {
				if x == nil || u == unit {
					return x
				}
				return ptr(calc.Convert(*x, u, unit))
			}
			c.Points = append(c.Points, CoursePoint{Job: l.Job, Date: l.date(), Low: *in(&s.Low), High: *in(&s.High), Found: in(s.Found), Left: in(s.Left), U: in(s.U)})
		}
	}
	slices.Reverse(c.Points)
	if len(c.Points) == 0 {
		return nil
	}
	up, down := 0, 0
	for i := range c.Points[1:] {
		a, b := c.Points[i], c.Points[i+1]
		if a.Left == nil || b.Found == nil {
			continue
		}
		m := Move{From: a.Job, To: b.Job, By: calc.Difference(*b.Found, *a.Left)}
		if a.U != nil && b.U != nil {
			m.Allow = math.Hypot(*a.U, *b.U)
			m.Beyond = math.Abs(m.By) > m.Allow
		}
		switch {
		case m.Beyond && m.By > 0:
			up++
		case m.Beyond:
			down++
		}
		c.Moves = append(c.Moves, m)
	}
	n := len(c.Moves)
	c.Drifts = name != specs.TimingPack && n > 1 && max(up, down) == n
	return c
}

// Findings say in words what the history shows, the drifts first.
func (v *Visits) Findings() []string {
	day := func(iso string) string {
		t, err := time.Parse("2006-01-02", iso)
		if err != nil {
			return iso
		}
		return v.Date(t)
	}
	jobs := v.T("One job, of %s; a second one will show what moves in service.", day(v.Jobs[0].Received))
	if n := len(v.Jobs); n > 1 {
		first, last := v.Jobs[0].Received, v.Jobs[n-1].Received
		jobs = v.T("Here %d times in %s years, from %s to %s.", n, v.Fixed(year(last)-year(first), 1), day(first), day(last))
	}
	out := []string{jobs}
	var moved []string
	compared := 0
	for _, c := range v.Courses {
		if len(c.Moves) == 0 {
			continue
		}
		compared++
		figure := func(x float64) string {
			return v.Mark(calc.LengthOf(x, unitOf(c.Unit)).Signed(unitOf(c.Unit), c.Decimals))
		}
		last := c.Moves[len(c.Moves)-1]
		switch {
		case c.Dimension == specs.TimingPack: // shims do not grow
			if last.Beyond {
				moved = append(moved, v.T("%s is not the one left last: %s %s. Somebody changed it.", c.Title, figure(last.By), c.Unit))
			}
		case c.Drifts:
			var each []string
			for _, m := range c.Moves[max(0, len(c.Moves)-mostMoves):] {
				each = append(each, figure(m.By))
			}
			out = append(out, v.T("**%s drifts in service:** %d times the same way, at last %s %s.", c.Title, len(c.Moves), strings.Join(each, ", "), c.Unit))
		case last.Beyond:
			moved = append(moved, v.T("%s moved by %s %s since it was left last, more than its uncertainty.", c.Title, figure(last.By), c.Unit))
		}
	}
	out = append(out, moved...)
	if compared > 0 && len(out) == 1 {
		out = append(out, v.T("Nothing moved in service by more than its uncertainty."))
	}
	return append(out, leftOut(v.Printer, v.LeftOut)...)
}

// mostMoves is how many of a drift are said one by one.
const mostMoves = 3

func unitOf(symbol string) calc.Unit {
	u, _ := calc.ParseUnit(symbol)
	return u
}

// String is the history for a person at a terminal.
func (v *Visits) String() string {
	var w strings.Builder
	fmt.Fprintf(&w, "%s %s\n", v.Pump, v.Serial)
	for _, l := range v.Jobs {
		fmt.Fprintf(&w, "  %s  %s  %s: %s", l.Job, l.Received, l.Customer, v.state(l))
		if len(l.Found) > 0 {
			fmt.Fprintf(&w, "\n      %s", strings.Join(l.Found[:min(len(l.Found), 3)], "; "))
			if n := len(l.Found) - 3; n > 0 {
				fmt.Fprintf(&w, "; +%d", n)
			}
		}
		w.WriteByte('\n')
	}
	for _, c := range v.Courses {
		fmt.Fprintf(&w, "  %-36s", c.Title)
		for _, p := range c.Points {
			fmt.Fprintf(&w, "  %s→%s", figure(v.Printer, p.Found, c.Decimals), figure(v.Printer, p.Left, c.Decimals))
		}
		fmt.Fprintf(&w, "  %s\n", c.Unit)
	}
	for _, f := range v.Findings() {
		fmt.Fprintf(&w, "%s\n", strings.ReplaceAll(f, "**", ""))
	}
	return w.String()
}

// state is how far a job is, as printed.
func (v *Visits) state(l *Listed) string {
	switch l.State {
	case TakenIn:
		return v.T("taken in")
	case BeingTyped:
		return v.T("being typed")
	}
	return v.T(l.State)
}

// JSON is the history for a program.
func (v *Visits) JSON() ([]byte, error) {
	data, err := json.MarshalIndent(v, "", "  ")
	return append(data, '\n'), err
}

// year is a day as a point on an axis of years.
func year(iso string) float64 {
	t, err := time.Parse("2006-01-02", iso)
	if err != nil {
		return math.NaN()
	}
	first := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(t.Year()) + t.Sub(first).Hours()/first.AddDate(1, 0, 0).Sub(first).Hours()
}

// plot draws a dimension against the date: found and left at each job over the
// band of its limits, and thin lines for the time in service.
func (v *Visits) plot(c *Course, height float64) layout.Plot {
	p := layout.Plot{Title: c.Title + ", " + c.Unit, Height: height, Whole: true, Empty: v.T("no readings")}
	found := layout.Series{Open: true, Loose: true}
	left := layout.Series{Loose: true}
	var x, mid, half, low, high []float64
	for _, q := range c.Points {
		t := year(q.Date)
		low, high = append(low, q.Low), append(high, q.High)
		x, mid, half = append(x, t), append(mid, (q.Low+q.High)/2), append(half, (q.High-q.Low)/2)
		if q.Found != nil {
			found.X, found.Y = append(found.X, t), append(found.Y, *q.Found)
		}
		if q.Left != nil {
			left.X, left.Y = append(left.X, t), append(left.Y, *q.Left)
		}
	}
	// Of the limits the whole band.
	p.YMin, p.YMax = slices.Min(low), slices.Max(high)
	p.XMin, p.XMax = math.Floor(x[0]), math.Floor(x[len(x)-1])+1
	x, mid, half = slices.Concat([]float64{p.XMin}, x, []float64{p.XMax}), pad(mid), pad(half)
	p.Fits = append(p.Fits, layout.Fit{X: x, Y: mid, Half: half, Dash: true})
	for i := range c.Points[1:] {
		a, b := c.Points[i], c.Points[i+1]
		if a.Left != nil && b.Found != nil {
			p.Fits = append(p.Fits, layout.Fit{X: []float64{year(a.Date), year(b.Date)}, Y: []float64{*a.Left, *b.Found}})
		}
	}
	p.Series = []layout.Series{found, left}
	return p
}

// pad repeats the ends of a list.
func pad(v []float64) []float64 {
	return slices.Concat(v[:1], v, v[len(v)-1:])
}

// mostVisits is how many jobs the page lists: the last ones.
const mostVisits = 8

// PDF is the history as one page.
func (v *Visits) PDF() ([]byte, error) {
	j := v.job
	f := j.frame(v.T("History of a pump"))
	f.Symbol = nil
	f.Number = typed(v.Serial)
	f.Lines = []string{"**" + typed(v.Pump) + "**", ""}
	if n := len(v.Jobs); n > 0 {
		f.Lines[1] = typed(v.Jobs[n-1].Customer)
	}
	f.Notice = invented(v.Printer, v.Jobs)
	f.Foot = v.T("Each job's own report has the figures and their uncertainty.") + " " + join(" · ", append([]string{j.Shop.Name}, append(append([]string(nil), j.Shop.Address...), j.Shop.Contact)...)...)
	last := v.Jobs[len(v.Jobs)-1]
	date, _ := time.Parse("2006-01-02", last.date())
	d := layout.New(j.paper(), layout.Meta{Title: v.T("History of pump %s", v.Serial), Subject: v.Pump, Author: j.Shop.Name, Language: j.locale(), Date: date}, f)
	heights := []float64{52, 46, 42, 38, 34, 30, 26}
	d.Add(layout.Section{Key: "1", Bookmark: v.T("History"), Blocks: v.blocks(heights[0], mostVisits), Shortest: len(heights) + mostVisits - 4, Shorter: func(n int) []layout.Block {
		return v.blocks(heights[min(n, len(heights)-1)], min(mostVisits, mostVisits+len(heights)-1-n))
	}})
	return d.Bytes()
}

// invented is the notice on a page that holds invented figures.
func invented(p words.Printer, list []*Listed) string {
	if slices.ContainsFunc(list, func(l *Listed) bool { return l.Invented }) {
		return p.T(notice)
	}
	return ""
}

func (v *Visits) blocks(height float64, most int) []layout.Block {
	shown := v.Jobs[max(0, len(v.Jobs)-most):]
	t := layout.Table{Size: 8.5, Cols: []layout.Col{{Head: v.T("received"), Weight: 1.3}, {Head: v.T("job"), Weight: 1.2}, {Head: v.T("customer"), Weight: 2.4}, {Head: v.T("you told us"), Weight: 4}, {Head: v.T("result"), Weight: 2.2}}}
	for _, l := range shown {
		day := l.Received
		if d, err := time.Parse("2006-01-02", day); err == nil {
			day = v.Date(d)
		}
		t.Rows = append(t.Rows, []layout.Cell{{Text: day}, {Text: l.Job, Bold: true}, {Text: typed(brief(l.Customer, 40))}, {Text: typed(brief(l.Complaint, 90))}, {Text: v.state(l)}})
	}
	blocks := []layout.Block{t}
	if n := len(v.Jobs) - len(shown); n > 0 {
		blocks = append(blocks, layout.Para{Text: v.T("Earlier jobs not listed: %d; they are in the plots.", n), Size: 7.5, Grey: true})
	}
	blocks = append(blocks, layout.Heading{Text: v.T("What the readings show")}, layout.Bullets{Items: v.Findings()})
	if len(v.Courses) > 0 {
		blocks = append(blocks, layout.Heading{Text: v.T("Static dimensions by year")})
	}
	blocks = append(blocks, plots(v.Courses, func(c *Course) layout.Plot { return v.plot(c, height) })...)
	if len(v.Courses) > 0 {
		blocks = append(blocks, layout.Para{Text: v.T("Open: found; full: left; between them the time in service. Band: the limits of each job's sheet, dashed their middle."), Size: 7.5, Grey: true})
	}
	return blocks
}

// plots sets the plots of dimensions side by side, two or, of many, three.
func plots[T any](of []T, plot func(T) layout.Plot) (rows []layout.Block) {
	across := 2
	if len(of) > 6 {
		across = 3
	}
	for row := range slices.Chunk(of, across) {
		cols := make([][]layout.Block, across)
		for i, x := range row {
			cols[i] = []layout.Block{plot(x)}
		}
		rows = append(rows, layout.Columns{Cols: cols})
	}
	return rows
}

// brief shortens a text that has to share a page.
func brief(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:n-1]), " ,;.") + "…"
}
