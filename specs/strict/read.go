package strict

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"shimcard/calc"
)

// Map is a group of keys. A nil Map has none and takes every call.
type Map struct {
	doc   *Doc
	node  *yaml.Node
	field string
	known []string
	asked map[string]bool
	all   bool
}

func newMap(d *Doc, n *yaml.Node, field string) *Map {
	return &Map{doc: d, node: n, field: field, asked: map[string]bool{}}
}

// Get returns the value of a key and whether the file has it.
func (m *Map) Get(key string) (Value, bool) {
	if m == nil {
		return Value{}, false
	}
	if !m.asked[key] {
		m.asked[key] = true
		m.known = append(m.known, key)
	}
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		if k := m.node.Content[i]; k.Value == key && k.Tag != refused {
			return Value{m.doc, m.node.Content[i+1], join(m.field, key), k.Line, k.Column, ""}, true
		}
	}
	return Value{doc: m.doc, field: join(m.field, key), line: m.node.Line, column: m.node.Column}, false
}

// Need returns the value of a key the file must have; want is an example of
// the line to write, "target: 6.20 mm".
func (m *Map) Need(key, want string) Value {
	v, ok := m.Get(key)
	if m != nil && !ok {
		m.doc.add(m.node.Line, m.node.Column, join(m.field, key), "no such key", want)
	}
	v.want = want
	return v
}

// Entry is one key of a map with its value, in file order.
type Entry struct {
	Key          string
	Line, Column int
	Value        Value
	Comment      string // on the same line after the value, without its #
}

// Entries returns every key, and so makes every key known to Close.
func (m *Map) Entries() []Entry {
	if m == nil {
		return nil
	}
	m.all = true
	var es []Entry
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		k, v := m.node.Content[i], m.node.Content[i+1]
		if k.Tag == refused {
			continue
		}
		comment := v.LineComment
		if comment == "" {
			comment = k.LineComment
		}
		es = append(es, Entry{k.Value, k.Line, k.Column,
			Value{m.doc, v, join(m.field, shown(k.Value)), k.Line, k.Column, ""},
			strings.TrimSpace(strings.TrimLeft(comment, "# "))})
	}
	return es
}

// Close makes a fault of every key that was not asked for.
func (m *Map) Close() {
	if m == nil || m.all {
		return
	}
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		k := m.node.Content[i]
		if k.Tag == refused || m.asked[k.Value] {
			continue
		}
		want := Nearest(k.Value, m.known)
		if want == "" {
			want = "one of: " + strings.Join(m.known, ", ")
		}
		m.doc.add(k.Line, k.Column, m.field, "the unknown key "+kindOf(k), want)
	}
}

// Fault adds a fault about the group as a whole.
func (m *Map) Fault(found, want string) {
	if m != nil {
		m.doc.add(m.node.Line, m.node.Column, m.field, found, want)
	}
}

// Line is where the group begins, 0 for a nil Map.
func (m *Map) Line() int {
	if m == nil {
		return 0
	}
	return m.node.Line
}

// Value is what stands after a key or in a list. The zero Value, and that of
// a missing key, reads as zero without a fault.
type Value struct {
	doc          *Doc
	node         *yaml.Node
	field        string
	line, column int // of the key, or of the group that lacks it
	want         string
}

func (v Value) readable() bool { return v.node != nil && v.node.Tag != refused }

// Line is the value's line, or that of the group that lacks it.
func (v Value) Line() int {
	if v.node != nil && v.node.Line > 0 {
		return v.node.Line
	}
	return v.line
}

// Column is the value's column, or that of the group that lacks it.
func (v Value) Column() int {
	if v.node != nil && v.node.Line > 0 {
		return v.node.Column
	}
	return v.column
}

// IsNull tells whether the key is missing or nothing stands after it.
func (v Value) IsNull() bool {
	return v.node == nil || v.node.Kind == yaml.ScalarNode && (v.node.Tag == "!!null" || v.node.Value == "")
}

// Fault adds a fault at the value; found in the words "found …", want in the
// words "write …".
func (v Value) Fault(found, want string) {
	if v.doc != nil {
		v.doc.add(v.Line(), v.Column(), v.field, found, want)
	}
}

// instead is what to write where the value has another shape than wanted:
// the example its reader gave, else the general word.
func (v Value) instead(general string) string {
	if v.want != "" {
		return v.want
	}
	return general
}

// raw returns the scalar as written, trimmed, ok only when there is one.
func (v Value) raw(want string) (string, bool) {
	if !v.readable() {
		return "", false
	}
	if v.node.Kind != yaml.ScalarNode || v.IsNull() {
		v.Fault(kindOf(v.node), v.instead(want))
		return "", false
	}
	s := strings.TrimSpace(strings.NewReplacer("\n", " ", "\t", " ").Replace(v.node.Value))
	if s == "" {
		v.Fault("nothing", v.instead(want))
		return "", false
	}
	return s, true
}

// Text returns the text, never empty unless faulty or missing, with line ends
// turned into blanks.
func (v Value) Text() string {
	s, _ := v.raw("a text")
	return s
}

// Map returns the group of keys, nil when there is none.
func (v Value) Map() *Map {
	if !v.readable() {
		return nil
	}
	if v.node.Kind != yaml.MappingNode {
		v.Fault(kindOf(v.node), v.instead("a group, {key: value, key: value} or indented keys below"))
		return nil
	}
	return newMap(v.doc, v.node, v.field)
}

// List returns the values of a list.
func (v Value) List() []Value {
	if !v.readable() {
		return nil
	}
	if v.node.Kind != yaml.SequenceNode {
		v.Fault(kindOf(v.node), v.instead("a list, [first, second]"))
		return nil
	}
	vs := make([]Value, len(v.node.Content))
	for i, c := range v.node.Content {
		vs[i] = Value{v.doc, c, join(v.field, strconv.Itoa(i+1)), c.Line, c.Column, ""}
	}
	return vs
}

// Bool reads yes, no, true or false.
func (v Value) Bool() bool {
	s, ok := v.raw("yes or no")
	if !ok {
		return false
	}
	switch strings.ToLower(s) {
	case "yes", "true":
		return true
	case "no", "false":
		return false
	}
	v.Fault(shown(s), "yes or no")
	return false
}

// Int reads a whole number from low to high.
func (v Value) Int(low, high int) int {
	want := fmt.Sprintf("a whole number from %d to %d", low, high)
	s, ok := v.raw(want)
	if !ok {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < low || n > high {
		v.Fault(shown(s), want)
		return 0
	}
	return n
}

// Date reads a day as 2026-10-02, in UTC.
func (v Value) Date() time.Time {
	const want = "a date as 2026-10-02 (year-month-day)"
	s, ok := v.raw(want)
	if !ok {
		return time.Time{}
	}
	t, err := time.Parse("2006-01-02", s)
	if err != nil || t.Year() < 1900 || t.Year() > 2200 {
		v.Fault(shown(s), want)
		return time.Time{}
	}
	return t
}

// OneOf reads one of the words, "" when it is none of them.
func (v Value) OneOf(words ...string) string {
	want := strings.Join(words, ", ")
	if n := len(words); n > 1 {
		want = strings.Join(words[:n-1], ", ") + " or " + words[n-1]
	}
	s, ok := v.raw(want)
	if !ok {
		return ""
	}
	for _, w := range words {
		if s == w {
			return w
		}
	}
	if near := Nearest(s, words); near != "" && len(words) > 4 {
		want = near
	}
	v.Fault(shown(s), want)
	return ""
}

// Quantity reads a number with its unit, "6.20 mm", of the wanted kind, and
// how many decimals were written.
func (v Value) Quantity(kind calc.Kind) (calc.Quantity, int) {
	s, ok := v.raw("a " + kind.String() + " with its unit, as " + example(kind))
	if !ok {
		return calc.Quantity{}, 0
	}
	q, decimals, err := calc.ParseQuantity(s)
	switch {
	case err != nil:
		v.quantityFault(s, kind)
		return calc.Quantity{}, 0
	case q.Unit.Kind != kind:
		v.Fault(fmt.Sprintf("%s, a %s", shown(s), q.Unit.Kind), "a "+kind.String()+", as "+example(kind))
		return calc.Quantity{}, 0
	}
	return q, decimals
}

// Length reads a length below 10 m with its unit, and how many decimals were written.
func (v Value) Length() (calc.Length, calc.Unit, int) {
	q, decimals := v.Quantity(calc.LengthKind)
	if q.Unit.Factor == 0 {
		return 0, calc.Unit{}, 0
	}
	if math.Abs(q.Base()) >= 10_000 {
		v.Fault(shown(v.node.Value), "a length below 10 m")
		return 0, calc.Unit{}, 0
	}
	return calc.LengthOf(q.Value, q.Unit), q.Unit, decimals
}

// pairs are the units offered to someone who wrote none: the metric one, and
// the inch one where a sheet may well use it.
var pairs = map[calc.Kind][2]string{
	calc.LengthKind: {"mm", "in"}, calc.Pressure: {"bar", "psi"}, calc.Torque: {"N·m", "lbf·ft"},
	calc.Temperature: {"°C", "°F"}, calc.Delivery: {"cm³/1000", ""}, calc.Volume: {"cm³", ""},
	calc.Speed: {"rev/min", ""}, calc.Flow: {"L/h", ""}, calc.Duration: {"s", ""}, calc.Angle: {"°", ""},
	calc.Density: {"kg/m³", ""}, calc.Percent: {"%", ""}, calc.Rate: {"N/mm", ""}, calc.Area: {"mm²", ""},
}

func example(kind calc.Kind) string {
	numbers := map[calc.Kind]string{
		calc.LengthKind: "6.20", calc.Pressure: "2.6", calc.Torque: "12", calc.Temperature: "40", calc.Delivery: "36.0",
		calc.Volume: "18.0", calc.Speed: "500", calc.Flow: "40", calc.Duration: "30", calc.Angle: "12", calc.Density: "825", calc.Percent: "6",
	}
	n, ok := numbers[kind]
	if !ok {
		n = "1"
	}
	return n + " " + pairs[kind][0]
}

// quantityFault says why s is no quantity: no unit, an unknown unit, or no number.
func (v Value) quantityFault(s string, kind calc.Kind) {
	pair := pairs[kind]
	if x, decimals, err := calc.ParseNumber(s); err == nil {
		want := s + " " + pair[0]
		from, _ := calc.ParseUnit(pair[0])
		if to, ok := calc.ParseUnit(pair[1]); ok && pair[1] != "" {
			// Two more figures than written carry the finer inch; one fewer
			// would do for the rest, but a unit to choose is the point here.
			if kind == calc.LengthKind {
				decimals += 2
			}
			want += " or " + calc.Fixed(calc.Convert(x, from, to), decimals) + " " + pair[1]
		}
		v.Fault(shown(s)+" without a unit", want)
		return
	}
	if i := strings.IndexAny(s, " \u00a0"); i > 0 {
		number, unit := s[:i], strings.Trim(s[i:], " \u00a0")
		if _, _, err := calc.ParseNumber(number); err == nil {
			units := calc.UnitsOf(kind)
			want := Nearest(unit, units)
			if want == "" || len([]rune(unit)) < 2 {
				v.Fault(shown(s)+", whose unit is not known", "it in "+strings.Join(units, ", "))
				return
			}
			v.Fault(shown(s)+", whose unit is not known", number+" "+want)
			return
		}
	}
	v.Fault(shown(s), "a number with its unit, as "+example(kind))
}
