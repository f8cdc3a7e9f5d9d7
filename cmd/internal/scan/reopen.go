package scan

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/cli/browser"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"shimcard/packet"
	"shimcard/packet/codes"
)

// Reopen is the reopen command of traveller or of benchreport.
func Reopen(name string) *cobra.Command {
	var jobs, open string
	var pages []string
	c := &cobra.Command{
		Use:   "reopen [CODE | PICTURE | PDF]...",
		Short: "get from a page, a picture of it or its PDF back to the job",
		Long: `Reopen says which job and page it was given, how far the job has come and what
comes next. It takes what a scanner types or a person reads off a page, pictures
of pages (photo or scan), and the PDF files themselves. Where the job has no
folder any more, the symbols of its last page, in any order and over as many
pictures as you like, or a PDF of it, make the folder again. Without an argument
it waits for scans, one after another, until "stop".`,
		Example: fmt.Sprintf(`  %[1]s reopen 260412BT07Z
  %[1]s reopen 26-0412-B --pages H
  %[1]s reopen photo1.jpg photo2.jpg
  %[1]s reopen                                  then scan`, name),
		RunE: func(c *cobra.Command, args []string) error {
			d := &desk{out: c.OutOrStdout(), jobs: jobs}
			if len(args) == 0 {
				if len(pages) > 0 || open != "" {
					return errors.New("--pages and --open go with a code or a picture; while waiting for scans, type print or open, and what")
				}
				return d.wait(c.InOrStdin())
			}
			for _, a := range args {
				l, err := lay(a)
				if err == nil {
					err = d.take(l)
				}
				if err != nil {
					return err
				}
			}
			if err := d.finish(); err != nil {
				return err
			}
			if len(pages) > 0 {
				if err := d.print(pages); err != nil {
					return err
				}
			}
			if open != "" {
				return d.open(open)
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	f.StringSliceVar(&pages, "pages", nil, "print pages of the job again: stages such as H,M, cover, symbols, page numbers, or this for the page scanned")
	f.StringVar(&open, "open", "", "open with the desktop's program: packet, readings, report or folder")
	return c
}

// desk is where scans are laid down.
type desk struct {
	out  io.Writer
	jobs string
	sets sets
	seen []sighting  // what was laid down and is not yet told of
	job  *packet.Job // last reopened, nil when it has no folder
	dir  string
	page int  // of the traveller, last scanned; 0 none
	any  bool // job with a folder was shown
}

// sighting is a job and the pages of it that were seen, if any.
type sighting struct {
	number string
	pages  []codes.Page
}

func (d *desk) saw(number string, pages ...codes.Page) {
	i := slices.IndexFunc(d.seen, func(s sighting) bool { return s.number == number })
	if i < 0 {
		i = len(d.seen)
		d.seen = append(d.seen, sighting{number: number})
	}
	d.seen[i].pages = append(d.seen[i].pages, pages...)
}

// tell tells of all that was seen since.
func (d *desk) tell() error {
	var errs []error
	for _, s := range d.seen {
		errs = append(errs, d.show(s))
	}
	d.seen = nil
	return errors.Join(errs...)
}

// wait takes scans line by line until told to stop.
func (d *desk) wait(in io.Reader) error {
	f, ok := in.(interface{ Fd() uintptr })
	person := ok && term.IsTerminal(int(f.Fd()))
	if person {
		fmt.Fprintln(d.out, "Scan a page.   print: that page again   open: its packet   stop: end")
	}
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, 1<<20)
	failures := 0
	for lines.Scan() {
		text := strings.TrimSpace(lines.Text())
		if text == "" {
			continue
		}
		var failed error
		what, of, _ := strings.Cut(text, " ")
		switch strings.ToLower(what) {
		case "stop":
			return d.sets.unfinished()
		case "print":
			failed = d.print(strings.Split(cmp.Or(of, "this"), ","))
		case "open":
			failed = d.open(cmp.Or(strings.ToLower(strings.TrimSpace(of)), "packet"))
		default:
			var l laid
			if l, failed = lay(text); failed == nil {
				failed = errors.Join(d.take(l), d.tell())
			}
		}
		if failed != nil {
			failures++
			fmt.Fprintln(d.out, failed)
		}
	}
	err := errors.Join(lines.Err(), d.sets.unfinished())
	if failures > 0 && !person {
		err = errors.Join(err, fmt.Errorf("%d of the lines were not taken; they are named above", failures))
	}
	return err
}

// take deals with what one argument or scan came to.
func (d *desk) take(l laid) error {
	for _, f := range l.foreign {
		fmt.Fprintf(d.out, "passed over  %s\n", f)
	}
	if l.record != nil {
		return d.restore(*l.record)
	}
	for _, s := range l.scans {
		if s.Keyboard != "" {
			fmt.Fprintf(d.out, "note         %s: put right; better set the scanner to this computer's keyboard\n", s.Keyboard)
		}
		switch {
		case s.Part != nil:
			g, fresh, err := d.sets.add(s)
			if err != nil {
				return err
			}
			said := ""
			if !fresh {
				said = ", read before"
			}
			fmt.Fprintf(d.out, "symbol       %d of %d of job %s%s: %v\n", s.Part.Index, s.Part.Total, s.Number, said, g)
			if fresh && g.Complete() {
				rec, err := record(g)
				if err != nil {
					return err
				}
				if err := d.restore(rec); err != nil {
					return err
				}
			}
		case s.Page != nil:
			d.saw(s.Number, *s.Page)
		default:
			d.saw(s.Number)
		}
	}
	return nil
}

// restore makes a job's folder from its record, or says that it is there.
func (d *desk) restore(r packet.Record) error {
	dir, err := packet.Rebuild(d.jobs, r)
	switch {
	case errors.Is(err, fs.ErrExist):
		checks, err := r.Compare(dir)
		if err != nil {
			return err
		}
		agrees := true
		for _, v := range checks {
			if !v.Agrees {
				agrees = false
				fmt.Fprintf(d.out, "differs      %s: %s\n", v.What, v.Detail)
			}
		}
		if agrees {
			fmt.Fprintf(d.out, "folder       %s is there, and says the same\n", dir)
		} else {
			fmt.Fprintf(d.out, "folder       %s is there, and stays as it is; --jobs and another folder makes it again beside\n", dir)
		}
	case err != nil:
		return err
	default:
		fmt.Fprintf(d.out, "made again   %s\n", dir)
	}
	d.saw(r.Number)
	return nil
}

// show tells which job it is, how far it has come, and what is next.
func (d *desk) show(s sighting) error {
	dir, err := packet.Find(d.jobs, s.number)
	if err != nil {
		return err
	}
	d.job, d.dir, d.page = nil, dir, 0
	if dir == "" {
		none := fmt.Errorf("no folder below %s; name its place with --jobs, or scan the symbols of its last page and it is made again", d.jobs)
		if s.pages == nil {
			return fmt.Errorf("job %s: %w", s.number, none)
		}
		p := s.pages[len(s.pages)-1]
		fmt.Fprintf(d.out, "job          %s, page %d of its %s: %v\n", s.number, p.Page, document(p.Document), none)
		return nil
	}
	d.any = true
	tell(d.out, dir, false)
	if d.job, err = packet.Open(dir); err != nil {
		return err
	}
	state, bad := d.job.State(dir)
	in := d.job.Intake
	fmt.Fprintf(d.out, "job          %s: %s, serial %s, of %s\n", s.number, d.job.Spec.Pump.Name, in.Pump.Serial, in.Customer.Name)
	for _, p := range s.pages {
		if err := d.showPage(p); err != nil {
			return err
		}
	}
	if slices.ContainsFunc(s.pages, d.otherReadings) {
		fmt.Fprintln(d.out, "note         the readings in the folder are not those of this report: benchreport verify says more")
	}
	if bad != nil {
		fmt.Fprintf(d.out, "state        how far it is cannot be told:\n%v\nfolder       %s\n", bad, dir)
		return nil
	}
	fmt.Fprintf(d.out, "state        %d of %d boxes typed", state.Typed, state.Boxes)
	if state.Missing > 0 {
		fmt.Fprintf(d.out, ", %d required ones missing", state.Missing)
	}
	if state.Doubts > 0 {
		fmt.Fprintf(d.out, ", %d in doubt", state.Doubts)
	}
	switch {
	case state.Report == "":
		fmt.Fprint(d.out, "; no report yet")
	case state.Stale:
		fmt.Fprint(d.out, "; the report is older than the readings")
	default:
		fmt.Fprintf(d.out, "; report made: %s", state.Report)
	}
	fmt.Fprintf(d.out, "\nnext         %s\nfolder       %s\n", state.Next, dir)
	return nil
}

func document(kind byte) string {
	if kind == codes.Report {
		return "report"
	}
	return "packet"
}

func (d *desk) showPage(p codes.Page) error {
	if p.Document == codes.Report {
		fmt.Fprintf(d.out, "page         %d of a report\n", p.Page)
		return nil
	}
	d.page = p.Page
	what, of, err := d.job.PageOf(p.Page)
	if err != nil {
		return err
	}
	if what == "" {
		fmt.Fprintf(d.out, "page         %d, where the packet has %d: the paper is of another spec or version\n", p.Page, of)
		return nil
	}
	fmt.Fprintf(d.out, "page         %d of %d: %s\n", p.Page, of, what)
	return nil
}

// otherReadings tells whether a report's page says other than the folder does now.
func (d *desk) otherReadings(p codes.Page) bool {
	if p.Digest == "" { // a packet, or a report of an earlier version
		return false
	}
	now, err := packet.DigestIn(d.dir)
	return err != nil || now != p.Digest
}

// finish is for what arguments left open: what was seen, and symbols that lack others.
func (d *desk) finish() error {
	if err := errors.Join(d.tell(), d.sets.unfinished()); err != nil {
		return err
	}
	if !d.any {
		return fmt.Errorf("none of these jobs has a folder below %s", d.jobs)
	}
	return nil
}

// print prints pages of the job last reopened again.
func (d *desk) print(pages []string) error {
	if d.job == nil {
		return errors.New("scan a page of a job first")
	}
	for i, p := range pages {
		pages[i] = strings.TrimSpace(p)
		if strings.EqualFold(pages[i], "this") {
			if d.page == 0 {
				return errors.New("no page of a packet was scanned; name stages or page numbers")
			}
			pages[i] = strconv.Itoa(d.page)
		}
	}
	pdf, err := d.job.TravellerPages(pages)
	if err != nil {
		return err
	}
	name := filepath.Join(d.dir, "pages-"+strings.Join(pages, "-")+".pdf")
	if err := packet.WriteFile(name, pdf); err != nil {
		return err
	}
	fmt.Fprintf(d.out, "print        %s\n", name)
	return nil
}

// open opens a file of the job last reopened with the desktop's own program.
func (d *desk) open(what string) error {
	if d.job == nil {
		return errors.New("scan a page of a job first")
	}
	file, ok := map[string]string{"packet": packet.PacketFile, "readings": packet.FormFile, "report": packet.ReportFile, "folder": "."}[what]
	if !ok {
		return fmt.Errorf("--open: found %q; write packet, readings, report or folder", what)
	}
	name, err := filepath.Abs(filepath.Join(d.dir, file))
	if err == nil {
		_, err = os.Stat(name)
	}
	if err != nil {
		return fmt.Errorf("--open %s: %w", what, err)
	}
	address := filepath.ToSlash(name)
	if !strings.HasPrefix(address, "/") { // C:/…
		address = "/" + address
	}
	// Some desktops' programs end when the file is closed; scanning goes on meanwhile.
	browser.Stdout, browser.Stderr = nil, nil
	opened := make(chan error, 1)
	go func() { opened <- browser.OpenURL((&url.URL{Scheme: "file", Path: address}).String()) }()
	select {
	case err = <-opened:
	case <-time.After(2 * time.Second):
	}
	if err != nil {
		return fmt.Errorf("%s: this computer opens no file by itself (%w); open it by hand", name, err)
	}
	fmt.Fprintf(d.out, "opened       %s\n", name)
	return nil
}
