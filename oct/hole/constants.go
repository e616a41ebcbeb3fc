package hole

// Lengths and levels of the method, each with its reason. Brightness is relative:
// 0 is vitreous, 1 the scan's typical tissue.
const (
	// darkBelow: what is darker can be open space. The outer nuclear layer, the
	// darkest of the retina, is brighter; noise, of which darkNoise standard
	// deviations must stay below, raises the limit to at most darkAtMost, the
	// middle between vitreous and a faint wall.
	darkBelow  = 0.24
	darkNoise  = 3.0
	darkAtMost = 0.45
	// darkUnderRoof replaces darkBelow where space is followed under a roof.
	darkUnderRoof = 0.13
	// faintestWall: tissue behind a wall is taken to be at least this bright.
	faintestWall = 0.36
	// openingUM: half-width of the window that open space must have room for.
	// The smallest hole that is looked for, 80 µm, has room for it three times.
	openingUM = 11.0
	// contactUM: open space nearer than this to the epithelium touches it. The
	// ellipsoid band of an intact retina lies farther in than this from the
	// epithelium's inner edge (common practice, no source).
	contactUM = 22.0
	// undermineUM, sameHoleUM: open space is followed from slice to slice below
	// this height, and between slices up to this distance.
	undermineUM = 50.0
	sameHoleUM  = 150.0
	// bandHalfUM: half of the thickness of the epithelium's band, used where no
	// bare epithelium shows it (common practice, no source).
	bandHalfUM = 12.0
	// noiseGoal: noise left after smoothing, relative brightness.
	noiseGoal = 0.07
	// wallMeanUM, wallSmoothUM: half-windows along the wall for brightness and
	// for the wall's place.
	wallMeanUM   = 8.0
	wallSmoothUM = 12.0
	// fragmentUM, fragmentDepthUM, cleftDepth: a fragment is shorter than this
	// along the wall, stands out by more than this, and the cleft behind it is
	// this much darker.
	fragmentUM      = 60.0
	fragmentDepthUM = 9.0
	cleftDepth      = 0.10
	// coreUM: distance from the walls beyond which the lumen's own brightness is read.
	coreUM = 12.0
	// brightestLumen: a lumen brighter than this is dim tissue, not vitreous.
	brightestLumen = 0.24
	// leastTraced: with less of either line traced, a hole is not ruled out.
	leastTraced = 0.5
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

// The walls are carried down to the base from just above the epithelium's glare.
const (
	// baseFromUM: the glare reaches no higher than this.
	baseFromUM = 27.0
	// baseFitUM: height over which their direction is taken.
	baseFitUM = 24.0
	// glareStep: brightness above that of the lumen that counts as glare.
	glareStep = 0.12
)

// Spacing assumed for search windows where the scale is unknown; no figure in
// µm is given then.
const (
	usualDepthUM   = 4.0
	usualLateralUM = 8.0
	usualSliceUM   = 60.0
)
