package work

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"limitans/fault"
)

type sample struct {
	Path string `json:"path"`
}

func noWork(context.Context, *Task, sample) error { return nil }

func TestRegisterRefuses(t *testing.T) {
	var kinds Kinds
	if err := Register(&kinds, Kind[sample]{Name: "scan.measure"}, noWork); err != nil {
		t.Fatal(err)
	}
	for name, err := range map[string]error{
		"a name that is taken": Register(&kinds, Kind[sample]{Name: "scan.measure"}, noWork),
		"no name":              Register(&kinds, Kind[sample]{}, noWork),
		"a name of one letter": Register(&kinds, Kind[sample]{Name: "a"}, noWork),
		"capitals":             Register(&kinds, Kind[sample]{Name: "Scan"}, noWork),
		"a comma":              Register(&kinds, Kind[sample]{Name: "a,b"}, noWork),
		"a long name":          Register(&kinds, Kind[sample]{Name: strings.Repeat("a", 64)}, noWork),
		"negative attempts":    Register(&kinds, Kind[sample]{Name: "b.c", Attempts: -1}, noWork),
		"a negative wait":      Register(&kinds, Kind[sample]{Name: "b.c", BackOff: -1}, noWork),
		"no function":          Register[sample](&kinds, Kind[sample]{Name: "b.c"}, nil),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if len(kinds.handlers) != 1 {
		t.Errorf("%d kinds, want 1", len(kinds.handlers))
	}
}

// TestBackOff against the rule in Kind's comment: first wait × 2 for each
// further failure, at most an hour.
func TestBackOff(t *testing.T) {
	for _, test := range []struct {
		first  time.Duration
		failed int
		want   time.Duration
	}{
		{0, 1, 10 * time.Second},
		{0, 2, 20 * time.Second},
		{0, 4, 80 * time.Second},
		{0, 10, time.Hour},
		{time.Second, 1, time.Second},
		{time.Second, 12, 2048 * time.Second},
		{time.Second, 13, time.Hour},
		{time.Minute, math.MaxInt, time.Hour},
		{3 * time.Hour, 1, time.Hour},
		{time.Second, 0, time.Second},
	} {
		if got := (Kind[sample]{BackOff: test.first}).backOff(test.failed); got != test.want {
			t.Errorf("after %d failures, %v at first: %v, want %v", test.failed, test.first, got, test.want)
		}
	}
}

func TestArgumentsGoThrough(t *testing.T) {
	kind := Kind[sample]{Name: "scan.measure"}
	p, err := kind.encode(sample{"a <b>"})
	if err != nil {
		t.Fatal(err)
	}
	// River writes and reads the arguments as JSON on their way.
	written, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var back payload
	if err := json.Unmarshal(written, &back); err != nil {
		t.Fatal(err)
	}
	if got, err := kind.decode(back.raw); err != nil || got.Path != "a <b>" {
		t.Errorf("%+v, %v", got, err)
	}
	for name, raw := range map[string]string{
		"a field of another version": `{"path":"a","frames":3}`, "another type": `{"path":3}`,
		"two values": `{"path":"a"}{}`, "nothing": ``, "half": `{"path":`,
	} {
		if _, err := kind.decode([]byte(raw)); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestArgumentsRefused(t *testing.T) {
	if _, err := (Kind[sample]{Name: "a.b"}).encode(sample{strings.Repeat("x", mostArgsBytes)}); fault.CodeOf(err) != fault.TooLarge {
		t.Errorf("too large: %v", err)
	}
	if _, err := (Kind[[]int]{Name: "a.b"}).encode([]int{1}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a list: %v", err)
	}
	if _, err := (Kind[struct{ F func() }]{Name: "a.b"}).encode(struct{ F func() }{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a function: %v", err)
	}
	if _, err := Enqueue(t.Context(), nil, nil, Kind[sample]{Name: "?"}, sample{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a kind that cannot be: %v", err)
	}
}

// TestUnknownArgumentsFail holds that a job of another version's arguments
// never reaches the function.
func TestUnknownArgumentsFail(t *testing.T) {
	var kinds Kinds
	err := Register(&kinds, Kind[sample]{Name: "a.b"}, func(context.Context, *Task, sample) error {
		return errors.New("it was run")
	})
	if err != nil {
		t.Fatal(err)
	}
	err = kinds.handlers["a.b"].run(t.Context(), nil, json.RawMessage(`{"frames":3}`))
	if fault.CodeOf(err) != fault.Malformed || !strings.Contains(err.Error(), "frames") {
		t.Error(err)
	}
}

func TestOptionsRefused(t *testing.T) {
	for name, options := range map[string]Options{
		"workers": {Workers: -1}, "many workers": {Workers: 20000}, "poll": {Poll: -1}, "short poll": {Poll: 1},
		"beat": {Beat: -1}, "grace": {Grace: -1}, "looks": {DeadBeats: 2},
	} {
		if _, err := options.withDefaults(); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Open(nil, SQLite, nil, Options{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no handle: %v", err)
	}
}
