package packet

import (
	"bytes"
	"encoding/csv"
	"strconv"
)

// LinesFile is what was done, for the program that writes the invoice.
const LinesFile = "lines.csv"

// bookColumns name the columns of LinesFile: the job, whether the line is work, a
// shim taken from the tray or a part, the box it rests on where there is one, what
// it is in the shop's language, how many, and of what.
var bookColumns = []string{"job", "serial", "kind", "box", "what", "quantity", "unit"}

// bookLines are the work done, the shims taken from the trays and the parts drawn,
// a line each below a line that names the columns: RFC 4180 in UTF-8, figures with
// a point. Shims that went back into the pump are none; nor are parts that nobody
// ticked as drawn. A text that a spreadsheet would take for a formula has a '
// before it.
func (j *Job) bookLines(r *Results) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	_ = w.Write(bookColumns) // a buffer takes all
	line := func(kind, box, what string, quantity float64, unit string) {
		_ = w.Write([]string{j.Number, noFormula(j.Intake.Pump.Serial), kind, box, noFormula(what), strconv.FormatFloat(quantity, 'f', -1, 64), unit})
	}
	line("work", "", j.Intake.Authorised.Work, 1, "job")
	for _, it := range r.Items {
		if it.Group == Settings && it.Found != nil && it.Change != unchanged {
			line("work", it.Code, it.Name+": "+it.change(), 1, "setting")
		}
	}
	run := 0.0
	for _, d := range r.Left {
		if d.Mean != nil {
			run++
		}
	}
	if run > 0 {
		line("work", "", r.T("bench run, %d of %d delivery points", int(run), len(r.Left)), 1, "run")
	}
	if !r.hours.Blank() {
		line("work", j.Hours.Code, j.Hours.Label, r.hours.Number, j.Hours.Unit.Symbol)
	}
	shims, _ := j.Shims(r.readings) // what cannot be told, stock names
	for _, s := range shims {
		if n := s.used(); n > 0 {
			line("shim", "", s.Tray+" "+s.Size, float64(n), "piece")
		}
	}
	if r.PartsDrawn {
		for _, p := range r.Parts {
			line("part", "", p.What, p.Quantity, "piece")
		}
	}
	w.Flush()
	return out.Bytes()
}
