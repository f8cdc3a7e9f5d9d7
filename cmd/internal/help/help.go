// Package help is how both commands speak of themselves: an example first,
// then a line of usage; and what is missing is named by what it is.
package help

import (
	"fmt"

	"github.com/spf13/cobra"
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
