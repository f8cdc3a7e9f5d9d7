// Package calc is the arithmetic of the trade: lengths, shims, torque, the
// bench, statistics and uncertainty, as pure functions. It reads and writes
// nothing and knows no pump by name.
package calc

import "fmt"

// Error says why readings have no answer. A report can say Format, a sentence
// with the verbs of fmt.Sprintf for Args, in another language. Errors that only
// a wrong call brings are of other types.
type Error struct {
	Of     string // what has no answer: "run-out"
	Format string
	Args   []any
}

func (e *Error) Error() string { return e.Of + ": " + fmt.Sprintf(e.Format, e.Args...) }

func errorf(of, format string, args ...any) error { return &Error{of, format, args} }
