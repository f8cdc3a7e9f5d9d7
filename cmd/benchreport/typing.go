package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"shimcard/cmd/internal/help"
	"shimcard/packet"
)

func statusCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "status JOB",
		Short: "say what is missing and what is doubted, stage by stage",
		Long: `Status reads the job folder's typing form as far as it is filled in and lists,
stage by stage, which required boxes are blank and which figures should be looked
at again, and what the two typings differ in where the job was typed twice. Exit
status: 0 all is there, 1 something is missing or doubted, 2 bad input, a form that
has lost what was typed among it.`,
		Example: `  benchreport status jobs/26-0412-B
  benchreport status --json jobs/26-0412-B | jq '.stages[].missing[].box'`,
		Args: help.One("one job folder: benchreport status jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			t, err := packet.OpenTyping(args[0], "")
			if err != nil {
				return err
			}
			s, err := t.Status()
			if err != nil {
				return err
			}
			if asJSON {
				data, err := s.JSON()
				if err != nil {
					return err
				}
				if _, err := c.OutOrStdout().Write(data); err != nil {
					return err
				}
			} else {
				fmt.Fprint(c.OutOrStdout(), s)
			}
			if err := t.Whole(); err != nil {
				return err
			}
			if !s.Done() {
				return errNotMet
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print it as JSON")
	return c
}

func formCommand() *cobra.Command {
	var merge []string
	var by string
	c := &cobra.Command{
		Use:   "form JOB",
		Short: "give the typing form a line for every box, and merge others into it",
		Long: `Form brings the job folder's typing form up to date: what is typed and every
comment stays, and a box that has no line gets one. With --merge, what is typed in
another copy of the form is put in as well. Where the two hold different values for
a box neither is chosen: the box is left blank with both in its remark, and named.
Exit status: 0 done, 1 there are such boxes, 2 bad input.`,
		Example: `  benchreport form jobs/26-0412-B
  benchreport form --merge readings-office.yaml jobs/26-0412-B`,
		Args: help.One("one job folder: benchreport form jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			t, err := packet.OpenTyping(args[0], by)
			if err != nil {
				return err
			}
			var others []packet.File
			for _, name := range merge {
				f, err := packet.ReadFile(name)
				if err != nil {
					return err
				}
				others = append(others, f)
			}
			differ, err := t.Merge(others...)
			if err != nil {
				return err
			}
			for _, d := range differ {
				fmt.Fprintf(c.OutOrStdout(), "%s  %s: %s or %s\n", d.Box.Code, d.Box.Label, d.First, d.Second)
			}
			if len(differ) > 0 {
				fmt.Fprintln(c.OutOrStdout(), t.T("boxes with two values, left blank until one is typed: %d", len(differ)))
				return errNotMet
			}
			return nil
		},
	}
	c.Flags().StringArrayVar(&merge, "merge", nil, "another copy of the form, half filled in")
	c.Flags().StringVar(&by, "by", "", "initials of the one who does it")
	return c
}

func csvCommand() *cobra.Command {
	var in, by string
	c := &cobra.Command{
		Use:   "csv JOB",
		Short: "write the typing form as a table for a spreadsheet, or read one back",
		Long: `Csv prints what is typed as CSV, a row for each box below a line that names the
columns. With --in it puts what such a table holds into the form: commas, semicolons
or tabs between the columns, decimal point or comma. A blank value leaves that of its
box as it is.`,
		Example: `  benchreport csv jobs/26-0412-B > readings.csv
  benchreport csv --in readings.csv --by K.L. jobs/26-0412-B`,
		Args: help.One("one job folder: benchreport csv jobs/26-0412-B"),
		RunE: func(c *cobra.Command, args []string) error {
			t, err := packet.OpenTyping(args[0], by)
			if err != nil {
				return err
			}
			if in == "" {
				_, err := c.OutOrStdout().Write(t.CSV())
				return err
			}
			f, err := packet.ReadFile(in)
			if err != nil {
				return err
			}
			if by == "" && t.Readings.TypedBy == "" {
				return errors.New("nobody is named as typing: write --by and initials")
			}
			n, err := t.PutCSV(f)
			if err != nil {
				return err
			}
			fmt.Fprintln(c.OutOrStdout(), t.T("boxes changed: %d", n))
			return nil
		},
	}
	c.Flags().StringVar(&in, "in", "", "the table to read; - for standard input")
	c.Flags().StringVar(&by, "by", "", "initials of the one who types")
	return c
}

// typedSoFar says what of a job's typing a report does not: that some figures
// should be looked at again, and whether it was typed twice.
func typedSoFar(dir string) (string, error) {
	t, err := packet.OpenTyping(dir, "")
	if err != nil {
		return "", err
	}
	s, err := t.Status()
	if err != nil {
		return "", err
	}
	doubted, out := 0, ""
	for _, st := range s.Stages {
		doubted += len(st.Doubted)
	}
	if doubted > 0 {
		out += fmt.Sprintf("  look    at %d again: benchreport status %s\n", doubted, dir)
	}
	switch n := len(s.Differences); {
	case n > 0:
		out += fmt.Sprintf("  twice   typed twice, boxes that differ: %d: benchreport enter --settle %s\n", n, dir)
	case t.Readings.TypedAgain != "":
		out += fmt.Sprintf("  twice   typed by %s, a second time by %s\n", t.Readings.TypedBy, t.Readings.TypedAgain)
	}
	return out, nil
}
