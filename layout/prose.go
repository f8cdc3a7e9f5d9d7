package layout

import "strconv"

var (
	read  = font{sans, 9.5} // what is read
	small = font{sans, 8}   // labels and notes
)

func (b Band) height(s *sheet, w float64) float64 {
	set := b.set(s, w)
	return max(14, set.height())
}

var (
	bandTitle = font{sansBold, 14}
	bandUnder = read.at(8.5)
)

// bandSet is a band's lines, wrapped.
type bandSet struct {
	title, purpose, under []line
	left, right           float64 // taken by the mark and by the figures
}

func (b bandSet) height() float64 {
	return float64(len(b.title))*bandTitle.lead() + float64(len(b.purpose))*read.lead() + float64(len(b.under))*bandUnder.lead()
}

// set wraps title and purpose beside the figures at the right.
func (b Band) set(s *sheet, w float64) bandSet {
	var out bandSet
	out.right = max(s.width(bandTitle, b.RightTop), s.width(read, b.RightBottom))
	if out.right > 0 {
		out.right = min(out.right, 0.4*w) + 4
	}
	if b.Mark != "" {
		out.left = 18
	}
	room := w - out.left - out.right
	out.title = s.wrap(bandTitle, b.Title, room)
	if b.Purpose != "" {
		out.purpose = s.wrap(read, b.Purpose, room)
	}
	if b.Under != "" {
		out.under = s.wrap(bandUnder, b.Under, w-out.left)
	}
	return out
}

func (b Band) draw(s *sheet, x, y, w float64) {
	set := b.set(s, w)
	if b.Mark != "" {
		s.rect(x, y, 14, 14, 0, 0, 0)
		f, mark := s.fit(font{sansBold, 24}, b.Mark, 12)
		s.text(x+7-s.width(f, mark)/2, y+7+0.35*f.mm(), f, 1, mark)
	}
	top := y + (b.height(s, w)-set.height())/2
	room := w - set.left - set.right
	at := s.lines(x+set.left, top, room, bandTitle, 0, "L", set.title)
	at = s.lines(x+set.left, at, room, read, 0, "L", set.purpose)
	s.lines(x+set.left, at, w-set.left, bandUnder, 0, "L", set.under)
	if set.right > 0 {
		top += (at - top - bandTitle.lead() - read.lead()) / 2
		s.fitted(x+w-set.right+4, bandTitle.base(top), set.right-4, bandTitle, 0, "R", b.RightTop)
		s.fitted(x+w-set.right+4, read.base(top+bandTitle.lead()), set.right-4, read, 0, "R", b.RightBottom)
	}
}

var headingFont = font{sansBold, 10}

func (b Heading) set(s *sheet, w float64) ([]line, float64) {
	right := s.width(small, b.Right)
	if right > 0 {
		right = min(right, w/2) + 3
	}
	return s.wrap(headingFont, b.Text, w-right), right
}

func (b Heading) height(s *sheet, w float64) float64 {
	ls, _ := b.set(s, w)
	return float64(len(ls))*headingFont.lead() + 0.6
}

func (b Heading) draw(s *sheet, x, y, w float64) {
	ls, right := b.set(s, w)
	at := s.lines(x, y, w-right, headingFont, 0, "L", ls)
	if right > 0 {
		s.fitted(x+w-right+3, headingFont.base(at-headingFont.lead()), right-3, small, note, "R", b.Right)
	}
	s.line(x, at+0.4, x+w, at+0.4, 0.25, 0)
}

func (b Para) font() font {
	f := read
	if b.Size > 0 {
		f.size = max(b.Size, floorSize)
	}
	if b.Bold {
		f = f.bold()
	}
	return f
}

func (b Para) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b Para) rows(s *sheet, w float64) []float64 {
	var out []float64
	for range b.set(s, w) {
		out = append(out, b.font().lead())
	}
	return out
}

func (b Para) set(s *sheet, w float64) []line {
	if b.cut != nil {
		return b.cut
	}
	return s.wrap(b.font(), b.Text, w)
}

func (b Para) part(s *sheet, w float64, from, to int) Block {
	b.cut = b.set(s, w)[from:to]
	return b
}

func (b Para) draw(s *sheet, x, y, w float64) {
	grey := 0.0
	if b.Grey {
		grey = note
	}
	s.lines(x, y, w, b.font(), grey, "L", b.set(s, w))
}

const stepIndent = 6.5

// sized is the face of running text at that size, 0 for the usual one.
func sized(size float64) font {
	if size == 0 {
		return read
	}
	return read.at(size)
}

func (b Steps) caution(it Step) Caution { return Caution{it.Caution, b.Size} }

// rows has one height for each step with its caution.
func (b Steps) rows(s *sheet, w float64) []float64 {
	var out []float64
	f := sized(b.Size)
	for i, it := range b.Items {
		h := float64(len(s.wrap(f, it.Text, w-stepIndent))) * f.lead()
		if it.Caution != "" {
			h += 0.8 + b.caution(it).height(s, w-stepIndent) + 0.8
		}
		if i > 0 {
			h += 0.7
		}
		out = append(out, h)
	}
	return out
}

func (b Steps) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b Steps) part(_ *sheet, _ float64, from, to int) Block {
	return Steps{b.Items[from:to], b.After + from, b.Size}
}

func (b Steps) draw(s *sheet, x, y, w float64) {
	f := sized(b.Size)
	for i, it := range b.Items {
		if i > 0 {
			y += 0.7
		}
		s.fitted(x, f.base(y), stepIndent-1.3, f, 0, "R", strconv.Itoa(b.After+i+1)+".")
		y = s.lines(x+stepIndent, y, w-stepIndent, f, 0, "L", s.wrap(f, it.Text, w-stepIndent))
		if it.Caution != "" {
			c := b.caution(it)
			c.draw(s, x+stepIndent, y+0.8, w-stepIndent)
			y += 0.8 + c.height(s, w-stepIndent) + 0.8
		}
	}
}

const cautionIndent = 10.5

func (b Caution) height(s *sheet, w float64) float64 {
	f := sized(b.Size)
	return max(8.2, float64(len(s.wrap(f, b.Text, w-cautionIndent-2)))*f.lead()+2.6)
}

func (b Caution) draw(s *sheet, x, y, w float64) {
	f, h := sized(b.Size), b.height(s, w)
	s.rect(x, y, w, h, 0.3, 0, None)
	mid, cx := y+h/2, x+5.2
	s.polygon(0, 0, 0, cx, mid-2.8, cx+3.1, mid+2.5, cx-3.1, mid+2.5)
	s.polygon(0, 0, 1, cx-0.36, mid-1.1, cx+0.36, mid-1.1, cx+0.2, mid+0.8, cx-0.2, mid+0.8)
	s.circle(cx, mid+1.6, 0.36, 0, 0, 1)
	ls := s.wrap(f, b.Text, w-cautionIndent-2)
	s.lines(x+cautionIndent, mid-float64(len(ls))*f.lead()/2, w-cautionIndent-2, f, 0, "L", ls)
}

func (b Bullets) rows(s *sheet, w float64) []float64 {
	var out []float64
	for i, it := range b.Items {
		h := float64(len(s.wrap(read, it, w-4))) * read.lead()
		if i > 0 {
			h += 0.4
		}
		out = append(out, h)
	}
	return out
}

func (b Bullets) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b Bullets) part(_ *sheet, _ float64, from, to int) Block { return Bullets{b.Items[from:to]} }

func (b Bullets) draw(s *sheet, x, y, w float64) {
	for i, it := range b.Items {
		if i > 0 {
			y += 0.4
		}
		s.circle(x+1.4, y+read.lead()/2, 0.55, 0, 0, 0)
		y = s.lines(x+4, y, w-4, read, 0, "L", s.wrap(read, it, w-4))
	}
}

var findingLine = font{sans, 8.5}

// rows has one height for each finding.
func (b Findings) rows(s *sheet, w float64) []float64 {
	var out []float64
	for i, it := range b.Items {
		h := float64(len(s.wrap(read.bold(), it.Text, w-stepIndent))) * read.lead()
		for _, l := range it.Lines {
			h += float64(len(s.wrap(findingLine, l, w-stepIndent))) * findingLine.lead()
		}
		if i > 0 {
			h += 1.8
		}
		out = append(out, h)
	}
	return out
}

func (b Findings) height(s *sheet, w float64) float64 { return sum(b.rows(s, w)) }

func (b Findings) part(_ *sheet, _ float64, from, to int) Block {
	return Findings{Items: b.Items[from:to], before: b.before + from}
}

func (b Findings) draw(s *sheet, x, y, w float64) {
	for i, it := range b.Items {
		if i > 0 {
			y += 1.8
		}
		s.fitted(x, read.base(y), stepIndent-1.3, read.bold(), 0, "R", strconv.Itoa(b.before+i+1)+".")
		y = s.lines(x+stepIndent, y, w-stepIndent, read.bold(), 0, "L", s.wrap(read.bold(), it.Text, w-stepIndent))
		for _, l := range it.Lines {
			y = s.lines(x+stepIndent, y, w-stepIndent, findingLine, 0, "L", s.wrap(findingLine, l, w-stepIndent))
		}
	}
}

func (b Space) height(*sheet, float64) float64         { return b.H }
func (b Space) draw(*sheet, float64, float64, float64) {}

// verdict faces.
var (
	verdictBig   = font{sansBold, 16}
	verdictSmall = font{sans, 10}
)

const verdictPad = 4.5

// set gives the left part as much as its large line needs, up to six tenths.
func (b Verdict) set(s *sheet, w float64) (left float64, big, little, note []line) {
	inner := w - 2*verdictPad
	left = inner
	if b.Note != "" {
		left = min(max(s.width(verdictBig, b.Big), s.width(verdictSmall, b.Small), 0.3*inner)+1, 0.55*inner)
		note = s.wrap(small.at(8.5), b.Note, inner-left-6)
	}
	big = s.wrap(verdictBig, b.Big, left)
	if b.Small != "" {
		little = s.wrap(verdictSmall, b.Small, left)
	}
	return left, big, little, note
}

func (b Verdict) heights(s *sheet, w float64) (left, right float64) {
	_, big, little, note := b.set(s, w)
	return float64(len(big))*verdictBig.lead() + float64(len(little))*verdictSmall.lead(),
		float64(len(note)) * small.at(8.5).lead()
}

func (b Verdict) height(s *sheet, w float64) float64 {
	l, r := b.heights(s, w)
	return max(l, r, 10) + 6.5
}

func (b Verdict) draw(s *sheet, x, y, w float64) {
	left, big, little, note := b.set(s, w)
	lh, rh := b.heights(s, w)
	h := b.height(s, w)
	s.rect(x+0.25, y+0.25, w-0.5, h-0.5, 0.5, 0, None)
	at := s.lines(x+verdictPad, y+(h-lh)/2, left, verdictBig, 0, "L", big)
	s.lines(x+verdictPad, at, left, verdictSmall, 0, "L", little)
	s.lines(x+verdictPad+left+6, y+(h-rh)/2, w-2*verdictPad-left-6, small.at(8.5), 0, "L", note)
}

func sum(v []float64) float64 {
	var t float64
	for _, x := range v {
		t += x
	}
	return t
}
