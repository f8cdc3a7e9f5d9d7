package packet

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// faults collects what is wrong, so that all of it is told at once.
type faults []error

func (f *faults) add(format string, args ...any) { *f = append(*f, fmt.Errorf(format, args...)) }
func (f faults) err() error                      { return errors.Join(f...) }

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// quoteRunes names characters so that they can be found: "中" (U+4E2D).
func quoteRunes(rs []rune) string {
	var out []string
	for _, r := range rs {
		out = append(out, fmt.Sprintf("%q (%U)", r, r))
	}
	return strings.Join(out, ", ")
}
