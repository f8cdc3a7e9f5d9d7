package pictures

import (
	"image"
	"image/color"
)

// gray is a picture's brightness, row by row, 0 black.
type gray struct {
	w, h int
	pix  []byte
}

func (g gray) at(x, y int) byte { return g.pix[y*g.w+x] }

// grayOf is a picture's brightness; what is transparent is on white paper.
func grayOf(m image.Image) gray {
	b := m.Bounds()
	g := gray{b.Dx(), b.Dy(), make([]byte, b.Dx()*b.Dy())}
	luma := func(r, gr, b uint32) byte { return byte((19595*r + 38470*gr + 7471*b + 1<<15) >> 16) }
	for y := range g.h {
		row := g.pix[y*g.w : (y+1)*g.w]
		sy := b.Min.Y + y
		switch m := m.(type) {
		case *image.Gray:
			copy(row, m.Pix[m.PixOffset(b.Min.X, sy):])
		case *image.YCbCr:
			copy(row, m.Y[m.YOffset(b.Min.X, sy):])
		case *image.RGBA:
			p := m.Pix[m.PixOffset(b.Min.X, sy):]
			for x := range row {
				row[x] = luma(uint32(p[4*x]), uint32(p[4*x+1]), uint32(p[4*x+2])) + 255 - p[4*x+3]
			}
		case *image.NRGBA:
			p := m.Pix[m.PixOffset(b.Min.X, sy):]
			for x := range row {
				v, a := uint32(luma(uint32(p[4*x]), uint32(p[4*x+1]), uint32(p[4*x+2]))), uint32(p[4*x+3])
				row[x] = byte((v*a + 255*(255-a)) / 255)
			}
		case *image.Paletted:
			p := m.Pix[m.PixOffset(b.Min.X, sy):]
			var lut [256]byte
			for i := range lut {
				lut[i] = 255
				if i < len(m.Palette) {
					lut[i] = onWhite(m.Palette[i])
				}
			}
			for x := range row {
				row[x] = lut[p[x]]
			}
		default:
			for x := range row {
				row[x] = onWhite(m.At(b.Min.X+x, sy))
			}
		}
	}
	return g
}

func onWhite(c color.Color) byte {
	r, g, b, a := c.RGBA()
	return byte(min(0xffff, (19595*r+38470*g+7471*b+1<<15)>>16+0xffff-a) >> 8)
}

// half is a picture at half its size, each dot the mean of four.
func (g gray) half() gray {
	out := gray{g.w / 2, g.h / 2, make([]byte, (g.w/2)*(g.h/2))}
	for y := range out.h {
		a, b := g.pix[2*y*g.w:], g.pix[(2*y+1)*g.w:]
		for x := range out.w {
			out.pix[y*out.w+x] = byte((int(a[2*x]) + int(a[2*x+1]) + int(b[2*x]) + int(b[2*x+1]) + 2) / 4)
		}
	}
	return out
}

// softened is a picture with each dot spread over its neighbours, 1:2:1 each way.
func (g gray) softened() gray {
	rows := gray{g.w, g.h, make([]byte, len(g.pix))}
	for y := range g.h {
		in, out := g.pix[y*g.w:(y+1)*g.w], rows.pix[y*g.w:(y+1)*g.w]
		for x, v := range in {
			out[x] = byte((int(in[max(0, x-1)]) + 2*int(v) + int(in[min(x+1, g.w-1)]) + 2) / 4)
		}
	}
	out := gray{g.w, g.h, make([]byte, len(g.pix))}
	for y := range g.h {
		a, c := rows.pix[max(0, y-1)*g.w:], rows.pix[min(y+1, g.h-1)*g.w:]
		for x := range g.w {
			out.pix[y*g.w+x] = byte((int(a[x]) + 2*int(rows.pix[y*g.w+x]) + int(c[x]) + 2) / 4)
		}
	}
	return out
}
