package tamponade_test

import (
	"fmt"

	"limitans/tamponade"
)

// Published observations beside what the calibrated model gives. A line with a
// mark lies outside the published range; [tamponade.Compared.Note] says why.
func ExampleComparison() {
	rows, err := tamponade.Comparison(tamponade.VolumeLaw)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range rows {
		mark := "*"
		if r.Inside() {
			mark = " "
		}
		fmt.Printf("%s %-48s %12s %6.2f %s\n", mark, r.Quantity, r.Published, r.Computed, r.Unit)
	}
	// Output:
	//   half-life, air, mixed lenses                       1.1 to 1.5   1.30 day
	//   half-life, 5 % C3F8, mixed lenses                    4 to 4.4   4.12 day
	// * half-life, 10 % C3F8, mixed lenses                 6.1 to 6.9   7.16 day
	//   half-life, 15 % C3F8, mixed lenses                 6.8 to 9.2   8.99 day
	// * half-life, 20 % C3F8, mixed lenses               10.3 to 14.7  10.29 day
	// * half-life, air, phakic                           1.36 to 1.84   1.30 day
	//   half-life, air, aphakic                          0.77 to 1.03   1.02 day
	//   half-life, 20 % SF6, phakic                      2.38 to 3.22   2.59 day
	//   half-life, 20 % SF6, aphakic                     2.04 to 2.76   2.04 day
	// * half-life, 10 % C3F8, phakic                     4.84 to 6.55   7.16 day
	// * half-life, 10 % C3F8, aphakic                    3.82 to 5.17   5.65 day
	// * half-life, 10 % C3F8, pseudophakic               3.65 to 4.94   5.40 day
	// * stay, air                                             5 to 10  11.54 day
	// * stay, 20 % SF6                                       10 to 14  14.65 day
	//   stay, 16 % C2F6                                      28 to 42  33.10 day
	//   stay, 14 % C3F8                                      56 to 70  59.52 day
	// * expansion, pure SF6 0.3 mL                                  2   3.05 ×
	//   largest, pure SF6 0.3 mL                               1 to 2   1.37 day
	// * expansion, pure C2F6 0.3 mL                          3 to 3.3   5.34 ×
	//   largest, pure C2F6 0.3 mL                              1 to 3   2.69 day
	// * expansion, pure C3F8 0.3 mL                                 4   6.49 ×
	//   largest, pure C3F8 0.3 mL                              3 to 4   3.55 day
	//   share for a full eye from 85 % as drawn, SF6         19 to 25  19.06 %
	//   share for a full eye from 85 % as drawn, C2F6        12 to 15  14.10 %
	//   share for a full eye from 85 % as drawn, C3F8        10 to 13  12.96 %
	//   fill, 14 % C3F8, day 4                           0.56 to 0.86   0.86 share
	// * wall covered, 14 % C3F8, day 10                          0.71   0.48 share
	// * wall covered, 14 % C3F8, day 28                          0.27   0.16 share
	// * wall covered, 20 % C3F8, day 10                          0.83   0.62 share
	// * wall covered, 20 % C3F8, day 28                          0.45   0.19 share
}
