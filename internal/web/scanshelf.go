package web

import (
	"context"
	"fmt"
	"sync"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/oct"
	"limitans/oct/measure"
	"limitans/oct/register"
)

// scanShelf keeps scans that were read a moment ago, so that the next slice
// costs no reading. It is bounded in bytes; what was looked at longest ago goes
// first. A scan is read once however many ask for it.
type scanShelf struct {
	bound int64
	// reading bounds how many scans are read at the same time, since each takes
	// its memory before it is on the shelf.
	reading chan struct{}

	mu    sync.Mutex
	held  map[string]*shelved
	bytes int64
	clock int64 // counts looks
}

// scansReadAtOnce is how many scans are read at the same time.
const scansReadAtOnce = 2

// readingTimeout ends a reading that nobody would wait for.
const readingTimeout = 3 * time.Minute

// shelved is one scan on the shelf, or on its way there.
type shelved struct {
	key    string
	ready  chan struct{} // closed when volume or err is there
	volume *oct.Volume
	err    error
	bytes  int64
	looked int64

	mu sync.Mutex
	// results are measurements of the volume by the lines they rest on; pictures
	// are encoded ones by name. Both go with the volume.
	results  map[string]*measure.Result
	pictures map[string][]byte
	// layings on other scans by their keys.
	layings map[string]laying
}

func newScanShelf(bound int64) *scanShelf {
	return &scanShelf{bound: bound, reading: make(chan struct{}, scansReadAtOnce), held: map[string]*shelved{}}
}

// bytesOf is the memory that a scan takes with what is found on it: two bytes a
// sample, the field of brightness of package oct/hole for a moment, and lines.
func bytesOf(slices, rows, columns int) int64 {
	return int64(slices) * int64(columns) * (2*int64(rows) + 64)
}

// keyOf tells scans apart by all that their samples and scale depend on.
func keyOf(noun *record.Scan, e *record.Eye) string {
	return fmt.Sprintf("%s/%d/%s/%d", noun.ID, noun.Version, noun.File.SHA256, e.Version)
}

// take gives a scan, reading it where it is not on the shelf. Where ctx ends
// first the reading goes on for whoever asks next.
//
// Errors: TooLarge for a scan that is larger than the shelf; those of read; that
// of ctx.
func (h *scanShelf) take(ctx context.Context, noun *record.Scan, e *record.Eye, read func(context.Context) (*oct.Volume, error)) (*shelved, error) {
	key := keyOf(noun, e)
	h.mu.Lock()
	one, is := h.held[key]
	if !is {
		one = &shelved{key: key, ready: make(chan struct{}), bytes: bytesOf(noun.Slices, noun.Rows, noun.Columns), results: map[string]*measure.Result{}, pictures: map[string][]byte{}, layings: map[string]laying{}}
		if one.bytes > h.bound {
			h.mu.Unlock()
			return nil, &fault.Error{
				Code: fault.TooLarge, Where: "scan", What: fmt.Sprintf("%d MiB are needed to show it", one.bytes>>20),
				Expected: fmt.Sprintf("at most %d MiB", h.bound>>20), Mend: "measure it from the command line, or ask whoever runs the server for more memory",
			}
		}
		h.held[key] = one
		h.bytes += one.bytes
		go h.read(context.WithoutCancel(ctx), one, read)
	}
	h.clock++
	one.looked = h.clock
	h.makeRoom(one)
	h.mu.Unlock()
	select {
	case <-one.ready:
		return one, one.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// has reports a scan that is on the shelf and read.
func (h *scanShelf) has(noun *record.Scan, e *record.Eye) bool {
	h.mu.Lock()
	one := h.held[keyOf(noun, e)]
	h.mu.Unlock()
	if one == nil {
		return false
	}
	select {
	case <-one.ready:
		return true
	default:
		return false
	}
}

// read fills a place on the shelf. A failed reading leaves the shelf at once, so
// that the next look tries again.
func (h *scanShelf) read(ctx context.Context, one *shelved, read func(context.Context) (*oct.Volume, error)) {
	ctx, cancel := context.WithTimeout(ctx, readingTimeout)
	defer cancel()
	h.reading <- struct{}{}
	defer func() { <-h.reading }()
	one.volume, one.err = read(ctx)
	h.mu.Lock()
	defer h.mu.Unlock()
	if one.err != nil {
		h.drop(one)
	} else if told := one.bytes; h.held[one.key] == one {
		// What the record told of its size may be less than what was read.
		one.bytes = bytesOf(one.volume.Slices, one.volume.Rows, one.volume.Columns)
		h.bytes += one.bytes - told
		h.makeRoom(one)
	}
	close(one.ready)
}

// makeRoom drops what was looked at longest ago until all fits; but never stays.
func (h *scanShelf) makeRoom(but *shelved) {
	for h.bytes > h.bound && len(h.held) > 1 {
		var oldest *shelved
		for _, one := range h.held {
			if one != but && (oldest == nil || one.looked < oldest.looked) {
				oldest = one
			}
		}
		h.drop(oldest)
	}
}

func (h *scanShelf) drop(one *shelved) {
	if h.held[one.key] == one {
		delete(h.held, one.key)
		h.bytes -= one.bytes
	}
}

// result gives a measurement by the name of its lines, making it once at a time.
func (o *shelved) result(name string, measured func() (*measure.Result, error)) (*measure.Result, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if r, is := o.results[name]; is {
		return r, nil
	}
	r, err := measured()
	if err != nil {
		return nil, err
	}
	if len(o.results) >= maxResults {
		clear(o.results)
	}
	o.results[name] = r
	return r, nil
}

// maxResults of one scan are kept: one for each version of its lines, and what
// is being moved.
const maxResults = 8

// picture gives an encoded picture by its name.
func (o *shelved) picture(name string, draw func() ([]byte, error)) ([]byte, error) {
	o.mu.Lock()
	known, is := o.pictures[name]
	o.mu.Unlock()
	if is {
		return known, nil
	}
	made, err := draw()
	if err != nil {
		return nil, err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pictures) >= maxPictures {
		clear(o.pictures)
	}
	o.pictures[name] = made
	return made, nil
}

// maxPictures of one scan are kept encoded.
const maxPictures = 64

// laying is one scan laid on another, with the fault where they do not match.
type laying struct {
	motion *register.Motion
	err    error
}

// laid gives the motion to another scan by its key, found once.
func (o *shelved) laid(other string, find func() (*register.Motion, error)) (*register.Motion, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if known, is := o.layings[other]; is {
		return known.motion, known.err
	}
	m, err := find()
	if len(o.layings) >= maxResults {
		clear(o.layings)
	}
	o.layings[other] = laying{m, err}
	return m, err
}
