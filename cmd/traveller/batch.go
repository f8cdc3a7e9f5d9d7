package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"shimcard/cmd/internal/help"
	"shimcard/layout"
	"shimcard/packet"
)

// batch makes a job of every line of a table of intakes. The error, if some lines
// were not taken, comes after everything else was done.
func batch(c *cobra.Command, table, jobs, out string, spec, shop packet.File) error {
	// A packet needs some 70 MB that are free again at once: fewer, larger
	// collections are a third of the time, and the limit keeps memory even.
	debug.SetGCPercent(400)
	debug.SetMemoryLimit(min(debug.SetMemoryLimit(-1), 150<<20))
	lines, err := packet.ReadBatch(table)
	if err != nil {
		return err
	}
	// Broken off, it ends what is at work and leaves no half book; a second time it
	// ends at once.
	ctx, ends := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer ends()
	context.AfterFunc(ctx, ends)
	if out == "" {
		_, err := batchInto(ctx, c, table, lines, jobs, nil, spec, shop)
		return err
	}
	if err := help.PDF(out); err != nil {
		return err
	}
	// Lines that were not taken are an error, but not of the book.
	var bad error
	err = packet.WriteFileBy(out, func(f io.Writer) error {
		w := bufio.NewWriterSize(f, 1<<20)
		book := layout.NewBook(w)
		whole, err := batchInto(ctx, c, table, lines, jobs, book, spec, shop)
		if !whole {
			return err
		}
		bad = err
		if err := book.Close(); err != nil {
			return err
		}
		return w.Flush()
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "print   %s\n", out)
	return bad
}

// batchInto does the work; whole tells that every line was come to and there are
// packets for a book.
func batchInto(ctx context.Context, c *cobra.Command, table string, lines []*packet.BatchLine, jobs string, book *layout.Book, spec, shop packet.File) (whole bool, err error) {
	person := term.IsTerminal(int(os.Stderr.Fd()))
	start, at := time.Now(), 0
	made, old, bad := 0, 0, 0
	err = packet.Batch(ctx, jobs, lines, spec, shop, book, func(l *packet.BatchLine) {
		at++
		clear := ""
		if person {
			clear = "\r\x1b[K"
		}
		switch {
		case l.Err != nil:
			bad++
			fmt.Fprintf(os.Stderr, "%s%v\n", clear, l.Err)
		case l.Old:
			old++
		default:
			made++
			fmt.Fprint(os.Stderr, clear)
			fmt.Fprintf(c.OutOrStdout(), "line %d  job %s  %s\n", l.Line, l.Number, filepath.Join(l.Dir, packet.PacketFile))
		}
		if person {
			const width = 30
			n := width * at / len(lines)
			fmt.Fprintf(os.Stderr, "\r[%s%s] %d of %d, %.1f a second", strings.Repeat("#", n), strings.Repeat(".", width-n), at, len(lines), float64(at)/time.Since(start).Seconds())
		}
	})
	if person {
		fmt.Fprintln(os.Stderr)
	}
	w := c.OutOrStdout()
	fmt.Fprintf(w, "%d jobs made", made)
	if old > 0 {
		fmt.Fprintf(w, ", %d made before", old)
	}
	fmt.Fprintln(w)
	if err != nil {
		return false, fmt.Errorf("%w\n%s: stopped after %d of %d lines; the same command goes on from here", err, table, at, len(lines))
	}
	if bad > 0 {
		err = fmt.Errorf("%s: %d of %d lines not taken; put them right, and the same command makes only those", table, bad, len(lines))
	}
	return made+old > 0, err
}
