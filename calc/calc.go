// Package calc is the arithmetic of the trade: lengths, shims, torque, the
// bench, statistics and uncertainty, as pure functions. It reads and writes
// nothing and knows no pump by name.
package calc

import (
	"fmt"
	"math"
)

// Error says why readings have no answer. A report can say Format, a sentence
// with the verbs of fmt.Sprintf for Args, in another language; of the Args it can
// bring a Quantity to its own units, and name the reading that an At is. Errors
// that only a wrong call brings are of other types.
type Error struct {
	Of     string // what has no answer: "run-out"
	Format string
	Args   []any
}

func (e *Error) Error() string { return e.Of + ": " + fmt.Sprintf(e.Format, e.Args...) }

// At is the place of a reading among those given, from 0.
type At int

func (a At) String() string { return fmt.Sprintf("reading %d", int(a)+1) }

// about is a value for a sentence: to four figures that count.
func about(x float64, u Unit) Quantity {
	q := Quantity{Value: x, Unit: u}
	if x != 0 && finite(x) {
		q.Value = Rounded(x, 3-int(math.Floor(math.Log10(math.Abs(x)))))
	}
	return q
}

func errorf(of, format string, args ...any) error { return &Error{of, format, args} }
