package packet

import (
	"fmt"
	"strings"
)

// Place is where a box is on paper: page, and its rectangle in mm from the
// page's upper left corner.
type Place struct {
	Box        *Box
	Page       int
	X, Y, W, H float64
}

// Places are those of all boxes, in the order of the form, as the packet is
// drawn.
func (j *Job) Places() ([]Place, error) {
	d := j.document()
	if _, err := d.Bytes(); err != nil {
		return nil, err
	}
	byCode := map[string]Place{}
	for _, p := range d.Places() {
		code, _, _ := strings.Cut(p.Code, " ") // a table prints the outlet's letter with it
		if _, again := byCode[code]; !again {
			byCode[code] = Place{Page: p.Page, X: p.X, Y: p.Y, W: p.W, H: p.H}
		}
	}
	var out []Place
	for _, b := range j.Boxes() {
		p, drawn := byCode[b.Code]
		if !drawn {
			return nil, fmt.Errorf("box %s is on no page of the packet", b.Code)
		}
		p.Box = b
		out = append(out, p)
	}
	return out, nil
}
