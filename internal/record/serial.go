package record

import "fmt"

// serial reads the day number of a spreadsheet.
func (p *dateParser) serial(n int) ParsedDate {
	var out []ParsedDate
	for _, system := range []SerialSystem{Serial1900, Serial1904} {
		if p.opt.Serial != SerialUndecided && p.opt.Serial != system {
			continue
		}
		d, ok := DateOfSerial(n, system)
		if !ok || !p.plausible(d) || placeholder(d.Year, d.Month, d.Day) {
			out = append(out, unknownDate(fmt.Sprintf("%d is the day number of no day between %d and %d", n, FirstYear, p.opt.Today.Year+1)))
			continue
		}
		out = append(out, known(d))
	}
	if len(out) == 1 {
		return out[0]
	}
	return merge(fmt.Sprintf("%d is the day number of a spreadsheet: which system, 1900 or 1904?", n), out[0], out[1])
}

// DateOfSerial returns the date of a spreadsheet's day number; How states the
// system. In the 1900 system number 60 is a day that never was, and numbers up
// to 59 count from 1900-01-01 as 1. ok is false for that day and for numbers
// before the first. Source: hard case 26 (45383 is 2024-04-01; 1904 adds 1,462
// days); the extra day of 1900 from memory.
func DateOfSerial(n int, system SerialSystem) (d Date, ok bool) {
	const most = 200_000 // year 2447
	if n < 0 || n > most {
		return Date{}, false
	}
	epoch := Date{Year: 1899, Month: 12, Day: 30}
	name := "1900"
	switch {
	case system == Serial1904:
		epoch, name = Date{Year: 1904, Month: 1, Day: 1}, "1904"
	case system != Serial1900 || n == 60 || n == 0:
		return Date{}, false
	case n < 60:
		epoch.Day = 31
	}
	d, ok = epoch.AddDays(n)
	d.How = fmt.Sprintf("day number %d of a spreadsheet, %s system", n, name)
	return d, ok
}

// placeholder reports dates that programs write when there is none: the zero
// days of spreadsheets and databases, and the last day they know. Common
// practice, no source.
func placeholder(year, month, day int) bool {
	switch [3]int{year, month, day} {
	case [3]int{1900, 1, 1}, [3]int{1900, 1, 0}, [3]int{1899, 12, 30}, [3]int{1899, 12, 31}, [3]int{1904, 1, 1},
		[3]int{1, 1, 1}, [3]int{1111, 11, 11}, [3]int{9999, 12, 31}, [3]int{9999, 9, 9}, [3]int{1753, 1, 1}, [3]int{1800, 1, 1}:
		return true
	}
	return false
}
