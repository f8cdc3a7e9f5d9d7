package pictures

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/boombuler/barcode/qr"

	"shimcard/packet/codes"
)

// The damage test of page symbols: 220 renderings of each kind, 2,200 in all,
// of a traveller's and a report's page symbol at level H, in modules of 0.60 to
// 0.75 mm at 150 to 300 dpi. Whatever lies within the symbol's capacity is read
// 99 times of 100; nothing is ever read as another text.
func TestDamaged(t *testing.T) {
	kinds := []struct {
		name   string
		damage func(c *camera, p print, r *rand.Rand)
	}{
		{"turned", func(*camera, print, *rand.Rand) {}},
		{"tilted up to 40°", func(c *camera, _ print, r *rand.Rand) {
			c.tilt, c.tiltAxis = (0.2 + 0.5*r.Float64()), r.Float64()*7
		}},
		{"blurred", func(c *camera, p print, r *rand.Rand) {
			c.blur = (0.25 + 0.3*r.Float64()) * p.module / 25.4 * c.dpi
		}},
		{"noise", func(c *camera, _ print, r *rand.Rand) { c.noise = 12 + 28*r.Float64() }},
		{"uneven light", func(c *camera, _ print, r *rand.Rand) { c.dim = 0.4 + 0.45*r.Float64() }},
		{"blot up to 20 %", func(_ *camera, p print, r *rand.Rand) {
			p.blot(0.02+0.18*r.Float64(), byte(r.IntN(90)), r)
		}},
		{"pale blot up to 20 %", func(_ *camera, p print, r *rand.Rand) {
			p.blot(0.02+0.18*r.Float64(), byte(140+r.IntN(80)), r)
		}},
		{"fold", func(_ *camera, p print, r *rand.Rand) {
			p.fold(0.5+1.5*r.Float64(), byte(255*r.IntN(2)), r)
		}},
		{"photocopy", func(c *camera, p print, r *rand.Rand) {
			c.copier, c.blur, c.noise = 0.4+0.35*r.Float64(), (0.1+0.2*r.Float64())*p.module/25.4*c.dpi, 3
		}},
		{"all, less of each", func(c *camera, p print, r *rand.Rand) {
			c.tilt, c.tiltAxis = 0.4*r.Float64(), r.Float64()*7
			c.blur = 0.3 * r.Float64() * p.module / 25.4 * c.dpi
			c.noise, c.dim = 12*r.Float64(), 0.5*r.Float64()
			p.blot(0.06*r.Float64(), byte(r.IntN(90)), r)
			p.fold(0.6*r.Float64(), 255, r)
		}},
	}
	const each = 220
	type tally struct{ within, read, beyond, readBeyond, wrong int }
	tallies := make([]tally, len(kinds))
	var mu sync.Mutex
	var wg sync.WaitGroup
	var spent time.Duration
	var slowest time.Duration
	tickets := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for n := range tickets {
				kind := n / each
				r := rand.New(rand.NewPCG(18004, uint64(n)))
				number, ok := codes.NewNumber(2020+r.IntN(20), "", r.IntN(10000))
				if !ok {
					number = "26-0412-B"
				}
				page := codes.Page{Number: number, Document: codes.Traveller, Page: 1 + r.IntN(20)}
				if n%2 == 1 {
					page.Document, page.Digest = codes.Report, codes.Digest(number, codes.Report, nil)
				}
				text := page.Symbol()
				p := printed(matrix(t, text, qr.H), 0.60+0.15*r.Float64(), r)
				c := camera{dpi: 150 + 150*r.Float64(), turn: r.Float64() * 2 * math.Pi, paper: 215 + 40*r.Float64(), toner: 15 + 35*r.Float64(), dimTurn: r.Float64() * 7, blur: 0.4, noise: 2}
				kinds[kind].damage(&c, p, r)
				within := readable(t, p, "H")
				picture := c.look(p, r)
				start := time.Now()
				got, _ := search(picture, start.Add(patience))
				took := time.Since(start)
				mu.Lock()
				spent += took
				slowest = max(slowest, took)
				ok = len(got) == 1 && got[0] == text
				k := &tallies[kind]
				switch {
				case within && ok:
					k.within++
					k.read++
				case within:
					k.within++
				case ok:
					k.beyond++
					k.readBeyond++
				default:
					k.beyond++
				}
				if len(got) > 0 && !ok {
					k.wrong++
					t.Errorf("%s, rendering %d: read %q instead of %q", kinds[kind].name, n, got, text)
				}
				mu.Unlock()
			}
		})
	}
	for n := range each * len(kinds) {
		tickets <- n
	}
	close(tickets)
	wg.Wait()
	var all tally
	for i, k := range tallies {
		t.Logf("%-22s %5.1f %% of %3d within capacity read; %3d of %3d beyond", kinds[i].name, 100*float64(k.read)/float64(max(1, k.within)), k.within, k.readBeyond, k.beyond)
		all.within += k.within
		all.read += k.read
		all.wrong += k.wrong
		if float64(k.read) < 0.99*float64(k.within) {
			t.Errorf("%s: %d of %d read, 99 %% wanted", kinds[i].name, k.read, k.within)
		}
	}
	t.Logf("%d of %d read (%.2f %%), %d wrong; %v a picture, slowest %v", all.read, all.within, 100*float64(all.read)/float64(all.within), all.wrong,
		(spent / time.Duration(each*len(kinds))).Round(time.Microsecond), slowest.Round(time.Millisecond))
}
