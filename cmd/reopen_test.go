package cmd

import (
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A keyboard-type scanner at a terminal: pages, what is none of ours, the job's
// symbols one by one until the folder is there again; ZBar read them off the paper.
func TestScansAtTheTerminal(t *testing.T) {
	t.Parallel()
	folder, _, _ := newJob(t, "saltmarsh")
	root := t.TempDir()
	out, err := exec.Command("pdftoppm", "-r", "150", "-gray", "-png", "-f", "18", filepath.Join(folder, "packet.pdf"), filepath.Join(root, "page")).CombinedOutput()
	require.NoError(t, err, "%s", out)
	pictures, err := filepath.Glob(filepath.Join(root, "page-*.png"))
	require.NoError(t, err)
	out, err = exec.Command("zbarimg", append([]string{"-q", "--raw"}, pictures...)...).Output()
	require.NoError(t, err)
	var page string
	var symbols []string
	for _, text := range strings.Fields(strings.ReplaceAll(string(out), " ", "\x00")) {
		text = strings.ReplaceAll(text, "\x00", " ")
		if strings.HasPrefix(text, "J1") {
			symbols = append(symbols, text)
		} else if page == "" {
			page = text
		}
	}
	require.NotEmpty(t, page)
	require.Greater(t, len(symbols), 1)
	rand.New(rand.NewSource(6)).Shuffle(len(symbols), func(i, k int) { symbols[i], symbols[k] = symbols[k], symbols[i] })

	// The desktop's program writes down what it is to open; one is slow to end.
	desktop := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(desktop, "xdg-open"), []byte("#!/bin/sh\necho \"$1\" >>"+desktop+"/opened\necho chatter\ncase $1 in *readings*) exec sleep 1000;; esac\n"), 0o755))

	jobs := filepath.Join(root, "our #1")
	x := newTerminal(t)
	x.start("PATH="+desktop+":$PATH; cd "+root, `traveller reopen --jobs "our #1"`)
	x.see("Scan a page.")
	scan := func(text string, says ...string) {
		t.Helper()
		x.tmux("send-keys", "-R") // a clean screen: what is seen comes after
		x.tmux("clear-history")
		x.press("="+text, "Enter")
		x.see(says...)
	}
	scan(page, "26-0001-C, page 18 of its packet: no folder below")
	scan("print", "scan a page of a job first")
	scan("https://example.org/parcel/7", "no such file, and no code of a job")
	scan("1234567890128", "no code of a job")
	scan(page[:len(page)-1]+"#", "no code of a job")
	scan(symbols[0][:len(symbols[0])/2], "scan it again, set the scanner")
	for i, text := range symbols[:len(symbols)-1] {
		scan(text, fmt.Sprintf(" of %d missing", len(symbols)))
		if i == 0 {
			scan(text, "read before")
		}
		require.NoDirExists(t, jobs)
	}
	scan(symbols[len(symbols)-1], "made again", "next         the bench")
	for _, name := range []string{"packet.pdf", "intake.yaml", "spec.yaml", "shop.yaml", "readings.yaml"} {
		was, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		now, err := os.ReadFile(filepath.Join(jobs, "26-0001-C", name))
		require.NoError(t, err)
		require.True(t, string(was) == string(now), name)
	}
	scan(strings.ToLower(page), "page         18 of ", "boxes typed")
	scan("print", "pages-18.pdf")
	scan("print H,M", "pages-H-M.pdf")
	scan("open", "opened ")
	scan("open report", "no such file")
	scan("open readings", "opened ")
	x.press("=stop", "Enter")
	x.ended("0")
	for _, name := range []string{"pages-18.pdf", "pages-H-M.pdf"} {
		require.FileExists(t, filepath.Join(jobs, "26-0001-C", name))
	}
	opened, err := os.ReadFile(filepath.Join(desktop, "opened"))
	require.NoError(t, err)
	address := "file://" + strings.NewReplacer(" ", "%20", "#", "%23").Replace(jobs) + "/26-0001-C/"
	require.Equal(t, address+"packet.pdf\n"+address+"readings.yaml\n", string(opened))
}

// Stopped while symbols lack: named, and the status says so.
func TestScansStoppedHalfway(t *testing.T) {
	t.Parallel()
	x := newTerminal(t)
	x.start("", "traveller reopen --jobs "+filepath.Join(t.TempDir(), "jobs"))
	x.see("Scan a page.")
	x.press("C-d")
	x.ended("0")
}
