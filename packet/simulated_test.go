package packet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/specs"
)

// simulated is a job done as the sheets say and typed without a mistake: a pump
// as it may come in, instruments with an error of their own within what the shop
// file permits, hands that repeat no better than they can. Every figure is
// invented.
type simulated struct {
	t     testing.TB
	j     *Job
	rng   *rand.Rand
	typed map[string]string
	soFar *Readings          // the figures
	bias  map[string]float64 // of an instrument, in parts of its permissible error
}

func simulate(t testing.TB, j *Job, rng *rand.Rand) map[string]string {
	s := &simulated{t, j, rng, map[string]string{}, &Readings{Entries: map[string]Entry{}}, map[string]float64{}}
	for _, i := range j.Shop.Instruments {
		s.bias[i.Name] = s.within(1)
	}
	for _, a := range j.Adjustments {
		s.adjust(a)
	}
	s.run(j.AsFound, true)
	s.run(j.Final, false)
	s.signed()
	return s.typed
}

// within is a number within ±x.
func (s *simulated) within(x float64) float64 { return x * (2*s.rng.Float64() - 1) }

// write types a figure as the box has it.
func (s *simulated) write(b *Box, x float64) {
	text := strings.ReplaceAll(calc.Fixed(x, b.Decimals), "−", "-")
	e := Entry{Raw: text}
	b.read(text, &e)
	s.typed[b.Code], s.soFar.Entries[b.Code] = text, e
}

// read types a truth as its instrument shows it.
func (s *simulated) read(b *Box, truth float64) {
	step := math.Pow10(-b.Decimals)
	if i := s.j.Shop.Instrument(b.Instrument); i != nil && i.Permissible.Unit.Kind == b.Unit.Kind {
		truth += s.bias[b.Instrument] * i.Permissible.Value * i.Permissible.Unit.Factor / b.Unit.Factor
		step = max(step, i.Resolution.Value*i.Resolution.Unit.Factor/b.Unit.Factor)
	}
	x := math.Round(truth/step) * step
	if b.Low >= 0 {
		x = max(x, 0)
	}
	s.write(b, x)
}

func (s *simulated) values() *values { return newValues(s.soFar) }

// entries are the readings of a form with these texts.
func entries(j *Job, typed map[string]string) *Readings {
	r := &Readings{Entries: map[string]Entry{}}
	for _, b := range j.Boxes() {
		e := Entry{Raw: typed[b.Code]}
		b.read(e.Raw, &e)
		r.Entries[b.Code] = e
	}
	return r
}

// dimension types the readings of a truth: as often as the sheet asks, or the two
// blades round it.
func (s *simulated) dimension(d *specs.Dimension, boxes []*Box, truth float64) {
	if d.Take == specs.Bracket {
		i := s.j.Shop.Instrument(d.Instrument)
		step := i.Resolution.Value * i.Resolution.Unit.Factor / d.Unit.Factor
		k := math.Max(math.Floor(truth/step), 1)
		s.write(boxes[0], k*step)
		s.write(boxes[1], (k+1)*step)
		return
	}
	for _, b := range boxes {
		s.read(b, truth+s.within(.6*math.Pow10(-d.Decimals)))
	}
}

// adjust measures a dimension and shims it until it lies in the zone to keep, as
// the sheet says, each shim a little off its size.
func (s *simulated) adjust(a *Adjustment) {
	d, t := a.Dim, a.Dim.Shims
	made := func(l calc.Length) float64 { return l.In(d.Unit) + s.within(.002)/toBase[d.Unit.Symbol] }
	truth := d.Target + calc.Length(s.within(1.2)*float64(d.High-d.Low))
	present := calc.Length(0)
	switch {
	case t == nil && d.Thread == nil:
		truth = d.Target + calc.Length(s.within(.25)*float64(d.High-d.Low))
	case t == nil:
	case t.Prescribed > 0:
		s.read(a.Out[0], made(t.Prescribed))
		rest := d.Target - t.Prescribed + calc.Length(s.rng.IntN(5)-2)*narrowest(t.Tray)
		first := t.Tray.Sizes[0]
		for _, z := range t.Tray.Sizes {
			if rest-z >= t.Tray.Sizes[0] && z <= rest-z+2*narrowest(t.Tray) {
				first = z
			}
		}
		s.read(a.Out[1].From.Terms[0].Box, made(first))
		s.read(a.Out[1].From.Terms[1].Box, made(rest-first))
	default:
		n := len(t.Tray.Sizes)
		present = t.Tray.Sizes[n/4+s.rng.IntN(n/2)]
		for _, out := range a.Out {
			if out.From != nil {
				out = out.From.Terms[0].Box
			}
			s.read(out, made(present))
		}
	}
	if t == nil || t.Prescribed == 0 {
		s.dimension(d, a.Repeats, truth.In(d.Unit))
	}
	for i, try := range a.Tries {
		v := s.values()
		now := a.Measured
		if i > 0 {
			now = a.Tries[i-1].Now
		}
		x, ok := v.length(now)
		require.True(s.t, ok, now.Code)
		if x >= a.Low && x <= a.High || t == nil && d.Thread == nil {
			return
		}
		if d.Thread != nil {
			turns, _, out, _ := a.turn(x)
			if !out {
				turns = -turns
			}
			s.write(try.Fitted[0], turns)
			moved := (turns + s.within(1.0/32)) * float64(d.Thread.Pitch)
			if !d.Thread.OutGrows {
				moved = -moved
			}
			truth += calc.Length(moved)
		} else {
			was, _ := v.length(a.Present)
			if i > 0 {
				was, _ = v.length(a.Tries[i-1].Fitted[0])
			}
			ans, err := calc.PickShims(a.question(x, was))
			if err != nil || !ans.Reaches {
				return
			}
			if t.Prescribed > 0 {
				s.read(try.Fitted[0], made(t.Prescribed))
				s.read(try.Fitted[1], made(ans.Best.Total-t.Prescribed))
				continue
			}
			for _, f := range try.Fitted {
				s.read(f, made(ans.Best.Total))
			}
			truth += calc.Length(d.Effect * float64(ans.Best.Total-present))
			present = ans.Best.Total
		}
		s.dimension(d, try.readings(), truth.In(d.Unit))
	}
}

func midOf(l specs.Range) float64 {
	if math.IsInf(l.High, 1) {
		return l.Low * 1.2
	}
	return (max(l.Low, 0) + l.High) / 2
}

func halfOf(l specs.Range) float64 { return midOf(l) - max(l.Low, 0) }

// run is a bench run: as found the pump is up to one and a half times its limits
// off, and every second one has a worn outlet.
func (s *simulated) run(r *Run, found bool) {
	bench := &s.j.Spec.Bench
	off := s.within(.3)
	if found {
		off = s.within(1.5)
	}
	inlet := bench.Conditions.InletTemperature
	at := midOf(inlet) + s.within(.5)*halfOf(inlet)
	s.read(r.Temperature, at)
	if r.Inlet != nil {
		s.read(r.Inlet, midOf(*bench.Conditions.InletPressure))
	}
	// Pressure and travel lie on the lines through the middles of the limits, moved.
	through := func(points []*specs.SpeedPoint) func(speed float64) float64 {
		var n, y []float64
		for _, p := range points {
			n, y = append(n, p.Speed), append(y, midOf(p.Limits))
		}
		line, err := calc.FitCurve(n, y, 1)
		require.NoError(s.t, err)
		return func(speed float64) float64 { q, _ := line.At(speed); return q }
	}
	pressure, travel := through(bench.SupplyPressure), through(bench.TimingTravel)
	for _, l := range r.Pressure {
		s.read(l.Box, pressure(l.Spec.Speed)+off*halfOf(l.Spec.Limits))
	}
	for _, l := range r.Travel {
		if s.typed[l.Pressure.Code] == "" {
			s.read(l.Pressure, pressure(l.Spec.Speed)+off*halfOf(bench.SupplyPressure[0].Limits))
		}
		x := max(travel(l.Spec.Speed)+.8*off*halfOf(l.Spec.Limits), 0)
		s.read(l.Box, x)
		if l.Down != nil {
			s.read(l.Down, x+.1*halfOf(l.Spec.Limits))
		}
	}
	outlets := make([]float64, len(s.j.Spec.Pump.Marks))
	for i := range outlets {
		outlets[i] = s.within(.012)
	}
	if found && s.rng.IntN(2) == 0 {
		outlets[s.rng.IntN(len(outlets))] = -.03 - .12*s.rng.Float64()
	}
	oil := calc.Convert(bench.Conditions.Reference.Value, bench.Conditions.Reference.Unit, calc.Celsius) + 3
	for _, pt := range r.Points {
		factor := 1.0
		if pt.Oil != nil {
			oil += s.within(1)
			s.read(pt.Oil, calc.Convert(oil, calc.Celsius, pt.Oil.Unit))
			var err error
			factor, err = volumeFactor(bench, oil)
			require.NoError(s.t, err)
		}
		for i, first := range pt.First {
			if pt.Spec.Kind == specs.ShutOff {
				s.write(first, 0)
				continue
			}
			q := (midOf(pt.Spec.Limits) + off*halfOf(pt.Spec.Limits)) * (1 + outlets[i]) / factor
			if first.Unit.Kind == calc.CM3.Kind {
				q *= float64(pt.Spec.Strokes) / 1000
			}
			for _, b := range []*Box{first, pt.Second[i]} {
				s.read(b, q*(1+s.within(.004)))
			}
		}
	}
	s.branch(r, off)
	if f := r.ReturnFlow; f != nil {
		seconds := 30 + math.Round(s.within(3)*10)/10
		l := f.Spec.Limits
		s.write(f.Box.From.Terms[1].Box, seconds)
		s.read(f.Box.From.Terms[0].Box, (midOf(l)+off*halfOf(l))*l.Unit.Factor/3.6*seconds)
	}
	if r.TemperatureEnd != nil {
		s.read(r.TemperatureEnd, at+s.within(.3))
	}
	if len(r.Screw) > 1 {
		aim := r.Screw[1].Wanted.From.Const
		first := aim - 1 - 2*s.rng.Float64()
		for i, x := range []float64{0, .25} {
			s.write(r.Screw[i].At, x)
			s.write(r.Screw[i].Mean, first+3.2*x*(aim-first))
		}
		s.write(r.ScrewLeft, .30)
	}
}

// branch types the governor's falling branch, a straight line through the middles
// of its limits.
func (s *simulated) branch(r *Run, off float64) {
	if len(r.RunOut) == 0 {
		return
	}
	bench := &s.j.Spec.Bench
	at := r.RunOut[0].Spec
	through, slope := midOf(at.Limits)+20*off, .2
	if len(bench.RunOut) > 1 {
		slope = (at.At.Value - bench.RunOut[1].At.Value) / (midOf(bench.RunOut[1].Limits) - midOf(at.Limits))
	}
	if d := bench.Droop; d != nil && d.Limits != nil {
		if noLoad := d.Rated * (1 + midOf(*d.Limits)/100); noLoad > through {
			slope = max(slope, .9*(at.At.Value-d.NoLoadAt.Value)/(noLoad-through))
		}
	}
	terms := r.RunOut[0].Box.From.Terms
	factor := 0.0 // of the oil, as the readings are worked out
	from := math.Round(through/25-.3*float64(len(terms))) * 25
	for i := 0; i+1 < len(terms); i += 2 {
		n := from + 12.5*float64(i) + math.Round(s.within(3))
		q := at.At.Value + slope*(through-n)
		if q < 0 {
			break
		}
		s.write(terms[i].Box, n)
		mean := terms[i+1].Box
		if mean.From == nil {
			s.read(mean, q)
			continue
		}
		p := mean.From.Point
		if i == 0 {
			ref := calc.Convert(bench.Conditions.Reference.Value, bench.Conditions.Reference.Unit, calc.Celsius)
			s.read(p.Oil, calc.Convert(ref+4, calc.Celsius, p.Oil.Unit))
			factor, _ = p.correction(s.values().number)
		}
		s.read(p.First[0], q*p.together*float64(p.Spec.Strokes)/1000/factor)
	}
}

// signed ticks, answers and signs everything, a stage a day at most.
func (s *simulated) signed() {
	day := s.j.Intake.Received
	for _, st := range s.j.Stages {
		if s.rng.IntN(3) == 0 {
			day = day.AddDate(0, 0, 1)
		}
		for _, b := range st.Boxes() {
			switch b.Kind {
			case Tick:
				s.typed[b.Code] = "yes"
			case Choice:
				s.typed[b.Code] = b.Choices[0]
			case Initials:
				s.typed[b.Code] = "R.T."
			case Date:
				s.typed[b.Code] = day.Format("2006-01-02")
			}
		}
		if st.Second != nil {
			s.typed[st.Second.Code] = "A.W."
		}
	}
	p := s.j.Parts[0]
	s.typed[p.Quantity.Code], s.typed[p.What.Code] = fmt.Sprint(1+s.rng.IntN(3)), "seal kit"
}
