package scan

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"shimcard/packet"
)

// TellCopies says on standard error, before a command works on job folders, what
// may be another edit of the same job.
func TellCopies(c *cobra.Command, args []string) {
	for _, dir := range args {
		if info, err := os.Stat(dir); err == nil && info.IsDir() {
			tell(c.ErrOrStderr(), dir, true)
		}
	}
}

func tell(w io.Writer, dir string, beside bool) {
	for _, found := range packet.Copies(dir, beside) {
		fmt.Fprintf(w, "note: %s\n", found)
	}
}
