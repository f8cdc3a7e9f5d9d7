package packet

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every box has its place, on a page where the packet, read back with pdftotext,
// prints its code above, in or left of it, or its row's code left of it; the form
// turns pages as the sheets do.
func TestPlacesAreWhereThePacketPrintsTheCodes(t *testing.T) {
	ds, err := MakeDemos(t.TempDir())
	require.NoError(t, err)
	for _, d := range ds {
		j, err := Open(d.Folder)
		require.NoError(t, err)
		places, err := j.Places()
		require.NoError(t, err)
		pages := seenPages(t, filepath.Join(d.Folder, PacketFile))
		require.Len(t, places, len(j.Boxes()))
		for i, b := range j.Boxes() {
			p := places[i]
			require.Same(t, b, p.Box)
			require.False(t, i > 0 && p.Page < places[i-1].Page, "%s: the form goes back a page", b.Code)
			require.Positive(t, min(p.X, p.Y, p.W, p.H), b.Code)
			printed := false
			for _, w := range pages[p.Page-1].Words {
				x, y := w.XMin/millimetre, (w.YMin+w.YMax)/2/millimetre
				if p.Box.Kind == Tick { // its code stands right of it, in a table above it
					x -= 9
				}
				printed = printed || w.Text == b.Code && x <= p.X+p.W && y >= p.Y-25 && y <= p.Y+p.H ||
					w.Text == rowOf(b.Code) && x < p.X && y > p.Y-40 && y < p.Y+p.H+40 // rows and columns tell it, see pages_test.go
			}
			require.True(t, printed, "%s %s: not printed near its place on page %d", d.Name, b.Code, p.Page)
			for _, q := range places[:i] {
				if q.Page == p.Page {
					apart := q.X+q.W <= p.X+1e-6 || p.X+p.W <= q.X+1e-6 || q.Y+q.H <= p.Y+1e-6 || p.Y+p.H <= q.Y+1e-6
					require.True(t, apart, "%s and %s overlap", q.Box.Code, b.Code)
				}
			}
		}
		require.True(t, strings.HasPrefix(places[0].Box.Code, "A"))
	}
}
