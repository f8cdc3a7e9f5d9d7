package packet

import (
	"cmp"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"

	"shimcard/calc"
	"shimcard/specs"
)

// Doubt is a value that should be looked at again: a figure that is hard to
// believe, or one that leaves the job where nobody would leave it.
type Doubt struct {
	Box    *Box
	Line   int    // in the form
	Value  string // as typed; "" of a box left blank or worked out
	Reason string
	// Instead is the text that one key puts in its place, where what happened is
	// plain: a forgotten mark, two digits swapped, inches for mm. "" otherwise.
	Instead string
	// Stops tells that no report is made before it is put right or confirmed. The
	// others a report shows by itself, with a verdict or a remark.
	Stops bool
	// Refused: the text cannot be read in this box at all, nor be confirmed.
	Refused bool
}

// String follows a file's name and a colon.
func (d Doubt) String() string {
	if d.Value == "" {
		return d.Box.T("%d: %s, %s: %s; correct it, or confirm it by writing !", d.Line, d.Box.Code, d.Box.Label, d.Reason)
	}
	return d.Box.T("%d: %s, %s: found %s, %s; correct it, or confirm it by writing %s !",
		d.Line, d.Box.Code, d.Box.Label, strings.TrimSpace(d.Value+" "+d.Box.Printer.Unit(d.Box.Unit.Symbol)), d.Reason, d.Value)
}

// How far readings may lie from one another before one is doubted. Common
// practice, no source; they are wide enough that a careful reading passes, and
// all are taken from the instrument and the limits of the box.
const (
	apartU       = 2.0  // expanded uncertainties of the difference of two readings
	apartWidth   = 3.0  // parts of the limits' width
	caughtAgain  = 0.03 // of the reading, a second catch of an outlet
	fellows      = 0.25 // of the fellows' median, an outlet
	fellowSpread = 4.0  // permitted spreads, an outlet
	bladesApart  = 2.0  // steps of the feeler gauges, the two blades
	oilApart     = 12.0 // °C, the oil of one run
	stepsApart   = 2.5  // times the usual step, steps counted on the falling branch
	courseApart  = 1.0  // half widths of the limits, a reading off the course of its fellows
	roundStrokes = 50   // strokes are counted in these
	flowApart    = 3.0  // times the sheet's limits, a return flow
	longestJob   = 366  // days from receipt to the last signature
)

// doubter looks at the readings of a job, one rule a method.
type doubter struct {
	*Job
	typed   *Readings
	*values                      // of what is typed less what is doubted already, so that one slip makes one doubt
	usual   map[*Box]specs.Range // where a sound pump's reading lies, where the sheet says
	out     []Doubt
}

// Doubts lists, in sheet order, what should be looked at again in a form, at most
// one doubt a box: what a confirmed box holds is left alone. Those that Stop
// must be put right or confirmed before a report is made.
func (j *Job) Doubts(r *Readings) []Doubt {
	d := j.slips(r)
	d.verdicts(j.judged(d.readings).res)
	place := map[*Box]int{}
	for i, b := range j.Boxes() {
		place[b] = i
	}
	slices.SortStableFunc(d.out, func(x, y Doubt) int {
		if x.Box == y.Box && x.Stops != y.Stops {
			if x.Stops {
				return -1
			}
			return 1
		}
		return cmp.Compare(place[x.Box], place[y.Box])
	})
	return slices.CompactFunc(d.out, func(x, y Doubt) bool { return x.Box == y.Box })
}

// slips are the doubts that the readings raise by themselves, whatever comes out.
func (j *Job) slips(r *Readings) *doubter {
	d := &doubter{Job: j, typed: r, values: newValues(r), usual: map[*Box]specs.Range{}}
	d.expect()
	// The rule that knows most about a box comes first.
	d.windows()
	d.set(false)
	d.blades()
	d.dates()
	for _, a := range j.Adjustments {
		d.repeats(a)
		d.trays(a)
		d.gaps(a)
	}
	d.set(false)
	for _, run := range []*Run{j.AsFound, j.Final} {
		d.outlets(run)
		d.speeds(run)
		d.oils(run)
		d.course(run)
		d.benchGaps(run)
	}
	d.signatures()
	d.above()
	d.set(true)
	d.pens()
	d.works()
	return d
}

// doubt adds one, unless the box is confirmed. A figure that is a plain slip of
// another, believable one is offered as that.
func (d *doubter) doubt(b *Box, stops bool, reason string) *Doubt {
	e := d.typed.Entries[b.Code]
	if e.Confirmed {
		return &Doubt{}
	}
	d.out = append(d.out, Doubt{Box: b, Line: e.Line, Value: e.Text, Reason: reason, Stops: stops})
	return &d.out[len(d.out)-1]
}

// set leaves out of what follows what is doubted so far and would stop a report;
// and, where readings are compared with one another, what was hard to believe and
// is confirmed: it says nothing about others.
func (d *doubter) set(confirmed bool) {
	out := map[string]bool{}
	for _, x := range d.out {
		if x.Stops {
			out[x.Box.Code] = true
		}
	}
	for code, e := range d.typed.Entries {
		if e.Confirmed && !confirmed {
			out[code] = true
		}
	}
	if len(out) == 0 && d.readings == d.typed {
		return
	}
	r := &Readings{Entries: maps.Clone(d.typed.Entries)}
	maps.DeleteFunc(r.Entries, func(code string, _ Entry) bool { return out[code] })
	d.values = newValues(r)
}

// expect notes what the sheet says of boxes, to tell a slip from what was meant.
func (d *doubter) expect() {
	readings := func(list []*Reading) {
		for _, r := range list {
			d.usual[r.Box] = r.Spec.Limits
			if r.Down != nil {
				d.usual[r.Down] = r.Spec.Limits
			}
		}
	}
	for _, run := range []*Run{d.AsFound, d.Final} {
		readings(run.Pressure)
		readings(run.Travel)
		for _, p := range run.Points {
			scale, why := p.perThousand(d.number)
			if why != "" {
				continue
			}
			l := p.Spec.Limits
			l.Low, l.High = max(l.Low, 0)/scale, l.High/scale
			for _, b := range p.boxes() {
				d.usual[b] = l
			}
		}
		if run.Temperature != nil {
			d.usual[run.Temperature] = d.Spec.Bench.Conditions.InletTemperature
		}
	}
	for _, a := range d.Adjustments {
		l := specs.Range{Low: a.Dim.Low.In(a.Dim.Unit), High: a.Dim.High.In(a.Dim.Unit)}
		for _, b := range a.Repeats {
			d.usual[b] = l
		}
		for _, t := range a.Tries {
			for _, b := range t.readings() {
				d.usual[b] = l
			}
		}
	}
}

// windows: outside what is believable, finer than the box, or two values of which
// nobody has said which.
func (d *doubter) windows() {
	for _, b := range d.Boxes() {
		e := d.entry(b)
		switch {
		case b.doubtful(e):
			x := d.doubt(b, true, b.T("believable is %s", b.Window()))
			low, high := b.Low, b.High
			if u, ok := d.usual[b]; ok {
				low, high = max(low, 2*u.Low-u.High), min(high, 2*u.High-u.Low)
			}
			x.Instead = b.meant(e.Text, low, high)
			if x.Instead == "" {
				x.Instead = b.meant(e.Text, b.Low, b.High)
			}
		case b.Kind == Number && e.Decimals > b.Decimals:
			x := d.doubt(b, true, b.T("decimal places of the box: %d", b.Decimals))
			x.Instead = b.meant(e.Text, b.Low, b.High)
		case e.Blank() && strings.HasSuffix(e.Remark, " ?"):
			d.doubt(b, true, b.T("it is not said which: %s", e.Remark))
		}
	}
}

// doubtful reports whether a typed figure lies outside what is believable.
func (b *Box) doubtful(e Entry) bool {
	const noise = 1e-9 // of decimal figures held in binary
	return b.Kind == Number && !e.Blank() && (e.Number < b.Low-noise || e.Number > b.High+noise)
}

// meant is the figure that somebody may have meant who typed another: the same
// digits with the mark elsewhere, a thousands mark taken for a decimal one, the
// other system's unit, two neighbours swapped, a 1 for a 7. The first that lies
// between low and high, as it would be typed; "" when none does.
func (b *Box) meant(typed string, low, high float64) string {
	x, decimals, err := calc.ParseNumber(typed)
	if err != nil || x == 0 {
		return ""
	}
	fits := func(y float64) bool { return y >= low-1e-9 && y <= high+1e-9 && y != x }
	show := func(y float64) string { return strings.ReplaceAll(b.Decimal(y), "−", "-") }
	whole := math.Abs(calc.Rounded(y10(x, decimals), 0)) // the digits alone
	if decimals == 3 && b.Decimals == 0 && fits(whole) {
		return show(whole)
	}
	sign := math.Copysign(1, x)
	if y := sign * y10(whole, -b.Decimals); fits(y) {
		return show(y)
	}
	for _, k := range []int{1, -1, 2, -2, 3, -3} {
		if y := y10(x, k); fits(y) && exact(y, b.Decimals) {
			return show(y)
		}
	}
	for _, u := range others[b.Unit.Symbol] {
		from, _ := calc.ParseUnit(u)
		if y := calc.Convert(x, from, b.Unit); fits(y) {
			return show(calc.Rounded(y, b.Decimals))
		}
	}
	digits := []byte(strings.Map(func(r rune) rune {
		if r == ',' {
			return '.'
		}
		return r
	}, typed))
	try := func() string {
		if y, _, err := calc.ParseNumber(string(digits)); err == nil && fits(y) {
			return b.Mark(string(digits))
		}
		return ""
	}
	for i := 0; i+1 < len(digits); i++ {
		k := i + 1
		if digits[k] == '.' {
			k++
		}
		if k >= len(digits) || digits[i] == '.' {
			continue
		}
		digits[i], digits[k] = digits[k], digits[i]
		if s := try(); s != "" {
			return s
		}
		digits[i], digits[k] = digits[k], digits[i]
	}
	for i, c := range digits {
		if c == '1' || c == '7' {
			digits[i] = '1' + '7' - c
			if s := try(); s != "" {
				return s
			}
			digits[i] = c
		}
	}
	return ""
}

// others are the units that a figure may have been written in by mistake.
var others = map[string][]string{
	"mm": {"in"}, "in": {"mm"}, "bar": {"psi", "kPa"}, "psi": {"bar", "kPa"}, "kPa": {"bar", "psi"}, "°C": {"°F"}, "°F": {"°C"},
}

func y10(x float64, k int) float64 { return calc.Rounded(x*math.Pow10(k), 9) }

// exact reports whether x needs no more decimals.
func exact(x float64, decimals int) bool { return math.Abs(x-calc.Rounded(x, decimals)) < 1e-9 }

// u is the expanded uncertainty of one figure in a box; without an instrument,
// three in the last place.
func (d *doubter) u(b *Box) float64 {
	permissible, resolution, known := figureSources(d.Shop, b.Instrument, b.Unit, b.Decimals)
	if !known {
		return 3 * math.Pow10(-b.Decimals)
	}
	_, _, u := calc.Combine([]calc.Source{permissible, resolution}, confidence)
	return u
}

// difference is how far two readings of a box may lie apart.
func (d *doubter) difference(b *Box) float64 { return apartU * math.Sqrt2 * d.u(b) }

// blades: the one that does not go must be thicker, and its neighbour.
func (d *doubter) blades() {
	for _, b := range d.Boxes() {
		if b.Thinner == nil {
			continue
		}
		x, ok := d.number(b)
		if !ok {
			continue
		}
		goes, ok := d.number(b.Thinner)
		e := d.entry(b.Thinner)
		switch i := d.Shop.Instrument(b.Instrument); {
		case !ok:
		case goes >= x:
			d.doubt(b, true, b.T("the blade that goes, %s, is %s", b.Thinner.Code, e.Text))
		case i != nil && i.Resolution.Unit.Kind == b.Unit.Kind && x-goes > bladesApart*i.Resolution.Value*i.Resolution.Unit.Factor/b.Unit.Factor+1e-9:
			d.doubt(b, true, b.T("the blade that goes, %s, is %s: they are not neighbours", b.Thinner.Code, e.Text))
		}
	}
}

// dates: before the pump came in, long after it, or against the order of the
// stages; of dates that contradict one another, the one that contradicts most.
func (d *doubter) dates() {
	received := d.Intake.Received.Format("2006-01-02")
	last := d.Intake.Received.AddDate(0, 0, longestJob).Format("2006-01-02")
	var signed []*Box
	for _, s := range d.Stages {
		switch e := d.entry(s.When); {
		case e.Blank():
		case e.Text < received:
			d.doubt(s.When, true, s.When.T("the pump came in on %s", received))
		case e.Text > last:
			d.doubt(s.When, true, s.When.T("the pump came in on %s, more than a year before", received))
		default:
			signed = append(signed, s.When)
		}
	}
	for {
		worst, most, against := -1, 0, 0
		for i, b := range signed {
			n, with := 0, 0
			for k, c := range signed {
				if x, y := d.entry(b).Text, d.entry(c).Text; k < i && y > x || k > i && y < x {
					n, with = n+1, k
				}
			}
			if n >= most && n > 0 {
				worst, most, against = i, n, with
			}
		}
		if worst < 0 {
			return
		}
		b, c := signed[worst], signed[against]
		d.doubt(b, true, b.T("stage %s is signed %s: the stages follow one another", c.Code[:1], d.entry(c).Text))
		signed = slices.Delete(signed, worst, worst+1)
	}
}

// repeats: readings of one dimension that differ by more than hand and
// instrument explain.
func (d *doubter) repeats(a *Adjustment) {
	if a.Dim.Take == specs.Bracket || len(a.Repeats) < 2 {
		return
	}
	var boxes []*Box
	var read []float64
	for _, b := range a.Repeats {
		if x, ok := d.number(b); ok {
			boxes, read = append(boxes, b), append(read, x)
		}
	}
	if len(read) < 2 {
		return
	}
	tolerance := max(d.difference(boxes[0]), (a.Dim.High-a.Dim.Low).In(a.Dim.Unit)/apartWidth)
	for i := len(read) - 1; i >= 0; i-- {
		others := slices.Delete(slices.Clone(read), i, i+1)
		if m := median(others); math.Abs(read[i]-m) > tolerance && (len(read) > 2 || i == 1) {
			x := d.doubt(boxes[i], true, boxes[i].T("the other readings are near %s", boxes[i].Decimal(m)))
			x.Instead = boxes[i].meant(d.entry(boxes[i]).Text, m-tolerance, m+tolerance)
		}
	}
}

func median(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}

// trays: shims fitted that the tray does not hold and cannot make up, shims taken
// out that it does not hold, and stacks that differ from side to side.
func (d *doubter) trays(a *Adjustment) {
	s := a.Dim.Shims
	if s == nil {
		return
	}
	one, stack := sums(s.Tray, 1), sums(s.Tray, s.MostPerPlace)
	near := func(b *Box, of []calc.Length, stops bool) {
		x, ok := d.length(b)
		if !ok || d.entry(b).Blank() {
			return
		}
		best, miss := nearestTo(x, of)
		tolerance := max(narrowest(s.Tray)/4, calc.LengthOf(d.u(b), b.Unit))
		if s.Prescribed > 0 && max(x-s.Prescribed, s.Prescribed-x) <= tolerance || miss <= tolerance {
			return
		}
		y := d.doubt(b, stops, b.T("the tray holds nothing of that thickness; nearest is %s", b.Decimal(best.In(b.Unit))))
		y.Instead = b.meant(d.entry(b).Text, best.In(b.Unit)-tolerance.In(b.Unit), best.In(b.Unit)+tolerance.In(b.Unit))
	}
	for _, out := range a.Out {
		if out.From == nil {
			near(out, one, false)
			continue
		}
		for _, t := range out.From.Terms {
			near(t.Box, one, false)
		}
	}
	sides := [][]*Box{a.Out}
	for _, t := range a.Tries {
		for _, b := range t.Fitted {
			near(b, stack, true)
		}
		sides = append(sides, t.Fitted)
	}
	for _, f := range sides {
		if len(f) != 2 {
			continue
		}
		if x, ok := d.length(f[0]); s.Prescribed > 0 {
			if ok && max(x-s.Prescribed, s.Prescribed-x) > a.Apart {
				wanted := f[0].Decimal(s.Prescribed.In(f[0].Unit))
				d.doubt(f[0], false, f[0].T("%s at the piston, where the sheet wants %s", f[0].Decimal(x.In(f[0].Unit)), wanted)).Instead = wanted
			}
			continue
		}
		l, ok1 := d.length(f[0])
		r, ok2 := d.length(f[1])
		if ok1 && ok2 && max(l-r, r-l) > a.Apart {
			x := d.doubt(f[1], false, f[1].T("stacks are not the same on both sides: %s and %s", f[0].Decimal(l.In(f[0].Unit)), f[1].Decimal(r.In(f[1].Unit))))
			x.Instead = d.entry(f[0]).Text
		}
	}
}

// mostSums bounds the sums of a tray that are looked through; one with more is so
// fine that any thickness can be made up.
const mostSums = 20000

// sums are the thicknesses that up to most shims of a tray make, ascending; nil
// where they are too many.
func sums(t *specs.Tray, most int) []calc.Length {
	step := calc.Length(0)
	for _, s := range t.Sizes {
		for a := s; a != 0; {
			step, a = a, step%a
		}
	}
	cells := int(t.Sizes[len(t.Sizes)-1]/step)*most + 1
	if cells > mostSums {
		return nil
	}
	fewest := make([]int, cells)
	var out []calc.Length
	for c := 1; c < cells; c++ {
		fewest[c] = most + 1
		for _, s := range t.Sizes {
			if k := c - int(s/step); k >= 0 {
				fewest[c] = min(fewest[c], fewest[k]+1)
			}
		}
		if fewest[c] <= most {
			out = append(out, calc.Length(c)*step)
		}
	}
	return out
}

// nearestTo is the one of some thicknesses that is nearest to x, and by how much it
// misses; x itself where any can be made up.
func nearestTo(x calc.Length, of []calc.Length) (best, miss calc.Length) {
	if of == nil {
		return x, 0
	}
	best = of[0]
	for _, s := range of {
		if max(s-x, x-s) < max(best-x, x-best) {
			best = s
		}
	}
	return best, max(best-x, x-best)
}

// outlets: two catches of one outlet that differ, an outlet far from its fellows.
func (d *doubter) outlets(run *Run) {
	final := run == d.Final
	for _, p := range run.Points {
		if p.Second == nil {
			for _, b := range p.First {
				if x, ok := d.number(b); ok && x != 0 {
					d.doubt(b, false, b.T("the sheet's limits are %s", limitsWords(b.Printer, p.Spec.Limits)))
				}
			}
			continue
		}
		of := func(i int) (float64, bool) {
			sum, n := 0.0, 0.0
			for _, b := range p.readings(i) {
				if x, ok := d.number(b); ok {
					sum, n = sum+x, n+1
				}
			}
			return sum / max(n, 1), n > 0
		}
		scale, why := p.perThousand(d.number)
		if why != "" {
			continue
		}
		for i, first := range p.First {
			var others []float64
			for k := range p.First {
				if x, ok := of(k); ok && k != i {
					others = append(others, x)
				}
			}
			x, ok1 := d.number(first)
			y, ok2 := d.number(p.Second[i])
			if ok1 && ok2 && math.Abs(x-y) > max(d.difference(first), caughtAgain*max(x, y)) {
				b, other, otherBox := p.Second[i], x, first
				if len(others) > 0 && math.Abs(x-median(others)) > math.Abs(y-median(others)) {
					b, other, otherBox = first, y, p.Second[i]
				}
				z := d.doubt(b, true, b.T("the same outlet's other reading, %s, is %s", otherBox.Code, otherBox.Decimal(other)))
				w := max(d.difference(first), caughtAgain*other)
				z.Instead = b.meant(d.entry(b).Text, other-w, other+w)
				continue
			}
			if q, ok := of(i); ok && len(others) >= 2 {
				m := median(others)
				most := max(fellows*m, 3*d.difference(first))
				if s := p.Spec.Spread; s != nil {
					wide := s.High
					if s.Unit.Kind == calc.Percent {
						wide *= m / 100
					} else {
						wide /= scale
					}
					most = max(most, fellowSpread*wide)
				}
				if math.Abs(q-m) > most {
					b := first
					if !ok1 {
						b = p.Second[i]
					}
					d.doubt(b, final, b.T("the other outlets give about %s", b.Decimal(m))).Instead = b.meant(d.entry(b).Text, m-most, m+most)
				}
			}
		}
		if p.Counted != nil {
			if n, ok := d.number(p.Counted); ok && math.Mod(n, roundStrokes) != 0 {
				d.doubt(p.Counted, true, p.Counted.T("strokes are counted in round numbers"))
			}
		}
	}
}

// speeds: what must rise with the speed and does not, a travel far from the one
// coming down, and steps of the falling branch that neither rise in speed nor
// fall in delivery.
func (d *doubter) speeds(run *Run) {
	rising := func(boxes []*Box) {
		var last *Box
		most := 0.0
		for _, b := range boxes {
			x, ok := d.number(b)
			if !ok {
				continue
			}
			if last != nil && x < most-d.difference(b) {
				d.doubt(b, false, b.T("%s at a lower speed is %s", last.Code, last.Decimal(most)))
				continue
			}
			last, most = b, x
		}
	}
	pressures, up, down := run.gauges()
	rising(boxesOf(pressures))
	rising(boxesOf(up))
	rising(boxesOf(down))
	for _, r := range run.Travel {
		if r.Down == nil {
			continue
		}
		x, ok1 := d.number(r.Box)
		y, ok2 := d.number(r.Down)
		if l := r.Spec.Limits; ok1 && ok2 && math.Abs(x-y) > max(d.difference(r.Box), finite(l.High)-max(finite(l.Low), 0)) {
			d.doubt(r.Down, false, r.Down.T("going up it is %s", r.Box.Decimal(x)))
		}
	}
	terms := []Term(nil)
	for _, o := range run.RunOut {
		terms = o.Box.From.Terms
	}
	if run.NoLoad != nil {
		terms = run.NoLoad.From.Terms
	}
	var steps, falls []float64
	for i := 2; i+1 < len(terms); i += 2 {
		x, ok1 := d.number(terms[i-2].Box)
		y, ok2 := d.number(terms[i].Box)
		if ok1 && ok2 {
			steps = append(steps, math.Abs(y-x))
		}
		x, ok1 = d.number(terms[i-1].Box)
		y, ok2 = d.number(terms[i+1].Box)
		if ok1 && ok2 {
			falls = append(falls, math.Abs(x-y))
		}
	}
	for i := 2; i+1 < len(terms); i += 2 {
		n, q := terms[i].Box, terms[i+1].Box
		x, ok1 := d.number(terms[i-2].Box)
		y, ok2 := d.number(n)
		if usual := 0.0; ok1 && ok2 {
			if usual = median(steps); y <= x || y-x > stepsApart*usual || y-x < usual/stepsApart {
				d.doubt(n, y <= x, n.T("the step before, %s, is %s", terms[i-2].Box.Code, terms[i-2].Box.Decimal(x)))
			}
		}
		x, ok1 = d.number(terms[i-1].Box)
		y, ok2 = d.number(q)
		if !ok1 || !ok2 {
			continue
		}
		if usual := median(falls); y > x || x-y > stepsApart*usual || x-y < usual/stepsApart {
			b := q
			if q.From != nil {
				b = q.From.Point.First[0]
			}
			d.doubt(b, y > x, b.T("delivery falls from step to step; before it is %s", q.Decimal(x)))
		}
	}
}

// gauged is what a gauge of the bench reads at a speed.
type gauged struct {
	speed float64
	box   *Box
}

func boxesOf(list []gauged) (out []*Box) {
	for _, x := range list {
		out = append(out, x.box)
	}
	return out
}

// gauges are the supply pressures of a run, those beside a travel with them, and
// the travels going up and coming down, by speed.
func (r *Run) gauges() (pressures, up, down []gauged) {
	for _, x := range r.Pressure {
		pressures = append(pressures, gauged{x.Spec.Speed, x.Box})
	}
	for _, x := range r.Travel {
		if !slices.ContainsFunc(pressures, func(p gauged) bool { return p.box == x.Pressure }) {
			pressures = append(pressures, gauged{x.Spec.Speed, x.Pressure})
		}
		up = append(up, gauged{x.Spec.Speed, x.Box})
		if x.Down != nil {
			down = append(down, gauged{x.Spec.Speed, x.Down})
		}
	}
	slices.SortFunc(pressures, func(x, y gauged) int { return cmp.Compare(x.speed, y.speed) })
	return pressures, up, down
}

// course: a pump that is off is off at every speed alike; of the readings of one
// gauge, the one that leaves the course of its fellows. How far off a reading is
// counts in half widths of the sheet's limits, between its speeds in proportion.
func (d *doubter) course(run *Run) {
	bench := &d.Spec.Bench
	pressures, up, down := run.gauges()
	for _, g := range []struct {
		sheet []*specs.SpeedPoint
		list  []gauged
	}{{bench.SupplyPressure, pressures}, {bench.TimingTravel, up}, {bench.TimingTravel, down}} {
		var read []*Box
		var off, mid, half []float64
		for _, x := range g.list {
			y, ok1 := d.number(x.box)
			m, h, ok2 := between(g.sheet, x.speed)
			if ok1 && ok2 {
				read, off, mid, half = append(read, x.box), append(off, (y-m)/h), append(mid, m), append(half, h)
			}
		}
		if len(off) < 3 {
			continue
		}
		worst, most, expected := -1, 0.0, 0.0
		for i := range off {
			m := median(slices.Delete(slices.Clone(off), i, i+1))
			if by := math.Abs(off[i]-m) - 2*d.u(read[i])/half[i]; by > most {
				worst, most, expected = i, by, mid[i]+m*half[i]
			}
		}
		if most > courseApart {
			b, within := read[worst], courseApart*half[worst]
			d.doubt(b, false, b.T("from the other speeds it would be about %s", b.Decimal(expected))).Instead = b.meant(d.entry(b).Text, expected-within, expected+within)
		}
	}
}

// between are the middle and the half width of a sheet's limits at a speed, in
// proportion between its speeds; ok is false where limits are open.
func between(sheet []*specs.SpeedPoint, speed float64) (mid, half float64, ok bool) {
	if len(sheet) == 0 {
		return 0, 0, false
	}
	points := slices.SortedFunc(slices.Values(sheet), func(x, y *specs.SpeedPoint) int { return cmp.Compare(x.Speed, y.Speed) })
	k := 1
	for k < len(points)-1 && points[k].Speed < speed {
		k++
	}
	a, z := points[max(k-1, 0)].Limits, points[min(k, len(points)-1)].Limits
	if math.IsInf(a.Low, 0) || math.IsInf(a.High, 0) || math.IsInf(z.Low, 0) || math.IsInf(z.High, 0) {
		return 0, 0, false
	}
	t := 0.0
	if from, to := points[max(k-1, 0)].Speed, points[min(k, len(points)-1)].Speed; to > from {
		t = (speed - from) / (to - from)
	}
	mid = ((1-t)*(a.Low+a.High) + t*(z.Low+z.High)) / 2
	half = min(a.High-a.Low, z.High-z.Low) / 2
	return mid, half, half > 0
}

// gap doubts the boxes of a group that are left blank, without a remark, where
// another of the group is written.
func (d *doubter) gap(group ...*Box) {
	i := slices.IndexFunc(group, func(b *Box) bool { return b != nil && d.typed.Entries[b.Code].Text != "" })
	if i < 0 {
		return
	}
	for _, b := range group {
		if b != nil && b.From == nil && d.typed.Entries[b.Code].Raw == "" {
			d.doubt(b, false, b.T("left blank, and %s is written", group[i].Code))
		}
	}
}

// gaps: of the readings of a dimension, of the stacks and of each refit, all or
// none are written.
func (d *doubter) gaps(a *Adjustment) {
	group := slices.Clone(a.Repeats)
	for _, out := range a.Out {
		if out.From != nil {
			out = out.From.Terms[0].Box
		}
		group = append(group, out)
	}
	d.gap(group...)
	if len(a.Out) == 2 && a.Out[0].From != nil && a.Out[1].From != nil && a.Dim.Shims.Prescribed == 0 {
		for i, t := range a.Out[0].From.Terms {
			d.gap(t.Box, a.Out[1].From.Terms[i].Box)
		}
	}
	for _, t := range a.Tries {
		d.gap(append(slices.Clone(t.Fitted), t.readings()...)...)
	}
}

// benchGaps: likewise of a bench run.
func (d *doubter) benchGaps(run *Run) {
	for _, r := range run.Travel {
		d.gap(r.Box, r.Down, r.Pressure)
	}
	for _, p := range run.Points {
		d.gap(p.First...)
		d.gap(p.Second...)
	}
	pairs := func(f *Formula) {
		for i := 0; i+1 < len(f.Terms); i += 2 {
			q := f.Terms[i+1].Box
			if q.From != nil && q.From.Point != nil {
				q = q.From.Point.First[0]
			}
			d.gap(f.Terms[i].Box, q)
		}
	}
	for _, o := range run.RunOut {
		pairs(o.Box.From)
	}
	if run.ReturnFlow != nil {
		pairs(run.ReturnFlow.Box.From)
	}
	for _, s := range run.Screw {
		d.gap(s.At, s.Mean)
	}
}

// signatures: a stage signed without a date, a part without its quantity, one
// person as two.
func (d *doubter) signatures() {
	for _, s := range d.Stages {
		d.gap(s.Done, s.When)
		if s.Second != nil && !d.entry(s.Done).Blank() && letters(d.entry(s.Done).Text) == letters(d.entry(s.Second).Text) {
			d.doubt(s.Second, false, d.T("the same person signed twice"))
		}
	}
	for _, l := range d.Parts {
		d.gap(l.What, l.Quantity)
	}
}

// oils: the oil of one run does not change its temperature much.
func (d *doubter) oils(run *Run) {
	var boxes []*Box
	for _, p := range run.Points {
		boxes = append(boxes, p.Oil)
	}
	boxes = append(boxes, run.Temperature, run.TemperatureEnd)
	var read []*Box
	var at []float64
	for _, b := range boxes {
		if b == nil {
			continue
		}
		if x, ok := d.number(b); ok {
			read, at = append(read, b), append(at, calc.Convert(x, b.Unit, calc.Celsius))
		}
	}
	if len(at) < 3 {
		return
	}
	m := median(at)
	for i, b := range read {
		if math.Abs(at[i]-m) > oilApart {
			low, high := calc.Convert(m-oilApart, calc.Celsius, b.Unit), calc.Convert(m+oilApart, calc.Celsius, b.Unit)
			d.doubt(b, true, b.T("the run's other temperatures are near %s", b.Decimal((low+high)/2))).Instead = b.meant(d.entry(b).Text, low, high)
		}
	}
}

var significant = regexp.MustCompile(`[1-9].*[0-9]`)

// above: the figure of the box above, which measures something else.
func (d *doubter) above() {
	var last *Box
	for _, b := range d.Boxes() {
		e := d.entry(b)
		if last != nil && b.Kind == Number && last.Kind == Number && b.From == nil && last.From == nil && !e.Blank() &&
			b.Unit != last.Unit && e.Text == d.entry(last).Text && significant.MatchString(e.Text) {
			d.doubt(b, true, b.T("it is the figure of the box above, %s", last.Code))
		}
		last = b
	}
}

// pens: what the pen worked out differs from what its boxes make.
func (d *doubter) pens() {
	for _, b := range d.Boxes() {
		if s := d.slip(b); s != nil {
			d.doubt(b, false, b.T("its boxes make %s", b.Decimal(s.Worked))).Instead = strings.ReplaceAll(b.Decimal(s.Worked), "−", "-")
		}
	}
}

// works: figures that each can be believed and work out to one that cannot.
func (d *doubter) works() {
	for _, b := range d.Boxes() {
		if b.From == nil || !d.entry(b).Blank() || d.confirmed(b) {
			continue
		}
		x, ok := d.number(b)
		if ok && b.doubtful(Entry{Text: "x", Number: x}) {
			d.doubt(b, true, b.T("it works out to %s, believable is %s: a figure it rests on is wrong", b.Decimal(x), b.Window()))
		}
	}
	for _, run := range []*Run{d.AsFound, d.Final} {
		f := run.ReturnFlow
		if f == nil || d.confirmed(f.Box) {
			continue
		}
		if x, ok := d.number(f.Box); ok && (x < f.Spec.Limits.Low/flowApart || x > f.Spec.Limits.High*flowApart) {
			d.doubt(f.Box, false, f.Box.T("the sheet's limits are %s", limitsWords(f.Box.Printer, f.Spec.Limits)))
		}
	}
}

// confirmed reports whether anything that a box rests on was confirmed, or is
// doubted already.
func (d *doubter) confirmed(b *Box) bool {
	if d.entry(b).Confirmed || slices.ContainsFunc(d.out, func(x Doubt) bool { return x.Box == b }) {
		return true
	}
	if b.From == nil {
		return false
	}
	if p := b.From.Point; p != nil {
		rest := p.boxes()
		for q := p; q != nil; q = q.above {
			if q.Oil != nil {
				rest = append(rest, q.Oil)
			}
		}
		if p.Counted != nil {
			rest = append(rest, p.Counted)
		}
		if slices.ContainsFunc(rest, d.confirmed) {
			return true
		}
	}
	return slices.ContainsFunc(b.From.Terms, func(t Term) bool { return d.confirmed(t.Box) })
}

// verdicts: what leaves an item other than met. The report says so too, and a
// wrong figure is the first thing to rule out. Whether a dimension is within its
// limits counts once its stage is signed: before, the refit is still to come.
func (d *doubter) verdicts(res *Results) {
	byCode := map[string]*Box{}
	signed := map[string]bool{}
	for _, s := range d.Stages {
		signed[s.Letter] = !d.entry(s.Done).Blank()
		for _, b := range s.Boxes() {
			byCode[b.Code] = b
		}
	}
	for _, it := range res.Items {
		b := byCode[it.Code]
		if b == nil || it.Verdict == Meets || it.Verdict == NotMeasured || it.unknown || it.Group == Settings && !signed[it.Stage] && !it.MissesPrediction() {
			continue
		}
		reason := it.Note
		switch {
		case it.Seen != "":
			reason = b.T("%s is wanted", b.T(it.Wanted))
		case it.MissesPrediction():
			reason = b.T("the refit should read %s", b.Decimal(*it.Expected))
		case reason == "" || it.Group == Settings && it.Verdict != DoesNotMeet:
			reason = b.T("the sheet's limits are %s", it.limits())
		}
		d.doubt(b, false, reason)
	}
}

// stopping are the doubts that stop a report.
func stopping(doubts []Doubt) []Doubt {
	return slices.DeleteFunc(slices.Clone(doubts), func(d Doubt) bool { return !d.Stops })
}
