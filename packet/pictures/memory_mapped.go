//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package pictures

import "syscall"

// takeMemory takes memory beside Go's heap: of that the collector lets as much again
// become garbage before it clears any.
func takeMemory(size int) (memory, error) {
	return syscall.Mmap(-1, 0, size, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
}

func (m memory) giveBack() { _ = syscall.Munmap(m) }
