package scan

import "strings"

// naturalLess orders names as people number them: runs of digits compare by
// their value, whatever their length, so that a2 comes before a10; everything
// else compares byte by byte without regard to ASCII case. Names that are equal
// in this sense are ordered by plain comparison, so the order is total.
func naturalLess(a, b string) bool {
	if c := naturalCompare(a, b); c != 0 {
		return c < 0
	}
	return a < b
}

func naturalCompare(a, b string) int {
	for a != "" && b != "" {
		if isDigit(a[0]) && isDigit(b[0]) {
			x, restA := cutDigits(a)
			y, restB := cutDigits(b)
			if len(x) != len(y) {
				return len(x) - len(y)
			}
			if c := strings.Compare(x, y); c != 0 {
				return c
			}
			a, b = restA, restB
			continue
		}
		x, y := lower(a[0]), lower(b[0])
		if x != y {
			return int(x) - int(y)
		}
		a, b = a[1:], b[1:]
	}
	return len(a) - len(b)
}

// cutDigits returns the leading digits without leading zeros, and the rest.
func cutDigits(s string) (digits, rest string) {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return strings.TrimLeft(s[:n], "0"), s[n:]
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func lower(c byte) byte {
	if c >= 'A' && c <= 'Z' {
		return c + 'a' - 'A'
	}
	return c
}
