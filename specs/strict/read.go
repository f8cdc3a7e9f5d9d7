package strict

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"shimcard/calc"
)

// Map is a group of keys. A nil Map has none and takes every call.
type Map struct {
	doc   *Doc
	node  *yaml.Node
	at    Value // the group as a value, for its place and field
	known []string
	asked map[string]bool
	all   bool
}

func newMap(v Value) *Map {
	return &Map{doc: v.doc, node: v.node, at: v, asked: map[string]bool{}}
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
			return Value{m.doc, m.node.Content[i+1], join(m.at.field, key), k.Line, k.Column, ""}, true
		}
	}
	return Value{doc: m.doc, field: join(m.at.field, key), line: m.at.Line(), column: m.at.Column()}, false
}

// Need returns the value of a key the file must have; want is an example of
// the line to write, "target: 6.20 mm".
func (m *Map) Need(key, want string) Value {
	v, ok := m.Get(key)
	if m != nil && !ok {
		v.Fault("no such key", want)
	}
	v.want = want
	return v
}

// Entry is one key of a map with its value, in file order.
type Entry struct {
	Key          string
	Line, Column int
	Name         Value // the key itself, where keys are quantities: {0.50 mm: 4}
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
		field := join(m.at.field, shown(k.Value))
		es = append(es, Entry{k.Value, k.Line, k.Column,
			Value{m.doc, k, field, k.Line, k.Column, ""}, Value{m.doc, v, field, k.Line, k.Column, ""},
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
		switch {
		case want != "":
		case len(m.known) == 0:
			want = "nothing here"
		default:
			want = "one of: " + strings.Join(m.known, ", ")
		}
		m.doc.add(k.Line, k.Column, m.at.field, "the unknown key "+kindOf(k), want)
	}
}

// Fault adds a fault about the group as a whole.
func (m *Map) Fault(found, want string) {
	if m != nil {
		m.at.Fault(found, want)
	}
}

// Line is where the group begins, 0 for a nil Map.
func (m *Map) Line() int {
	if m == nil {
		return 0
	}
	return m.at.Line()
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

// hasPlace tells whether the value has a place of its own. A group or list
// indented below its key has none: the key is where to look.
func (v Value) hasPlace() bool {
	return v.node != nil && v.node.Line > 0 && (v.node.Kind == yaml.ScalarNode || v.node.Style&yaml.FlowStyle != 0)
}

// Line is the value's line; that of its key where it begins below the key or
// is missing, and that of the group where the key is missing too.
func (v Value) Line() int {
	if v.hasPlace() {
		return v.node.Line
	}
	return v.line
}

// Column goes with Line.
func (v Value) Column() int {
	if v.hasPlace() {
		return v.node.Column
	}
	return v.column
}

// IsNull tells whether the key is missing or nothing stands after it. A text
// of which nothing is left, "#4", is something: Text makes a fault of it.
func (v Value) IsNull() bool { return v.isEmpty() && v.cutOff() == "" }

func (v Value) isEmpty() bool {
	return v.node == nil || v.node.Kind == yaml.ScalarNode && (v.node.Tag == "!!null" || v.node.Value == "")
}

// IsMap tells whether the value is a group of keys.
func (v Value) IsMap() bool { return v.node != nil && v.node.Kind == yaml.MappingNode }

// IsList tells whether the value is a list.
func (v Value) IsList() bool { return v.node != nil && v.node.Kind == yaml.SequenceNode }

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
	if v.node.Kind != yaml.ScalarNode || v.isEmpty() {
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
	if v.IsMap() {
		v.Fault("a group of keys", v.instead("a text, in double quotes if it has \": \" in it"))
		return ""
	}
	if tail := v.cutOff(); tail != "" {
		v.Fault("the text cut off at \""+shown(tail)+"\"", "the whole text in double quotes; a comment has a blank after its #")
		return ""
	}
	s, _ := v.raw("a text")
	return s
}

// TextUpTo is Text with a fault when it is longer than n characters.
func (v Value) TextUpTo(n int) string {
	s := v.Text()
	if long := utf8.RuneCountInString(s); long > n {
		v.Fault(fmt.Sprintf("%d characters", long), fmt.Sprintf("at most %d", n))
	}
	return s
}

// cutOff returns what YAML takes for a comment after an unquoted text although
// it reads like a part of it, as in "Filter #4 changed": a # with something
// close behind it.
func (v Value) cutOff() string {
	if v.node == nil || v.node.Kind != yaml.ScalarNode || v.node.Style != 0 {
		return ""
	}
	tail, _, _ := strings.Cut(v.node.LineComment, "\n")
	if rest := strings.TrimPrefix(tail, "#"); rest == "" || strings.ContainsAny(rest[:1], " \t#") {
		return ""
	}
	return tail
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
	return newMap(v)
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

// Number reads a number without a unit, from low to high, and how many
// decimals were written. A decimal comma is as good as a point.
func (v Value) Number(low, high float64) (float64, int) {
	want := "a number"
	switch least, most := calc.Fixed(low, 0), calc.Fixed(high, 0); {
	case math.IsInf(low, -1) && math.IsInf(high, 1):
	case math.IsInf(high, 1):
		want += ", at least " + least
	case math.IsInf(low, -1):
		want += ", at most " + most
	default:
		want += " from " + least + " to " + most
	}
	s, ok := v.raw(want)
	if !ok {
		return 0, 0
	}
	x, decimals, err := calc.ParseNumber(s)
	if err != nil || x < low || x > high {
		v.Fault(shown(s), want)
		return 0, 0
	}
	return x, decimals
}

// Quantity reads a number with its unit, "6.20 mm", of one of the wanted
// kinds (any when none is named), and how many decimals were written. A length
// has at most 5 decimals in mm, 6 in inches.
func (v Value) Quantity(kinds ...calc.Kind) (calc.Quantity, int) {
	want := "a number with its unit, as 6.20 mm"
	if len(kinds) > 0 {
		named := make([]string, len(kinds))
		for i, k := range kinds {
			named[i] = article(k.String()) + ", as " + example(k)
		}
		want = strings.Join(named, ", or ")
	}
	s, ok := v.raw(want)
	if !ok {
		return calc.Quantity{}, 0
	}
	q, decimals, err := calc.ParseQuantity(s)
	switch {
	case err != nil:
		v.quantityFault(s, want, kinds)
		return calc.Quantity{}, 0
	case len(kinds) > 0 && !slices.Contains(kinds, q.Unit.Kind):
		v.Fault(shown(s)+", "+article(q.Unit.Kind.String()), want)
		return calc.Quantity{}, 0
	}
	if most, bounded := mostDecimals[q.Unit.Symbol]; bounded && decimals > most {
		v.Fault(shown(s), fmt.Sprintf("at most %d decimals, as %s %s", most, calc.Fixed(q.Value, most), q.Unit.Symbol))
		return calc.Quantity{}, 0
	}
	return q, decimals
}

// mostDecimals keeps lengths to what an instrument shows and whole nanometres
// hold.
var mostDecimals = map[string]int{"mm": 5, "in": 6, "cm": 6, "µm": 2}

func article(word string) string {
	if word != "" && strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
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
	calc.Consumption: {"g/kWh", ""},
}

func example(kind calc.Kind) string {
	numbers := map[calc.Kind]string{
		calc.LengthKind: "6.20", calc.Pressure: "2.6", calc.Torque: "12", calc.Temperature: "40", calc.Delivery: "36.0",
		calc.Volume: "18.0", calc.Speed: "500", calc.Flow: "40", calc.Duration: "30", calc.Angle: "12", calc.Density: "825", calc.Percent: "6",
		calc.Consumption: "240",
	}
	n, ok := numbers[kind]
	if !ok {
		n = "1"
	}
	return n + " " + pairs[kind][0]
}

// quantityFault says why s is no quantity: no unit, an unknown unit, or no number.
func (v Value) quantityFault(s, want string, kinds []calc.Kind) {
	if x, decimals, err := calc.ParseNumber(s); err == nil {
		if len(kinds) == 1 {
			want = withUnit(s, x, decimals, kinds[0])
		}
		v.Fault(shown(s)+" without a unit", want)
		return
	}
	number, unit, _ := strings.Cut(strings.ReplaceAll(s, "\u00a0", " "), " ")
	if _, _, err := calc.ParseNumber(number); err == nil && len(kinds) == 1 {
		units := calc.UnitsOf(kinds[0])
		if near := Nearest(unit, units); near != "" && utf8.RuneCountInString(unit) > 1 {
			want = number + " " + near
		} else {
			want = "it in " + strings.Join(units, ", ")
		}
		v.Fault(shown(s)+", whose unit is not known", want)
		return
	}
	v.Fault(shown(s), want)
}

// withUnit offers a bare number with the metric unit of its kind and, where a
// sheet may well use one, the same in the inch unit.
func withUnit(s string, x float64, decimals int, kind calc.Kind) string {
	want := s + " " + pairs[kind][0]
	from, metric := calc.ParseUnit(pairs[kind][0])
	to, inch := calc.ParseUnit(pairs[kind][1])
	if !metric || !inch || pairs[kind][1] == "" {
		return want
	}
	if kind == calc.LengthKind {
		decimals += 2 // 0.01 mm is about 0.0004 in
	}
	return want + " or " + calc.Fixed(calc.Convert(x, from, to), decimals) + " " + pairs[kind][1]
}
