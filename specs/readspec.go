package specs

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shimcard/calc"
	"shimcard/specs/strict"
)

// The bounds on what a sheet states. They catch slips of the pen, not figures
// that are merely unusual.
const (
	version     = 1
	mostName    = 60  // characters of a name on paper
	mostShort   = 40  // of a name that shares its line with figures: trays, instruments, levers
	mostRemark  = 160 // of a free text in a table
	mostNote    = 300
	mostSizes   = 400 // in one tray
	mostPoints  = 40  // in one table of the bench
	lowestSpeed = 20  // rev/min
	highestRev  = 6000
)

// ReadSpec reads and checks a spec file; file names it in errors. The error
// is strict.Faults: everything wrong, in file order.
func ReadSpec(file string, data []byte) (*Spec, error) {
	d := strict.Open(file, data)
	root := d.Root()
	if !versioned(root, "spec") {
		return nil, d.Err()
	}
	r := &specReader{spec: &Spec{}, used: map[*Tray]bool{}}
	r.read(root)
	root.Close()
	if err := d.Err(); err != nil {
		return nil, err
	}
	return r.spec, nil
}

// versioned tells whether root is a file of this version. If it is not, no
// further fault would mean anything.
func versioned(root *strict.Map, key string) bool {
	if root == nil {
		return false
	}
	v := root.Need(key, fmt.Sprintf("%s: %d as the first line", key, version))
	if v.IsNull() {
		v.Text()
		return false
	}
	switch s := v.Text(); s {
	case strconv.Itoa(version):
		return true
	case "":
	default:
		v.Fault("version "+s, fmt.Sprintf("%d, the version this program reads", version))
	}
	return false
}

func optional(m *strict.Map, key string, most int) string {
	if v, ok := m.Get(key); ok {
		return v.TextUpTo(most)
	}
	return ""
}

func yes(m *strict.Map, key string) bool {
	v, ok := m.Get(key)
	return ok && v.Bool()
}

type specReader struct {
	spec  *Spec
	trays []declared
	used  map[*Tray]bool
}

// declared is a tray and where it stands, for faults found later.
type declared struct {
	tray *Tray
	at   strict.Value
}

func (r *specReader) read(root *strict.Map) {
	r.spec.Invented = yes(root, "invented")
	r.pump(root.Need("pump", "pump: {name: …, kind: …, outlets: …, rotation: …}").Map())
	r.vouched(root.Need("vouched", `vouched: {by: initials, on: 2026-10-02, from: "test sheet …"}`).Map())
	r.equipment(root.Need("equipment", "equipment: {cold start: …, boost capsule: …, shut-off solenoid: …, stroke start: …}"))
	dimensions := root.Need("dimensions", "dimensions: with one group for each")
	r.readTrays(root.Need("trays", "trays: with the sizes of each"))
	r.dimensions(dimensions)
	for _, t := range r.trays {
		if !r.used[t.tray] {
			t.at.Fault("a tray that no dimension uses", "its name in the shims of a dimension, or take it out")
		}
	}
	if v, ok := root.Get("timing piston"); ok {
		r.piston(v.Map())
	}
	r.torques(root.Need("torques", "torques: with one line for each"))
	r.bench(root.Need("bench", "bench: with conditions and points").Map())
	if v, ok := root.Get("engine"); ok {
		r.engine(v.Map())
	}
	if v, ok := root.Get("notes"); ok {
		for _, n := range v.List() {
			r.spec.Notes = append(r.spec.Notes, n.TextUpTo(mostNote))
		}
	}
}

func (r *specReader) pump(m *strict.Map) {
	p := &r.spec.Pump
	p.Name = m.Need("name", "name: the pump's type").TextUpTo(mostName)
	p.Kind = m.Need("kind", "kind: axial-plunger distributor").OneOf("axial-plunger distributor")
	p.Outlets = m.Need("outlets", "outlets: 4").Int(2, 12)
	p.Rotation = Rotation(m.Need("rotation", "rotation: right, or left, looking at the drive end").OneOf(string(Right), string(Left)))
	if v, ok := m.Get("outlet marks"); ok {
		marks := v.List()
		for _, mark := range marks {
			s := mark.TextUpTo(4)
			if s != "" && slices.Contains(p.Marks, s) {
				mark.Fault("the mark "+s+" a second time", "each mark once")
			}
			p.Marks = append(p.Marks, s)
		}
		if p.Outlets > 0 && len(marks) != p.Outlets && !v.IsNull() {
			v.Fault(fmt.Sprintf("%d marks for %d outlets", len(marks), p.Outlets), "one mark for each outlet, in injection order")
		}
	} else {
		for i := range p.Outlets {
			p.Marks = append(p.Marks, strconv.Itoa(i+1))
		}
	}
	m.Close()
}

func (r *specReader) vouched(m *strict.Map) {
	v := &r.spec.Vouched
	if v.By = m.Need("by", "by: the initials of who stands for these figures, or nobody").TextUpTo(mostShort); v.By == "nobody" {
		v.By = "" // every document says so
	}
	v.On = m.Need("on", "on: 2026-10-02").Date()
	v.From = m.Need("from", "from: the sheet the figures come from").TextUpTo(mostRemark)
	m.Close()
}

func (r *specReader) equipment(v strict.Value) {
	m, e := v.Map(), &r.spec.Equipment
	e.ColdStartDevice = m.Need("cold start", "cold start: device, or cover plate").OneOf("device", "cover plate") == "device"
	e.BoostCapsule = m.Need("boost capsule", "boost capsule: yes, or no").Bool()
	if s := m.Need("shut-off solenoid", "shut-off solenoid: no, 12 V or 24 V").OneOf("no", "12 V", "24 V"); s != "no" {
		e.ShutOffSolenoid = s
	}
	e.PreStroke = m.Need("stroke start", "stroke start: lowest point, or pre-stroke").OneOf("lowest point", "pre-stroke") == "pre-stroke"
	m.Close()
}

// length reads a length of at least low, 0 or 1 nm, in the given unit (any
// when it has no symbol yet).
func length(v strict.Value, low calc.Length, unit *calc.Unit, decimals *int) (calc.Length, bool) {
	l, u, d := v.Length()
	switch {
	case u.Factor == 0:
		return 0, false
	case l < low && low > 0:
		v.Fault(l.Fixed(u, d)+" "+u.Symbol, "a length above 0")
		return 0, false
	case l < low:
		v.Fault(l.Fixed(u, d)+" "+u.Symbol, "a length of 0 or above")
		return 0, false
	case l >= 100*calc.Millimetre:
		v.Fault(l.Fixed(u, d)+" "+u.Symbol, "a length below 100 mm, "+(100*calc.Millimetre).Fixed(calc.IN, 3)+" in")
		return 0, false
	case unit.Factor == 0:
		*unit = u
	case u.Symbol != unit.Symbol:
		v.Fault(v.Text()+" among figures in "+unit.Symbol, "all of them in the one unit")
		return 0, false
	}
	*decimals = max(*decimals, d)
	return l, true
}

func (r *specReader) readTrays(v strict.Value) {
	for _, e := range v.Map().Entries() {
		e.Name.TextUpTo(mostShort)
		t := &Tray{Name: e.Key, Part: "shim"}
		r.trays = append(r.trays, declared{t, e.Name})
		sizes := e.Value
		if e.Value.IsMap() {
			m := e.Value.Map()
			if part := optional(m, "part", 20); part != "" {
				t.Part = part
			}
			if v, ok := m.Get("sizes"); ok {
				sizes = v
			} else {
				r.steps(t, m)
				sizes = strict.Value{}
			}
			m.Close()
		}
		if sizes.IsNull() {
			sizes.Fault("a tray without sizes", "[0.50 mm, 0.55 mm]")
		} else {
			r.sizes(t, sizes)
		}
		slices.Sort(t.Sizes)
		if len(t.Sizes) > 0 {
			r.spec.Trays = append(r.spec.Trays, t)
		}
	}
}

func (r *specReader) sizes(t *Tray, v strict.Value) {
	list := v.List()
	if len(list) > mostSizes {
		v.Fault(fmt.Sprintf("%d sizes", len(list)), fmt.Sprintf("at most %d", mostSizes))
		return
	}
	if len(list) == 0 {
		v.Fault("a tray without sizes", "[0.50 mm, 0.55 mm]")
	}
	for _, s := range list {
		l, ok := length(s, calc.Nanometre, &t.Unit, &t.Decimals)
		switch {
		case !ok:
		case slices.Contains(t.Sizes, l):
			s.Fault("the size "+s.Text()+" a second time", "each size once")
		default:
			t.Sizes = append(t.Sizes, l)
		}
	}
}

func (r *specReader) steps(t *Tray, m *strict.Map) {
	from, a := length(m.Need("from", "from: 1.90 mm, or sizes: […]"), calc.Nanometre, &t.Unit, &t.Decimals)
	to, b := length(m.Need("to", "to: 2.90 mm"), calc.Nanometre, &t.Unit, &t.Decimals)
	step, c := length(m.Need("step", "step: 0.05 mm"), calc.Nanometre, &t.Unit, &t.Decimals)
	switch {
	case !a || !b || !c:
	case to <= from:
		m.Fault("a tray whose last size is not above its first", "from: the thinnest, to: the thickest")
	case (to-from)/step >= mostSizes:
		m.Fault(fmt.Sprintf("over %d sizes", mostSizes), "a larger step")
	case (to-from)%step != 0:
		m.Fault("steps that do not end at the last size", "a step that divides the difference between from and to")
	default:
		for l := from; l <= to; l += step {
			t.Sizes = append(t.Sizes, l)
		}
	}
}

// defaultEffect is the sign each adjustment has by its make-up: common
// practice, no source.
var defaultEffect = map[DimensionName]float64{TimingPack: 1, SpringPreset: 1, PlungerDepth: -1, PreStroke: -1, EndFloat: -1, StartingGap: -1}

func (r *specReader) dimensions(v strict.Value) {
	m := v.Map()
	e := r.spec.Equipment
	for _, n := range DimensionNames {
		v, has := m.Get(string(n))
		misfit, missing := "", true
		switch n {
		case ColdStartTravel:
			missing = false
			if !e.ColdStartDevice {
				misfit = "cold start: cover plate"
			}
		case PlungerDepth:
			if e.PreStroke {
				misfit = "stroke start: pre-stroke"
			}
		case PreStroke:
			if !e.PreStroke {
				misfit = "stroke start: lowest point"
			}
		}
		switch {
		case m == nil:
		case has && misfit != "":
			v.Fault("a dimension this pump does not have (equipment says "+misfit+")", "the equipment that is fitted, or take this out")
		case !has && missing && misfit == "":
			m.Need(string(n), "this dimension with target, limits and instrument; the pump cannot be set without it")
		case has:
			r.dimension(n, v)
		}
	}
	m.Close()
}

func (r *specReader) dimension(n DimensionName, v strict.Value) {
	m := v.Map()
	if m == nil {
		return
	}
	d := &Dimension{Name: n, Line: v.Line(), Repeats: 1, Take: Mean, Effect: defaultEffect[n]}
	r.spec.Dimensions = append(r.spec.Dimensions, d)

	target := m.Need("target", "target: 6.20 mm")
	t, haveTarget := length(target, 0, &d.Unit, &d.Decimals)
	low, high, haveLimits := pair(m.Need("limits", "limits: [6.10 mm, 6.30 mm]"), d)
	if haveTarget && haveLimits {
		if t < low || t > high {
			target.Fault(target.Text()+", outside the limits "+low.Fixed(d.Unit, d.Decimals)+" to "+high.Fixed(d.Unit, d.Decimals)+" "+d.Unit.Symbol, "a target within them, or other limits")
			haveTarget = false
		}
		d.Target, d.Low, d.High = t, low, high
		reach := max(10*(high-low)/2, t/2)
		d.BelievableLow, d.BelievableHigh = max(0, t-reach), t+reach
	}
	if b, ok := m.Get("believable"); ok {
		from, to, ok := pair(b, d)
		if ok && haveLimits && (from > low || to < high) {
			b.Fault("a believable range that leaves out part of the limits", "a range around the limits")
		} else if ok {
			d.BelievableLow, d.BelievableHigh = from, to
		}
	}
	d.Instrument = m.Need("instrument", "instrument: depth micrometer").TextUpTo(mostShort)

	if n == PlungerDepth {
		d.Repeats, d.Take = 3, Largest
	}
	take, hasTake := m.Get("take")
	if hasTake {
		d.Take = Take(take.OneOf(string(Mean), string(Largest), string(Smallest), string(Bracket)))
	}
	repeats, hasRepeats := m.Get("repeats")
	if hasRepeats {
		d.Repeats = repeats.Int(1, 3)
	}
	if d.Take == Bracket {
		if hasRepeats && d.Repeats > 1 {
			repeats.Fault("repeats of a bracket", "no repeats: the bracket is two blades already")
		}
		d.Repeats = 1
	}
	effect, hasEffect := m.Get("effect")
	if hasEffect {
		var decimals int
		d.Effect, decimals = effect.Number(-10, 10)
		d.EffectText = calc.Fixed(d.Effect, decimals)
		if d.Effect == 0 && strings.Trim(effect.Text(), "+-−0.,") == "" {
			effect.Fault("an effect of nothing", "the change of the dimension for 1 mm more of shim, +1 or -1")
		}
	}

	if b, ok := m.Get("block"); ok {
		if d.Block, _ = length(b, 1, &d.Unit, &d.BlockDecimals); n != StartingGap {
			b.Fault("a block for a dimension measured without one", "it under starting gap, or leave it out")
		}
	}
	if p, ok := m.Get("oil pressure"); ok {
		if d.OilPressure = above(p, calc.Pressure); n != PreStroke {
			p.Fault("an oil pressure for a dimension measured dry", "it under pre-stroke, or leave it out")
		}
	}

	thread, hasThread := m.Get("thread")
	shims, hasShims := m.Get("shims")
	if hasThread && n != ShaftProjection {
		thread.Fault("a thread for a dimension that is not screwed", "shims: {tray: …}")
	}
	switch {
	case n == ShaftProjection:
		if hasShims {
			shims.Fault("shims for a shaft that is screwed", "thread: {pitch: 1.0 mm, hand: right, out: grows}")
		}
		if hasEffect {
			effect.Fault("an effect for a shaft that is screwed", "out: grows or out: shrinks in its thread")
		}
		r.thread(d, m.Need("thread", "thread: {pitch: 1.0 mm, hand: right, out: grows}").Map())
	case n != ColdStartTravel || hasShims:
		r.shims(d, m.Need("shims", "shims: {tray: …, most per place: 1}"), haveTarget && haveLimits)
		if n == ColdStartTravel && !hasEffect {
			m.Need("effect", "effect: the change of the travel for 1 mm more of shim, +1 or -1")
		}
	}
	m.Close()
}

// pair reads the two ends of a range of a dimension, the lower first.
func pair(v strict.Value, d *Dimension) (low, high calc.Length, ok bool) {
	a, b, ok := ends(v)
	if !ok {
		return 0, 0, false
	}
	low, okLow := length(a, 0, &d.Unit, &d.Decimals)
	high, okHigh := length(b, 0, &d.Unit, &d.Decimals)
	if okLow && okHigh && low >= high {
		wrongWayRound(v, a, b)
		return 0, 0, false
	}
	return low, high, okLow && okHigh
}

func wrongWayRound(v, a, b strict.Value) {
	v.Fault("limits of "+a.Text()+" to "+b.Text(), "the lower first and the higher second, as ["+b.Text()+", "+a.Text()+"]")
}

// ends takes a list of two apart.
func ends(v strict.Value) (a, b strict.Value, ok bool) {
	list := v.List()
	switch {
	case len(list) == 2:
		return list[0], list[1], true
	case len(list) == 4:
		v.Fault("a list of 4", "two, [low, high]; inside [ ] the decimal mark is a point")
	case len(list) > 0 || v.IsList():
		v.Fault(fmt.Sprintf("a list of %d", len(list)), "two, [low, high]")
	}
	return a, b, false
}

func (r *specReader) thread(d *Dimension, m *strict.Map) {
	if m == nil {
		return
	}
	t := &Thread{}
	pitch := m.Need("pitch", "pitch: 1.0 mm")
	p, ok := length(pitch, 0, &d.Unit, &t.Decimals)
	if ok && (p < 100*calc.Micrometre || p > 10*calc.Millimetre) {
		pitch.Fault(pitch.Text(), "a pitch from 0.1 mm (0.004 in) to 10 mm (0.39 in)")
	}
	t.Pitch = p
	t.LeftHanded = m.Need("hand", "hand: right, or left").OneOf("right", "left") == "left"
	t.OutGrows = m.Need("out", "out: grows, or shrinks: what screwing out does to the dimension").OneOf("grows", "shrinks") == "grows"
	m.Close()
	d.Thread = t
}

func (r *specReader) shims(d *Dimension, v strict.Value, judge bool) {
	m := v.Map()
	if m == nil {
		return
	}
	s := &Shims{Places: 1, MostPerPlace: 1}
	if d.Name == SpringPreset {
		s.Places = 2
	}
	if p, ok := m.Get("places"); ok {
		switch got := p.Text(); {
		case got == "" || got == strconv.Itoa(s.Places):
		case s.Places == 2:
			p.Fault(got, "2, the same stack on both guide pins")
		default:
			p.Fault(got, "1, or leave it out: only the plunger spring preset has two equal stacks")
		}
	}
	if p, ok := m.Get("most per place"); ok {
		s.MostPerPlace = p.Int(1, 8)
	}
	tray := m.Need("tray", "tray: the name of a tray")
	wanted := tray.Text()
	var names []string
	for _, t := range r.trays {
		names = append(names, t.tray.Name)
		if t.tray.Name == wanted {
			s.Tray = t.tray
			r.used[t.tray] = true
		}
	}
	if wanted != "" && s.Tray == nil {
		want := strict.Nearest(wanted, names)
		if want == "" {
			want = "the name of a tray in trays: " + strings.Join(names, ", ")
		}
		tray.Fault("no tray of the name "+wanted, want)
	}
	if p, ok := m.Get("prescribed"); ok {
		prescribed(d, s, p)
	}
	m.Close()
	if s.Tray == nil || len(s.Tray.Sizes) == 0 {
		return
	}
	d.Shims = s
	if u := s.Tray.Unit.Symbol; d.Unit.Factor != 0 && u != d.Unit.Symbol {
		tray.Fault("the tray "+s.Tray.Name+" in "+u+", and the dimension in "+d.Unit.Symbol, "both in one unit")
		return
	}
	if !judge || d.Effect == 0 || s.MostPerPlace == 0 {
		return
	}
	width := calc.Length(math.Round(float64(d.High-d.Low) / math.Abs(d.Effect)))
	if run, ok := reach(s.Tray.Sizes, s.MostPerPlace, width); !ok {
		places := max(s.Tray.Decimals, d.Decimals)
		span := func(l calc.Length) string { return l.Fixed(s.Tray.Unit, places) + " " + s.Tray.Unit.Symbol }
		tray.Fault(fmt.Sprintf("a tray that cannot serve this dimension: its stacks of up to %d make at most %s in steps no wider than the limits, %s", s.MostPerPlace, span(run), span(width)),
			"more sizes in the tray, or more per place")
	}
}

func prescribed(d *Dimension, s *Shims, v strict.Value) {
	if d.Name != TimingPack {
		v.Fault("a prescribed shim", "it for the timing shim pack only")
		return
	}
	var decimals int
	l, ok := length(v, calc.Nanometre, &d.Unit, &decimals)
	switch {
	case !ok:
	case d.Target > 0 && l >= d.Target:
		v.Fault(v.Text()+" at the piston of a pack of "+d.Target.Fixed(d.Unit, d.Decimals)+" "+d.Unit.Symbol, "a shim thinner than the target: the rest of the pack goes in the cap")
	case s.Tray != nil && len(s.Tray.Sizes) > 0 && !slices.Contains(s.Tray.Sizes, l):
		v.Fault(v.Text()+", no size of the tray "+s.Tray.Name, "one of its sizes")
	default:
		s.Prescribed = l
	}
}

// bounded reads a length within bounds, 0 when it is not.
func bounded(v strict.Value, low, high calc.Length) calc.Length {
	l, unit, _ := v.Length()
	if unit.Factor != 0 && (l < low || l > high) {
		v.Fault(v.Text(), fmt.Sprintf("a length from %s to %s %s", low.Fixed(unit, 2), high.Fixed(unit, 2), unit.Symbol))
		return 0
	}
	return l
}

func (r *specReader) piston(m *strict.Map) {
	if m == nil {
		return
	}
	p := &TimingPiston{}
	r.spec.Piston = p
	_, hasDiameter := m.Get("diameter")
	_, hasRate := m.Get("spring rate")
	stroke, hasStroke := m.Get("stroke")
	radius, hasRadius := m.Get("pin radius")
	if hasDiameter || hasRate {
		// One without the other tells nothing.
		p.Diameter = bounded(m.Need("diameter", "diameter: 20 mm"), 5*calc.Millimetre, 60*calc.Millimetre)
		rate := m.Need("spring rate", "spring rate: 12 N/mm")
		q, _ := rate.Quantity(calc.Rate)
		if p.SpringRate = q.Base(); q.Unit.Factor != 0 && (p.SpringRate < 0.5 || p.SpringRate > 200) {
			rate.Fault(rate.Text(), "a rate from 0.5 to 200 N/mm")
		}
	}
	if hasStroke {
		p.Stroke = bounded(stroke, calc.Millimetre, 30*calc.Millimetre)
	}
	if hasRadius {
		p.PinRadius = bounded(radius, 5*calc.Millimetre, 100*calc.Millimetre)
	}
	if p.Stroke > 0 && p.PinRadius > 0 && p.Stroke > p.PinRadius {
		stroke.Fault(stroke.Text()+", more than the pin radius of "+radius.Text(), "the largest travel of the piston, and the radius of the pin it turns the roller ring by")
	}
	m.Close()
	if !hasDiameter && !hasRate && !hasStroke && !hasRadius {
		m.Fault("a timing piston without a figure", "diameter and spring rate, stroke or pin radius; or take it out")
	}
}

func (r *specReader) engine(m *strict.Map) {
	if m == nil {
		return
	}
	e := &Engine{FuelDensity15: density(m.Need("fuel density at 15 °C", "fuel density at 15 °C: 835 kg/m³"))}
	r.spec.Engine = e
	consumption := m.Need("specific consumption", "specific consumption: 240 g/kWh")
	e.SpecificConsumption, _ = consumption.Quantity(calc.Consumption)
	if q := e.SpecificConsumption; q.Unit.Factor != 0 && (q.Base() < 150 || q.Base() > 500) {
		consumption.Fault(consumption.Text(), "a specific consumption from 150 to 500 g/kWh")
	}
	m.Close()
}

// density reads the density of an oil or fuel.
func density(v strict.Value) calc.Quantity {
	q, _ := v.Quantity(calc.Density)
	if q.Unit.Factor != 0 && (q.Base() < 700 || q.Base() > 1000) {
		v.Fault(v.Text(), "a density from 700 to 1000 kg/m³")
	}
	return q
}

func (r *specReader) torques(v strict.Value) {
	list := v.List()
	if v.IsList() && len(list) == 0 {
		v.Fault("no torques", "one line for each")
	}
	if len(list) > mostPoints {
		v.Fault(fmt.Sprintf("%d torques", len(list)), fmt.Sprintf("at most %d", mostPoints))
		return
	}
	names := map[string]int{}
	for _, e := range list {
		m := e.Map()
		if m == nil {
			continue
		}
		t := &Torque{Line: e.Line(), Reuse: true}
		r.spec.Torques = append(r.spec.Torques, t)
		t.Name = unique(names, m.Need("name", "name: head screws"))
		t.At = TorqueAt(m.Need("at", "at: head").OneOf(string(AtSupplyPump), string(AtTimingPiston), string(AtHead), string(AtDeliveryValve), string(AtGovernor), string(AtCover)))
		t.Count = m.Need("count", "count: 4").Int(1, 40)
		steps := m.Need("steps", "steps: [5 N·m, 12 N·m]")
		for _, s := range steps.List() {
			if q, _ := s.Quantity(calc.Torque); q.Unit.Factor != 0 {
				if nm := q.Base(); nm <= 0 || nm > 1000 {
					s.Fault(s.Text(), "a torque above 0 and up to 1000 N·m")
				}
				t.Steps = append(t.Steps, q)
			}
		}
		if n := len(steps.List()); steps.IsList() && (n == 0 || n > 6) {
			steps.Fault(fmt.Sprintf("%d steps", n), "one to six")
		}
		t.Order = optional(m, "order", 60)
		t.Reuse = !yes(m, "new")
		if v, ok := m.Get("adapter"); ok {
			t.Adapter = bounded(v, 5*calc.Millimetre, 500*calc.Millimetre)
		}
		if v, ok := m.Get("adapter angle"); ok {
			q, _ := v.Quantity(calc.Angle)
			if t.AdapterAngle = q.Value; q.Value < 0 || q.Value > 180 {
				v.Fault(v.Text(), "an angle from 0° (in line outwards) to 180° (turned back)")
			}
			if t.Adapter == 0 {
				v.Fault("an angle without an adapter", "adapter: 40 mm besides, or leave the angle out")
			}
		}
		m.Close()
	}
}

// unique reads a name that no other row of its table has.
func unique(seen map[string]int, v strict.Value) string {
	s := v.TextUpTo(mostName)
	if s == "" {
		return ""
	}
	if line, twice := seen[s]; twice {
		v.Fault("the name "+s+" a second time (first in line "+strconv.Itoa(line)+")", "another name")
		return s
	}
	seen[s] = v.Line()
	return s
}
