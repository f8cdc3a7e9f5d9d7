package strict_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"shimcard/calc"
	"shimcard/specs/strict"
)

func open(text string) (*strict.Doc, *strict.Map) {
	d := strict.Open("f.yaml", []byte(text))
	return d, d.Root()
}

func TestValuesAsWritten(t *testing.T) {
	d, m := open(`
text: "  two
  lines "
block: |
  one
  two
number: 6.20
comma: 6,205
whole: 12
octal: 012
on: 2026-10-02
yes: no
norway: NO
length: 0.0780 in
`)
	assert.Equal(t, "two lines", m.Need("text", "").Text())
	assert.Equal(t, "one two", m.Need("block", "").Text())
	assert.Equal(t, "6.20", m.Need("number", "").Text())
	x, decimals := m.Need("number", "").Number(math.Inf(-1), math.Inf(1))
	assert.Equal(t, 6.2, x)
	assert.Equal(t, 2, decimals)
	x, decimals = m.Need("comma", "").Number(0, 10)
	assert.Equal(t, 6.205, x)
	assert.Equal(t, 3, decimals)
	assert.Equal(t, 12, m.Need("whole", "").Int(1, 12))
	assert.Equal(t, 12, m.Need("octal", "").Int(1, 12)) // people do not write octal
	assert.Equal(t, time.Date(2026, 10, 2, 0, 0, 0, 0, time.UTC), m.Need("on", "").Date())
	assert.False(t, m.Need("yes", "").Bool())
	assert.Equal(t, "NO", m.Need("norway", "").OneOf("SE", "NO"))
	l, unit, decimals := m.Need("length", "").Length()
	assert.Equal(t, calc.Length(1_981_200), l) // 0.0780 × 25.4 mm, NIST SP 811 appendix B
	assert.Equal(t, "in", unit.Symbol)
	assert.Equal(t, 4, decimals)
	m.Close()
	assert.NoError(t, d.Err())
}

func TestEntries(t *testing.T) {
	d, m := open("H1: 3.34 # smudged\nH2:   # not read\nH3: {a: b}\n0.50 mm: 4\n")
	es := m.Entries()
	require.Len(t, es, 4)
	assert.Equal(t, "H1", es[0].Key)
	assert.Equal(t, "smudged", es[0].Comment)
	assert.Equal(t, "not read", es[1].Comment)
	assert.True(t, es[1].Value.IsNull())
	assert.Equal(t, [2]int{3, 1}, [2]int{es[2].Line, es[2].Column})
	assert.True(t, es[2].Value.IsMap())
	l, _, _ := es[3].Name.Length()
	assert.Equal(t, calc.Length(500_000), l)
	m.Close() // all known
	assert.NoError(t, d.Err())
}

func TestWrongShapes(t *testing.T) {
	const text = `a: [1, 2]
b: word
c: {d: 1}
e:
f: [x]
`
	for _, c := range []struct {
		name string
		read func(*strict.Map)
		want string
	}{
		{"list for a text", func(m *strict.Map) { m.Need("a", "").Text() }, "f.yaml:1:4: a: found a list; write a text"},
		{"group for a text", func(m *strict.Map) { m.Need("c", "").Text() }, "f.yaml:3:4: c: found a group of keys; write a text, in double quotes if it has \": \" in it"},
		{"nothing for a text", func(m *strict.Map) { m.Need("e", "e: something").Text() }, "f.yaml:4:3: e: found nothing; write e: something"},
		{"text for a list", func(m *strict.Map) { m.Need("b", "").List() }, "f.yaml:2:4: b: found word; write a list, [first, second]"},
		{"text for a group", func(m *strict.Map) { m.Need("b", "").Map() }, "f.yaml:2:4: b: found word; write a group, {key: value, key: value} or indented keys below"},
		{"text for yes or no", func(m *strict.Map) { m.Need("b", "").Bool() }, "f.yaml:2:4: b: found word; write yes or no"},
		{"text for a number", func(m *strict.Map) { m.Need("b", "").Number(0, math.Inf(1)) }, "f.yaml:2:4: b: found word; write a number, at least 0"},
		{"text for a whole number", func(m *strict.Map) { m.Need("b", "").Int(1, 3) }, "f.yaml:2:4: b: found word; write a whole number from 1 to 3"},
		{"text for a date", func(m *strict.Map) { m.Need("b", "").Date() }, "f.yaml:2:4: b: found word; write a date as 2026-10-02 (year-month-day)"},
		{"text for a length", func(m *strict.Map) { m.Need("b", "").Length() }, "f.yaml:2:4: b: found word; write a length, as 6.20 mm"},
		{"key missing", func(m *strict.Map) { m.Need("z", "z: 1").Text() }, "f.yaml:1:1: z: found no such key; write z: 1"},
		{"key missing further in", func(m *strict.Map) { m.Need("c", "").Map().Need("z", "z: 1") }, "f.yaml:3:4: c / z: found no such key; write z: 1"},
		{"in a list", func(m *strict.Map) { m.Need("f", "").List()[0].Int(0, 1) }, "f.yaml:5:5: f / 1: found x; write a whole number from 0 to 1"},
		{"unknown keys", func(m *strict.Map) { m.Need("c", "").Map().Close() }, "f.yaml:3:5: c: found the unknown key d; write nothing here"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, m := open(text)
			c.read(m)
			require.Error(t, d.Err())
			assert.Equal(t, c.want, d.Err().Error())
		})
	}
}

// Reading what is not there adds nothing and fails nowhere.
func TestMissingIsSafe(t *testing.T) {
	d := strict.Open("f.yaml", nil)
	m := d.Root()
	require.Nil(t, m)
	v := m.Need("a", "")
	assert.Empty(t, v.Text())
	assert.Zero(t, v.Int(1, 2))
	assert.Nil(t, v.Map())
	assert.Nil(t, v.List())
	assert.True(t, v.Date().IsZero())
	assert.Empty(t, v.OneOf("a"))
	assert.True(t, v.IsNull())
	assert.False(t, v.IsMap() || v.IsList())
	q, _ := v.Quantity(calc.Pressure)
	assert.Zero(t, q)
	v.Fault("a", "b")
	m.Fault("a", "b")
	m.Close()
	assert.Nil(t, m.Entries())
	assert.Zero(t, m.Line())
	assert.EqualError(t, d.Err(), "f.yaml: found an empty file; write the keys it needs")
}

func TestSyntaxFaultsPointAtTheSlip(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"a: 1\nb: c: d\n", "f.yaml:2:1: found a second colon; write the value in double quotes, b: \"c: d\""},
		{"a: 1\nb: c: d   # said so: twice\n", "f.yaml:2:1: found a second colon; write the value in double quotes, b: \"c: d\""},
		{"a: 1\n  b: 2\n", "f.yaml:2:3: found a second colon or a key indented too far; write keys of one group exactly below one another, and double quotes round a text with \": \" in it"},
		{"a: 1\nb: - c\n", "f.yaml:2:1: found a - that begins a value; write the value in double quotes, b: \"- c\"; the items of a list each on a line of its own"},
		{"a: 1\nb: % c\n", "f.yaml:2:1: found a character that cannot begin a value; write the value in double quotes, b: \"% c\""},
		{"a: 1\nb: > 5 bar\n", "f.yaml:2:1: found a character that cannot begin a value; write the value in double quotes, b: \"> 5 bar\""},
		{"a: 1\nb: ? c\n", "f.yaml:2:1: found a character that cannot begin a value; write the value in double quotes, b: \"? c\""},
		{"a: 1\nb: & c\n", "f.yaml:2:1: found a character that cannot begin a value; write the value in double quotes, b: \"& c\""},
		{"a:\n  - 1\n  - @ c\n", "f.yaml:3:3: found a character that cannot begin a value; write the value in double quotes, - \"@ c\""},
		{"a: 1\nb: , c\n", "f.yaml:2:1: found a bracket, brace, comma or - where a value should stand; write the value in double quotes, b: \", c\""},
		{"a: 1\nb: [c] d\nc: 1\n", "f.yaml:2:1: found text after a closing quote or bracket; write the value in double quotes, b: \"[c] d\""},
		{"a: 1\nb: \"c\" d\nc: 1\n", "f.yaml:2:1: found text after a closing quote or bracket; write the value in double quotes"},
		{"a: 1\nb: {c: d: e}\n", "f.yaml:2:1: found a [ or { that is not closed or lacks a comma; write [a, b] or {key: value, key: value}, and double quotes round a text with \": \" or \" #\" in it"},
		{"a: 1\nb: {c: d #4, e: f}\n", "f.yaml:2:1: found a [ or { that is not closed or lacks a comma; write [a, b] or {key: value, key: value}, and double quotes round a text with \": \" or \" #\" in it"},
		{"a: 1\nb\nc: d\n", "f.yaml:2:1: found a key without a colon"},
		{"a: 1\nb: 'x\n", "f.yaml:2:1: found a quote that is not closed"},
		{"a: 1\nb: @x\n", "f.yaml:2:1: found a character that cannot begin a value"},
		{"a: 1\nb: [1, 2\nc: 3\n", "f.yaml:2:1: found a [ or { that is not closed"},
		{"a: 1\nb: *x\n", "f.yaml:2:1: found an alias (*x)"},
		{"a: 1\nb:\n  c: 1\n  d: 2\n  e: 3\n f: 4\ng: 5\n", "f.yaml:6:2: found a line that fits neither"},
		{"a: \"x\\q\"\n", "f.yaml:1:1: found a backslash that means nothing here"},
		{"a:\n\tb: 1\n", "f.yaml:2:1: found a tab in the indentation; write blanks"},
		{"a: 1\n--- \nb: 1\n", "found a second document"},
		{strings.Repeat("x", 1<<20+1), "f.yaml: found a file of over 1 MiB"},
	} {
		d, _ := open(c.text)
		require.Error(t, d.Err(), "%q", c.text[:min(len(c.text), 40)])
		assert.Contains(t, d.Err().Error(), c.want)
	}
}

// YAML takes " #" for the beginning of a comment, also in the middle of what a
// person means as a text.
func TestTextCutOffByComment(t *testing.T) {
	for _, c := range []struct{ text, reads, fault string }{
		{"a: Filter #4 changed\n", "", `f.yaml:1:4: a: found the text cut off at "#4 changed"; write the whole text in double quotes; a comment has a blank after its #`},
		{"a: #4 changed\n", "", `f.yaml:1:3: a: found the text cut off at "#4 changed"; write the whole text in double quotes; a comment has a blank after its #`},
		{"a: Filter\n  housing #4 changed\n", "", `f.yaml:1:4: a: found the text cut off at "#4 changed"; write the whole text in double quotes; a comment has a blank after its #`},
		{"a: {b: 1, c: 2} #4\n", "", "f.yaml:1:4: a: found a group of keys; write a text, in double quotes if it has \": \" in it"},
		{"a: Filter # 4 changed\n", "Filter", ""},
		{"a: Filter #\n", "Filter", ""},
		{"a: Filter ## changed\n", "Filter", ""},
		{"a: Filter#4 changed\n", "Filter#4 changed", ""},
		{"a: \"Filter #4 changed\" #4\n", "Filter #4 changed", ""},
		{"a: 'Filter #4 changed'\n", "Filter #4 changed", ""},
		{"a: |\n  Filter #4 changed\n", "Filter #4 changed", ""},
	} {
		d, m := open(c.text)
		assert.Equal(t, c.reads, m.Need("a", "").Text(), c.text)
		if c.fault == "" {
			assert.NoError(t, d.Err(), c.text)
		} else {
			assert.EqualError(t, d.Err(), c.fault, c.text)
		}
	}
	_, m := open("a: #4\nb: # 4\n")
	assert.False(t, m.Need("a", "").IsNull(), "an optional text must not vanish")
	assert.True(t, m.Need("b", "").IsNull())
	d, m := open("a: 6.20 mm #twice\n")
	m.Need("a", "").Length()
	assert.NoError(t, d.Err(), "a figure loses nothing by it")
}

func TestTextUpTo(t *testing.T) {
	d, m := open("a: größer\n")
	assert.Equal(t, "größer", m.Need("a", "").TextUpTo(6))
	assert.NoError(t, d.Err())
	assert.Equal(t, "größer", m.Need("a", "").TextUpTo(5))
	assert.EqualError(t, d.Err(), "f.yaml:1:4: a: found 6 characters; write at most 5")
	d, m = open("a: [b]\n")
	assert.Empty(t, m.Need("a", "").TextUpTo(5))
	assert.EqualError(t, d.Err(), "f.yaml:1:4: a: found a list; write a text")
}

func TestLongErrorListIsCut(t *testing.T) {
	var b strings.Builder
	for i := range 100 {
		fmt.Fprintf(&b, "key%d: 1\n", i)
	}
	d, m := open(b.String())
	m.Close()
	lines := strings.Split(d.Err().Error(), "\n")
	assert.Len(t, lines, 61)
	assert.Equal(t, "f.yaml: and 40 more", lines[60])
	assert.Len(t, d.Err(), 100)
}

func TestErrorTextIsPrintable(t *testing.T) {
	d, m := open("a: \"x\\u001b[31m\\u202Ey\"\nb: " + strings.Repeat("w", 300) + "\n")
	m.Need("a", "").Int(1, 2)
	m.Need("b", "").Int(1, 2)
	text := d.Err().Error()
	assert.NotContains(t, text, "\x1b")
	assert.NotContains(t, text, "\u202e")
	assert.Less(t, len(text), 400)
}

// The conversions offered are by the factors of NIST SP 811 appendix B: 2.6 bar
// is 37.7 psi, 12 N·m is 8.9 lbf·ft, 40 °C is 104 °F.
func TestQuantityFaults(t *testing.T) {
	for _, c := range []struct {
		text  string
		kinds []calc.Kind
		want  string
	}{
		{"6.20", []calc.Kind{calc.LengthKind}, "found 6.20 without a unit; write 6.20 mm or 0.2441 in"},
		{"2.6", []calc.Kind{calc.Pressure}, "found 2.6 without a unit; write 2.6 bar or 37.7 psi"},
		{"12", []calc.Kind{calc.Torque}, "found 12 without a unit; write 12 N·m or 9 lbf·ft"},
		{"40", []calc.Kind{calc.Temperature}, "found 40 without a unit; write 40 °C or 104 °F"},
		{"36.0", []calc.Kind{calc.Delivery}, "found 36.0 without a unit; write 36.0 cm³/1000"},
		{"2.0", []calc.Kind{calc.Delivery, calc.Percent}, "found 2.0 without a unit; write a delivery, as 36.0 cm³/1000, or a percentage, as 6 %"},
		{"2.0", nil, "found 2.0 without a unit; write a number with its unit, as 6.20 mm"},
		{"5 bar", []calc.Kind{calc.LengthKind}, "found 5 bar, a pressure; write a length, as 6.20 mm"},
		{"5 mm²", []calc.Kind{calc.LengthKind}, "found 5 mm², an area; write a length, as 6.20 mm"},
		{"5 kg", []calc.Kind{calc.Pressure}, "found 5 kg, whose unit is not known; write it in bar, kPa, MPa, psi, kgf/cm²"},
		{"5 bra", []calc.Kind{calc.Pressure}, "found 5 bra, whose unit is not known; write 5 bar"},
		{"11000 mm", nil, "found 11000 mm; write a length below 10 m"},
		{"6.200000 mm", []calc.Kind{calc.LengthKind}, "found 6.200000 mm; write at most 5 decimals, as 6.20000 mm"},
		{"0.2440000 in", []calc.Kind{calc.LengthKind}, "found 0.2440000 in; write at most 6 decimals, as 0.244000 in"},
		{"6200.001 µm", nil, "found 6200.001 µm; write at most 2 decimals, as 6200.00 µm"},
		{"five mm", []calc.Kind{calc.LengthKind}, "found five mm; write a length, as 6.20 mm"},
		{"1.5", []calc.Kind{calc.Rate}, "found 1.5 without a unit; write 1.5 N/mm"},
	} {
		d, m := open("a: " + c.text + "\n")
		if strings.HasPrefix(c.text, "11000") {
			m.Need("a", "").Length()
		} else {
			m.Need("a", "").Quantity(c.kinds...)
		}
		assert.EqualError(t, d.Err(), "f.yaml:1:4: a: "+c.want)
	}
}

func TestRefusedYAML(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"a: &x 1\n", "f.yaml:1:4: a: found an anchor (&x); write the value itself, in double quotes if it begins with &"},
		{"a: &x 1\nb: *x\n", "f.yaml:1:4: a: found an anchor (&x); write the value itself, in double quotes if it begins with &\nf.yaml:2:4: b: found an alias (*x); write the value itself"},
		{"a: !!str 1\n", "f.yaml:1:4: a: found a tag (!!str); write the value without it, or in double quotes if it begins with !"},
		{"a: ! leaks badly\n", "f.yaml:1:4: a: found a ! before a text; write the value without it, or in double quotes"},
		{"a:\n  - b !\n  - ! c\n", "f.yaml:3:5: a / 2: found a ! before a text; write the value without it, or in double quotes"},
		{"a: {<<: {b: 1}}\n", "f.yaml:1:5: a: found a merge key (<<); write the keys themselves"},
		{"a: 1\na: 2\n", "f.yaml:2:1: a: found this key a second time (first in line 1); write it once"},
		{"? [a, b]\n: 1\n", "f.yaml:1:3: found a list as a key; write a plain word"},
		{"a: b\nc: \"d\ae\"\n", "f.yaml:2:6: found the control character U+0007; write the text without it"},
		{"a: 1\n<<<<<<< ours\nb: 2\n=======\nb: 3\n>>>>>>> theirs\n", "f.yaml:2:1: found the mark of a merge; write one of the two versions between the marks, and the marks taken out"},
		{"a: \"b\\ac\"\n", "f.yaml:1:4: a: found the control character U+0007; write the text without it"},
		{"a: b\u202ec\n", "f.yaml:1:4: a: found a character that reverses the text, U+202E; write the text without it"},
		{"\"a\\u2066\": b\n", "f.yaml:1:1: found a character that reverses the text, U+2066; write the text without it"},
		{"a: b\x00\n", "f.yaml:1:5: found a NUL byte; write a plain text file in UTF-8; this one is binary or UTF-16"},
		{"a: 1\nb: \xff\n", "f.yaml:2:4: found a byte that is not UTF-8; write the file again, saved as UTF-8"},
		{"- a\n", "f.yaml:1:1: found a list; write keys with values, each on its line"},
		{"word\n", "f.yaml:1:1: found word; write keys with values, each on its line"},
		{"# only\n", "f.yaml: found no keys, only comments; write the keys it needs"},
		{"a: " + strings.Repeat("[", 30) + strings.Repeat("]", 30) + "\n", "f.yaml:1:23: a" + strings.Repeat(" / 1", 19) + ": found values nested over 20 deep; write the keys as the format has them"},
		{"a: " + strings.Repeat("x", 2001) + "\n", "f.yaml:1:4: a: found a text of over 2000 characters; write a shorter one"},
	} {
		d, _ := open(c.text)
		assert.EqualError(t, d.Err(), c.want)
	}
}

func TestNearest(t *testing.T) {
	words := []string{"limits", "target", "instrument", "at most"}
	assert.Equal(t, "limits", strict.Nearest("limit", words))
	assert.Equal(t, "target", strict.Nearest("tagret", words))
	assert.Equal(t, "instrument", strict.Nearest("Instrumnet", words))
	assert.Equal(t, "at most", strict.Nearest("at  most", words))
	assert.Empty(t, strict.Nearest("colour", words))
	assert.Empty(t, strict.Nearest(strings.Repeat("x", 1000), words))
}

// The largest file taken is read in bounded time whatever it holds.
func TestWorstFilesAreQuick(t *testing.T) {
	var keys strings.Builder
	for i := 0; keys.Len() < 1<<20-32; i++ {
		fmt.Fprintf(&keys, "k%d: {}\n", i)
	}
	for name, text := range map[string]string{
		"keys":     keys.String(),
		"brackets": "a: " + strings.Repeat("[", 1<<20-8),
		"colons":   strings.Repeat("a:\n", (1<<20)/3),
		"items":    strings.Repeat("- ", (1<<20)/2),
	} {
		begin := time.Now()
		d, m := open(text)
		for i := range 20 {
			m.Get(fmt.Sprintf("known%d", i))
		}
		m.Close()
		assert.Error(t, d.Err(), name)
		assert.NotEmpty(t, d.Err().Error(), name)
		assert.Less(t, time.Since(begin), 20*time.Second, name)
		t.Logf("%s: %v", name, time.Since(begin))
	}
}
