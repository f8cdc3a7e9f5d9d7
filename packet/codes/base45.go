package codes

import (
	"fmt"
	"strings"
)

// base45Alphabet of RFC 9285, the characters of a QR code's alphanumeric mode;
// a character's value is its place.
const base45Alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

// encode45 writes bytes in RFC 9285 base 45: two bytes in three characters, a
// last single byte in two. The last character is never a space, which scanners
// and forms cut off: it is at most W of three and 5 of two.
func encode45(data []byte) string {
	var w strings.Builder
	for i := 0; i < len(data); i += 2 {
		if i+1 == len(data) {
			n := int(data[i])
			w.WriteByte(base45Alphabet[n%45])
			w.WriteByte(base45Alphabet[n/45])
			break
		}
		n := int(data[i])<<8 | int(data[i+1])
		w.WriteByte(base45Alphabet[n%45])
		w.WriteByte(base45Alphabet[n/45%45])
		w.WriteByte(base45Alphabet[n/(45*45)])
	}
	return w.String()
}

// decode45 reads RFC 9285 base 45.
func decode45(s string) ([]byte, error) {
	if len(s)%3 == 1 {
		return nil, fmt.Errorf("base 45: %d characters, and one too many or too few", len(s))
	}
	data := make([]byte, 0, len(s)/3*2+1)
	for i := 0; i < len(s); i += 3 {
		group, n := s[i:min(i+3, len(s))], 0
		for j := len(group) - 1; j >= 0; j-- {
			v := strings.IndexByte(base45Alphabet, group[j])
			if v < 0 {
				return nil, fmt.Errorf("base 45: found %q at character %d", group[j], i+j+1)
			}
			n = n*45 + v
		}
		switch {
		case len(group) == 3 && n <= 0xFFFF:
			data = append(data, byte(n>>8), byte(n))
		case len(group) == 2 && n <= 0xFF:
			data = append(data, byte(n))
		default:
			return nil, fmt.Errorf("base 45: %q at character %d stands for no byte", group, i+1)
		}
	}
	return data, nil
}
