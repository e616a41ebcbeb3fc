package demo

import (
	"limitans/internal/record"
	"limitans/oct/phantom"
)

// Sampling of the invented scans: a small raster over 6 mm.
const (
	scanSlices, scanRows, scanColumns = 31, 320, 512
	depthUM, lateralUM, sliceUM       = 4.0, 11.0, 60.0
)

// scanHole writes a scan of a hole with a smallest diameter in µm.
func (t *teller) scanHole(sizeUM float64) {
	p := phantom.Draw(t.rng, phantom.Medium)
	p.Hole.MinimumUM = sizeUM
	p.Hole.BaseRatio = min(p.Hole.BaseRatio, max(1.3, 1800/sizeUM))
	t.scan(p)
}

// scanClosed writes a scan of a macula without a hole.
func (t *teller) scanClosed() { t.scan(phantom.DrawIntact(t.rng, phantom.NormalPit)) }

// scanMembrane writes a scan of a macula under a membrane.
func (t *teller) scanMembrane() { t.scan(phantom.DrawIntact(t.rng, phantom.MembraneOnly)) }

// scan writes the scan; its pixels are drawn by [Draw].
func (t *teller) scan(p phantom.Parameters) {
	p.Slices, p.Rows, p.Columns = scanSlices, scanRows, scanColumns
	p.DepthUM, p.LateralUM, p.SliceUM = depthUM, lateralUM, sliceUM
	p.BitDepth, p.EpitheliumRow, p.Inverted, p.WhiteWedge = 8, 0, false, false
	p.TiltLateralDeg, p.TiltSliceDeg = p.TiltLateralDeg/4, p.TiltSliceDeg/4
	p.Laterality = t.eye.Side
	depth, lateral, slice := depthUM, lateralUM, sliceUM
	s := &record.Scan{
		PatientID: t.patient.ID, EyeID: t.eye.ID, Taken: t.day, TakenAt: record.Clock(t.now().Format("15:04")),
		Format: "DICOM", Slices: scanSlices, Rows: scanRows, Columns: scanColumns,
		DepthUM: &depth, LateralUM: &lateral, SliceUM: &slice, ScaleTrust: "file",
		SideSources: []record.SideSource{{Source: record.SideFromHeader, Text: record.FreeText(t.eye.Side.String()), Side: t.eye.Side}},
		Device:      "Invented tomograph",
	}
	if t.write(clinicNurse, s) {
		t.out.Drawings[s.ID] = p
	}
}
