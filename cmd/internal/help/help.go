// Package help is how both commands speak of themselves: an example first,
// then a line of usage; and what is missing is named by what it is.
package help

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"shimcard/packet"
)

// Plain sets the help of a command and of all below it.
func Plain(root *cobra.Command) {
	root.SilenceUsage, root.SilenceErrors = true, true
	root.SetHelpTemplate("{{with .Example}}{{.}}\n\n{{end}}{{with (or .Long .Short)}}{{.}}\n\n{{end}}{{.UsageString}}")
	root.SetUsageTemplate(`usage: {{.UseLine}}{{if .HasAvailableSubCommands}}

commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

flags:
{{.LocalFlags.FlagUsages}}{{end}}
`)
}

// One wants exactly one argument, and says in words what it is.
func One(what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != 1 {
			return fmt.Errorf("name %s", what)
		}
		return nil
	}
}

// PDF keeps --out from writing over a file of a job, or any that is no PDF, by a
// slip of the hand.
func PDF(name string) error {
	if !strings.EqualFold(filepath.Ext(name), ".pdf") || packet.IsJobFile(filepath.Base(name)) {
		return fmt.Errorf("%s: --out names a PDF file other than a job's own packet and reports, such as pages.pdf", name)
	}
	if info, err := os.Stat(name); err == nil && info.IsDir() {
		return fmt.Errorf("%s: --out names a PDF file, and this is a folder; write %s", name, filepath.Join(name, "pages.pdf"))
	}
	return nil
}
