package account

import (
	"testing"
	"time"
)

// The doubling is the package's own rule; the table spells it out.
func TestWaitsDoubleUpToALimit(t *testing.T) {
	for _, test := range []struct {
		back     backOff
		failures int64
		want     time.Duration
	}{
		{nameBackOff, 0, 0},
		{nameBackOff, 4, 0},
		{nameBackOff, 5, 30 * time.Second},
		{nameBackOff, 6, time.Minute},
		{nameBackOff, 11, 32 * time.Minute},
		{nameBackOff, 12, time.Hour},
		{nameBackOff, 13, time.Hour},
		{nameBackOff, 1 << 62, time.Hour},
		{remoteBackOff, 19, 0},
		{remoteBackOff, 20, 30 * time.Second},
		{remoteBackOff, 24, 8 * time.Minute},
		{remoteBackOff, 25, 15 * time.Minute},
	} {
		if got := test.back.wait(test.failures); got != test.want {
			t.Errorf("after %d failures %v, want %v", test.failures, got, test.want)
		}
	}
}

// One subscriber has one key: an IPv4 address, or 64 bits of an IPv6 one.
func TestRemoteKeys(t *testing.T) {
	for _, test := range []struct{ remote, want string }{
		{"192.0.2.7", "remote:192.0.2.7"},
		{"192.0.2.7:5000", "remote:192.0.2.7"},
		{"::ffff:192.0.2.7", "remote:192.0.2.7"},
		{"[2001:db8:1:2:3::9]:443", "remote:2001:db8:1:2::/64"},
		{"2001:db8:1:2:ffff::1", "remote:2001:db8:1:2::/64"},
		{"fe80::1%eth0", "remote:fe80::/64"},
		{"", "remote:?"},
		{"garbage", "remote:?"},
	} {
		if got := remoteKey(test.remote); got != test.want {
			t.Errorf("%q: %q, want %q", test.remote, got, test.want)
		}
	}
	if nameKey("a") == nameKey("b") || len(nameKey("a")) != len("name:")+64 {
		t.Error("names share a key, or are not hashed")
	}
}
