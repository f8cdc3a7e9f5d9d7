// Package strict reads the YAML that people type: it takes every scalar as the
// text written, so 6.20 keeps its decimals, collects every fault in the file
// instead of stopping at the first, and gives each its line and column.
//
// Only the plain part of YAML is taken: one document of keys, lists and
// scalars in UTF-8, with or without byte-order mark, with either line end.
// Anchors, aliases, merge keys, tags, duplicate keys, control characters and
// characters that reverse the reading direction are faults, and so is a text
// that YAML cuts off at " #" although it goes on.
//
// A reader asks for what it knows and closes each map; whatever was not asked
// for is a fault naming the nearest key that was:
//
//	d := strict.Open("demo.yaml", data)
//	root := d.Root()
//	name := root.Need("name", "name: Ostrel D4").Text()
//	root.Close()
//	if err := d.Err(); err != nil { … }
//
// Values of missing or faulty keys are safe to use: they read as zero and add
// no second fault.
package strict

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"gopkg.in/yaml.v3"

	"shimcard/fonts"
)

// The bounds on a file. They are far beyond what a person types and keep a
// wrong or hostile file from costing more than a moment.
const (
	mostBytes   = 1 << 20
	mostText    = 2000 // characters of one scalar
	mostNesting = 20
)

// Doc is one file being read.
type Doc struct {
	file   string
	lines  []string
	root   *yaml.Node // nil when there is nothing to read
	faults Faults
}

// Open reads a file's bytes. It never fails outright: what is wrong with the
// file as a whole is a fault like any other.
func Open(file string, data []byte) *Doc {
	d := &Doc{file: file}
	text := strings.TrimPrefix(string(data), "\uFEFF")
	switch {
	case len(data) > mostBytes:
		d.whole("a file of over 1 MiB", "a text file; this one is not what a person typed")
	case strings.TrimSpace(text) == "":
		d.whole("an empty file", "the keys it needs")
	case strings.IndexByte(text, 0) >= 0:
		line, column := place(text, strings.IndexByte(text, 0))
		d.add(line, column, "", "a NUL byte", "a plain text file in UTF-8; this one is binary or UTF-16")
	case !utf8.ValidString(text):
		line, column := place(text, firstInvalid(text))
		d.add(line, column, "", "a byte that is not UTF-8", "the file again, saved as UTF-8")
	default:
		d.parse(text)
	}
	return d
}

// Root returns the map that is the file, nil when it has none.
func (d *Doc) Root() *Map {
	if d.root == nil {
		return nil
	}
	return newMap(Value{doc: d, node: d.root, line: d.root.Line, column: d.root.Column})
}

// Err returns every fault so far as Faults in file order, nil when there is none.
func (d *Doc) Err() error {
	if len(d.faults) == 0 {
		return nil
	}
	d.faults.sort()
	return d.faults
}

func (d *Doc) add(line, column int, field, found, want string) {
	d.faults = append(d.faults, Fault{d.file, line, column, field, found, want})
}

func (d *Doc) whole(found, want string) { d.add(0, 0, "", found, want) }

func place(text string, at int) (line, column int) {
	before := text[:at]
	start := strings.LastIndexByte(before, '\n') + 1
	return strings.Count(before, "\n") + 1, utf8.RuneCountInString(before[start:]) + 1
}

func firstInvalid(text string) int {
	for i, r := range text {
		if r == utf8.RuneError {
			if _, n := utf8.DecodeRuneInString(text[i:]); n == 1 {
				return i
			}
		}
	}
	return 0
}

func (d *Doc) parse(text string) {
	decoder := yaml.NewDecoder(strings.NewReader(text))
	var first, second yaml.Node
	if err := decode(decoder, &first); err != nil {
		if errors.Is(err, io.EOF) { // nothing but comments
			d.whole("no keys, only comments", "the keys it needs")
			return
		}
		d.syntax(text, err)
		return
	}
	if err := decode(decoder, &second); err == nil {
		d.add(second.Line, second.Column, "", "a second document", "one document in one file, without a second ---")
		return
	} else if !errors.Is(err, io.EOF) {
		d.syntax(text, err)
		return
	}
	if first.Kind != yaml.DocumentNode || len(first.Content) != 1 {
		d.whole("an empty file", "the keys it needs")
		return
	}
	root := first.Content[0]
	if root.Kind != yaml.MappingNode {
		d.add(root.Line, root.Column, "", kindOf(root), "keys with values, each on its line")
		return
	}
	d.root, d.lines = root, strings.Split(text, "\n")
	d.walk(root, "", 1)
}

// decode guards against the library: a panic of its parser must not take the
// program down over somebody's typing.
func decode(decoder *yaml.Decoder, into *yaml.Node) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("yaml: %v", r)
		}
	}()
	return decoder.Decode(into)
}

var yamlError = regexp.MustCompile(`^yaml: (?:line (\d+): )?(.*)$`)

// ofParser are the messages whose line the library counts from 0; all others
// it counts from 1.
var ofParser = regexp.MustCompile(`^did not find expected (key|'-' indicator|',' or|node content|<)`)

func (d *Doc) syntax(text string, err error) {
	line, message := 0, err.Error()
	if m := yamlError.FindStringSubmatch(strings.SplitN(message, "\n", 2)[0]); m != nil {
		line, _ = strconv.Atoi(m[1])
		message = m[2]
	}
	if ofParser.MatchString(message) || line == 0 {
		line++
	}
	lines := strings.Split(text, "\n")
	if tab := indentedByTab(lines); tab > 0 {
		d.add(tab, 1, "", "a tab in the indentation", "blanks; YAML takes no tabs there")
		return
	}
	if mark := slices.IndexFunc(lines, mergeMark.MatchString); mark >= 0 {
		d.add(mark+1, 1, "", "the mark of a merge", "one of the two versions between the marks, and the marks taken out")
		return
	}
	if strings.HasPrefix(message, "control characters are not allowed") {
		if i := strings.IndexFunc(text, func(r rune) bool { return unicode.IsControl(r) && !strings.ContainsRune("\n\r\t", r) }); i >= 0 {
			line, column := place(text, i)
			r, _ := utf8.DecodeRuneInString(text[i:])
			d.add(line, column, "", fmt.Sprintf("the control character U+%04X", r), "the text without it")
			return
		}
	}
	at := func(n int) string { return lines[min(max(n, 1), len(lines))-1] }
	want := ""
	switch {
	case strings.HasPrefix(message, "did not find expected key"), strings.HasPrefix(message, "did not find expected '-' indicator"):
		line = firstFailing(lines, message, line)
		message, want = "a line that fits neither its indentation nor the one above", "keys of one group exactly below one another, and double quotes round a text with \": \" or \" #\" in it"
		if l := at(line); afterClosing.MatchString(l) {
			message, want = "text after a closing quote or bracket", inQuotes(l)
		}
	case strings.HasPrefix(message, "did not find expected ','"):
		message, want = "a [ or { that is not closed or lacks a comma", "[a, b] or {key: value, key: value}, and double quotes round a text with \": \" or \" #\" in it"
	case strings.HasPrefix(message, "mapping values are not allowed"):
		message, want = "a second colon or a key indented too far", "keys of one group exactly below one another, and double quotes round a text with \": \" in it"
		if l := at(line); strings.Count(trailingComment.ReplaceAllString(l, ""), ": ") > 1 {
			message, want = "a second colon", inQuotes(l)
		}
	case strings.HasPrefix(message, "could not find expected ':'"):
		message, want = "a key without a colon", "key: value"
	case strings.HasPrefix(message, "did not find expected node content"):
		message, want = "a bracket, brace, comma or - where a value should stand", inQuotes(at(line))
	case strings.HasPrefix(message, "unknown anchor"):
		name := strings.TrimSuffix(strings.TrimPrefix(message, "unknown anchor '"), "' referenced")
		for i, l := range lines {
			if strings.Contains(l, "*"+name) {
				line = i + 1
				break
			}
		}
		message, want = "an alias (*"+shown(name)+")", "the value itself, in double quotes if it begins with *"
	case strings.HasPrefix(message, "found unexpected end of stream"):
		message, want = "a quote that is not closed", "the closing quote"
	case strings.HasPrefix(message, "control characters are not allowed"):
		message, want = "a control character", "plain text"
	case strings.HasPrefix(message, "block sequence entries are not allowed"):
		message, want = "a - that begins a value", inQuotes(at(line))+"; the items of a list each on a line of its own"
	case cannotBegin.MatchString(message):
		message, want = "a character that cannot begin a value", inQuotes(at(line))
	case strings.HasPrefix(message, "found unknown escape character"):
		message, want = "a backslash that means nothing here", "single quotes round a text with backslashes"
	default:
		message = "something that is not YAML (" + shown(message) + ")"
	}
	line = min(max(line, 1), len(lines))
	column := len(lines[line-1]) - len(strings.TrimLeft(lines[line-1], " ")) + 1
	d.add(line, column, "", message, want)
}

// mergeMark is a line that version control puts round two versions of others.
var mergeMark = regexp.MustCompile(`^(<<<<<<<|>>>>>>>)( |$)`)

// cannotBegin are the messages for % @ ` > | ? & and * before an unquoted text.
var cannotBegin = regexp.MustCompile(`^(found character that cannot start any token|did not find expected comment or line break|mapping keys are not allowed|did not find expected alphabetic or numeric character)`)

var (
	trailingComment = regexp.MustCompile(`\s+# .*$`)
	afterClosing    = regexp.MustCompile(`^\s*(?:- +|[^:]+: +)(?:"[^"]*"|'[^']*'|\[[^\]]*\]|\{[^}]*\})\s*[^\s,#]`)
	keyAndValue     = regexp.MustCompile(`^\s*(- +|[^:{\["']+: +)(.*\S)`)
)

// inQuotes says to put the value of a line in double quotes, and how the line
// then looks where that is plain to see.
func inQuotes(line string) string {
	const want = "the value in double quotes"
	m := keyAndValue.FindStringSubmatch(trailingComment.ReplaceAllString(line, ""))
	if m == nil || strings.HasPrefix(m[2], "{") || strings.ContainsAny(m[2], `"\`) {
		return want
	}
	return want + ", " + shown(m[1]+`"`+m[2]+`"`)
}

// indentedByTab returns the first line, from 1, indented with a tab; 0 when none is.
func indentedByTab(lines []string) int {
	for i, l := range lines {
		if l = strings.TrimLeft(l, " "); strings.HasPrefix(l, "\t") && strings.TrimSpace(l) != "" {
			return i + 1
		}
	}
	return 0
}

// firstFailing finds the line that brings the message about. The library
// names the line where the broken group of keys begins, which may be pages
// above the slip.
func firstFailing(lines []string, message string, otherwise int) int {
	if len(lines) > 3000 {
		return otherwise
	}
	fails := func(n int) bool {
		var node yaml.Node
		err := decode(yaml.NewDecoder(strings.NewReader(strings.Join(lines[:n], "\n")+"\n")), &node)
		return err != nil && strings.Contains(err.Error(), message)
	}
	low, high := 0, len(lines) // low passes, high fails
	if !fails(high) {
		return otherwise
	}
	for high-low > 1 {
		if mid := (low + high) / 2; fails(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// walk refuses, once and for all, what no reader below wants to see.
func (d *Doc) walk(n *yaml.Node, field string, depth int) {
	if depth > mostNesting {
		d.add(n.Line, n.Column, field, fmt.Sprintf("values nested over %d deep", mostNesting), "the keys as the format has them")
		n.Kind, n.Tag, n.Content, n.Value = yaml.ScalarNode, refused, nil, ""
		return
	}
	switch {
	case n.Kind == yaml.AliasNode:
		d.add(n.Line, n.Column, field, "an alias (*"+shown(n.Value)+")", "the value itself")
	case n.Anchor != "":
		d.add(n.Line, n.Column, field, "an anchor (&"+shown(n.Anchor)+")", "the value itself, in double quotes if it begins with &")
	case d.loneMark(n):
		d.add(n.Line, n.Column, field, "a ! before a text", "the value without it, or in double quotes")
	case n.Style&yaml.TaggedStyle != 0:
		d.add(n.Line, n.Column, field, "a tag ("+shown(n.Tag)+")", "the value without it, or in double quotes if it begins with !")
	}
	switch n.Kind {
	case yaml.AliasNode:
		n.Kind, n.Tag, n.Value, n.Alias = yaml.ScalarNode, refused, "", nil
	case yaml.ScalarNode:
		d.scalar(n, field)
	case yaml.SequenceNode:
		for i, c := range n.Content {
			d.walk(c, join(field, strconv.Itoa(i+1)), depth+1)
		}
	case yaml.MappingNode:
		seen := map[string]int{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k, v := n.Content[i], n.Content[i+1]
			switch {
			case k.Kind != yaml.ScalarNode:
				d.add(k.Line, k.Column, field, kindOf(k)+" as a key", "a plain word")
				k.Kind, k.Tag, k.Value, k.Content = yaml.ScalarNode, refused, "", nil
			case k.Tag == "!!merge":
				d.add(k.Line, k.Column, field, "a merge key (<<)", "the keys themselves")
				k.Tag = refused
			case k.Anchor != "":
				d.add(k.Line, k.Column, field, "an anchor (&"+shown(k.Anchor)+")", "the key itself")
			default:
				d.scalar(k, field)
				if at, twice := seen[k.Value]; twice {
					d.add(k.Line, k.Column, join(field, shown(k.Value)), fmt.Sprintf("this key a second time (first in line %d)", at), "it once")
					k.Tag = refused
				} else {
					seen[k.Value] = k.Line
				}
			}
			if v.Kind == yaml.ScalarNode && v.LineComment == "" {
				v.LineComment = k.LineComment // where the library puts it when nothing stands before it
			}
			d.walk(v, join(field, shown(k.Value)), depth+1)
		}
	}
}

// loneMark tells whether a value begins with a ! and a blank, a tag without a
// name, which the library swallows without a trace.
func (d *Doc) loneMark(n *yaml.Node) bool {
	if n.Kind != yaml.ScalarNode || n.Style != 0 || n.Line < 1 || n.Line > len(d.lines) {
		return false
	}
	l := d.lines[n.Line-1]
	if len(l) > mostText || !strings.Contains(l, "!") {
		return false
	}
	r := []rune(l)
	return n.Column >= 1 && n.Column <= len(r) && r[n.Column-1] == '!'
}

// refused is the tag of a node already complained of; readers pass it over.
const refused = "refused"

func (d *Doc) scalar(n *yaml.Node, field string) {
	// Some systems write é as e and an accent; the typeface has it whole.
	n.Value = norm.NFC.String(n.Value)
	if utf8.RuneCountInString(n.Value) > mostText {
		d.add(n.Line, n.Column, field, fmt.Sprintf("a text of over %d characters", mostText), "a shorter one")
		n.Tag, n.Value = refused, ""
		return
	}
	for _, r := range n.Value {
		switch {
		case r == '\n' || r == '\t':
		case unicode.IsControl(r), r == '\uFEFF', r == '\uFFFD', r == '\u2028', r == '\u2029':
			d.add(n.Line, n.Column, field, fmt.Sprintf("the control character U+%04X", r), "the text without it")
			n.Tag, n.Value = refused, ""
			return
		case unicode.Is(unicode.Bidi_Control, r):
			d.add(n.Line, n.Column, field, fmt.Sprintf("a character that reverses the text, U+%04X", r), "the text without it")
			n.Tag, n.Value = refused, ""
			return
		case !fonts.Has(r):
			// All that is read may be printed, and a glyph that lacks would vanish.
			d.add(n.Line, n.Column, field, fmt.Sprintf("%q (U+%04X), which the printed typeface has not", r, r), "it another way")
			n.Tag, n.Value = refused, ""
			return
		}
	}
}

func join(field, key string) string {
	if field == "" {
		return key
	}
	return field + " / " + key
}

func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a group of keys"
	case yaml.SequenceNode:
		return "a list"
	}
	if n.Tag == "!!null" || n.Value == "" {
		return "nothing"
	}
	return shown(n.Value)
}
