package web

import (
	"encoding/json"
	"sync"

	"limitans/internal/bench"
)

// predictions keeps the last answers about bubbles, so that a slider that moves
// over the days of one course computes the course once. An answer depends on its
// question alone and is never changed.
type predictions struct {
	mu    sync.Mutex
	byKey map[string]*bench.BubbleAnswer
	order []string
}

// mostPredictions are kept: a course is some kilobytes.
const mostPredictions = 128

// of predicts, or gives what was predicted.
func (p *predictions) of(q bench.Bubble) (*bench.BubbleAnswer, error) {
	key, err := json.Marshal(q)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	known := p.byKey[string(key)]
	p.mu.Unlock()
	if known != nil {
		return known, nil
	}
	answer, err := q.Predict()
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.byKey == nil {
		p.byKey = map[string]*bench.BubbleAnswer{}
	}
	if p.byKey[string(key)] == nil {
		p.byKey[string(key)] = answer
		p.order = append(p.order, string(key))
	}
	if len(p.order) > mostPredictions {
		delete(p.byKey, p.order[0])
		p.order = p.order[1:]
	}
	return answer, nil
}

// bubbleAnswers are those of this program.
var bubbleAnswers predictions
