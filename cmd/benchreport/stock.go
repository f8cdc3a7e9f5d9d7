package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"shimcard/packet"
)

func stockCommand() *cobra.Command {
	q := packet.StockQuestion{Today: time.Now()}
	var asJSON, back bool
	c := &cobra.Command{
		Use:   "stock [JOB...]",
		Short: "take the shims of jobs out of the shop's tray stock, list what to reorder",
		Long: `Stock tells from the readings of each job which shims came out of the pump and
which were fitted at last, and takes those fitted off the counts under stock: in
the shop file. A job is applied once: run again, it applies only what differs.
A size that came out and is fitted again counts as the same shim.

Shims taken out are not put back into the tray, unless --back says that they were
measured, found unworn and put there (common practice, no source). A job keeps
what was said of it; --back=false takes it back.

Only the counts in the file change, and the line stock applied: that says how many
lines of the stock book beside it (shop.yaml.stock) are in them; keep both files
together. A run that was cut off is made good by the next. No count goes below 0:
where more was fitted than counted, it says so. Several at once take turns, where
the drive can lock a file; else one at a time.

Without a job it lists what to reorder. Exit status: 0 done, 1 something could
not be counted or was short, 2 bad input.`,
		Example: `  benchreport stock jobs/26-0412-B
  benchreport stock --dry-run jobs/26-0412-B jobs/26-0413-9
  benchreport stock --reorder-at 3                     what to reorder`,
		RunE: func(c *cobra.Command, args []string) error {
			if q.ReorderAt < 0 {
				return fmt.Errorf("--reorder-at %d: write 0 or more", q.ReorderAt)
			}
			q.Jobs = args
			if c.Flags().Changed("back") {
				q.Back = &back
			}
			t, err := packet.TakeStock(q)
			if err != nil {
				return err
			}
			out := []byte(t.String())
			if asJSON {
				if out, err = t.JSON(); err != nil {
					return err
				}
			}
			if _, err := c.OutOrStdout().Write(out); err != nil {
				return err
			}
			if !t.Right() {
				return errNotMet
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&q.Shop, "shop", "shop.yaml", "shop file with the stock")
	f.BoolVar(&q.DryRun, "dry-run", false, "say what would change, write nothing")
	f.BoolVar(&back, "back", false, "shims taken out and not fitted again go back into the tray")
	f.IntVar(&q.ReorderAt, "reorder-at", 2, "list sizes of which so many or fewer are left")
	f.BoolVar(&asJSON, "json", false, "print the account as JSON")
	return c
}
