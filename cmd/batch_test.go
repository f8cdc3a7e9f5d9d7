package cmd

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// aBatch is a batch of a command's lines in a folder of its own, at work when it has
// named its first job. Nobody reads on then: its lines are more than a pipe takes, so it
// cannot come to their end.
func aBatch(t *testing.T) (dir string, c *exec.Cmd, out *bufio.Reader, wrong *bytes.Buffer) {
	t.Helper()
	dir = t.TempDir()
	table := func(name string, many int) {
		var lines strings.Builder
		lines.WriteString("received,by,customer,pump,serial,complaint,work\n")
		for n := range many {
			fmt.Fprintf(&lines, "2026-10-05,R.T.,Brackwater Growers,Ostrel D4,77-%d,Smokes,Overhaul\n", n)
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(lines.String()), 0o644))
	}
	table("many.csv", 5000)
	table("few.csv", 1)
	args := batchArgs(t, "many.csv")
	c = exec.Command(args[0], append(args[1:], "--out", "many.pdf")...)
	c.Dir, wrong = dir, &bytes.Buffer{}
	c.Stderr = wrong
	pipe, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
	out = bufio.NewReader(pipe)
	line, err := out.ReadString('\n')
	require.NoError(t, err, wrong.String())
	require.Equal(t, "line 2  job 26-0001-C  jobs/26-0001-C/packet.pdf\n", line)
	return dir, c, out, wrong
}

func batchArgs(t *testing.T, table string) []string {
	t.Helper()
	specs, err := filepath.Abs("../specs/demo")
	require.NoError(t, err)
	return []string{filepath.Join(bin, "traveller"), "new", "--batch", table, "--spec", filepath.Join(specs, "ostrel-d4.yaml"), "--shop", filepath.Join(specs, "saltmarsh.yaml")}
}

// few runs a batch of the first of those lines.
func few(t *testing.T, dir string) (out string, err error) {
	t.Helper()
	args := batchArgs(t, "few.csv")
	c := exec.Command(args[0], args[1:]...)
	c.Dir = dir
	both, err := c.CombinedOutput()
	return string(both), err
}

// Broken off, a batch says how far it came, ends what it has begun, and leaves nothing
// half behind.
func TestBatchBrokenOff(t *testing.T) {
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		dir, c, out, wrong := aBatch(t)
		require.NoError(t, c.Process.Signal(s))
		rest, err := io.ReadAll(out)
		require.NoError(t, err)
		require.Error(t, c.Wait())
		require.Equal(t, 2, c.ProcessState.ExitCode(), wrong.String())
		made := 1 + strings.Count(string(rest), "  job 26-")
		require.Contains(t, string(rest), fmt.Sprintf("\n%d jobs made\n", made))
		require.Equal(t, fmt.Sprintf("broken off\nmany.csv: stopped after %d of 5000 lines; the same command goes on from here\n", made), wrong.String())
		jobs, err := filepath.Glob(filepath.Join(dir, "jobs", "26-*", "packet.pdf"))
		require.NoError(t, err)
		require.Len(t, jobs, made)
		var left []string
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, e := range entries {
			left = append(left, e.Name())
		}
		require.Equal(t, []string{"few.csv", "jobs", "many.csv"}, left)
		said, err := few(t, dir)
		require.NoError(t, err, said)
		require.Equal(t, "0 jobs made, 1 made before\n", said)
	}
}
