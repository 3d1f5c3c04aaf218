package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"sabinbook/internal/access"
)

// call is what is known about the request being answered.
type call struct {
	id    string // Request-Id
	op    *operation
	url   *url.URL
	query url.Values
	form  form
	// suffix is the format that the end of the path asks for, taken off the path that is routed.
	suffix format
	text   []byte              // of the body, where it is one JSON value
	real   http.ResponseWriter // of the connection, for limits on the body
	token  access.Token        // who sends it; none where reading is open
	// answer is what is being written.
	answer *answer
}

type callKey struct{}

// callOf returns the call of a request that ServeHTTP has begun.
func callOf(ctx context.Context) *call {
	c, _ := ctx.Value(callKey{}).(*call)
	return c
}

// answer holds an answer until it is whole, so that an error never appears inside a 200
// and every answer has its length and its tag. One that is streamed goes out as it comes.
type answer struct {
	header   http.Header
	status   int
	body     bytes.Buffer
	streamed http.ResponseWriter // where the answer goes as it comes; nil while it is held
	sent     int
}

func (a *answer) Header() http.Header { return a.header }

func (a *answer) WriteHeader(status int) {
	if a.status == 0 {
		a.status = status
	}
}

func (a *answer) Write(p []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	if a.streamed != nil {
		n, err := a.streamed.Write(p)
		a.sent += n
		return n, err
	}
	return a.body.Write(p)
}

// stream sends the header and lets all that is written from now on go out as it comes.
func (a *answer) stream(to http.ResponseWriter) {
	a.header.Set("Cache-Control", "no-store")
	a.WriteHeader(http.StatusOK)
	a.send(to)
	a.streamed = to
}

func (a *answer) send(to http.ResponseWriter) {
	for name, values := range a.header {
		to.Header()[name] = values
	}
	to.WriteHeader(a.status)
}

// strictTransport keeps browsers to TLS for a year (RFC 6797 section 6.1). It is said only where a proxy with
// TLS stands in front: over plain HTTP a browser must ignore it (section 8.1).
const strictTransport = "max-age=31536000"

var requestIDForm = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	begin := time.Now()
	c := &call{id: r.Header.Get("Request-Id"), url: r.URL, real: w}
	if path, suffix := cutSuffix(r.URL.Path); suffix != "" {
		c.suffix = suffix
		routed := *r.URL
		routed.Path, routed.RawPath = path, ""
		r = r.WithContext(r.Context())
		r.URL = &routed
	}
	if !requestIDForm.MatchString(c.id) {
		c.id = uuid.NewString()
	}
	a := &answer{header: http.Header{}}
	c.answer = a
	a.header.Set("Request-Id", c.id)
	a.header.Set("X-Content-Type-Options", "nosniff")
	a.header.Set("Content-Security-Policy", "default-src 'none'")
	a.header.Set("Referrer-Policy", "no-referrer")
	if s.opts.Proxied {
		a.header.Set("Strict-Transport-Security", strictTransport)
	}
	r = r.WithContext(context.WithValue(r.Context(), callKey{}, c))
	s.metrics.flying.Inc()
	defer func() { // also when a streamed answer is cut off
		s.metrics.flying.Dec()
		s.metrics.answered(c.op, a.status, time.Since(begin))
	}()
	s.recovering(a, r)
	if a.streamed == nil {
		a.finish(r)
		a.send(w)
		if r.Method != http.MethodHead {
			a.sent, _ = w.Write(a.body.Bytes()) // a client that has gone away is no error of ours
		}
	}
	s.access(c, r, a, begin)
}

// recovering answers through the router; a panic becomes the problem of status 500.
func (s *Server) recovering(a *answer, r *http.Request) {
	defer func() {
		if p := recover(); p != nil {
			a.status = 0
			a.body.Reset()
			s.opts.Log.Error("panic", "request_id", callOf(r.Context()).id, "cause", fmt.Sprint(p), "stack", string(debug.Stack()))
			if a.streamed != nil {
				panic(http.ErrAbortHandler) // the client sees that the answer was cut off
			}
			writeProblem(a, callOf(r.Context()).id, problemInternal, problemDetail{})
		}
	}()
	s.echo.ServeHTTP(a, r)
}

// finish gives an answer its tag and caching rule, turns a read into 304 when the client
// holds it already, and sets the length.
func (a *answer) finish(r *http.Request) {
	a.WriteHeader(http.StatusOK)
	if a.header.Get("Cache-Control") == "" {
		a.header.Set("Cache-Control", "private, no-cache")
	}
	if a.status == http.StatusOK {
		gzipped := false
		if a.header.Get("ETag") == "" {
			// Records have tags of their own, by which they are changed, and are never compressed.
			sum := sha256.Sum256(a.body.Bytes())
			tag := hex.EncodeToString(sum[:16])
			a.header.Add("Vary", "Accept, Accept-Encoding")
			if gzipped = a.body.Len() >= leastCompressed && takesGzip(r.Header); gzipped {
				tag += "-gz"
			}
			a.header.Set("ETag", `"`+tag+`"`)
		}
		read := r.Method == http.MethodGet || r.Method == http.MethodHead
		if tags := r.Header.Values("If-None-Match"); read && noneMatch(strings.Join(tags, ","), a.header.Get("ETag")) {
			a.status = http.StatusNotModified
			a.body.Reset()
			a.header.Del("Content-Type")
		} else if gzipped {
			packed := compressed(a.body.Bytes())
			a.body.Reset()
			a.body.Write(packed)
			a.header.Set("Content-Encoding", "gzip")
		}
	}
	if a.status != http.StatusNotModified && a.status != http.StatusNoContent {
		a.header.Set("Content-Length", strconv.Itoa(a.body.Len()))
	}
}

// access writes the one line of the request. Values that a client chose are data of the
// line, never part of its form.
func (s *Server) access(c *call, r *http.Request, a *answer, begin time.Time) {
	route := ""
	if c.op != nil {
		route = c.op.route
	}
	path := r.URL.Path
	if strings.HasPrefix(path, sharedPath) { // a secret, or one with a mistake in it
		path = sharedPath + "..."
	}
	s.opts.Log.LogAttrs(r.Context(), slog.LevelInfo, "request",
		slog.String("request_id", c.id), slog.String("method", r.Method), slog.String("path", path), slog.String("route", route),
		slog.Int("status", a.status), slog.Int("bytes", a.sent), slog.Float64("duration_ms", float64(time.Since(begin).Microseconds())/1000),
		slog.String("remote", r.RemoteAddr), slog.String("member", c.token.Member))
}
