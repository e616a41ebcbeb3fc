package web

import (
	"context"
	"sync"
	"time"

	"limitans/internal/follow"
	"limitans/internal/record"
	"limitans/internal/store"
)

// review is what a slow walk through all eyes has found: entries that disagree.
// Pages read it and never walk themselves.
type review struct {
	mu    sync.Mutex
	found []follow.EyeFinding // of the last whole round; of the first one so far
	eyes  int                 // looked at in this round
	ended time.Time           // of the last whole round; zero: none yet
}

// The walk: some eyes, then a rest, so that nobody who waits for a page feels it.
// A round of 100,000 eyes takes about an hour and a half (ours, no source).
const (
	reviewAtOnce = 2
	reviewRest   = 100 * time.Millisecond
	reviewAgain  = 10 * time.Minute // between two rounds
	mostFindings = 500              // kept; more are counted nowhere and found next time
)

// Review walks through the eyes of the record again and again until ctx ends,
// for the list of entries that disagree on the page of today. A failure is logged
// and the round begun anew.
func (s *Server) Review(ctx context.Context) {
	for {
		wait := reviewAgain
		if err := s.reviewRound(ctx, reviewRest); err != nil && ctx.Err() == nil {
			s.Log.Error("entries not reviewed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
	}
}

// reviewRound looks at every eye once, resting after each stretch.
func (s *Server) reviewRound(ctx context.Context, rest time.Duration) error {
	var found []follow.EyeFinding
	eyes := 0
	for page := (store.Page{Limit: reviewAtOnce}); ; {
		part, next, err := follow.LookAt(ctx, s.Store, record.DayOf(s.Now()), page)
		if err != nil {
			return err
		}
		eyes += part.Eyes
		for _, f := range part.Findings {
			if f.Finding.Severity != record.Warn && len(found) < mostFindings {
				found = append(found, f)
			}
		}
		s.review.mu.Lock()
		s.review.eyes = eyes
		if s.review.ended.IsZero() || next == "" {
			s.review.found = found
		}
		if next == "" {
			s.review.ended = s.Now()
		}
		s.review.mu.Unlock()
		if next == "" {
			return nil
		}
		page.After = next
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(rest):
		}
	}
}

// reviewed are the findings so far, and when the last round ended.
func (s *Server) reviewed() (found []follow.EyeFinding, eyes int, ended time.Time) {
	s.review.mu.Lock()
	defer s.review.mu.Unlock()
	return s.review.found, s.review.eyes, s.review.ended
}
