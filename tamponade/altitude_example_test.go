package tamponade_test

import (
	"fmt"

	"limitans/tamponade"
)

// Published pressures in people at height beside what the model gives, with the
// interval. What had to be assumed stands in [tamponade.AltitudeCheck.Why].
func ExampleAltitudeComparison() {
	checks, err := tamponade.AltitudeComparison()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range checks {
		fmt.Printf("%-45s %-8s mmHg, computed %.0f (%.0f to %.0f)\n", c.Name, c.Published, c.Computed.Value, c.Computed.Low, c.Computed.High)
	}
	// Output:
	// 65 % fill to 3000 ft                          49       mmHg, computed 51 (31 to 72)
	// 50 % fill to 2600 ft                          42       mmHg, computed 37 (22 to 57)
	// surgery at 790 m, a day at sea level, back    34 to 50 mmHg, computed 33 (24 to 46)
	// chamber a month after 15 % C3F8, no buckle    32       mmHg, computed 40 (16 to 92)
	// SF6, half full, 2260 to 3209 m by car         32       mmHg, computed 34 (23 to 49)
	// SF6, full, 2260 to 3209 m by car              35       mmHg, computed 46 (33 to 57)
}
