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

	"shimcard/packet"
)

func main() { os.Exit(run()) }

// Exit status: 0 done, 1 readings to correct or confirm, 2 bad input or usage.
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
		SilenceUsage: true, SilenceErrors: true,
	}
	root.AddCommand(newCommand(), demoCommand(), checkCommand())
	if err := root.Execute(); err != nil {
		if errors.Is(err, errDoubts) {
			return 1
		}
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	return 0
}

// errDoubts ends a check whose files can be read but not yet believed.
var errDoubts = errors.New("readings to correct or confirm")

func newCommand() *cobra.Command {
	var spec, shop, intake, jobs string
	c := &cobra.Command{
		Use:   "new",
		Short: "take a pump in: number the job, print its packet",
		Example: `  traveller new --spec d4.yaml --shop shop.yaml
  traveller new --spec d4.yaml --shop shop.yaml --intake - < in.yaml`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, args []string) error {
			files := make([]packet.File, 3)
			asked := false
			var err error
			if files[1], err = packet.ReadFile(spec); err != nil {
				return err
			}
			if files[2], err = packet.ReadFile(shop); err != nil {
				return err
			}
			switch {
			case intake != "":
				files[0], err = packet.ReadFile(intake)
			case term.IsTerminal(int(os.Stdin.Fd())):
				asked = true
				files[0], err = ask(os.Stdin, c.OutOrStdout(), files[1])
			default:
				err = errors.New("no intake: name its file with --intake, or run on a terminal to be asked")
			}
			var dir string
			var job *packet.Job
			if err == nil {
				dir, job, err = packet.Create(jobs, files[0], files[1], files[2])
			}
			if err != nil && len(files[0].Data) > 0 && asked {
				return keep(files[0], err)
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "job %s\n  print   %s\n  type    %s\n  report  benchreport make %s\n", job.Number,
				filepath.Join(dir, packet.PacketFile), filepath.Join(dir, packet.FormFile), dir)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&spec, "spec", "", "pump spec file")
	f.StringVar(&shop, "shop", "shop.yaml", "shop file")
	f.StringVar(&intake, "intake", "", "intake file, - for standard input; asked for on a terminal when not given")
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	if err := c.MarkFlagRequired("spec"); err != nil {
		panic(err) // the flag is declared above
	}
	return c
}

func demoCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "demo DIR",
		Short:   "make two invented jobs, from intake to report",
		Example: "  traveller demo out",
		Args:    cobra.ExactArgs(1),
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
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var bad []error
			doubted := false
			for _, name := range args {
				what, doubts, err := packet.Check(name)
				if err != nil {
					bad = append(bad, err)
					continue
				}
				for _, d := range doubts {
					doubted = true
					fmt.Fprintf(c.OutOrStdout(), "%s:%s\n", name, d)
				}
				if len(doubts) == 0 {
					fmt.Fprintf(c.OutOrStdout(), "%s: good: %s\n", name, what)
				}
			}
			switch {
			case len(bad) > 0:
				return errors.Join(bad...)
			case doubted:
				return errDoubts
			}
			return nil
		},
	}
}
