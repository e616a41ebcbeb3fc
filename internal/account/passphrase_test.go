package account

import (
	"strings"
	"testing"
	"unicode/utf8"

	"limitans/fault"
)

// The rules: NIST SP 800-63B-4, section 3.1.1.2, see LeastPassphraseCharacters.
func TestNewPassphrases(t *testing.T) {
	for _, test := range []struct{ passphrase, refusal string }{
		{"four quiet herons over the weir", ""},
		{"vier stille Reiher am Wehr", ""},
		{"τέσσερις ήσυχοι ερωδιοί", ""},
		{"wm3 kq9 zz7 tb4", ""},                 // 15 characters
		{"tin basil orbit", ""},                 // the same, lower case only: no composition rules
		{strings.Repeat("many words ", 90), ""}, // 990 bytes; what it repeats is long enough
		{"𝕤ome 🦩 and 🦤 there", ""},
		{"tin basil orbi", "14 characters"},
		{"", "empty"},
		{"four quiet herons\x00over", "no keyboard makes"},
		{"four quiet herons\nover", "no keyboard makes"},
		{strings.Repeat("many words ", 100), "1100 bytes"},
		{"passwordpassword", "commonest"},
		{"Password1234567", "commonest"},
		{"P-a-s-s-w-o-r-d-12345", "commonest"},
		{"qwertyuiopasdfghjkl", "commonest"},
		{"123456789012345", "commonest"},
		{"aaaaaaaaaaaaaaaaaaaa", "commonest"},
		{"abcdefghijklmnop", "commonest"},
		{"xk4xk4xk4xk4xk4xk4", "commonest"},
		{"correct horse battery staple", "commonest"},
		{"limitans admin 2026", "commonest"},
		{"maria.holt maria.holt", "commonest"},    // log-in name
		{"Holt Maria Holt 2026", "commonest"},     // shown name
		{"Greywater greywater 1", "commonest"},    // unit
		{"                    ", "commonest"},     // spaces only
		{"!!!!???!!!!???.....", "commonest"},      // no letter or digit
		{"password hospital secret", "commonest"}, // several words
	} {
		err := CheckPassphrase(test.passphrase, "maria.holt", "Dr Maria Holt", "Greywater")
		switch {
		case test.refusal == "" && err != nil:
			t.Errorf("%q: %v", test.passphrase, err)
		case test.refusal != "" && (fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), test.refusal)):
			t.Errorf("%q: %v, want %q", test.passphrase, err, test.refusal)
		case err != nil && len(test.passphrase) > 5 && strings.Contains(err.Error(), test.passphrase):
			t.Errorf("the refusal repeats the passphrase: %v", err)
		}
	}
	if len(commonWords) < 50 {
		t.Errorf("%d common words", len(commonWords))
	}
}

// Source: RFC 8265, section 4.3, table of examples (from memory): case is
// kept, composed and decomposed are equal, spaces beyond ASCII become spaces.
func TestPreparedPassphrases(t *testing.T) {
	for _, test := range []struct{ a, b string }{
		{"reiher \u00fcber dem wehr", "reiher u\u0308ber dem wehr"},
		{"four\u00a0quiet\u2003herons", "four quiet herons"},
	} {
		a, errA := prepare(test.a)
		b, errB := prepare(test.b)
		if a != b || errA != nil || errB != nil {
			t.Errorf("%q and %q differ: %v, %v", a, b, errA, errB)
		}
	}
	a, _ := prepare("Four quiet herons")
	b, _ := prepare("four quiet herons")
	if a == b || a != "Four quiet herons" {
		t.Errorf("case is lost: %q", a)
	}
}

func FuzzPassphrase(f *testing.F) {
	f.Add("four quiet herons over the weir", "maria")
	f.Add("passwordpassword", "p")
	f.Add("\u0130\u0130\u0130\u0130 \ufb01 \u0345", "\u0130ii")
	f.Fuzz(func(t *testing.T, passphrase, name string) {
		if CheckPassphrase(passphrase, name) != nil {
			return
		}
		prepared, err := prepare(passphrase)
		if err != nil || utf8.RuneCountInString(prepared) < LeastPassphraseCharacters {
			t.Fatalf("accepted, but prepared as %q (%v)", prepared, err)
		}
		if again, err := prepare(prepared); err != nil || again != prepared {
			t.Errorf("%q prepared twice is %q (%v)", prepared, again, err)
		}
	})
}
