package packet

import (
	"bytes"
	"fmt"
	"strings"

	"shimcard/packet/codes"
)

// Verified is one thing that was compared, and what came of it.
type Verified struct {
	What   string
	Agrees bool
	Detail string // what differs, or what could not be compared
}

// Verify tells whether what a record holds belongs together: the results follow
// from the readings, and the printed digest is the record's own. printed are the
// page symbols read from the document, if any.
func (r Record) Verify(printed []codes.Page) ([]Verified, error) {
	var out []Verified
	digest := r.Digest()
	if r.Document == codes.Report {
		var wrong []string
		pages := 0
		for _, p := range printed {
			if p.Document != codes.Report {
				continue
			}
			pages++
			if p.Number != r.Number || p.Digest != digest {
				wrong = append(wrong, fmt.Sprintf("page %d says job %s, digest %s", p.Page, p.Number, Grouped(p.Digest)))
			}
		}
		if pages > 0 {
			out = append(out, Verified{fmt.Sprintf("digest in the symbols of %d pages, and of the data: %s", pages, Grouped(digest)), wrong == nil, strings.Join(wrong, "; ")})
		}
	}
	job, err := r.Job()
	if err != nil {
		return nil, err
	}
	readings, err := r.readings(job)
	if err != nil || readings == nil {
		return out, err
	}
	what := "the results follow from the readings, the spec and the shop file"
	if doubts := stopping(job.Doubts(readings)); len(doubts) > 0 {
		return append(out, Verified{what, false, "the readings hold figures that no report is made from: " + doubts[0].String()}), nil
	}
	differ := differences(r.file(RecordedResults), job.Judge(readings).lines(), "the report has", "worked out now")
	if differ != "" {
		differ += "; changed since, or worked out by another version"
	}
	return append(out, Verified{what, differ == "", differ}), nil
}

// Reprint is the document of a record as it is printed now.
func (r Record) Reprint() ([]byte, error) {
	job, res, err := r.results()
	switch {
	case err != nil:
		return nil, err
	case res == nil:
		return job.Traveller()
	}
	return job.ReportPDF(res)
}

// Data is what a report's record makes of ResultsFile now, nil for a packet.
func (r Record) Data() ([]byte, error) {
	job, res, err := r.results()
	if err != nil || res == nil {
		return nil, err
	}
	return job.data(res)
}

// results are what the record's readings come to now, nil when it has none.
func (r Record) results() (*Job, *Results, error) {
	job, err := r.Job()
	if err != nil {
		return nil, nil, err
	}
	readings, err := r.readings(job)
	if err != nil || readings == nil {
		return job, nil, err
	}
	res := job.Judge(readings)
	res.Issue, err = r.issue()
	return job, res, err
}

// Compare tells in what a record differs from what lies in the job's folder now.
func (r Record) Compare(dir string) ([]Verified, error) {
	folder, err := recordIn(dir, r.Document)
	if err != nil {
		return nil, err
	}
	var out []Verified
	for _, f := range r.Files {
		theirs := folder.file(f.Name)
		what := fmt.Sprintf("%s here and in %s", f.Name, dir)
		if f.Name == RecordedResults {
			what = "the results here and those of the folder's readings"
		}
		differ := ""
		if !bytes.Equal(f.Data, theirs) {
			differ = differences(f.Data, theirs, "here", "folder")
		}
		out = append(out, Verified{what, differ == "", differ})
	}
	return out, nil
}

// DigestIn is the digest of a report that would be made of a job folder now, of
// the issue it would be.
func DigestIn(dir string) (string, error) {
	r, err := recordIn(dir, codes.Report)
	if err != nil {
		return "", err
	}
	return r.Digest(), nil
}

// recordIn is the record of a job folder as it is now.
func recordIn(dir string, document byte) (Record, error) {
	job, err := Open(dir)
	if err != nil || document == codes.Traveller {
		if err != nil {
			return Record{}, err
		}
		return job.record(), nil
	}
	t, err := job.typing(dir, "", FormFile, HistoryFile)
	if err != nil {
		return Record{}, err
	}
	res := job.Judge(t.Readings)
	last, err := lastIssue(dir)
	if err != nil {
		return Record{}, err
	}
	job.issue(res, last)
	return job.reportRecord(res), nil
}

// differences names the first few lines in which two texts differ, by what a
// line begins with where that is a box.
func differences(a, b []byte, here, there string) string {
	const most = 5
	byKey := func(text []byte) (keys []string, lines map[string]string) {
		lines = map[string]string{}
		n := 0
		for line := range strings.Lines(string(text)) {
			n++
			line = strings.TrimRight(line, "\r\n")
			key, _, ok := strings.Cut(line, ":")
			if !ok {
				key, _, ok = strings.Cut(line, ";")
			}
			if _, twice := lines[key]; !ok || twice || strings.HasPrefix(line, " ") || strings.HasPrefix(line, "#") {
				key = fmt.Sprintf("line %d", n)
			}
			keys, lines[key] = append(keys, key), line
		}
		return keys, lines
	}
	keys, mine := byKey(a)
	others, theirs := byKey(b)
	var out []string
	add := func(key string) {
		x, ok1 := mine[key]
		y, ok2 := theirs[key]
		if !ok1 {
			x = "nothing"
		}
		if !ok2 {
			y = "nothing"
		}
		if x != y {
			out = append(out, fmt.Sprintf("%s: %s %q, %s %q", key, here, x, there, y))
		}
	}
	for _, k := range keys {
		add(k)
	}
	for _, k := range others {
		if _, ok := mine[k]; !ok {
			add(k)
		}
	}
	if n := len(out) - most; n > 0 {
		out = append(out[:most], fmt.Sprintf("and %d more", n))
	}
	return strings.Join(out, "; ")
}
