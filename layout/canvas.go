package layout

import "math"

// Canvas draws a Figure. Coordinates are millimetres from the figure's upper
// left corner, x to the right and y down. A fill is a grey level from 0 (black)
// to 1 (white), or None.
type Canvas struct {
	W, H   float64
	Weight float64 // of the lines to come, mm; 0.3 at the start

	s      *sheet
	x0, y0 float64
}

func (b Figure) height(s *sheet, w float64) float64 {
	if b.Height > 0 {
		return b.Height
	}
	return 40
}

func (b Figure) draw(s *sheet, x, y, w float64) {
	if b.Draw != nil {
		b.Draw(&Canvas{W: w, H: b.height(s, w), Weight: 0.3, s: s, x0: x, y0: y})
	}
}

func (c *Canvas) weight() float64 { return max(c.Weight, thin) }

// Line draws a line.
func (c *Canvas) Line(x1, y1, x2, y2 float64) {
	c.s.line(c.x0+x1, c.y0+y1, c.x0+x2, c.y0+y2, c.weight(), 0)
}

// Dashed draws a dashed line.
func (c *Canvas) Dashed(x1, y1, x2, y2 float64) {
	c.s.dashed(c.x0+x1, c.y0+y1, c.x0+x2, c.y0+y2, c.weight(), 0)
}

// Rect draws an outlined rectangle.
func (c *Canvas) Rect(x, y, w, h, fill float64) {
	c.s.rect(c.x0+x, c.y0+y, w, h, c.weight(), 0, fill)
}

// Polygon draws a closed outline through the points x, y, x, y, ...
func (c *Canvas) Polygon(fill float64, xy ...float64) {
	pts := make([]float64, len(xy))
	for i, v := range xy {
		pts[i] = v + [2]float64{c.x0, c.y0}[i%2]
	}
	c.s.polygon(c.weight(), 0, fill, pts...)
}

// Circle draws a circle round x, y.
func (c *Canvas) Circle(x, y, r, fill float64) {
	c.s.circle(c.x0+x, c.y0+y, r, c.weight(), 0, fill)
}

// Arc draws part of a circle, in degrees counterclockwise from three o'clock.
func (c *Canvas) Arc(x, y, r, from, to float64) {
	c.s.stroke(c.weight(), 0)
	c.s.pdf.Arc(c.x0+x, c.y0+y, r, r, 0, from, to, "D")
}

// Arrow draws a line with an arrowhead at its second end.
func (c *Canvas) Arrow(x1, y1, x2, y2 float64) {
	l := math.Hypot(x2-x1, y2-y1)
	if l == 0 {
		return
	}
	// the line ends inside the head, so that the tip stays sharp
	back := min(1, l) / l
	c.Line(x1, y1, x2-(x2-x1)*back, y2-(y2-y1)*back)
	c.s.arrowhead(c.x0+x2, c.y0+y2, x2-x1, y2-y1, min(2, l), 0)
}

// Text sets one line, its baseline at y, and x its left end, middle or right
// end as align is "L", "C" or "R". It shrinks to stay inside the figure.
func (c *Canvas) Text(x, y, size float64, align string, bold bool, s string) {
	f := font{sans, max(size, floorSize)}
	if bold {
		f = f.bold()
	}
	room := c.W - x
	switch align {
	case "C":
		room = 2 * min(x, c.W-x)
	case "R":
		room = x
	}
	f, s = c.s.fit(f, s, room)
	c.s.text(c.x0+x-alignment(align)*c.s.width(f, s), c.y0+y, f, 0, s)
}

// TextWidth is how wide Text sets one line where it has room, mm.
func (c *Canvas) TextWidth(size float64, bold bool, s string) float64 {
	f := font{sans, max(size, floorSize)}
	if bold {
		f = f.bold()
	}
	return c.s.width(f, s)
}

// Dim draws a dimension: a line with an arrowhead at either end and the label
// beside its middle, above a level line and at the right of an upright one (at
// the left where there is no room).
func (c *Canvas) Dim(x1, y1, x2, y2 float64, label string) {
	mx, my := (x1+x2)/2, (y1+y2)/2
	c.Arrow(mx, my, x1, y1)
	c.Arrow(mx, my, x2, y2)
	f := font{sansBold, 8}
	if math.Abs(x2-x1) >= math.Abs(y2-y1) {
		c.Text(mx, my-1.2, f.size, "C", true, label)
		return
	}
	if w := c.s.width(f, label); mx+1.4+w > c.W && mx-1.4 >= w {
		c.Text(mx-1.4, my+0.35*f.mm(), f.size, "R", true, label)
		return
	}
	c.Text(mx+1.4, my+0.35*f.mm(), f.size, "L", true, label)
}

// Symbol draws a QR symbol at error correction M, its quiet zone within size.
func (c *Canvas) Symbol(text string, x, y, size float64) {
	c.s.symbol(text, "M", c.x0+x, c.y0+y, size)
}
