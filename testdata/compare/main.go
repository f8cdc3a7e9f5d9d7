// Compare makes, of a packet that is there, what other programs are timed with:
// its texts as tables, tables.tex and tables.html, and plain.go, a program that
// draws with fpdf all that the packet has and works nothing out. It is called by
// compare.sh and no part of the commands.
package main

import (
	"bufio"
	"cmp"
	"encoding/hex"
	"errors"
	"fmt"
	"html"
	"log"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
)

// cell is a text of a page and where it stands, in points.
type cell struct {
	Page       int
	X, Y, W, H float64
	Text       string
}

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("compare PACKET.pdf FOLDER")
	}
	if err := errors.Join(tables(os.Args[1], os.Args[2]), plain(os.Args[1], os.Args[2])); err != nil {
		log.Fatal(err)
	}
}

// cells reads the texts of a PDF: words that stand as far apart as words do are one.
func cells(pdf string) (out []cell, err error) {
	tsv, err := exec.Command("pdftotext", "-tsv", pdf, "-").Output()
	if err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(strings.NewReader(string(tsv)))
	fresh := true
	for lines.Scan() {
		f := strings.Split(lines.Text(), "\t")
		if f[0] != "5" {
			fresh = true
			continue
		}
		n := func(i int) float64 { x, _ := strconv.ParseFloat(f[i], 64); return x }
		c := cell{int(n(1)), n(6), n(7), n(8), n(9), f[11]}
		if k := len(out) - 1; !fresh && c.X-out[k].X-out[k].W < 4 {
			out[k].Text, out[k].W = out[k].Text+" "+c.Text, c.X+c.W-out[k].X
			continue
		}
		fresh = false
		out = append(out, c)
	}
	return out, nil
}

func tables(pdf, folder string) error {
	all, err := cells(pdf)
	if err != nil {
		return err
	}
	var tex, web strings.Builder
	tex.WriteString("\\documentclass[a4paper]{article}\n\\usepackage[margin=1cm]{geometry}\n\\begin{document}\\tiny\\setlength{\\tabcolsep}{1pt}\n")
	web.WriteString("<html><meta charset=utf-8><body>\n")
	for from := 0; from < len(all); {
		to, most := from, 0
		for to < len(all) && all[to].Page == all[from].Page {
			to++
		}
		var rows [][]cell
		page := slices.Clone(all[from:to])
		slices.SortStableFunc(page, func(a, b cell) int { return cmp.Compare(math.Round(a.Y/6), math.Round(b.Y/6)) })
		for _, c := range page {
			if k := len(rows) - 1; k >= 0 && math.Round(rows[k][0].Y/6) == math.Round(c.Y/6) {
				rows[k] = append(rows[k], c)
			} else {
				rows = append(rows, []cell{c})
			}
			most = max(most, len(rows[len(rows)-1]))
		}
		fmt.Fprintf(&tex, "\\noindent\\begin{tabular}{|%s}\\hline\n", strings.Repeat("l|", most))
		web.WriteString("<table border=1 style='page-break-after:always;font-size:6pt'>\n")
		for _, row := range rows {
			slices.SortStableFunc(row, func(a, b cell) int { return cmp.Compare(a.X, b.X) })
			web.WriteString("<tr>")
			for i, c := range row {
				if i > 0 {
					tex.WriteString(" & ")
				}
				tex.WriteString(plainTeX(c.Text))
				fmt.Fprintf(&web, "<td>%s</td>", html.EscapeString(c.Text))
			}
			tex.WriteString(" \\\\ \\hline\n")
			web.WriteString("</tr>\n")
		}
		tex.WriteString("\\end{tabular}\\newpage\n")
		web.WriteString("</table>\n")
		from = to
	}
	tex.WriteString("\\end{document}\n")
	web.WriteString("</body></html>\n")
	fmt.Printf("%d cells on %d pages\n", len(all), all[len(all)-1].Page)
	return errors.Join(os.WriteFile(filepath.Join(folder, "tables.tex"), []byte(tex.String()), 0o666),
		os.WriteFile(filepath.Join(folder, "tables.html"), []byte(web.String()), 0o666))
}

// plainTeX is a text without what TeX takes for its own or has no letter for.
func plainTeX(s string) string {
	return strings.Map(func(r rune) rune {
		if r > '~' || strings.ContainsRune(`\{}$&#^_%~`, r) {
			return '-'
		}
		return r
	}, s)
}

// What fpdf writes for a page's texts, boxes and lines, as qpdf sets it out.
var (
	face  = regexp.MustCompile(`^BT /F(\w+) ([\d.]+) Tf ET$`)
	text  = regexp.MustCompile(`^(?:q ([\d.]+) g )?BT ([\d.]+) ([\d.]+) Td <([0-9a-f]*)> Tj ET(?: Q)?$`)
	box   = regexp.MustCompile(`^([\d.]+) ([\d.]+) ([\d.]+) -([\d.]+) re ([SfB])$`)
	state = regexp.MustCompile(`^([\d.]+) ([gGw])$`)
	rule  = regexp.MustCompile(`^([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S$`)
)

const pageHeight = 841.89

// plain writes the program that draws again what stands on the pages.
func plain(pdf, folder string) error {
	qdf, err := exec.Command("qpdf", "--qdf", "--object-streams=disable", pdf, "-").Output()
	if err != nil {
		return err
	}
	var out strings.Builder
	out.WriteString(`package main

import (
	"log"
	"os"
	"time"

	"github.com/go-pdf/fpdf"

	"shimcard/fonts"
)

func main() {
	p := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: 595.28, Ht: 841.89}})
	p.SetAutoPageBreak(false, 0)
	p.SetCatalogSort(true)
	p.SetCreationDate(time.Unix(0, 0))
	for i, f := range []fonts.Face{fonts.Regular, fonts.Bold, fonts.Condensed, fonts.CondensedBold} {
		p.AddUTF8FontFromBytes(string(rune('0'+i)), "", f.Data())
	}
`)
	pages, counts, known := 0, map[string]int{}, map[string]int{}
	inside := false
	for l := range strings.Lines(string(qdf)) {
		l = strings.TrimRight(l, "\n")
		switch {
		case strings.HasPrefix(l, "%% Contents for page "):
			inside = true
		case inside && l == "stream":
			pages++
			fmt.Fprintf(&out, "\tpage%d(p)\n", pages)
		case l == "endstream":
			inside = false
		}
	}
	out.WriteString("\tif err := p.OutputFileAndClose(os.Args[1]); err != nil {\n\t\tlog.Fatal(err)\n\t}\n}\n")
	pages, inside = 0, false
	drawing, grey, fill, raw := false, "", "0", []string(nil)
	for l := range strings.Lines(string(qdf)) {
		l = strings.TrimRight(l, "\n")
		if !drawing {
			inside = inside || strings.HasPrefix(l, "%% Contents for page ")
			if drawing = inside && l == "stream"; drawing {
				inside = false
				pages++
				fmt.Fprintf(&out, "\nfunc page%d(p *fpdf.Fpdf) {\n\tp.AddPage()\n", pages)
			}
			continue
		}
		f, t, b, r, st := face.FindStringSubmatch(l), text.FindStringSubmatch(l), box.FindStringSubmatch(l), rule.FindStringSubmatch(l), state.FindStringSubmatch(l)
		if len(raw) > 0 && (f != nil || t != nil || b != nil || r != nil || st != nil || l == "endstream") {
			fmt.Fprintf(&out, "\tp.RawWriteStr(%q)\n", strings.Join(raw, "\n"))
			counts["other lines"] += len(raw)
			raw = nil
		}
		switch {
		case l == "endstream":
			out.WriteString("}\n")
			drawing = false
		case f != nil:
			if _, ok := known[f[1]]; !ok {
				known[f[1]] = len(known) % 4
			}
			fmt.Fprintf(&out, "\tp.SetFont(\"%d\", \"\", %s)\n", known[f[1]], f[2])
		case t != nil:
			counts["texts"]++
			if t[1] == "" {
				t[1] = fill
			}
			if grey != t[1] {
				grey = t[1]
				fmt.Fprintf(&out, "\tp.SetTextColor(%[1]d, %[1]d, %[1]d)\n", int(math.Round(255*number(grey))))
			}
			fmt.Fprintf(&out, "\tp.Text(%s, %.2f, %q)\n", t[2], pageHeight-number(t[3]), decoded(t[4]))
		case st != nil && st[2] == "w":
			fmt.Fprintf(&out, "\tp.SetLineWidth(%s)\n", st[1])
		case st != nil:
			call := "SetDrawColor"
			if st[2] == "g" {
				call, fill = "SetFillColor", st[1]
			}
			fmt.Fprintf(&out, "\tp.%s(%[2]d, %[2]d, %[2]d)\n", call, int(math.Round(255*number(st[1]))))
		case b != nil:
			counts["boxes"]++
			fmt.Fprintf(&out, "\tp.Rect(%s, %.2f, %s, %s, %q)\n", b[1], pageHeight-number(b[2]), b[3], b[4], map[string]string{"S": "D", "f": "F", "B": "FD"}[b[5]])
		case r != nil:
			counts["lines"]++
			fmt.Fprintf(&out, "\tp.Line(%s, %.2f, %s, %.2f)\n", r[1], pageHeight-number(r[2]), r[3], pageHeight-number(r[4]))
		default:
			raw = append(raw, l)
		}
	}
	fmt.Println(pages, "pages drawn again:", counts)
	return os.WriteFile(filepath.Join(folder, "plain.go"), []byte(out.String()), 0o666)
}

func number(s string) float64 {
	x, _ := strconv.ParseFloat(s, 64)
	return x
}

// decoded is a text of UTF-16 in hexadecimal.
func decoded(s string) string {
	data, _ := hex.DecodeString(s)
	var u []uint16
	for i := 0; i+1 < len(data); i += 2 {
		u = append(u, uint16(data[i])<<8|uint16(data[i+1]))
	}
	return string(utf16.Decode(u))
}
