// Package fonts embeds the one typeface of the printed pages: a sans with
// tabular figures, Latin with accents, Greek and Cyrillic, in which 1, l, I
// and 0, O tell apart, and its condensed cut for charts. The files are subsets
// (no hinting, no layout tables) under another name, as OFL.txt asks for; the
// commands that made them are in DEVELOPERS.md.
package fonts

import (
	_ "embed"
	"encoding/binary"
	"slices"
	"sync"
)

// The four faces, TrueType outlines.
var (
	//go:embed sans-regular.ttf
	Regular []byte
	//go:embed sans-bold.ttf
	Bold []byte
	//go:embed condensed-regular.ttf
	Condensed []byte
	//go:embed condensed-bold.ttf
	CondensedBold []byte
)

var coverage = sync.OnceValue(func() map[rune]bool { return covered(Regular) })

// Has reports whether the typeface has a glyph for r. All four faces cover the
// same characters.
func Has(r rune) bool { return coverage()[r] }

// Missing returns the characters of s that the typeface cannot draw, each
// once, in order of appearance. Line breaks and tabs count as drawable: the
// page turns them into white space.
func Missing(s string) []rune {
	var out []rune
	has := coverage()
	for _, r := range s {
		if !has[r] && r != '\n' && r != '\t' && r != '\r' && !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	return out
}

// covered reads a format 4 character map: segments of (end, start, delta,
// range offset), OpenType specification, table cmap.
func covered(ttf []byte) map[rune]bool {
	u16 := func(p int) int { return int(binary.BigEndian.Uint16(ttf[p:])) }
	u32 := func(p int) int { return int(binary.BigEndian.Uint32(ttf[p:])) }
	out := map[rune]bool{}
	for i := range u16(4) {
		if string(ttf[12+16*i:16+16*i]) != "cmap" {
			continue
		}
		cmap := u32(12 + 16*i + 8)
		for j := range u16(cmap + 2) {
			t := cmap + u32(cmap+4+8*j+4)
			if u16(t) != 4 {
				continue
			}
			segX2 := u16(t + 6)
			for s := 0; s < segX2; s += 2 {
				end, start := u16(t+14+s), u16(t+16+segX2+s)
				delta, rangeAt := u16(t+16+2*segX2+s), t+16+3*segX2+s
				for c := start; c <= end && c != 0xFFFF; c++ {
					g := (c + delta) & 0xFFFF
					if off := u16(rangeAt); off != 0 {
						g = u16(rangeAt + off + 2*(c-start))
					}
					if g != 0 {
						out[rune(c)] = true
					}
				}
			}
		}
	}
	return out
}
