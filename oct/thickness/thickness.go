package thickness

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/surface"
)

// Options are the inputs of [Measure] besides the scan.
type Options struct {
	// CentreSlice and CentreColumn place the grid on the fovea or on the middle
	// of the hole, in slices and columns, fractions allowed. Both NaN: the
	// centre is looked for, and the basis of every figure says how it was found
	// or that it is assumed. Zero is the corner of the scan, not "unknown". In
	// a radial scan the slice is rounded to a whole one.
	CentreSlice, CentreColumn float64
	// Laterality of the eye; unknown means that of the volume.
	Laterality eye.Laterality
	// LateralFactor multiplies displayed lengths across the retina to give
	// lengths on it; see eye.LateralFactor. 0 means that no correction is made.
	LateralFactor float64
}

// Thickness is the result of [Measure]. The keys of its JSON form are stable.
type Thickness struct {
	// Fields are nine: the centre, then the inner and the outer ring, each
	// clockwise from above as the fundus is seen.
	Fields []Field `json:"fields"`
	// CentralUM is the mean of the central field, 1 mm across.
	CentralUM estimate.Estimate `json:"central_um"`
	// CentrePointUM is the mean within 50 µm of the centre.
	CentrePointUM estimate.Estimate `json:"centre_point_um"`
	// TotalVolumeMM3 is the volume over the whole circle of 6 mm.
	TotalVolumeMM3 estimate.Estimate `json:"total_volume_mm3"`
	// Map is for drawing; nil when nothing could be measured.
	Map *Map `json:"-"`
	// Membrane holds the signs of an epiretinal membrane, indicative only.
	Membrane []Sign `json:"membrane_signs"`
	// Centre is where the grid was put; nil when nothing could be measured.
	Centre *GridCentre `json:"centre"`
	// Boundary says between which lines thickness was taken.
	Boundary string   `json:"boundary"`
	Warnings []string `json:"warnings"`
}

// GridCentre is where the grid was put on the retina. x counts from column 0 of
// a raster or the crossing of a radial scan, to the right; y from slice 0 or the
// crossing, upward.
type GridCentre struct {
	XUM   float64 `json:"x_um"`
	YUM   float64 `json:"y_um"`
	Basis string  `json:"basis"` // given, found or assumed
}

// Field is one field of the grid.
type Field struct {
	Name        string            `json:"name"` // e.g. "inner nasal"; "inner scan left" when the side of the eye is unknown
	Side        Side              `json:"side"` // as the fundus is seen
	InnerUM     float64           `json:"inner_radius_um"`
	OuterUM     float64           `json:"outer_radius_um"`
	AreaMM2     float64           `json:"area_mm2"` // of the whole field
	ThicknessUM estimate.Estimate `json:"thickness_um"`
	VolumeMM3   estimate.Estimate `json:"volume_mm3"` // mean thickness times AreaMM2
	// CoveredShare is the share of the area that was seen, 0 to 1; the next
	// three say why the rest was not.
	CoveredShare      float64 `json:"covered_share"`
	OutsideShare      float64 `json:"outside_share"`
	NoMembraneShare   float64 `json:"no_membrane_share"` // open hole, or membrane not traced
	NoEpitheliumShare float64 `json:"no_epithelium_share"`
	ContradictedShare float64 `json:"contradicted_share"` // membrane below the epithelium
	Slices            int     `json:"slices"`             // that cross the field
}

// boundary is the definition of thickness with its caution.
const boundary = "along depth from the inner limiting membrane to the centre of the pigment epithelium band; " +
	"instruments end the retina at other lines (the junction of inner and outer segments reads about 74 µm less than the line beneath the epithelium): " +
	"do not compare figures across instruments or programs"

// Measure takes the thickness between the inner limiting membrane and the
// centre of the pigment epithelium's band on the nine fields of the macular
// grid, at the centre and as a volume; see the package comment for frame,
// method, interval and refusals. Figures that cannot be measured are missing
// with the reason, not errors. An error is returned for a volume that
// contradicts itself, surfaces of another size, a centre outside the scan, an
// impossible factor or two different sides of the eye.
func Measure(v *oct.Volume, s *surface.Surfaces, o Options) (*Thickness, error) {
	if err := check(v, s, o); err != nil {
		return nil, err
	}
	side := o.Laterality
	if side == eye.SideUnknown {
		side = v.Laterality
	}
	t := &Thickness{
		Boundary: boundary, Fields: newFields(side),
		Warnings: warnings(v, side, o),
	}
	if why := unmeasurable(v); why != "" {
		t.refuse(why)
		t.Membrane = missingSigns(why)
		return t, nil
	}
	pl := newPlane(v, s, o)
	if r, is := pl.(*radial); is && r.repeated() > 0 {
		t.Warnings = append(t.Warnings, fmt.Sprintf("%d half-slices of the radial scan have the direction of another; places on them take the first", r.repeated()))
	}
	centre := findCentre(pl, v, o)
	t.Centre = &GridCentre{centre.place.x, centre.place.y, centre.basis}
	if centre.warning != "" {
		t.Warnings = append(t.Warnings, centre.warning)
	}
	if v.Pattern == oct.PatternRaster {
		centre.basis += "; first slice taken as superior, columns as running to the right (assumed)"
	}
	for i, f := range gridShapes() {
		t.Fields[i].fill(integrate(pl, f, centre.place, cellUM), pl, centre)
	}
	t.CentralUM = t.Fields[0].ThicknessUM
	t.CentrePointUM = centrePoint(pl, centre)
	t.TotalVolumeMM3 = total(t.Fields)
	t.Map = newMap(pl, centre.place)
	t.Membrane = membraneSigns(scene{pl, v, s, centre, lateralUM(v, o)}, t.CentralUM)
	return t, nil
}

// check returns a fault for inputs that contradict themselves or each other.
func check(v *oct.Volume, s *surface.Surfaces, o Options) error {
	if v == nil || s == nil || s.InnerLimitingMembrane == nil || s.PigmentEpithelium == nil {
		return &fault.Error{Code: fault.Invalid, Where: "thickness", What: "scan or surfaces are missing"}
	}
	if err := v.Check(); err != nil {
		return err
	}
	for _, x := range []*surface.Surface{s.InnerLimitingMembrane, s.PigmentEpithelium} {
		if x.Slices != v.Slices || x.Columns != v.Columns || len(x.Row) != v.Slices*v.Columns {
			return &fault.Error{
				Code: fault.Invalid, Where: x.Name,
				What:     fmt.Sprintf("a surface of %d slices, %d columns, %d rows given", x.Slices, x.Columns, len(x.Row)),
				Expected: fmt.Sprintf("%d × %d like the scan", v.Slices, v.Columns),
			}
		}
	}
	for _, angle := range v.SliceAnglesDeg {
		if math.IsNaN(angle) || math.IsInf(angle, 0) {
			return &fault.Error{Code: fault.Malformed, Where: "slice angles", What: "an angle is not a number"}
		}
	}
	if f := o.LateralFactor; f != 0 && !(f >= 0.5 && f <= 2) {
		return &fault.Error{Code: fault.Invalid, Where: "lateral factor", What: fmt.Sprintf("%g is not the factor of a human eye", f), Expected: "0.5 to 2"}
	}
	if a, b := o.Laterality, v.Laterality; a != b && a != eye.SideUnknown && b != eye.SideUnknown {
		return &fault.Error{
			Code: fault.Conflict, Where: "eye", What: fmt.Sprintf("the scan says %v, the options say %v", b, a),
			Mend: "decide which side it is: nasal and temporal fields would change places",
		}
	}
	return checkCentre(v, o)
}

// unmeasurable returns why nothing can be measured on a scan, or nothing.
func unmeasurable(v *oct.Volume) string {
	scale := v.Scale
	switch {
	case v.Pattern != oct.PatternRaster && v.Pattern != oct.PatternRadial:
		return fmt.Sprintf("the slices' pattern is %v; fields need a raster or a radial scan", v.Pattern)
	case !scale.Depth.Known():
		return "the depth scale is unknown: no micrometres"
	case !scale.Lateral.Known():
		return "the lateral scale is unknown: fields cannot be placed"
	case v.Pattern == oct.PatternRaster && !scale.Slice.Known():
		return "the distance between slices is unknown: fields cannot be placed"
	}
	return ""
}

// warnings names what was assumed of the scan.
func warnings(v *oct.Volume, side eye.Laterality, o Options) []string {
	out := []string{}
	axes := []oct.AxisScale{v.Scale.Depth, v.Scale.Lateral}
	names := []string{"depth", "lateral"}
	if v.Pattern == oct.PatternRaster {
		axes, names = append(axes, v.Scale.Slice), append(names, "slice")
		out = append(out, "the first slice is taken as superior and columns as running to the right: the scan does not tell")
	}
	for i, a := range axes {
		if a.Trust == oct.TrustAssumed {
			out = append(out, fmt.Sprintf("the %s scale is assumed (%s); its error is in no interval", names[i], a.Source))
		}
	}
	if side == eye.SideUnknown {
		out = append(out, "the side of the eye is unknown: fields are named scan left and scan right instead of nasal and temporal")
	}
	if o.LateralFactor == 0 {
		out = append(out, "the circles are not corrected for the length of the eye: they lie on the retina as the scanner displays it")
	}
	return out
}

// newPlane prepares the pattern of a measurable scan.
func newPlane(v *oct.Volume, s *surface.Surfaces, o Options) plane {
	d := newDepths(v, s)
	if v.Pattern == oct.PatternRadial {
		return newRadial(d, lateralUM(v, o), v.SliceAnglesDeg)
	}
	return &raster{d, lateralUM(v, o), v.Scale.Slice.MicrometresPerSample * o.factor()}
}

// factor is the lateral factor, 1 when none is given.
func (o Options) factor() float64 {
	if o.LateralFactor == 0 {
		return 1
	}
	return o.LateralFactor
}

// lateralUM is the distance of two columns on the retina.
func lateralUM(v *oct.Volume, o Options) float64 {
	return v.Scale.Lateral.MicrometresPerSample * o.factor()
}

// newFields names the fields of an eye.
func newFields(side eye.Laterality) []Field {
	shapes := gridShapes()
	out := make([]Field, len(shapes))
	for i, f := range shapes {
		out[i] = Field{Name: fieldName(f, side), Side: f.side, InnerUM: f.innerUM, OuterUM: f.outUM, AreaMM2: f.areaUM2() * square}
	}
	return out
}

func fieldName(f shape, side eye.Laterality) string {
	ring := "inner "
	if f.innerUM >= InnerRadiusUM {
		ring = "outer "
	}
	switch {
	case f.side == Centre:
		return "centre"
	case f.side == Above:
		return ring + "superior"
	case f.side == Below:
		return ring + "inferior"
	case side == eye.SideUnknown:
		return ring + "scan " + string(f.side)
	case (f.side == Right) == (side == eye.Right):
		return ring + "nasal"
	}
	return ring + "temporal"
}

// fill takes over what a field showed.
func (f *Field) fill(in *integral, pl plane, c centred) {
	f.CoveredShare, f.OutsideShare = in.share(seen), in.share(outside)
	f.NoMembraneShare, f.NoEpitheliumShare, f.ContradictedShare = in.share(noMembrane), in.share(noEpithelium), in.share(crossed)
	f.Slices = in.slices
	f.ThicknessUM = in.thickness(pl, c)
	f.VolumeMM3 = f.ThicknessUM.Scaled(f.AreaMM2 / 1000) // µm·mm² in mm³
}

// refuse gives every figure the same reason.
func (t *Thickness) refuse(why string) {
	for i := range t.Fields {
		t.Fields[i].ThicknessUM, t.Fields[i].VolumeMM3 = estimate.Missing(why), estimate.Missing(why)
	}
	t.CentralUM, t.CentrePointUM, t.TotalVolumeMM3 = estimate.Missing(why), estimate.Missing(why), estimate.Missing(why)
}

// centrePoint is the mean within 50 µm of the centre. It is one reading: its
// random error is not divided.
func centrePoint(pl plane, c centred) estimate.Estimate {
	in := integrate(pl, shape{Centre, 0, centrePointUM}, c.place, cellUM/4)
	if in.share(seen) < LeastShare {
		return estimate.Missing("the centre point was not seen: " + in.unseen())
	}
	w := in.widths(pl)
	w.random = ReadingErrorUM
	w.centre = centreWidth(pl, in.shape, c.place, c.errorUM)
	return w.around(in.mean(), fmt.Sprintf("mean along depth within %.0f µm of the centre; %s; %s", centrePointUM, w, c.basis))
}

// total adds the volumes of the fields. Their errors are taken to have one
// sign, because most of them come from the same two lines.
func total(fields []Field) estimate.Estimate {
	var sum, low, high float64
	for _, f := range fields {
		if !f.VolumeMM3.Known() {
			return estimate.Missing(fmt.Sprintf("field %s is missing (%s): a total would leave it out", f.Name, f.ThicknessUM.Basis))
		}
		sum += f.VolumeMM3.Value
		low += f.VolumeMM3.Low
		high += f.VolumeMM3.High
	}
	return estimate.Estimate{
		Value: sum, Low: low, High: high,
		Basis: "sum over the nine fields of mean thickness times area, 28.274 mm² in all; the fields' intervals are added; " + fields[0].ThicknessUM.Basis,
	}
}
