package vault

import (
	"context"
	"io"
	"time"
)

// backend is a place that keeps named bytes. Names are made by this package,
// with slashes. All errors are faults; NotFound means that the name is not
// there.
type backend interface {
	// where tells a person the place of a name.
	where(name string) string
	// get returns a small object whole; TooLarge when it has more than limit bytes.
	get(ctx context.Context, name string, limit int64) ([]byte, error)
	// put makes a small object durable in one atomic step; an older one is replaced.
	put(ctx context.Context, name string, data []byte) error
	// open gives ranges of an object.
	open(ctx context.Context, name string) (blob, error)
	// list calls each for every object whose name begins with the prefix: none
	// that is half-written, in no order.
	list(ctx context.Context, prefix string, each func(name string, size int64) error) error

	// begin makes room for an upload in parts; token is what the backend wants
	// back later. release gives up the exclusive hold on it.
	begin(ctx context.Context, id string) (token string, release func(), err error)
	// resume takes the exclusive hold of an upload that was begun; Conflict when
	// somebody else has it.
	resume(ctx context.Context, id string) (release func(), err error)
	// putPart makes one part durable; a part of the same number is replaced.
	putPart(ctx context.Context, id, token string, p part, data []byte) (receipt string, err error)
	// checkParts fails when a part is not there as its record says.
	checkParts(ctx context.Context, id, token string, parts []part) error
	// openParts reads the parts so far; nil where the place cannot do that.
	openParts(ctx context.Context, id string) (blob, error)
	// commit makes the parts one object and returns its name. It may be called
	// again when it is not known whether it succeeded.
	commit(ctx context.Context, id, token, name string, parts []part) (location string, err error)
	// store makes a content durable that is smaller than a part.
	store(ctx context.Context, id, name string, data []byte) (location string, err error)
	// discard removes what is left of an upload and never a content.
	discard(ctx context.Context, id string) error
	// unfinished calls each for every upload with the time of its last change.
	unfinished(ctx context.Context, each func(id string, changed time.Time) error) error
}

// blob is an object opened for reading. ReadAt fills p or fails.
type blob interface {
	io.Closer
	Size() int64
	ReadAt(ctx context.Context, p []byte, offset int64) error
}

// part is a run of encoded chunks that was made durable at once.
type part struct {
	number  int   // from 0
	offset  int64 // encoded bytes before it
	length  int64 // encoded bytes
	receipt string
}
