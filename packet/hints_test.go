package packet

import (
	"encoding/xml"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/packet/words"
	"shimcard/specs"
)

// All readings of the tests below are invented, and which pattern points to what
// is common practice, no source.

// put types x, in the unit of the box, as the box is written.
func put(typed map[string]string, b *Box, x float64) {
	typed[b.Code] = strconv.FormatFloat(x, 'f', b.Decimals, 64)
}

// middle and half of limits; of limits on one side a twentieth of the limit.
func middle(r specs.Range) (mid, half float64) {
	switch {
	case math.IsInf(r.Low, 0):
		return r.High, r.High / 20
	case math.IsInf(r.High, 0):
		return r.Low, r.Low / 20
	}
	return (r.Low + r.High) / 2, (r.High - r.Low) / 2
}

// offBy sets a row of readings off the middles of their limits, in half widths, by
// speed.
func offBy(typed map[string]string, list []*Reading, by ...float64) (codes []string) {
	for i, x := range list {
		mid, half := middle(x.Spec.Limits)
		put(typed, x.Box, mid+by[i]*half)
		if x.Down != nil {
			put(typed, x.Down, mid+by[i]*half)
		}
		if math.Abs(by[i]) > 1 {
			codes = append(codes, x.Box.Code)
		}
	}
	return codes
}

// delivers types what every outlet of a point gives, per 1000 strokes at the
// reference, both times; the last outlets as the last figure.
func delivers(typed map[string]string, p *Point, per ...float64) {
	for i := range p.First {
		x := per[min(i, len(per)-1)]
		for _, b := range p.readings(i) {
			put(typed, b, x*float64(p.Spec.Strokes)/1000)
		}
	}
	if p.Oil != nil {
		typed[p.Oil.Code] = p.bench.Conditions.Reference.String()
	}
	if p.Counted != nil {
		delete(typed, p.Counted.Code)
	}
}

// kind is the points of a kind, full load by speed.
func (r *Run) kind(k specs.PointKind) (out []*Point) {
	for _, p := range r.Points {
		if p.Spec.Kind == k {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b *Point) int { return int(a.Spec.Speed - b.Spec.Speed) })
	return out
}

// offMean sets the means of points off the middles of their limits, in half
// widths.
func offMean(typed map[string]string, points []*Point, by ...float64) (codes []string) {
	for i, p := range points {
		mid, half := middle(p.Spec.Limits)
		delivers(typed, p, mid+by[i]*half)
		if math.Abs(by[i]) > 1 {
			codes = append(codes, p.Mean.Code)
		}
	}
	return codes
}

type makes func(j *Job, r *Run, typed map[string]string) (restsOn []string)

func pressures(by ...float64) makes {
	return func(j *Job, r *Run, typed map[string]string) []string {
		if len(r.Pressure) < len(by) {
			by = slices.Delete(slices.Clone(by), 1, 2)
		}
		return offBy(typed, r.Pressure, by...)
	}
}

func travels(by ...float64) makes {
	return func(j *Job, r *Run, typed map[string]string) []string { return offBy(typed, r.Travel, by...) }
}

func full(by ...float64) makes {
	return func(j *Job, r *Run, typed map[string]string) []string {
		return offMean(typed, r.kind(specs.FullLoad), by...)
	}
}

func one(k specs.PointKind, by float64) makes {
	return func(j *Job, r *Run, typed map[string]string) []string {
		points := r.kind(k)
		if len(points) == 0 {
			return nil
		}
		return offMean(typed, points[:1], by)
	}
}

func runsOut(by float64) makes {
	return func(j *Job, r *Run, typed map[string]string) []string {
		l := r.RunOut[0].Spec.Limits
		mid, half := middle(l)
		at := r.RunOut[0].Spec.At.Value
		n := math.Round(mid + by*half)
		branch(typed, r, []float64{n - 25, n, n + 25, n + 50, n + 75}, []float64{at + 4, at, at - 4, math.Max(at-8, .1), 0})
		return []string{r.RunOut[0].Box.Code}
	}
}

// patterns are what readings look like, and the finding that must come of it.
var patterns = []struct {
	what    string
	make    makes
	finding string
	safety  bool
}{
	{"fuel with the shut-off closed", func(j *Job, r *Run, typed map[string]string) []string {
		p := r.kind(specs.ShutOff)[0]
		typed[p.First[1].Code] = "0.2"
		return []string{p.First[1].Code}
	}, "Fuel comes out with the shut-off closed", true},
	{"oil too warm", func(j *Job, r *Run, typed map[string]string) []string {
		l := j.Spec.Bench.Conditions.InletTemperature
		put(typed, r.Temperature, l.High+2)
		return []string{r.Temperature.Code}
	}, "Inlet temperature is too high", false},
	{"oil too cold", func(j *Job, r *Run, typed map[string]string) []string {
		put(typed, r.Temperature, j.Spec.Bench.Conditions.InletTemperature.Low-3)
		return []string{r.Temperature.Code}
	}, "Inlet temperature is too low", false},
	{"inlet starved", func(j *Job, r *Run, typed map[string]string) []string {
		put(typed, r.Inlet, j.Spec.Bench.Conditions.InletPressure.Low/2)
		return []string{r.Inlet.Code}
	}, "Inlet pressure is too low", false},
	{"two readings apart", func(j *Job, r *Run, typed map[string]string) []string {
		p := r.kind(specs.FullLoad)[0]
		x, _ := strconv.ParseFloat(typed[p.First[0].Code], 64)
		put(typed, p.Second[0], x-2)
		return []string{p.First[0].Code, p.Second[0].Code}
	}, "Two readings of the same outlet do not agree", false},

	{"pressure low everywhere", pressures(-1.4, -1.4, -1.4, -1.4), "Supply pressure is low at every speed", false},
	{"pressure high everywhere", pressures(1.4, 1.4, 1.4, 1.4), "Supply pressure is high at every speed", false},
	{"pressure short at the top", pressures(0, 0, -.5, -2.7), "Supply pressure falls short as the speed rises", false},
	{"pressure low at the bottom", pressures(-2.4, -.5, 0, 0), "Supply pressure is low at the low speeds", false},
	{"pressure high at the top", pressures(0, 0, .5, 2.7), "Supply pressure is high at ", false},
	{"pressure high at the bottom", pressures(2.7, .5, 0, 0), "Supply pressure is high at ", false},
	{"pressure too low, then too high", pressures(-2, 0, 0, 2), "it rises at the wrong rate", false},

	{"late by the same", travels(-1.5, -1.5, -1.5), "Timing is late by about the same at every speed", false},
	{"early by the same", travels(1.5, 1.5, 1.5), "Timing is early by about the same at every speed", false},
	{"short at the top", travels(0, 0, -2.7), "Timing travel is short at the top only", false},
	{"long at the top", travels(0, 0, 2.4), "Timing travel is long at the top only", false},
	{"begins late", travels(-2.7, 0, 0), "Timing begins late: travel is small at the low speeds", false},
	{"begins early", travels(2.7, 0, 0), "Timing begins early: travel is large at the low speeds", false},
	{"small, then large", travels(-2, 0, 2), "its slope is wrong", false},
	{"late, and the pressure low", func(j *Job, r *Run, typed map[string]string) []string {
		return append(travels(-1.5, -1.5, -1.5)(j, r, typed), pressures(-1.4, -1.4, -1.4, -1.4)(j, r, typed)...)
	}, "Timing travel is too small, and so is the pressure that moves it", false},
	{"a piston that sticks", func(j *Job, r *Run, typed map[string]string) []string {
		x := r.Travel[1]
		_, half := middle(x.Spec.Limits)
		up, _ := strconv.ParseFloat(typed[x.Box.Code], 64)
		put(typed, x.Down, up+.9*half)
		return []string{x.Box.Code, x.Down.Code}
	}, "Timing piston sticks: at ", false},

	{"one outlet low", func(j *Job, r *Run, typed map[string]string) (rests []string) {
		for _, p := range r.kind(specs.FullLoad) {
			mid, _ := middle(p.Spec.Limits)
			delivers(typed, p, mid, mid, .9*mid, mid)
			rests = append(rests, p.First[2].Code, p.Second[2].Code, p.Spread.Code)
		}
		return rests
	}, " gives 10 % less than the others, at ", false},
	{"outlets apart, none alone", func(j *Job, r *Run, typed map[string]string) []string {
		p := r.kind(specs.FullLoad)[0]
		mid, _ := middle(p.Spec.Limits)
		if len(p.First) == 4 {
			delivers(typed, p, 1.06*mid, .94*mid, 1.05*mid, .95*mid)
		} else {
			delivers(typed, p, 1.06*mid, .94*mid, 1.05*mid, .95*mid, 1.04*mid, .96*mid)
		}
		return []string{p.Spread.Code}
	}, "The outlets differ by more than the sheet allows", false},

	{"full load low everywhere", full(-1.6, -1.6, -1.6), "Full-load delivery is low by about", false},
	{"full load high everywhere", full(1.6, 1.6, 1.6), "Full-load delivery is high by about", false},
	{"full load falls off", full(0, 0, -2.5), "Full-load delivery falls off with speed", false},
	{"full load rises too much", full(0, 0, 2.5), "Full-load delivery rises too much with speed", false},
	{"full load low below", full(-3.5, 0, 0), "Full-load delivery is low at the low speeds", false},
	{"full load high below", full(3.5, 0, 0), "Full-load delivery is high at the low speeds", false},
	{"full load low, then high", full(-2, 0, 2), "Full-load delivery is out by unlike amounts", false},
	{"hard to start", one(specs.Starting, -1.3), "Starting delivery is low", false},
	{"too much at starting", one(specs.Starting, 1.3), "Starting delivery is high", false},
	{"idle low", one(specs.Idle, -1.5), "Idle delivery is low", false},
	{"idle high", one(specs.Idle, 1.5), "Idle delivery is high", false},
	{"part load low", one(specs.PartLoad, -1.5), "Part-load delivery is low", false},
	{"boost low", one(specs.Boost, -1.5), "Full load is right, and the boost curve is low", false},
	{"boost high", one(specs.Boost, 1.5), "Full load is right, and the boost curve is high", false},

	{"runs out late", runsOut(1.6), "rev/min late", true},
	{"runs out early", runsOut(-1.6), "rev/min early", false},
	{"falling branch high", func(j *Job, r *Run, typed map[string]string) []string {
		return offMean(typed, r.kind(specs.Governed)[:1], 2)
	}, "Delivery on the governor's falling branch is high", true},
	{"droop large", func(j *Job, r *Run, typed map[string]string) []string {
		if j.Spec.Bench.Droop.Limits == nil {
			return nil
		}
		branch(typed, r, []float64{2350, 2400, 2449, 2500, 2550}, []float64{11, 7, 4.5, 3.5, 2})
		return []string{r.Droop.Code, r.NoLoad.Code}
	}, "Speed droop is large", false},
	{"return flow low", func(j *Job, r *Run, typed map[string]string) []string {
		typed[r.ReturnFlow.Box.From.Terms[0].Box.Code] = "100"
		return []string{r.ReturnFlow.Box.Code}
	}, "Return flow is low", false},
	{"return flow high", func(j *Job, r *Run, typed map[string]string) []string {
		typed[r.ReturnFlow.Box.From.Terms[0].Box.Code] = "1500"
		return []string{r.ReturnFlow.Box.Code}
	}, "Return flow is high", false},
}

func TestPatternsPointToTheirFinding(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		met := 0
		for _, c := range patterns {
			t.Run(c.what+", "+name, func(t *testing.T) {
				j, typed := demoJob(t, name)
				rests := c.make(j, j.Final, typed)
				if rests == nil {
					return // this pump has no such thing
				}
				met++
				f := read(t, j, typed)
				r := j.Judge(f)
				e := r.Now
				text, _ := r.Advice(false)
				sound(t, j, f, e)
				var all []string
				for _, h := range e.Hints {
					all = append(all, h.Finding)
					if !strings.Contains(h.Finding, c.finding) {
						continue
					}
					assert.Equal(t, c.safety, h.Safety)
					assert.Subset(t, h.RestsOn, rests, h.Finding)
					assert.Contains(t, strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(h.Check), " "))
					return
				}
				t.Errorf("no hint of %q, only %q", c.finding, all)
			})
		}
		assert.Greater(t, met, 40, name)
	}
}

// The same patterns in the run as found point to the same.
func TestPatternsAsFound(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	offBy(typed, j.AsFound.Pressure, 0, 0, 0)
	rests := offBy(typed, j.AsFound.Travel, -1.5, -1.5, -1.5)
	f := read(t, j, typed)
	r := j.Judge(f)
	sound(t, j, f, r.Was)
	i := slices.IndexFunc(r.Was.Hints, func(h Hint) bool { return strings.HasPrefix(h.Finding, "Timing is late") })
	require.GreaterOrEqual(t, i, 0)
	assert.Equal(t, rests, r.Was.Hints[i].RestsOn)
	require.NotNil(t, r.Was.Pack)
	assert.Equal(t, "1.45", r.Was.Pack.Present, "0.60, 0.45 and 0.40 came out")
	assert.Empty(t, r.Now.Hints)
}

// sound checks what every hint must be: readings that are there, causes, a
// check; what is not safe before the rest.
func sound(t testing.TB, j *Job, f *Readings, e *Evaluated) {
	t.Helper()
	byCode := map[string]*Box{}
	for _, b := range j.Boxes() {
		byCode[b.Code] = b
	}
	v := newValues(f)
	safe := false
	for _, h := range e.Hints {
		require.NotEmpty(t, h.Finding)
		require.NotEmpty(t, h.RestsOn, h.Finding)
		require.NotEmpty(t, h.Causes, h.Finding)
		require.NotEmpty(t, strings.TrimSpace(h.Check), h.Finding)
		for i, code := range h.RestsOn {
			b := byCode[code]
			require.NotNil(t, b, "%s: no box %s", h.Finding, code)
			require.Equal(t, e.Stage, code[:1], h.Finding)
			_, ok := v.number(b)
			require.True(t, ok, "%s: nothing is in %s", h.Finding, code)
			require.NotContains(t, h.RestsOn[:i], code, "%s: twice", h.Finding)
		}
		for _, text := range append(slices.Clone(h.Causes), h.Finding, h.Check) {
			require.NotContains(t, text, "NaN")
			require.NotContains(t, text, "Inf")
			require.NotContains(t, text, "%!")
		}
		require.False(t, h.Safety && safe, "what is not safe comes first")
		safe = safe || !h.Safety
	}
}

// Whatever is typed, hints rest on what is there.
func TestHintsRestOnWhatWasRead(t *testing.T) {
	rng := rand.New(rand.NewPCG(43, 1))
	given := map[string]bool{}
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, demo := demoJob(t, name)
		for n := range 120 {
			typed := map[string]string{}
			for _, run := range []*Run{j.AsFound, j.Final} {
				for _, b := range run.boxes() {
					switch k := rng.IntN(20); {
					case k < n%8:
					case k < 12 && demo[b.Code] != "":
						typed[b.Code] = demo[b.Code]
					case k < 18:
						put(typed, b, b.Low+(b.High-b.Low)*rng.Float64())
					default:
						put(typed, b, (b.High+1)*(1.2-1.4*rng.Float64()))
						typed[b.Code] += " !"
					}
				}
			}
			f := read(t, j, typed)
			r := j.Judge(f)
			for _, e := range []*Evaluated{r.Was, r.Now} {
				sound(t, j, f, e)
				for _, h := range e.Hints {
					given[h.Finding[:12]] = true
				}
			}
			data, err := r.JSON()
			require.NoError(t, err)
			require.NotContains(t, string(data), "NaN")
			if n%20 == 0 {
				comesOut(t, j, r)
			}
		}
	}
	assert.Greater(t, len(given), 15, "most hints were given: %v", given)
}

// A pump inside all its limits gets no hint: the demos as they are left, and many
// pumps of the sheet's own piston and spring, with deliveries inside.
func TestNothingToSayOfAGoodPump(t *testing.T) {
	rng := rand.New(rand.NewPCG(43, 2))
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		assert.Empty(t, j.Judge(read(t, j, typed)).Now.Hints, name)
		good, bad := 0, map[string]int{}
		for good < 80 {
			p := map[string]simPump{"saltmarsh": ostrel, "prairie": vessant}[name]
			p.at0 *= .97 + .06*rng.Float64()
			p.free += .3 * (rng.Float64() - .5)
			p.run(j, j.Final, typed)
			inside := true
			for _, list := range [][]*Reading{j.Final.Pressure, j.Final.Travel} {
				for _, x := range list {
					v, _ := strconv.ParseFloat(typed[x.Box.Code], 64)
					inside = inside && v >= x.Spec.Limits.Low && v <= x.Spec.Limits.High
				}
			}
			if !inside {
				continue
			}
			good++
			for _, d := range j.Final.Points {
				if d.Spec.Kind == specs.ShutOff || math.IsInf(d.Spec.Limits.Low, 0) {
					continue
				}
				mid, half := middle(d.Spec.Limits)
				delivers(typed, d, mid+half*(1.6*rng.Float64()-.8))
			}
			for _, h := range j.Judge(read(t, j, typed)).Now.Hints {
				bad[h.Finding]++
			}
		}
		assert.Empty(t, bad, "%s, of %d pumps", name, good)
	}
}

// Full load above its limit is never answered by a screw to be turned in.
func TestFullLoadAboveItsLimitIsNotTurnedUp(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		full(1.6, 1.6, 1.6)(j, j.Final, typed)
		for _, places := range [][4]float64{
			{0, -1, .5, -.5}, // below the middle still when the two places were tried
			{0, -1, .25, .5}, {0, .5, .5, 1.6}, {.5, 2, 0, 1.5},
		} {
			mid, half := middle(j.Final.point("full load").Spec.Limits)
			for i, x := range j.Final.Screw[1].Wanted.From.Terms {
				v := places[i]
				if i%2 == 1 {
					v = mid + v*half
				}
				put(typed, x.Box, v)
			}
			f := read(t, j, typed)
			e := j.Judge(f).Now
			sound(t, j, f, e)
			i := slices.IndexFunc(e.Hints, func(h Hint) bool { return strings.HasPrefix(h.Finding, "Full-load delivery is high by") })
			require.GreaterOrEqual(t, i, 0)
			// FAILS for the first: the places tried call for more, further than was
			// tried, and the point as it now reads lies above its limit.
			assert.NotContains(t, e.Hints[i].Check, "Screw +", "%s, tried %v", name, places)
		}
		// Without two places: out, never in.
		for _, x := range j.Final.Screw[1].Wanted.From.Terms {
			delete(typed, x.Box.Code)
		}
		e := j.Judge(read(t, j, typed)).Now
		i := slices.IndexFunc(e.Hints, func(h Hint) bool { return strings.HasPrefix(h.Finding, "Full-load delivery is high by") })
		require.GreaterOrEqual(t, i, 0)
		assert.Contains(t, e.Hints[i].Check, "the screw out, a quarter turn at most")
	}
}

// The pages say what the data say: figures of the bench tables as pdftotext reads
// them, and every hint.
func TestBenchPagesAgreeWithTheData(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		travels(-1.5, -1.5, -1.5)(j, j.Final, typed)
		r := j.Judge(read(t, j, typed))
		text := reportText(t, j, r)
		lines := strings.Split(text, "\n")
		line := func(parts ...string) (at int) {
			t.Helper()
			for n, l := range lines {
				met := 0
				for _, w := range strings.Fields(l) {
					if met < len(parts) && w == parts[met] {
						met++
					}
				}
				if met == len(parts) {
					return n
				}
			}
			t.Errorf("%s: no line with %q in order", name, parts)
			return 0
		}
		fixed := func(x float64, d int) string {
			return strings.ReplaceAll(strconv.FormatFloat(x, 'f', d, 64), "-", "−")
		}
		for _, rows := range [][]*Delivery{r.Left, r.Found} {
			for _, d := range rows {
				parts := []string{}
				for _, q := range d.Outlets {
					parts = append(parts, fixed(*q, 1))
				}
				// A cell of one line stands at the middle of its row, so the mean may
				// lie a line lower.
				head := fixed(d.Speed, 0)
				if d.Kind == string(specs.ShutOff) { // its readings are a line of their own
					head = "shut-off"
				}
				at := line(append([]string{head}, parts...)...)
				assert.Contains(t, strings.Fields(strings.Join(lines[at:min(at+2, len(lines))], " ")), fixed(*d.Mean, 1), d.Name)
				if d.Factor != nil {
					line(strconv.Itoa(d.Strokes), fixed(*d.Factor, 4))
				}
				if d.SpreadPc != nil && *d.Mean > 0 {
					line(fixed(*d.SpreadPc, 1), "%")
				}
			}
		}
		flat := strings.Join(strings.Fields(text), " ")
		decimals := j.Final.Travel[0].Box.Decimals
		for _, a := range r.Now.Read {
			parts := []string{fixed(a.Speed, 0), fixed(*a.Pressure, j.Final.Pressure[0].Box.Decimals)}
			if a.Travel != nil {
				parts = append(parts, fixed(*a.Travel, decimals), "–")
				if a.Down != nil {
					parts[3] = fixed(*a.Down, decimals)
				}
				for _, x := range r.Now.Advance {
					if x.Speed == a.Speed {
						parts = append(parts, fixed(x.Pump, 1), fixed(x.Crank, 1))
					}
				}
			}
			line(parts...)
		}
		p, q := r.Now.Pressure, r.Now.Timing
		three := func(x float64) string { return fixed(x, max(0, 2-int(math.Floor(math.Log10(x))))) } // figures that count
		line("supply", "pressure", "rises,", three(p.Per1000), p.Unit)
		line("timing", "piston", "begins", three(*q.Begins), "±", fixed(*q.U, 2-int(math.Floor(math.Log10(*q.Begins)))), q.Pressure)
		line("then", "moves", "1", q.Pressure, three(q.Per), q.Unit)
		line("which", "is", "at", fixed(*r.Now.Timing.BeginsAt, 0), "rev/min")
		line("speed", "droop", fixed(*r.Now.Droop, 1), "%")
		for _, x := range r.Now.Engine {
			line("estimate:", fixed(x.Speed, 0), fixed(x.KgPerH, 1), "kg/h,", fixed(x.KW, 0), "kW")
		}
		require.NotEmpty(t, r.Now.Hints)
		for _, h := range r.Now.Hints {
			assert.Contains(t, flat, h.Finding)
			assert.Contains(t, flat, h.Check)
			assert.Contains(t, flat, "rests on "+codeWords(r.Printer, h.RestsOn))
		}
		require.NotNil(t, r.Now.Pack)
		assert.Contains(t, flat, r.Now.Pack.Fit)
	}
}

// reportText is a report as pdftotext reads it.
func reportText(t testing.TB, j *Job, r *Results) string {
	t.Helper()
	return tool(t, "pdftotext", "-layout", reportFile(t, j, r), "-")
}

func reportFile(t testing.TB, j *Job, r *Results) string {
	t.Helper()
	pdf, err := j.ReportPDF(r)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	return file
}

// traced is a path as MuPDF paints it on a page, in points from the upper left.
type traced struct {
	fill, curved bool
	weight, grey float64
	x, y         []float64
	left, right  float64
	top, foot    float64
}

// paths reads the paths of one page out of mutool (MuPDF).
func paths(t testing.TB, file string, page int) (out []traced) {
	t.Helper()
	type vertex struct {
		XMLName xml.Name
		X       string `xml:"x,attr"`
		Y       string `xml:"y,attr"`
		X3      string `xml:"x3,attr"`
		Y3      string `xml:"y3,attr"`
	}
	type painted struct {
		Transform string   `xml:"transform,attr"`
		Colour    string   `xml:"color,attr"`
		Weight    string   `xml:"linewidth,attr"`
		Vertices  []vertex `xml:",any"`
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return x
	}
	d := xml.NewDecoder(strings.NewReader(tool(t, "mutool", "trace", file, strconv.Itoa(page))))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		e, ok := token.(xml.StartElement)
		if !ok || e.Name.Local != "fill_path" && e.Name.Local != "stroke_path" {
			continue
		}
		var p painted
		require.NoError(t, d.DecodeElement(&p, &e))
		var m []float64
		for f := range strings.FieldsSeq(p.Transform) {
			m = append(m, number(f))
		}
		one := traced{fill: e.Name.Local == "fill_path", grey: number(strings.Fields(p.Colour)[0])}
		if p.Weight != "" {
			one.weight = number(p.Weight)
		}
		for _, v := range p.Vertices {
			x, y := v.X, v.Y
			switch v.XMLName.Local {
			case "curveto":
				x, y, one.curved = v.X3, v.Y3, true
			case "moveto", "lineto":
			default:
				continue
			}
			one.x = append(one.x, m[0]*number(x)+m[2]*number(y)+m[4])
			one.y = append(one.y, m[1]*number(x)+m[3]*number(y)+m[5])
		}
		if len(one.x) < 2 {
			continue
		}
		one.left, one.right, one.top, one.foot = slices.Min(one.x), slices.Max(one.x), slices.Min(one.y), slices.Max(one.y)
		out = append(out, one)
	}
}

// The plot of supply pressure, read back from the page: the axes by the figures
// printed beside them, on them a round mark for each reading, and the fitted
// line, least squares by plain sums, from the first speed to the last.
func TestPressurePlotIsWhereItsReadingsAre(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		j, typed := demoJob(t, name)
		r := j.Judge(read(t, j, typed))
		file := reportFile(t, j, r)
		var title word
		page, edge := 0, 0.0
		var on []word
		for n, p := range seenPages(t, file) {
			for i, w := range p.Words {
				if w.Text == "Supply" && i+2 < len(p.Words) && p.Words[i+1].Text == "pressure," && p.Words[i+2].Text == j.Final.Pressure[0].Box.Unit.Symbol && page == 0 {
					title, page, edge, on = w, n+1, p.W, p.Words
				}
			}
		}
		require.Positive(t, page, name)
		// The plot ends where the next one's title begins, and at its axis label.
		foot := math.Inf(1)
		for _, w := range on {
			if w.YMin == title.YMin && w.XMin > title.XMin+60 && (w.Text == "Timing" || w.Text == "Travel") {
				edge = math.Min(edge, w.XMin)
			}
		}
		for _, w := range on {
			if w.Text == "rev/min" && w.YMin > title.YMax && w.XMax < edge {
				foot = math.Min(foot, w.YMin)
			}
		}
		// Figures: those beside the axis of y lie left, those below it lowest.
		var xs, ys [][2]float64 // figure, place
		lowest := 0.0
		in := func(w word) bool {
			return w.YMin > title.YMax && w.YMax < foot+2 && w.XMin >= title.XMin-1 && w.XMax < edge
		}
		for _, w := range on {
			if _, err := strconv.ParseFloat(w.Text, 64); err == nil && in(w) {
				lowest = math.Max(lowest, w.YMin)
			}
		}
		for _, w := range on {
			x, err := strconv.ParseFloat(w.Text, 64)
			switch {
			case err != nil || !in(w):
			case lowest-w.YMin < 1:
				xs = append(xs, [2]float64{x, (w.XMin + w.XMax) / 2})
			case w.XMin < title.XMin+25 && w.YMin > title.YMax+20:
				ys = append(ys, [2]float64{x, (w.YMin + w.YMax) / 2})
			}
		}
		place := func(ticks [][2]float64, v float64) float64 {
			require.GreaterOrEqual(t, len(ticks), 2, name)
			slices.SortFunc(ticks, func(a, b [2]float64) int { return int(a[0] - b[0]) })
			a, z := ticks[0], ticks[len(ticks)-1]
			return a[1] + (v-a[0])/(z[0]-a[0])*(z[1]-a[1])
		}
		const near = .7 // pt: a quarter of a millimetre; a figure's box is not cut to its ink
		all := paths(t, file, page)
		var speeds, read []float64
		for _, a := range r.Now.Read {
			if a.Pressure == nil {
				continue
			}
			speeds, read = append(speeds, a.Speed), append(read, *a.Pressure)
			x, y := place(xs, a.Speed), place(ys, *a.Pressure)
			assert.True(t, slices.ContainsFunc(all, func(p traced) bool {
				return p.fill && p.curved && p.grey < .1 && p.right-p.left < 10 && math.Hypot((p.left+p.right)/2-x, (p.top+p.foot)/2-y) < near
			}), "%s: no mark at %v rev/min, %v", name, a.Speed, *a.Pressure)
		}
		mean, middle, sxx, sxy := 0.0, 0.0, 0.0, 0.0
		for i := range speeds {
			mean, middle = mean+speeds[i]/float64(len(speeds)), middle+read[i]/float64(len(read))
		}
		for i := range speeds {
			sxx, sxy = sxx+(speeds[i]-mean)*(speeds[i]-mean), sxy+(speeds[i]-mean)*(read[i]-middle)
		}
		require.Empty(t, r.Now.Pressure.Bends)
		first, last := speeds[0], speeds[len(speeds)-1]
		fit := func(n float64) float64 { return middle + (n-mean)*sxy/sxx }
		assert.True(t, slices.ContainsFunc(all, func(p traced) bool {
			end := len(p.x) - 1
			return !p.fill && end > 10 && math.Hypot(p.x[0]-place(xs, first), p.y[0]-place(ys, fit(first))) < near &&
				math.Hypot(p.x[end]-place(xs, last), p.y[end]-place(ys, fit(last))) < near
		}), "%s: no fitted line", name)
	}
}

// Codes are listed as a person would.
func TestCodeWords(t *testing.T) {
	for want, codes := range map[string][]string{
		"M5": {"M5"}, "M5, M6": {"M6", "M5"}, "M5 to M7": {"M5", "M7", "M6"}, "M9, M11 to M13": {"M11", "M12", "M13", "M9"},
		"M14.3a, M14.3b, M14s": {"M14.3a", "M14.3b", "M14s"},
	} {
		assert.Equal(t, want, codeWords(words.Printer{}, codes))
	}
}
