package packet

import (
	"errors"
	"slices"

	"shimcard/calc"
	"shimcard/packet/words"
)

// reason says, in the printer's language and the units of the boxes whose figures
// it rests on, why the arithmetic has no answer; before it stand their codes.
func reason(p words.Printer, err error, of ...*Box) string {
	e := (*calc.Error)(nil)
	if !errors.As(err, &e) {
		return err.Error() // a fault of ours, not of a reading
	}
	args := slices.Clone(e.Args)
	for i, a := range args {
		switch a := a.(type) {
		case calc.Quantity:
			args[i] = inUnits(p, a, of)
		case calc.At:
			args[i] = of[a].Code
		}
	}
	var codes []string
	for _, b := range of {
		if !slices.Contains(codes, b.Code) {
			codes = append(codes, b.Code)
		}
	}
	return join(": ", codeWords(p, codes), p.Mark(p.T(e.Format, args...)))
}

// inUnits prints a quantity as the first box of its kind is written, with a
// decimal more where it would be lost.
func inUnits(p words.Printer, q calc.Quantity, of []*Box) string {
	for _, b := range of {
		if b.Unit.Kind == q.Unit.Kind {
			x := q.In(b.Unit)
			return p.Fixed(x, min(max(b.Decimals, counting(x)-1), b.Decimals+1)) + " " + p.Unit(b.Unit.Symbol)
		}
	}
	return p.Quantity(q)
}

// blank is the reason most figures are not worked out for.
func (b *Box) blank() string { return b.T("%s is blank", b.Code) }
