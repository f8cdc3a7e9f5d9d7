package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/gdamore/tcell/v2"

	"shimcard/packet"
)

// draw shows everything anew; tcell sends the terminal what has changed.
func (s *screen) draw() {
	s.term.Clear()
	w, h := s.term.Size()
	if w < leastCols || h < leastLines {
		s.print(0, 0, plain, s.T("This window has %d × %d characters; the sheets need %d × %d. ^X ends.", w, h, leastCols, leastLines))
		s.term.HideCursor()
		s.term.Show()
		return
	}
	room := h - head - foot
	if of := [3]int{s.places[s.at].Page, w, h}; s.of != of {
		s.grid, s.of, s.top = newGrid(s.typing.Job, s.places, s.pages[of[0]], w, room), of, 0
	}
	// The box in hand stays in view, with a line more on either side.
	here := s.here()
	s.top = min(s.top, max(0, here.line-1))
	s.top = max(s.top, min(here.line+3, s.grid.lines)-room)

	b := s.box()
	s.bar(0, " "+s.typing.Number+"  "+s.typing.Intake.Pump.Name+"  "+s.typing.Intake.Pump.Serial+"   "+s.sheet(b),
		s.T("page %d of %d", s.places[s.at].Page, s.last)+s.more(room)+" ")
	for line, name := range s.grid.names {
		if y := line - s.top; y >= 0 && y < room {
			s.print(0, head+y, plain, name)
		}
	}
	for _, c := range s.grid.cells {
		if y := c.line - s.top; y >= 0 && y < room {
			s.cell(c, head+y)
		}
	}
	y := h - foot
	done := 0
	for _, p := range s.places {
		if s.typing.Raw(p.Box) != "" {
			done++
		}
	}
	s.bar(y, " "+b.Code+"  "+s.about(b), s.T("%d of %d typed", done, len(s.places))+"  "+s.typing.Who+" ")
	s.inHand(y+1, w)
	s.help(y+4, w)
	s.term.Show()
}

func (s *screen) print(x, y int, style tcell.Style, text string) {
	s.term.PutStrStyled(x, y, text, style)
}

// bar is a line across the screen, turned.
func (s *screen) bar(y int, left, right string) {
	w, _ := s.term.Size()
	left = cut(left, w-runes(right)-1)
	s.print(0, y, turned, left+strings.Repeat(" ", w-runes(left)-runes(right))+right)
}

// sheet is the stage of a box.
func (s *screen) sheet(b *packet.Box) string {
	for _, st := range s.typing.Stages {
		if slices.Contains(st.Boxes(), b) {
			return st.Letter + "  " + st.Title
		}
	}
	return ""
}

// more says that the page goes on above or below.
func (s *screen) more(room int) string {
	out := ""
	if s.top > 0 {
		out += " ↑"
	}
	if s.top+room < s.grid.lines {
		out += " ↓"
	}
	return out
}

// about says what belongs in a box.
func (s *screen) about(b *packet.Box) string {
	out := b.Label
	if b.Kind == packet.Number {
		if u := b.Unit.Symbol; u != "" {
			out += ", " + s.Unit(u)
		}
		if w := b.Window(); w != "" && b.From == nil {
			out += ", " + w
		}
	}
	if b.Required {
		out += " " + s.T("(required)")
	}
	return out
}

// cell shows a box of the page.
func (s *screen) cell(c cell, y int) {
	b := s.places[c.at].Box
	current := c.at == s.at
	style := plain
	lead, value, mark := s.short(b, c.field)
	switch {
	case !current:
	case len(s.doubts) > 0:
		lead = " "
		value = tail(s.held, c.field)
	case s.asked == "" && len(s.line) > 0:
		lead = " "
		value = tail(string(s.line), c.field)
	}
	field := value
	if b.Kind == packet.Number {
		field = strings.Repeat(" ", max(0, c.field-runes(value))) + value
		if lead != " " && runes(value) < c.field { // close before the figure
			field = strings.Repeat(" ", c.field-runes(value)-1) + lead + value
			lead = " "
		}
	} else {
		field += strings.Repeat(" ", max(0, c.field-runes(value)))
	}
	if current {
		style, field = turned, "["+field+"]"
	} else if value == "" {
		blank := "."
		if b.Required {
			blank = "_"
		}
		field = " " + strings.Repeat(blank, c.field) + " "
	} else {
		field = lead + field + mark
	}
	unit := ""
	if b.Unit.Symbol != "" {
		unit = s.Unit(b.Unit.Symbol)
	}
	label := func(x, y, room int) {
		s.print(x, y, strong, cut(c.code, room))
		if words := cut(c.label, room-c.codes-1); words == c.label || runes(words) >= shortLabel {
			s.print(x+c.codes+1, y, plain, words)
		}
	}
	switch {
	case b.Kind == packet.Tick:
		s.print(c.x, y, style, field)
		label(c.x+c.field+3, y, c.w-c.field-3)
	case c.flat:
		label(c.x, y, c.head-min(c.labels, 1))
		s.print(c.x+c.head, y, style, field)
		if room := c.w - c.head - c.field - 3; !c.short && runes(unit) <= room {
			s.print(c.x+c.head+c.field+3, y, plain, unit)
		}
	default:
		label(c.x, y, c.w)
		s.print(c.x, y+1, style, field)
		s.print(c.x+c.field+3, y+1, plain, cut(unit, c.w-c.field-3))
	}
}

// short is what a box holds, as its field shows it; lead is what stands before it,
// = where it is worked out and not typed, and mark behind it, ! where it was
// confirmed, * where there is a remark.
func (s *screen) short(b *packet.Box, width int) (lead, value, mark string) {
	e := s.typing.Readings.Entries[b.Code]
	lead, mark = " ", " "
	switch {
	case e.Remark != "":
		mark = "*"
	case e.Confirmed:
		mark = "!"
	}
	switch worked, _, _ := s.typing.Worked(b); {
	case e.Blank() && e.Remark != "":
		value = "(" + e.Remark + ")"
	case e.Blank() && worked != "":
		lead, value = "=", worked
	case b.Kind == packet.Tick && !e.Blank():
		value = map[bool]string{true: "x", false: "n"}[e.Yes]
	case b.Kind == packet.Choice:
		value = b.T(e.Text)
	default:
		value = e.Text
	}
	return lead, cut(value, width), mark
}

func tail(text string, n int) string {
	if r := []rune(text); len(r) > n {
		return string(r[len(r)-n:])
	}
	return text
}

// inHand is the line to type into, what the box holds, and what is to be said.
func (s *screen) inHand(y, w int) {
	b := s.box()
	prompt, note := " > ", ""
	switch {
	case s.asked != "":
		prompt = " " + s.asked + " > "
	default:
		note = s.holds(b)
	}
	line, cursor := s.line, s.cursor
	if len(s.doubts) > 0 {
		line, cursor = []rune(s.held), runes(s.held)
	}
	room := max(10, w-runes(prompt)-runes(note)-3)
	from := max(0, cursor-room+1)
	s.print(0, y, strong, prompt)
	s.print(runes(prompt), y, plain, cut(string(line[from:]), room))
	s.print(w-runes(note)-1, y, plain, note)
	s.term.ShowCursor(runes(prompt)+cursor-from, y)

	said := s.said
	if len(s.doubts) > 0 {
		said = "?? " + s.reasons()
	} else if said == "" && s.asked == "" {
		if said = s.ways(b); len(s.line) == 0 {
			said = cmp.Or(s.standing(b), said)
		}
	}
	lines := wrap(said, w-2)
	if len(lines) > 2 {
		lines = []string{lines[0], cut(lines[1], w-4) + " …"}
	}
	for i, l := range lines {
		s.print(1, y+1+i, plain, l)
	}
}

// reasons are why the value in hand is doubted; of a sum that does not come out
// they ask where. Other boxes are told of when this one is not to blame.
func (s *screen) reasons() string {
	var own, others []string
	for _, d := range s.doubts {
		worked, _, _ := s.typing.Worked(d.Box)
		switch {
		case d.Box != s.box():
			others = append(others, d.Box.Code+": "+d.Reason)
		case worked != "" && d.Value != "" && len(restsOn(d.Box)) > 0 && !d.Refused:
			own = append(own, s.T("pen %s, worked out %s from %s: whose slip?", d.Value, worked, strings.Join(restsOn(d.Box), ", ")))
		default:
			own = append(own, d.Reason)
		}
	}
	if len(own) == 0 {
		own = others
	}
	return strings.Join(own, "; ")
}

// standing is what is doubted about the box in hand as it stands on the disk, also
// about one that nothing need be typed in because it is worked out.
func (s *screen) standing(b *packet.Box) string {
	if s.differ != nil {
		return ""
	}
	if s.looked != s.typing.Readings {
		s.looked, s.stand = s.typing.Readings, s.typing.Doubts(s.typing.Readings)
	}
	for _, d := range s.stand {
		if d.Box == b && (s.typing.Raw(b) != "" || b.From != nil) {
			return "?? " + d.Reason + "   " + s.T("! and Enter: it stands so")
		}
	}
	return ""
}

// holds is what the box in hand holds, and what it is worked out to.
func (s *screen) holds(b *packet.Box) string {
	var out []string
	if x, _, _ := s.typing.Worked(b); x != "" {
		from := ""
		if codes := restsOn(b); len(codes) > 0 && len(codes) <= 4 {
			from = " " + s.T("from %s", strings.Join(codes, ", "))
		}
		out = append(out, s.T("worked out: %s", x)+from)
	}
	if raw := s.typing.Raw(b); raw != "" {
		if b.Kind == packet.Choice { // in the words of the sheet
			raw = strings.Replace(raw, s.typing.Readings.Entries[b.Code].Text, b.T(s.typing.Readings.Entries[b.Code].Text), 1)
		}
		out = append(out, s.T("typed: %s", cut(raw, 30)))
	}
	return strings.Join(out, "   ")
}

func restsOn(b *packet.Box) []string {
	var out []string
	for _, t := range b.From.Terms {
		if !slices.Contains(out, t.Box.Code) {
			out = append(out, t.Box.Code)
		}
	}
	return out
}

// ways are the short ways to fill the box in hand.
func (s *screen) ways(b *packet.Box) string {
	if d, ok := s.differ[b.Code]; ok {
		return s.T("up: first typing, %s   down: second typing, %s   or type what the sheet says", written(d.First), written(d.Second))
	}
	switch b.Kind {
	case packet.Tick:
		return s.T("1 or y: yes   0 or n: no")
	case packet.Choice:
		var out []string
		for i, c := range b.Choices {
			out = append(out, fmt.Sprint(i+1, " ", b.T(c)))
		}
		return strings.Join(out, "   ")
	case packet.Date:
		if s.typing.Raw(b) == "" {
			return s.T("Enter: %s   or the day alone, or day.month", s.lastDate())
		}
		return s.T("2026-10-05, the day alone, or day.month")
	}
	if x, _, _ := s.typing.Worked(b); x != "" && s.typing.Raw(b) == "" {
		return s.T("Enter: it says the same   or type what the pen wrote, to compare")
	}
	return ""
}

func written(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// help names the keys.
func (s *screen) help(y, w int) {
	lines := []string{
		s.T("Enter accepts, goes on   Tab skips   / back   arrows   PgUp PgDn   Del empties"),
		s.T("^G go to   ^N not measured   ^U illegible   ^R remark   ^E edit   ^X end"),
	}
	switch {
	case len(s.doubts) > 0:
		first := []string{}
		if x := s.instead(); x != "" {
			first = append(first, s.T("+ takes %s", x))
		}
		if x := s.other(); x != nil {
			first = append(first, s.T("/ goes to %s", x.Code))
		}
		if confirmable(s.doubts) {
			first = append(first, s.T("! or *: it stands so on the sheet"))
		}
		lines = []string{strings.Join(first, "   "), s.T("Esc: type it again   ^G go to another box   ^X end")}
	case s.asked != "":
		lines = []string{s.T("Enter accepts   Esc leaves it"), s.T("^X end")}
	}
	for i, l := range lines {
		s.print(1, y+i, plain, cut(l, w-2))
	}
}

// wrap breaks text into lines of at most n characters.
func wrap(text string, n int) []string {
	var out []string
	line := ""
	for _, word := range strings.Split(text, " ") {
		if line != "" && runes(line)+1+runes(word) > n {
			out, line = append(out, line), ""
		} else if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}
