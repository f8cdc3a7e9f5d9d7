package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shimcard/packet"
)

// demoJob is the job of one of the invented shops, its files changed by some
// edits.
func demoJob(t *testing.T, shop, spec string, edits ...string) *packet.Job {
	t.Helper()
	var files []packet.File
	for _, name := range []string{
		filepath.Join("..", "..", "packet", "demo", shop+"-intake.yaml"),
		filepath.Join("..", "..", "specs", "demo", spec),
		filepath.Join("..", "..", "specs", "demo", shop+".yaml"),
	} {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		files = append(files, packet.File{Name: name, Data: []byte(strings.NewReplacer(edits...).Replace(string(data)))})
	}
	j, err := packet.NewJob("26-0001-C", files[0], files[1], files[2])
	require.NoError(t, err)
	return j
}

// On a screen of 80 × 24 and larger, every box of every page has its field inside
// the screen, none over another, in the order left to right of the paper.
func TestEveryBoxHasItsFieldOnTheScreen(t *testing.T) {
	for _, job := range []*packet.Job{
		demoJob(t, "saltmarsh", "ostrel-d4.yaml"),
		demoJob(t, "saltmarsh", "ostrel-d4.yaml", "language: en", "language: de", "outlets: 4", "outlets: 12"),
		demoJob(t, "prairie", "vessant-s6.yaml"),
	} {
		places, err := job.Places()
		require.NoError(t, err)
		pages := map[int][]int{}
		for i, p := range places {
			pages[p.Page] = append(pages[p.Page], i)
		}
		for _, size := range [][2]int{{80, 17}, {100, 30}, {132, 50}} {
			for n, page := range pages {
				name := fmt.Sprintf("%s, page %d at %v", job.Spec.Pump.Name, n, size)
				g := newGrid(job, places, page, size[0], size[1])
				require.Len(t, g.cells, len(page), name)
				taken := map[[2]int]string{}
				for _, c := range g.cells {
					code := places[c.at].Box.Code
					head := max(runes(c.code)+1, c.field+2)
					height := 2
					if c.flat {
						head, height = runes(c.code)+c.field+2, 1
					}
					require.GreaterOrEqual(t, c.x, 0, "%s: %s", name, code)
					require.LessOrEqual(t, c.x+head, size[0]+1, "%s: %s", name, code)
					require.LessOrEqual(t, c.line+height, g.lines, "%s: %s", name, code)
					for y := c.line; y < c.line+height; y++ {
						for x := c.x; x < c.x+min(head, c.w+1); x++ {
							require.Empty(t, taken[[2]int{x, y}], "%s: %s over another", name, code)
							taken[[2]int{x, y}] = code
						}
					}
				}
				for _, a := range g.cells {
					for _, b := range g.cells {
						if p, q := places[a.at], places[b.at]; a.line == b.line && p.X+p.W <= q.X {
							require.Less(t, a.x, b.x, "%s: %s and %s", name, p.Box.Code, q.Box.Code)
						}
					}
				}
			}
		}
	}
}

func TestSpread(t *testing.T) {
	for _, x := range []struct {
		want, size, at []int
		length         int
	}{
		{[]int{0, 10, 20}, []int{5, 5, 5}, []int{0, 10, 20}, 30},
		{[]int{0, 3, 20}, []int{5, 5, 5}, []int{0, 5, 20}, 30},    // pushed on
		{[]int{0, 20, 28}, []int{5, 10, 5}, []int{0, 15, 25}, 30}, // and back from the end
		{[]int{7, 7, 7}, []int{3, 3, 3}, []int{0, 3, 6}, 9},
	} {
		require.Equal(t, x.at, spread(x.want, x.size, x.length))
	}
}
