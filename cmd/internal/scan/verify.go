package scan

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"shimcard/packet"
	"shimcard/packet/codes"
	"shimcard/packet/pictures"
)

// ErrDiffer ends a verification in which something does not belong together.
var ErrDiffer = errors.New("does not belong together")

const claim = `This shows integrity, not authorship: that paper, readings and spec belong
together, not who made them.`

// Verify is the verify command of benchreport.
func Verify() *cobra.Command {
	var jobs string
	c := &cobra.Command{
		Use:   "verify REPORT.pdf | PICTURE...",
		Short: "say whether report, readings and spec belong together",
		Long: `Verify reads a report's PDF, or pictures of its pages, and says whether report,
readings and spec belong together: whether the digest printed on the pages is
that of the data, whether the results follow from the readings, whether the pages
look as the data makes them, and whether the job's folder, where there is one,
still says the same. What differs is named. Of pictures and scans, and of a PDF
that has neither its attached files nor its page of symbols, only the symbols are
read, not the figures beside them.
` + claim + `
Exit status: 0 they belong together, 1 they do not, or it cannot be said, 2 bad input.`,
		Example: "  benchreport verify jobs/26-0412-B/report.pdf\n  benchreport verify page1.jpg page7.jpg",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("name a report's PDF or pictures of its pages: benchreport verify report.pdf")
			}
			v := &verifier{out: c.OutOrStdout(), jobs: jobs}
			for _, a := range args {
				l, err := lay(a)
				if err == nil {
					err = v.take(l)
				}
				if err != nil {
					return err
				}
			}
			return v.judge()
		},
	}
	c.Flags().StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	return c
}

type verifier struct {
	out     io.Writer
	jobs    string
	sets    sets
	records []packet.Record
	pages   []codes.Page
	files   []laid   // of documents with a record attached, or PDFs without
	symbols []string // of files of which only the symbols were read
	compare int      // what could be compared
	wrong   int
}

func (v *verifier) take(l laid) error {
	for _, f := range l.foreign {
		fmt.Fprintf(v.out, "passed over  %s\n", f)
	}
	if l.pdf != nil {
		v.files = append(v.files, l)
	} else if l.found != nil {
		v.symbols = append(v.symbols, l.name)
	}
	if l.record != nil {
		v.records = append(v.records, *l.record)
		return nil
	}
	for _, s := range l.scans {
		switch {
		case s.Part != nil:
			if _, _, err := v.sets.add(s); err != nil {
				return err
			}
		case s.Page != nil:
			v.pages = append(v.pages, *s.Page)
		}
	}
	return nil
}

func (v *verifier) say(what string, agrees bool, detail string) {
	v.compare++
	word := "agrees "
	if !agrees {
		word = "DIFFERS"
		v.wrong++
	}
	if detail != "" {
		detail = ": " + detail
	}
	fmt.Fprintf(v.out, "%s  %s%s\n", word, what, detail)
}

// judge compares what was taken, and says what came of it.
func (v *verifier) judge() error {
	for _, g := range v.sets.all {
		if !g.Complete() {
			fmt.Fprintf(v.out, "left out job %s: symbols %v\n", g.Set().Number, g)
			continue
		}
		r, err := record(g)
		if err != nil {
			return err
		}
		v.records = append(v.records, r)
	}
	for _, l := range v.files {
		if err := v.document(l); err != nil {
			return err
		}
	}
	seen := map[string]bool{}
	for _, r := range v.records {
		if seen[r.Digest()] {
			continue
		}
		seen[r.Digest()] = true
		if err := v.record(r); err != nil {
			return err
		}
	}
	if len(v.records) == 0 {
		if err := v.onlyPages(); err != nil {
			return err
		}
	}
	if v.symbols != nil {
		fmt.Fprintf(v.out, "not compared  the figures printed on the pages of %s: only their symbols were read; lay them beside the report's PDF\n", strings.Join(v.symbols, ", "))
	}
	fmt.Fprintln(v.out, claim)
	switch {
	case v.compare == 0:
		fmt.Fprintln(v.out, "Nothing could be compared: give the report's PDF, its page of symbols, or the job's folder with --jobs.")
		return ErrDiffer
	case v.wrong > 0:
		return ErrDiffer
	}
	return nil
}

// record compares a record with the pages and with the job's folder.
func (v *verifier) record(r packet.Record) error {
	fmt.Fprintf(v.out, "job %s\n", r.Number)
	checks, err := r.Verify(v.pages)
	if err != nil {
		return err
	}
	dir, err := packet.Find(v.jobs, r.Number)
	if err != nil {
		return err
	}
	if dir != "" {
		more, err := r.Compare(dir)
		if err != nil {
			return err
		}
		checks = append(checks, more...)
	}
	for _, c := range checks {
		v.say(c.What, c.Agrees, c.Detail)
	}
	if dir == "" {
		fmt.Fprintf(v.out, "no folder of the job below %s to compare with\n", v.jobs)
	}
	return nil
}

// document compares a PDF with what its data prints: the data attached to it, else
// those that the symbols give.
func (v *verifier) document(l laid) error {
	if l.record != nil {
		return v.looks(&l, *l.record)
	}
	scans, err := pictures.Pictured(l.name, l.pdf)
	if err != nil {
		return err
	}
	compared := false
	for _, r := range v.records {
		at, twice := l.pagesOf(r)
		maps.DeleteFunc(at, func(_, n int) bool { return scans[n] })
		if len(at) > 0 {
			compared = true
			if err := v.differ(&l, r, at, twice, false); err != nil {
				return err
			}
		}
	}
	if !compared || len(scans) > 0 {
		v.symbols = append(v.symbols, l.name)
	}
	return nil
}

const looksAlike = "every page looks as its data prints it"

// looks compares a PDF with the data attached to it.
func (v *verifier) looks(l *laid, r packet.Record) error {
	printed, err := r.Reprint()
	if err != nil {
		return err
	}
	if bytes.Equal(printed, l.pdf) {
		v.say(looksAlike+", to the byte", true, "")
		return nil
	}
	results, err := r.Data()
	if err != nil {
		return err
	}
	if results != nil {
		differ := firstDifference(l.results, results)
		v.say(packet.ResultsFile+" attached, and as worked out now", differ == "", differ)
	}
	if err := l.look(l.pdf); err != nil {
		return err
	}
	at, twice := l.pagesOf(r)
	for _, s := range l.scans {
		if s.Page != nil && s.Number == r.Number && s.Page.Document == r.Document {
			v.pages = append(v.pages, *s.Page)
		}
	}
	return v.differ(l, r, at, twice, true)
}

// pagesOf finds the pages of a record's document in a PDF: page of the file by
// page of the document, and which are there twice.
func (l *laid) pagesOf(r packet.Record) (at map[int]int, twice []string) {
	at = map[int]int{}
	for _, f := range l.found {
		if s, err := codes.Read(f.Text); err == nil && s.Page != nil && s.Number == r.Number && s.Page.Document == r.Document {
			if before, ok := at[s.Page.Page]; ok {
				twice = append(twice, fmt.Sprintf("page %d is there twice, as pages %d and %d of the file", s.Page.Page, before, f.Page))
			}
			at[s.Page.Page] = f.Page
		}
	}
	return at, twice
}

// differ compares the look of a PDF's pages with a record's document printed now.
// whole: a page that is not there is a difference.
func (v *verifier) differ(l *laid, r packet.Record, at map[int]int, wrong []string, whole bool) error {
	if len(at) == 0 {
		v.say(looksAlike, false, "no page of it could be read")
		return nil
	}
	printed, err := r.Reprint()
	if err != nil {
		return err
	}
	differ, missing, err := pictures.Differ(l.name, l.pdf, printed, at)
	if err != nil {
		return err
	}
	if whole {
		for _, n := range missing {
			wrong = append(wrong, fmt.Sprintf("page %d is not there, or its symbol is not read", n))
		}
	}
	wrong = append(wrong, differ...)
	what := looksAlike
	if !whole && missing != nil {
		what = "every page that is there looks as its data prints it"
	}
	// What else the file holds, an invoice say, is nobody's to vouch for.
	v.say(fmt.Sprintf("%s (of the file %s)", what, counted(slices.Sorted(maps.Values(at)))), wrong == nil, strings.Join(wrong, "; "))
	return nil
}

// counted writes page numbers in ascending order: "pages 2 to 8".
func counted(pages []int) string {
	var runs []string
	for i := 0; i < len(pages); {
		k := i
		for k+1 < len(pages) && pages[k+1] == pages[k]+1 {
			k++
		}
		run := strconv.Itoa(pages[i])
		if k > i {
			run += " to " + strconv.Itoa(pages[k])
		}
		runs = append(runs, run)
		i = k + 1
	}
	return "pages " + strings.Join(runs, ", ")
}

// firstDifference names the first line in which two texts differ, "" when they
// are the same.
func firstDifference(attached, now []byte) string {
	if bytes.Equal(attached, now) {
		return ""
	}
	a, b := strings.Split(string(attached), "\n"), strings.Split(string(now), "\n")
	i := 0
	for i < min(len(a), len(b))-1 && a[i] == b[i] {
		i++
	}
	return fmt.Sprintf("line %d: attached %.80q, worked out now %.80q; changed since, or worked out by another version", i+1, a[i], b[i])
}

// onlyPages compares pages with the folders of their jobs.
func (v *verifier) onlyPages() error {
	for _, p := range v.pages {
		what := fmt.Sprintf("job %s, page %d of its report", p.Number, p.Page)
		switch dir, err := packet.Find(v.jobs, p.Number); {
		case err != nil:
			return err
		case p.Document == codes.Traveller:
			fmt.Fprintf(v.out, "job %s, page %d of its packet: nothing on it to compare; only reports carry a digest\n", p.Number, p.Page)
		case dir == "":
			fmt.Fprintf(v.out, "%s: no folder below %s\n", what, v.jobs)
		default:
			now, err := packet.DigestIn(dir)
			if err != nil {
				return err
			}
			differ := ""
			if now != p.Digest {
				differ = fmt.Sprintf("the page says %s, the folder makes %s; give the report's page of symbols or its PDF to see what differs", packet.Grouped(p.Digest), packet.Grouped(now))
			}
			v.say(what+": its digest and that of "+dir, differ == "", differ)
		}
	}
	return nil
}
