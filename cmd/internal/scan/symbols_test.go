package scan

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet"
)

// Symbols printed by the first version, kept as pictures: they open in every
// later one. The pictures are of an invented job; spec.yaml is its spec.
func TestSymbolsOfTheFirstVersionOpen(t *testing.T) {
	kept := filepath.Join("..", "..", "..", "testdata", "symbols")
	spec, err := os.ReadFile(filepath.Join(kept, "spec.yaml"))
	require.NoError(t, err)

	run := func(jobs string, args ...string) string {
		t.Helper()
		c := Reopen("traveller")
		var out bytes.Buffer
		c.SetOut(&out)
		c.SetArgs(append(args, "--jobs", jobs))
		c.SilenceUsage, c.SilenceErrors = true, true
		require.NoError(t, c.Execute(), out.String())
		return out.String()
	}
	for _, picture := range []string{"packet.png", "report.png"} {
		jobs := t.TempDir()
		said := run(jobs, filepath.Join(kept, picture))
		require.Contains(t, said, "26-0001-C: Ostrel D4, serial 7719-204")
		got, err := os.ReadFile(filepath.Join(jobs, "26-0001-C", packet.SpecFile))
		require.NoError(t, err)
		require.Equal(t, string(spec), string(got))
		if picture == "report.png" {
			require.Contains(t, said, string(packet.PumpMeets))
		}
		require.Contains(t, run(jobs, filepath.Join(kept, "page.png")), "page         5 of")
	}
}
