package store_test

import (
	"slices"
	"strings"
	"testing"
)

func TestFilesThatNounsName(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		for _, digit := range []string{"c", "a", "a", "b"} {
			put(t, s, m.scan(right, "2026-01-10", digit))
		}
		hash := func(digit string) string { return strings.Repeat(digit, 64) }
		for digit, want := range map[string]bool{"a": true, "c": true, "d": false} {
			if got, err := s.FileReferenced(background, hash(digit)); err != nil || got != want {
				t.Errorf("%s: %v (%v)", digit, got, err)
			}
		}
		first, err := s.Files(background, "", 2)
		if err != nil || !slices.Equal(first, []string{hash("a"), hash("b")}) {
			t.Errorf("%v (%v)", first, err)
		}
		if rest, err := s.Files(background, first[1], 2); err != nil || !slices.Equal(rest, []string{hash("c")}) {
			t.Errorf("%v (%v)", rest, err)
		}
	})
}
