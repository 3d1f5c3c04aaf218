package api

import (
	"fmt"
	"math"
	"strconv"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// limiter counts the requests of each token, and of each address that shows none: each may send so
// many at once, and as many more in a minute.
type limiter struct {
	perMinute int
	lock      sync.Mutex
	buckets   map[string]*rate.Limiter
}

// mostBuckets is the number of senders from which on those that have sent nothing for a while are
// forgotten. Convention: a few megabytes.
const mostBuckets = 10_000

// take counts one request of a sender. It returns how many more may be sent at once, the seconds until all may,
// and those until the next one may when this one may not, else 0.
func (l *limiter) take(sender string, now time.Time) (left, full, wait int) {
	l.lock.Lock()
	defer l.lock.Unlock()
	b := l.buckets[sender]
	if b == nil {
		if len(l.buckets) >= mostBuckets {
			for name, old := range l.buckets {
				if old.TokensAt(now) >= float64(l.perMinute) {
					delete(l.buckets, name)
				}
			}
		}
		b = rate.NewLimiter(rate.Limit(float64(l.perMinute)/60), l.perMinute)
		l.buckets[sender] = b
	}
	ok := b.AllowN(now, 1)
	tokens := b.TokensAt(now)
	second := float64(b.Limit())
	full = int(math.Ceil((float64(l.perMinute) - tokens) / second))
	if !ok {
		wait = max(1, int(math.Ceil((1-tokens)/second)))
	}
	return int(math.Max(0, math.Floor(tokens))), full, wait
}

// limit refuses a request whose sender has sent too many, and tells in any case how many are left.
func (s *Server) limit(c *call, address string) error {
	l := s.limiter
	if l == nil {
		return nil
	}
	sender := "address " + address
	if c.token.ID != "" {
		sender = "token " + string(c.token.ID)
	}
	left, full, wait := l.take(sender, s.opts.Now())
	c.answer.header.Set("RateLimit-Policy", fmt.Sprintf(`"default";q=%d;w=60`, l.perMinute))
	c.answer.header.Set("RateLimit", fmt.Sprintf(`"default";r=%d;t=%d`, left, full))
	if wait > 0 {
		return &requestError{kind: problemTooMany, detail: fmt.Sprintf("more than %d requests in a minute", l.perMinute), header: map[string]string{"Retry-After": strconv.Itoa(wait)}}
	}
	return nil
}
