package words

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"

	"shimcard/calc"
)

// takes says which arguments of a function are sentences of the catalogue when
// they are written out where it is called.
var takes = map[string]func(i int) bool{
	"T":        at(0),
	"all":      func(int) bool { return true },
	"ticks":    func(int) bool { return true },
	"sheet":    func(int) bool { return true },
	"close":    func(int) bool { return true },
	"choice":   func(i int) bool { return i > 0 },
	"build":    at(1),
	"adjusted": at(1),
	"step":     func(i int) bool { return i < 2 },
	"caught":   at(0),
	"space":    at(0),
	"text":     at(3),
	"bold":     at(3),
	"errorf":   at(1),

	"checkLength": at(0),
	"lowHigh":     func(i int) bool { return i > 0 },
	"each":        at(1),
	"where":       func(i int) bool { return i > 1 },
}

func at(k int) func(int) bool { return func(i int) bool { return i == k } }

// tables are the declarations whose every text is a sentence.
var tables = []string{
	"practices", "usual", "benchCaution", "notice", "tagWords", "expectedLabel", "pressureAt", "travelAt", "travelDown", "rotationWords", "workedTurn", "Unit",
	"Meets", "DoesNotMeet", "TooClose", "InDoubt", "NotMeasured", "PumpMeets", "PumpFails", "PumpUndecided", "PumpIncomplete",
	"unchanged", "unmet", "decisionRule", "flattens", "steepens",
	"Entered", "InForm", "FromCSV", "Merged", "Settled", "overflowPasses", "overflowSeen",
	"passesFuel", "inletOut", "readingsDiffer", "pressureLow", "pressureShort", "pressureHigh", "travelOff", "travelShort", "pistonSticks", "outletLow", "spreadWide", "fullLow", "fullTop", "fullBottom",
	"startingLow", "boostStart", "boostLow", "partLoad", "idleOff", "runOutLate", "runOutEarly", "runOutSlow", "droopSmall", "returnLow", "returnHigh", "outsideWet", "solenoidShut", "leverPasses",
}

// text is the value of a string that is written out, in one piece or several.
func text(e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		if e.Kind != token.STRING {
			return "", false
		}
		s, err := strconv.Unquote(e.Value)
		return s, err == nil
	case *ast.BinaryExpr:
		x, ok1 := text(e.X)
		y, ok2 := text(e.Y)
		return x + y, ok1 && ok2 && e.Op == token.ADD
	case *ast.ParenExpr:
		return text(e.X)
	}
	return "", false
}

// sources are the parsed files of the packages that say sentences, by name.
func sources(t *testing.T) map[string]*ast.File {
	t.Helper()
	out := map[string]*ast.File{}
	for _, pattern := range []string{"*.go", "../*.go", "../../calc/*.go", "../../cmd/benchreport/*.go"} {
		names, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
			require.NoError(t, err)
			out[name] = f
		}
	}
	return out
}

// texts calls found with every string written out below a node.
func texts(n ast.Node, found func(string)) {
	ast.Inspect(n, func(n ast.Node) bool {
		if e, ok := n.(ast.Expr); ok {
			if s, ok := text(e); ok {
				found(s)
				return false
			}
		}
		return true
	})
}

// sentences calls found with every sentence that a file has written out where it
// says it, or in a table.
func sentences(f *ast.File, found func(string)) {
	named := func(n *ast.Ident) bool { return slices.Contains(tables, n.Name) }
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ValueSpec:
			if slices.ContainsFunc(n.Names, named) {
				texts(n, found)
			}
		case *ast.FuncDecl:
			if named(n.Name) {
				texts(n.Body, found)
			}
		case *ast.CompositeLit:
			if of, ok := n.Type.(*ast.SelectorExpr); ok && of.Sel.Name == "Error" { // of calc
				for _, e := range n.Elts {
					if kv := e.(*ast.KeyValueExpr); kv.Key.(*ast.Ident).Name == "Format" {
						texts(kv.Value, found)
					}
				}
			}
		case *ast.CallExpr:
			name := ""
			switch f := n.Fun.(type) {
			case *ast.Ident:
				name = f.Name
			case *ast.SelectorExpr:
				name = f.Sel.Name
			}
			which := takes[name]
			if which == nil {
				break
			}
			for i, a := range n.Args {
				if s, ok := text(a); ok && which(i) {
					found(s)
				}
			}
		}
		return true
	})
}

func entries(t *testing.T) []map[string]string {
	t.Helper()
	var list []map[string]string
	require.NoError(t, yaml.Unmarshal(catalogue, &list))
	return list
}

func TestEverySentenceIsInTheCatalogue(t *testing.T) {
	said := map[string]bool{}
	var lacks []string
	for name, f := range sources(t) {
		sentences(f, func(s string) {
			if _, known := table()[s]; !known && !said[s] && s != "" {
				lacks = append(lacks, fmt.Sprintf("%s: - en: %q", name, s))
			}
			said[s] = true
		})
	}
	slices.Sort(lacks)
	require.Empty(t, lacks, "the catalogue lacks\n%s", strings.Join(lacks, "\n"))
	require.Greater(t, len(said), 500, "sentences found")
}

func TestNoEntryIsUnused(t *testing.T) {
	said := map[string]bool{}
	for _, f := range sources(t) {
		texts(f, func(s string) { said[s] = true })
	}
	for _, e := range entries(t) {
		assert.True(t, said[e["en"]], "nothing says %q", e["en"])
	}
}

func TestEntriesHaveEveryLanguageOnce(t *testing.T) {
	seen := map[string]bool{}
	for _, e := range entries(t) {
		en := e["en"]
		require.NotEmpty(t, en)
		require.False(t, seen[en], "twice: %q", en)
		seen[en] = true
		require.Len(t, e, len(Languages), "%q", en)
		for _, l := range Languages {
			s, there := e[l]
			require.True(t, there, "%q lacks %q; leave it empty until it is translated", en, l)
			require.Equal(t, strings.TrimSpace(s), s, "%q in %s", en, l)
		}
	}
}

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+)?([a-zA-Z%])`)

// verbs are the kinds of the verbs of a sentence, by the argument each takes.
func verbs(sentence string) map[int]string {
	out, next := map[int]string{}, 1
	for _, m := range verb.FindAllStringSubmatch(sentence, -1) {
		if m[2] == "%" {
			continue
		}
		if m[1] != "" {
			next, _ = strconv.Atoi(m[1])
		}
		out[next] = m[2]
		next++
	}
	return out
}

func TestTranslationsTakeTheSameVerbs(t *testing.T) {
	require.Equal(t, map[int]string{1: "s", 2: "d", 3: "f"}, verbs("%[3].0f bei %[2]d %% von %[1]s"))
	for _, e := range entries(t) {
		for _, l := range Languages {
			if e[l] != "" {
				require.Equal(t, verbs(e["en"]), verbs(e[l]), "%q in %s: %q", e["en"], l, e[l])
			}
		}
	}
}

func TestPrinter(t *testing.T) {
	point, comma := In("en", false), In("de", true)
	require.Equal(t, "en", Printer{}.Language())
	require.Equal(t, "de", comma.Language())

	require.Equal(t, "3.20", point.Fixed(3.2, 2))
	require.Equal(t, "3,20", comma.Fixed(3.2, 2))
	require.Equal(t, "3.20", In("de", false).Fixed(3.2, 2), "the mark is the shop's, whatever its language")
	require.Equal(t, "3,15 – 3,25 mm", comma.Mark("3.15 – 3.25 mm"))
	require.Equal(t, "end. 4", comma.Mark("end. 4"))
	require.Equal(t, "7,5 bar", comma.Quantity(calc.Quantity{Value: 7.5, Unit: calc.Bar}))
	require.Equal(t, "2 Oct 2026", point.Date(time.Date(2026, 10, 2, 0, 0, 0, 0, time.UTC)))

	require.Equal(t, "", point.T(""))
	require.Equal(t, "10.0 and 5.0", point.T("%s and %s", "10.0", "5.0"))
	require.Equal(t, "§of 4 that nobody wrote", comma.T("of %d that nobody wrote", 4), "a sentence the catalogue lacks shows")
	require.Equal(t, "in", point.Unit("in"))
	require.Equal(t, "turns", point.Unit("turns"))
}
