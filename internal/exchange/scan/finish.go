package scan

import (
	"limitans/oct"
)

// finish lays what people said over what the files said and checks the result.
func finish(v *oct.Volume, p string, b *bundle, o Options) error {
	o.Scale.apply(v, "given by the user")
	if v.Pattern == oct.PatternUnknown && v.Scale.Slice.Known() {
		v.Pattern = oct.PatternRaster
	}
	if v.Laterality == 0 {
		v.Laterality = o.Laterality
	}
	return v.Check()
}
