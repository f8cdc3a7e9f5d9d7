package pictures

import (
	"fmt"
	"strings"

	"github.com/klippa-app/go-pdfium"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
)

// Differ compares pages of one PDF with those of another by how they look: at
// gives for a page of want, from 1, the page of got that should look the same.
// Pages of want that at lacks are named. It returns "" when all look alike, else
// what differs and where.
func Differ(name string, got, want []byte, at map[int]int) (string, error) {
	deadline := pdfDeadline().Add(patience)
	drawn := map[int]gray{}
	var out []string
	if err := withPDF(name, got, deadline, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT) error {
		for _, n := range at {
			g, err := draw(in, doc, n-1)
			if err != nil {
				return fmt.Errorf("page %d: %w", n, err)
			}
			drawn[n] = g
		}
		return nil
	}); err != nil {
		return "", err
	}
	err := withPDF("the report printed anew", want, deadline, func(in pdfium.Pdfium, doc references.FPDF_DOCUMENT) error {
		count, err := in.FPDF_GetPageCount(&requests.FPDF_GetPageCount{Document: doc})
		if err != nil {
			return err
		}
		for n := 1; n <= count.PageCount; n++ {
			there, ok := at[n]
			if !ok {
				out = append(out, fmt.Sprintf("page %d is not there, or its symbol is not read", n))
				continue
			}
			g, err := draw(in, doc, n-1)
			if err != nil {
				return fmt.Errorf("page %d: %w", n, err)
			}
			if where := unlike(g, drawn[there]); where != "" {
				out = append(out, fmt.Sprintf("page %d looks different %s", n, where))
			}
		}
		return nil
	})
	return strings.Join(out, "; "), err
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
