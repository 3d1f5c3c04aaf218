package api

import (
	"context"
	"fmt"
	"time"

	"sabinbook/internal/catalog"
)

// A slot is the right to compute: there are as many as processors, so that many costly
// questions take neither all memory nor the time of reads.

// slotWait is how long a question waits for others to be answered before it is refused.
// Convention: well under the time for an answer.
const slotWait = 10 * time.Second

// slot waits until a question may be computed.
func (s *Server) slot(ctx context.Context) (done func(), err error) {
	ctx, cancel := context.WithTimeout(ctx, slotWait)
	defer cancel()
	begin := time.Now()
	s.metrics.waiting.Inc()
	done, there := s.nextSlot(ctx)
	s.metrics.waiting.Dec()
	s.metrics.waited.Observe(time.Since(begin).Seconds())
	if !there {
		s.metrics.refused.Inc()
		return nil, fmt.Errorf("api: too many questions at once: %w", catalog.ErrUnavailable)
	}
	return done, nil
}

// nextSlot waits for a slot as long as whoever asks is there, and is false when it has gone.
func (s *Server) nextSlot(ctx context.Context) (release func(), there bool) {
	select {
	case s.slots <- struct{}{}:
		return func() { <-s.slots }, true
	case <-ctx.Done():
		return nil, false
	}
}

// freeSlot takes a slot that nobody uses now, if there is one.
func (s *Server) freeSlot() (release func(), free bool) {
	select {
	case s.slots <- struct{}{}:
		return func() { <-s.slots }, true
	default:
		return nil, false
	}
}
