package packet

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"shimcard/packet/codes"
)

// RecordedResults is the name of the results in a record: one line for each
// item, box;verdict;found;left;uncertainty, after a line with the overall verdict.
const RecordedResults = "results.txt"

// Record is all that a document rests on. The traveller's is the intake, the
// spec and the shop file as they were frozen; a report's has the readings and
// the results besides, the facts of its issue, and corrections where there are any. The symbols printed on the document carry it, its digest
// stands in the foot of every page of a report, and a job folder can be made
// from it.
type Record struct {
	Number   string
	Document byte // codes.Traveller or codes.Report
	Files    []codes.File
}

// record is what the traveller rests on.
func (j *Job) record() Record {
	r := Record{Number: j.Number, Document: codes.Traveller}
	for i, name := range []string{IntakeFile, SpecFile, ShopFile} {
		r.Files = append(r.Files, codes.File{Name: name, Data: j.files[i].Data})
	}
	return r
}

// reportRecord is what a report of these results rests on.
func (j *Job) reportRecord(res *Results) Record {
	r := j.record()
	r.Document = codes.Report
	r.Files = append(r.Files,
		codes.File{Name: FormFile, Data: j.plainForm(res.readings)},
		codes.File{Name: RecordedResults, Data: res.lines()})
	if facts := res.Issue.file(); facts != nil {
		r.Files = append(r.Files, codes.File{Name: IssueFile, Data: facts})
	}
	if kept := res.kept(); kept != nil {
		r.Files = append(r.Files, codes.File{Name: HistoryFile, Data: kept})
	}
	return r
}

// data are a report's results as ResultsFile has them, with the digest of what they
// rest on.
func (j *Job) data(res *Results) ([]byte, error) {
	res.Digest = j.reportRecord(res).Digest()
	return res.JSON()
}

// Digest tells one record from another; it stands in the foot of a report's
// pages and in their symbols.
func (r Record) Digest() string { return codes.Digest(r.Number, r.Document, r.Files) }

// file is the named file of a record, nil when there is none.
func (r Record) file(name string) []byte {
	for _, f := range r.Files {
		if f.Name == name {
			return f.Data
		}
	}
	return nil
}

// plainForm is the typing form with nothing in it but what was typed: short
// enough for the symbols, and still a form.
func (j *Job) plainForm(r *Readings) []byte {
	var w bytes.Buffer
	fmt.Fprintf(&w, "form: 1\njob: %s\nedition: %d\n", j.Number, Edition)
	if r.TypedBy != "" {
		fmt.Fprintf(&w, "typed by: %s\n", formValue(r.TypedBy))
	}
	for _, b := range j.Boxes() {
		if raw := r.Entries[b.Code].Raw; raw != "" {
			fmt.Fprintf(&w, "%s: %s\n", b.Code, formValue(raw))
		}
	}
	return w.Bytes()
}

// documented are readings as documents hold them, so that another way to type the
// same, 1,5 for 1.50, changes no report. The hours are left out: they are the shop's
// own, for the invoice.
func (j *Job) documented(r *Readings) *Readings {
	out := *r
	out.Entries = make(map[string]Entry, len(r.Entries))
	for _, b := range j.Boxes() {
		if e, ok := r.Entries[b.Code]; ok && b != j.Hours {
			out.Entries[b.Code] = b.documented(e)
		}
	}
	return &out
}

func (b *Box) documented(e Entry) Entry {
	switch {
	case b.Kind == Text:
		return e
	case e.Blank():
	case b.Kind == Number:
		_, digits, _ := strings.Cut(strconv.FormatFloat(e.Number, 'f', -1, 64), ".")
		e.Text = strconv.FormatFloat(e.Number, 'f', max(b.Decimals, len(digits)), 64)
	case b.Kind == Tick && e.Yes:
		e.Text = "yes"
	case b.Kind == Tick:
		e.Text = "no"
	}
	e.Raw = e.Text
	if e.Confirmed {
		e.Raw += " !"
	}
	if e.Remark != "" {
		e.Raw += " (" + e.Remark + ")"
	}
	e.Raw = strings.TrimSpace(e.Raw)
	return e
}

// fullForm is the typing form with what was typed in it, as Form writes it.
func (j *Job) fullForm(r *Readings) []byte {
	form := Form(j.Number, j.Plan, func(b *Box) string { return formValue(r.Entries[b.Code].Raw) })
	if r.TypedBy != "" {
		form = typedBy(form, r.TypedBy)
	}
	return form
}

// lines are the results as a record carries them.
func (r *Results) lines() []byte {
	var w bytes.Buffer
	fmt.Fprintf(&w, "%s;%d;%d\n", r.Overall, r.Met, r.Count)
	figure := func(x *float64, decimals int) string {
		if x == nil {
			return ""
		}
		return strconv.FormatFloat(*x, 'f', decimals, 64)
	}
	for _, it := range r.Items {
		fmt.Fprintf(&w, "%s;%s;%s;%s;%s%s\n", it.Code, it.Verdict, figure(it.Found, it.Decimals), figure(it.Left, it.Decimals), figure(it.U, it.Decimals+1), it.Seen)
	}
	return w.Bytes()
}
