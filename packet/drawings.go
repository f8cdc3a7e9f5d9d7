package packet

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"shimcard/layout"
	"shimcard/packet/words"
	"shimcard/specs"
)

// Drawing names a line drawing of a measuring position or an orientation.
type Drawing string

// The drawings. They are schematic: what touches what, from where to where it
// is measured and where the shim lies are right, sizes are not.
const (
	DrawTimingPack      Drawing = "timing pack"
	DrawColdStart       Drawing = "cold-start travel"
	DrawSpringPreset    Drawing = "spring preset"
	DrawPlungerDepth    Drawing = "plunger depth"
	DrawPreStroke       Drawing = "pre-stroke"
	DrawShaftProjection Drawing = "shaft projection"
	DrawEndFloat        Drawing = "end float"
	DrawStartingGap     Drawing = "starting gap"
	DrawRing            Drawing = "supply pump ring"
	DrawOutlets         Drawing = "outlets"
	DrawLever           Drawing = "control lever"
	DrawAbove           Drawing = "pump from above"
)

// sketches says how high each is, mm, and how it is drawn.
var sketches = map[Drawing]struct {
	height float64
	draw   func(s sketch, spec *specs.Spec, code string)
}{
	DrawTimingPack:      {47, timingPack},
	DrawColdStart:       {44, coldStart},
	DrawSpringPreset:    {50, springPreset},
	DrawPlungerDepth:    {49, plungerDepth},
	DrawPreStroke:       {47, preStroke},
	DrawShaftProjection: {48, shaftProjection},
	DrawEndFloat:        {48, endFloat},
	DrawStartingGap:     {46, startingGap},
	DrawRing:            {49, ring},
	DrawOutlets:         {48, outlets},
	DrawLever:           {46, lever},
	DrawAbove:           {46, above},
}

// figure draws d for a pump of this spec; code is the box that the measured
// dimension is written in, "" when the drawing only shows an orientation.
func (d Drawing) figure(p words.Printer, spec *specs.Spec, code string) layout.Figure {
	f := sketches[d]
	return layout.Figure{Height: f.height, Draw: func(c *layout.Canvas) {
		f.draw(sketch{p, c, (c.W - sketchWidth) / 2, new([]label)}, spec, code)
	}}
}

// What a drawing is made of. Shims are black, so that the part to change is
// seen first; instruments are white.
const (
	sketchWidth = 80.0 // mm, centred in the column

	metal  = 0.9
	moving = 0.75
	white  = 1.0
	blade  = 0.45
	black  = 0.0

	outline  = 0.3
	coilWire = 0.25
	hair     = 0.18 // leaders, extension lines, scales

	lettering = 7.5 // points
	coded     = 9.0
)

// sketch is a canvas with its origin at the left of the drawing.
type sketch struct {
	words.Printer
	c     *layout.Canvas
	left  float64
	named *[]label // what is lettered so far
}

func (s sketch) line(x1, y1, x2, y2 float64) {
	s.c.Weight = outline
	s.c.Line(s.left+x1, y1, s.left+x2, y2)
}

func (s sketch) hairline(x1, y1, x2, y2 float64) {
	s.c.Weight = hair
	s.c.Line(s.left+x1, y1, s.left+x2, y2)
}

func (s sketch) dashed(x1, y1, x2, y2 float64) {
	s.c.Weight = hair
	s.c.Dashed(s.left+x1, y1, s.left+x2, y2)
}

// rect is given by two corners.
func (s sketch) rect(fill, x1, y1, x2, y2 float64) {
	s.c.Weight = outline
	s.c.Rect(s.left+x1, y1, x2-x1, y2-y1, fill)
}

func (s sketch) polygon(fill float64, xy ...float64) {
	for i := 0; i < len(xy); i += 2 {
		xy[i] += s.left
	}
	s.c.Weight = outline
	s.c.Polygon(fill, xy...)
}

func (s sketch) disc(fill, x, y, r float64) {
	s.c.Weight = outline
	s.c.Circle(s.left+x, y, r, fill)
}

func (s sketch) arrow(x1, y1, x2, y2 float64) {
	s.c.Weight = outline
	s.c.Arrow(s.left+x1, y1, s.left+x2, y2)
}

// text sets a sentence of the catalogue, its lines one below the other, the
// first on the baseline y.
func (s sketch) text(x, y float64, align, sentence string) {
	for i, l := range strings.Split(s.T(sentence), "\n") {
		s.typed(x, y+3.1*float64(i), align, false, l)
		if align == "L" {
			*s.named = append(*s.named, label{x + s.c.TextWidth(lettering, false, l), y + 3.1*float64(i)})
		}
	}
}

// label is the right end of a line of lettering, on its baseline.
type label struct{ right, base float64 }

// bold sets a sentence of the catalogue in one line.
func (s sketch) bold(x, y float64, align, sentence string, a ...any) {
	s.typed(x, y, align, true, s.T(sentence, a...))
}

// typed sets what somebody typed, such as an outlet's mark.
func (s sketch) typed(x, y float64, align string, bold bool, text string) {
	s.c.Text(s.left+x, y, lettering, align, bold, text)
}

// leader runs from a name to a dot on the part it names. Where the name is
// longer in the language it is said in, the leader begins behind it.
func (s sketch) leader(x1, y1, x2, y2 float64) {
	for _, n := range *s.named {
		if y1 > n.base-2.6 && y1 < n.base+0.8 && x1 < n.right+0.8 && x2 > n.right {
			x1 = n.right + 0.8
		}
	}
	s.hairline(x1, y1, x2, y2)
	s.c.Weight = hair
	s.c.Circle(s.left+x2, y2, 0.4, black)
}

// dim draws a dimension and letters it with its box, the baseline of the code
// at cx, cy.
func (s sketch) dim(x1, y1, x2, y2, cx, cy float64, align, code string) {
	s.c.Weight = hair
	s.c.Dim(s.left+x1, y1, s.left+x2, y2, "")
	s.code(cx, cy, align, code)
}

func (s sketch) code(x, y float64, align, code string) {
	if code != "" {
		s.c.Text(s.left+x, y, coded, align, true, code)
	}
}

// turn draws an arrow round x, y from one angle to another, in degrees
// counterclockwise from three o'clock; to below from runs clockwise.
func (s sketch) turn(x, y, r, from, to float64) {
	const head = 2.2
	back := head / r * 180 / math.Pi
	if to < from {
		back = -back
	}
	at := func(r, deg float64) (float64, float64) {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return x + r*cos, y - r*sin
	}
	s.c.Weight = outline + 0.1
	s.c.Arc(s.left+x, y, r, min(from, to-back), max(from, to-back))
	x1, y1 := at(r, to)
	x2, y2 := at(r-0.4*head, to-back)
	x3, y3 := at(r+0.4*head, to-back)
	s.polygon(black, x1, y1, x2, y2, x3, y3)
}

// coil draws a spring in section between two ends, upright or lying.
func (s sketch) coil(x1, y1, x2, y2 float64, turns int, upright bool) {
	s.c.Weight = coilWire
	n := 2 * turns
	for i := range n {
		a, b := float64(i)/float64(n), float64(i+1)/float64(n)
		u, v := 0.0, 1.0
		if i%2 == 1 {
			u, v = 1, 0
		}
		if upright {
			s.c.Line(s.left+x1+u*(x2-x1), y1+a*(y2-y1), s.left+x1+v*(x2-x1), y1+b*(y2-y1))
		} else {
			s.c.Line(s.left+x1+a*(x2-x1), y1+u*(y2-y1), s.left+x1+b*(x2-x1), y1+v*(y2-y1))
		}
	}
}

// dial draws the face of an indicator, its needle a little past zero.
func (s sketch) dial(x, y, r float64) {
	s.disc(white, x, y, r)
	for i := range 12 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 6)
		s.hairline(x+0.8*r*cos, y+0.8*r*sin, x+0.93*r*cos, y+0.93*r*sin)
	}
	s.line(x, y, x+0.42*r, y-0.56*r)
	s.disc(black, x, y, 0.35)
}

// headSection draws the head cut through its central bore, the machined face up
// and the hole of the central plug open. A port, if any, enters from the left
// with its upper edge at that height.
func (s sketch) headSection(left, right, face, foot, port float64) {
	mid := (left + right) / 2
	const hole, bore, deep, wide = 6, 3.5, 4, 3
	s.polygon(metal, right, face, mid+hole, face, mid+hole, face+deep, mid+bore, face+deep, mid+bore, foot, right, foot)
	if port == 0 {
		s.polygon(metal, left, face, mid-hole, face, mid-hole, face+deep, mid-bore, face+deep, mid-bore, foot, left, foot)
		return
	}
	s.polygon(metal, left, face, mid-hole, face, mid-hole, face+deep, mid-bore, face+deep, mid-bore, port, left, port)
	s.polygon(metal, left, port+wide, mid-bore, port+wide, mid-bore, foot, left, foot)
}

// plunger draws the plunger in the bore at mid, with its foot, the shim under
// the foot, and the cam plate.
func (s sketch) plunger(mid, top, foot float64) {
	s.polygon(moving, mid-3.5, top, mid+3.5, top, mid+3.5, foot, mid+7, foot, mid+7, foot+2.5, mid-7, foot+2.5, mid-7, foot, mid-3.5, foot)
	s.rect(black, mid-6, foot+2.5, mid+6, foot+3.7)
	s.rect(moving, mid-11, foot+3.7, mid+11, foot+7.4)
	s.text(mid, foot+6.5, "C", "cam plate")
}

// indicator draws a dial indicator standing on the machined face, its spindle
// down to tip.
func (s sketch) indicator(mid, face, tip float64) {
	s.rect(white, mid-11, face-3, mid+11, face)
	s.rect(white, mid-1.4, face-7, mid+1.4, face-3)
	s.dial(mid, face-11, 4.8)
	s.rect(white, mid-0.6, face, mid+0.6, tip)
}

func plungerDepth(s sketch, _ *specs.Spec, code string) {
	const mid, face, end = 38, 17, 26
	s.headSection(20, 56, face, 36, 0)
	s.plunger(mid, end, 40)
	s.indicator(mid, face, end)

	s.hairline(56.5, face, 66, face)
	s.dashed(mid+4, end, 66, end)
	s.dim(64, face, 64, end, 65.5, 22.7, "L", code)

	s.text(52, 6.8, "L", "dial indicator")
	s.leader(51.5, 6, 41.5, 6)
	s.text(1, 13, "L", "machined face")
	s.leader(15, 13.8, 22, face)
	s.text(27, 31, "C", "head")
	s.text(57, 41, "L", "plunger at its\nlowest point")
	s.leader(56.5, 40.2, 40, 38.5)
	s.text(1, 43.8, "L", "foot shim")
	s.leader(14.5, 43.1, 31.6, 43.1)
}

func preStroke(s sketch, _ *specs.Spec, code string) {
	const mid, face, closed, lowest = 38, 17, 23.5, 30
	s.headSection(20, 56, face, 34, closed)
	s.plunger(mid, closed, 37)
	s.indicator(mid, face, closed)

	s.hairline(mid+4, closed, 66, closed)
	s.dashed(mid-3.5, lowest, 66, lowest)
	s.dim(64, lowest, 64, closed, 65.5, 28, "L", code)

	s.text(52, 6.8, "L", "dial indicator")
	s.leader(51.5, 6, 41.5, 6)
	s.text(1, 13, "L", "machined face")
	s.leader(15, 13.8, 22, face)
	s.text(1, 25.9, "L", "oil in")
	s.arrow(10, 25, 32.5, 25)
	s.text(1, 31, "L", "port, just\nclosed")
	s.leader(14.5, 30.2, 33.7, 26)
	s.text(57.5, 33.2, "L", "lowest point")
	s.text(57, 38.6, "L", "plunger")
	s.leader(56.5, 37.7, 40, 35.5)
	s.text(1, 40.8, "L", "spacer")
	s.leader(11.5, 40.1, 31.6, 40.1)
}

func springPreset(s sketch, _ *specs.Spec, code string) {
	const mid, face, end = 38, 13, 20
	s.headSection(14, 62, face, 24, 0)
	s.rect(moving, 14, 40.5, 62, 43)
	for _, x := range []float64{22, 54} {
		s.rect(black, x-4.5, 24.3, x+4.5, 24.9)
		s.rect(black, x-4.5, 25.4, x+4.5, 26)
		s.rect(metal, x-5, 26.3, x+5, 27.7)
		s.coil(x-4.5, 27.7, x+4.5, 40.5, 5, true)
		s.rect(metal, x-1.3, 20, x+1.3, 44.2)
	}
	s.polygon(moving, mid-3.5, end, mid+3.5, end, mid+3.5, 43, mid+7, 43, mid+7, 45.5, mid-7, 45.5, mid-7, 43, mid-3.5, 43)
	s.rect(white, mid-12, face-3, mid+12, face)
	s.rect(white, mid-1.4, face-7, mid+1.4, face-3)
	s.rect(white, mid-2.6, 0.8, mid+2.6, face-7)
	for x := mid - 1.95; x < mid+2.6; x += 0.65 {
		s.hairline(x, 0.8, x, 3.4)
	}
	s.rect(white, mid-0.6, face, mid+0.6, end)

	s.hairline(62.5, face, 71, face)
	s.dashed(mid+4, end, 71, end)
	s.dim(69, face, 69, end, 70.5, 17.7, "L", code)

	s.text(52, 5.5, "L", "depth micrometer")
	s.leader(51.5, 4.7, 39.6, 4.7)
	s.text(1, 9.3, "L", "machined face")
	s.leader(13, 10, 16.5, face)
	s.text(1, 26, "L", "shims")
	s.leader(9.5, 25.1, 18, 25.1)
	s.text(65, 27.8, "L", "spring seat")
	s.leader(64.5, 27, 57, 27)
	s.text(1, 34.8, "L", "guide pin")
	s.leader(13.5, 34, 22, 34)
	s.text(65, 34.8, "L", "springs not\ncompressed")
	s.leader(64.5, 34, 57.6, 34.3)
	s.text(65, 46.6, "L", "plunger")
	s.leader(64.5, 45.8, 44, 44.6)
	s.bold(mid, 49.2, "C", "same stack both sides")
}

func timingPack(s sketch, _ *specs.Spec, code string) {
	s.rect(metal, 8, 8, 58, 13)
	s.rect(metal, 8, 27, 58, 32)
	s.polygon(moving, 15, 13, 40, 13, 40, 16, 25, 16, 25, 24, 40, 24, 40, 27, 15, 27)
	s.rect(metal, 18.3, 2.5, 21.7, 17.5)
	s.rect(black, 25, 16.4, 26, 23.6)
	s.coil(26, 17, 62.8, 23, 8, false)
	s.polygon(metal, 58, 6, 62, 6, 62, 12, 69, 12, 69, 28, 62, 28, 62, 34, 58, 34, 58, 25, 66, 25, 66, 15, 58, 15)
	for x := 62.8; x < 65.5; x += 1.1 {
		s.rect(black, x, 15.6, x+0.7, 24.4)
	}

	s.hairline(25.5, 23.6, 25.5, 38.5)
	s.hairline(64.4, 24.4, 64.4, 38.5)
	s.hairline(25.5, 38.5, 64.4, 38.5)
	s.code(28, 37.3, "L", code)
	s.text(36.5, 37.3, "L", "= both added")
	s.text(25.5, 42.3, "C", "one prescribed shim\nin the piston")
	s.text(64.4, 42.3, "C", "all the rest\nin the cap")

	s.text(24, 5, "L", "pin to roller ring")
	s.leader(23.5, 4.2, 20, 4.2)
	s.text(50, 5, "L", "spring")
	s.leader(52, 5.7, 47.2, 18.2)
	s.text(72, 20.9, "L", "cap")
	s.leader(71.5, 20, 67.5, 20)
	s.text(20, 23, "C", "piston")
	s.text(42, 30.6, "C", "housing")
	s.text(1, 17.5, "L", "pressure")
	s.arrow(3, 20, 14.5, 20)
}

func coldStart(s sketch, _ *specs.Spec, code string) {
	const px, py, arm, rest, out = 25, 26, 20, 52, 58
	s.rect(metal, 13, 17, 40, 35)
	s.rect(moving, 34, py-2, rest, py+2)
	s.dashed(rest, py-2, out, py-2)
	s.dashed(rest, py+2, out, py+2)
	s.dashed(out, py-2, out, py+2)
	s.rect(white, rest, py-0.6, 63, py+0.6)
	s.rect(white, 63, py-1.4, 68, py+1.4)
	s.dial(73, py, 5)

	for _, deg := range []float64{118, 62} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		side := func(r, w float64) (float64, float64) { return px + r*cos - w*sin, py - r*sin - w*cos }
		x1, y1 := side(0, 2)
		x2, y2 := side(arm, 1.2)
		x3, y3 := side(arm, -1.2)
		x4, y4 := side(0, -2)
		stop := 2.4
		if deg < 90 {
			stop = -2.4
			s.dashed(x1, y1, x2, y2)
			s.dashed(x2, y2, x3, y3)
			s.dashed(x3, y3, x4, y4)
		} else {
			s.polygon(moving, x1, y1, x2, y2, x3, y3, x4, y4)
		}
		x, y := side(arm-4.5, stop)
		s.disc(black, x, y, 0.9)
	}
	s.disc(moving, px, py, 3)
	s.disc(white, px, py, 1)
	s.turn(px, py, arm-3, 106, 74)

	s.hairline(rest, py+2.5, rest, 37)
	s.hairline(out, py+2.5, out, 37)
	s.dim(rest, 35.5, out, 35.5, (rest+out)/2, 40.5, "C", code)

	s.text(1, 4.5, "L", "lever\nat rest")
	s.leader(10.5, 6.5, 15.8, 8.5)
	s.text(39, 6, "L", "other stop")
	s.leader(38.5, 5.3, 34.2, 11.1)
	s.text(26.5, 33.5, "C", "device")
	s.text(42, 22, "L", "plunger")
	s.text(73, 34.8, "C", "gauge")
}

// shaftProjection follows the spec: where turning the shaft out makes the
// dimension larger the end stands out of the face, else it lies within; and
// the thread leans as it is cut.
func shaftProjection(s sketch, spec *specs.Spec, code string) {
	const mid, face = 44, 24
	end, floor, lean := 18.0, 29.5, 0.8
	if d := spec.Dimension(specs.ShaftProjection); d != nil && d.Thread != nil {
		if !d.Thread.OutGrows {
			end, floor = 29, 36
		}
		if d.Thread.LeftHanded {
			lean = -lean
		}
	}
	s.polygon(metal, 22, face, mid-11, face, mid-11, floor, mid-3.5, floor, mid-3.5, 41, 22, 41)
	s.polygon(metal, 66, face, mid+11, face, mid+11, floor, mid+3.5, floor, mid+3.5, 41, 66, 41)
	s.rect(metal, mid-9, floor-4, mid+9, floor)
	s.line(mid-5.5, floor-4, mid-5.5, floor)
	s.line(mid+5.5, floor-4, mid+5.5, floor)
	s.rect(moving, mid-3.5, end, mid+3.5, 47)
	for y := floor - 4; y < 40; y += 1.2 {
		s.hairline(mid-3.5, y+0.4+lean/2, mid+3.5, y+0.4-lean/2)
	}
	if end < face {
		s.polygon(white, 27, face, 27, 11, 61, 11, 61, face, 57, face, 57, 14, 31, 14, 31, face)
		s.rect(white, mid-0.6, 14, mid+0.6, end)
		s.dial(mid, 6, 4.8)
		s.text(53, 5, "L", "gauge with bridge,\nzeroed on a flat")
	} else {
		s.rect(white, 27, face-3, 61, face)
		s.rect(white, mid-1.4, 12, mid+1.4, face-3)
		s.rect(white, mid-0.6, face, mid+0.6, end)
		s.dial(mid, 8, 4.8)
		s.text(53, 8, "L", "depth gauge")
	}

	s.hairline(66.5, face, 73, face)
	s.dashed(mid+4, end, 73, end)
	s.dim(71, face, 71, end, 72.5, (face+end)/2+1.1, "L", code)

	s.text(1, 18, "L", "machined\nface")
	s.leader(10, 20.6, 23.5, face)
	s.text(1, floor-1.2, "L", "lock nut")
	s.leader(13, floor-2, mid-7.5, floor-2)
	s.text(57, 39.7, "C", "housing")
	s.text(1, 45.8, "L", "governor shaft")
	s.leader(22, 45, mid-2, 45)
}

func endFloat(s sketch, _ *specs.Spec, code string) {
	const axis, right, pin = 29, 48, 52
	s.rect(metal, 4, 9, 10, 40)
	s.rect(metal, 66, 8, 72, 40)
	s.rect(metal, 10, axis-2.5, 66, axis+2.5)
	s.rect(black, 10, axis-6, 11.1, axis+6)
	s.rect(metal, 11.1, axis-7.5, 14, axis+7.5)
	s.polygon(moving, 14, axis-9, 18, axis-9, 18, axis-15, right, axis-15, right, axis-11, 23, axis-11, 23, axis+11,
		right, axis+11, right, axis+15, 18, axis+15, 18, axis+9, 14, axis+9)
	for _, y := range []float64{axis - 9.7, axis + 4.2} {
		s.rect(moving, 25, y, 42, y+5.5)
	}
	s.rect(metal, pin, axis-15, 66, axis-11)
	s.rect(blade, right, 1.2, pin, axis-9)

	s.hairline(right, axis-10.5, right, 25)
	s.hairline(pin, axis-10.5, pin, 25)
	s.arrow(43, 23.6, right, 23.6)
	s.arrow(57, 23.6, pin, 23.6)
	s.code(57.8, 24.8, "L", code)

	s.text(54, 3.3, "L", "feeler blade")
	s.leader(53.5, 2.5, 50, 2.5)
	s.text(54, 7.2, "L", "stop pin")
	s.leader(58, 8.2, 58, 15.5)
	s.text(46.5, 11.4, "R", "flyweight carrier")
	s.text(33.5, axis-6, "C", "flyweight")
	s.text(1, 5.5, "L", "thrust washer")
	s.leader(11.5, 6.3, 12.5, axis-6.5)
	s.text(2, 46, "L", "shim")
	s.leader(8, 43.8, 10.6, axis+5)
	s.text(64.5, 36, "R", "governor\nshaft")
}

func startingGap(s sketch, _ *specs.Spec, code string) {
	const axis, plug, lever = 24, 42, 47
	s.rect(metal, 5, axis-12, 14, axis+12)
	s.rect(moving, 14, axis-6, 36, axis+6)
	s.polygon(metal, 36, axis-4, plug-1, axis-4, plug, axis-3, plug, axis+3, plug-1, axis+4, 36, axis+4)
	s.rect(moving, lever, 3, lever+3, 41)
	s.disc(moving, lever+1.5, 39, 2.6)
	s.disc(white, lever+1.5, 39, 0.9)
	s.rect(white, lever+3, 10, 63, 19)
	s.rect(metal, 63, 6, 73, 36)
	s.rect(blade, plug, 9, lever, axis+2)

	s.hairline(plug, axis+3.5, plug, 33.5)
	s.dim(plug, 32, lever, 32, lever-0.7, 36.8, "R", code)

	s.text(34.5, 6.2, "R", "press")
	s.arrow(35.5, 5.3, lever, 5.3)
	s.text(36, 13.3, "R", "feeler blade")
	s.leader(36.5, 12.5, 43.5, 12.5)
	s.text(25, axis+0.9, "C", "sleeve")
	s.arrow(31, 33, 16, 33)
	s.text(16, 36.7, "L", "fully home")
	s.text(1, 39.6, "L", "flyweight\ncarrier")
	s.leader(8, 37.2, 9, 33)
	s.text(22, 43.5, "L", "end plug")
	s.leader(33, 41.2, 39, axis+3)
	s.text((lever+66)/2, 13.8, "C", "spacer\nblock")
	s.text(68, 22, "C", "stop")
	s.text(55, 42.5, "L", "starting lever")
	s.leader(54.5, 41.2, lever+2, 33.5)
}

// ring draws the supply pump's eccentric ring as it lies in the housing. The
// picture of one rotation is the mirror image of the other. The arrow stands
// apart, because who looks into the housing looks against the drive end.
func ring(s sketch, spec *specs.Spec, _ string) {
	const cx, cy, bore, off, pitch, hole, rotor = 27, 27, 10, 2.1, 14.1, 1.3, 7.8
	left := spec.Pump.Rotation == specs.Left
	mx := func(x float64) float64 {
		if left {
			return sketchWidth - x
		}
		return x
	}
	align := map[bool]string{false: "L", true: "R"}[left]

	s.disc(white, mx(cx), cy, 19.5)
	s.disc(metal, mx(cx), cy, 16.8)
	s.disc(white, mx(cx-off), cy, bore)
	s.disc(moving, mx(cx), cy, rotor)
	for i := range 4 {
		sin, cos := math.Sincos((45 + 90*float64(i)) * math.Pi / 180)
		// where a ray from the rotor's middle meets the ring's inner wall
		out := math.Sqrt(bore*bore-off*off*sin*sin) - off*cos
		s.c.Weight = 0.8
		s.c.Line(s.left+mx(cx+4.2*cos), cy-4.2*sin, s.left+mx(cx+out*cos), cy-out*sin)
	}
	s.disc(white, mx(cx), cy, 3)
	for _, h := range [][2]float64{{cx - pitch, cy}, {cx + pitch, cy}, {cx, cy - pitch}} {
		s.disc(white, mx(h[0]), h[1], hole)
	}
	s.arrow(mx(cx), cy-pitch-hole, mx(cx), 4.6)
	s.text(mx(cx), 3.4, "C", "governor side")

	s.c.Weight = hair
	s.c.Dim(s.left+mx(cx-off+bore), cy, s.left+mx(cx+pitch-hole), cy, "")
	s.text(mx(50), 16, align, "this hole lies farther\nfrom its inner wall")
	s.leader(mx(49), 17, mx(cx+pitch), cy-0.5)
	s.text(mx(50), 5.5, align, "looking into\nthe housing")
	s.text(mx(cx), cy+14.8, "C", "ring")

	// As it is seen from where the ring is seen, which is not the drive end.
	turning := "from here it turns\nanticlockwise"
	if left {
		turning = "from here it turns\nclockwise"
		s.turn(mx(cx), cy, 21.6, 250, 200)
	} else {
		s.turn(cx, cy, 21.6, -70, -20)
	}
	s.bold(mx(50), 37.5, align, rotationWords(spec))
	s.text(mx(50), 41.2, align, turning)
}

// shaftEnd draws the drive shaft's end and the way it turns.
func (s sketch) shaftEnd(x, y float64, left bool) {
	s.disc(moving, x, y, 4)
	s.rect(white, x-0.8, y-4.2, x+0.8, y-2.3)
	if left {
		s.turn(x, y, 6.6, 20, 160)
	} else {
		s.turn(x, y, 6.6, 160, 20)
	}
}

// rotationWords is a sentence of the catalogue.
func rotationWords(spec *specs.Spec) string {
	if spec.Pump.Rotation == specs.Left {
		return "LEFT-HAND"
	}
	return "RIGHT-HAND"
}

// outlets draws the delivery outlets in the order of injection, round in the
// direction of rotation: from the drive end, and from the head end, where they
// are fitted. Marks too long for their outlet are listed beside the first view.
func outlets(s sketch, spec *specs.Spec, _ string) {
	marks := spec.Pump.Marks
	left := spec.Pump.Rotation == specs.Left
	if slices.ContainsFunc(marks, func(m string) bool { return utf8.RuneCountInString(m) > 3 }) {
		places := make([]string, len(marks))
		for i, mark := range marks {
			places[i] = strconv.Itoa(i + 1)
			s.typed(52, 16.6+2.75*float64(i), "L", true, places[i])
			s.typed(57, 16.6+2.75*float64(i), "L", false, mark)
		}
		s.circleOf(26, 24, 22, places, left)
		s.shaftEnd(26, 25, left)
		s.bold(52, 4, "L", rotationWords(spec))
		s.text(52, 7.1, "L", "from the drive end;\nin order of injection:")
		return
	}
	const fromDrive, fromHead, y, r = 18, 61, 23, 15.5
	s.circleOf(fromDrive, y, r, marks, left)
	s.shaftEnd(fromDrive, y+1, left)
	s.bold(fromDrive, 42.5, "C", rotationWords(spec))
	s.text(fromDrive, 45.7, "C", "from the drive end")

	// The same pump turned round: what was at the right is at the left.
	s.circleOf(fromHead, y, r, marks, !left)
	s.disc(white, fromHead, y, 4)
	if left {
		s.turn(fromHead, y, 6.6, 160, 20)
	} else {
		s.turn(fromHead, y, 6.6, 20, 160)
	}
	s.bold(fromHead, 42.5, "C", "FROM THE HEAD END")
	s.text(fromHead, 45.7, "C", "as you see it to fit them")
	s.text(39.5, 3, "C", "order of injection follows the arrow")
}

// circleOf draws the outlets round cx, cy, the first on top, clockwise or, where
// left is set, the other way round.
func (s sketch) circleOf(cx, cy, r float64, marks []string, left bool) {
	hole := 0.164 * r
	if len(marks) > 9 {
		hole = 0.145 * r
	}
	s.disc(metal, cx, cy, r)
	for i, mark := range marks {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(marks)))
		if left {
			sin = -sin
		}
		x, y := cx+0.76*r*sin, cy-0.76*r*cos
		s.disc(white, x, y, hole)
		s.typed(x, y+0.95, "C", true, mark)
	}
}

// fromAbove draws the pump seen from above, its axis level at that height.
func (s sketch) fromAbove(axis float64) {
	s.rect(moving, 3, axis-3, 12, axis+3)
	s.rect(metal, 12, axis-15, 16, axis+15)
	s.rect(metal, 16, axis-11, 52, axis+11)
	s.rect(metal, 52, axis-9, 62, axis+9)
	for _, y := range []float64{axis - 7, axis + 4.4} {
		s.rect(metal, 62, y, 65.5, y+2.6)
	}
	s.text(57, axis+6.5, "C", "head")
	s.text(1, 9, "L", "drive end")
	s.leader(6.5, 9.8, 6.5, axis-2)
	s.text(78, 45, "R", "seen from above")
}

// above is the pump from above, to mark on.
func above(s sketch, _ *specs.Spec, _ string) {
	s.fromAbove(27)
	s.rect(white, 20, 19, 46, 35)
	s.text(33, 28, "C", "cover")
}

func lever(s sketch, _ *specs.Spec, _ string) {
	const axis, px = 27, 36
	s.fromAbove(axis)
	s.dashed(1, axis, 78, axis)
	s.polygon(moving, px-2.4, axis, px-1.4, 4.5, px+1.4, 4.5, px+2.4, axis)
	s.disc(white, px, 6.6, 0.8)
	s.disc(moving, px, axis, 3.4)
	s.disc(white, px, axis, 1.1)
	s.c.Weight = hair
	s.c.Arc(s.left+px, axis, 9, 0, 83)
	s.typed(px+8.2, axis-6.6, "L", true, "90°")

	s.text(41, 7.4, "L", "control lever")
	s.leader(40.5, 6.6, px+0.6, 9.5)
	s.text(78, axis-1.2, "R", "pump axis")
}
