// Traveller prints the job packet that goes with an injection pump through the
// shop.
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"shimcard/cmd/internal/help"
	"shimcard/packet"
)

func main() { os.Exit(run()) }

// Exit status: 0 done, 2 bad input or usage, readings to correct or confirm among it.
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
	root.AddCommand(newCommand(), demoCommand(), checkCommand())
	if err := root.Execute(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	return 0
}

func newCommand() *cobra.Command {
	var spec, shop, intake, jobs string
	c := &cobra.Command{
		Use:   "new",
		Short: "take a pump in: number the job, print its packet",
		Example: `  traveller new --spec d4.yaml --shop shop.yaml
  traveller new --spec d4.yaml --shop shop.yaml --intake - < in.yaml`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if spec == "" {
				return errors.New("name the pump spec: traveller new --spec d4.yaml --shop shop.yaml")
			}
			if count := countStdin(spec, shop, intake); count > 1 {
				return errors.New("only one of --spec, --shop and --intake can be standard input")
			}
			specFile, err := packet.ReadFile(spec)
			if err != nil {
				return err
			}
			shopFile, err := packet.ReadFile(shop)
			if err != nil {
				return err
			}
			if intake == "" {
				if !term.IsTerminal(int(os.Stdin.Fd())) {
					return errors.New("no intake: name its file with --intake, or run on a terminal to be asked")
				}
				answers, err := ask(os.Stdin, c.OutOrStdout(), specFile, shopFile)
				if err != nil {
					return err
				}
				dir, job, err := packet.Create(jobs, answers, specFile, shopFile)
				if err != nil {
					return keep(answers, err)
				}
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
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	return c
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
	_, err := fmt.Fprintf(out, "job %s\n  print   %s\n  type    %s\n  report  benchreport make %s\n", job.Number,
		filepath.Join(dir, packet.PacketFile), filepath.Join(dir, packet.FormFile), dir)
	return err
}

func demoCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "demo DIR",
		Short:   "make two invented jobs, from intake to report",
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
			fmt.Fprintf(out, "\nChange a figure in a readings file, then: benchreport make %s\n", demos[0].Folder)
			return nil
		},
	}
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
			return errors.Join(bad...)
		},
	}
}
