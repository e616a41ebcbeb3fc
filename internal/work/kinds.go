package work

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"time"

	"limitans/fault"
)

const (
	defaultAttempts = 5
	defaultBackOff  = 10 * time.Second
	longestBackOff  = time.Hour
	mostArgsBytes   = 64 << 10
)

// kindName is what the names of kinds look like: "scan.measure".
var kindName = regexp.MustCompile(`^[a-z][a-z0-9_.]{1,62}$`)

// Kind declares one sort of job. A is its arguments: a struct that
// encoding/json writes as an object and reads back. A kind is declared once,
// beside its arguments; the process that works on it registers a function for
// it, the process that enqueues it needs none.
type Kind[A any] struct {
	// Name is stored with every job and must not change: lower-case letters,
	// digits, points and underlines, 2 to 63 of them.
	Name string
	// Attempts is how often a job is begun before it has failed; 5 if zero.
	// An attempt that ends because its process was stopped does not count; one
	// that ends because its process was killed does.
	Attempts int
	// BackOff is the wait after the first failed attempt; each further one
	// waits twice as long, an hour at most. 10 s if zero.
	BackOff time.Duration
	// Unique keeps jobs of this kind with equal arguments from waiting or
	// running side by side: the second is not enqueued.
	Unique bool
}

// valid says what is wrong with a declaration.
func (k Kind[A]) valid() error {
	invalid := func(what, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: fmt.Sprintf("job kind %q", k.Name), What: what, Expected: expected}
	}
	switch {
	case !kindName.MatchString(k.Name):
		return invalid("the name is not usable", "2 to 63 lower-case letters, digits, points and underlines, a letter first")
	case k.Attempts < 0:
		return invalid(fmt.Sprintf("%d attempts", k.Attempts), "at least one, or zero for the default")
	case k.BackOff < 0:
		return invalid(fmt.Sprintf("a wait of %v", k.BackOff), "a positive wait, or zero for the default")
	}
	return nil
}

func (k Kind[A]) attempts() int {
	if k.Attempts == 0 {
		return defaultAttempts
	}
	return k.Attempts
}

// backOff is the wait after the given number of failed attempts.
func (k Kind[A]) backOff(failed int) time.Duration {
	wait := k.BackOff
	if wait == 0 {
		wait = defaultBackOff
	}
	for ; failed > 1 && wait < longestBackOff; failed-- {
		wait *= 2
	}
	return min(wait, longestBackOff)
}

// payload is the arguments of a job on their way through River: JSON of one
// kind, decoded by the function that is registered for the kind.
type payload struct {
	kind string
	raw  json.RawMessage
}

// Kind is River's name for the sort of job.
func (p payload) Kind() string { return p.kind }

// MarshalJSON gives the arguments as they are.
func (p payload) MarshalJSON() ([]byte, error) { return p.raw, nil }

// UnmarshalJSON keeps a copy of the arguments undecoded.
func (p *payload) UnmarshalJSON(data []byte) error {
	p.raw = bytes.Clone(data)
	return nil
}

// encode writes the arguments of a job.
func (k Kind[A]) encode(args A) (payload, error) {
	where := "arguments of job kind " + k.Name
	raw, err := json.Marshal(args)
	switch {
	case err != nil:
		return payload{}, &fault.Error{Code: fault.Invalid, Where: where, What: "they cannot be written as JSON: " + err.Error(), Cause: err}
	case len(raw) == 0 || raw[0] != '{':
		return payload{}, &fault.Error{Code: fault.Invalid, Where: where, What: "they are not a JSON object", Expected: "a struct"}
	case len(raw) > mostArgsBytes:
		return payload{}, &fault.Error{
			Code: fault.TooLarge, Where: where, What: fmt.Sprintf("%d bytes", len(raw)),
			Expected: fmt.Sprintf("at most %d", mostArgsBytes), Mend: "store the data and hand over its address",
		}
	}
	return payload{k.Name, raw}, nil
}

// decode reads the arguments of a job. A field that this version does not know
// is an error and not dropped: another version meant something by it.
func (k Kind[A]) decode(raw json.RawMessage) (A, error) {
	var args A
	decoder := json.NewDecoder(bytes.NewReader(raw))
	decoder.DisallowUnknownFields()
	err := decoder.Decode(&args)
	if err == nil {
		if _, more := decoder.Token(); more != io.EOF {
			err = fmt.Errorf("there is more than one value")
		}
	}
	if err != nil {
		return args, &fault.Error{
			Code: fault.Malformed, Where: "arguments of job kind " + k.Name, What: err.Error(),
			Mend: "enqueue the job again with this version of the program", Cause: err,
		}
	}
	return args, nil
}

// handler is a registered kind with its types taken away.
type handler struct {
	name    string
	run     func(ctx context.Context, task *Task, raw json.RawMessage) error
	backOff func(failed int) time.Duration
}

// Kinds is the list of what a process can work on. It is filled from above, by
// whoever knows the functions, before the queue is opened.
type Kinds struct{ handlers map[string]handler }

// Register adds a kind and the function that does its work. The function must
// return soon after its context ends, be it that the job is cancelled, that the
// process stops or that another process has taken the job over; it may be run
// again for the same job (see the package comment on effects).
//
// Errors: Invalid for a declaration that cannot be, a missing function or a name
// that is taken.
func Register[A any](kinds *Kinds, kind Kind[A], run func(ctx context.Context, task *Task, args A) error) error {
	if err := kind.valid(); err != nil {
		return err
	}
	where := "job kind " + kind.Name
	if run == nil {
		return &fault.Error{Code: fault.Invalid, Where: where, What: "no function was given"}
	}
	if _, taken := kinds.handlers[kind.Name]; taken {
		return &fault.Error{Code: fault.Invalid, Where: where, What: "it is registered already"}
	}
	if kinds.handlers == nil {
		kinds.handlers = map[string]handler{}
	}
	kinds.handlers[kind.Name] = handler{
		name: kind.Name,
		run: func(ctx context.Context, task *Task, raw json.RawMessage) error {
			args, err := kind.decode(raw)
			if err != nil {
				return err
			}
			return run(ctx, task, args)
		},
		backOff: kind.backOff,
	}
	return nil
}
