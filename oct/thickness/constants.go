package thickness

import "math"

// Radii of the three circles of the macular grid in µm. Source: DICOM PS3.17
// section UU.5 (circles of 1, 3 and 6 mm; section read).
const (
	CentreRadiusUM = 500.0
	InnerRadiusUM  = 1500.0
	OuterRadiusUM  = 3000.0
)

// Limits of what a thickness change means.
const (
	// RealChangeUnregisteredUM: a change of the central field beyond it is more
	// than measuring error when the two scans were placed independently. Central
	// subfield, non-central oedema, four makes, 95 % (abstract; citation
	// incomplete, check before quoting).
	RealChangeUnregisteredUM = 20.0
	// RealChangeRegisteredUM: the same when the second scan was placed on the
	// first by the instrument: 10.7 µm, against 27.0 µm without, at a mean of
	// 402 µm, rounded up (abstract; citation incomplete, check before quoting).
	RealChangeRegisteredUM = 11.0
)

// Constants of the refusals and of the interval; the package comment says how
// they enter.
const (
	// LeastShare of a field's area must be seen. With the least spread of
	// 40 µm, a tenth unseen adds 4 µm, no more than the two lines' own systematic
	// error; with more unseen, what was not seen would dominate (derived).
	LeastShare = 0.90
	// LeastSlices must cross a field: two give no hint of what lies between
	// them (derived).
	LeastSlices = 3
	// ReadsTooMuchUM and ReadsTooLittleUM bound, at 95 %, the error that both
	// lines share over a field. The sides differ: bright tissue looks larger
	// than it is on a logarithmic or root display, and what package surface
	// cannot take back of that remains. Over 24 synthetic eyes drawn with
	// package phantom (12 slices each, twelve with a hole) traced lines read 0.9
	// to 4.6 µm too much, most with a bright membrane on the retina (measured
	// here); 6 leaves room for real eyes. Where the display is guessed wrong the
	// other way, about one standard deviation of the blur, 4 µm, is missed
	// (derived). Nothing is corrected for here.
	ReadsTooMuchUM   = 6.0
	ReadsTooLittleUM = 4.0
	// ReadingErrorUM is the 95 % error of thickness at one place, √(4.3² + 7.7²);
	// see the package comment.
	ReadingErrorUM = 8.8
	// IndependentUM is the distance along a slice beyond which errors of a
	// traced line are taken as independent (common practice, no source).
	IndependentUM = 100.0
	// LeastSpreadUM is the least spread of thickness assumed in a field when
	// part of it was not seen: half of the published difference between the
	// mean centre (250 µm) and inner ring (319 µm) of 490 healthy eyes
	// (abstract), rounded up.
	LeastSpreadUM = 40.0
	// FoundCentreUM and AssumedCentreUM are the errors, 95 %, of a centre that
	// was found as the pit, and of the scan's middle taken for it (common
	// practice, no source).
	FoundCentreUM   = 100.0
	AssumedCentreUM = 300.0
)

// Lengths of the method.
const (
	cellUM            = 25.0   // largest side of a cell of the integration grid
	centrePointUM     = 50.0   // radius within which the centre point is averaged
	mapStepUM         = 50.0   // step of the map
	pitSearchUM       = 1000.0 // the pit is looked for within this distance of the scan's middle
	pitDiscUM         = 100.0  // radius averaged when it is looked for
	pitRimInnerUM     = 800.0  // ring with which the pit is compared
	pitRimOuterUM     = 1200.0
	leastPitUM        = 20.0 // a shallower one is not called found: more than twice the reading error of one place (derived)
	widestGapDeg      = 45.0 // radial: wider gaps between meridians are not interpolated
	sameMeridianDeg   = 0.01 // radial: closer meridians are one
	edgeSlack         = 1e-9 // samples: rounding at the edge of the scan
	thinnestUM        = 0.0  // the membrane below the epithelium is a contradiction
	degree            = math.Pi / 180
	square            = 1e-6 // mm² in a µm²
	cube              = 1e-9 // mm³ in a µm³
	coarseCellsFactor = 2.0  // the grid for moved centres may be coarser
)
