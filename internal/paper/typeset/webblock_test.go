package typeset

import (
	"bytes"
	"testing"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"

	"limitans/fault"
)

// TestWebBlock reads blocks back with another reader of fonts: the letters of the
// block and no others, each as wide as in the whole font.
func TestWebBlock(t *testing.T) {
	face, err := chinese.load()
	if err != nil {
		t.Fatal(err)
	}
	for _, block := range []uint8{0x30, 0x4e, 0x73, 0x9f, 0xac, 0xff} {
		data, err := WebBlock(block)
		if err != nil {
			t.Fatalf("%02x: %v", block, err)
		}
		loader, err := opentype.NewLoader(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%02x: %v", block, err)
		}
		read, err := font.NewFont(loader)
		if err != nil {
			t.Fatalf("%02x: %v", block, err)
		}
		letters := 0
		for i := range 0xffff { // U+FFFF ends the table
			glyph, has := read.NominalGlyph(rune(i))
			whole, wanted := face.font.NominalGlyph(rune(i))
			if wanted = wanted && i>>8 == int(block); has != wanted {
				t.Fatalf("%02x: U+%04X is there: %v, want %v", block, i, has, wanted)
			}
			if !has {
				continue
			}
			letters++
			if got, want := font.NewFace(read).HorizontalAdvance(glyph), font.NewFace(face.font).HorizontalAdvance(whole); got != want {
				t.Errorf("U+%04X is %g wide, want %g", i, got, want)
			}
		}
		if letters < 40 || len(data) > 200_000 {
			t.Errorf("%02x: %d letters in %d bytes", block, letters, len(data))
		}
	}
	if _, err := WebBlock(0xd8); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("surrogates: %v", err)
	}
}
