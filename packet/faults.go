package packet

import (
	"errors"
	"fmt"
	"maps"
	"slices"
)

// faults collects what is wrong, so that all of it is told at once.
type faults []error

func (f *faults) add(format string, args ...any) { *f = append(*f, fmt.Errorf(format, args...)) }
func (f faults) err() error                      { return errors.Join(f...) }

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
