package api

import (
	"bytes"
	"context"
	"net/http"
	"runtime"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/common/expfmt"
)

// Figures for Prometheus. Their labels are operations of the contract, classes of status codes and names
// of pools, so that there are as many series as the program knows words, whatever is asked; no label and
// no value tells of a member, a token, an address or a record.

// Pool is what is known of one pool of connections to the database.
type Pool struct {
	Name              string // write or read
	Open, InUse, Most int    // connections, and how many there may be
	Waits             int64  // since the start: how often somebody waited for one
	Waited            time.Duration
}

// metrics counts what the service does.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec   // by operation and class of status
	seconds  *prometheus.HistogramVec // by operation
	flying   prometheus.Gauge
	waiting  prometheus.Gauge
	waited   prometheus.Histogram
	refused  prometheus.Counter
}

// noOperation labels a request that the contract has no operation for.
const noOperation = "none"

func newMetrics(s *Server) *metrics {
	name := func(short, help string) prometheus.Opts {
		return prometheus.Opts{Namespace: "sabinbook", Name: short, Help: help}
	}
	m := &metrics{registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts(name("requests_total", "Requests answered.")), []string{"operation", "status"}),
		// From a read in memory to the time limit of an answer.
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{Namespace: "sabinbook", Name: "request_seconds",
			Help: "Time from the headers of a request to the end of its answer.", Buckets: []float64{.002, .01, .05, .2, 1, 5, 30}}, []string{"operation"}),
		flying:  prometheus.NewGauge(prometheus.GaugeOpts(name("requests_running", "Requests being answered."))),
		waiting: prometheus.NewGauge(prometheus.GaugeOpts(name("questions_waiting", "Questions that wait for others to be computed."))),
		waited: prometheus.NewHistogram(prometheus.HistogramOpts{Namespace: "sabinbook", Name: "question_wait_seconds",
			Help: "Time that questions waited before they were computed.", Buckets: []float64{.001, .01, .1, .5, 1, 2, 5, 10}}),
		refused: prometheus.NewCounter(prometheus.CounterOpts(name("questions_refused_total", "Questions refused because others took too long, or given up by their senders while they waited."))),
	}
	m.registry.MustRegister(m.requests, m.seconds, m.flying, m.waiting, m.waited, m.refused,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts(name("questions_running", "Questions being computed.")), func() float64 { return float64(len(s.slots)) }),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts(name("questions_limit", "Questions that may be computed at once.")), func() float64 { return float64(cap(s.slots)) }),
		database{s})
	build := prometheus.NewGaugeVec(prometheus.GaugeOpts(name("build_info", "1, with the version of the program and of Go.")), []string{"version", "goversion"})
	build.WithLabelValues(s.opts.Version, runtime.Version()).Set(1)
	m.registry.MustRegister(build)
	return m
}

// answered counts a request.
func (m *metrics) answered(op *operation, status int, took time.Duration) {
	id := noOperation
	if op != nil {
		id = op.id
	}
	m.requests.WithLabelValues(id, strconv.Itoa(status/100)+"xx").Inc()
	m.seconds.WithLabelValues(id).Observe(took.Seconds())
}

// database collects what only the store knows, when it is asked.
type database struct{ server *Server }

var (
	upDesc        = prometheus.NewDesc("sabinbook_database_up", "1 while the database answers.", nil, nil)
	revisionDesc  = prometheus.NewDesc("sabinbook_catalog_revision", "Revision of the catalog in the database; absent while that does not answer.", nil, nil)
	poolOpenDesc  = prometheus.NewDesc("sabinbook_pool_connections", "Open connections to the database.", []string{"pool"}, nil)
	poolInUseDesc = prometheus.NewDesc("sabinbook_pool_connections_in_use", "Connections that a request uses now.", []string{"pool"}, nil)
	poolMostDesc  = prometheus.NewDesc("sabinbook_pool_connections_limit", "Connections that there may be.", []string{"pool"}, nil)
	poolWaitsDesc = prometheus.NewDesc("sabinbook_pool_waits_total", "How often a request waited for a connection.", []string{"pool"}, nil)
	poolTimeDesc  = prometheus.NewDesc("sabinbook_pool_wait_seconds_total", "How long requests waited for connections.", []string{"pool"}, nil)
)

// Describe tells which figures there are.
func (d database) Describe(to chan<- *prometheus.Desc) {
	for _, desc := range []*prometheus.Desc{upDesc, revisionDesc, poolOpenDesc, poolInUseDesc, poolMostDesc, poolWaitsDesc, poolTimeDesc} {
		to <- desc
	}
}

// Collect asks the store.
func (d database) Collect(to chan<- prometheus.Metric) {
	gauge := func(desc *prometheus.Desc, v float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(desc, prometheus.GaugeValue, v, labels...)
	}
	counter := func(desc *prometheus.Desc, v float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(desc, prometheus.CounterValue, v, labels...)
	}
	ctx, cancel := context.WithTimeout(context.Background(), pingWait)
	defer cancel()
	if revision, err := d.server.store.Revision(ctx); err == nil {
		gauge(upDesc, 1)
		gauge(revisionDesc, float64(revision))
	} else {
		gauge(upDesc, 0)
	}
	if d.server.opts.Pools == nil {
		return
	}
	for _, p := range d.server.opts.Pools() {
		gauge(poolOpenDesc, float64(p.Open), p.Name)
		gauge(poolInUseDesc, float64(p.InUse), p.Name)
		gauge(poolMostDesc, float64(p.Most), p.Name)
		counter(poolWaitsDesc, float64(p.Waits), p.Name)
		counter(poolTimeDesc, p.Waited.Seconds(), p.Name)
	}
}

// Metrics answers GET /metrics in the text format of Prometheus. It is a handler of its own, for an
// address of its own: the figures tell how much a catalog is used and what runs it, are no part of the
// contract, and whoever collects them should need no token of a member.
func (s *Server) Metrics() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, _ *http.Request) {
		families, err := s.metrics.registry.Gather()
		var text bytes.Buffer
		for _, f := range families {
			if err == nil {
				_, err = expfmt.MetricFamilyToText(&text, f)
			}
		}
		if err != nil {
			s.opts.Log.Error("metrics", "cause", err.Error())
			http.Error(w, "the figures cannot be collected", http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", string(expfmt.NewFormat(expfmt.TypeTextPlain)))
		_, _ = w.Write(text.Bytes()) // a collector that has gone away is no error of ours
	})
	return mux
}
