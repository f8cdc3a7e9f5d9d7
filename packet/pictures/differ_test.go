package pictures

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/layout"
)

// One figure of small print changed into any other is seen, and a page is like
// itself.
func TestOneFigureChangedIsSeen(t *testing.T) {
	d := layout.New(layout.A4, layout.Meta{Title: "figures"}, layout.Frame{})
	for n := range 10 {
		d.Add(layout.Section{Key: fmt.Sprint(n), NewPage: true, Blocks: []layout.Block{
			layout.Para{Text: fmt.Sprintf("plunger spring preset 6.10 – 6.30, left 6.2%d mm", n), Size: 7},
		}})
	}
	pdf, err := d.Bytes()
	require.NoError(t, err)
	for turn := range 10 {
		at := map[int]int{}
		for n := range 10 {
			at[n+1] = (n+turn)%10 + 1
		}
		differ, missing, err := Differ("figures.pdf", pdf, pdf, at)
		require.NoError(t, err)
		require.Empty(t, missing)
		if turn == 0 {
			require.Empty(t, differ)
			continue
		}
		require.Equal(t, 10, strings.Count(strings.Join(differ, "; "), "looks different in print"), "figures %d apart: %s", turn, differ)
	}
}
