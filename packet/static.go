package packet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shimcard/calc"
	"shimcard/specs"
)

// practice is what a technician does at one static dimension, in our words.
type practice struct {
	title, purpose string
	reading        string
	steps          []direction
	places         []place // when there are several
	drawing        Drawing
}

// direction is one step of a practice. Its text takes a figure where figure is
// set; where that is not known, instead is said, and nothing when that is "".
type direction struct {
	text, caution string
	figure        func(*Adjustment) string
	instead       string
}

// place names what lies in one of several places, the stack fitted there, and
// the one that is there once all are alike.
type place struct{ of, fitted, alike string }

// said is the step for one adjustment, ok false where it does not apply.
func (d direction) said(a *Adjustment) (s Step, ok bool) {
	switch {
	case d.figure == nil:
		return Step{a.T(d.text), a.T(d.caution)}, true
	case d.figure(a) != "":
		return Step{a.T(d.text, d.figure(a)), a.T(d.caution)}, true
	}
	return Step{a.T(d.instead), a.T(d.caution)}, d.instead != ""
}

// The figures of directions; "" where there is none.

func prescribedShim(a *Adjustment) string {
	if a.Dim.Shims.Prescribed == 0 {
		return "" // the sheet of this pump does not split the pack
	}
	p := a.Dim.Shims.Prescribed
	last := calc.LengthOf(math.Pow10(-a.decimals()), a.Dim.Unit) // figure that can be read
	low, high := (p-a.Apart+last-1)/last*last, (p+a.Apart)/last*last
	return a.T("%s (measured %s – %s)", a.f(p)+" "+a.Dim.Unit.Symbol, a.f(low), a.f(high))
}

func shimmedZone(a *Adjustment) string {
	if a.Dim.Shims == nil {
		return ""
	}
	return a.zoneUnit()
}

func bareZone(a *Adjustment) string {
	if a.Dim.Shims != nil {
		return ""
	}
	return a.zoneUnit()
}

func spacerBlock(a *Adjustment) string {
	if a.Dim.Block == 0 {
		return ""
	}
	return a.Mark(a.Dim.Block.Fixed(a.Dim.Unit, a.Dim.BlockDecimals)) + " " + a.Dim.Unit.Symbol
}

func oilPressure(a *Adjustment) string {
	if a.Dim.OilPressure.Unit.Factor == 0 {
		return ""
	}
	return a.T("%s on the %s", a.Quantity(a.Dim.OilPressure), a.Gauge)
}

// practices of the static dimensions. Common practice, no source.
var practices = map[specs.DimensionName]practice{
	specs.TimingPack: {
		title: "Timing shim pack", purpose: "Sets the spring load at which the timing piston starts to move.",
		reading: "pack taken out, total", places: []place{{of: "cap %s"}}, drawing: DrawTimingPack,
		steps: []direction{
			{text: "Measure every shim of the pack with the micrometer, clean and dry; never trust the size etched on it. What goes in the cap is measured again as one stack: that reading counts."},
			{text: "The prescribed shim, %s, goes in the piston, all the rest in the cap. Split the other way, the pack stops the piston short.", figure: prescribedShim},
			{text: "First time: pack %s and rightly split: keep it. Else: make it up anew, by the sum or the chart.", figure: (*Adjustment).zoneUnit},
			{text: "Piston must slide its whole length under its own weight when oiled. It sticks: clean it, look for burrs; still sticks: stop, back to C. Cap and spring go on with the roller ring, next sheet."},
		},
	},
	specs.ColdStartTravel: {
		title: "Cold-start device travel", purpose: "Advances the roller ring while the engine is cold.",
		reading: "travel", drawing: DrawColdStart,
		steps: []direction{
			{text: "Device mounted on the roller ring as it now lies, lever at rest. Set the gauge to zero on its plunger."},
			{text: "Move the lever from stop to stop by hand and read the travel.", caution: "Lever springs back hard: keep fingers clear of the stop."},
			{text: "Reads %s: keep. Outside: change the shim, measure again.", figure: shimmedZone},
			{text: "Reads %s: keep. Outside: turn or change only the stop screw or washer that the maker's instructions name; write which, and by how much; measure again. None named: stop and ask.", figure: bareZone},
		},
	},
	specs.SpringPreset: {
		title: "Plunger spring preset", purpose: "Keeps plunger and cam plate together at speed.",
		reading: "face to plunger end", places: []place{{"left %s", "fitted left", "left, made alike"}, {"right %s", "fitted right", "right, made alike"}}, drawing: DrawSpringPreset,
		steps: []direction{
			{text: "Springs, seats, pins and old shims on the plunger as the maker's instructions say; plunger in the head. All parts touching, springs not compressed."},
			{text: "Stacks unlike at C by a size of the tray or more: make them alike first, write below what is in now. Depth micrometer on the head's machined face, spindle down to the plunger's end."},
			{text: "Reads %s: keep. Outside: the same stack on both guide pins, always; measure again.", figure: (*Adjustment).zoneUnit, caution: "Springs leap when the seats come off: hold them down, eye protection on."},
		},
	},
	specs.PlungerDepth: {
		title: "Plunger depth at its lowest point", purpose: "Sets where the stroke begins. The shim under the plunger's foot decides it.",
		reading: "depth", drawing: DrawPlungerDepth,
		steps: []direction{
			{text: "Inner parts as the maker and J, step 1, say; springs as at G, plunger on its drive pin, foot shim in. Two opposite head screws, evenly, hand-tight or as the maker says, until the head sits all round."},
			{text: "Dial indicator to zero on a flat block; its foot on the machined face, central plug out."},
			{text: "Turn the drive by hand past the deepest reading: it counts."},
			{text: "Reads %s: keep. Outside: head off, change the foot shim, head on, measure again.", figure: (*Adjustment).zoneUnit, caution: "Springs push the head up: loosen the two screws evenly, hand on the head, eye protection on."},
		},
	},
	specs.PreStroke: {
		title: "Pre-stroke", purpose: "Sets how far the plunger lifts before its port closes and pumping begins.",
		reading: "lift until the port closes", drawing: DrawPreStroke,
		steps: []direction{
			{text: "Inner parts as the maker and J, step 1, say; spacer in; head on, tightened as at J, delivery valves out. Dial indicator through the plug's hole on the plunger; zero at its lowest point."},
			{text: "Test oil, %s, to the head's inlet passage as the maker's instructions say, not to the pump: its top is open. Solenoid, if any, energised.", figure: oilPressure,
				instead: "Test oil, at the maker's pressure (note it in the remarks), to the head's inlet passage as the maker's instructions say, not to the pump: its top is open. Solenoid, if any, energised.",
				caution: "Never hold a hand before an open outlet."},
			{text: "Turn in running direction until the outlet being fed just stops running: that lift counts."},
			{text: "Reads %s: keep. Outside: head off, change the spacer, head on, measure again.", figure: (*Adjustment).zoneUnit, caution: "Springs push the head up: loosen the screws evenly, hand on the head, eye protection on."},
		},
	},
	specs.ShaftProjection: {
		title: "Governor shaft projection", purpose: "Places the flyweights against the lever; a shaft that is out shifts every governed speed.",
		reading: "housing face to shaft end", drawing: DrawShaftProjection,
		steps: []direction{
			{text: "Lock nut tight. Depth gauge with its bridge on the housing's machined face, zeroed on a flat; measure to the end of the governor shaft."},
			{text: "Reads %s: keep. Outside: loosen the lock nut, turn the shaft at this same end by the turns worked out below, hold it there.", figure: (*Adjustment).zoneUnit},
			{text: "Every time: lock nut to its torque first, then measure again; the nut pulls the shaft a little."},
		},
	},
	specs.EndFloat: {
		title: "Flyweight end float", purpose: "Lets the flyweight carrier turn free, and no more.",
		reading: "middle of the two blades", drawing: DrawEndFloat,
		steps: []direction{
			{text: "Washers, shim, carrier and flyweights as the maker's instructions say. Carrier pressed lightly away from the stop pin; feeler blades between the two."},
			{text: "Note the thickest blade that goes and the thinnest that does not, neighbours in the set: their middle counts, a half rounded up."},
			{text: "Middle %s: keep. Outside: change the shim behind the governor's thrust washer, measure again. Shaft moved: projection again.", figure: (*Adjustment).zoneUnit},
		},
	},
	specs.StartingGap: {
		title: "Starting gap", purpose: "Sets the extra delivery at starting. The plug that closes the governor sleeve decides it.",
		reading: "middle of the two blades", drawing: DrawStartingGap,
		steps: []direction{
			{text: "Levers as the maker's instructions say, ball pin in the metering sleeve. Spacer block of %s between the starting lever and its stop; press the lever against it, sleeve fully home.", figure: spacerBlock,
				instead: "Levers as the maker's instructions say, ball pin in the metering sleeve. The maker's spacer block, its size written below, between the starting lever and its stop; press the lever against it, sleeve fully home."},
			{text: "Feel the gap between the sleeve's end plug and the lever: thickest blade that goes, thinnest that does not; their middle counts, a half rounded up."},
			{text: "Middle %s: keep. Outside: fit an end plug of another length (a longer plug makes the gap smaller), measure again. Lever off: its ball pin again, as at J.", figure: (*Adjustment).zoneUnit},
		},
	},
}

// tries is how often a sheet leaves room to fit and measure again.
const tries = 3

// taken declares, at the strip, the boxes for the shims of one dimension as
// they come out: every shim of a stack, then its sum, place by place.
func (b *builder) taken(d *specs.Dimension) (parts []*Box, sums []*Box) {
	s := d.Shims
	low, high := s.Tray.Sizes[0]/2, s.Tray.Sizes[len(s.Tray.Sizes)-1]*3/2
	name := nameWord(b.Printer, s.Tray.Part)
	shim := func(label string) *Box {
		return b.shim(label, d, low, max(high, s.Prescribed*3/2)).with("micrometer")
	}
	places := practices[d.Name].places
	if s.Places == 1 {
		places = nil
	}
	if s.Prescribed > 0 {
		x := shim(b.T("%s at the piston", name))
		parts, sums = append(parts, x), append(sums, x)
		places = practices[d.Name].places
	}
	for i := range max(s.Places, len(places)) {
		in := func(what string) string {
			if i < len(places) {
				return b.T(places[i].of, what)
			}
			return what
		}
		if s.MostPerPlace == 1 && s.Prescribed == 0 {
			x := shim(in(name))
			parts, sums = append(parts, x), append(sums, x)
			continue
		}
		var stack []*Box
		first := ""
		for k := range s.MostPerPlace {
			x := shim(in(fmt.Sprintf("%s %d", name, k+1)))
			if k == 0 {
				first = x.Code
			}
			stack = append(stack, b.sub(x, first+string(rune('a'+k))))
		}
		sum := b.shim(in(b.T("stack")), d, 0, high*calc.Length(s.MostPerPlace)).worked(over(Sum, stack, 1))
		sum.Code = first
		parts, sums = append(append(parts, stack...), sum), append(sums, sum)
	}
	return parts, sums
}

// adjust declares the sheet of one static dimension: what and why, what to do,
// measure, work it out, look it up, tighten what the spec tightens there, fit
// and measure again.
func (b *builder) adjust(d *specs.Dimension, out []*Box, at ...specs.TorqueAt) *Adjustment {
	p := practices[d.Name]
	sh := b.sheet(p.title, p.purpose)
	a := &Adjustment{Printer: b.Printer, Dim: d, Stage: b.stage.Letter, Out: out}
	sh.Figure = a.read(d.Target) + " " + d.Unit.Symbol
	sh.Limits = b.T("limits %s – %s", a.read(d.Low), a.read(d.High))
	a.guard(b.Shop)
	sh.Zone = a.zoneLine()
	a.Gauge = b.named("inlet gauge")
	for _, t := range b.Spec.Bench.TimingTravel {
		if l := t.Limits; !math.IsInf(l.Low, 0) && !math.IsInf(l.High, 0) {
			a.Reach = max(a.Reach, calc.LengthOf(l.High-l.Low, l.Unit))
		}
	}
	if d.Shims != nil {
		a.Stock = stockOf(b.Shop, d.Shims.Tray)
	}
	a.charts = chartsOf(a)
	do := Do{Drawing: p.drawing}
	if d.Name == specs.TimingPack && d.Shims.Prescribed == 0 {
		do.Drawing = "" // it shows the pack split
	}
	for _, step := range p.steps {
		if said, ok := step.said(a); ok {
			do.Steps = append(do.Steps, said)
		}
	}
	sh.add(do)

	if d.Shims != nil && d.Shims.Prescribed > 0 {
		b.pack(sh, a)
		return a
	}
	if d.Name == specs.StartingGap && d.Block == 0 {
		a.Block = b.length(b.T("spacer block, its size"), d, calc.Millimetre, 100*calc.Millimetre).with("micrometer")
	}
	b.measure(sh, a, b.T(p.reading))
	aim := b.T("target")
	if a.Aim != d.Target {
		aim = b.T("aim") // the target lies too near a limit to be met for sure
	}
	effect := d.Effect
	switch {
	case d.Thread != nil:
		effect = d.Thread.Pitch.In(d.Unit)
		if !d.Thread.OutGrows {
			effect = -effect
		}
		a.Change = b.change(d)
		a.Change.worked(linear(a.Aim.In(d.Unit), minus(a.Measured)).named(aim, "", ""))
		a.Wanted = b.turns(b.T("turns ( + out, − in )")).worked(linear(0, Term{a.Change, 1 / effect}).named("", b.T("one turn"), b.Mark(d.Thread.Pitch.Fixed(d.Unit, d.Thread.Decimals))))
		sh.add(a.workOut(a.Change, a.Wanted), Lookup{a})
	case d.Shims != nil:
		part := a.part()
		high := d.Shims.Tray.Sizes[len(d.Shims.Tray.Sizes)-1] * calc.Length(d.Shims.MostPerPlace) * 3 / 2
		a.Change = b.change(d)
		a.Present = b.shim(b.T("%s out, from %s", part, out[0].Code), d, 0, high).worked(carried(out[0]))
		a.Present.Short = b.T("out, %s", out[0].Code)
		if len(out) > 1 {
			for i := range out {
				x := b.shim(b.T(p.places[i].alike), d, d.Shims.Tray.Sizes[0]/2, high).with("micrometer")
				a.Alike = append(a.Alike, b.sub(x, a.Present.Code+string(rune('a'+i))))
			}
			a.Present.Label = b.T("each side, from %s or %s", out[0].Code, a.Alike[0].Code)
			a.Present.Short = b.T("in, %s or %s", out[0].Code, a.Alike[0].Code)
			a.Present.worked(over(Latest, []*Box{out[0], a.Alike[0]}, 1))
		}
		a.Wanted = b.shim(b.T("%s wanted", part), d, 0, 2*high)
		a.Wanted.Short = b.T("wanted")
		if d.Shims.Places > 1 {
			a.Wanted.Label, a.Wanted.Short = b.T("each side, wanted"), b.T("each side")
		}
		f := linear(a.Aim.In(d.Unit)/effect, Term{a.Measured, -1 / effect})
		if effect == -1 {
			f = linear(-a.Aim.In(d.Unit), plus(a.Measured))
		}
		by := b.Mark(strings.TrimPrefix(d.EffectText, "−"))
		if math.Abs(effect) == 1 {
			by = "" // nothing to divide by
		}
		a.Change.worked(f.named(aim, b.T("effect"), by))
		a.Wanted.worked(linear(0, plus(a.Change), plus(a.Present)))
		sh.add(a.workOut(a.Change, a.Present, a.Wanted), Lookup{a})
	}
	if len(at) > 0 {
		sh.add(b.torques(b, at...)) // the nut's pull is in what is measured again
	}
	for i := range tries {
		t := &Try{}
		before, fittedBefore := a.Measured, a.Present
		if i > 0 {
			before = a.Tries[i-1].Now
			if len(a.Tries[i-1].Fitted) > 0 {
				fittedBefore = a.Tries[i-1].Fitted[0]
			}
		}
		t.Fitted = b.fitted(d, p)
		switch {
		case d.Thread != nil:
			t.Expected = b.length(b.T(expectedLabel), d, d.BelievableLow, d.BelievableHigh).
				worked(linear(0, plus(before), Term{t.Fitted[0], effect}))
		case d.Shims != nil:
			t.Expected = b.length(b.T(expectedLabel), d, d.BelievableLow, d.BelievableHigh).
				worked(linear(0, plus(before), Term{t.Fitted[0], effect}, Term{fittedBefore, -effect}))
		}
		t.Blades, t.Now = b.again(d)
		if d.Thread == nil && d.Shims == nil {
			t.What = b.sub(b.text(b.T("what was changed")), t.Now.Code+"w")
		}
		a.Tries = append(a.Tries, t)
	}
	sh.add(Refit{a})
	return a
}

// again declares the reading after a refit: one figure, or two blades and
// their middle.
func (b *builder) again(d *specs.Dimension) (blades []*Box, now *Box) {
	now = b.length(b.T("reads now"), d, d.BelievableLow, d.BelievableHigh).with(d.Instrument)
	if d.Take != specs.Bracket {
		return nil, now
	}
	for i, label := range b.all("goes", "does not go") {
		x := b.sub(b.length(label, d, 0, d.BelievableHigh).with(d.Instrument), now.Code+string(rune('a'+i)))
		blades = append(blades, x)
	}
	blades[1].Thinner = blades[0]
	now.Label = b.T("middle")
	now.worked(linear(0, Term{blades[0], .5}, Term{blades[1], .5}))
	return blades, now
}

// measure declares the reading: once, repeated, or a bracket of two blades.
func (b *builder) measure(sh *Sheet, a *Adjustment, reading string) {
	d := a.Dim
	read := func(label string) *Box {
		return b.length(label, d, d.BelievableLow, d.BelievableHigh).with(d.Instrument)
	}
	a.Measured = read(reading).needed()
	a.Measured.Short = b.T("reading")
	code := a.Measured.Code
	labels := b.all("first", "second", "third")[:max(1, d.Repeats)]
	op := map[specs.Take]Op{specs.Mean: Mean, specs.Largest: Largest, specs.Smallest: Smallest}[d.Take]
	if d.Take == specs.Bracket {
		labels, op = b.all("blade that goes", "blade that does not"), Linear
	}
	if len(labels) == 1 {
		a.Repeats = []*Box{a.Measured}
		if d.Shims == nil && d.Thread == nil {
			sh.add(Write{Heading: b.T("Measure"), Boxes: a.Repeats})
		}
		return // it is written straight into the arithmetic
	}
	for i, l := range labels {
		x := b.sub(read(l), code+string(rune('a'+i)))
		if d.Take == specs.Bracket {
			x.Low = 0
			if i > 0 {
				x.Thinner = a.Repeats[0]
			}
		}
		a.Repeats = append(a.Repeats, x)
	}
	f := over(op, a.Repeats, 1)
	switch {
	case d.Take == specs.Bracket:
		f = linear(0, Term{a.Repeats[0], .5}, Term{a.Repeats[1], .5})
		a.Measured.Short = b.T("middle")
	case op == Largest:
		a.Measured.Label, a.Measured.Short = b.T("%s, largest", reading), b.T("largest")
	case op == Smallest:
		a.Measured.Label, a.Measured.Short = b.T("%s, smallest", reading), b.T("smallest")
	default:
		a.Measured.Label, a.Measured.Short = b.T("%s, mean", reading), b.T("mean")
	}
	a.Measured.worked(f)
	if d.Shims == nil && d.Thread == nil {
		sh.add(Write{Heading: b.T("Measure"), Boxes: append(append([]*Box(nil), a.Repeats...), a.Measured)})
	}
}

// workOut is the row of arithmetic, which begins with the reading.
func (a *Adjustment) workOut(boxes ...*Box) WorkOut {
	w := WorkOut{Heading: a.T("Measure, work it out"), Boxes: append([]*Box{a.Measured}, boxes...), Results: []*Box{a.Change, a.Wanted}, Worked: a.worked()}
	if a.Block != nil {
		w.Readings = append(w.Readings, a.Block)
	}
	if a.Alike != nil {
		w.Readings = append(w.Readings, a.Alike...)
	}
	if len(a.Repeats) > 1 {
		w.Readings = append(w.Readings, a.Repeats...)
	}
	return w
}

// change declares the signed difference that is to be made up.
func (b *builder) change(d *specs.Dimension) *Box {
	most := max(d.BelievableHigh-d.Target, d.Target-d.BelievableLow)
	if d.Thread == nil {
		most = calc.Length(float64(most) / math.Abs(d.Effect)) // a change of shim
	}
	x := b.length(b.T("change ( + or − )"), d, -most, most)
	x.Signed = true
	return x
}

func (b *builder) turns(label string) *Box {
	x := b.number(label, turnsUnit, 2, -9, 9)
	x.Signed = true
	return x
}

// turnsUnit is a plain number that says what it counts.
var turnsUnit = calc.Unit{Symbol: "turns", Kind: calc.Count, Factor: 1}

func (b *builder) fitted(d *specs.Dimension, p practice) []*Box {
	switch {
	case d.Thread != nil:
		return []*Box{b.turns(b.T("turned by, turns ( + out, − in )"))}
	case d.Shims == nil:
		return nil
	}
	s := d.Shims
	high := s.Tray.Sizes[len(s.Tray.Sizes)-1] * calc.Length(s.MostPerPlace) * 3 / 2
	if s.Places == 1 {
		return []*Box{b.shim(b.T("%s fitted", nameWord(b.Printer, s.Tray.Part)), d, s.Tray.Sizes[0]/2, high).with("micrometer")}
	}
	var out []*Box
	for i := range s.Places {
		label := b.T("fitted %d", i+1)
		if i < len(p.places) {
			label = b.T(p.places[i].fitted)
		}
		out = append(out, b.shim(label, d, s.Tray.Sizes[0]/2, high).with("micrometer"))
	}
	return out
}

// pack declares the sheet of a pack split between piston and cap. Its
// dimension is the sum of its own shims, so refitting measures itself.
func (b *builder) pack(sh *Sheet, a *Adjustment) {
	d := a.Dim
	s := d.Shims
	u := d.Unit
	most := s.Tray.Sizes[len(s.Tray.Sizes)-1]*calc.Length(s.MostPerPlace)*3/2 + s.Prescribed
	piston := b.shim(b.T("piston, from %s", a.Out[0].Code), d, s.Prescribed/2, s.Prescribed*3/2).worked(carried(a.Out[0]))
	rest := b.shim(b.T("cap, from %s", a.Out[1].Code), d, 0, most).worked(carried(a.Out[1]))
	a.Measured = b.shim(b.T("pack taken out"), d, d.BelievableLow, d.BelievableHigh).
		worked(linear(0, plus(piston), plus(rest))).needed().with("micrometer")
	a.Repeats, a.Present = []*Box{a.Measured}, a.Measured
	a.Total = b.shim(b.T("total M asks for"), d, d.BelievableLow, d.BelievableHigh)
	a.Wanted = b.shim(b.T("cap pack wanted"), d, 0, most).
		worked(linear(-s.Prescribed.In(u), plus(a.Total)).named(b.T("at the piston"), "", ""))
	sh.add(WorkOut{
		Heading: b.T("Add up what came out; work out what goes in"),
		Note:    b.T("First time: %s − %s at the piston = **%s wanted in the cap**. Sent back by M, on a fresh page: the first row stands on the old one; the total M asks for in %s, and what it gives in %s; “%s” may be as far from it: %s.", a.read(a.Aim), a.f(s.Prescribed), a.f(a.Aim-s.Prescribed), a.Total.Code, a.Wanted.Code, b.T("pack now"), a.allowance()),
		Boxes:   []*Box{piston, rest, a.Measured, a.Total, a.Wanted}, Results: []*Box{a.Measured, a.Wanted}, Worked: a.worked()},
		Lookup{a}, Note{b.moreShim(d)})
	for range tries {
		at := b.shim(b.T("fitted at the piston"), d, s.Prescribed/2, s.Prescribed*3/2).with("micrometer")
		in := b.shim(b.T("fitted in the cap"), d, 0, most).with("micrometer")
		now := b.shim(b.T("pack now"), d, d.BelievableLow, d.BelievableHigh).worked(linear(0, plus(at), plus(in))).with("micrometer")
		a.Tries = append(a.Tries, &Try{Fitted: []*Box{at, in}, Now: now})
	}
	sh.add(Refit{a})
}

// stockOf is how many of each size of a tray the shop has, nil when its file
// does not count that tray. A size the file leaves out is counted as none.
func stockOf(shop *specs.Shop, tray *specs.Tray) []int {
	for _, s := range shop.Stock {
		if s.Tray != tray.Name {
			continue
		}
		count := make([]int, len(tray.Sizes))
		for i, size := range tray.Sizes {
			if k := slices.Index(s.Sizes, size); k >= 0 {
				count[i] = s.Count[k]
			}
		}
		return count
	}
	return nil
}

// moreShim says what one more tenth of a millimetre, or four thousandths of an
// inch, does to the start of the timing: pressure up by k·s/A, and speed by
// that over the rise of supply pressure with speed, a straight line through the
// middles of the sheet's limits. "" where the sheet gives too little.
func (b *builder) moreShim(d *specs.Dimension) string {
	piston, points := b.Spec.Piston, b.Spec.Bench.SupplyPressure
	if piston == nil || piston.Diameter == 0 || len(points) < 2 {
		return ""
	}
	more := calc.Millimetre / 10
	if d.Unit == calc.IN {
		more = calc.Inch * 4 / 1000
	}
	diameter := piston.Diameter.In(calc.MM)
	rise, err := calc.StartPressure(piston.SpringRate, more.In(calc.MM), math.Pi/4*diameter*diameter)
	if err != nil {
		return ""
	}
	var speed, pressure []float64
	for _, p := range points {
		if math.IsInf(p.Limits.Low, 0) || math.IsInf(p.Limits.High, 0) {
			return ""
		}
		speed = append(speed, p.Speed)
		pressure = append(pressure, (p.Limits.Low+p.Limits.High)/2*p.Limits.Unit.Factor)
	}
	line, err := calc.FitCurve(speed, pressure, 1)
	if err != nil || line.Coef[1] <= 0 {
		return ""
	}
	unit := points[0].Limits.Unit
	load := b.Fixed(piston.SpringRate*more.In(calc.MM), 1) + " N"
	rate, bore := b.Fixed(piston.SpringRate, 1)+" N/mm", b.Fixed(diameter, 1)+" mm"
	if d.Unit == calc.IN {
		load = b.Fixed(piston.SpringRate/lbfPerInch.Factor*more.In(calc.IN), 1) + " lbf"
		rate = b.Fixed(piston.SpringRate/lbfPerInch.Factor, 0) + " lbf/in"
		bore = b.Mark(piston.Diameter.Fixed(calc.IN, 2)) + " in"
	}
	extra := b.Mark(more.Fixed(d.Unit, d.Decimals)) + " " + d.Unit.Symbol
	return b.T("%s more of shim: %s more spring load, %s less travel at every speed; the piston starts %s %s later, about %s rev/min (spring %s, piston %s, the sheet's own pressure line).",
		extra, load, extra, b.Fixed(rise/unit.Factor, points[0].Limits.Decimals+1), unit.Symbol, b.Fixed(rise/line.Coef[1], 0), rate, bore)
}

var lbfPerInch, _ = calc.ParseUnit("lbf/in")
