package pdf

import (
	"fmt"
	"image"
	"image/color"

	"limitans/fault"
	"limitans/internal/figure/scene"
)

// usedImage is a picture of a file.
type usedImage struct {
	pixels image.Image
}

// Image stretches a picture over a rectangle.
func (p *Page) Image(r scene.Rect, pixels image.Image) {
	if pixels == nil || pixels.Bounds().Empty() {
		p.file.fail(&fault.Error{Code: fault.Internal, Where: "PDF", What: "a picture has no samples"})
		return
	}
	at := -1
	for i, used := range p.file.images {
		if used.pixels == pixels {
			at = i
		}
	}
	if at < 0 {
		at = len(p.file.images)
		p.file.images = append(p.file.images, &usedImage{pixels})
	}
	p.printf("q %s 0 0 %s %s %s cm /I%d Do Q\n", p.n(r.Width), p.n(-r.Height), p.n(r.X), p.n(r.Bottom()), at)
}

// write adds the picture: grey samples where it has no colour, and its opacity
// where it has one.
func (u *usedImage) write(w *writer) (int, error) {
	bounds := u.pixels.Bounds()
	grey, opaque := true, true
	var colours, alphas []byte
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			c := color.NRGBAModel.Convert(u.pixels.At(x, y)).(color.NRGBA)
			grey = grey && c.R == c.G && c.G == c.B
			opaque = opaque && c.A == 255
			colours = append(colours, c.R, c.G, c.B)
			alphas = append(alphas, c.A)
		}
	}
	space := "/DeviceRGB"
	if grey {
		space = "/DeviceGray"
		for i := range alphas {
			colours[i] = colours[3*i]
		}
		colours = colours[:len(alphas)]
	}
	size := fmt.Sprintf("/Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8", bounds.Dx(), bounds.Dy())
	mask := ""
	picture := w.reserve()
	if !opaque {
		at := w.reserve()
		mask = fmt.Sprintf("/SMask %d 0 R", at)
		if err := w.stream(at, size+"/ColorSpace/DeviceGray", alphas); err != nil {
			return 0, err
		}
	}
	return picture, w.stream(picture, size+"/ColorSpace"+space+mask, colours)
}
