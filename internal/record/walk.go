package record

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"limitans/estimate"
	"limitans/eye"
)

// checkShape holds for every noun whatever it means: coded words are known,
// numbers are numbers, dates and identifiers are well formed, times of day exist.
func (c *checker) checkShape(v reflect.Value, where string) {
	switch at := v.Interface().(type) {
	case Date:
		c.checkDate(at, where)
		return
	case ID:
		if at != "" && at.Check() != nil {
			c.add(CodeMalformed, where, fmt.Sprintf("%q is no identifier of this record", string(at)), "")
		}
		return
	case Clock:
		if _, ok := at.Seconds(); at != "" && !ok {
			c.add(CodeMalformed, where, fmt.Sprintf("%q is no time of day", string(at)), "write it as 15:04 or 15:04:05")
		}
		return
	case FileRef:
		c.checkFile(at, where)
		return
	case estimate.Estimate:
		c.checkEstimate(at, where)
		return
	case eye.Laterality:
		if at < eye.SideUnknown || at > eye.Left {
			c.add(CodeMalformed, where, "no side", "right or left")
		}
		return
	case ClockHour:
		if at != 0 && !(at >= 1 && at < 13) { // 12.5 is half past twelve
			c.add(CodeImpossibleNumber, where, fmt.Sprintf("there is no clock hour %g", float64(at)), "1 to 12")
		}
		return
	}
	switch v.Kind() {
	case reflect.String:
		if isWord, coded := isKnownWord(v); coded && !isWord {
			c.add(CodeUnknownWord, where, fmt.Sprintf("%q is no word of the record", v.String()), "choose one of: "+strings.Join(vocabulary[v.Type()], ", "))
		}
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			c.add(CodeNotFinite, where, "is not a number", "leave it out and say why it is missing")
		}
	case reflect.Pointer:
		if !v.IsNil() {
			c.checkShape(v.Elem(), where)
		}
	case reflect.Slice:
		if v.Type().Elem().Kind() != reflect.Uint8 {
			for i := range v.Len() {
				c.checkShape(v.Index(i), fmt.Sprintf("%s[%d]", where, i))
			}
		}
	case reflect.Struct:
		if v.Type().PkgPath() != reflect.TypeFor[Date]().PkgPath() {
			return // values of other packages check themselves
		}
		for i := range v.NumField() {
			c.checkShape(v.Field(i), join(where, v.Type().Field(i)))
		}
	}
}

// join gives the path of a field by its name in the JSON form.
func join(where string, f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	switch {
	case f.Anonymous && name == "":
		return where
	case name == "":
		name = f.Name
	}
	if where == "" {
		return name
	}
	return where + "." + name
}

// checkDate looks at one date wherever it stands.
func (c *checker) checkDate(d Date, where string) {
	if err := d.Check(); err != nil {
		c.add(CodeDateImpossible, where, err.Error(), "keep the text and leave the date unknown")
		return
	}
	switch {
	case !d.Known() && d.Raw != "":
		c.add(CodeDateUnknown, where, fmt.Sprintf("%q was not understood; the date is unknown", d.Raw), "ask, and enter what is known: a day, a month or a year")
	case !d.Known() || d.Relative:
	case d.Year < FirstYear:
		c.add(CodeDateImpossible, where, fmt.Sprintf("the year %d is before %d", d.Year, FirstYear), "which calendar? enter the date of the common calendar")
	case placeholder(d.Year, d.Month, d.Day):
		c.add(CodeDateImpossible, where, d.ISO()+" is a placeholder that programs write when there is no date", "leave the date unknown and keep the text")
	}
}

// tomorrow allows for another time zone.
const tomorrow = 1

// notInFuture holds for what has happened.
func (c *checker) notInFuture(d Date, where string) {
	if limit, ok := c.today.AddDays(tomorrow); ok && limit.CertainlyBefore(d) {
		c.add(CodeFuture, where, fmt.Sprintf("%s lies ahead of today, %s", d, c.today), "check the day, the order of day and month, and the machine's clock")
	}
}

// happened wants a day that is not in the future.
func (c *checker) happened(d Date, where string) {
	if !d.Known() && d.Raw == "" {
		c.add(CodeDateMissing, where, "no day is told", "enter the day, or what is known of it")
	}
	c.notInFuture(d, where)
}

const sha256Digits = 64

func (c *checker) checkFile(f FileRef, where string) {
	if f == (FileRef{}) {
		return
	}
	if len(f.SHA256) != sha256Digits || strings.Trim(f.SHA256, "0123456789abcdef") != "" {
		c.add(CodeMalformed, where+".sha256", "is no content hash", "64 hexadecimal digits in lower case")
	}
	if f.Bytes < 0 {
		c.add(CodeImpossibleNumber, where+".bytes", fmt.Sprintf("%d bytes", f.Bytes), "")
	}
}

// checkEstimate wants the interval around the value and a basis.
func (c *checker) checkEstimate(e estimate.Estimate, where string) {
	switch {
	case strings.TrimSpace(e.Basis) == "":
		c.add(CodeNoBasis, where, "nothing says what the interval rests on, or why the number is missing", "name the method and its error")
	case !e.Known():
	case math.IsInf(e.Value, 0) || math.IsNaN(e.Low) || math.IsNaN(e.High):
		c.add(CodeNotFinite, where, "the value or its interval is not a number", "")
	case e.Low > e.Value || e.High < e.Value:
		c.add(CodeImpossibleNumber, where, fmt.Sprintf("%.4g does not lie in its interval %.4g to %.4g", e.Value, e.Low, e.High), "")
	}
}

// need stops when a reference is empty.
func (c *checker) need(id ID, where, what string) {
	if id == "" {
		c.add(CodeReference, where, "names no "+what, "")
	}
}

// within stops when a number that is told lies outside what can be.
func (c *checker) within(x *float64, low, high float64, where, unit string) {
	if x != nil && !(*x >= low && *x <= high) {
		c.add(CodeImpossibleNumber, where, fmt.Sprintf("%g %s", *x, unit), fmt.Sprintf("%g to %g %s", low, high, unit))
	}
}
