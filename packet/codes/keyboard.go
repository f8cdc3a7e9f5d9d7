package codes

import (
	"strings"
	"unicode"
)

// A keyboard-type scanner presses the keys which its own layout has for a text;
// the computer writes what its layout has on those keys. layout is a national
// layout: for each key, in one order, what it writes alone and with shift.
type layout struct {
	name           string
	alone, shifted []rune
	places         map[rune]place // where a character is; made of the others
}

type place struct {
	key   int
	shift bool
}

// The rows follow the keys from top left to bottom right, then the key left of
// or above the return key, and the space bar. Source: the symbols files us, gb,
// de and fr of xkeyboard-config 2.35.1 (testdata/xkb-symbols.txt).
var layouts = placed([]layout{
	{name: "US",
		alone:   []rune("`1234567890-=" + "qwertyuiop[]" + "asdfghjkl;'" + "zxcvbnm,./" + `\ `),
		shifted: []rune("~!@#$%^&*()_+" + "QWERTYUIOP{}" + `ASDFGHJKL:"` + "ZXCVBNM<>?" + "| ")},
	{name: "UK",
		alone:   []rune("`1234567890-=" + "qwertyuiop[]" + "asdfghjkl;'" + "zxcvbnm,./" + "# "),
		shifted: []rune(`¬!"£$%^&*()_+` + "QWERTYUIOP{}" + "ASDFGHJKL:@" + "ZXCVBNM<>?" + "~ ")},
	{name: "German",
		alone:   []rune("^1234567890ß´" + "qwertzuiopü+" + "asdfghjklöä" + "yxcvbnm,.-" + "# "),
		shifted: []rune("°!\"§$%&/()=?`" + "QWERTZUIOPÜ*" + "ASDFGHJKLÖÄ" + "YXCVBNM;:_" + "' ")},
	{name: "French",
		alone:   []rune(`²&é"'(-è_çà)=` + "azertyuiop^$" + "qsdfghjklmù" + "wxcvbn,;:!" + "* "),
		shifted: []rune("~1234567890°+" + "AZERTYUIOP¨£" + "QSDFGHJKLM%" + "WXCVBN?./§" + "µ ")},
})

func placed(list []layout) []layout {
	for i := range list {
		l := &list[i]
		l.places = map[rune]place{}
		for key := range l.alone {
			l.places[l.shifted[key]] = place{key, true}
			l.places[l.alone[key]] = place{key, false} // the space is on both
		}
	}
	return list
}

// lock is what the caps lock of a computer does.
type lock int

const (
	off     lock = iota
	letters      // turns the case of letters
	all          // turns the shift of every key, as Windows does for German and French (from memory)
)

// mixUp is one way in which a text may have been changed on its way through a
// keyboard.
type mixUp struct {
	scanner, computer layout
	lock              lock
}

func (m mixUp) String() string {
	s := ""
	if m.scanner.name != m.computer.name {
		s = "scanner set to a " + m.scanner.name + " keyboard, computer to a " + m.computer.name + " one"
	}
	if m.lock != off {
		if s != "" {
			s += ", "
		}
		s += "caps lock on"
	}
	return s
}

// mixUps are all of them, the likely ones first.
var mixUps = func() (list []mixUp) {
	for _, l := range []lock{off, letters, all} {
		for _, s := range layouts {
			for _, c := range layouts {
				if s.name != c.name || l == all {
					list = append(list, mixUp{s, c, l})
				}
			}
		}
	}
	return list
}()

// undo gives back the text that the scanner meant, where the computer's
// keyboard can have written s.
func (m mixUp) undo(s string) (string, bool) {
	if m.computer.name == "German" {
		s = deadKeys.Replace(s)
	}
	var w strings.Builder
	for _, r := range s {
		at, ok := m.computer.places[r]
		if !ok {
			return "", false
		}
		shift := at.shift
		if m.lock == all || m.lock == letters && unicode.ToUpper(m.computer.alone[at.key]) == m.computer.shifted[at.key] {
			shift = !shift
		}
		if shift {
			w.WriteRune(m.scanner.shifted[at.key])
		} else {
			w.WriteRune(m.scanner.alone[at.key])
		}
	}
	return w.String(), true
}

// The German layout's accents wait for the next letter; this takes both apart.
var deadKeys = func() *strings.Replacer {
	var pairs []string
	for accent, composed := range map[string]string{"`": "ÀÈÌÒÙàèìòù", "´": "ÁÉÍÓÚÝáéíóúý"} {
		plain := []rune("AEIOUaeiou")
		if accent == "´" {
			plain = []rune("AEIOUYaeiouy")
		}
		for i, r := range []rune(composed) {
			pairs = append(pairs, string(r), accent+string(plain[i]))
		}
	}
	return strings.NewReplacer(pairs...)
}()
