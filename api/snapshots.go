package api

import (
	"context"
	"runtime"
	"sync"

	"sabinbook/internal/catalog"
	"sabinbook/internal/ranking"
)

// latest keeps the catalog at the revision that was asked last, with what questions about it
// have worked out.
type latest struct {
	lock     sync.Mutex
	prepared *ranking.Prepared
}

// prepared returns the catalog ready for questions, at the store's revision now: what a write
// has been acknowledged for is in it, whoever wrote it.
func (s *Server) prepared(ctx context.Context) (*ranking.Prepared, error) {
	revision, err := s.store.Revision(ctx)
	if err != nil {
		return nil, err
	}
	if p := s.latest.at(revision); p != nil {
		return p, nil
	}
	stock, err := s.store.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	if p := s.latest.at(stock.Revision); p != nil {
		return p, nil
	}
	p := ranking.Prepare(stock, runtime.GOMAXPROCS(0))
	s.latest.lock.Lock()
	defer s.latest.lock.Unlock()
	if last := s.latest.prepared; last == nil || last.Revision() < stock.Revision {
		s.latest.prepared = p
	}
	return p, nil
}

// at returns what is kept if it is of the revision.
func (l *latest) at(revision int64) *ranking.Prepared {
	l.lock.Lock()
	defer l.lock.Unlock()
	if l.prepared == nil || l.prepared.Revision() != revision {
		return nil
	}
	return l.prepared
}

// snapshot is the catalog at the store's revision now.
func (s *Server) snapshot(ctx context.Context) (catalog.Snapshot, error) {
	p, err := s.prepared(ctx)
	if err != nil {
		return catalog.Snapshot{}, err
	}
	return p.Snapshot(), nil
}
