// Traveller prints the job packet that goes with an injection pump through the
// shop.
package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"shimcard/cmd/internal/help"
	"shimcard/cmd/internal/scan"
	"shimcard/packet"
)

func main() { os.Exit(run()) }

// Exit status: 0 done, 1 no such jobs, 2 bad input or usage, readings to correct or confirm among it.
func run() int {
	root := &cobra.Command{
		Use:   "traveller",
		Short: "print the job packet of an injection pump",
		Example: `  traveller demo out                                   two invented jobs, from intake to report
  traveller new --spec d4.yaml --shop shop.yaml        asks for the intake, prints the packet
  traveller new --spec d4.yaml --shop shop.yaml --intake in.yaml --jobs jobs
  traveller check d4.yaml shop.yaml jobs/26-0412-B/readings.yaml`,
		Long: `Traveller makes a job: it takes a pump spec, the shop file and the intake, gives
the job a number, and prints the packet that goes with the pump. After the bench
work, benchreport reads the typed readings back and makes the report.`,
	}
	help.Plain(root)
	root.AddCommand(newCommand(), scan.Reopen("traveller"), demoCommand(), checkCommand(), listCommand(), findCommand())
	switch err := root.Execute(); {
	case errors.Is(err, errNothing):
		fmt.Fprintln(os.Stderr, err)
		return 1
	case err != nil:
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	return 0
}

func newCommand() *cobra.Command {
	var spec, shop, intake, table, jobs, out string
	var pages []string
	var blank bool
	c := &cobra.Command{
		Use:   "new [JOB]",
		Short: "take a pump in: number the job, print its packet",
		Long: `New takes a pump in: it gives the job a number, makes its folder and prints the
packet. With --pages and a job folder it prints some pages of that job's packet
again: when one was spoilt, or a stage is run once more. With --blank it prints a
packet without a job, with spaces for the job's facts, for the day the computer
is down. With --batch it makes a job of every line of a CSV file. Its first line
names the columns, in any order: ` + strings.Join(packet.BatchColumns(), ", ") + `.
A line that cannot be taken is reported, the others are made; run again, it makes
only what is missing. A line is known again by its id, where it has one, and must
then say what its job's intake says, else by all it says. With --out all packets
come into one PDF besides.`,
		Example: `  traveller new --spec d4.yaml --shop shop.yaml
  traveller new --spec d4.yaml --shop shop.yaml --intake - < in.yaml
  traveller new --batch monday.csv --spec d4.yaml --shop shop.yaml --out monday.pdf
  traveller new --pages H,M jobs/26-0412-B
  traveller new --blank --spec d4.yaml --shop shop.yaml --out blank-d4.pdf`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return fmt.Errorf("%d folders; one job at a time: traveller new --pages H,M jobs/26-0412-B", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case len(pages) > 0 && len(args) == 1:
				return reprint(c, args[0], pages, out)
			case len(pages) > 0:
				return errors.New("--pages prints pages of a job again; name its folder: traveller new --pages H,M jobs/26-0412-B")
			case len(args) == 1:
				return fmt.Errorf("%s: a job folder goes with --pages; a new job is named by its spec: traveller new --spec d4.yaml --shop shop.yaml", args[0])
			case out != "" && !blank && table == "":
				return errors.New("--out goes with --pages, --blank or --batch; a new job's packet lies in its folder below --jobs")
			}
			if spec == "" {
				return errors.New("name the pump spec: traveller new --spec d4.yaml --shop shop.yaml")
			}
			if count := countStdin(spec, shop, intake, table); count > 1 {
				return errors.New("only one of --spec, --shop, --intake and --batch can be standard input")
			}
			specFile, err := packet.ReadFile(spec)
			if err != nil {
				return err
			}
			shopFile, err := packet.ReadFile(shop)
			if err != nil {
				return err
			}
			if blank {
				pdf, err := packet.Blank(specFile, shopFile)
				if err != nil {
					return err
				}
				if out == "" && spec == "-" {
					return errors.New("the spec comes from standard input: name the file for the packet with --out")
				}
				if out == "" {
					out = "blank-" + strings.TrimSuffix(filepath.Base(specFile.Name), filepath.Ext(specFile.Name)) + ".pdf"
				}
				return written(c, out, pdf)
			}
			if table != "" {
				return batch(c, table, jobs, out, specFile, shopFile)
			}
			debug.SetGCPercent(-1) // one packet, then the end
			debug.SetMemoryLimit(min(debug.SetMemoryLimit(-1), 256<<20))
			if intake == "" {
				if !term.IsTerminal(int(os.Stdin.Fd())) {
					return errors.New("no intake: name its file with --intake, or run on a terminal to be asked")
				}
				stopped := breaks()
				answers, err := ask(os.Stdin, c.OutOrStdout(), stopped, specFile, shopFile)
				if err != nil {
					return err
				}
				keepWhenStopped(stopped, answers)
				dir, job, err := packet.Create(jobs, answers, specFile, shopFile)
				if err != nil {
					return keep(answers, err)
				}
				signal.Reset()
				return made(c, dir, job)
			}
			intakeFile, err := packet.ReadFile(intake)
			if err != nil {
				return err
			}
			dir, job, err := packet.Create(jobs, intakeFile, specFile, shopFile)
			if err != nil {
				return err
			}
			return made(c, dir, job)
		},
	}
	f := c.Flags()
	f.StringVar(&spec, "spec", "", "pump spec file")
	f.StringVar(&shop, "shop", "shop.yaml", "shop file")
	f.StringVar(&intake, "intake", "", "intake file, - for standard input; asked for on a terminal when not given")
	f.StringVar(&table, "batch", "", "CSV file of many intakes, a line each, - for standard input")
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	f.StringSliceVar(&pages, "pages", nil, "print only these pages of a job again: stages such as H,M, cover, or page numbers")
	f.BoolVar(&blank, "blank", false, "print a packet without a job, with spaces for its facts")
	f.StringVar(&out, "out", "", "PDF file for --pages, --blank and --batch")
	for _, other := range []string{"blank", "spec", "shop", "intake", "batch", "jobs"} {
		c.MarkFlagsMutuallyExclusive("pages", other)
	}
	c.MarkFlagsMutuallyExclusive("blank", "intake", "batch")
	return c
}

// reprint prints some pages of a job's packet again.
func reprint(c *cobra.Command, dir string, pages []string, out string) error {
	for i, p := range pages {
		pages[i] = strings.TrimSpace(p)
	}
	job, err := packet.Open(dir)
	if err != nil {
		return err
	}
	pdf, err := job.TravellerPages(pages)
	if err != nil {
		return err
	}
	if out == "" {
		out = filepath.Join(dir, "pages-"+strings.Join(pages, "-")+".pdf")
	}
	return written(c, out, pdf)
}

func written(c *cobra.Command, name string, pdf []byte) error {
	if err := help.PDF(name); err != nil {
		return err
	}
	if err := packet.WriteFile(name, pdf); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.OutOrStdout(), "print   %s\n", name)
	return err
}

func countStdin(names ...string) (n int) {
	for _, name := range names {
		if name == "-" {
			n++
		}
	}
	return n
}

// made tells what was made and what comes next.
func made(c *cobra.Command, dir string, job *packet.Job) error {
	out := c.OutOrStdout()
	for _, name := range job.UnknownInstruments() {
		fmt.Fprintf(out, "note: the shop file has no %s; figures read with it cannot be decided\n", name)
	}
	for _, lack := range job.Unreached() {
		fmt.Fprintf(out, "note: %s\n", lack)
	}
	_, err := fmt.Fprintf(out, "job %s\n  print   %s\n  type    %s\n  report  benchreport make %s\n", job.Number,
		filepath.Join(dir, packet.PacketFile), filepath.Join(dir, packet.FormFile), dir)
	return err
}

func demoCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "demo DIR",
		Short:   "make two invented jobs, from intake to report",
		Long:    "Demo makes two invented shops with a job each below a folder, from intake to\nreport. Where they are already it makes nothing: what you tried in them stays.",
		Example: "  traveller demo out",
		Args:    help.One("a folder to make them in: traveller demo out"),
		RunE: func(c *cobra.Command, args []string) error {
			demos, err := packet.MakeDemos(args[0])
			if err != nil {
				return err
			}
			out := c.OutOrStdout()
			fmt.Fprintln(out, "Everything below is invented: shops, pumps, people and figures.")
			for _, d := range demos {
				fmt.Fprintf(out, "\n%s, %s: %s, %d of %d items met\n", d.Results.Job, d.Results.Pump, d.Results.Overall, d.Results.Met, d.Results.Count)
				fmt.Fprintf(out, "  typed once     %s (spec, shop file, intake)\n", d.Files)
				for _, f := range []struct{ what, name string }{
					{"look at        ", packet.PacketFile}, {"typed back     ", packet.FormFile}, {"look at        ", packet.ReportFile}, {"for programs   ", packet.ResultsFile}} {
					fmt.Fprintf(out, "  %s%s\n", f.what, filepath.Join(d.Folder, f.name))
				}
			}
			if drawn, err := pictures(demos); err != nil {
				return err
			} else if drawn {
				fmt.Fprintf(out, "\nEvery page as a picture beside its PDF: packet-01.png and so on.\n")
			}
			fmt.Fprintf(out, "\nChange a figure in a readings file, then: benchreport make %s\n", demos[0].Folder)
			return nil
		},
	}
}

// pictures draws every page of the demonstrations as PNG, where pdftoppm is.
func pictures(demos []packet.Demo) (bool, error) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		return false, nil
	}
	var files []string
	for _, d := range demos {
		files = append(files, filepath.Join(d.Folder, packet.PacketFile), filepath.Join(d.Folder, packet.ReportFile))
	}
	faults := make([]error, len(files))
	var wait sync.WaitGroup
	for i, file := range files {
		wait.Go(func() {
			if said, err := exec.Command(tool, "-r", "100", "-png", file, strings.TrimSuffix(file, ".pdf")).CombinedOutput(); err != nil {
				faults[i] = fmt.Errorf("pdftoppm, drawing %s: %w %s", file, err, said)
			}
		})
	}
	wait.Wait()
	return true, errors.Join(faults...)
}

func checkCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "check FILE...",
		Short:   "check spec, shop, intake and readings files",
		Example: "  traveller check d4.yaml shop.yaml jobs/26-0412-B/readings.yaml",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("name the files to check: traveller check d4.yaml shop.yaml")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			var bad []error
			for _, name := range args {
				what, doubts, err := packet.Check(name)
				if err != nil {
					bad = append(bad, err)
					continue
				}
				for _, d := range doubts {
					bad = append(bad, fmt.Errorf("%s:%s", name, d))
				}
				if len(doubts) == 0 {
					fmt.Fprintf(c.OutOrStdout(), "%s: good: %s\n", name, what)
				}
			}
			return errors.Join(append(bad, packet.CheckTogether(args...)...)...)
		},
	}
}
