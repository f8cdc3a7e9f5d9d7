package packet

import (
	"errors"

	"shimcard/calc"
	"shimcard/packet/words"
)

// reason says, in the printer's language, why the arithmetic has no answer.
func reason(p words.Printer, err error) string {
	if e := (*calc.Error)(nil); errors.As(err, &e) {
		return p.Mark(p.T(e.Format, e.Args...))
	}
	return err.Error() // a fault of ours, not of a reading
}

// blank is the reason most figures are not worked out for.
func (b *Box) blank() string { return b.T("%s is blank", b.Code) }
