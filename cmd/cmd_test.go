// Package cmd holds the two commands; this test runs them as a user would.
package cmd

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

var bin string

func TestMain(m *testing.M) {
	var err error
	if bin, err = os.MkdirTemp("", "shimcard"); err == nil {
		build := exec.Command("go", "build", "-o", bin, "./...")
		build.Stderr = os.Stderr
		err = build.Run()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(bin)
	os.Exit(code)
}

// watch reads every source of the module, so that the test cache, which cannot
// see into the built commands, forgets this test's result when one changes.
func watch(root string) {
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil || e.IsDir():
			return err
		case filepath.Ext(path) == ".go" || filepath.Ext(path) == ".yaml":
			_, err = os.ReadFile(path)
		}
		return err
	})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
}

// The scripts in testdata read like a session at a terminal. `demo` makes the
// demonstration and names its first job folder in $JOB, `job` makes only that job
// with nothing typed, `new` another of the same; `status N` runs a command and wants that exit status.
func TestScripts(t *testing.T) {
	watch("..")
	repository, err := filepath.Abs("..")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			e.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"demo": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(ts.Exec("traveller", "demo", "out"))
				jobs, err := filepath.Glob(ts.MkAbs("out/saltmarsh/jobs/[0-9]*"))
				ts.Check(err)
				ts.Setenv("JOB", jobs[0])
				ts.Setenv("SPEC", ts.MkAbs("out/saltmarsh/ostrel-d4.yaml"))
				ts.Setenv("SHOP", ts.MkAbs("out/saltmarsh/shop.yaml"))
				ts.Setenv("INTAKE", ts.MkAbs("out/saltmarsh/intake.yaml"))
			},
			"job": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(ts.Exec("traveller", "new", "--spec", filepath.Join(repository, "specs/demo/ostrel-d4.yaml"),
					"--shop", filepath.Join(repository, "specs/demo/saltmarsh.yaml"),
					"--intake", filepath.Join(repository, "packet/demo/saltmarsh-intake.yaml"), "--jobs", "jobs"))
				ts.Setenv("JOB", "jobs/26-0001-C")
			},
			"new": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(ts.Exec("traveller", "new", "--spec", ts.Getenv("JOB")+"/spec.yaml", "--shop", ts.Getenv("JOB")+"/shop.yaml",
					"--intake", ts.Getenv("JOB")+"/intake.yaml", "--jobs", "jobs"))
			},
			"status": func(ts *testscript.TestScript, neg bool, args []string) {
				err := ts.Exec(args[1], args[2:]...)
				got := 0
				if exit, ok := err.(*exec.ExitError); ok {
					got = exit.ExitCode()
				} else {
					ts.Check(err)
				}
				if fmt.Sprint(got) != args[0] {
					ts.Fatalf("exit status %d, want %s", got, args[0])
				}
			},
			"replace": func(ts *testscript.TestScript, neg bool, args []string) {
				file := ts.MkAbs(args[2])
				data := ts.ReadFile(file)
				at := indexOf(data, args[0])
				if at < 0 {
					ts.Fatalf("%s: no %q", file, args[0])
				}
				ts.Check(os.WriteFile(file, []byte(data[:at]+args[1]+data[at+len(args[0]):]), 0o644))
			},
		},
	})
}

func indexOf(s, sub string) int {
	for i := 0; i+len(sub) <= len(s); i++ {
		if s[i:i+len(sub)] == sub {
			return i
		}
	}
	return -1
}
