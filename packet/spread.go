package packet

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"shimcard/calc"
	"shimcard/layout"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Spread is how the static dimensions that all jobs left scatter.
type Spread struct {
	words.Printer `json:"-"`
	Spec          string      `json:"spec,omitempty"` // only pumps of this name
	Jobs          int         `json:"jobs"`
	Dimensions    []*Scatter  `json:"dimensions"`
	Compared      int         `json:"comparisons"`
	Apart         []StandsOut `json:"stand_out"`          // the least likely by chance first
	LeftOut       []string    `json:"left_out,omitempty"` // further folders of the same jobs

	list []*Listed
	job  *Job // the last: its shop's paper
}

// Scatter is one dimension over the jobs. Every figure is in parts of half the
// width of the limits: 0 in their middle, −1 and +1 at them.
type Scatter struct {
	Dimension specs.DimensionName `json:"dimension"`
	Title     string              `json:"title"`
	N         int                 `json:"n"`
	OffTarget float64             `json:"mean_off_target"`
	Mean      float64             `json:"mean"`
	S         *float64            `json:"standard_deviation"` // null: one job only
	Low       *float64            `json:"control_low"`
	High      *float64            `json:"control_high"`
	Outside   []string            `json:"outside_control"` // jobs
	Cp        *float64            `json:"cp"`              // null: they do not scatter
	Cpk       *float64            `json:"cpk"`
	CpkLow    *float64            `json:"cpk_exceeds_95_percent"`

	left []float64
}

// StandsOut is a group of jobs whose mean differs from the others'.
type StandsOut struct {
	Dimension specs.DimensionName `json:"dimension"`
	Shared                        // the farthest from the others
	// Groups of the same jobs: nobody can tell which of them it is.
	Also []Shared `json:"also,omitempty"`
	N    int      `json:"n"`
	Off  float64  `json:"off"` // mean of the group less the mean of the others
	F    *float64 `json:"f"`   // null: no group scatters
	P    float64  `json:"p"`   // times the number of comparisons, at most 1 (Bonferroni)

	title string
}

// Shared is what some jobs have in common.
type Shared struct {
	By   string `json:"by"`    // instrument, spec or person
	Name string `json:"group"` // which
}

// outOfChance is the probability below which a difference is said to be one.
const outOfChance = 0.05

// SpreadOf works out the scatter from a list of jobs below root; spec, when not
// "", is the name of the only pumps to look at.
func SpreadOf(root, spec string, list []*Listed) (*Spread, error) {
	s := &Spread{Spec: spec, Dimensions: []*Scatter{}, Apart: []StandsOut{}}
	known := map[string]bool{}
	type reading struct {
		job    *Listed
		x, off float64
		Setting
	}
	all := map[specs.DimensionName][]reading{}
	var chosen []*Listed
	for _, l := range list {
		known[l.Pump] = true
		if l.Trouble == "" && (spec == "" || strings.EqualFold(l.Pump, spec)) {
			chosen = append(chosen, l)
		}
	}
	chosen, s.LeftOut = oncePerJob(chosen)
	for _, l := range chosen {
		used := false
		for _, t := range l.Settings() {
			half := (t.High - t.Low) / 2
			if t.Left == nil || !(half > 0) {
				continue
			}
			used = true
			all[t.Dimension] = append(all[t.Dimension], reading{l, (*t.Left - (t.High+t.Low)/2) / half, (*t.Left - t.Target) / half, t})
		}
		if used {
			s.list = append(s.list, l)
			if spec != "" {
				s.Spec = l.Pump // as the plate has it
			}
		}
	}
	s.Jobs = len(s.list)
	if s.Jobs == 0 {
		delete(known, "")
		if spec != "" && !known[spec] {
			return nil, fmt.Errorf("%s: no job of a pump named %q; there are: %s", root, spec, strings.Join(slices.Sorted(maps.Keys(known)), ", "))
		}
		return nil, fmt.Errorf("%s: no job with a report and a dimension measured; make one: benchreport make JOB", root)
	}
	job, err := Open(filepath.Join(root, s.list[s.Jobs-1].Folder))
	if err != nil {
		return nil, err
	}
	s.job, s.Printer = job, job.Printer
	factors := []struct {
		name string
		of   func(reading) string
	}{
		{"instrument", func(r reading) string { return r.Instrument }},
		{"spec", func(r reading) string { return r.job.Pump + ", " + r.Sheet }},
		{"person", func(r reading) string { return r.By }},
	}
	for _, name := range specs.DimensionNames {
		rs := all[name]
		if len(rs) == 0 {
			continue
		}
		// In the order in which they were left.
		slices.SortStableFunc(rs, func(a, b reading) int {
			return cmp.Or(cmp.Compare(a.job.date(), b.job.date()), cmp.Compare(a.job.Job, b.job.Job))
		})
		c := &Scatter{Dimension: name, Title: s.T(practices[name].title), N: len(rs), Outside: []string{}}
		var off []float64
		for _, r := range rs {
			c.left, off = append(c.left, calc.Rounded(r.x, 9)), append(off, calc.Rounded(r.off, 9))
		}
		c.Mean, c.OffTarget = calc.Mean(c.left), calc.Mean(off)
		if chart, err := calc.Individuals(c.left); err == nil {
			sd := calc.StdDev(c.left)
			c.S, c.Low, c.High = &sd, &chart.Low, &chart.High
			for _, i := range chart.Outside {
				c.Outside = append(c.Outside, rs[i].job.Job)
			}
			if k, err := calc.Capable(c.Mean, sd, c.N, -1, 1, .95); err == nil && sd > 1e-9 {
				c.Cp, c.Cpk, c.CpkLow = &k.Cp, &k.Cpk, &k.Low
			}
		}
		s.Dimensions = append(s.Dimensions, c)
		var before []split
		for _, f := range factors {
			now := split{apart: -1, part: make([]int, len(rs)), name: make([]string, len(rs))}
			for i, r := range rs {
				now.name[i] = f.of(r)
				now.part[i] = slices.Index(now.name, now.name[i])
			}
			if k := slices.IndexFunc(before, func(b split) bool { return slices.Equal(b.part, now.part) }); k < 0 {
				s.compare(c, f.name, &now)
				before = append(before, now)
			} else if at := before[k].apart; at >= 0 {
				a := &s.Apart[at]
				a.Also = append(a.Also, Shared{f.name, now.name[slices.Index(before[k].name, a.Name)]})
			}
		}
	}
	// Many comparisons find something by chance: each counts for all (Bonferroni).
	for i := range s.Apart {
		s.Apart[i].P = min(1, s.Apart[i].P*float64(s.Compared))
	}
	s.Apart = slices.DeleteFunc(s.Apart, func(a StandsOut) bool { return !(a.P < outOfChance) })
	slices.SortStableFunc(s.Apart, func(a, b StandsOut) int { return cmp.Compare(a.P, b.P) })
	return s, nil
}

// split parts the readings of a dimension into groups.
type split struct {
	name  []string // of each reading's group, "" for none
	part  []int    // the same by the first reading of the group
	apart int      // its place in Spread.Apart; -1: nothing to compare
}

// compare sets the groups of one dimension against each other, and notes the one
// that is farthest from the others in standard errors.
func (s *Spread) compare(c *Scatter, by string, of *split) {
	groups := map[string][]float64{}
	for i, g := range of.name {
		if g != "" {
			groups[g] = append(groups[g], c.left[i])
		}
	}
	names := slices.Sorted(maps.Keys(groups))
	var values [][]float64
	for _, n := range names {
		values = append(values, groups[n])
	}
	f, p, err := calc.OneWay(values...)
	if err != nil {
		return
	}
	s.Compared++
	a := StandsOut{Dimension: c.Dimension, P: p, title: c.Title}
	if !math.IsInf(f, 0) && !math.IsNaN(f) {
		a.F = &f
	}
	far := -1.0
	for i, n := range names {
		others := slices.Concat(slices.Concat(values[:i]...), slices.Concat(values[i+1:]...))
		off := calc.Mean(values[i]) - calc.Mean(others)
		// Their variances are taken as one, so the standard error goes with the numbers.
		k, m := float64(len(values[i])), float64(len(others))
		if z := off * off / (1/k + 1/m); z > far {
			far = z
			a.Shared, a.N, a.Off = Shared{by, n}, len(values[i]), off
		}
	}
	of.apart = len(s.Apart)
	s.Apart = append(s.Apart, a)
}

// Findings say in words what stands out.
func (s *Spread) Findings() []string {
	var out []string
	by := map[string]string{"instrument": s.T("instrument"), "spec": s.T("spec"), "person": s.T("person")}
	for _, a := range s.Apart {
		var who []string
		for _, g := range append([]Shared{a.Shared}, a.Also...) {
			who = append(who, by[g.By]+" **"+typed(g.Name)+"**")
		}
		side, f := 1, "∞"
		if a.Off < 0 {
			side = -1
		}
		if a.F != nil {
			f = s.Fixed(*a.F, 1)
		}
		out = append(out, s.T(lowHigh(side, "%s, %s (n = %d): mean below that of the others by %s of half the limits' width (F %s, p %s).",
			"%s, %s (n = %d): mean above that of the others by %s of half the limits' width (F %s, p %s)."),
			a.title, strings.Join(who, ", "), a.N, s.Fixed(max(a.Off, -a.Off), 2), f, s.chance(a.P)))
	}
	for _, c := range s.Dimensions {
		if n := len(c.Outside); n > 0 {
			out = append(out, s.T("%s: %d of %d outside the control limits: %s.", c.Title, n, c.N, someOf(c.Outside, 6)))
		}
	}
	if len(out) == 0 {
		out = append(out, s.T("Nothing stands out."))
	}
	return append(out, leftOut(s.Printer, s.LeftOut)...)
}

func (s *Spread) chance(p float64) string {
	if p < 0.001 {
		return "<\u00a0" + s.Fixed(0.001, 3)
	}
	return s.Fixed(p, 3)
}

// someOf lists the last few of many.
func someOf(list []string, most int) string {
	if len(list) > most {
		return "… " + strings.Join(list[len(list)-most:], ", ")
	}
	return strings.Join(list, ", ")
}

// fewJobs: capability from fewer than some 25 readings is an indication only
// (common practice, no source).
const fewJobs = 25

// cells are a row of the table: n, off target, s, control limits, outside, Cp,
// Cpk, its bound.
func (s *Spread) cells(c *Scatter) []string {
	limits := "–"
	if c.Low != nil {
		limits = s.Fixed(*c.Low, 2) + " … " + s.Fixed(*c.High, 2)
	}
	return []string{fmt.Sprint(c.N), s.Fixed(c.OffTarget, 2), figure(s.Printer, c.S, 2), limits, fmt.Sprint(len(c.Outside)), figure(s.Printer, c.Cp, 2), figure(s.Printer, c.Cpk, 2), figure(s.Printer, c.CpkLow, 2)}
}

func (s *Spread) heads() []string {
	return []string{s.T("jobs"), s.T("off target"), "s", s.T("control limits"), s.T("outside them"), "Cp", "Cpk", "Cpk 95 % >"}
}

// few says that there are too few jobs to build on, "" when there are enough.
func (s *Spread) few() string {
	if !slices.ContainsFunc(s.Dimensions, func(c *Scatter) bool { return c.N < fewJobs }) {
		return ""
	}
	return s.T("Fewer than %d jobs of a dimension: its limits and capability are an indication only.", fewJobs)
}

// String is the table for a person at a terminal.
func (s *Spread) String() string {
	var w strings.Builder
	t := tabwriter.NewWriter(&w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "\t%s\n", strings.Join(s.heads(), "\t"))
	for _, c := range s.Dimensions {
		fmt.Fprintf(t, "%s\t%s\n", c.Title, strings.Join(s.cells(c), "\t"))
	}
	t.Flush()
	for _, line := range append(s.Findings(), s.few()) {
		if line != "" {
			fmt.Fprintf(&w, "%s\n", strings.ReplaceAll(line, "**", ""))
		}
	}
	return w.String()
}

// JSON is the table for a program.
func (s *Spread) JSON() ([]byte, error) {
	data, err := json.MarshalIndent(s, "", "  ")
	return append(data, '\n'), err
}

// mostPoints is how many jobs a plot shows: the last ones.
const mostPoints = 80

// plot draws what the last jobs left over the band of the limits, with the mean
// and the control limits of all.
func (s *Spread) plot(c *Scatter, height float64) layout.Plot {
	p := layout.Plot{Title: c.Title, Height: height, Whole: true}
	from := max(0, len(c.left)-mostPoints)
	left := layout.Series{}
	for i, x := range c.left[from:] {
		left.X, left.Y = append(left.X, float64(from+i+1)), append(left.Y, x)
	}
	x := []float64{float64(from) + .5, float64(len(c.left)) + .5}
	level := func(y float64) []float64 { return []float64{y, y} }
	p.Fits = append(p.Fits, layout.Fit{X: x, Y: level(0), Half: level(1), Dash: true}, layout.Fit{X: x, Y: level(c.Mean)})
	if c.Low != nil {
		p.Fits = append(p.Fits, layout.Fit{X: x, Y: level(*c.Low), Dash: true}, layout.Fit{X: x, Y: level(*c.High), Dash: true})
	}
	p.Series = []layout.Series{left}
	p.YMin, p.YMax = min(-1, slices.Min(left.Y)), max(1, slices.Max(left.Y)) // so that all plots of jobs inside have one scale
	if c.Low != nil {
		p.YMin, p.YMax = min(p.YMin, max(*c.Low, -2)), max(p.YMax, min(*c.High, 2))
	}
	return p
}

// PDF is the table and the plots as a page.
func (s *Spread) PDF() ([]byte, error) {
	j := s.job
	f := j.frame(s.T("Spread over all jobs"))
	f.Symbol = nil
	f.Number = sentenceCase(s.T("jobs: %d", s.Jobs))
	first, last := s.list[0], s.list[s.Jobs-1]
	f.Lines = []string{"**" + typed(cmp.Or(s.Spec, s.T("all specs"))) + "**", s.T("received from %s to %s", s.day(first.Received), s.day(last.Received))}
	f.Notice = invented(s.Printer, s.list)
	f.Foot = s.T("Parts of half the limits' width: 0 in their middle, −1 and +1 at the limits.") + " " + j.Shop.Name
	date, _ := time.Parse("2006-01-02", last.date())
	d := layout.New(j.paper(), layout.Meta{Title: s.T("Spread over all jobs"), Subject: s.Spec, Author: j.Shop.Name, Language: j.locale(), Date: date}, f)
	heights := []float64{44, 40, 36, 32, 28, 25}
	d.Add(layout.Section{Key: "1", Bookmark: s.T("Spread"), Blocks: s.blocks(heights[0]), Shortest: len(heights) - 1, Shorter: func(n int) []layout.Block {
		return s.blocks(heights[n])
	}})
	return d.Bytes()
}

func (s *Spread) day(iso string) string {
	d, err := time.Parse("2006-01-02", iso)
	if err != nil {
		return iso
	}
	return s.Date(d)
}

func (s *Spread) blocks(height float64) []layout.Block {
	t := layout.Table{Size: 8.5, Cols: []layout.Col{{Head: s.T("item"), Weight: 3.4}}}
	for i, h := range s.heads() {
		t.Cols = append(t.Cols, layout.Col{Head: h, Weight: []float64{.8, 1.2, .8, 1.9, 1, .8, .8, 1.3}[i], Align: "R"})
	}
	for _, c := range s.Dimensions {
		row := []layout.Cell{{Text: c.Title}}
		for _, x := range s.cells(c) {
			row = append(row, layout.Cell{Text: x})
		}
		t.Rows = append(t.Rows, row)
	}
	findings := s.Findings()
	const most = 6 // the rest at the terminal
	if n := len(findings) - most; n > 0 {
		findings = append(findings[:most:most], s.T("%d more: benchreport spread lists them.", n))
	}
	blocks := []layout.Block{t, layout.Heading{Text: s.T("What stands out")}, layout.Bullets{Items: findings}}
	how := s.T("Control limits from the moving ranges; Cp and Cpk from s (NIST/SEMATECH e-Handbook 6.3.2.2, 6.1.6).")
	if s.Compared > 0 {
		how += " " + s.T("Instruments, specs and people compared by one-way analysis of variance (7.4.3 there), 5 %% over all %d comparisons.", s.Compared)
	}
	note := join(" ", how, s.few())
	blocks = append(blocks, layout.Para{Text: note, Size: 7.5, Grey: true}, layout.Heading{Text: s.T("As left, job after job")})
	blocks = append(blocks, plots(s.Dimensions, func(c *Scatter) layout.Plot { return s.plot(c, height) })...)
	blocks = append(blocks, layout.Para{Text: s.T("Band: the limits. Thin line: mean; dashed: control limits and the middle of the limits. At most the last %d jobs.", mostPoints), Size: 7.5, Grey: true})
	return blocks
}
