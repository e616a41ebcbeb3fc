package tamponade

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// The integration against the same equations written anew in another language
// and solved by an implicit method (SciPy's Radau): fills within 1e-4 of the
// cavity and pressures within 0.05 mmHg, a hundred steps' worth of our
// tolerance of a millionth; a slip in a sign, a unit or the stiff guard would be
// a thousand times that.
func TestExchangeAgainstSciPy(t *testing.T) {
	file, err := os.Open(filepath.Join("testdata", "exchange_oracle.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) < 40 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	var key string
	var course Course
	compared := 0
	for _, row := range rows[1:] {
		number := func(i int) float64 {
			v, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		if k := row[0] + row[1] + row[3] + row[4]; k != key {
			key = k
			s := Scenario{Globe: DefaultGlobe(5), Fill: number(4), Days: 7, Parameters: DefaultParameters(VolumeLaw, LensUnknown)}
			if row[0] == "contact area" {
				s.Law = ContactAreaLaw
			}
			long := map[string]Gas{"sf6": SulphurHexafluoride, "c3f8": Octafluoropropane}[row[1]]
			share := number(3)
			s.Composition[Nitrogen], s.Composition[Oxygen] = 0.79*(1-share), 0.21*(1-share)
			s.Composition[long] = share
			s.Parameters.PerDay[Nitrogen], s.Parameters.PerDay[Oxygen], s.Parameters.PerDay[CarbonDioxide] = 4.67, 10.3, 208
			s.Parameters.PerDay[long] = number(2)
			s.Parameters.TissueMMHg = [GasCount]float64{Nitrogen: 573, Oxygen: 35, CarbonDioxide: 46}
			course = mustRun(t, s)
		}
		for _, p := range course.Points {
			if math.Abs(p.Day-number(5)) > 1e-9 {
				continue
			}
			compared++
			if math.Abs(p.Fill-number(6)) > 1e-4 || math.Abs(p.PressureMMHg-number(7)) > 0.05 {
				t.Errorf("%v: fill %.6f, pressure %.3f", row, p.Fill, p.PressureMMHg)
			}
		}
	}
	if compared != len(rows)-1 {
		t.Errorf("%d of %d rows were compared", compared, len(rows)-1)
	}
}
