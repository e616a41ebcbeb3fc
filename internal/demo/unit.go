package demo

import "limitans/internal/record"

// Unit is the invented hospital. Its numbers are of 01632 960000 to 960999, which
// the telephone regulator of the United Kingdom, Ofcom, keeps free for drama (from
// memory): nobody is called by a sheet of a demonstration.
func (c *Clinic) Unit() *record.Unit {
	return &record.Unit{
		Base: record.Base{ID: record.UnitID}, Name: Place,
		DayPhone: "01632 960 142", NightPhone: "01632 960 199", Paper: record.PaperA4,
	}
}
