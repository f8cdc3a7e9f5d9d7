package packet

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"unicode"

	"shimcard/calc"
	"shimcard/packet/words"
	"shimcard/specs"
)

// judge computes the results of a job from its readings.
type judge struct {
	words.Printer
	*values
	plan  *Plan
	shop  *specs.Shop
	asOf  string // the date the instruments are judged on
	used  map[string]bool
	order []string
	res   *Results
}

// Judge computes everything the report says from the readings of a job. The
// readings must have no Doubts left.
func (j *Job) Judge(r *Readings) *Results {
	hours := r.Entries[j.Hours.Code]
	g := j.judged(j.documented(r))
	g.res.hours = hours
	g.res.Was, g.res.Now = g.evaluate(j.AsFound), g.evaluate(j.Final)
	return g.res
}

// judged is the verdicts and what else a report says, but for what the bench
// readings come to.
func (j *Job) judged(r *Readings) *judge {
	res := &Results{
		Printer: j.Printer, readings: r,
		Items: []*Item{}, Missing: []Missing{}, Slips: []Slip{}, Worn: []Remark{}, Parts: []PartUsed{}, Torques: []TorqueDone{}, Remarks: []Remark{},
		Confirmed: []Remark{}, Instruments: []InstrumentUsed{}, SignOffs: []SignOff{}, Found: []*Delivery{}, Left: []*Delivery{},
		Format: "shimcard results 1", Job: j.Number, Invented: j.invented(),
		Pump: j.Spec.Pump.Name, Serial: j.Intake.Pump.Serial, Rotation: string(j.Spec.Pump.Rotation), Marks: j.Spec.Pump.Marks,
		Customer: j.Intake.Customer.Name, Reference: j.Intake.Customer.Reference, Received: j.Intake.Received.Format("2006-01-02"),
		Sheet: j.Spec.Vouched.From, Vouched: cmp.Or(j.Spec.Vouched.By, "nobody") + " " + j.Spec.Vouched.On.Format("2006-01-02"), TypedBy: r.TypedBy, TypedAgain: r.TypedAgain,
		Corrections: append([]Change{}, r.Corrections...),
	}
	g := &judge{Printer: j.Printer, values: newValues(r), plan: j.Plan, shop: j.Shop, used: map[string]bool{}, res: res}
	g.asOf = g.lastDate(res.Received)
	res.lastDay = lastDay(g.asOf, r.Corrections)
	for _, a := range j.Plan.Adjustments {
		g.adjustment(a)
	}
	g.bench()
	g.required()
	g.record()
	g.overall()
	return g
}

// lastDate is the latest date signed on the sheets, else the day of receipt:
// the day on which the instruments must have been in calibration.
func (g *judge) lastDate(received string) string {
	last := received
	for _, s := range g.plan.Stages {
		last = max(last, g.entry(s.When).Text)
	}
	return last
}

func (g *judge) add(i *Item) *Item {
	i.in = g.Printer
	g.res.Items = append(g.res.Items, i)
	return i
}

func ptr(x float64) *float64 { return &x }

func bound(x float64) *float64 {
	if math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// judgeFound says whether the value as found lies outside the limits by more
// than its own uncertainty.
func (i *Item) judgeFound(s []calc.Source, known bool) {
	if i.Found == nil {
		return
	}
	was := Item{Low: i.Low, High: i.High, Decimals: i.Decimals}
	was.setU(s, known)
	i.FoundOut = was.compare(*i.Found) == calc.DoesNotMeet
}

// decide fills in the verdict of an item from its value and uncertainty.
func (i *Item) decide() {
	switch {
	case i.Left == nil:
		i.Verdict = NotMeasured
		return
	case i.unknown:
		i.Verdict = TooClose
		i.Note = join("; ", i.Note, i.in.T("its uncertainty is not known: no readings, or no such instrument in the shop file"))
		return
	}
	i.Verdict = map[calc.Decision]Verdict{calc.Meets: Meets, calc.DoesNotMeet: DoesNotMeet, calc.TooClose: TooClose}[i.compare(*i.Left)]
	if i.Verdict == Meets && i.MissesPrediction() {
		i.Verdict = InDoubt
	}
	if i.U != nil {
		low, high := i.bounds()
		// JCGM 106, 7.4, with the uncertainty that the verdict rests on: few
		// degrees of freedom widen both.
		i.P = ptr(calc.Rounded(calc.Conformity(*i.Left, *i.U/calc.Expand(1, math.Inf(1), confidence), low, high), 4))
	}
}

// bounds are the limits, ±Inf where open.
func (i *Item) bounds() (low, high float64) { return open(i.Low, -1), open(i.High, 1) }

// compare sets a reading against the item's limits.
func (i *Item) compare(x float64) calc.Decision {
	low, high := i.bounds()
	u := 0.0
	if i.U != nil {
		u = *i.U
	}
	return calc.Decide(x, u, low, high)
}

// fail makes the item fail for a reason that no reading shows.
func (i *Item) fail(why string) {
	i.Verdict, i.Note = DoesNotMeet, join("; ", i.Note, why)
}

func (g *judge) adjustment(a *Adjustment) {
	d := a.Dim
	it := g.add(&Item{Group: Settings, Stage: a.Stage, Name: g.T(practices[d.Name].title), Code: a.Measured.Code, Unit: d.Unit.Symbol, Decimals: d.Decimals,
		Low: ptr(d.Low.In(d.Unit)), High: ptr(d.High.In(d.Unit)), Target: ptr(d.Target.In(d.Unit))})
	measured, ok := g.number(a.Measured)
	first, known := g.staticSources(a, a.Repeats)
	if ok {
		it.Found, it.Left = ptr(measured), ptr(measured)
		it.setU(first, known)
		it.judgeFound(first, known)
		it.off, it.side = it.outside()
	}
	if x, ok := g.optionalTotal(a); ok {
		it.Note = g.T("%s asked for by the timing run, in place of the sheet's %s", a.Total.Decimal(x), it.limits())
		it.instead = true
		shift := x - *it.Target
		it.Low, it.High, it.Target = ptr(*it.Low+shift), ptr(*it.High+shift), &x
	}
	if !ok {
		it.decide()
		return
	}
	g.advise(a, it, measured)

	var last *Try
	before := a.after(nil) // the reading, and what was fitted, before the last try
	for _, t := range a.Tries {
		if g.touched(t) {
			if last != nil {
				if _, ok := g.number(last.Now); ok {
					before = a.after(last)
				}
			}
			last = t
		}
	}
	if last == nil {
		it.Change = unchanged
		it.decide()
		g.stacks(a, g.in(a), it)
		return
	}
	it.Code = last.Now.Code
	it.Change = g.changeWords(a, last)
	it.parts = d.Shims != nil && d.Shims.Prescribed > 0
	now, ok := g.number(last.Now)
	if !ok {
		it.Left, it.U, it.Note = nil, nil, join("; ", it.Note, g.T("changed, and not measured again"))
		it.decide()
		return
	}
	it.Left = ptr(now)
	again, known2 := g.staticSources(a, last.readings())
	it.setU(again, known2)
	if e, ok := g.expected(a, before, last); ok {
		it.Expected, it.Miss = ptr(e), ptr(calc.Rounded(now-e, d.Decimals))
		was, known1 := g.staticSources(a, before.readings)
		change, known3 := g.changeSources(a, before, last)
		if known1 && known2 && known3 {
			_, _, allow := calc.Combine(slices.Concat(change, was, again), confidence)
			it.MissAllow = ptr(it.finer(allow))
		}
	}
	it.decide()
	g.stacks(a, last.Fitted, it)
}

// state is a dimension before a refit: its reading, and what was in it.
type state struct {
	now      *Box
	readings []*Box // that now rests on
	fitted   *Box   // in one place; nil for a thread, which is turned from where it is
	tried    bool   // fitted by an earlier try, so measured as one stack
}

// after is the state that a try leaves, or as found when t is nil.
func (a *Adjustment) after(t *Try) state {
	if t == nil {
		return state{a.Measured, a.Repeats, a.Present, false}
	}
	s := state{now: t.Now, readings: t.readings(), tried: true}
	if len(t.Fitted) > 0 {
		s.fitted = t.Fitted[0]
	}
	return s
}

// readings are the boxes a try's new reading rests on.
func (t *Try) readings() []*Box {
	if t.Blades != nil {
		return t.Blades
	}
	return []*Box{t.Now}
}

// expected is what a dimension should read after a try, from the state before
// it, which may be some tries back when one was left blank.
func (g *judge) expected(a *Adjustment, before state, t *Try) (float64, bool) {
	d := a.Dim
	if t.Expected == nil {
		return 0, false
	}
	was, ok1 := g.number(before.now)
	fitted, ok2 := g.number(t.Fitted[0])
	if !ok1 || !ok2 {
		return 0, false
	}
	if d.Thread != nil {
		per := d.Thread.Pitch.In(d.Unit)
		if !d.Thread.OutGrows {
			per = -per
		}
		return calc.Rounded(was+per*fitted, d.Decimals), true
	}
	out, ok := g.number(before.fitted)
	return calc.Rounded(was+d.Effect*(fitted-out), d.Decimals), ok
}

// optionalTotal is the pack total that the timing run asked for, when one was
// written in place of the sheet's.
func (g *judge) optionalTotal(a *Adjustment) (float64, bool) {
	if a.Total == nil {
		return 0, false
	}
	x, ok := g.number(a.Total)
	return x, ok && math.Abs(x-a.Dim.Target.In(a.Dim.Unit)) > 1e-9
}

// seen is the box of a look that counts: the last one written.
func (v *values) seen(k Look) *Box {
	b := k.Box
	for _, again := range k.Box.Again {
		if !v.entry(again).Blank() {
			b = again
		}
	}
	return b
}

// in are the boxes of what was in at the reading: what came out, unless it was
// made alike before.
func (g *judge) in(a *Adjustment) []*Box {
	for _, b := range a.Alike {
		if g.entry(b).Blank() {
			return a.Out
		}
	}
	if a.Alike == nil {
		return a.Out
	}
	return a.Alike
}

// stacks fails what no total shows: a pack split the wrong way, stacks that are
// not the same on both sides.
func (g *judge) stacks(a *Adjustment, fitted []*Box, it *Item) {
	s, u := a.Dim.Shims, a.Dim.Unit
	if s == nil || len(fitted) != 2 {
		return
	}
	l, ok1 := g.length(fitted[0])
	r, ok2 := g.length(fitted[1])
	show := func(l calc.Length) string { return g.Mark(l.Fixed(u, fitted[0].Decimals)) }
	differ := func(l, r calc.Length) bool { return max(l-r, r-l) > a.Apart }
	switch {
	case !ok1 || !ok2:
	case s.Prescribed > 0:
		if differ(l, s.Prescribed) {
			it.fail(g.T("%s at the piston, where the sheet wants %s", show(l), show(s.Prescribed)))
		}
	case differ(l, r):
		it.fail(g.T("stacks are not the same on both sides: %s and %s", show(l), show(r)))
	}
}

// touched reports whether anything was written of a try.
func (g *judge) touched(t *Try) bool {
	for _, b := range t.boxes() {
		if !g.entry(b).Blank() {
			return true
		}
	}
	return false
}

// advise says what the tray would serve for the dimension as found, by the
// same functions that make the chart.
func (g *judge) advise(a *Adjustment, it *Item, measured float64) {
	d := a.Dim
	switch {
	case d.Thread != nil:
		if it.compare(measured) == calc.Meets {
			return
		}
		turns, _, _, clockwise := a.turn(calc.LengthOf(measured, d.Unit))
		it.Advice = g.T("%s turn anticlockwise", g.Fixed(turns, 2))
		if clockwise {
			it.Advice = g.T("%s turn clockwise", g.Fixed(turns, 2))
		}
	case d.Shims != nil:
		present, ok := g.length(a.Present)
		if !ok || it.compare(measured) == calc.Meets {
			return
		}
		q := a.question(calc.LengthOf(measured, d.Unit), present)
		if x, ok := g.optionalTotal(a); ok {
			shift := calc.LengthOf(x, d.Unit) - d.Target
			q.Target, q.Low, q.High = q.Target+shift, q.Low+shift, q.High+shift
		}
		ans, err := calc.PickShims(q)
		switch {
		case a.nothing():
			it.Advice = g.T("too few of every size in stock")
		case err != nil:
			it.Advice = reason(g.Printer, err, a.Present)
		case !ans.Reaches:
			it.Advice = g.T("the tray does not reach: %s would, the best misses the zone to keep by %s", a.f(ans.Size), a.f(ans.Miss))
		case d.Shims.Prescribed > 0 && len(ans.Best.Stack) == 0:
			it.Advice = g.T("%s wanted; at the piston %s, nothing in the cap", a.f(ans.Wanted), a.f(d.Shims.Prescribed))
		case d.Shims.Prescribed > 0:
			it.Advice = g.T("%s wanted; at the piston %s, in the cap %s", a.f(ans.Wanted), a.f(d.Shims.Prescribed), a.stackWords(ans.Best.Stack))
		default:
			it.Advice = g.T("%s wanted; from the tray %s", a.f(ans.Wanted), a.stackWords(ans.Best.Stack))
		}
	}
}

func (g *judge) changeWords(a *Adjustment, t *Try) string {
	d := a.Dim
	show := func(b *Box) string {
		if x, ok := g.number(b); ok {
			return b.Decimal(x)
		}
		return "?"
	}
	switch {
	case len(t.Fitted) == 0:
		return g.T("set")
	case d.Thread != nil:
		return g.T("%s turn", show(t.Fitted[0]))
	case d.Shims.Prescribed > 0:
		return show(a.Out[0]) + " + " + show(a.Out[1]) + " → " + show(t.Fitted[0]) + " + " + show(t.Fitted[1])
	case d.Shims.Places > 1:
		return g.T("%s → %s each side", show(a.Present), show(t.Fitted[0]))
	}
	return show(a.Present) + " → " + show(t.Fitted[0])
}

func (g *judge) bench() {
	found, final := g.plan.AsFound, g.plan.Final
	for _, r := range final.Pressure {
		g.reading(Pressures, r, append(slices.Clone(found.Pressure), found.Travel...))
	}
	for _, r := range final.Travel {
		g.reading(Travels, r, found.Travel)
	}
	for _, p := range final.Points {
		g.delivery(p, found)
	}
	for _, p := range found.Points {
		g.res.Found = append(g.res.Found, g.deliveryRow(p))
	}
	for i, o := range final.RunOut {
		it := g.item(Others, g.T("governor run-out at %s", g.Quantity(o.Spec.At)), o.Box, o.Spec.Limits)
		it.Safety = true
		if len(found.RunOut) > 0 {
			g.wasFound(it, found.RunOut[i].Box, g.runOutSources)
		}
		g.workedOut(it, o.Box, g.runOutSources)
	}
	if d := g.plan.Spec.Bench.Droop; d != nil && d.Limits != nil {
		it := g.item(Others, g.T("speed droop"), final.Droop, *d.Limits)
		it.Decimals = final.Droop.Decimals
		if found.Droop != nil {
			g.wasFound(it, found.Droop, g.droopSources)
		}
		g.workedOut(it, final.Droop, g.droopSources)
	}
	if r := final.ReturnFlow; r != nil {
		it := g.item(Others, r.Name, r.Box, r.Spec.Limits)
		it.Speed = r.Spec.Speed
		if f := found.ReturnFlow; f != nil {
			g.wasFound(it, f.Box, g.ratioSources)
		}
		g.workedOut(it, r.Box, g.ratioSources)
	}
	c := g.plan.Spec.Bench.Conditions
	condition := func(name string, left, was *Box, limits specs.Range) {
		it := g.item(Conditions, name, left, limits)
		if was != nil {
			g.wasFound(it, was, g.sources)
			it.FoundOut = false // of the bench, not of the pump
		}
		g.read(it, left)
	}
	condition(g.T("inlet temperature"), final.Temperature, found.Temperature, c.InletTemperature)
	if _, ok := g.number(final.TemperatureEnd); ok {
		condition(g.T("inlet temperature at the end"), final.TemperatureEnd, nil, c.InletTemperature)
	}
	if final.Inlet != nil {
		condition(g.T("inlet pressure"), final.Inlet, found.Inlet, *c.InletPressure)
	}
	if final.Screw != nil {
		g.fullLoad(final)
	}
	g.res.asFound, g.res.final, g.res.number = found, final, g.number
}

// sourcesOf are the uncertainties of the figure in a box; known is false where
// an instrument or a reading is not.
type sourcesOf func(*Box) (s []calc.Source, known bool)

// workedOut fills in an item that follows from other readings.
func (g *judge) workedOut(it *Item, b *Box, of sourcesOf) {
	it.Left = g.optional(b)
	if it.Left == nil {
		it.Note = g.work(b).why
	}
	it.setU(of(b))
	it.decide()
}

// wasFound fills in what a box of the run as found says of an item.
func (g *judge) wasFound(it *Item, b *Box, of sourcesOf) {
	it.Found = g.optional(b)
	it.judgeFound(of(b))
}

// fullLoad says how the full-load screw was turned, and what the point then
// delivered.
func (g *judge) fullLoad(r *Run) {
	show := func(b *Box) string {
		x, ok := g.number(b)
		if !ok {
			return "?"
		}
		if b.Signed {
			return signed(g.Printer, x, b.Decimals)
		}
		return b.Decimal(x)
	}
	var said []string
	for _, p := range r.Screw {
		if _, ok := g.number(p.At); ok {
			said = append(said, g.T("screw at %s turn: %s", show(p.At), show(p.Mean)))
		}
	}
	if said == nil {
		return
	}
	wanted := g.screwWanted(r)
	if x, ok := g.number(wanted); ok {
		said = append(said, g.T("then %s turn wanted", signed(g.Printer, x, wanted.Decimals)))
	}
	if x, ok := g.number(r.ScrewLeft); ok {
		said = append(said, g.T("left at %s turn", signed(g.Printer, x, r.ScrewLeft.Decimals)))
	}
	if p := r.point(g.plan.Spec.Bench.FullLoadScrew); p != nil {
		if _, ok := g.number(p.Mean); ok {
			said = append(said, show(p.Mean)+" "+g.Unit(p.Mean.Unit.Symbol))
		}
	}
	g.res.Screw = strings.Join(said, "; ")
}

// signed prints a change with its sign.
func signed(p words.Printer, x float64, decimals int) string {
	s := calc.Fixed(x, decimals)
	if !strings.HasPrefix(s, "−") && strings.Trim(s, "0.") != "" {
		s = "+" + s
	}
	return p.Mark(s)
}

func (g *judge) optional(b *Box) *float64 {
	if x, ok := g.number(b); ok {
		return &x
	}
	return nil
}

func (g *judge) item(group Group, name string, b *Box, r specs.Range) *Item {
	return g.add(&Item{Group: group, Stage: g.plan.Final.Stage, Name: name, Code: b.Code, Unit: r.Unit.Symbol, Decimals: r.Decimals, Low: bound(r.Low), High: bound(r.High)})
}

// read fills in an item that one instrument read.
func (g *judge) read(it *Item, b *Box) {
	it.Left = g.optional(b)
	it.setU(g.sources(b))
	it.decide()
}

func (g *judge) reading(group Group, r *Reading, found []*Reading) {
	it := g.item(group, r.Name, r.Box, r.Spec.Limits)
	it.Speed = r.Spec.Speed
	for _, f := range found {
		if f.Spec == r.Spec {
			g.wasFound(it, f.Box, g.sources)
		} else if group == Pressures && f.Pressure != nil && f.Spec.Speed == r.Spec.Speed {
			g.wasFound(it, f.Pressure, g.sources) // read beside the travel
		}
	}
	g.read(it, r.Box)
	g.comingDown(it, r)
}

// comingDown looks at a travel reached from above: it has the same limits, and
// where it differs from the travel going up by more than the gauge may, the
// piston sticks, and neither reading is what the pump does.
func (g *judge) comingDown(it *Item, r *Reading) {
	if r.Down == nil || it.Left == nil {
		return
	}
	down, ok := g.number(r.Down)
	if !ok {
		return
	}
	switch l, known := g.loop(r); {
	case it.Verdict != DoesNotMeet && it.compare(down) == calc.DoesNotMeet:
		it.fail(g.T("coming down %s (%s)", r.Down.Decimal(down), r.Down.Code))
	case known && l.Sticks && it.Verdict != DoesNotMeet:
		it.Verdict, it.Note = InDoubt, join("; ", it.Note, g.T("coming down %s (%s): the piston sticks", r.Down.Decimal(down), r.Down.Code))
	}
}

func (g *judge) deliveryRow(p *Point) *Delivery {
	s := p.Spec
	d := &Delivery{Name: s.Name, Kind: string(s.Kind), Code: p.Mean.Code, Speed: s.Speed, Lever: s.Lever, Strokes: s.Strokes,
		Low: bound(s.Limits.Low), High: bound(s.Limits.High), Mean: g.optional(p.Mean), Spread: g.optional(p.Spread),
		Per: p.Spread.Unit.Symbol, decimals: p.Mean.Decimals, spreadDecimals: p.Spread.Decimals, OnCurve: onCurve(s)}
	if s.Boost != nil {
		d.Boost, d.boost = g.Quantity(*s.Boost), s.Boost
	}
	if p.Boost != nil {
		if d.BoostRead = g.optional(p.Boost); d.BoostRead != nil {
			g.use(p.Boost.Instrument)
			d.boostRead = p.Boost.Decimal(*d.BoostRead)
		}
	}
	if s.Spread != nil {
		r := *s.Spread
		r.Decimals = p.Spread.Decimals
		d.Allowed = limitsWords(g.Printer, r)
	}
	if p.Counted != nil {
		if n, ok := g.number(p.Counted); ok {
			d.Strokes = int(n)
		}
	}
	if t, box := p.oil(g.number); box != nil && p.Oil != nil && p.started(g.number) {
		if f, why := p.correction(g.number); why == "" {
			g.use(box.Instrument)
			d.Oil, d.Factor = ptr(calc.Rounded(t, 1)), ptr(calc.Rounded(f, 5))
			d.oil = box.Decimal(calc.Convert(t, calc.Celsius, box.Unit))
		}
	}
	var reasons []string
	all := true
	for i := range p.First {
		q, why := p.outlet(i, g.number)
		if why != "" {
			all = false
			if !slices.Contains(reasons, why) { // the same of every outlet is said once
				reasons = append(reasons, why)
			}
			d.Outlets = append(d.Outlets, nil)
			continue
		}
		d.Outlets = append(d.Outlets, ptr(q))
	}
	d.Why = strings.Join(reasons, "; ")
	if all {
		if spread, err := calc.SpreadOf(whole(d.Outlets)); err != nil {
			d.Why = reason(g.Printer, err, p.First[0])
		} else {
			absolute, percent := p.spreads(spread)
			d.SpreadIs, d.SpreadPc = ptr(absolute), ptr(percent)
			for _, q := range d.Outlets {
				if spread.Mean > 0 {
					d.Off = append(d.Off, ptr((*q/spread.Mean-1)*100))
				}
			}
		}
	}
	d.Apart = g.apart(p)
	return d
}

// whole are figures that are all there.
func whole(p []*float64) (out []float64) {
	for _, x := range p {
		out = append(out, *x)
	}
	return out
}

// apart finds the outlet of a point that does not belong to its fellows, nil
// when there is none, the spread is permitted, or an outlet is blank.
func (g *judge) apart(p *Point) *Apart {
	q, why := p.outlets(g.number)
	spread, ok := g.number(p.Spread)
	if why != "" || !ok || p.Spec.Spread == nil || spread <= p.Spec.Spread.High {
		return nil
	}
	i, distance, critical, err := calc.Outlier(q, 1-confidence)
	if err != nil || distance <= critical {
		return nil
	}
	n := float64(len(q))
	others := (calc.Mean(q)*n - q[i]) / (n - 1)
	s, known := g.outletSources(p)
	if !known || others <= 0 {
		return nil
	}
	if _, _, u := calc.Combine(append(s, s...), confidence); math.Abs(q[i]-others) <= u {
		return nil
	}
	return &Apart{g.plan.Spec.Pump.Marks[i], i, (q[i]/others - 1) * 100, calc.Rounded(distance, 3), calc.Rounded(critical, 3), others}
}

func (g *judge) delivery(p *Point, found *Run) {
	s := p.Spec
	row := g.deliveryRow(p)
	g.res.Left = append(g.res.Left, row)
	it := g.item(Quantities, s.Name, p.Mean, s.Limits)
	it.Decimals, it.Speed, it.Left, it.Safety, it.Kind = p.Mean.Decimals, s.Speed, row.Mean, s.Kind == specs.ShutOff, string(s.Kind)
	was := found.point(s.Name)
	if was != nil {
		it.Found = g.optional(was.Mean)
		it.judgeFound(g.meanSources(was))
	}
	if it.Left == nil {
		it.Note = g.work(p.Mean).why
	}
	it.setU(g.meanSources(p))
	it.decide()
	if it.Safety {
		g.nothing(p, was, it)
	}
	row.Verdict = it.Verdict
	if s.Spread == nil {
		return
	}
	sp := g.item(Spreads, g.T("%s, spread", s.Name), p.Spread, *s.Spread)
	sp.Unit, sp.Decimals, sp.Speed, sp.Left = p.Spread.Unit.Symbol, p.Spread.Decimals, s.Speed, row.Spread
	if was != nil {
		sp.Found = g.optional(was.Spread)
		sp.judgeFound(g.spreadSources(was))
	}
	sp.setU(g.spreadSources(p))
	sp.decide()
	row.Worst = sp.Verdict
}

// nothing judges a shut-off point, and what was found of it: it is met only when
// nothing at all comes out of any outlet, which is seen, not measured.
func (g *judge) nothing(p, found *Point, it *Item) {
	it.U, it.P, it.Note, it.FoundOut, it.Verdict = nil, nil, "", false, NotMeasured
	if found != nil {
		for _, b := range found.First {
			if x, ok := g.number(b); ok && x != 0 {
				it.FoundOut = true
			}
		}
	}
	seen := 0
	for _, b := range p.First {
		x, ok := g.number(b)
		if !ok {
			continue
		}
		seen++
		if x != 0 {
			it.fail(g.T("%s: %s %s came out", b.Label, b.Decimal(x), g.Unit(b.Unit.Symbol)))
		}
	}
	if seen == len(p.First) && it.Verdict == NotMeasured {
		it.Verdict = Meets
	}
}

// required lists the required boxes that hold nothing, and changes that were
// not measured again.
func (g *judge) required() {
	for _, s := range g.plan.Stages {
		for _, b := range s.Boxes() {
			if b.Kind == Tick && !b.Required && !g.entry(b).Blank() && !g.entry(b).Yes {
				g.res.Missing = append(g.res.Missing, Missing{b.Code, s.Letter, b.Label, g.T("answered no")})
			}
			if !b.Required {
				continue
			}
			w := worked{ok: !g.entry(b).Blank()}
			if b.Kind == Number {
				w = g.work(b)
			}
			if b.From == nil {
				w.why = "" // that it is blank is what the list says
			}
			if b.Kind == Tick && w.ok && !g.entry(b).Yes {
				w = worked{why: g.T("answered no")}
			}
			if !w.ok {
				why := w.why
				if r := g.entry(b).Remark; r != "" {
					why = r
				}
				g.res.Missing = append(g.res.Missing, Missing{b.Code, s.Letter, b.Label, why})
			}
		}
	}
	for _, s := range g.plan.Stages {
		if s.Second != nil && !g.entry(s.Done).Blank() && letters(g.entry(s.Done).Text) == letters(g.entry(s.Second).Text) {
			g.res.Missing = append(g.res.Missing, Missing{s.Second.Code, s.Letter, s.Second.Label, g.T("the same person signed twice")})
		}
	}
	if b := g.plan.Approval; g.entry(b).Text == b.Choices[len(b.Choices)-1] {
		g.res.Missing = append(g.res.Missing, Missing{b.Code, "C", b.Label, g.T("not given")})
	}
	for _, it := range g.res.Items {
		if it.Note != "" && it.Left == nil && it.Group == Settings {
			g.res.Missing = append(g.res.Missing, Missing{it.Code, it.Stage, it.Name, it.Note})
		}
	}
}

// letters are a signature's letters alone: "R.T." and "rt" are one person.
func letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

// record gathers what was ticked, written and signed.
func (g *judge) record() {
	res := g.res
	for _, b := range g.plan.Wear {
		if e := g.entry(b); !e.Blank() && e.Text != b.Choices[0] {
			res.Worn = append(res.Worn, Remark{b.Code, b.Label, e.Text})
		}
	}
	for _, l := range g.plan.Parts {
		if e := g.entry(l.What); !e.Blank() {
			n, ok := g.number(l.Quantity)
			if !ok {
				n = 1
			}
			res.Parts = append(res.Parts, PartUsed{n, e.Text})
		}
	}
	for _, t := range g.plan.Torques {
		done := g.entry(t.Box).Yes
		if done {
			g.use(t.Box.Instrument)
		}
		res.Torques = append(res.Torques, TorqueDone{t.Spec.Name, t.Spec.Count, stepWords(g.Printer, t.Spec), done})
	}
	for _, k := range g.plan.Looks {
		b := g.seen(k)
		e := g.entry(b)
		it := g.add(&Item{Group: Others, Stage: b.Code[:1], Name: b.Label, Code: b.Code, Wanted: b.Choices[0], Safety: k.Safety, Verdict: NotMeasured})
		if !e.Blank() {
			it.Seen, it.Verdict = e.Text, DoesNotMeet
			if k.fine(e.Text) {
				it.Verdict = Meets
			}
		}
	}
	isPart := map[*Box]bool{}
	for _, l := range g.plan.Parts {
		isPart[l.What] = true
	}
	for _, b := range g.plan.Boxes() {
		e := g.entry(b)
		if e.Remark != "" {
			res.Remarks = append(res.Remarks, Remark{b.Code, b.Label, e.Remark})
		}
		// Free text goes in the record, but for what has its own place there.
		if b.Kind == Text && !e.Blank() && b != g.plan.Note && b != g.plan.ApprovedBy && !isPart[b] {
			res.Remarks = append(res.Remarks, Remark{b.Code, b.Label, e.Text})
		}
		if x, ok := g.number(b); e.Confirmed && e.Blank() && b.From != nil && ok { // as it is worked out
			if e.Number, e.Text = x, b.Decimal(x); !b.doubtful(e) {
				continue // the verdict says it
			}
		}
		switch {
		case !e.Confirmed || e.Blank():
		case b.doubtful(e):
			res.Confirmed = append(res.Confirmed, Remark{b.Code, b.Label, g.T("%s %s, believable is %s", g.Mark(e.Text), g.Unit(b.Unit.Symbol), b.Window())})
		default: // for another reason
			res.Confirmed = append(res.Confirmed, Remark{b.Code, b.Label, strings.TrimSpace(g.Mark(e.Text) + " " + g.Unit(b.Unit.Symbol))})
		}
	}
	res.Note = g.entry(g.plan.Note).Text
	res.PartsDrawn = g.entry(g.plan.PartsDrawn).Yes
	res.Approval = join(": ", g.T(g.entry(g.plan.Approval).Text), g.entry(g.plan.ApprovedBy).Text)
	res.Slips = append(res.Slips, g.slips(g.plan)...)
	for _, name := range g.order {
		u := InstrumentUsed{Name: name, Unknown: true}
		if i := g.shop.Instrument(name); i != nil {
			u = InstrumentUsed{Name: name, Number: i.Number, Permissible: "±" + g.Quantity(i.Permissible), Resolution: g.Quantity(i.Resolution)}
			if !i.Due.IsZero() {
				u.Due = i.Due.Format("2006-01-02")
				u.Overdue = u.Due < g.asOf
			}
		}
		res.Instruments = append(res.Instruments, u)
	}
	for _, s := range g.plan.Stages {
		o := SignOff{Stage: s.Letter, Title: s.Title, By: g.entry(s.Done).Text, On: g.entry(s.When).Text, Hold: s.Hold != ""}
		if s.Second != nil {
			o.Second = g.entry(s.Second).Text
		}
		res.SignOffs = append(res.SignOffs, o)
	}
}

// overall: "meets" only when nothing required is missing and every item is
// decided and met; a run outside its conditions decides nothing.
func (g *judge) overall() {
	res := g.res
	res.Overall = PumpMeets
	missing := len(res.Missing) > 0
	for _, it := range res.Items {
		if it.Group != Conditions {
			res.Count++
		} else {
			res.Conditions++
		}
		switch {
		case it.Verdict == NotMeasured:
			missing = true
		case it.Verdict == Meets && it.Group != Conditions:
			res.Met++
		case it.Verdict == Meets:
			res.InRange++
		case it.Verdict == DoesNotMeet && it.Group != Conditions:
			res.Overall = PumpFails
		case res.Overall == PumpMeets:
			res.Overall = PumpUndecided
		}
	}
	if missing {
		res.Overall = PumpIncomplete
	}
}
