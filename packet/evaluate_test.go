package packet

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/specs"
)

// editedJob is a job of a demo's spec and shop, changed by some edits of their
// text, with nothing typed yet.
func editedJob(t testing.TB, name string, edits ...string) *Job {
	t.Helper()
	spec, shop := "ostrel-d4.yaml", "saltmarsh.yaml"
	if name == "prairie" {
		spec, shop = "vessant-s6.yaml", "prairie.yaml"
	}
	intake, err := demo.ReadFile("demo/" + name + "-intake.yaml")
	require.NoError(t, err)
	files := []File{{Name: "intake.yaml", Data: intake}}
	whole := string(intake)
	for _, n := range []string{spec, shop} {
		data, err := readDemoSpecs(n)
		require.NoError(t, err)
		whole += string(data)
		files = append(files, File{Name: n, Data: data})
	}
	for i := 0; i < len(edits); i += 2 {
		require.Contains(t, whole, edits[i], "an edit that changes nothing")
	}
	for i := range files {
		files[i].Data = []byte(strings.NewReplacer(edits...).Replace(string(files[i].Data)))
	}
	j, err := NewJob("26-0412-B", files[0], files[1], files[2])
	require.NoError(t, err)
	return j
}

// Units as NIST SP 811, appendix B, has them: to kPa and to mm.
var toBase = map[string]float64{"bar": 100, "psi": 6.894757, "mm": 1, "in": 25.4}

// as types x, in kPa or mm, into a box as its gauge shows it: to the step of the
// gauge or of the box, whichever is coarser. It returns the figure and half the
// step, in the box's unit.
func as(j *Job, typed map[string]string, b *Box, x float64) (figure, half float64) {
	step := math.Pow10(-b.Decimals)
	if i := j.Shop.Instrument(b.Instrument); i != nil {
		if r := i.Resolution.Value * toBase[i.Resolution.Unit.Symbol] / toBase[b.Unit.Symbol]; r > step {
			step = r
		}
	}
	figure = math.Round(x/toBase[b.Unit.Symbol]/step) * step
	typed[b.Code] = strconv.FormatFloat(figure, 'f', b.Decimals, 64)
	figure, _ = strconv.ParseFloat(typed[b.Code], 64)
	return figure, step / 2
}

// simPump is a timing piston with its supply pump, worked out here from force
// and spring alone. Its figures are invented.
type simPump struct {
	area, rate    float64 // mm², N/mm
	free          float64 // mm the spring is pressed together at rest without any pack
	pack, stop    float64 // mm
	at0, per, sag float64 // kPa, kPa for 1 rev/min, kPa for (rev/min)² less
	friction      float64 // N, against the way the piston goes
}

func (p simPump) pressure(n float64) float64 { return p.at0 + p.per*n - p.sag*n*n }

// open is the travel there would be were there neither rest nor stop: force of
// the oil = force of the spring. 1 kPa on 1 mm² is 0.001 N.
func (p simPump) open(n, way float64) float64 {
	return (p.pressure(n)*p.area/1000-way*p.friction)/p.rate - p.free - p.pack
}

func (p simPump) travel(n, way float64) float64 {
	return math.Min(math.Max(p.open(n, way), 0), p.stop)
}

// starts is the pressure at which the piston leaves its rest.
func (p simPump) starts() float64 { return p.rate * (p.free + p.pack) / p.area * 1000 }

// run types what the gauges of the bench show of the pump.
func (p simPump) run(j *Job, r *Run, typed map[string]string) {
	for _, x := range r.Pressure {
		as(j, typed, x.Box, p.pressure(x.Spec.Speed))
	}
	for _, x := range r.Travel {
		as(j, typed, x.Pressure, p.pressure(x.Spec.Speed))
		as(j, typed, x.Box, p.travel(x.Spec.Speed, 1))
		if x.Down != nil {
			as(j, typed, x.Down, p.travel(x.Spec.Speed, -1))
		}
	}
}

// fitted types the timing pack the pump runs with, in mm.
func fitted(t testing.TB, j *Job, typed map[string]string, pack float64) {
	a := adjustment(t, j.Plan, specs.TimingPack)
	to := func(b *Box, mm float64) { typed[b.Code] = strconv.FormatFloat(mm/toBase[b.Unit.Symbol], 'f', 4, 64) }
	try := a.Tries[0]
	if s := a.Dim.Shims; s.Prescribed > 0 {
		at := float64(s.Prescribed) / 1e6 // nm
		to(try.Fitted[0], at)
		to(try.Fitted[1], pack-at)
		return
	}
	to(try.Fitted[0], pack)
	to(try.Now, pack)
}

// setting is a demo, its pump as its sheet describes it, and how it is varied.
type setting struct {
	name, demo string
	edits      []string
	known      bool // the sheet gives piston and spring
	pump       simPump
}

var ostrel = simPump{area: math.Pi / 4 * 28 * 28, rate: 48, free: 1.645, pack: 1.60, stop: 7, at0: 153, per: .273}

// 1.7 psi for 100 rev/min more and 0.0037 in for 1 psi more: 25.4 N/mm on 346 mm².
var vessant = func() simPump {
	p := simPump{area: 346, rate: 25.4, pack: .078 * 25.4, stop: .240 * 25.4, at0: 16 * 6.894757, per: .0555 * 6.894757}
	p.free = p.open(800, 1) + p.pack - .112*25.4 - p.pack
	return p
}()

const (
	ostrelPiston  = "timing piston: {diameter: 28 mm, spring rate: 48 N/mm, stroke: 7.0 mm, pin radius: 24 mm}"
	vessantPiston = "timing piston: {stroke: 0.240 in}"
	ostrelStock   = "timing shims: {0.20 mm: 6, 0.25 mm: 4, 0.30 mm: 6, 0.35 mm: 3, 0.40 mm: 4, 0.45 mm: 3, 0.50 mm: 4, 0.55 mm: 2, 0.60 mm: 3, 0.65 mm: 2, 0.70 mm: 2, 0.75 mm: 2, 0.80 mm: 2, 0.85 mm: 1, 0.90 mm: 0, 0.95 mm: 2, 1.00 mm: 3}"
	ostrelTop     = "- {speed: 2000 rev/min, limits: [5.2 mm, 5.8 mm], as found: yes}"
	ostrelTops    = ostrelTop + "\n    - {speed: 2200 rev/min, limits: [5.2 mm, 5.8 mm]}\n    - {speed: 2400 rev/min, limits: [5.2 mm, 5.8 mm]}"
)

func settings() []setting {
	stopped := ostrel
	stopped.stop = 5.6
	return []setting{
		{"metric, piston and spring on the sheet, stock counted", "saltmarsh", nil, true, ostrel},
		{"metric, by the readings alone", "saltmarsh", []string{ostrelPiston, "timing piston: {stroke: 7.0 mm, pin radius: 24 mm}"}, false, ostrel},
		{"metric, pack not split", "saltmarsh", []string{", prescribed: 0.60 mm", ""}, true, ostrel},
		{"metric, with a stop", "saltmarsh", []string{ostrelPiston, "timing piston: {diameter: 28 mm, spring rate: 48 N/mm, stroke: 5.6 mm, pin radius: 24 mm}", ostrelTop, ostrelTops}, true, stopped},
		{"metric, a stop the sheet does not give", "saltmarsh", []string{ostrelPiston, "timing piston: {pin radius: 24 mm}", ostrelTop, ostrelTops}, false, stopped},
		{"inch, by the readings alone, stock not counted", "prairie", nil, false, vessant},
		{"inch, piston and spring on the sheet", "prairie", []string{vessantPiston, "timing piston: {diameter: 20.9889 mm, spring rate: 25.4 N/mm, stroke: 0.240 in, pin radius: 0.9 in}"}, true, vessant},
	}
}

// What is typed of a pump whose physics is known is fitted back to it, to within
// what rounding its readings can do: the bounds are those of a straight line's
// weights, Σ|wᵢ|·half a step (least squares is linear in the readings).
func TestEvaluationFindsThePump(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 1))
	for _, s := range settings() {
		t.Run(s.name, func(t *testing.T) {
			j := editedJob(t, s.demo, s.edits...)
			for range 25 {
				p := s.pump
				p.at0 *= .9 + .2*rng.Float64()
				p.per *= .95 + .1*rng.Float64()
				p.pack += .4 * (rng.Float64() - .5)
				typed := map[string]string{}
				p.run(j, j.Final, typed)
				fitted(t, j, typed, p.pack)
				found(t, j, j.Judge(read(t, j, typed)).Now, p, s, typed)
			}
		})
	}
}

// line gives the sum of |weights| with which errors of the readings enter a
// straight line at x, and its slope.
func line(xs []float64, x float64) (at, slope float64) {
	mean, sxx := 0.0, 0.0
	for _, v := range xs {
		mean += v / float64(len(xs))
	}
	for _, v := range xs {
		sxx += (v - mean) * (v - mean)
	}
	for _, v := range xs {
		at += math.Abs(1/float64(len(xs)) + (x-mean)*(v-mean)/sxx)
		slope += math.Abs(v-mean) / sxx
	}
	return at, slope
}

func found(t *testing.T, j *Job, e *Evaluated, p simPump, s setting, typed map[string]string) {
	t.Helper()
	const tiny = 2e-4 // figures in the results are rounded to four places
	require.NotNil(t, e.Pressure)
	require.NotNil(t, e.Timing, "%v", e.NotDone)
	travel := j.Final.Travel[0].Box
	bar, mm := toBase[j.Final.Pressure[0].Box.Unit.Symbol], toBase[travel.Unit.Symbol]
	_, halfP := as(j, map[string]string{}, j.Final.Pressure[0].Box, 0)
	_, halfX := as(j, map[string]string{}, travel, 0)

	// Pressure against speed.
	var speeds []float64
	for _, a := range e.Read {
		require.NotNil(t, a.Pressure)
		speeds = append(speeds, a.Speed)
	}
	at0, rise := line(speeds, 0)
	assert.InDelta(t, p.per*1000/bar, e.Pressure.Per1000, rise*1000*halfP+tiny)
	assert.InDelta(t, p.at0/bar, e.Pressure.At0, at0*halfP+tiny)

	// The readings on the slope.
	var on []float64
	for _, x := range j.Final.Travel {
		shown, _ := strconv.ParseFloat(typed[x.Box.Code], 64)
		// One step below the stop may be on the slope or at the stop.
		if shown > halfX && shown < p.stop/mm-2.5*halfX {
			q, _ := strconv.ParseFloat(typed[x.Pressure.Code], 64)
			on = append(on, q)
		}
	}
	require.GreaterOrEqual(t, len(on), 2)
	per := p.area / p.rate / 1000 * bar / mm // travel for 1 of pressure
	each := halfX + per*halfP                // what rounding does to one travel
	begins := p.starts() / bar
	within := halfP + halfX/per
	_, steep := line(on, begins)
	if s.known {
		assert.Equal(t, "the sheet's piston and spring", e.Timing.From)
		assert.InEpsilon(t, per, e.Timing.Per, 2e-3)
		require.NotNil(t, e.Timing.Read)
		assert.InDelta(t, per, *e.Timing.Read, steep*each+tiny)
	} else {
		assert.Equal(t, "the readings", e.Timing.From)
		assert.InDelta(t, per, e.Timing.Per, steep*each+tiny)
		assert.Nil(t, e.Timing.Read, "the slope is that already")
		weights, _ := line(on, begins)
		within = weights * each / (e.Timing.Per - tiny)
	}
	require.NotNil(t, e.Timing.Begins)
	assert.InDelta(t, begins, *e.Timing.Begins, within+tiny)
	require.NotNil(t, e.Timing.BeginsAt)
	weights, _ := line(speeds, p.starts()/p.per-p.at0/p.per)
	assert.InDelta(t, (p.starts()-p.at0)/p.per, *e.Timing.BeginsAt, (within+weights*halfP)/(p.per/bar-rise*halfP)+.1)
	met := false
	for _, x := range j.Final.Travel {
		met = met || p.travel(x.Spec.Speed, 1) == p.stop
	}
	if met { // at a stop that was not met nothing is said, or what reads like it
		require.NotNil(t, e.Timing.Stop)
	}
	if e.Timing.Stop != nil {
		assert.InDelta(t, p.stop/mm, *e.Timing.Stop, 2*halfX+1e-9)
	}
	assert.Empty(t, e.Timing.Contrary, "a pump that moves freely")

	// Angles: the ring is turned by the arc whose sine is travel over radius; the
	// crankshaft of a four-stroke engine turns twice for one turn of the pump.
	radius := j.Spec.Piston.PinRadius
	if radius == 0 {
		assert.Empty(t, e.Advance)
		return
	}
	require.Len(t, e.Advance, len(j.Final.Travel))
	for i, x := range j.Final.Travel {
		shown, _ := strconv.ParseFloat(typed[x.Box.Code], 64)
		angle := math.Asin(shown*mm/(float64(radius)/1e6)) * 180 / math.Pi
		assert.Equal(t, x.Box.Code, e.Advance[i].Code)
		assert.InDelta(t, angle, e.Advance[i].Pump, .00501)
		assert.InDelta(t, 2*angle, e.Advance[i].Crank, .00501)
		truth := math.Asin(p.travel(x.Spec.Speed, 1)/(float64(radius)/1e6)) * 180 / math.Pi
		assert.InDelta(t, truth, e.Advance[i].Pump, halfX*mm/(float64(radius)/1e6)*180/math.Pi*1.1+.006)
	}
}

// By hand: 12 mm at a radius of 24 mm is a sine of a half, 30° of the pump and
// 60° of the crankshaft; the spec allows no such travel, so the box is told.
func TestAnglesByHand(t *testing.T) {
	j := editedJob(t, "saltmarsh", "stroke: 7.0 mm, pin radius: 24 mm", "stroke: 20 mm, pin radius: 24 mm")
	typed := map[string]string{j.Final.Travel[2].Box.Code: "12.0 !", j.Final.Travel[1].Box.Code: "24.5 !"}
	e := j.Judge(read(t, j, typed)).Now
	require.Len(t, e.Advance, 1)
	assert.InDelta(t, 30, e.Advance[0].Pump, 1e-9)
	assert.InDelta(t, 60, e.Advance[0].Crank, 1e-9)
	assert.Contains(t, strings.Join(e.NotDone, "\n"), "timing travel as an angle: "+j.Final.Travel[1].Box.Code)
}

// stacks are the packs, mm, that a tray and its stock allow, one by one.
func stacks(a *Adjustment) (out []float64) {
	s := a.Dim.Shims
	used := make([]int, len(s.Tray.Sizes))
	var add func(from, left int, sum float64)
	add = func(from, left int, sum float64) {
		if left < s.MostPerPlace || s.Prescribed > 0 {
			out = append(out, sum)
		}
		if left == 0 {
			return
		}
		for i := from; i < len(s.Tray.Sizes); i++ {
			if a.Stock != nil && used[i] >= a.Stock[i] {
				continue
			}
			used[i]++
			add(i, left-1, sum+float64(s.Tray.Sizes[i])/1e6)
			used[i]--
		}
	}
	add(0, s.MostPerPlace, float64(s.Prescribed)/1e6)
	return out
}

// room is by how much the travels of the pump, with a pack, lie inside their
// limits, mm; negative outside. A stop below a high limit and rest at a low
// limit of 0 are inside.
func (p simPump) room(r *Run, pack float64) float64 {
	p.pack = pack
	room := math.Inf(1)
	for _, x := range r.Travel {
		mm, l := toBase[x.Box.Unit.Symbol], x.Spec.Limits
		free := p.open(x.Spec.Speed, 1)
		if l.Low > 0 {
			room = math.Min(room, free-l.Low*mm)
		}
		if p.stop > l.High*mm {
			room = math.Min(room, l.High*mm-free)
		}
	}
	return room
}

// total reads the pack advised, mm, from its words.
func total(t *testing.T, a *Adjustment, c *packAdvice) float64 {
	t.Helper()
	sum := 0.0
	for _, w := range strings.Fields(c.Fit) {
		if x, err := strconv.ParseFloat(strings.TrimSuffix(w, ","), 64); err == nil {
			sum += x
		}
	}
	require.Positive(t, sum, c.Fit)
	return sum * toBase[a.Dim.Unit.Symbol]
}

// A pump whose timing is late or early gets a pack; the same pump with that pack
// then runs inside its limits, if any pack in the tray can do it. The advice is
// as good as the best pack there is, less what rounding a reading can hide: each
// end of the shift is known to that, so twice that.
func TestPackAdvisedPutsThePumpRight(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 2))
	tried, late := 0, 0
	for _, s := range settings() {
		t.Run(s.name, func(t *testing.T) {
			j := editedJob(t, s.demo, s.edits...)
			a := adjustment(t, j.Plan, specs.TimingPack)
			all := stacks(a)
			slices.Sort(all)
			mm := toBase[j.Final.Travel[0].Box.Unit.Symbol]
			_, half := as(j, map[string]string{}, j.Final.Travel[0].Box, 0)
			half *= mm
			shift := .6 // mm
			if s.demo == "prairie" {
				shift = .3
			}
			for n := range 40 {
				p := s.pump
				p.free += shift * (2*rng.Float64() - 1)
				switch n {
				case 0:
					p.free = s.pump.free + .20 // as with a pack 0.20 mm too thick
				case 1:
					p.free = s.pump.free - .20
				}
				typed := map[string]string{}
				p.run(j, j.Final, typed)
				fitted(t, j, typed, p.pack)
				e := j.Judge(read(t, j, typed)).Now
				out := false
				modelled := false
				for _, x := range j.Final.Travel {
					shown, _ := strconv.ParseFloat(typed[x.Box.Code], 64)
					out = out || shown < x.Spec.Limits.Low || shown > x.Spec.Limits.High
					modelled = modelled || shown < 1e-9 || shown*mm > p.stop-half-1e-9
				}
				if !out {
					assert.Nil(t, e.Pack, "every travel reads inside")
					continue
				}
				require.NotNil(t, e.Pack, "%v", e.NotDone)
				best, which := math.Inf(-1), 0.0
				for _, pack := range all {
					if r := p.room(j.Final, pack); r > best {
						best, which = r, pack
					}
				}
				hidden := half
				if modelled { // told by the pressure, which is rounded too
					_, halfP := as(j, map[string]string{}, j.Final.Pressure[0].Box, 0)
					hidden = 3 * (half + halfP*toBase[j.Final.Pressure[0].Box.Unit.Symbol]*p.area/p.rate/1000)
				}
				advised := total(t, a, e.Pack)
				got := p.room(j.Final, advised)
				assert.GreaterOrEqual(t, got, best-2*hidden-1e-6, "advised %v, best would be %v: %+v", advised, which, e.Pack)
				if best > 2*hidden {
					tried++
					assert.True(t, e.Pack.Reaches, "%+v", e.Pack)
					after := p
					after.pack = advised
					for _, x := range j.Final.Travel {
						is := after.travel(x.Spec.Speed, 1) / mm
						assert.GreaterOrEqual(t, is, x.Spec.Limits.Low-1e-9, "%v rev/min", x.Spec.Speed)
						assert.LessOrEqual(t, is, x.Spec.Limits.High+1e-9, "%v rev/min", x.Spec.Speed)
					}
				}
				if p.free > s.pump.free {
					late++
					assert.Negative(t, e.Pack.Thicker, "late: a thinner pack")
				} else {
					assert.Positive(t, e.Pack.Thicker, "early: a thicker pack")
				}
				assert.InDelta(t, advised-p.pack, e.Pack.Thicker*toBase[a.Dim.Unit.Symbol], 6e-4)
				predicted(t, j, e, p, advised, hidden/mm)
			}
		})
	}
	assert.Greater(t, tried, 80)
	assert.Greater(t, late, 50)
}

// predicted checks the curve a pack change says it will give.
func predicted(t *testing.T, j *Job, e *Evaluated, p simPump, pack, within float64) {
	t.Helper()
	p.pack = pack
	inside := true
	require.Len(t, e.Pack.Predicted, len(j.Final.Travel))
	for i, x := range e.Pack.Predicted {
		spec := j.Final.Travel[i].Spec
		assert.Equal(t, spec.Speed, x.Speed)
		mm := toBase[j.Final.Travel[i].Box.Unit.Symbol]
		assert.InDelta(t, p.travel(x.Speed, 1)/mm, x.Travel, within+math.Pow10(-j.Final.Travel[i].Box.Decimals-1)*.51)
		assert.Equal(t, x.Travel >= spec.Limits.Low-1e-9 && x.Travel <= spec.Limits.High+1e-9, x.Inside)
		inside = inside && x.Inside
	}
	if e.Pack.Reaches {
		assert.True(t, inside, "it is said to bring all inside: %+v", e.Pack)
	}
}

// What no pack can do is said, and why.
func TestPacksThatCannot(t *testing.T) {
	for _, c := range []struct {
		what  string
		edits []string
		pump  func(*simPump)
		note  string
	}{
		// A spring half as stiff: right at 1200 rev/min, too little below, too much above.
		{"a spring too soft", nil, func(p *simPump) {
			x := p.open(1200, 1)
			p.rate /= 2
			p.free += p.open(1200, 1) - x
		}, "no pack brings all of them inside"},
		{"a pressure that rises too slowly", nil, func(p *simPump) { p.at0, p.per = p.at0+.13*1200, p.per-.13 }, "no pack brings all of them inside"},
		{"too thin to be had", nil, func(p *simPump) { p.free += 1.5 }, "misses by"},
		{"too thick to be had", []string{"most per place: 3, prescribed", "most per place: 1, prescribed"}, func(p *simPump) { p.free -= .5 }, "misses by"},
		{"too few in stock", []string{ostrelStock, "timing shims: {1.00 mm: 1}"},
			func(p *simPump) { p.free += .5 }, "misses by"},
	} {
		t.Run(c.what, func(t *testing.T) {
			j := editedJob(t, "saltmarsh", c.edits...)
			p := ostrel
			c.pump(&p)
			typed := map[string]string{}
			p.run(j, j.Final, typed)
			fitted(t, j, typed, p.pack)
			r := j.Judge(read(t, j, typed))
			require.NotNil(t, r.Now.Pack, "%v", r.Now.NotDone)
			assert.False(t, r.Now.Pack.Reaches)
			assert.Contains(t, r.Now.Pack.Note, c.note)
			out := 0
			for _, x := range r.Now.Pack.Predicted {
				if !x.Inside {
					out++
				}
			}
			// FAILS for "too thin to be had": the curve is drawn for the pack wanted,
			// not for the prescribed shim alone, which is the best there is.
			assert.Positive(t, out, "one at least stays outside: %+v", r.Now.Pack)
			comesOut(t, j, r)
		})
	}
}

// The wanted pack may be the prescribed shim alone: said as such.
func TestPackOfThePrescribedShimAlone(t *testing.T) {
	j := editedJob(t, "saltmarsh")
	p := ostrel
	p.free += 1.1 // right with 0.50; 0.60 serves, and thinner there is none
	typed := map[string]string{}
	p.run(j, j.Final, typed)
	fitted(t, j, typed, p.pack)
	c := j.Judge(read(t, j, typed)).Now.Pack
	require.NotNil(t, c)
	assert.True(t, c.Reaches, "%+v", c)
	assert.InDelta(t, -1, c.Thicker, 1e-9)
	// FAILS: the best pack has no stack beside the prescribed shim, and Fit stays empty.
	assert.Contains(t, c.Fit, "0.60 at the piston", "%+v", c)
}

// Where the stop itself lies short of the limits no pack helps, and none is said
// to.
func TestStopShortOfItsLimits(t *testing.T) {
	j := editedJob(t, "saltmarsh", ostrelTop, ostrelTops)
	p := ostrel
	p.stop = 4.9 // below the 5.2 wanted, seen at three speeds
	typed := map[string]string{}
	p.run(j, j.Final, typed)
	fitted(t, j, typed, p.pack)
	e := j.Judge(read(t, j, typed)).Now
	require.NotNil(t, e.Timing)
	assert.InDelta(t, 4.9, *e.Timing.Stop, 1e-9)
	if c := e.Pack; c != nil {
		for _, x := range c.Predicted {
			if !x.Inside {
				assert.False(t, c.Reaches, "%v rev/min will read %v: %+v", x.Speed, x.Travel, c)
			}
		}
	}
	require.NotEmpty(t, e.Hints)
	for _, h := range e.Hints {
		assert.NotContains(t, h.Check, "every travel should be inside", h.Finding)
	}
}

// Limits on one side only: whatever lies far enough on the right side serves, so
// a tray that has no pack of the very size still reaches.
func TestPackForLimitsOnOneSide(t *testing.T) {
	j := editedJob(t, "saltmarsh",
		"- {speed: 800 rev/min, limits: [1.2 mm, 1.8 mm], as found: yes}", "- {speed: 800 rev/min, at most: 1.8 mm}",
		"- {speed: 1200 rev/min, limits: [2.6 mm, 3.2 mm], as found: yes}", "- {speed: 1200 rev/min, at most: 3.2 mm}",
		ostrelTop, "- {speed: 2000 rev/min, at most: 5.8 mm}",
		"timing shims: {from: 0.20 mm, to: 1.00 mm, step: 0.05 mm}", "timing shims: [0.60 mm, 0.95 mm]",
		ostrelStock, "timing shims: {0.60 mm: 3, 0.95 mm: 3}")
	p := ostrel
	p.free -= .8
	typed := map[string]string{}
	p.run(j, j.Final, typed)
	fitted(t, j, typed, p.pack)
	c := j.Judge(read(t, j, typed)).Now.Pack
	require.NotNil(t, c)
	all := true
	for _, x := range c.Predicted {
		all = all && x.Inside
	}
	assert.True(t, all, "the tray has thicker packs, which put every travel inside: %+v", c)
	assert.True(t, c.Reaches, "%+v", c)
}

// A piston that drags shows as a loop: friction of F either way parts up and down
// by 2F/k. Two readings of this gauge may differ by 1.96·√(2(0.05²/3 + 0.1²/12))
// = 0.113 mm (JCGM 100, 4.3.7 and 5.1.2).
func TestSticking(t *testing.T) {
	j := editedJob(t, "saltmarsh")
	for friction, sticks := range map[float64]bool{0: false, 12: true, 1: false} { // N
		p := ostrel
		p.friction = friction
		typed := map[string]string{}
		p.run(j, j.Final, typed)
		e := j.Judge(read(t, j, typed)).Now
		require.Len(t, e.Loops, 2)
		some := false
		for i, l := range e.Loops {
			x := j.Final.Travel[i]
			assert.Equal(t, [2]string{x.Box.Code, x.Down.Code}, [2]string{l.Up, l.Down})
			assert.InDelta(t, .1132, l.Allowed, 5e-4)
			assert.InDelta(t, 2*friction/p.rate, l.Falling-l.Rising, .1+1e-9, "2F/k")
			assert.Equal(t, math.Abs(l.Falling-l.Rising) > .1132, l.Sticks)
			some = some || l.Sticks
		}
		assert.Equal(t, sticks, some, "%v N", friction)
		hint := slices.ContainsFunc(e.Hints, func(h Hint) bool { return strings.HasPrefix(h.Finding, "Timing piston sticks") })
		assert.Equal(t, sticks, hint)
	}
}

// A supply pump that falls off at speed is told from one that does not.
func TestPressureThatFlattensOff(t *testing.T) {
	j := editedJob(t, "saltmarsh")
	rng := rand.New(rand.NewPCG(41, 3))
	said := 0
	for range 60 {
		p := ostrel
		p.at0 += 20 * rng.Float64()
		typed := map[string]string{}
		p.run(j, j.Final, typed)
		if j.Judge(read(t, j, typed)).Now.Pressure.Bends != "" {
			said++
		}
	}
	assert.LessOrEqual(t, said, 9, "a straight line; 5 % of 60 is 3")
	for _, c := range []struct {
		sag  float64
		says string
	}{{4e-5, "flattens off"}, {-4e-5, "steepens"}} {
		p := ostrel
		p.sag = c.sag // 0.4 bar off the chord at the middle
		typed := map[string]string{}
		p.run(j, j.Final, typed)
		e := j.Judge(read(t, j, typed)).Now
		assert.Equal(t, c.says, e.Pressure.Bends)
		assert.Greater(t, math.Abs(*e.Pressure.T), *e.Pressure.TCritical)
		// Student's t, two-sided 95 %, 2 degrees of freedom: 4.303, NIST/SEMATECH
		// e-Handbook 1.3.6.7.2.
		assert.InDelta(t, 4.303, *e.Pressure.TCritical, .006)
	}
}

// The uncertainty given of where the piston begins covers the truth as often as
// it says or oftener (JCGM 100, 6.2.2), gauges off by as much as they may be.
func TestBeginsWithinItsUncertainty(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 4))
	for _, name := range []string{"saltmarsh", "prairie"} {
		j := editedJob(t, name)
		p := map[string]simPump{"saltmarsh": ostrel, "prairie": vessant}[name]
		hit, n := 0, 0
		for range 100 {
			typed := map[string]string{}
			q := p
			q.at0 *= .95 + .1*rng.Float64()
			biasP, biasX := 2*rng.Float64()-1, 2*rng.Float64()-1
			for _, x := range j.Final.Pressure {
				as(j, typed, x.Box, q.pressure(x.Spec.Speed)+biasP*j.Shop.Instrument("pressure gauge").Permissible.Value*toBase[x.Box.Unit.Symbol])
			}
			for _, x := range j.Final.Travel {
				as(j, typed, x.Pressure, q.pressure(x.Spec.Speed)+biasP*j.Shop.Instrument("pressure gauge").Permissible.Value*toBase[x.Pressure.Unit.Symbol])
				as(j, typed, x.Box, q.travel(x.Spec.Speed, 1)+biasX*j.Shop.Instrument("timing travel gauge").Permissible.Value*toBase[x.Box.Unit.Symbol])
			}
			e := j.Judge(read(t, j, typed)).Now.Timing
			if e == nil || e.U == nil || e.Begins == nil {
				continue
			}
			n++
			if math.Abs(*e.Begins-q.starts()/toBase[e.Pressure]) <= *e.U {
				hit++
			}
		}
		require.Greater(t, n, 90)
		assert.GreaterOrEqual(t, hit*100/n, 93, name)
	}
}

// comesOut makes report and data of results, whatever they are.
func comesOut(t testing.TB, j *Job, r *Results) {
	t.Helper()
	data, err := r.JSON()
	require.NoError(t, err)
	require.True(t, json.Valid(data))
	for _, bad := range []string{"NaN", "Inf"} {
		require.NotContains(t, string(data), bad)
	}
	pdf, err := j.ReportPDF(r)
	require.NoError(t, err)
	require.NotEmpty(t, pdf)
	for _, asFound := range []bool{false, true} {
		text, _ := r.Advice(asFound)
		for _, bad := range []string{"NaN", "Inf", "%!"} {
			require.NotContains(t, text, bad)
		}
	}
}

// The table of deliveries never says less against a pump than the mean or the
// spread alone.
func TestTableSaysTheWorse(t *testing.T) {
	assert.True(t, worse(TooClose, Meets))
	assert.True(t, worse(DoesNotMeet, TooClose))
	assert.False(t, worse(TooClose, DoesNotMeet))
	assert.False(t, worse("", Meets), "no permitted spread")
}

// A reading going up that is too close to call does not hide one coming down
// far outside; a tick answered no holds the release.
func TestComingDownAndAnswersOfNo(t *testing.T) {
	j, typed := demoJob(t, "saltmarsh")
	up := j.Final.Travel[1]
	typed[up.Box.Code], typed[up.Down.Code] = "3.2", "4.5" // limits 2.6 to 3.2
	it := item(t, j.Judge(read(t, j, typed)), up.Name)
	assert.Equal(t, DoesNotMeet, it.Verdict)
	assert.Contains(t, it.Note, "coming down 4.5")

	j, typed = demoJob(t, "saltmarsh")
	for _, s := range j.Stages {
		for _, b := range s.Boxes() {
			if b.Kind != Tick {
				continue
			}
			was := typed[b.Code]
			typed[b.Code] = "no"
			r := j.Judge(read(t, j, typed))
			assert.Equal(t, PumpIncomplete, r.Overall, b.Code)
			typed[b.Code] = was
		}
	}
	for _, k := range j.Looks {
		was := typed[k.Box.Code]
		typed[k.Box.Code] = k.Box.Choices[len(k.Box.Choices)-1]
		r := j.Judge(read(t, j, typed))
		assert.Equal(t, PumpFails, r.Overall, k.Box.Code)
		typed[k.Box.Code] = was
	}
}
