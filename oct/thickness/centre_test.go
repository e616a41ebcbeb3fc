package thickness

import (
	"fmt"
	"math"
	"testing"
)

func TestPitIsFoundAsTheCentre(t *testing.T) {
	for name, m := range scans() {
		raster := m.volume.SliceAnglesDeg == nil
		if name == "coarse raster" || name == "six lines" {
			continue
		}
		cx, cy := 330.0, -215.0
		m.draw(func(x, y float64) float64 { return pit(x-cx, y-cy) })
		m.options.CentreSlice, m.options.CentreColumn = math.NaN(), math.NaN()
		out := m.measure(t)
		if raster {
			middle := newPlane(m.volume, m.surfaces, m.options).locate(float64(m.volume.Slices-1)/2, float64(m.volume.Columns-1)/2)
			cx, cy = middle.x+cx, middle.y+cy
		}
		// The search ends in steps of 10 µm; the tilt of 8 µm over 1500 moves
		// the lowest place by 8/1500/(110/350²) = 6 µm; interpolation the rest.
		near(t, name+" x", out.Centre.XUM, cx, 20)
		near(t, name+" y", out.Centre.YUM, cy, 20)
		has(t, out.CentralUM.Basis, "centre found as the pit")
		has(t, fmt.Sprint(out.Warnings), "found as the thinnest place")

		given := newRadialScan(24).draw(pit).measure(t).CentralUM
		if e := out.CentralUM; e.High-e.Low <= given.High-given.Low || given.Value < e.Low || given.Value > e.High {
			t.Errorf("%s: found centre gives %+v, given centre %+v", name, e, given)
		}
	}
}

func TestMiddleIsAssumedAndSaidWhereThereIsNoPit(t *testing.T) {
	for name, f := range map[string]relief{"flat": slab, "slope": func(x, _ float64) float64 { return 300 + 0.05*x }, "open hole": disc(300, pit)} {
		m := newRaster(208, 31).draw(f)
		m.options.CentreSlice, m.options.CentreColumn = math.NaN(), math.NaN()
		out := m.measure(t)
		near(t, name, out.Centre.XUM, 276*testLateralUM, 1e-6)
		near(t, name, out.Centre.YUM, -103.5*31, 1e-6)
		has(t, out.Centre.Basis, "the scan's middle is assumed")
		has(t, fmt.Sprint(out.Warnings), "assumed to be the scan's middle")
		if name == "open hole" {
			has(t, fmt.Sprint(out.Warnings), "is there an open hole?")
		}
	}
}

// The place of a slice and column, and back through the drawing.
func TestCentreIsPlacedBySliceAndColumn(t *testing.T) {
	m := newRaster(208, 31).draw(func(x, y float64) float64 { return 300 + 0.02*x + 0.01*y })
	m.options.CentreSlice, m.options.CentreColumn = 93.5, 286
	// Ten slices above the middle, ten columns to the right.
	near(t, "raster", m.measure(t).CentrePointUM.Value, 300+0.02*116+0.01*310, 0.002)

	r := newRadialScan(24).draw(func(x, y float64) float64 { return 300 + 0.02*x + 0.01*y })
	r.options.CentreSlice, r.options.CentreColumn = 12, 286 // the slice at 90°
	near(t, "radial", r.measure(t).CentrePointUM.Value, 300+0.01*116, 0.01)
}
