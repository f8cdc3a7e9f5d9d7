// Benchreport reads the typed readings of a job back and makes its report.
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"shimcard/cmd/internal/help"
	"shimcard/cmd/internal/scan"
	"shimcard/packet"
)

func main() { os.Exit(run()) }

// errNotMet ends a report that was made and does not say "meets".
var errNotMet = errors.New("not met")

// Exit status: 0 the pump meets its sheet, 1 it does not, cannot be decided or
// is incomplete, 2 bad input or usage.
func run() int {
	root := &cobra.Command{
		Use:     "benchreport",
		Short:   "make the report of an injection pump from its typed readings",
		Example: "  benchreport enter jobs/26-0412-B\n  benchreport advise jobs/26-0412-B\n  benchreport make jobs/26-0412-B",
	}
	help.Plain(root)
	root.PersistentPreRun = scan.TellCopies
	root.AddCommand(makeCommand(), adviseCommand(), schemaCommand(), scan.Reopen("benchreport"), scan.Verify())
	root.AddCommand(enterCommand())
	root.AddCommand(statusCommand(), formCommand(), csvCommand())
	root.AddCommand(stockCommand(), historyCommand(), spreadCommand())
	err := root.Execute()
	switch {
	case errors.Is(err, errNotMet), errors.Is(err, scan.ErrDiffer):
		return 1
	case err != nil:
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	return 0
}

func makeCommand() *cobra.Command {
	var asJSON, short bool
	c := &cobra.Command{
		Use:   "make JOB",
		Short: "compute and print the report of a job folder",
		Long: `Make reads the job folder's typing form, computes every figure from it, and
writes report.pdf, report.json and lines.csv there. A reading that cannot be
believed stops it until the form says otherwise.

A report that rests on the same as the last one stays that issue, to the byte.
One that rests on anything else is the next issue, says what changed, and the one
it replaces is kept as report-issue-1.pdf. An incomplete report is no issue.`,
		Example: `  benchreport make jobs/26-0412-B
  benchreport make --short jobs/26-0412-B
  benchreport make --json jobs/26-0412-B | jq .verdict`,
		Args: help.One("one job folder: benchreport make jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := args[0]
			res, err := results(dir, (*packet.Job).Report)
			if err != nil {
				return err
			}
			file := packet.ReportFile
			if short {
				job, err := packet.Open(dir)
				if err != nil {
					return err
				}
				if err := job.WriteShort(dir, res); err != nil {
					return err
				}
				file = packet.ShortFile
			}
			if asJSON {
				data, err := res.JSON()
				if err != nil {
					return err
				}
				if _, err := c.OutOrStdout().Write(data); err != nil {
					return err
				}
			} else {
				said, err := typedSoFar(dir)
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%s%s  report  %s%s\n", res.Summary(), said, filepath.Join(dir, file), issueWords(res))
			}
			if res.Overall != packet.PumpMeets {
				return errNotMet
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the results as JSON")
	c.Flags().BoolVar(&short, "short", false, "also write report-short.pdf, one page")
	return c
}

// issueWords say which issue a report is.
func issueWords(res *packet.Results) string {
	switch i := res.Issue; {
	case i == nil:
		return ", not issued: it is incomplete"
	case i.Replaces != nil:
		return fmt.Sprintf(", issue %d, replaces issue %d", i.Number, i.Replaces.Number)
	default:
		return fmt.Sprintf(", issue %d", i.Number)
	}
}

func schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "print the JSON Schema of report.json",
		Long: `Schema prints the JSON Schema (draft 2020-12) of report.json and of make --json:
every property with what it means and its unit.`,
		Example: "  benchreport schema > results.schema.json",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := c.OutOrStdout().Write(packet.ResultsSchema)
			return err
		},
	}
}

// results are those of a job folder, unless what is typed there must first be
// corrected or confirmed.
func results(dir string, of func(*packet.Job, string) (*packet.Results, []packet.Doubt, error)) (*packet.Results, error) {
	job, err := packet.Open(dir)
	if err != nil {
		return nil, err
	}
	res, doubts, err := of(job, dir)
	if err != nil {
		return nil, err
	}
	if len(doubts) > 0 {
		for _, d := range doubts {
			fmt.Fprintf(os.Stderr, "%s:%s\n", filepath.Join(dir, packet.FormFile), d)
		}
		return nil, fmt.Errorf("no results until these are corrected or confirmed: %d", len(doubts))
	}
	return res, nil
}

func adviseCommand() *cobra.Command {
	var asFound bool
	c := &cobra.Command{
		Use:   "advise JOB",
		Short: "say what to look at next at the bench, from what is typed so far",
		Long: `Advise reads the job folder's typing form as far as it is filled in and says what
the bench readings point to: what was seen, the boxes it rests on, the usual
causes in order, what to check or turn next. It writes no file. The pump maker's
test sheet has the last word. Exit status: 0 all read and inside, 1 not, 2 bad
input.`,
		Example: `  benchreport advise jobs/26-0412-B
  benchreport advise --as-found jobs/26-0412-B`,
		Args: help.One("one job folder: benchreport advise jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			res, err := results(args[0], (*packet.Job).Results)
			if err != nil {
				return err
			}
			text, done := res.Advice(asFound)
			fmt.Fprint(c.OutOrStdout(), text)
			if !done {
				return errNotMet
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asFound, "as-found", false, "of the run before anything was touched")
	return c
}
