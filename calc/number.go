package calc

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

const (
	minus      = "\u2212"
	mostDigits = 15 // what a float64 keeps of any decimal number
	blanks     = " \t\r\n\u00a0\u2009\u202f"
)

// ParseNumber reads a number as a person writes it: decimal point or decimal
// comma, a leading + or minus sign (ASCII or U+2212), blanks around it. It also
// returns how many decimals were written, because a form remembers the
// resolution a reading was taken with.
//
// Anything that two people could read differently is refused: both marks,
// thousands separators, exponents, a mark with no figure after it, more than 15
// significant digits. A single comma is always the decimal mark: "1,234" is
// 1.234.
func ParseNumber(s string) (x float64, decimals int, err error) {
	t := strings.Trim(s, blanks)
	if t == "" {
		return 0, 0, fmt.Errorf("nothing is written; write a number such as 6.20")
	}
	fail := func(what, do string) (float64, int, error) {
		if utf8.RuneCountInString(t) > 40 {
			t = string([]rune(t)[:40]) + "…"
		}
		return 0, 0, fmt.Errorf("%q %s; %s", t, what, do)
	}
	sign, body := "", t
	for _, m := range []string{"+", "-", minus} {
		if rest, ok := strings.CutPrefix(t, m); ok {
			body = strings.TrimLeft(rest, blanks)
			if m != "+" {
				sign = "-"
			}
			break
		}
	}
	points, commas := strings.Count(body, "."), strings.Count(body, ",")
	for _, r := range body {
		switch {
		case '0' <= r && r <= '9', r == '.', r == ',':
		case strings.ContainsRune(blanks, r), r == '\'', r == '’', r == '_':
			return fail("has a separator inside the number", "write the figures together, such as 1234.5")
		default:
			return fail(fmt.Sprintf("is not a number: found %q", r), "write figures with one decimal point or comma, such as 6.20")
		}
	}
	switch {
	case points > 0 && commas > 0:
		return fail("has both a point and a comma", "write one decimal mark and no thousands separator, such as 1234.5")
	case points+commas > 1:
		return fail("has more than one decimal mark", "write one decimal mark and no thousands separator, such as 1234.5")
	}
	whole, part, marked := strings.Cut(strings.Replace(body, ",", ".", 1), ".")
	switch {
	case whole == "" && part == "":
		return fail("has no figures", "write a number such as 6.20")
	case marked && part == "":
		return fail("has no figure after the decimal mark", "write the missing figure, or leave the mark out")
	case len(strings.TrimLeft(whole+part, "0")) > mostDigits || len(whole) > 40 || len(part) > 30:
		return fail(fmt.Sprintf("has more than %d significant figures", mostDigits), "write fewer decimals")
	}
	x, err = strconv.ParseFloat(sign+whole+"."+part, 64)
	if err != nil {
		return fail("is not a number", "write figures with one decimal point or comma, such as 6.20")
	}
	if x == 0 {
		x = 0 // a written −0 is 0
	}
	return x, len(part), nil
}

// ParseQuantity reads a number and its unit, such as "6.20 mm", "0,244 in" or
// "41.0 cm³/1000"; decimals is how many were written.
func ParseQuantity(s string) (q Quantity, decimals int, err error) {
	t := strings.Trim(s, blanks)
	rest := t
	for _, m := range []string{"+", "-", minus} {
		if after, ok := strings.CutPrefix(t, m); ok {
			rest = strings.TrimLeft(after, blanks)
			break
		}
	}
	symbol := strings.TrimLeft(rest, "0123456789.,")
	number := t[:len(t)-len(symbol)]
	symbol = strings.Trim(symbol, blanks)
	unit, known := ParseUnit(symbol)
	if !known && symbol != "" && '0' <= symbol[0] && symbol[0] <= '9' {
		number = t // "1 234 mm": let the number say what is wrong with it
		if i := strings.LastIndexAny(t, "0123456789"); i >= 0 {
			number = t[:i+1]
		}
	}
	x, decimals, err := ParseNumber(number)
	if err != nil {
		return Quantity{}, 0, err
	}
	switch {
	case symbol == "":
		return Quantity{}, 0, fmt.Errorf("%q has no unit; write it after the number, such as %s mm (known units: %s)",
			t, strings.Trim(number, blanks), strings.Join(allSymbols(), ", "))
	case !known:
		if near := nearestUnit(symbol); near != "" {
			return Quantity{}, 0, fmt.Errorf("%q has an unknown unit %q; did you mean %s?", t, symbol, near)
		}
		return Quantity{}, 0, fmt.Errorf("%q has an unknown unit %q; known units: %s", t, symbol, strings.Join(allSymbols(), ", "))
	}
	return Quantity{x, unit}, decimals, nil
}

func allSymbols() []string {
	list := make([]string, len(spellings))
	for i, s := range spellings {
		list[i] = s.Symbol
	}
	return list
}

// nearestUnit returns the symbol whose spelling is fewest keystrokes from s,
// capitals aside, or "" when none is close.
func nearestUnit(s string) string {
	p := strings.ToLower(plainSpelling(s))
	if len(p) > 20 {
		return ""
	}
	best, least := "", 3
	for _, u := range spellings {
		for _, w := range append([]string{plainSpelling(u.Symbol)}, u.also...) {
			// A third of the letters wrong is another word, not a slip.
			if d := editDistance(p, strings.ToLower(w)); d < least && 2*d <= max(len(p), len(w)) {
				best, least = u.Symbol, d
			}
		}
	}
	return best
}

func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, corner+1)
		}
	}
	return row[len(b)]
}

// snap takes off the binary noise of x: the nearest number of 15 figures.
func snap(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', mostDigits, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// Fixed writes x with a fixed number of decimals, half rounding away from zero
// as a person with a pencil does: 2.675 gives 2.68 although the nearest binary
// number is a little less. Negative numbers carry U+2212, and what rounds to
// zero has no sign. Numbers that are not finite give "—".
func Fixed(x float64, decimals int) string {
	digits, ok := rounded(x, decimals)
	if !ok {
		return "—"
	}
	return signed(placePoint(digits, max(decimals, 0)), x < 0, "")
}

// Rounded is the number that Fixed writes.
func Rounded(x float64, decimals int) float64 {
	digits, ok := rounded(x, decimals)
	if !ok {
		return x
	}
	y, err := strconv.ParseFloat(placePoint(digits, max(decimals, 0)), 64)
	if err != nil {
		return x
	}
	if x < 0 && y != 0 {
		y = -y
	}
	return y
}

// rounded returns the figures of |x| × 10^decimals rounded to a whole number.
func rounded(x float64, decimals int) (digits string, ok bool) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "", false
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(math.Abs(x), 'e', mostDigits-1, 64), "e")
	digits = strings.Replace(mantissa, ".", "", 1)
	e, _ := strconv.Atoi(exponent)
	shift := e - (mostDigits - 1) + max(decimals, 0)
	if shift >= 0 {
		return digits + strings.Repeat("0", shift), true
	}
	if -shift > mostDigits {
		return "0", true
	}
	n, _ := strconv.ParseInt(digits, 10, 64)
	scale := int64(math.Pow10(-shift))
	return strconv.FormatInt((n+scale/2)/scale, 10), true
}

// placePoint puts the decimal point into a whole number of the last place.
func placePoint(digits string, decimals int) string {
	digits = strings.TrimLeft(digits, "0")
	if short := decimals + 1 - len(digits); short > 0 {
		digits = strings.Repeat("0", short) + digits
	}
	if decimals == 0 {
		return digits
	}
	return digits[:len(digits)-decimals] + "." + digits[len(digits)-decimals:]
}

// signed puts the sign before figures that are not all zero.
func signed(figures string, negative bool, plus string) string {
	switch {
	case strings.Trim(figures, "0.") == "":
		return figures
	case negative:
		return minus + figures
	}
	return plus + figures
}
