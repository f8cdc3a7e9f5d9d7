package pictures

import (
	"fmt"
	"time"

	"github.com/klippa-app/go-pdfium"
	"github.com/klippa-app/go-pdfium/references"
)

// Differ compares pages of one PDF with those of another by how they look, in
// print and on a screen: at gives for a page of want, from 1, the page of got that
// should look the same. differ says what does not, missing are the pages of want
// that at lacks.
func Differ(name string, got, want []byte, at map[int]int) (differ []string, missing []int, err error) {
	type doc = references.FPDF_DOCUMENT
	err = withPDF(name, got, 3, func(theirs pdfium.Pdfium, given doc, _ int, _ time.Time) error {
		return withPDF("the document printed anew", want, 3, func(ours pdfium.Pdfium, printed doc, pages int, _ time.Time) error {
			for n := 1; n <= pages; n++ {
				there, ok := at[n]
				if !ok {
					missing = append(missing, n)
					continue
				}
				g, err := draw(ours, printed, n-1, true)
				if err != nil {
					return fmt.Errorf("page %d: %w", n, err)
				}
				for _, how := range []string{"in print", "on a screen"} {
					other, err := draw(theirs, given, there-1, how == "in print")
					if err != nil {
						return fmt.Errorf("%s: page %d: %w", name, there, err)
					}
					if where := unlike(g, other); where != "" {
						differ = append(differ, fmt.Sprintf("page %d looks different %s %s", n, how, where))
						break
					}
				}
			}
			return nil
		})
	})
	return differ, missing, err
}

// unlike says where two drawn pages look different, "" when they look alike.
// Both were drawn by one program, but another may have saved the file and moved
// its lines by a fraction of a dot: a dot differs where none of its neighbours on
// the other page is like it.
func unlike(a, b gray) string {
	if a.w != b.w || a.h != b.h {
		return fmt.Sprintf("in size: %d × %d dots, not %d × %d", b.w, b.h, a.w, a.h)
	}
	const clearly, few = 96, 5
	strange := func(a, b gray, x, y int) bool {
		v := int(a.at(x, y))
		low, high := 255, 0
		for j := max(0, y-1); j <= min(b.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(b.w-1, x+1); i++ {
				low, high = min(low, int(b.at(i, j))), max(high, int(b.at(i, j)))
			}
		}
		return v < low-clearly || v > high+clearly
	}
	dots, left, top, right, foot := 0, a.w, a.h, 0, 0
	for i, v := range a.pix {
		x, y := i%a.w, i/a.w
		if d := int(v) - int(b.pix[i]); (d > clearly || d < -clearly) && (strange(a, b, x, y) || strange(b, a, x, y)) {
			dots++
			left, right, top, foot = min(left, x), max(right, x), min(top, y), max(foot, y)
		}
	}
	if dots <= few {
		return ""
	}
	mm := func(n int) int { return int(float64(n) / dpi * 25.4) }
	return fmt.Sprintf("between %d and %d mm from the top, %d and %d mm from the left", mm(top), mm(foot+1), mm(left), mm(right+1))
}
