// Package api speaks HTTP: it decodes requests into the nouns of package catalog, asks
// the store or a pure function, and encodes what comes back.
//
// The wire types in wire.gen.go, the routes in server.gen.go and the strict server in strict.gen.go are generated from the contract
// in package openapi. A request goes through these files in this order:
//
//	server.go     routes
//	answer.go     Request-Id, fixed headers, panics, ETag, 304, compression, access log
//	members.go    who sends it, and whether their token allows the operation
//	ratelimit.go  how many requests they may still send
//	admit.go      what the contract says about the request: parameters, media type, body
//	formats.go    in which form the answer is wanted; flatten.go turns a page of records into it
//	stored.go     what a question takes from the stored room or design that it names
//	fills.go ...  one file per noun: decode, encode, one short method per operation
//	together.go   many records added at once, all or none
//	slots.go      how many questions are computed at once
//	keys.go       what was asked before with the same key, answered again
//	shortlists.go what was kept of a ranking; comments.go, sharelinks.go and outcomes.go what hangs on it
//	shortlist_document.go, shortlist_verify.go   documents that prove their answer; shortlist_compare.go two side by side
//	exchange.go   the whole catalog out and in
//	batch.go      many questions, one a line, streamed
//	dryrun.go     what becomes of the answer to a change that was only tried
//	records.go    the mechanics that the nouns share: conditional writes, merge patch, lists
//	problem.go    the one table from errors to problem+json
//	metrics.go    figures for Prometheus, at an address of their own
//
// Validation by the contract runs in the native mode of its library: see contract.go.
package api

import (
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
	"golang.org/x/time/rate"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/openapi"
)

// Store is what the service needs of whoever keeps the catalog. A ref is the id or a
// slug, also a former one, of a record; by says who changes it. Errors are those of
// package catalog.
type Store interface {
	AddSource(ctx context.Context, by string, s catalog.Source) (catalog.Source, error)
	Source(ctx context.Context, ref string) (catalog.Source, error)
	Sources(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Source], error)
	ReplaceSource(ctx context.Context, by, ref string, revision int64, s catalog.Source) (catalog.Source, error)
	DeleteSource(ctx context.Context, by, ref string, revision int64) error
	RestoreSource(ctx context.Context, by, ref string) (catalog.Source, error)

	AddFill(ctx context.Context, by string, f catalog.Fill) (catalog.Fill, error)
	Fill(ctx context.Context, ref string) (catalog.Fill, error)
	Fills(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Fill], error)
	ReplaceFill(ctx context.Context, by, ref string, revision int64, f catalog.Fill) (catalog.Fill, error)
	DeleteFill(ctx context.Context, by, ref string, revision int64) error
	RestoreFill(ctx context.Context, by, ref string) (catalog.Fill, error)

	AddTest(ctx context.Context, by string, t catalog.AbsorptionTest) (catalog.AbsorptionTest, error)
	Test(ctx context.Context, ref string) (catalog.AbsorptionTest, error)
	Tests(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AbsorptionTest], error)
	ReplaceTest(ctx context.Context, by, ref string, revision int64, t catalog.AbsorptionTest) (catalog.AbsorptionTest, error)
	DeleteTest(ctx context.Context, by, ref string, revision int64) error
	RestoreTest(ctx context.Context, by, ref string) (catalog.AbsorptionTest, error)

	AddFabric(ctx context.Context, by string, f catalog.Fabric) (catalog.Fabric, error)
	Fabric(ctx context.Context, ref string) (catalog.Fabric, error)
	Fabrics(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Fabric], error)
	ReplaceFabric(ctx context.Context, by, ref string, revision int64, f catalog.Fabric) (catalog.Fabric, error)
	DeleteFabric(ctx context.Context, by, ref string, revision int64) error
	RestoreFabric(ctx context.Context, by, ref string) (catalog.Fabric, error)

	AddPart(ctx context.Context, by string, p catalog.Part) (catalog.Part, error)
	Part(ctx context.Context, ref string) (catalog.Part, error)
	Parts(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Part], error)
	ReplacePart(ctx context.Context, by, ref string, revision int64, p catalog.Part) (catalog.Part, error)
	DeletePart(ctx context.Context, by, ref string, revision int64) error
	RestorePart(ctx context.Context, by, ref string) (catalog.Part, error)

	AddReadyMade(ctx context.Context, by string, p catalog.ReadyMadePanel) (catalog.ReadyMadePanel, error)
	ReadyMade(ctx context.Context, ref string) (catalog.ReadyMadePanel, error)
	ReadyMades(ctx context.Context, q catalog.Query) (catalog.Page[catalog.ReadyMadePanel], error)
	ReplaceReadyMade(ctx context.Context, by, ref string, revision int64, p catalog.ReadyMadePanel) (catalog.ReadyMadePanel, error)
	DeleteReadyMade(ctx context.Context, by, ref string, revision int64) error
	RestoreReadyMade(ctx context.Context, by, ref string) (catalog.ReadyMadePanel, error)

	AddDesign(ctx context.Context, by string, d catalog.Design) (catalog.Design, error)
	Design(ctx context.Context, ref string) (catalog.Design, error)
	Designs(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Design], error)
	ReplaceDesign(ctx context.Context, by, ref string, revision int64, d catalog.Design) (catalog.Design, error)
	DeleteDesign(ctx context.Context, by, ref string, revision int64) error
	RestoreDesign(ctx context.Context, by, ref string) (catalog.Design, error)

	AddRoom(ctx context.Context, by string, r catalog.Room) (catalog.Room, error)
	Room(ctx context.Context, ref string) (catalog.Room, error)
	Rooms(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Room], error)
	ReplaceRoom(ctx context.Context, by, ref string, revision int64, r catalog.Room) (catalog.Room, error)
	DeleteRoom(ctx context.Context, by, ref string, revision int64) error
	RestoreRoom(ctx context.Context, by, ref string) (catalog.Room, error)

	AddSupplier(ctx context.Context, by string, s catalog.Supplier) (catalog.Supplier, error)
	Supplier(ctx context.Context, ref string) (catalog.Supplier, error)
	Suppliers(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Supplier], error)
	ReplaceSupplier(ctx context.Context, by, ref string, revision int64, s catalog.Supplier) (catalog.Supplier, error)
	DeleteSupplier(ctx context.Context, by, ref string, revision int64) error
	RestoreSupplier(ctx context.Context, by, ref string) (catalog.Supplier, error)

	AddExchangeRate(ctx context.Context, by string, r catalog.ExchangeRate) (catalog.ExchangeRate, error)
	ExchangeRate(ctx context.Context, ref string) (catalog.ExchangeRate, error)
	ExchangeRates(ctx context.Context, q catalog.Query) (catalog.Page[catalog.ExchangeRate], error)
	ReplaceExchangeRate(ctx context.Context, by, ref string, revision int64, r catalog.ExchangeRate) (catalog.ExchangeRate, error)
	DeleteExchangeRate(ctx context.Context, by, ref string, revision int64) error
	RestoreExchangeRate(ctx context.Context, by, ref string) (catalog.ExchangeRate, error)

	AddOffer(ctx context.Context, by string, o catalog.Offer) (catalog.Offer, error)
	Offer(ctx context.Context, ref string) (catalog.Offer, error)
	Offers(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Offer], error)
	ReplaceOffer(ctx context.Context, by, ref string, revision int64, o catalog.Offer) (catalog.Offer, error)
	DeleteOffer(ctx context.Context, by, ref string, revision int64) error
	RestoreOffer(ctx context.Context, by, ref string) (catalog.Offer, error)

	AddPrice(ctx context.Context, by string, p catalog.Price) (catalog.Price, error)
	// AddPrices adds all or none, and returns them as they are stored, in their order.
	AddPrices(ctx context.Context, by string, list []catalog.Price) ([]catalog.Price, error)
	Price(ctx context.Context, ref string) (catalog.Price, error)
	Prices(ctx context.Context, offerRef string, q catalog.Query) (catalog.Page[catalog.Price], error)

	// Meta is what all records of a noun carry, also of a deleted one.
	Meta(ctx context.Context, noun catalog.Noun, ref string) (catalog.Meta, error)

	AddToken(ctx context.Context, by string, t access.Token, secret access.Secret) (access.Token, error)
	Token(ctx context.Context, id string) (access.Token, error)
	TokenByHash(ctx context.Context, hash string) (access.Token, error)
	Tokens(ctx context.Context, q catalog.Query) (catalog.Page[access.Token], error)
	RevokeToken(ctx context.Context, id string) (access.Token, error)
	RotateToken(ctx context.Context, id string, secret access.Secret) (access.Token, error)

	// A shortlist is there for those who see it: asker, or by, tells who that is. For others
	// a private one does not exist.
	AddShortlist(ctx context.Context, by string, l catalog.Shortlist, frozen string) (catalog.Shortlist, error)
	Shortlist(ctx context.Context, asker, ref string) (catalog.Shortlist, error)
	FrozenShortlist(ctx context.Context, asker, ref string) (catalog.Shortlist, string, error)
	Shortlists(ctx context.Context, asker string, q catalog.Query) (catalog.Page[catalog.Shortlist], error)
	ReplaceShortlist(ctx context.Context, by, ref string, revision int64, l catalog.Shortlist) (catalog.Shortlist, error)
	DeleteShortlist(ctx context.Context, by, ref string, revision int64) error
	RestoreShortlist(ctx context.Context, by, ref string) (catalog.Shortlist, error)
	// ShortlistMeta is Meta for shortlists.
	ShortlistMeta(ctx context.Context, asker, ref string) (catalog.Meta, error)
	AddComment(ctx context.Context, by, ref string, c catalog.Comment) (catalog.Comment, error)
	Comment(ctx context.Context, asker, ref, id string) (catalog.Comment, error)
	Comments(ctx context.Context, asker, ref string, q catalog.Query) (catalog.Page[catalog.Comment], error)
	DeleteComment(ctx context.Context, by, ref, id string) error
	PutVote(ctx context.Context, by, ref string, b catalog.Vote) (catalog.Vote, error)
	WithdrawVote(ctx context.Context, by, ref string) error
	Votes(ctx context.Context, asker, ref string) (catalog.Shortlist, []catalog.Vote, error)
	AddShareLink(ctx context.Context, by, ref string, l catalog.ShareLink, secret access.Secret) (catalog.ShareLink, error)
	ShareLinks(ctx context.Context, asker, ref string, q catalog.Query) (catalog.Page[catalog.ShareLink], error)
	RevokeShareLink(ctx context.Context, by, ref, id string) (catalog.ShareLink, error)
	// PutOutcome raises the revision of the shortlist, which is built then; DeleteOutcome raises it too.
	PutOutcome(ctx context.Context, by, ref string, revision int64, o catalog.Outcome) (catalog.Shortlist, catalog.Outcome, error)
	Outcome(ctx context.Context, asker, ref string) (catalog.Shortlist, string, catalog.Outcome, error)
	DeleteOutcome(ctx context.Context, by, ref string, revision int64) error
	// GroupOutcomes calls each with the outcomes of the shortlists of the group and their frozen parts.
	GroupOutcomes(ctx context.Context, each func(o catalog.Outcome, frozen string) error) error
	// Shared is the shortlist, with its frozen part, to which a live share link with the hash leads.
	Shared(ctx context.Context, hash string, now time.Time) (catalog.Shortlist, string, error)

	// Held is what deleted records and former slugs keep others from taking, and the
	// revision at which that was so.
	Held(ctx context.Context) (int64, []catalog.Held, error)
	// ApplyImport stores changes all or none, if the catalog is at the given revision, and
	// returns the one that it made.
	ApplyImport(ctx context.Context, by string, at int64, c catalog.Changes) (int64, error)

	// Hold returns a context whose one change waits for Keep, which stores it together with the answer to
	// the request, or for Release, which undoes it. It is refused with catalog.ErrKeyUsed when an answer is
	// kept for the key.
	Hold(ctx context.Context, key access.Key) context.Context
	Keep(ctx context.Context, a access.Answer) error
	Release(ctx context.Context)
	KeptAnswer(ctx context.Context, key access.Key) (access.Answer, error)

	// Together makes all changes that f makes in its context one, which is stored as a whole or not at all.
	Together(ctx context.Context, f func(ctx context.Context) error) error

	// Trial returns a context in which every change is made and undone.
	Trial(ctx context.Context) context.Context
	// Because returns a context whose changes are stored with a reason.
	Because(ctx context.Context, reason string) context.Context

	// AuditEvent and AuditEvents tell what changed records, the newest event first.
	AuditEvent(ctx context.Context, id string) (catalog.AuditEvent, error)
	AuditEvents(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AuditEvent], error)
	// GoBack makes the record of an event what it was after that, as a new change of the
	// given revision; it returns the record, a value such as a catalog.Fill.
	GoBack(ctx context.Context, by, id string, revision int64) (any, error)

	// Revision is raised by every change of the catalog.
	Revision(ctx context.Context) (int64, error)
	// Snapshot is the whole catalog at one revision.
	Snapshot(ctx context.Context) (catalog.Snapshot, error)
	// Ping returns an error while the store cannot answer.
	Ping(ctx context.Context) error
}

// Options are what the service is told by whoever starts it.
type Options struct {
	Now     func() time.Time // the clock: today is its day in UTC; time.Now when nil
	Log     *slog.Logger     // one line per request, and the causes of 500; nothing when nil
	Version string           // of the program, as /healthz tells it
	Open    bool             // reading and questions need no token; writing always does
	Random  io.Reader        // for the secrets of tokens; crypto/rand.Reader when nil
	// PerMinute is how many requests a token, or an address without one, may send; 0 for no limit.
	PerMinute int
	Proxied   bool     // a proxy stands in front and tells the address of a client in X-Forwarded-For
	Origins   []string // of pages that may ask from a browser, like https://yard.example
	// Pools tells of the connections to the database, for the figures; nil where there is nothing to tell.
	Pools func() []Pool
}

// Server is the HTTP service. It is an http.Handler and may be used by several
// goroutines.
type Server struct {
	store    Store
	opts     Options
	contract *contract
	echo     *echo.Echo
	document []byte // the contract as JSON
	schema   []byte // of documents of shortlists
	checks   map[string]check
	limiter  *limiter      // nil for none
	slots    chan struct{} // one for each question that may be computed at once
	latest   latest
	running  sync.Map // keys of requests that are being carried out
	metrics  *metrics
	draining atomic.Bool
}

// New returns the service over a store. It fails only when the contract cannot be used.
func New(store Store, opts Options) (*Server, error) {
	if opts.Now == nil {
		opts.Now = time.Now
	}
	if opts.Log == nil {
		opts.Log = slog.New(slog.DiscardHandler)
	}
	opts.Log = slog.New(redacting{opts.Log.Handler()})
	if opts.Random == nil {
		opts.Random = rand.Reader
	}
	c, err := loadContract(openapi.Document)
	if err != nil {
		return nil, err
	}
	document, err := openapi.JSON()
	if err != nil {
		return nil, err
	}
	schema, err := openapi.ShortlistSchema()
	if err != nil {
		return nil, err
	}
	s := &Server{store: store, opts: opts, contract: c, document: document, schema: schema,
		slots: make(chan struct{}, runtime.GOMAXPROCS(0))}
	if opts.PerMinute > 0 {
		s.limiter = &limiter{perMinute: opts.PerMinute, buckets: map[string]*rate.Limiter{}}
	}
	s.metrics = newMetrics(s)
	s.checks = s.bodyChecks()
	s.echo = echo.New()
	s.echo.IPExtractor = echo.ExtractIPDirect() // headers do not tell the address of a client
	if opts.Proxied {
		s.echo.IPExtractor = echo.ExtractIPFromXFFHeader() // but the last one that no proxy of this network added
	}
	s.echo.HTTPErrorHandler = s.handleError
	if len(opts.Origins) > 0 {
		s.echo.Use(crossOrigin(opts.Origins))
	}
	s.echo.Use(s.admit)
	s.register()
	for _, name := range c.names() {
		if !s.served(c.operations[name]) {
			return nil, fmt.Errorf("api: the contract has %s, the router does not", name)
		}
	}
	return s, nil
}

// crossOrigin lets pages of other origins ask, without cookies: the token is in a header.
func crossOrigin(origins []string) echo.MiddlewareFunc {
	return middleware.CORSWithConfig(middleware.CORSConfig{
		Skipper:      func(c echo.Context) bool { return c.Request().Header.Get("Origin") == "" },
		AllowOrigins: origins,
		AllowMethods: []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete},
		AllowHeaders: []string{"Accept", "Authorization", "Change-Reason", "Content-Type", "Idempotency-Key", "If-Match", "If-None-Match", "Request-Id"},
		ExposeHeaders: []string{"ETag", "Link", "Location", "Content-Location", "Retry-After", "RateLimit", "RateLimit-Policy", "Request-Id", "Dry-Run",
			"Idempotency-Replayed", "Repr-Digest", "WWW-Authenticate"},
		MaxAge: 600,
	})
}

// Drain makes /readyz answer that the process is about to stop; all else goes on.
func (s *Server) Drain() { s.draining.Store(true) }

// register adds the routes: those that are generated, and those of the service itself.
func (s *Server) register() {
	r := router{s.echo}
	RegisterHandlers(r, NewStrictHandler(s, nil))
	r.GET("/healthz", s.health)
	r.GET("/readyz", s.readiness)
	r.GET("/openapi.json", s.contractJSON)
	r.GET(openapi.ShortlistForm, s.shortlistSchema)
	r.GET("/problems/:code", s.problemPage)
}

func (s *Server) served(op *operation) bool {
	for _, r := range s.echo.Routes() {
		if r.Method == op.method && r.Path == op.route {
			return true
		}
	}
	return false
}

// router answers HEAD wherever it answers GET, which echo by itself does not.
type router struct{ *echo.Echo }

func (r router) GET(path string, h echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	r.HEAD(path, h, m...)
	return r.Echo.GET(path, h, m...)
}

// HTTPServer returns a server with the time limits of the service, which has no
// operation that takes long: 5 s for the headers, 15 s for a whole request, 30 s for
// the answer, 2 minutes for an idle connection, 64 KiB of headers. Convention.
func HTTPServer(handler http.Handler) *http.Server {
	return &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
}
