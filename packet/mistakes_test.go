package packet

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
)

// A mistake is one way in which a correct text goes wrong in typing; make
// returns the other text, or "", false where it cannot happen in that box.
type mistake struct {
	kind string
	make func(m *mistakes, b *Box, text string) (string, bool)
}

type mistakes struct {
	*rand.Rand
	j     *Job
	typed map[string]string
	boxes []*Box          // typed, in sheet order
	works []*Box          // worked out
	pens  map[*Box]string // what the pen works out, typed only where it goes wrong
	trays map[*Box]*Adjustment
	pairs map[*Box]*Box // the other side's stack

	above   map[*Box]*Readings // what is typed before a box
	fair    *Readings          // the form without a mistake
	outcome string             // and what comes of it
}

const (
	slipped  = "a sum of the pen's that does not add up"
	misread  = "a digit misread: 1 for 7, 3 for 8, 0 for 6, 4 for 9"
	omitted  = "left out"
	withheld = "sign-off left out on a hold"
)

// kinds are those of the issue, and the rest of what the trade knows: design
// notes, "How people write and mistype". Common practice, no source.
var kinds = []mistake{
	{"mark left out", func(m *mistakes, b *Box, s string) (string, bool) {
		return strings.Replace(s, ".", "", 1), b.Kind == Number && strings.Contains(s, ".")
	}},
	{"mark one place off", func(m *mistakes, b *Box, s string) (string, bool) {
		x, d, err := calc.ParseNumber(s)
		if b.Kind != Number || err != nil || d == 0 {
			return "", false
		}
		by := 1
		if m.IntN(2) == 0 {
			by = -1
		}
		return typeFigure(x*math.Pow10(by), d-by), true
	}},
	{"mark two places off", func(m *mistakes, b *Box, s string) (string, bool) {
		x, d, err := calc.ParseNumber(s)
		if b.Kind != Number || err != nil || d < 2 {
			return "", false
		}
		return typeFigure(x*100, d-2), true
	}},
	{"comma for a thousands mark", func(m *mistakes, b *Box, s string) (string, bool) {
		x, d, err := calc.ParseNumber(s)
		if b.Kind != Number || err != nil || d > 0 || x < 1000 {
			return "", false
		}
		return s[:len(s)-3] + "," + s[len(s)-3:], true
	}},
	{"neighbouring digits swapped", func(m *mistakes, b *Box, s string) (string, bool) {
		var at []int
		for i := 0; i+1 < len(s); i++ {
			if isDigit(s[i]) && isDigit(s[i+1]) && s[i] != s[i+1] {
				at = append(at, i)
			}
		}
		if b.Kind != Number || len(at) == 0 {
			return "", false
		}
		i := at[m.IntN(len(at))]
		return s[:i] + s[i+1:i+2] + s[i:i+1] + s[i+2:], true
	}},
	{misread, func(m *mistakes, b *Box, s string) (string, bool) {
		const like = "1773388306604994"
		var out []string
		for i := range s {
			for k := 0; k < len(like); k += 2 {
				if s[i] == like[k] {
					out = append(out, s[:i]+like[k+1:k+2]+s[i+1:])
				}
			}
		}
		if b.Kind != Number || len(out) == 0 {
			return "", false
		}
		return out[m.IntN(len(out))], true
	}},
	{"a digit too many or too few", func(m *mistakes, b *Box, s string) (string, bool) {
		i := m.IntN(len(s))
		if b.Kind != Number || !isDigit(s[i]) {
			return "", false
		}
		if m.IntN(2) == 0 {
			return s[:i] + s[i:i+1] + s[i:], true
		}
		return s[:i] + s[i+1:], len(s) > 1
	}},
	{"mm for inch, or inch for mm", func(m *mistakes, b *Box, s string) (string, bool) {
		x, d, err := calc.ParseNumber(s)
		if err != nil || b.Unit.Kind != calc.LengthKind {
			return "", false
		}
		if b.Unit == calc.IN {
			return typeFigure(x*25.4, max(d-1, 0)), true
		}
		return typeFigure(x/25.4, d+1), true
	}},
	{"the value of the box above", func(m *mistakes, b *Box, s string) (string, bool) {
		i := slices.Index(m.boxes, b)
		if b.Kind != Number || i < 1 || m.boxes[i-1].Kind != Number {
			return "", false
		}
		return m.typed[m.boxes[i-1].Code], true
	}},
	{"the value of the box below", func(m *mistakes, b *Box, s string) (string, bool) {
		i := slices.Index(m.boxes, b)
		if b.Kind != Number || i < 0 || i+1 == len(m.boxes) || m.boxes[i+1].Kind != Number {
			return "", false
		}
		return m.typed[m.boxes[i+1].Code], true
	}},
	{"a shim that is not in the tray", func(m *mistakes, b *Box, s string) (string, bool) {
		a := m.trays[b]
		x, d, err := calc.ParseNumber(s)
		if a == nil || err != nil {
			return "", false
		}
		step := narrowest(a.Dim.Shims.Tray).In(b.Unit)
		return typeFigure(x+step*(.3+.4*m.Float64())*float64(1-2*m.IntN(2)), d), true
	}},
	{"another shim of the tray", func(m *mistakes, b *Box, s string) (string, bool) {
		a := m.trays[b]
		x, d, err := calc.ParseNumber(s)
		if a == nil || err != nil {
			return "", false
		}
		return typeFigure(x+narrowest(a.Dim.Shims.Tray).In(b.Unit)*float64((1+m.IntN(3))*(1-2*m.IntN(2))), d), true
	}},
	{"fitted left differs from fitted right", func(m *mistakes, b *Box, s string) (string, bool) {
		a := m.trays[b]
		x, d, err := calc.ParseNumber(s)
		if a == nil || err != nil || m.pairs[b] == nil {
			return "", false
		}
		return typeFigure(x+narrowest(a.Dim.Shims.Tray).In(b.Unit)*float64(1-2*m.IntN(2)), d), true
	}},
	{slipped, func(m *mistakes, b *Box, s string) (string, bool) {
		x, _, err := calc.ParseNumber(s)
		if err != nil || b.From == nil {
			return "", false
		}
		return typeFigure(x+math.Pow10(-b.Decimals)*float64((2+m.IntN(20))*(1-2*m.IntN(2))), b.Decimals), true
	}},
	{"day and month swapped, or another year", func(m *mistakes, b *Box, s string) (string, bool) {
		if b.Kind != Date {
			return "", false
		}
		if m.IntN(2) == 0 {
			return strings.Replace(s, "2026", []string{"2025", "2027", "2062"}[m.IntN(3)], 1), true
		}
		return s[:5] + s[8:10] + "-" + s[5:7], true
	}},
	{"another day", func(m *mistakes, b *Box, s string) (string, bool) {
		if b.Kind != Date {
			return "", false
		}
		return fmt.Sprintf("%s%02d", s[:8], 1+m.IntN(28)), true
	}},
	{withheld, func(m *mistakes, b *Box, s string) (string, bool) {
		return "", slices.ContainsFunc(m.j.Stages, func(s *Stage) bool { return s.Second == b })
	}},
	{omitted, func(m *mistakes, b *Box, s string) (string, bool) { return "", b.Kind == Number }},
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func typeFigure(x float64, decimals int) string {
	return strings.ReplaceAll(calc.Fixed(x, max(decimals, 0)), "−", "-")
}

func newMistakes(t testing.TB, j *Job, typed map[string]string, rng *rand.Rand) *mistakes {
	m := &mistakes{Rand: rng, j: j, typed: maps.Clone(typed), trays: map[*Box]*Adjustment{}, pairs: map[*Box]*Box{}, pens: map[*Box]string{}, above: map[*Box]*Readings{}}
	v := newValues(entries(j, typed))
	for _, b := range j.Boxes() {
		if x, ok := v.number(b); ok && b.From != nil {
			m.pens[b] = typeFigure(x, b.Decimals)
			m.works = append(m.works, b)
		}
		if m.typed[b.Code] != "" {
			m.boxes = append(m.boxes, b)
		}
	}
	for _, a := range j.Adjustments {
		if a.Dim.Shims == nil {
			continue
		}
		boxes := slices.Clone(a.Out)
		for _, out := range a.Out {
			if out.From != nil {
				for _, term := range out.From.Terms {
					boxes = append(boxes, term.Box)
				}
			}
		}
		for _, try := range a.Tries {
			boxes = append(boxes, try.Fitted...)
			if len(try.Fitted) == 2 && a.Dim.Shims.Prescribed == 0 {
				m.pairs[try.Fitted[0]], m.pairs[try.Fitted[1]] = try.Fitted[1], try.Fitted[0]
			}
		}
		for _, b := range boxes {
			if b.From == nil {
				m.trays[b] = a
			}
		}
	}
	m.fair = entries(j, m.typed)
	soFar := &Readings{Entries: map[string]Entry{}}
	for _, b := range j.Boxes() {
		m.above[b] = &Readings{Entries: maps.Clone(soFar.Entries)}
		soFar.Entries[b.Code] = m.fair.Entries[b.Code]
	}
	m.outcome = outcome(j.judged(m.fair).res)
	require.Empty(t, j.Doubts(m.fair), "a correct form")
	return m
}

// right is what belongs in a box.
func (m *mistakes) right(b *Box) string {
	if b.From != nil {
		return m.pens[b]
	}
	return m.typed[b.Code]
}

// any makes one mistake of a kind, in a box of its own choice.
func (m *mistakes) any(k mistake) (*Box, string) {
	boxes := m.boxes
	if k.kind == slipped {
		boxes = m.works
	}
	for range 4000 {
		b := boxes[m.IntN(len(boxes))]
		was := m.right(b)
		if is, ok := k.make(m, b, was); ok && is != was {
			var x, y Entry
			b.read(was, &x)
			if _, want := b.read(is, &y); want != "" || !b.same(x, y) {
				return b, is
			}
		}
	}
	return nil, ""
}

// again is what a second person types who makes a mistake in the box too.
func (m *mistakes) again(b *Box) string {
	was := m.right(b)
	for {
		if s, ok := kinds[m.IntN(len(kinds))].make(m, b, was); ok {
			return s
		}
	}
}

// outcome is all that a report says of verdicts and shims.
func outcome(r *Results) string {
	var w strings.Builder
	fmt.Fprintln(&w, r.Overall)
	for _, it := range r.Items {
		if it.Group != Conditions {
			fmt.Fprintln(&w, it.Name, it.Verdict, it.FoundOut, it.Advice, it.Change)
		}
	}
	return w.String()
}

// The mistake trial of the issue: single mistakes in correct forms, with a fixed
// seed. Caught as typed is one that enter asks about before it goes on, with no more
// than the boxes above typed; in the form, one that status lists, as doubted or
// missing, or that cannot be read; typed twice, one of those or one that the second
// person does not type likewise: one box in fifty goes wrong in the second typing too, and a digit that one person misread
// from the stained sheet the second misreads likewise one time in five.
func TestMistakeTrial(t *testing.T) {
	const trials, errs, stained = 10500, .02, .2
	type count struct{ n, atOnce, caught, twice, matter, matterAtOnce, matterCaught, matterTwice, instead int }
	counts := map[string]*count{}
	total := &count{}
	missed := map[string]int{}
	rng := rand.New(rand.NewPCG(7, 26))
	var ms []*mistakes
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		ms = append(ms, newMistakes(t, j, typed, rng))
	}
	tried := make([]trial, trials)
	for i := range tried {
		k := kinds[i%len(kinds)]
		m := ms[i/len(kinds)%len(ms)]
		b, is := m.any(k)
		if b == nil {
			m = ms[(i/len(kinds)+1)%len(ms)]
			if b, is = m.any(k); b == nil {
				t.Fatalf("no box for %q", k.kind)
			}
		}
		x := trial{m: m, kind: k.kind, b: b, is: is, other: m.right(b)}
		switch {
		case k.kind == misread && m.Float64() < stained:
			x.other = is
		case m.Float64() < errs:
			x.other = m.again(b)
		}
		tried[i] = x
	}
	var work sync.WaitGroup
	for w := range runtime.GOMAXPROCS(0) {
		work.Go(func() {
			asTyped := map[*Box]*Typing{} // as the form is when a box has its turn
			for i := w; i < trials; i += runtime.GOMAXPROCS(0) {
				x := &tried[i]
				if asTyped[x.b] == nil {
					asTyped[x.b] = &Typing{Job: x.m.j, Readings: x.m.above[x.b]}
				}
				x.look(asTyped[x.b])
			}
		})
	}
	work.Wait()
	for _, x := range tried {
		caught, matters, instead := x.caught, x.matters, x.instead
		twice := caught || x.other != x.is
		c := counts[x.kind]
		if c == nil {
			c = &count{}
			counts[x.kind] = c
		}
		for _, c := range []*count{c, total} {
			c.n++
			c.atOnce += unity(x.atOnce)
			c.caught += unity(caught)
			c.twice += unity(twice)
			c.instead += unity(instead)
			if matters {
				c.matter++
				c.matterAtOnce += unity(x.atOnce)
				c.matterCaught += unity(caught)
				c.matterTwice += unity(twice)
			}
		}
		if matters && !caught {
			missed[fmt.Sprintf("%s: %s %s for %s", x.kind, x.b.Code, x.is, x.m.right(x.b))]++
		}
	}
	table := &strings.Builder{}
	share := func(a, n int) string {
		if n == 0 {
			return "–"
		}
		return fmt.Sprintf("%.1f", 100*float64(a)/float64(n))
	}
	fmt.Fprintf(table, "| mistake | tried | caught as typed, %% | in the form, %% | typed twice, %% | offers what was meant, %% | would change a verdict or a shim | as typed, %% | in the form, %% | typed twice, %% |\n|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|\n")
	row := func(name string, c *count) {
		fmt.Fprintf(table, "| %s | %d | %s | %s | %s | %s | %d | %s | %s | %s |\n", name, c.n,
			share(c.atOnce, c.n), share(c.caught, c.n), share(c.twice, c.n), share(c.instead, c.n),
			c.matter, share(c.matterAtOnce, c.matter), share(c.matterCaught, c.matter), share(c.matterTwice, c.matter))
	}
	for _, k := range kinds {
		row(k.kind, counts[k.kind])
	}
	row("all", total)
	t.Log("\n" + table.String())
	for _, s := range sortedKeys(missed) {
		t.Log(missed[s], s)
	}
	require.GreaterOrEqual(t, total.n, 10000)
	require.GreaterOrEqual(t, float64(total.matterCaught)/float64(total.matter), .95)
	require.GreaterOrEqual(t, float64(total.matterTwice)/float64(total.matter), .99)
}

func unity(b bool) int {
	if b {
		return 1
	}
	return 0
}

// trial is a form with one mistake in it.
type trial struct {
	m         *mistakes
	kind      string
	b         *Box
	is, other string // as mistyped, and as the second person types it

	atOnce, caught, matters, instead bool
}

func (x *trial) look(asTyped *Typing) {
	j := x.m.j
	if _, want := x.b.read(x.is, &Entry{}); want != "" {
		x.atOnce, x.caught = true, true
		return
	}
	x.atOnce = len(asTyped.Check(x.b, x.is)) > 0
	r := x.m.fair.with(x.b, x.is)
	res := j.judged(r).res
	slips := j.slips(r)
	if len(slips.out) == 0 {
		slips.verdicts(res)
	}
	for _, d := range slips.out {
		x.caught = true
		if d.Box == x.b && d.Instead != "" {
			var meant Entry
			x.b.read(d.Instead, &meant)
			var was Entry
			x.b.read(x.m.right(x.b), &was)
			x.instead = x.b.same(meant, was)
		}
	}
	x.caught = x.caught || slices.ContainsFunc(res.Missing, func(m Missing) bool { return m.Code == x.b.Code })
	x.matters = outcome(res) != x.m.outcome
}

var anyFigure = regexp.MustCompile(`[0-9][0-9.,]*`)

// Correct jobs raise few doubts. Source of the share permitted: the issue.
func TestFewFalseAlarms(t *testing.T) {
	const jobs = 1000
	boxes, alarms, stops := 0, 0, 0
	why := map[string]int{}
	var lock sync.Mutex
	var work sync.WaitGroup
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, _ := demoJob(t, name)
		work.Go(func() {
			rng := rand.New(rand.NewPCG(11, uint64(len(name))))
			for range jobs / 2 {
				typed := simulate(t, j, rng)
				doubts := j.Doubts(entries(j, typed))
				lock.Lock()
				boxes, alarms = boxes+len(typed), alarms+len(doubts)
				for _, d := range doubts {
					stops += unity(d.Stops)
					why[fmt.Sprintf("%s: %s, stops %v", d.Box.Code[:1], anyFigure.ReplaceAllString(d.Reason, "n"), d.Stops)]++
				}
				lock.Unlock()
			}
		})
	}
	work.Wait()
	for _, k := range sortedKeys(why) {
		t.Logf("%6d  %s", why[k], k)
	}
	share := float64(alarms) / float64(boxes)
	t.Logf("%d jobs, %d boxes typed, %d doubted (%.2f %%), of which %d stop a report", jobs, boxes, alarms, 100*share, stops)
	require.LessOrEqual(t, share, .02)
}

// A correct job typed box by box in the order of the sheets is asked about no
// more often than as a whole: what is still to be typed raises no doubt.
func TestNoQuestionsOnTheWay(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		forms := []map[string]string{typed}
		if name == "saltmarsh" {
			forms = append(forms, simulate(t, j, rand.New(rand.NewPCG(3, 1))))
		}
		for i, typed := range forms {
			may := map[string]bool{}
			for _, d := range j.Doubts(entries(j, typed)) {
				may[d.Box.Code] = true
			}
			typing := &Typing{Job: j, Readings: entries(j, nil)}
			for _, b := range j.Boxes() {
				if typed[b.Code] == "" {
					continue
				}
				for _, d := range typing.Check(b, typed[b.Code]) {
					if !may[d.Box.Code] {
						t.Errorf("%s %d: %s %s raises %s: %s", name, i, b.Code, typed[b.Code], d.Box.Code, d.Reason)
					}
				}
				typing.Readings = typing.Readings.with(b, typed[b.Code])
			}
		}
	}
}
