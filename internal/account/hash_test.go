package account

import (
	"context"
	"encoding/csv"
	"encoding/hex"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"limitans/fault"
)

// cheap keeps tests fast: the least memory that argon2 takes for one lane, a
// few times over.
var cheap = HashCost{Passes: 1, MemoryKiB: 64, Lanes: 1}

func chance(seed byte) *rand.ChaCha8 { return rand.NewChaCha8([32]byte{seed}) }

func testHasher(t *testing.T, cost HashCost) *hasher {
	t.Helper()
	h, err := newHasher(cost, 2, chance(1))
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// Source: the reference implementation, which gives the vector of RFC 9106,
// section 5.3, too (see testdata/README.md).
func TestArgon2idAgreesWithTheReference(t *testing.T) {
	file, err := os.Open("testdata/argon2id.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) < 8 {
		t.Fatalf("%d lines", len(lines))
	}
	bytes := func(text string) []byte {
		b, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	number := func(text string) uint64 {
		n, err := strconv.ParseUint(text, 10, 32)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	h := testHasher(t, cheap)
	const cheapKiB = 1024 // what the race run takes; the full run has all lines
	for _, line := range lines[1:] {
		cost := HashCost{Passes: uint32(number(line[2])), MemoryKiB: uint32(number(line[3])), Lanes: uint8(number(line[4]))}
		if testing.Short() && cost.MemoryKiB > cheapKiB {
			continue
		}
		want := bytes(line[5])
		got, err := h.key(context.Background(), string(bytes(line[0])), phc{cost: cost, salt: bytes(line[1])}, len(want))
		if err != nil || string(got) != string(want) {
			t.Errorf("%v: %x, want %x (%v)", cost, got, want, err)
		}
		// The same through the stored form.
		stored := phc{cost: cost, salt: bytes(line[1]), hash: want}.String()
		if right, _, err := h.check(context.Background(), string(bytes(line[0])), stored); !right || err != nil {
			t.Errorf("%s is not recognised: %v", stored, err)
		}
		if right, _, _ := h.check(context.Background(), string(bytes(line[0]))+" ", stored); right {
			t.Errorf("%s takes another passphrase", stored)
		}
	}
}

func TestStoredHashSaysWhatItCost(t *testing.T) {
	ctx := context.Background()
	low := testHasher(t, cheap)
	stored, err := low.make(ctx, "four quiet herons")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(stored, "$argon2id$v=19$m=64,t=1,p=1$") {
		t.Errorf("stored as %s", stored)
	}
	again, err := low.make(ctx, "four quiet herons")
	if err != nil || again == stored {
		t.Errorf("the same salt twice (%v)", err)
	}
	for _, test := range []struct {
		cost     HashCost
		outdated bool
	}{
		{cheap, false},
		{HashCost{2, 64, 1}, true},
		{HashCost{1, 65, 1}, true},
		{HashCost{1, 64, 2}, true},
		{HashCost{1, 8, 1}, false}, // cheaper than stored: not hashed down
	} {
		right, outdated, err := testHasher(t, test.cost).check(ctx, "four quiet herons", stored)
		if !right || outdated != test.outdated || err != nil {
			t.Errorf("%v: right %v, outdated %v, %v", test.cost, right, outdated, err)
		}
	}
}

func TestStoredHashIsReadStrictly(t *testing.T) {
	good := phc{cost: cheap, salt: make([]byte, 16), hash: make([]byte, 32)}.String()
	if p, err := parsePHC(good); err != nil || p.String() != good {
		t.Fatalf("%v, %v", p, err)
	}
	for name, bad := range map[string]string{
		"empty":              "",
		"other function":     strings.Replace(good, "argon2id", "argon2i", 1),
		"other version":      strings.Replace(good, "v=19", "v=16", 1),
		"no version":         strings.Replace(good, "$v=19", "", 1),
		"other order":        strings.Replace(good, "m=64,t=1", "t=1,m=64", 1),
		"one more parameter": strings.Replace(good, "p=1", "p=1,x=2", 1),
		"padding":            good + "=",
		"trailing":           good + "$",
		"short salt":         strings.Replace(good, "AAAAAAAAAAAAAAAAAAAAAA$", "AAAA$", 1),
		"no hash":            good[:strings.LastIndex(good, "$")+1],
		"no passes":          strings.Replace(good, "t=1", "t=0", 1),
		"no lanes":           strings.Replace(good, "p=1", "p=0", 1),
		"256 lanes":          strings.Replace(good, "p=1", "p=256", 1),
		"much memory":        strings.Replace(good, "m=64", "m=1048577", 1),
		"very much memory":   strings.Replace(good, "m=64", "m=4294967295", 1),
		"many passes":        strings.Replace(good, "t=1", "t=65", 1),
		"negative":           strings.Replace(good, "t=1", "t=-1", 1),
		"leading zero":       strings.Replace(good, "t=1", "t=01", 1),
	} {
		if bad == good {
			t.Fatalf("%s: the sample is not bad", name)
		}
		if _, err := parsePHC(bad); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, cost := range []HashCost{{}, {1, 7, 1}, {1, 8, 0}, {1, 15, 2}, {65, 64, 1}, {1, 2 * 1024 * 1024, 1}} {
		if _, err := newHasher(cost, 1, chance(1)); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", cost, err)
		}
	}
	if err := DefaultHashCost().check(); err != nil {
		t.Error(err)
	}
}

// A flood of log-ins waits for places and gives up with its request.
func TestHashesWaitTheirTurn(t *testing.T) {
	h := testHasher(t, cheap)
	h.places <- struct{}{}
	h.places <- struct{}{}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, err := h.check(ctx, "x", ""); err == nil {
		t.Error("a third hash at a time")
	}
	<-h.places
	if right, _, err := h.check(context.Background(), "x", ""); right || err != nil {
		t.Errorf("no stored hash: right %v, %v", right, err)
	}
}

func FuzzParsePHC(f *testing.F) {
	f.Add(phc{cost: cheap, salt: make([]byte, 16), hash: make([]byte, 32)}.String())
	f.Add("$argon2id$v=19$m=65536,t=3,p=4$AAECAwQFBgcICQoLDA0ODw$AAECAwQFBgcICQoLDA0ODw")
	f.Add("$argon2id$v=19$m=1,t=1,p=1$$")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parsePHC(text)
		if err == nil && (p.String() != text || p.cost.check() != nil) {
			t.Errorf("%q is read as %q", text, p)
		}
	})
}
