package store_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"limitans/estimate"
	"limitans/internal/record"
	"limitans/internal/store"
)

// benchPatients is how many patients the benchmark's record holds:
// LIMITANS_BENCH_PATIENTS, otherwise 100,000, few with -short.
func benchPatients(b *testing.B) int {
	if text := os.Getenv("LIMITANS_BENCH_PATIENTS"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			b.Fatalf("LIMITANS_BENCH_PATIENTS=%q is no number of patients", text)
		}
		return n
	}
	if testing.Short() {
		return 200
	}
	return 100_000
}

// syllables make names that are plainly invented and yet share fragments as
// names do.
var syllables = []string{"ba", "lor", "quim", "ta", "ven", "osh", "ri", "mel", "dun", "ka", "zet", "po", "lin", "gra", "sul", "ew", "yar", "fen", "hu", "nix"}

func inventedName(r *rand.Rand) string {
	word := func() string {
		w := ""
		for range 2 + r.IntN(2) {
			w += syllables[r.IntN(len(syllables))]
		}
		return string(w[0]-'a'+'A') + w[1:]
	}
	return word() + " " + word()
}

// course adds one patient with a whole course: scan, figures, operation with
// gas or oil, three visits.
func (m *maker) course(tx *store.Tx, r *rand.Rand, n int) (record.ID, error) {
	patient, person, right := m.eyeOf(inventedName(r), fmt.Sprintf("U-%07d", n))
	scan := m.scan(right, "2024-05-10", "a")
	scan.File.SHA256 = fmt.Sprintf("%064x", n)
	mld := estimate.Normal(250+400*r.Float64(), 20, "invented")
	figures := &record.HoleFigures{
		Base: m.base(), PatientID: right.PatientID, EyeID: right.ID, ScanID: scan.ID, Taken: day(m.t, "2024-05-10"), MeasuredAt: start,
		MeasuredBy: "account-1", Source: record.FiguresAutomatic, Method: "invented", HolePresent: record.Yes, MLDUM: &mld,
	}
	agent := gasIn(m.t)
	if r.IntN(20) == 0 {
		agent = oilIn(m.t, fmt.Sprintf("L-%03d", r.IntN(1000)))
	}
	operated := time.Date(2024, 6, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, r.IntN(365))
	on := func(days int) string { return operated.AddDate(0, 0, days).Format("2006-01-02") }
	all := []record.Entity{patient, person, right, scan, figures, m.operation(right, on(0), agent)}
	for i, days := range []int{1, 14, 90} {
		visit := m.visit(right, on(days))
		visit.Acuities = []record.AcuityEntry{acuityOf([]string{"6/36", "6/12", "0,8"}[i])}
		visit.Pressures = []record.Pressure{{MmHg: number(10 + float64(r.IntN(15))), Method: record.PressureApplanation}}
		if days == 14 {
			visit.MediaSeen = []record.MediumSeen{{Medium: record.MediumGas, State: record.LookNone}}
		}
		if r.IntN(3) > 0 {
			visit.DueBy, visit.DueFor = day(m.t, on(days+90)), record.DueReview
		}
		all = append(all, visit)
	}
	return right.ID, putAll(tx, all...)
}

// BenchmarkEmbedded measures what people wait for, on the embedded database.
// Each sub-benchmark reports its median beside the mean.
func BenchmarkEmbedded(b *testing.B) {
	patients := benchPatients(b)
	s := open(b, store.Options{Folder: b.TempDir()})
	m := newMaker(b, 1)
	r := rand.New(rand.NewPCG(1, 2))
	begun := time.Now()
	const together = 250 // patients in one transaction
	var eyes []record.ID
	for n := 0; n < patients; {
		write(b, s, func(tx *store.Tx) error {
			for range min(together, patients-n) {
				id, err := m.course(tx, r, n)
				if err != nil {
					return err
				}
				eyes = append(eyes, id)
				n++
			}
			return nil
		})
	}
	b.Logf("%d patients stored in %v", patients, time.Since(begun).Round(time.Second))
	measure := func(name string, act func() error) {
		b.Run(name, func(b *testing.B) {
			var taken []time.Duration
			for b.Loop() {
				at := time.Now()
				if err := act(); err != nil {
					b.Fatal(err)
				}
				taken = append(taken, time.Since(at))
			}
			slices.Sort(taken)
			b.ReportMetric(float64(taken[len(taken)/2].Microseconds())/1000, "ms/median")
			b.ReportMetric(float64(taken[len(taken)*95/100].Microseconds())/1000, "ms/95th")
		})
	}
	measure("page of one eye", func() error {
		_, err := s.Course(background, eyes[r.IntN(len(eyes))], false)
		return err
	})
	measure("due list", func() error {
		_, err := s.Due(background, store.DueQuery{Until: "2025-06-30"})
		return err
	})
	measure("due list, rare reason", func() error {
		_, err := s.Due(background, store.DueQuery{Until: "2026-12-31", Reasons: []record.DueFor{record.DueHeavyLiquid}})
		return err
	})
	measure("oil in eyes", func() error {
		_, _, err := s.InEyes(background, store.Page{}, record.MediumOil)
		return err
	})
	for _, search := range []struct {
		name string
		text func() string
	}{
		{"search, one letter", func() string { return string(rune('a' + r.IntN(26))) }},
		{"search, three letters", func() string { return (syllables[r.IntN(len(syllables))] + syllables[r.IntN(len(syllables))])[:3] }},
		{"search, whole name", func() string { return inventedName(r) }},
		{"search, inside number", func() string { return fmt.Sprintf("%05d", r.IntN(100000)) }},
		{"search, two common", func() string { return syllables[r.IntN(len(syllables))] + " " + syllables[r.IntN(len(syllables))] }},
	} {
		measure(search.name, func() error {
			_, err := s.Eyes(background, search.text(), store.Page{})
			return err
		})
	}
	measure("lot", func() error {
		_, err := s.EyesWithLot(background, fmt.Sprintf("L-%03d", r.IntN(1000)))
		return err
	})
	measure("counts", func() error {
		_, err := s.Counts(background, "2026-01-01")
		return err
	})
	measure("one visit stored", func() error {
		return s.Write(background, surgeon, func(tx *store.Tx) error {
			e, err := tx.Get(background, record.KindEye, eyes[r.IntN(len(eyes))])
			if err != nil {
				return err
			}
			return putAll(tx, m.visit(e.(*record.Eye), "2026-02-01"))
		})
	})
	if os.Getenv("LIMITANS_BENCH_VERIFY") != "" {
		begun = time.Now()
		report := mustVerify(b, s)
		b.Logf("verification of %d entries and %d nouns in %v", report.Entries, report.Nouns, time.Since(begun).Round(time.Second))
	}
}
