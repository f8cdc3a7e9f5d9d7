package cmd

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet"
)

// However the questions of a new job end, what was answered is kept: in a file, or
// where none can be written on the screen.
func TestAnswersBrokenOffAreKept(t *testing.T) {
	specs, err := filepath.Abs(filepath.Join("..", "specs", "demo"))
	require.NoError(t, err)
	var x *terminal
	start := func(before string) (dir string) {
		x = newTerminal(t) // nothing of the last one is on it
		dir = t.TempDir()
		x.start("", "sh -c \"cd "+dir+"; "+before+" exec traveller new --spec "+specs+"/ostrel-d4.yaml --shop "+specs+"/saltmarsh.yaml\"")
		for _, a := range []string{"received|2026-10-05", "taken in by|R.T.", "customer|Brackwater Growers"} {
			question, answer, _ := strings.Cut(a, "|")
			x.see(question)
			x.press("="+answer, "Enter")
		}
		x.see("machine or reference")
		return dir
	}
	kept := func(dir string) {
		t.Helper()
		x.see("the intake was broken off", "your answers are kept")
		files, err := filepath.Glob(filepath.Join(dir, "*"))
		require.NoError(t, err)
		require.Len(t, files, 1)
		data, err := os.ReadFile(files[0])
		require.NoError(t, err)
		require.Contains(t, string(data), "name: Brackwater Growers")
		require.Contains(t, string(data), "by: R.T.")
	}
	dir := start("")
	x.press("C-c")
	kept(dir)
	for _, s := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP} {
		dir = start("")
		x.kill(s)
		kept(dir)
		x.ended("2")
	}
	dir = start("")
	x.press("C-d")
	kept(dir)

	// A full disk, tried with a limit on the size of a file.
	dir = start("ulimit -f 0;")
	x.tmux("resize-window", "-x", "200", "-y", "60") // all of it to be seen, however long the names of folders
	x.press("C-d")
	x.see("your answers could not be kept", "name: Brackwater Growers")
	x.ended("2")
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, files)

	// What is on the screen is an intake file, but for what was not answered.
	_, text, found := strings.Cut(x.shown(), "and its name:")
	require.True(t, found)
	_, err = packet.ReadIntake("screen", []byte(regexp.MustCompile(`(?s)\n\s*Pane is dead.*`).ReplaceAllString(text, "\n")))
	require.ErrorContains(t, err, "complaint: found nothing")
	require.Len(t, strings.Split(err.Error(), "\n"), 3) // and work and serial number

	// Nothing answered, nothing kept.
	dir, x = t.TempDir(), newTerminal(t)
	x.start("", "sh -c \"cd "+dir+"; exec traveller new --spec "+specs+"/ostrel-d4.yaml --shop "+specs+"/saltmarsh.yaml\"")
	x.see("received")
	x.press("C-d")
	x.see("the intake was broken off")
	x.ended("2")
	files, err = os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, files)
}
