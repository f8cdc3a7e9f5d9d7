package layout

// Place is where one thing is to be written: the rectangle round its cells, in
// mm from the upper left corner of a page.
type Place struct {
	Code       string
	Page       int
	X, Y, W, H float64
}

// Places lists the places to write that have a code, as Bytes drew them. A code
// drawn again elsewhere is listed again. It is empty before Bytes.
func (d *Doc) Places() []Place {
	if d.last == nil {
		return nil
	}
	var out []Place
	before := "" // whose cells go on
	for _, b := range d.last.boxes {
		if k := len(out) - 1; b.code != "" && b.code == before && out[k].Page == b.page {
			p := &out[k]
			right, foot := max(p.X+p.W, b.x+b.w), max(p.Y+p.H, b.y+b.h)
			p.X, p.Y = min(p.X, b.x), min(p.Y, b.y)
			p.W, p.H = right-p.X, foot-p.Y
		} else if b.code != "" {
			out = append(out, Place{b.code, b.page, b.x, b.y, b.w, b.h})
		}
		before = b.code
	}
	return out
}
