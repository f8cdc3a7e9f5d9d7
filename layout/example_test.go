package layout_test

import (
	"fmt"
	"time"

	"shimcard/layout"
)

// A page with two figures to measure and one to work out.
func Example() {
	d := layout.New(layout.A4, layout.Meta{
		Title: "Job 26-0412-B", Language: "en-GB", Date: time.Date(2026, 10, 2, 0, 0, 0, 0, time.UTC),
	}, layout.Frame{
		Over: "Saltmarsh Injection Bench", Number: "26-0412-B", PageOf: "page %d of %d",
		Symbol: func(page int) string { return fmt.Sprintf("26-0412-B/%d", page) },
	})
	first := layout.Pen{Code: "H1", Label: "measured", Before: 1, After: 2, Unit: "mm"}
	change := layout.Pen{Code: "H2", Label: "change", Before: 1, After: 2, Unit: "mm", Sign: true, Computed: true}
	d.Add(layout.Section{Key: "H", Bookmark: "Plunger depth", Blocks: []layout.Block{
		layout.Heading{Text: "Work it out"},
		layout.Arith{Terms: []layout.Term{
			{Pen: &first}, {Sign: "−", Fixed: "3.20", Label: "target"}, {Sign: "=", Pen: &change},
		}},
	}, Foot: layout.SignOff{Fields: []layout.Pen{{Code: "H3", Label: "done by", Kind: layout.PenInitials}}}})

	pdf, err := d.Bytes()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, page %d: %v\n", pdf[:5], d.Pages()[0].Number, d.Pages()[0].Marks)
	// Output: %PDF-, page 1: [H]
}
