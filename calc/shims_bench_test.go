package calc

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// shopQuestions are picks as a shop meets them: a tray in steps of 0.05, 0.02,
// 0.025 mm or 0.001 in, or of uneven sizes as measured, with stock and some
// shims out; limits lopsided or not; wanted anywhere within the tray's reach.
func shopQuestions(sizes, most, places int) []Question {
	r := rand.New(rand.NewPCG(40, 4))
	var list []Question
	for range 200 {
		q := Question{Measured: 6000 * um, Effect: []float64{1, -1}[r.IntN(2)], Places: places, MostPerPlace: most, Uncertainty: 10 * um}
		step, uneven := []Length{50 * um, 20 * um, 25 * um, Inch / 1000}[r.IntN(4)], r.IntN(3) == 0
		for i := range sizes {
			s := 500*um + Length(i)*step
			if uneven {
				s += Length(r.IntN(int(step/um))) * um
			}
			q.Tray = append(q.Tray, s)
			q.Stock = append(q.Stock, r.IntN(9))
		}
		for range r.IntN(5) {
			q.Out = append(q.Out, q.Tray[r.IntN(sizes)])
		}
		q.Present = 1000 * um
		wanted := Length(r.IntN(int(Length(most)*q.Tray[sizes-1]/um))) * um
		q.Target = q.Measured + Length(q.Effect)*(wanted-q.Present)
		q.Low, q.High = q.Target-Length(20+r.IntN(80))*um, q.Target+Length(20+r.IntN(80))*um
		list = append(list, q)
	}
	return list
}

// BenchmarkPickShims tells the mean and, as worst-ns, the slowest question at
// the best of its runs: 40 sizes, 4 per stack, 2 places is the size to watch.
func BenchmarkPickShims(b *testing.B) {
	run := func(sizes, most, places int) {
		b.Run(fmt.Sprintf("sizes=%d/most=%d/places=%d", sizes, most, places), func(b *testing.B) {
			questions := shopQuestions(sizes, most, places)
			best := make([]time.Duration, len(questions))
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				i := n % len(questions)
				start := time.Now()
				if _, err := PickShims(questions[i]); err != nil {
					b.Fatal(err)
				}
				if d := time.Since(start); best[i] == 0 || d < best[i] {
					best[i] = d
				}
				n++
			}
			var worst time.Duration
			for _, d := range best {
				worst = max(worst, d)
			}
			b.ReportMetric(float64(worst), "worst-ns")
		})
	}
	for _, sizes := range []int{5, 10, 20, 40, 80} {
		run(sizes, 4, 2)
	}
	for _, most := range []int{1, 2, 3, 5, 6} {
		run(40, most, 2)
	}
	run(40, 4, 1)
}
