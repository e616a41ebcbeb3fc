package hole

// Lengths and levels of the method, each with its reason. Brightness is relative:
// 0 is vitreous, 1 the scan's typical tissue.
const (
	// darkBelow: the middle between vitreous and a faint wall; what is darker
	// can be open space.
	darkBelow = 0.45
	// faintestWall: tissue behind a wall is taken to be at least this bright.
	faintestWall = 0.5
	// openingUM: half-width of the window that open space must have room for.
	// The smallest hole that is looked for, 80 µm, has room for it three times.
	openingUM = 11.0
	// contactUM: open space nearer than this to the epithelium touches it. The
	// ellipsoid band of an intact retina lies farther in than this from the
	// epithelium's inner edge (common practice, no source).
	contactUM = 22.0
	// joinSlicesUM: open space is followed from slice to slice up to this
	// distance; beyond it a thin wall between two slices could be missed.
	joinSlicesUM = 65.0
	// bandHalfUM: half of the thickness of the epithelium's band, used where no
	// bare epithelium shows it (common practice, no source).
	bandHalfUM = 12.0
	// noiseGoal: noise left after smoothing, relative brightness.
	noiseGoal = 0.10
	// wallMeanUM, wallSmoothUM: half-windows along the wall for brightness and
	// for the wall's place.
	wallMeanUM   = 8.0
	wallSmoothUM = 8.0
	// coreUM: distance from the walls beyond which the lumen's own brightness is read.
	coreUM = 12.0
	// brightestLumen: a lumen brighter than this is dim tissue, not vitreous.
	brightestLumen = 0.24
	// lateralBloomUM: on a logarithmic or root display bright tissue looks
	// larger than it is, by about 0.6 of the blur's standard deviation of some
	// 6 µm laterally. Derived; its uncertainty is part of every interval.
	lateralBloomUM = 3.5
	// floorUM: gaps are searched from this height, above debris and the blur of
	// the epithelium.
	floorUM = 20.0
	// lidShare: the lumen ends at this share of the lower rim's height, below
	// the rounding of the rim. Definition of this program.
	lidShare = 0.9
	// rimReachUM: the rims are looked for within this distance of the walls.
	rimReachUM = 1000.0
	// tiltReachUM: the slope of the epithelium is fitted within this distance.
	tiltReachUM = 900.0
	// smallestWidthUM: open space narrower than this where it touches the
	// epithelium is not called a hole.
	smallestWidthUM = 30.0
)

// Heights between which the walls are followed down to the base, in µm: above
// the blur of the epithelium, below the flare of the walls.
const (
	baseFromUM = 27.0
	baseToUM   = 54.0
)

// Spacing assumed for search windows where the scale is unknown; no figure in
// µm is given then.
const (
	usualDepthUM   = 4.0
	usualLateralUM = 8.0
	usualSliceUM   = 60.0
)
