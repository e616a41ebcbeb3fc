package report

import (
	"fmt"
	"io"
	"text/tabwriter"

	"limitans/internal/caution"
	"limitans/oct/proof"
)

// Proof writes the summary of a run over synthetic eyes, as the README shows it.
func Proof(w io.Writer, s proof.Summary, seed uint64) error {
	p := &printer{w: tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)}
	p.line("Synthetic eyes, seed %d: %d with a hole of %.0f to %.0f µm, %d without", seed, s.Holes, s.Smallest, s.Largest, s.Intact)
	p.section("Detection and lines")
	p.line("  Holes found\t%d of %d", s.Found, s.Holes)
	p.line("  Holes reported in eyes without one\t%d of %d", s.FalseHoles, s.Intact)
	fine, fineBias := "–, no such hole among these", "no hole"
	if s.FineHoles > 0 {
		fine, fineBias = fmt.Sprintf("%.1f %% of %d", 100*s.FineWithin, s.FineHoles), fmt.Sprintf("%.1f µm", s.FineMLDBiasUM)
	}
	p.line("  Minimum linear diameter within %.0f µm, slices at most %.0f µm apart\t%s", proof.WithinUM, proof.FineSliceUM, fine)
	p.line("  Bias of the minimum linear diameter\t%.1f µm (%s with slices at most %.0f µm apart)", s.MLDBiasUM, fineBias, proof.FineSliceUM)
	p.line("  Lumen, Jaccard index\tmean %.3f, worst %.3f", s.MeanJaccard, s.WorstJaccard)
	p.line("  Inner limiting membrane, mean unsigned error\t%.2f µm (worst eye %.2f µm)", s.MembraneErrorUM, s.WorstMembraneUM)
	p.line("  Pigment epithelium, mean unsigned error\t%.2f µm (worst eye %.2f µm)", s.EpitheliumErrorUM, s.WorstEpitheliumUM)
	p.line("  95 %% intervals that hold the truth, all figures\t%.1f %%", 100*s.Covered)
	p.section("Errors, measured minus true")
	p.line("  Figure\tn\tmissing\tbias\trms\t2.5 %%\tmedian\t97.5 %%\tcovered")
	for _, f := range s.Figures {
		p.line("  %s\t%d\t%d\t%s\t%s\t%s\t%s\t%s\t%.1f %%", f.Figure, f.Measured, f.Missing,
			short(f.Bias), short(f.RMS), short(f.Low), short(f.Median), short(f.High), 100*f.Covered)
	}
	p.list("Cautions", []string{caution.SyntheticIntervals, caution.Short()})
	if err := p.w.Flush(); err != nil {
		return err
	}
	return p.err
}

// short writes a number with three significant digits.
func short(x float64) string { return fmt.Sprintf("%.3g", x) }
