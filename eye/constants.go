package eye

import "math"

// Places and sizes of the posterior segment that the code reckons with.
const (
	// DiscFoveaMM is the mean distance of the disc's centre from the fovea.
	DiscFoveaMM = 4.76
	// DiscFoveaAngleDeg is the mean angle of the fovea below the horizontal
	// through the disc's centre.
	DiscFoveaAngleDeg = 7.76
	// DiscDiameterMM is the diameter of a disc where one is needed as a scale.
	// The "disc diameter" of old protocols is 1.5 mm; ask which is meant.
	DiscDiameterMM = 1.8
	// OraFromMaculaDeg is the angle of the ora serrata from the posterior pole
	// at the middle of the cavity, from the retina's share of the inner surface
	// taken as a sphere. Another geometry gives 121°.
	OraFromMaculaDeg = 108.9
	// RetinalRadiusMM is the radius of the retinal sphere of a 24 mm eye.
	RetinalRadiusMM = 12.0
)

// Constant is one number of the model eye with where it comes from.
type Constant struct {
	Quantity  string
	Value     float64
	Low, High float64 // NaN where no spread was found
	Unit      string
	Spread    string // what Low and High are
	Source    string
	HowKnown  string // full text, abstract, secondary, from memory, derived, ours
}

// Constants returns the model eye's numbers, each with its spread and source,
// for the page of constants and for reports. The list is the caller's own copy.
// The equations of the cavity's volume stand in [CavityAlternatives].
func Constants() []Constant {
	none := math.NaN()
	const (
		sd     = "mean ± standard deviation"
		jonas  = "Jonas et al., PLoS ONE 2015;10:e0138701, doi 10.1371/journal.pone.0138701"
		nagra  = "Nagra et al., J Anat 2017;231:319-324, doi 10.1111/joa.12641: 73 eyes of 24.51 mm"
		schema = "schematic eye"
		watson = "Watson, J Vis 2014;14(7):15, from Drasdo and Fowler"
	)
	return []Constant{
		{"axial length, adults of 50 years and more", 23.2, 18.96, 28.87, "mm", "range of 3,052", "Jonas et al., PLoS ONE 2015, doi 10.1371/journal.pone.0141771", "abstract"},
		{"axial length, cataract eyes", 23.87, 19.8, 31.92, "mm", "range of 13,012", "Ferreira et al.", "abstract"},
		{"axial length accepted", none, MinAxialLengthMM, MaxAxialLengthMM, "mm", "bounds of this program", "wider than both ranges above", "ours"},
		{"principal point behind the cornea in the lateral scale", principalPointOffsetMM, none, none, "mm", "", "Bennett et al. 1994", "from memory"},
		{"lateral scale of the central retina per millimetre of shortened axial length", bennettMMPerDegree, none, none, "1/degree", "", "Bennett et al. 1994; form endorsed by Garway-Heath et al. 1998, doi 10.1136/bjo.82.6.643", "from memory"},
		{"axial length for which a displayed lateral length is true", ReferenceAxialLengthMM, 23.95, 24.46, "mm", "two device classes", "Parthasarathy and Bhende 2015, doi 10.4103/0301-4738.159877", "full text (opening)"},
		{"lateral factor, error to 29 mm", lateralRelativeSD, 0.006, lateralRelativeSD, "share", "standard deviations by method", "Garway-Heath et al. 1998, doi 10.1136/bjo.82.6.643", "abstract"},
		{"lateral factor, error above 29 mm", longEyeShare, none, none, "share", "", "worst difference from an individual eye model in 34 eyes, taken as a 95 % bound", "abstract"},
		{"wide-field length, linear term", wideFieldLinear, none, none, "mm/degree", "", watson, "from memory"},
		{"wide-field length, quadratic term", wideFieldQuadratic, none, none, "mm/degree²", "", watson, "from memory"},
		{"wide-field length, cubic term", wideFieldCubic, none, none, "mm/degree³", "", watson, "from memory"},
		{"horizontal diameter of the eye at the equator, at 23.5 mm", 23.2, none, none, "mm", "", schema, "from memory"},
		{"horizontal diameter, growth with axial length", 0.29, 0.29, 0.55, "mm/mm", "adults to children", "Atchison et al., IOVS 2004;45:3380", "derived"},
		{"vertical diameter, growth with axial length", 0.54, none, none, "mm/mm", "", "Atchison et al., IOVS 2004;45:3380", "derived"},
		{"vitreous chamber depth", 15.38, 14.24, 16.52, "mm", sd, "Takkar et al., Indian J Ophthalmol 2019;67:1645, doi 10.4103/ijo.IJO_56_19", "abstract"},
		{"radius of the retinal sphere at 24 mm", RetinalRadiusMM, 11.5, 12.8, "mm", "other models", schema, "from memory"},
		{"retinal area", 1363, 1203, 1523, "mm²", sd, nagra, "abstract"},
		{"inner surface of the eye", 2058, 1869, 2247, "mm²", sd, nagra, "abstract"},
		{"ora serrata from the posterior pole, at the middle of the cavity", OraFromMaculaDeg, OraFromMaculaDeg, 121, "degrees", "second geometry, Life 2023;13:202", nagra + "; as a cap of a sphere", "derived"},
		{"disc centre to fovea", DiscFoveaMM, 3.76, 6.53, "mm", "range of 2,836", jonas, "abstract"},
		{"fovea below the horizontal through the disc", DiscFoveaAngleDeg, -6.3, 28.9, "degrees", "range", "Jonas et al., PLoS ONE 2015;10:e0141771, doi 10.1371/journal.pone.0141771", "abstract"},
		{"disc centre to fovea in disc diameters", 2.65, 2.35, 2.95, "", sd, jonas, "abstract"},
		{"disc diameter", DiscDiameterMM, 1.5, 1.88, "mm", "1.5 in old protocols; 1.88 vertical in donor eyes", jonas + ": 4.76 / 2.65", "derived"},
		{"disc, vertical diameter", 1.88, none, none, "mm", "", "Quigley et al., Arch Ophthalmol 1990;108:51, doi 10.1001/archopht.1990.01070030057028", "abstract"},
		{"disc, horizontal diameter", 1.77, none, none, "mm", "", "Quigley et al., Arch Ophthalmol 1990;108:51, doi 10.1001/archopht.1990.01070030057028", "abstract"},
		{"foveal avascular zone, superficial", 0.266, 0.071, 0.527, "mm²", "range of 70", "Retina 2015 (citation from memory)", "abstract"},
		{"foveal avascular zone, deep", 0.495, 0.16, 0.795, "mm²", "range of 70", "Retina 2015 (citation from memory)", "abstract"},
		{"foveal pit, rim to rim", 2.323, 2.095, 2.551, "mm", sd, "Parthasarathy and Bhende 2015, doi 10.4103/0301-4738.159877", "abstract"},
		{"fovea to the arcades", none, 3.0, 3.5, "mm", "working values", "common practice, no source", "from memory"},
		{"length on the retina, disagreement of published values", retinalLengthShare, none, none, "share", "", "0.268, 0.276, 0.288 and 0.2897 mm per degree for a 24 mm eye", "secondary"},
		{"cavity volume, scatter of eyes of one length", cavityScatterSD, none, none, "share", "standard deviation", "de Santana et al., Arq Bras Oftalmol", "derived"},
		{"cavity volume, disagreement of published rules", cavityMethodSD, none, none, "share", "root mean square", "rules of the cavity table and Feng et al. 2011, doi 10.3760/cma.j.issn.2095-0160.2011.02.014", "derived"},
		{"cavity volume, growth of the error outside 20 to 32 mm", cavityBeyondSD, none, none, "share per mm", "standard deviation", "no source", "ours"},
		{"limbus behind the corneal apex", limbusDepthMM, none, none, "mm", "", schema, "from memory"},
		{"radius of the limbus", limbusRadiusMM, limbusRadiusMM - limbusRadiusSD, limbusRadiusMM + limbusRadiusSD, "mm", "half the spread of white-to-white", schema + "; spread from Ferreira et al.", "from memory"},
	}
}
