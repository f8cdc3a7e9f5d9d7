package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"shimcard/cmd/internal/help"
	"shimcard/packet"
)

func historyCommand() *cobra.Command {
	var jobs, pump, out string
	var asJSON bool
	c := &cobra.Command{
		Use:   "history SERIAL",
		Short: "the history of one pump: its jobs, and what moved in service",
		Long: `History gathers every job of a pump by its serial number, says which static
dimension moved in service, from what one job left to what the next one found,
and prints a page with a plot for each.`,
		Example: `  benchreport history 7719-204
  benchreport history 7719-204 --jobs jobs --out history.pdf
  benchreport history 7719-204 --json`,
		Args: help.One("one serial number: benchreport history 7719-204"),
		RunE: func(c *cobra.Command, args []string) error {
			list, err := listed(c, jobs)
			if err != nil {
				return err
			}
			v, err := packet.History(jobs, args[0], pump, list)
			if err != nil {
				return err
			}
			return shown(c, v, asJSON, out, "history-"+fileWord(v.Serial)+".pdf")
		},
	}
	f := c.Flags()
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	f.StringVar(&pump, "pump", "", "name of the pump, where another has the same serial number")
	f.StringVar(&out, "out", "", "PDF file to write; history-SERIAL.pdf here when not given")
	f.BoolVar(&asJSON, "json", false, "print the history as JSON; the page only with --out")
	return c
}

func spreadCommand() *cobra.Command {
	var jobs, out, spec string
	var asJSON bool
	c := &cobra.Command{
		Use:   "spread",
		Short: "over all jobs: how the dimensions left scatter, and what stands out",
		Long: `Spread takes what every report left of each static dimension, as part of half the
width of its own limits, 0 in their middle, −1 and +1 at the limits, so that jobs
of all specs compare. For each dimension: number, mean, standard deviation s,
control limits (individuals and moving ranges), jobs outside them, Cp, Cpk and the
bound that Cpk exceeds with 95 %. Then which instrument, spec or person differs
from the others, by one-way analysis of variance at 5 % over all comparisons
together. Formulas: NIST/SEMATECH e-Handbook, 6.1.6, 6.3.2.2, 7.4.3.`,
		Example: `  benchreport spread
  benchreport spread --spec "Ostrel D4" --out spread.pdf
  benchreport spread --json`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("%q: spread takes no words; one pump type: benchreport spread --spec %q", strings.Join(args, " "), strings.Join(args, " "))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			list, err := listed(c, jobs)
			if err != nil {
				return err
			}
			s, err := packet.SpreadOf(jobs, spec, list)
			if err != nil {
				return err
			}
			return shown(c, s, asJSON, out, "spread.pdf")
		},
	}
	f := c.Flags()
	f.StringVar(&jobs, "jobs", "jobs", "folder that holds the job folders")
	f.StringVar(&spec, "spec", "", "only pumps of this name, as their spec calls it")
	f.StringVar(&out, "out", "", "PDF file to write; spread.pdf here when not given")
	f.BoolVar(&asJSON, "json", false, "print the table as JSON; the page only with --out")
	return c
}

// listed lists the jobs; of folders in trouble it tells.
func listed(c *cobra.Command, jobs string) ([]*packet.Listed, error) {
	list, err := packet.List(jobs)
	bad := 0
	for _, l := range list {
		if l.Trouble != "" && l.Job != "" { // others are no jobs
			bad++
		}
	}
	if bad > 0 {
		fmt.Fprintf(c.ErrOrStderr(), "note: folders that cannot be read and are left out: %d; traveller list names them\n", bad)
	}
	return list, err
}

// shown prints an account and writes its page.
func shown(c *cobra.Command, account interface {
	String() string
	JSON() ([]byte, error)
	PDF() ([]byte, error)
}, asJSON bool, out, otherwise string) error {
	if asJSON {
		data, err := account.JSON()
		if err != nil {
			return err
		}
		if _, err := c.OutOrStdout().Write(data); err != nil || out == "" {
			return err
		}
	} else if _, err := fmt.Fprint(c.OutOrStdout(), account.String()); err != nil {
		return err
	}
	if out == "" {
		out = otherwise
	}
	if err := help.PDF(out); err != nil {
		return err
	}
	pdf, err := account.PDF()
	if err != nil {
		return err
	}
	if err := packet.WriteFile(out, pdf); err != nil {
		return err
	}
	if !asJSON {
		_, err = fmt.Fprintf(c.OutOrStdout(), "print   %s\n", out)
	}
	return err
}

// fileWord makes a serial number part of a file name: what no file system minds.
func fileWord(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', r == '-', r == '.':
			return r
		}
		return '_'
	}, s)
}
