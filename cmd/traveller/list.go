package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"shimcard/packet"
)

// errNothing ends a search that found nothing.
var errNothing = errors.New("nothing found")

// chosen says which jobs to list.
type chosen struct {
	jobs, state, serial, customer, since, until string
	asJSON                                      bool
}

func (q *chosen) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&q.jobs, "jobs", "jobs", "folder that holds the job folders")
	f.StringVar(&q.state, "state", "", "only jobs in this state: taken in, being typed, meets, does not meet, not decided, incomplete")
	f.StringVar(&q.serial, "serial", "", "only the pump with this serial number")
	f.StringVar(&q.customer, "customer", "", "only customers with this in their name")
	f.StringVar(&q.since, "since", "", "only jobs received on this day, 2026-10-05, or later")
	f.StringVar(&q.until, "until", "", "only jobs received on this day or before")
	f.BoolVar(&q.asJSON, "json", false, "print the jobs as JSON, one a line")
}

const howListed = `It reads the folders below --jobs and keeps what it read in the file .index there,
so that only what changed is read again; deleting .index loses nothing. A folder
that cannot be read is a line with its reason. Exit status: 0 jobs listed,
1 none, 2 bad input.`

func listCommand() *cobra.Command {
	q := &chosen{}
	c := &cobra.Command{
		Use:   "list",
		Short: "list the jobs: state, pump, customer, what was found",
		Long:  "List lists the jobs by the day they were received.\n" + howListed,
		Example: `  traveller list
  traveller list --state "being typed"
  traveller list --customer brack --since 2026-10-01 --json`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("%q: list takes no words; to search: traveller find %s", strings.Join(args, " "), strings.Join(args, " "))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return q.list(c) },
	}
	q.flags(c)
	return c
}

func findCommand() *cobra.Command {
	q := &chosen{}
	c := &cobra.Command{
		Use:   "find WORD...",
		Short: "find jobs by number, serial, customer, complaint or what was found",
		Long: `Find lists the jobs in which every word occurs, as part of a word or whole: in
number, serial number, pump, customer, reference, complaint, or what was found.
` + howListed,
		Example: `  traveller find 7719-204
  traveller find brackwater smoke`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("name what to find: traveller find 7719-204")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return q.list(c, args...) },
	}
	q.flags(c)
	return c
}

func (q *chosen) list(c *cobra.Command, find ...string) error {
	for flag, day := range map[string]string{"since": q.since, "until": q.until} {
		if _, err := time.Parse("2006-01-02", day); day != "" && err != nil {
			return fmt.Errorf("--%s %q: write a day as in 2026-10-05", flag, day)
		}
	}
	states := []string{packet.TakenIn, packet.BeingTyped, string(packet.PumpMeets), string(packet.PumpFails), string(packet.PumpUndecided), string(packet.PumpIncomplete)}
	if q.state != "" && !slices.ContainsFunc(states, func(s string) bool { return strings.HasPrefix(s, q.state) }) {
		return fmt.Errorf("--state %q: write one of %s", q.state, strings.Join(states, ", "))
	}
	all, err := packet.List(q.jobs)
	if err != nil {
		return err
	}
	var list, bad []*packet.Listed
	for _, l := range all {
		switch {
		case l.Trouble != "":
			if len(find) == 0 || l.Has(find...) {
				bad = append(bad, l)
			}
		case strings.HasPrefix(l.State, q.state) && (q.serial == "" || l.IsOf(q.serial)) &&
			strings.Contains(strings.ToLower(l.Customer), strings.ToLower(q.customer)) &&
			l.Received >= q.since && (q.until == "" || l.Received <= q.until) && l.Has(find...):
			list = append(list, l)
		}
	}
	show := printLines
	if q.asJSON {
		show = printJSON
	}
	if err := show(c.OutOrStdout(), list, bad); err != nil {
		return err
	}
	if len(list) == 0 {
		return errNothing
	}
	return nil
}

func printJSON(w io.Writer, list, bad []*packet.Listed) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	for _, l := range slices.Concat(list, bad) {
		if err := e.Encode(l); err != nil {
			return err
		}
	}
	return nil
}

func printLines(w io.Writer, list, bad []*packet.Listed) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	folders := map[string]int{}
	for _, l := range slices.Concat(list, bad) {
		folders[l.Job]++
	}
	for _, l := range list {
		job := l.Job
		if l.Folder != l.Job || folders[l.Job] > 1 {
			job = fmt.Sprintf("%s in %+q", l.Job, l.Folder)
		}
		state := l.State
		if l.Later {
			state += ", changed since"
		}
		found := strings.Join(l.Found, "; ")
		if found == "" {
			found = "(" + l.Complaint + ")"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s %s\t%s\t%s\n", job, l.Received, state, l.Pump, l.Serial, cut(l.Customer, 30), cut(found, 80))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, l := range bad {
		// One line each, and the name as it is, whatever is in it.
		reason, _, _ := strings.Cut(l.Trouble, "\n")
		if _, err := fmt.Fprintf(w, "%+q cannot be read: %s\n", l.Folder, packet.PrintableName(reason)); err != nil {
			return err
		}
	}
	return nil
}

// cut shortens a text for a column.
func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}
