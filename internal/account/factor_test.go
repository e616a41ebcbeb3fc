package account

import (
	"encoding/base32"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp"

	"limitans/fault"
)

// Source: RFC 6238, appendix B, all 18 values (https://doi.org/10.17487/RFC6238,
// from memory; its seeds for the longer hashes are the ASCII digits repeated
// to 32 and 64 bytes, as erratum 2866 says).
func TestCodesOfRFC6238(t *testing.T) {
	const digits = "1234567890"
	seed := func(n int) string {
		return base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString([]byte(strings.Repeat(digits, 7)[:n]))
	}
	for _, test := range []struct {
		unix                 int64
		sha1, sha256, sha512 string
	}{
		{59, "94287082", "46119246", "90693936"},
		{1111111109, "07081804", "68084774", "25091201"},
		{1111111111, "14050471", "67062674", "99943326"},
		{1234567890, "89005924", "91819424", "93441116"},
		{2000000000, "69279037", "90698825", "38618901"},
		{20000000000, "65353130", "77737706", "47863826"},
	} {
		for _, one := range []struct {
			algorithm otp.Algorithm
			bytes     int
			want      string
		}{{otp.AlgorithmSHA1, 20, test.sha1}, {otp.AlgorithmSHA256, 32, test.sha256}, {otp.AlgorithmSHA512, 64, test.sha512}} {
			got, err := codeAt(seed(one.bytes), test.unix/stepSeconds, otp.DigitsEight, one.algorithm)
			if got != one.want || err != nil {
				t.Errorf("%d with %s: %s, want %s (%v)", test.unix, one.algorithm, got, one.want, err)
			}
		}
		// Six digits are the last six of eight: the same number, cut by a smaller
		// power of ten (RFC 4226, section 5.3).
		step, found, err := matchingStep(seed(20), test.sha1[2:], time.Unix(test.unix, 0), 0)
		if !found || step != test.unix/stepSeconds || err != nil {
			t.Errorf("%d: step %d, %v, %v", test.unix, step, found, err)
		}
	}
}

func (f *fixture) code(secret string, stepsFromNow int64) string {
	f.Helper()
	code, err := codeAt(secret, f.clock.now().Unix()/stepSeconds+stepsFromNow, otp.DigitsSix, otp.AlgorithmSHA1)
	f.must(err)
	return code
}

// bind gives an account a second factor; the step of now is used up.
func (f *fixture) bind(a Account, passphrase string) (secret string, recovery []string) {
	f.Helper()
	enrolment, err := f.gate.BeginSecondFactor(f.ctx, a.ID, passphrase, here)
	f.must(err)
	recovery, err = f.gate.ConfirmSecondFactor(f.ctx, a.ID, f.code(enrolment.Secret, 0), "", here)
	f.must(err)
	return enrolment.Secret, recovery
}

func TestSecondFactor(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		_, err := f.gate.BeginSecondFactor(f.ctx, boss.ID, otters, here)
		f.refuses(err, ErrRefused, "", "")
		_, err = f.gate.ConfirmSecondFactor(f.ctx, boss.ID, "123456", "", here)
		f.refuses(err, nil, fault.Conflict, "none is waiting")
		enrolment, err := f.gate.BeginSecondFactor(f.ctx, boss.ID, herons, here)
		f.must(err)
		u, err := url.Parse(enrolment.Address)
		f.must(err)
		if u.Scheme != "otpauth" || u.Host != "totp" || u.Path != "/Greywater:maria.holt" || u.Query().Get("secret") != enrolment.Secret || len(enrolment.Secret) != 32 {
			f.Errorf("address %s", enrolment.Address)
		}
		picture, err := enrolment.Picture(200)
		if err != nil || picture.Bounds().Dx() != 200 {
			f.Errorf("picture: %v", err)
		}
		_, err = enrolment.Picture(3)
		f.refuses(err, nil, fault.Invalid, "QR code")
		// Not bound yet: the passphrase is enough.
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		_, err = f.gate.ConfirmSecondFactor(f.ctx, boss.ID, "000000", "", here)
		f.refuses(err, ErrRefused, "", "")

		secret, recovery := f.bind(boss, herons)
		f.tells(boss.ID, "second factor bound")
		f.tells(boss.ID, "its secret is stored encrypted")
		_, err = f.gate.BeginSecondFactor(f.ctx, boss.ID, herons, here)
		f.refuses(err, nil, fault.Conflict, "the account has one")
		for range 10 { // no failure, however often
			_, err = f.logIn("maria.holt", herons, "")
			f.refuses(err, ErrSecondFactor, fault.Invalid, "its code too")
		}
		_, err = f.logIn("maria.holt", otters, f.code(secret, 1))
		f.refuses(err, ErrRefused, "", "")
		_, err = f.logIn("maria.holt", herons, f.code(secret, 0)) // used at binding
		f.refuses(err, ErrRefused, "", "")
		for _, far := range []int64{-2, 2} {
			_, err = f.logIn("maria.holt", herons, f.code(secret, far))
			f.refuses(err, ErrRefused, "", "")
		}
		f.tells(boss.ID, "right passphrase, wrong or used code")
		f.must(f.gate.Unblock(f.ctx, Console("root"), boss.ID, ""))
		ahead := f.code(secret, 1)
		_, err = f.logIn("maria.holt", herons, " "+ahead[:3]+" "+ahead[3:]+" ")
		f.must(err)
		f.clock.forward(stepSeconds * time.Second) // now its own step: a replay all the same
		_, err = f.logIn("maria.holt", herons, ahead)
		f.refuses(err, ErrRefused, "", "")
		f.clock.forward(2 * stepSeconds * time.Second)
		_, err = f.logIn("maria.holt", herons, f.code(secret, -1)) // a clock that is slow
		f.must(err)
		f.must(f.gate.Unblock(f.ctx, Console("root"), boss.ID, ""))

		// Recovery codes stand in once each.
		if len(recovery) != recoveryCodes {
			f.Fatalf("%d recovery codes", len(recovery))
		}
		_, err = f.logIn("maria.holt", herons, strings.ToUpper(recovery[3]))
		f.must(err)
		f.tells(boss.ID, "recovery code used")
		_, err = f.logIn("maria.holt", herons, recovery[3])
		f.refuses(err, ErrRefused, "", "")
		_, err = f.logIn("maria.holt", herons, recovery[4])
		f.must(err)

		// Neither secret nor codes are in the database in clear.
		all := f.everything()
		for _, word := range append(recovery, secret, foldCode(recovery[9]), ahead, herons) {
			if strings.Contains(all, word) {
				f.Errorf("%q is in the database", word)
			}
		}

		f.refuses(f.gate.RemoveSecondFactor(f.ctx, boss.ID, otters, here), ErrRefused, "", "")
		f.must(f.gate.RemoveSecondFactor(f.ctx, boss.ID, herons, here))
		_, err = f.logIn("maria.holt", herons, "")
		f.must(err)
		f.tells(boss.ID, "second factor removed;  → ; by the holder")
		_, later := f.bind(boss, herons)
		_, err = f.logIn("maria.holt", herons, recovery[5]) // of the first one
		f.refuses(err, ErrRefused, "", "")
		_, err = f.logIn("maria.holt", herons, later[0])
		f.must(err)
	})
}

func TestLostSecondFactor(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		nurse := f.person(boss, "nurse1", otters, Clinic)
		f.bind(nurse, otters)
		_, err := f.gate.Recover(f.ctx, boss.Actor(here), nurse.ID, false, "passphrase forgotten")
		f.must(err)
		_, err = f.logIn("nurse1", otters, "")
		f.refuses(err, ErrSecondFactor, "", "") // stays
		code, err := f.gate.Recover(f.ctx, boss.Actor(here), nurse.ID, true, "telephone lost")
		f.must(err)
		f.tells(nurse.ID, string(boss.ID)+": second factor removed;  → ; telephone lost")
		_, err = f.gate.Redeem(f.ctx, "nurse1", code.Code, herons, here)
		f.must(err)
		_, err = f.logIn("nurse1", herons, "")
		f.must(err)
	})
}

// A code is used up even when two log-ins bring it at the same moment.
func TestOneCodeForTwo(t *testing.T) {
	alwaysOnBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		secret, _ := f.bind(boss, herons)
		f.clock.forward(stepSeconds * time.Second)
		code := f.code(secret, 0)
		results := make(chan error, 3)
		for range cap(results) {
			go func() { _, err := f.logIn("maria.holt", herons, code); results <- err }()
		}
		passed := 0
		for range cap(results) {
			if err := <-results; err == nil {
				passed++
			} else {
				f.refuses(err, ErrRefused, "", "")
			}
		}
		if passed != 1 {
			f.Errorf("%d log-ins with one code", passed)
		}
	})
}

func TestSealedSecrets(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	one, two := f.gate.sealer, sealer{}
	var err error
	two, err = newSealer([]byte(strings.Repeat("k", 32)), chance(3))
	f.must(err)
	box, err := one.seal("SECRET", "a")
	f.must(err)
	if secret, err := one.open(box, "a"); secret != "SECRET" || err != nil {
		t.Errorf("%q, %v", secret, err)
	}
	again, err := one.seal("SECRET", "a")
	if err != nil || again == box {
		t.Errorf("sealed twice to the same text: %v", err)
	}
	for name, open := range map[string]func() (string, error){
		"another account": func() (string, error) { return one.open(box, "b") },
		"another key":     func() (string, error) { return two.open(box, "a") },
		"no key":          func() (string, error) { return sealer{}.open(box, "a") },
		"cut":             func() (string, error) { return one.open(box[:len(sealedMark)+8], "a") },
		"altered":         func() (string, error) { return one.open(box[:len(box)-2]+"AA", "a") },
	} {
		secret, err := open()
		if secret != "" || fault.CodeOf(err) != fault.Conflict {
			t.Errorf("%s: %q, %v", name, secret, err)
		}
	}
	if _, err := one.open("SECRET", "a"); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("without a mark: %v", err)
	}
	plain, err := sealer{}.seal("SECRET", "a")
	if err != nil || plain != "plain:1:SECRET" || !strings.Contains(sealer{}.words(), "unencrypted") {
		t.Errorf("%q, %v", plain, err)
	}
	// A key that comes later opens what was stored without one.
	if secret, err := one.open(plain, "a"); secret != "SECRET" || err != nil {
		t.Errorf("%q, %v", secret, err)
	}
}
