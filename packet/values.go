package packet

import (
	"math"
	"strings"

	"shimcard/calc"
)

// values answers what each box holds: what was typed, or what follows from it.
type values struct {
	readings *Readings
	worked   map[*Box]worked
}

type worked struct {
	x   float64
	ok  bool
	why string
}

func newValues(r *Readings) *values { return &values{r, map[*Box]worked{}} }

// number is the figure in a box. A worked-out box holds what a pen would write
// in it: the result rounded to the box's decimals, so that the report agrees
// with the sheet to the last printed digit. Where the arithmetic lacks a box,
// what was typed counts.
func (v *values) number(b *Box) (float64, bool) {
	w := v.work(b)
	return w.x, w.ok
}

func (v *values) work(b *Box) worked {
	if w, ok := v.worked[b]; ok {
		return w
	}
	e := v.readings.Entries[b.Code]
	typed := worked{x: e.Number, ok: !e.Blank(), why: b.blank()}
	w := typed
	if b.From != nil {
		x, ok, why := b.From.Value(v.number)
		switch {
		case ok:
			w = worked{x: calc.Rounded(x, b.Decimals), ok: true}
		case !typed.ok:
			w = worked{why: why}
		}
	}
	v.worked[b] = w
	return w
}

func (v *values) entry(b *Box) Entry { return v.readings.Entries[b.Code] }

func (v *values) length(b *Box) (calc.Length, bool) {
	x, ok := v.number(b)
	return calc.LengthOf(x, b.Unit), ok
}

// Doubt is a typed value that cannot be believed as it stands.
type Doubt struct {
	Box    *Box
	Line   int
	Value  string
	Reason string
}

// String follows a file's name and a colon.
func (d Doubt) String() string {
	return d.Box.T("%d: %s, %s: found %s, %s; correct it, or confirm it by writing %s !",
		d.Line, d.Box.Code, d.Box.Label, strings.TrimSpace(d.Value+" "+d.Box.Printer.Unit(d.Box.Unit.Symbol)), d.Reason, d.Value)
}

// doubtful reports whether a typed figure lies outside what is believable.
func (b *Box) doubtful(e Entry) bool {
	const noise = 1e-9 // of decimal figures held in binary
	return b.Kind == Number && !e.Blank() && (e.Number < b.Low-noise || e.Number > b.High+noise)
}

// Doubts lists, in sheet order, what must be corrected or confirmed in the
// form before a report is made: figures outside what is believable, and dates
// before the pump came in.
func (j *Job) Doubts(r *Readings) []Doubt {
	received := j.Intake.Received.Format("2006-01-02")
	var out []Doubt
	for _, b := range j.Boxes() {
		e := r.Entries[b.Code]
		switch {
		case e.Confirmed:
		case b.doubtful(e):
			out = append(out, Doubt{b, e.Line, e.Text, b.T("believable is %s", b.Window())})
		case b.Kind == Number && e.Decimals > b.Decimals:
			out = append(out, Doubt{b, e.Line, e.Text, b.T("the box has %d decimals", b.Decimals)})
		case b.Kind == Date && !e.Blank() && e.Text < received:
			out = append(out, Doubt{b, e.Line, e.Text, b.T("the pump came in on %s", received)})
		case b.Thinner != nil && !e.Blank():
			if goes := r.Entries[b.Thinner.Code]; !goes.Blank() && goes.Number >= e.Number {
				out = append(out, Doubt{b, e.Line, e.Text, b.T("the blade that goes, %s, is %s", b.Thinner.Code, goes.Text)})
			}
		}
	}
	return out
}

// Slip is a worked-out box whose pen result differs from the arithmetic of the
// boxes it rests on.
type Slip struct {
	Code   string  `json:"code"`
	Label  string  `json:"label"`
	Pen    float64 `json:"pen"`
	Worked float64 `json:"worked"`
}

func (v *values) slips(p *Plan) []Slip {
	var out []Slip
	for _, b := range p.Boxes() {
		e := v.entry(b)
		if b.From == nil || b.Kind != Number || e.Blank() {
			continue
		}
		x, ok, _ := b.From.Value(v.number)
		if !ok {
			continue
		}
		// One in the last place is a pen's rounding, not a slip.
		if tolerance := 1.01 * math.Pow10(-b.Decimals); math.Abs(e.Number-x) > tolerance {
			out = append(out, Slip{b.Code, b.Label, e.Number, calc.Rounded(x, b.Decimals)})
		}
	}
	return out
}
