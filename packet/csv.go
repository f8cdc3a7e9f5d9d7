package packet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"shimcard/calc"
	"shimcard/specs/strict"
)

// The columns of a CSV file. Box and value must be there; label, unit and window
// are for the reader's eyes.
const (
	csvBox     = "box"
	csvValue   = "value"
	csvConfirm = "confirmed"
	csvRemark  = "remark"
)

var csvColumns = []string{csvBox, "label", "unit", csvValue, csvConfirm, csvRemark, "window"}

// CSV is what is typed in a job's form as a table for a spreadsheet, a row for
// each box, in sheet order below a line that names the columns: RFC 4180 in UTF-8
// with its mark, and with semicolons where the shop writes a decimal comma. A
// text that a spreadsheet would take for a formula has a ' before it.
func (t *Typing) CSV() []byte {
	var out bytes.Buffer
	out.WriteString("\uFEFF")
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	if t.Shop.DecimalComma {
		w.Comma = ';'
	}
	_ = w.Write(csvColumns) // a buffer takes all
	for _, b := range t.Boxes() {
		e := t.Readings.Entries[b.Code]
		value, confirmed := e.Text, ""
		if b.Kind == Number {
			if x, decimals, err := calc.ParseNumber(minusSigns(e.Text)); err == nil {
				value = t.Mark(strings.ReplaceAll(calc.Fixed(x, decimals), "−", "-"))
			} else {
				value = noFormula(value)
			}
		} else {
			value = noFormula(value)
		}
		if e.Confirmed {
			confirmed = "yes"
		}
		_ = w.Write([]string{b.Code, noFormula(b.Label), b.Printer.Unit(b.Unit.Symbol), value, confirmed, noFormula(e.Remark), b.Window()})
	}
	w.Flush()
	return out.Bytes()
}

// noFormula keeps a text from being one to a spreadsheet; formulaOff undoes it.
func noFormula(s string) string {
	if s != "" && strings.Contains("=+-@'\t\r", s[:1]) {
		return "'" + s
	}
	return s
}

func formulaOff(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.Contains("=+-@'\t\r", s[1:2]) {
		return s[1:]
	}
	return s
}

// readCSV reads a table as CSV writes it, from whatever spreadsheet: commas,
// semicolons or tabs between its columns, which may stand in any order and be
// more. It returns, by box code, the texts of those that have one, as they stand in a form.
// Errors are strict.Faults.
func (j *Job) readCSV(file string, data []byte) (map[string]string, error) {
	var faults strict.Faults
	fault := func(line, column int, field, found, want string) {
		faults = append(faults, strict.Fault{File: file, Line: line, Column: column, Field: field, Found: found, Want: want})
	}
	if !utf8.Valid(data) {
		fault(0, 0, "", "a text that is not UTF-8", "the table again, saved as CSV in UTF-8")
		return nil, faults
	}
	text := strings.TrimPrefix(string(data), "\uFEFF")
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	head, _, _ := strings.Cut(text, "\n")
	for _, c := range ",;\t" {
		if strings.Count(head, string(c)) > strings.Count(head, string(r.Comma)) {
			r.Comma = c
		}
	}
	byCode := map[string]*Box{}
	for _, b := range j.Boxes() {
		byCode[strings.ToUpper(b.Code)] = b
	}
	rows, err := csvRows(r)
	if err != nil {
		var e *csv.ParseError
		if errors.As(err, &e) {
			fault(e.Line, e.Column, "", e.Err.Error(), "the table again, saved as CSV")
			return nil, faults
		}
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if len(rows) == 0 {
		fault(0, 0, "", "an empty file", "a line that names the columns: "+strings.Join(csvColumns, ", "))
		return nil, faults
	}
	column := map[string]int{}
	for i, name := range rows[0].fields {
		column[strings.ToLower(strings.TrimSpace(plainText(name)))] = i
	}
	for _, need := range []string{csvBox, csvValue} {
		if _, ok := column[need]; !ok {
			fault(1, 1, "", "no column "+need, "a first line that names the columns: "+strings.Join(csvColumns, ", "))
		}
	}
	if faults != nil {
		return nil, faults
	}
	out, seen := map[string]string{}, map[*Box]int{}
	for _, row := range rows[1:] {
		cell := func(name string) string {
			if i, ok := column[name]; ok && i < len(row.fields) {
				return oneLine(formulaOff(row.fields[i]))
			}
			return ""
		}
		code, value := cell(csvBox), cell(csvValue)
		if code == "" && strings.TrimSpace(strings.Join(row.fields, "")) == "" {
			continue
		}
		b := byCode[strings.ToUpper(code)]
		if b == nil {
			fault(row.line, row.at(column[csvBox]), csvBox, fmt.Sprintf("%q", code), "a box code of this job, such as "+j.Stages[0].Boxes()[0].Code)
			continue
		}
		if at, twice := seen[b]; twice {
			fault(row.line, row.at(column[csvBox]), csvBox, fmt.Sprintf("%s a second time (first in line %d)", b.Code, at), "it once")
			continue
		}
		seen[b] = row.line
		e := Entry{Text: value, Remark: cell(csvRemark)}
		switch strings.ToLower(cell(csvConfirm)) {
		case "":
		case "yes", "ja", "x", "!", "true":
			e.Confirmed = true
		default:
			fault(row.line, row.at(column[csvConfirm]), b.Code, fmt.Sprintf("%q", cell(csvConfirm)), "yes, or nothing")
		}
		raw := b.asTyped(e)
		if raw == "" {
			continue
		}
		if found, want := b.read(raw, &Entry{}); want != "" {
			fault(row.line, row.at(column[csvValue]), b.Code, fmt.Sprintf("%q", found), want)
			continue
		}
		out[b.Code] = raw
	}
	if faults != nil {
		return nil, faults
	}
	return out, nil
}

type csvRow struct {
	fields  []string
	line    int
	columns []int // where the fields begin
}

func (r csvRow) at(field int) int {
	if field < len(r.columns) {
		return r.columns[field]
	}
	return 0
}

func csvRows(r *csv.Reader) ([]csvRow, error) {
	var rows []csvRow
	for {
		fields, err := r.Read()
		if len(fields) > 0 {
			row := csvRow{fields: fields}
			for i := range fields {
				line, column := r.FieldPos(i)
				if i == 0 {
					row.line = line
				}
				row.columns = append(row.columns, column)
			}
			rows = append(rows, row)
		}
		if err != nil {
			if errors.Is(err, io.EOF) {
				return rows, nil
			}
			return nil, err
		}
	}
}

// asTyped is an entry as one text in the form.
func (b *Box) asTyped(e Entry) string {
	if b.Kind == Text {
		return e.Text
	}
	s := e.Text
	if e.Confirmed {
		s = strings.TrimSpace(s + " !")
	}
	if e.Remark != "" {
		s = strings.TrimSpace(s + " (" + e.Remark + ")")
	}
	return s
}

// PutCSV puts what a table holds into the form, and says how many boxes changed.
// A value left blank leaves that of its box as it is; a remark beside it is put in.
func (t *Typing) PutCSV(f File) (changed int, err error) {
	in, err := t.readCSV(f.Name, f.Data)
	if err != nil {
		return 0, err
	}
	err = t.alone(func() error {
		for _, b := range t.Boxes() {
			raw, ok := in[b.Code]
			var e Entry
			now := t.Readings.Entries[b.Code]
			if b.read(raw, &e); ok && e.Blank() && now.Text != "" { // only a remark, or confirmed
				e.Text, e.Confirmed = now.Text, e.Confirmed || now.Confirmed
				in[b.Code] = b.asTyped(e)
				b.read(in[b.Code], &e)
			}
			if ok && b.same(now, e) {
				delete(in, b.Code)
			}
		}
		if len(in) == 0 {
			return nil
		}
		return t.putAll(in, FromCSV, f.Name)
	})
	if err != nil {
		return 0, err
	}
	return len(in), nil
}
