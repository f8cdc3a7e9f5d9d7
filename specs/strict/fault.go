package strict

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// mostShown bounds an error text: a file of the wrong sort would otherwise
// fill the screen with its every line.
const mostShown = 60

// Fault is one thing wrong in a file: where, what was found there and what to
// write instead. Line and Column count from 1, columns in characters; 0 means
// the file as a whole.
type Fault struct {
	File         string
	Line, Column int
	Field        string // "dimensions / plunger spring preset / target"; may be empty
	Found, Want  string // Want may be empty
}

// Error is one line: place, field, what was found and what to write.
func (f Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", f.Line, f.Column)
	}
	b.WriteString(": ")
	if f.Field != "" {
		b.WriteString(f.Field + ": ")
	}
	b.WriteString("found " + f.Found)
	if f.Want != "" {
		b.WriteString("; write " + f.Want)
	}
	return b.String()
}

// Faults is every fault of one file, in file order.
type Faults []Fault

// Error gives one fault per line, the first 60 of them.
func (fs Faults) Error() string {
	lines := make([]string, 0, min(len(fs), mostShown)+1)
	for i, f := range fs {
		if i == mostShown {
			lines = append(lines, fmt.Sprintf("%s: and %d more", f.File, len(fs)-i))
			break
		}
		lines = append(lines, f.Error())
	}
	return strings.Join(lines, "\n")
}

func (fs Faults) sort() {
	slices.SortStableFunc(fs, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// shown is text fit for an error line: short, and with nothing in it that
// moves a terminal's cursor or reverses its text.
func shown(s string) string {
	r := []rune(s)
	if len(r) > 60 {
		r = append(r[:59], '…')
	}
	for i, c := range r {
		if c == '\n' || c == '\t' {
			r[i] = ' '
		} else if !unicode.IsGraphic(c) {
			r[i] = '\uFFFD'
		}
	}
	return string(r)
}

// Nearest returns the word most like s, "" when none is near enough to be
// what a hurried hand meant.
func Nearest(s string, words []string) string {
	if len(s) > 60 {
		return ""
	}
	best, least := "", max(1, len([]rune(s))/3)+1
	for _, w := range words {
		if d := distance(strings.ToLower(s), strings.ToLower(w)); d < least {
			best, least = w, d
		}
	}
	return best
}

// distance counts the single-character edits and swaps of neighbours that
// turn a into b (optimal string alignment).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last, now := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		now[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(y)]
}
