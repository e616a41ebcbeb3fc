package hole

import (
	"fmt"
	"math"
)

// Published criteria of hole-like conditions (Hubschman et al., Br J Ophthalmol
// 2020;104:1741, doi 10.1136/bjophthalmol-2019-315432, abstract).
const criteriaSource = "Hubschman et al., Br J Ophthalmol 2020;104:1741, doi 10.1136/bjophthalmol-2019-315432 (abstract)"

// The states of a criterion.
const (
	seen      = "seen"
	notSeen   = "not seen"
	notJudged = "not judged"
)

// criteria lists the published criteria of lamellar hole, pseudohole and
// foveoschisis and what this scan shows of them. What this program cannot judge
// is listed as such.
func (m *measurement) criteria() []Criterion {
	add := func(condition, criterion, state, note string) Criterion {
		return Criterion{condition, criterion, state, note, criteriaSource}
	}
	undermined, undermineNote := notJudged, "a full-thickness hole was found"
	steep, steepNote := notJudged, "a full-thickness hole was found"
	if m.lumen == nil {
		undermined, undermineNote = m.underminedEdges()
		steep, steepNote = m.steepPit()
	}
	full := notSeen
	if m.lumen != nil {
		full = seen
	}
	return []Criterion{
		{
			"full-thickness hole", "defect of all neurosensory layers", full, "",
			"International Vitreomacular Traction Study group, doi 10.1016/j.ophtha.2013.07.042 (abstract)",
		},
		add("lamellar hole", "irregular foveal contour", notJudged, "no published measure; look at the slices"),
		add("lamellar hole", "foveal cavity with undermined edges", undermined, undermineNote),
		add("lamellar hole", "apparent loss of foveal tissue", notJudged, "no published measure; look at the slices"),
		add("pseudohole", "steepened foveal profile", steep, steepNote),
		add("pseudohole", "epiretinal membrane sparing the fovea", notJudged, "see the membrane signs of the thickness report, indicative only"),
		add("pseudohole", "increased central thickness", notJudged, "see the central field of the thickness report"),
		add("epiretinal membrane foveoschisis", "schisis at the level of Henle's layer", notJudged, "closed cysts are not classified by layer"),
	}
}

// underminedEdges looks for open space that reaches at least 40 µm under tissue
// sideways: a cavity whose edges overhang, without reaching the epithelium.
func (m *measurement) underminedEdges() (state, note string) {
	f, g := m.field, m.geometry
	need := g.columns(40)
	for slice := range f.slices {
		if !f.usable[slice] {
			continue
		}
		run := 0
		for c := range f.columns {
			top := f.retinaTop[slice*f.columns+c]
			under := false
			if !math.IsNaN(top) {
				base := f.index(slice, c, 0)
				for k := int(g.heightSteps(contactUM)); k < int(top)-g.rows(30) && k < f.heights; k++ {
					under = under || m.open[base+k]
				}
			}
			if under {
				run++
			} else {
				run = 0
			}
			if run >= need {
				return seen, fmt.Sprintf("open space reaches %d µm or more under the inner surface on slice %d", 40, slice)
			}
		}
	}
	return notSeen, "no open space reaches 40 µm under the inner surface"
}

// steepPit is the steepest slope of the inner limiting membrane within 1 mm of
// its lowest place. A normal pit falls at about 12° (axial-length-corrected mean
// of the eye reference, secondary); 25° is twice that and is our own limit.
func (m *measurement) steepPit() (state, note string) {
	const limitDeg = 25.0
	f, g := m.field, m.geometry
	if !m.volume.Scale.Depth.Known() || !m.volume.Scale.Lateral.Known() {
		return notJudged, "scale unknown"
	}
	reach, span := g.columns(500), g.columns(60)
	best := 0.0
	for slice := range f.slices {
		line := f.retinaTop[slice*f.columns : (slice+1)*f.columns]
		lowest := -1
		for c := f.columns / 4; c < 3*f.columns/4; c++ {
			if !math.IsNaN(line[c]) && (lowest < 0 || line[c] < line[lowest]) {
				lowest = c
			}
		}
		if lowest < 0 {
			continue
		}
		for c := max(0, lowest-reach); c+span <= min(f.columns-1, lowest+reach); c++ {
			rise := math.Abs(line[c+span]-line[c]) * g.depthUM / (float64(span) * g.lateralUM)
			if rise > best {
				best = rise
			}
		}
	}
	deg := math.Atan(best) * 180 / math.Pi
	state = notSeen
	if deg > limitDeg {
		state = seen
	}
	return state, fmt.Sprintf("steepest fall of the inner surface within 0.5 mm of the pit: %.0f° over 60 µm (limit %g°, ours)", deg, limitDeg)
}
