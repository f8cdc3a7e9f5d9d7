package packet

import (
	"math"

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

func newValues(r *Readings) *values { return &values{r, make(map[*Box]worked, len(r.Entries))} }

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
	w := worked{x: e.Number, ok: !e.Blank()}
	if b.From != nil {
		x, ok, why := b.From.Value(v.number)
		switch {
		case ok:
			w = worked{x: calc.Rounded(x, b.Decimals), ok: true}
		case !w.ok:
			w.why = why
		}
	} else if !w.ok {
		w.why = b.blank()
	}
	v.worked[b] = w
	return w
}

func (v *values) entry(b *Box) Entry { return v.readings.Entries[b.Code] }

func (v *values) length(b *Box) (calc.Length, bool) {
	x, ok := v.number(b)
	return calc.LengthOf(x, b.Unit), ok
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
		if slip := v.slip(b); slip != nil {
			out = append(out, *slip)
		}
	}
	return out
}

// slip is the pen's figure in a worked-out box where it differs from what its
// boxes make; nil when it does not, or there is none.
func (v *values) slip(b *Box) *Slip {
	e := v.entry(b)
	if b.From == nil || b.Kind != Number || e.Blank() {
		return nil
	}
	x, ok, _ := b.From.Value(v.number)
	// One in the last place is a pen's rounding, not a slip.
	if tolerance := 1.01 * math.Pow10(-b.Decimals); !ok || math.Abs(e.Number-x) <= tolerance {
		return nil
	}
	return &Slip{b.Code, b.Label, e.Number, calc.Rounded(x, b.Decimals)}
}
