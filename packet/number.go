package packet

import (
	"fmt"
	"regexp"
	"strconv"
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

// jobNumber makes the number of the n-th job of a year, "26-0412-B": year,
// running number, check character. ok is false when the number must not be
// given out, because its check character would be "*", or a letter that pens
// make into a figure.
func jobNumber(year, n int) (number string, ok bool) {
	digits := fmt.Sprintf("%02d%04d", year%100, n)
	c := checkCharacter(digits)
	return fmt.Sprintf("%s-%s-%c", digits[:2], digits[2:], c), !strings.ContainsRune("*IOQ", rune(c))
}

var numberForm = regexp.MustCompile(`^(\d{2})-?(\d{4,6})-?([0-9A-Z])$`)

// ParseNumber reads a job number as a person types it, with or without its
// dashes, in either case, and returns it as printed. A wrong check character is
// an error: the number is refused, not mistaken for another job's.
func ParseNumber(s string) (string, error) {
	m := numberForm.FindStringSubmatch(strings.ToUpper(strings.TrimSpace(s)))
	if m == nil {
		return "", fmt.Errorf("job number: found %q; write it as on the sheet, like 26-0412-%c", s, checkCharacter("260412"))
	}
	if checkCharacter(m[1]+m[2]) != m[3][0] {
		return "", fmt.Errorf("job number: %s-%s-%s cannot be right: its last character does not fit the rest; look at the sheet again", m[1], m[2], m[3])
	}
	return m[1] + "-" + m[2] + "-" + m[3], nil
}

// The documents whose pages carry a symbol, by a letter that the common
// national keyboards have at the same place.
const (
	travellerPage = 'T'
	reportPage    = 'R'
)

// symbolText is what a page's code symbol says: the job number without dashes,
// the document's letter, two digits of page, and a check character over all of
// it. Digits and capitals only, so that it is short and a keyboard-type scanner
// can type it.
func symbolText(number string, document byte, page int) string {
	s := fmt.Sprintf("%s%c%02d", strings.ReplaceAll(number, "-", ""), document, page)
	return s + string(checkCharacter(s))
}

var symbolForm = regexp.MustCompile(`^(\d{6,8}[0-9A-Z])([TR])(\d{2,3})[0-9A-Z*]$`)

// ParseSymbol reads what a page's code symbol says: the job, the document ('T'
// traveller, 'R' report) and its page.
func ParseSymbol(s string) (number string, document byte, page int, err error) {
	s = strings.ToUpper(strings.TrimSpace(s))
	m := symbolForm.FindStringSubmatch(s)
	if m == nil || checkCharacter(s[:len(s)-1]) != s[len(s)-1] {
		return "", 0, 0, fmt.Errorf("code symbol: found %q, which is no page of a job; scan again or type the job number", s)
	}
	if number, err = ParseNumber(m[1]); err != nil {
		return "", 0, 0, err
	}
	page, err = strconv.Atoi(m[3])
	return number, m[2][0], page, err
}
