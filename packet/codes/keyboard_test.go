package codes

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// board is a layout as its source has it: of every key the symbol alone and
// with shift.
type board map[string][2]string

// keysyms are the symbols whose name is not what they write.
// Source: X11/keysymdef.h.
var keysyms = map[string]rune{
	"grave": '`', "asciitilde": '~', "exclam": '!', "at": '@', "numbersign": '#', "dollar": '$', "percent": '%',
	"asciicircum": '^', "ampersand": '&', "asterisk": '*', "parenleft": '(', "parenright": ')', "minus": '-',
	"underscore": '_', "equal": '=', "plus": '+', "bracketleft": '[', "bracketright": ']', "braceleft": '{',
	"braceright": '}', "semicolon": ';', "colon": ':', "apostrophe": '\'', "quotedbl": '"', "backslash": '\\',
	"bar": '|', "comma": ',', "period": '.', "less": '<', "greater": '>', "slash": '/', "question": '?',
	"sterling": '£', "notsign": '¬', "section": '§', "ssharp": 'ß', "degree": '°',
	"udiaeresis": 'ü', "Udiaeresis": 'Ü', "odiaeresis": 'ö', "Odiaeresis": 'Ö', "adiaeresis": 'ä', "Adiaeresis": 'Ä',
	"eacute": 'é', "egrave": 'è', "ccedilla": 'ç', "agrave": 'à', "ugrave": 'ù', "twosuperior": '²', "mu": 'µ',
	"dead_acute": '´', "dead_grave": '`', "dead_circumflex": '^', "dead_diaeresis": '¨', "space": ' ',
}

func written(symbol string) rune {
	if r, n := utf8.DecodeRuneInString(symbol); n == len(symbol) {
		return r
	}
	return keysyms[symbol]
}

// boards reads the layouts from testdata/xkb-symbols.txt, whose head says where
// they are from.
func boards(t testing.TB) map[string]board {
	data, err := os.ReadFile("testdata/xkb-symbols.txt")
	require.NoError(t, err)
	all := map[string]board{}
	for _, s := range strings.Split(string(data), "xkb_symbols ")[1:] {
		b := board{"SPCE": {"space", "space"}}
		if m := regexp.MustCompile(`include "(.*)"`).FindStringSubmatch(s); m != nil {
			for key, symbols := range all[m[1]] {
				b[key] = symbols
			}
		}
		for _, m := range regexp.MustCompile(`key <(\w+)>[^\[]*?(?:symbols\[Group1\]=\s*)?\[\s*(\w+)\s*,\s*(\w+)`).FindAllStringSubmatch(s, -1) {
			b[m[1]] = [2]string{m[2], m[3]}
		}
		// The type of the German ß key is said in brackets before its symbols.
		if m := regexp.MustCompile(`key <(\w+)>\s*\{type\[Group1\].*\s*\[(\w+), (\w+)`).FindStringSubmatch(s); m != nil {
			b[m[1]] = [2]string{m[2], m[3]}
		}
		all[strings.Trim(strings.Fields(s)[0], `"`)] = b
	}
	return map[string]board{"US": all["us"], "UK": all["gb"], "German": all["de"], "French": all["fr"]}
}

// The tables of the package are the published ones, key by key.
func TestLayoutsAreThePublishedOnes(t *testing.T) {
	var order []string
	for _, row := range []struct {
		name string
		n    int
	}{{"AE", 12}, {"AD", 12}, {"AC", 11}, {"AB", 10}} {
		for i := range row.n {
			order = append(order, row.name+string(rune('0'+(i+1)/10))+string(rune('0'+(i+1)%10)))
		}
	}
	order = append(append([]string{"TLDE"}, order...), "BKSL", "SPCE")
	published := boards(t)
	for _, l := range layouts {
		require.Len(t, l.alone, len(order), l.name)
		require.Len(t, l.shifted, len(order), l.name)
		for i, key := range order {
			symbols, ok := published[l.name][key]
			require.True(t, ok, "%s %s", l.name, key)
			require.Equal(t, string(written(symbols[0])), string(l.alone[i]), "%s %s", l.name, key)
			require.Equal(t, string(written(symbols[1])), string(l.shifted[i]), "%s %s with shift", l.name, key)
		}
	}
}

// keyboard types text: a scanner of one layout presses the keys, a computer of
// another writes.
type keyboard struct {
	scanner  map[rune]press
	computer board
	lock     lock
	windows  bool // a dead accent before another character is written (from memory), not swallowed
}

type press struct {
	key   string
	shift bool
}

func newKeyboard(scanner, computer board, l lock, windows bool) *keyboard {
	k := &keyboard{map[rune]press{}, computer, l, windows}
	for key, symbols := range scanner {
		for i, shift := range []bool{true, false} {
			if symbol := symbols[1-i]; !strings.HasPrefix(symbol, "dead_") {
				k.scanner[written(symbol)] = press{key, shift}
			}
		}
	}
	return k
}

func (k *keyboard) typed(t testing.TB, text string) string {
	var w strings.Builder
	var accent rune
	for _, r := range text {
		p, ok := k.scanner[r]
		require.True(t, ok, "the scanner has no key for %q", r)
		symbols := k.computer[p.key]
		letter := utf8.RuneCountInString(symbols[0]) == 1 && unicode.IsLetter(written(symbols[0])) && strings.ToUpper(symbols[0]) == symbols[1]
		if k.lock == all || k.lock == letters && letter {
			p.shift = !p.shift
		}
		symbol := symbols[0]
		if p.shift {
			symbol = symbols[1]
		}
		out := written(symbol)
		require.NotZero(t, out, symbol)
		if accent != 0 {
			before := accent
			accent = 0
			// Source: the compose table of X11, en_US.UTF-8/Compose.
			composed := map[string]rune{"`A": 'À', "`E": 'È', "`I": 'Ì', "`O": 'Ò', "`U": 'Ù', "´A": 'Á', "´E": 'É', "´I": 'Í', "´O": 'Ó', "´U": 'Ú', "´Y": 'Ý'}
			pair := string(before) + strings.ToUpper(string(out))
			switch c := composed[pair]; {
			case c != 0 && unicode.IsLower(out):
				w.WriteRune(unicode.ToLower(c))
			case c != 0:
				w.WriteRune(c)
			case out == ' ':
				w.WriteRune(before)
			case k.windows:
				w.WriteRune(before)
				w.WriteRune(out)
			}
			continue
		}
		if strings.HasPrefix(symbol, "dead_") {
			accent = out
			continue
		}
		w.WriteRune(out)
	}
	return w.String()
}
