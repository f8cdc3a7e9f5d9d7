package layout

// Canvas draws a Figure. Coordinates are millimetres from the figure's upper
// left corner, x to the right and y down. A fill is a grey level from 0 (black)
// to 1 (white), or None.
type Canvas struct {
	W, H   float64
	Weight float64 // of the lines to come, mm; 0.3 at the start
}

// Line draws a line.
func (c *Canvas) Line(x1, y1, x2, y2 float64) {}

// Dashed draws a dashed line.
func (c *Canvas) Dashed(x1, y1, x2, y2 float64) {}

// Rect draws an outlined rectangle.
func (c *Canvas) Rect(x, y, w, h, fill float64) {}

// Polygon draws a closed outline through the points x, y, x, y, ...
func (c *Canvas) Polygon(fill float64, xy ...float64) {}

// Circle draws a circle round x, y.
func (c *Canvas) Circle(x, y, r, fill float64) {}

// Arc draws part of a circle, in degrees counterclockwise from three o'clock.
func (c *Canvas) Arc(x, y, r, from, to float64) {}

// Arrow draws a line with an arrowhead at its second end.
func (c *Canvas) Arrow(x1, y1, x2, y2 float64) {}

// Text sets one line, its baseline at y, and x its left end, middle or right
// end as align is "L", "C" or "R". It shrinks to stay inside the figure.
func (c *Canvas) Text(x, y, size float64, align string, bold bool, s string) {}

// Dim draws a dimension: a line with an arrowhead at either end and the label
// beside its middle.
func (c *Canvas) Dim(x1, y1, x2, y2 float64, label string) {}

// Symbol draws a QR symbol, its quiet zone within size.
func (c *Canvas) Symbol(text string, x, y, size float64) {}
