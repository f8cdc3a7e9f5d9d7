package calc_test

import (
	"fmt"

	"shimcard/calc"
)

// A depth reads 3.34 mm where 3.20 ± 0.05 mm is wanted, with a 1.90 mm shim
// fitted that lifts the plunger: more shim, less depth. Invented figures.
func ExamplePickShims() {
	mm := func(x float64) calc.Length { return calc.LengthOf(x, calc.MM) }
	answer, err := calc.PickShims(calc.Question{
		Measured: mm(3.34), Present: mm(1.90),
		Target: mm(3.20), Low: mm(3.15), High: mm(3.25),
		Effect: -1, Places: 1, MostPerPlace: 1,
		Tray: []calc.Length{mm(1.90), mm(1.95), mm(2.00), mm(2.05), mm(2.10)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("wanted", answer.Wanted.Fixed(calc.MM, 2))
	fmt.Println("fit", answer.Best.Total.Fixed(calc.MM, 2), "for", answer.Best.Predicted.Fixed(calc.MM, 2))
	// Output:
	// wanted 2.04
	// fit 2.05 for 3.19
}

func ExampleParseQuantity() {
	for _, s := range []string{"6,20 mm", "62 lbf ft", "6.20", "109 PSI"} {
		q, decimals, err := calc.ParseQuantity(s)
		if err != nil {
			fmt.Println("error")
			continue
		}
		fmt.Println(q, decimals, q.Unit.Kind)
	}
	// Output:
	// 6.2 mm 2 length
	// 62 lbf·ft 0 torque
	// error
	// error
}
