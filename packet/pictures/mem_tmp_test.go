package pictures

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"
)

func TestMemTmp(t *testing.T) {
	f := os.Getenv("MEM")
	if f == "" {
		return
	}
	if f == "make" {
		pdf, _ := sheets(t, 1, 900)
		fl, _ := os.Open(drawn(t, pdf, 1, 600))
		img, _ := png.Decode(fl)
		page := print{gray: grayOf(img), module: fine * 25.4 / 600}
		r := rand.New(rand.NewPCG(2, 3))
		for _, dpi := range []float64{400, 600} {
			g := camera{dpi: dpi, turn: .1, tilt: .2, tiltAxis: 1, blur: 1.5 * dpi / 300, noise: 5, dim: .4, paper: 230, toner: 35}.look(page, r)
			fmt.Println(dpi, g.w, g.h, g.w*g.h)
			// colour
			m := image.NewRGBA(image.Rect(0, 0, g.w, g.h))
			for i, v := range g.pix {
				m.Pix[4*i] = v
				m.Pix[4*i+1] = v
				m.Pix[4*i+2] = v - v/8
				m.Pix[4*i+3] = 255
			}
			o, _ := os.Create(fmt.Sprintf("/tmp/pict/p%.0f.jpg", dpi))
			jpeg.Encode(o, m, &jpeg.Options{Quality: 90})
			o.Close()
			if dpi == 600 {
				w, h := 7000, 7100
				d := image.NewNRGBA64(image.Rect(0, 0, w, h))
				for y := range h {
					for x := range w {
						v := byte(230)
						if x < g.w && y < g.h {
							v = g.pix[y*g.w+x]
						}
						d.SetNRGBA64(x, y, color.NRGBA64{uint16(v) * 257, uint16(v) * 257, uint16(v) * 257, 65000})
					}
				}
				o, _ := os.Create("/tmp/pict/deep.png")
				(&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(o, d)
				o.Close()
			}
		}
		n := image.NewGray(image.Rect(0, 0, 7000, 7000))
		for i := range n.Pix {
			n.Pix[i] = byte(r.Uint32())
		}
		o, _ := os.Create("/tmp/pict/noise.jpg")
		jpeg.Encode(o, n, nil)
		o.Close()
		return
	}
	d, _ := os.ReadFile(f)
	s := time.Now()
	found, err := Read(f, d)
	fmt.Println(f, len(found), err, time.Since(s))
	b, _ := os.ReadFile("/proc/self/status")
	for _, l := range strings.Split(string(b), "\n") {
		if strings.HasPrefix(l, "VmHWM") {
			fmt.Println(l)
		}
	}
}
