//go:build !(linux || darwin || freebsd || netbsd || openbsd || dragonfly)

package pictures

import "runtime"

func takeMemory(size int) (memory, error) {
	runtime.GC() // what the one before had
	return make(memory, size), nil
}

func (memory) giveBack() {}
