package codes

import (
	"fmt"
	"regexp"
	"strings"
)

// alphabet of ISO/IEC 7064 MOD 37-2; a character's value is its place.
const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

// checkCharacter returns the ISO/IEC 7064 MOD 37-2 check character of s, which
// catches every single wrong character and every swap of neighbours. Every
// character of s must be a digit or a capital letter.
func checkCharacter(s string) byte {
	p := 0
	for i := range len(s) {
		p = (p + strings.IndexByte(alphabet, s[i])) * 2 % 37
	}
	return alphabet[(38-p)%37]
}

// steady are the check characters that a number is given out with: neither *,
// nor a letter that pens make into a figure, nor one of A, M, Q, W, Y, Z, which
// national keyboards have at different places.
const steady = "0123456789" + steadyLetters

const steadyLetters = "BCDEFGHJKLNPRSTUVX"

// NewNumber makes the number of the n-th job of a year, "26-0412-B": year,
// running number, check character; "26-K0412-D" where the site that gives it out
// has letters of its own. ok is false when the number must not be given out,
// because a pen or a keyboard may make another of its check character: about a
// quarter of the running numbers.
func NewNumber(year int, site string, n int) (number string, ok bool) {
	digits := fmt.Sprintf("%02d%s%04d", year%100, site, n)
	c := checkCharacter(digits)
	return fmt.Sprintf("%s-%s-%c", digits[:2], digits[2:], c), strings.IndexByte(steady, c) >= 0
}

// Numbers that end in A, M, W, Y or Z were given out by earlier versions.
const numberPattern = `(\d{2})-?(` + sitePattern + `(?:\d{4}|[1-9]\d{4,5}))-?([0-9A-HJ-NPR-Z])`

// sitePattern are the letters of a site, none or up to two.
const sitePattern = `[` + steadyLetters + `]{0,2}`

var numberForm = regexp.MustCompile(`^` + numberPattern + `$`)

// ParseNumber reads a job number as a person types it, with or without its
// dashes, in either case, and returns it as printed. A wrong check character is
// an error: the number is refused, not mistaken for another job's.
func ParseNumber(s string) (string, error) {
	m := numberForm.FindStringSubmatch(capitals(strings.TrimSpace(s)))
	if m == nil {
		return "", &refusal{format: "job number: found %q; write it as on the sheet, like 26-0412-%c", args: []any{shortened(s), checkCharacter("260412")}}
	}
	number := m[1] + "-" + m[2] + "-" + m[3]
	if checkCharacter(m[1]+m[2]) != m[3][0] {
		return "", &refusal{format: "job number: %s cannot be right: its last character does not fit the rest; look at the sheet again", args: []any{number}}
	}
	return number, nil
}

// plain is a number without its dashes, as symbols have it.
func plain(number string) string { return strings.ReplaceAll(number, "-", "") }

// capitals makes ASCII letters capitals, and nothing else: no other letter may
// become one of a code.
func capitals(s string) string {
	return strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' {
			return r - 'a' + 'A'
		}
		return r
	}, s)
}

// refusal is why a text is not taken. Its sentence is made when it is asked for:
// most refusals are of guesses that nobody hears of.
type refusal struct {
	format string
	args   []any
	kind   error
}

func (r *refusal) Error() string { return fmt.Sprintf(r.format, r.args...) }
func (r *refusal) Unwrap() error { return r.kind }

// shortened is what was read, as much of it as a message holds.
func shortened(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
