// Package calc is the arithmetic of the trade: lengths, shims, torque, the
// bench, statistics and uncertainty, as pure functions. It reads and writes
// nothing and knows no pump by name.
package calc
