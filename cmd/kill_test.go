package cmd

import (
	"os"
	"os/exec"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// Killed at random moments over new, a batch, typing and reports, a few times here and a thousand
// times by hand.
func TestKilledCommands(t *testing.T) {
	c := exec.Command("../testdata/kill.sh", "12")
	c.Env = append(os.Environ(), "COMMANDS="+bin)
	out, err := c.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Contains(t, string(out), "12 kills: ")
}

// Four processes of the command itself, five jobs each, on one folder.
func TestJobsByFourProcesses(t *testing.T) {
	root := t.TempDir()
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			for range 5 {
				c := exec.Command(bin+"/traveller", "new", "--spec", "../specs/demo/ostrel-d4.yaml", "--shop", "../specs/demo/saltmarsh.yaml",
					"--intake", "../packet/demo/saltmarsh-intake.yaml", "--jobs", root)
				if out, err := c.CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, out)
				}
			}
		})
	}
	wait.Wait()
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	jobs := 0
	for _, e := range entries {
		if e.Name()[0] != '.' {
			jobs++
			require.FileExists(t, root+"/"+e.Name()+"/packet.pdf")
		}
	}
	require.Equal(t, 20, jobs)
}
