package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/api"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// batch sends lines and returns those of the answer, each checked against the contract.
func (s *service) batch(body string) []string {
	s.t.Helper()
	r := s.must(http.StatusOK, s.do(http.MethodPost, "/v1/absorption-estimates/batch", strings.NewReader(body), "Content-Type", "application/x-ndjson"))
	if got := r.header.Get("Content-Type"); got != "application/x-ndjson" {
		s.t.Errorf("media type %q", got)
	}
	if tag := r.header.Get("ETag"); tag != "" {
		s.t.Errorf("a stream has no tag, this one has %s", tag)
	}
	text, ok := strings.CutSuffix(string(r.body), "\n")
	if !ok {
		s.t.Fatal("the last line has no end")
	}
	lines := strings.Split(text, "\n")
	schema := s.doc.Components.Schemas["AbsorptionLine"].Value
	for _, l := range lines {
		var value any
		if err := json.Unmarshal([]byte(l), &value); err != nil {
			s.t.Fatalf("%v: %s", err, l)
		}
		if err := schema.VisitJSON(value, openapi3.VisitAsResponse(), openapi3.MultiErrors()); err != nil {
			s.t.Errorf("%v: %s", err, l)
		}
	}
	return lines
}

func line(thickness int) string {
	return fmt.Sprintf(`{"layers":[{"kind":"fabric","fabric":"knit-mesh"},{"kind":"fill","fill":"rock-wool-40","thickness_mm":%d}]}`, thickness)
}

func TestBatchAnswersLineByLine(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	body := line(50) + "\n\n" + `{"layers":[{"kind":"door"}]}` + "\r\n" + `not json` + "\n" + line(80)
	lines := s.batch(body)
	if len(lines) != 5 {
		t.Fatalf("%d lines: %v", len(lines), lines)
	}
	for i, c := range []struct{ begin, says string }{
		{`{"estimate":`, `"basis":"measured"`},
		{`{"line_index":2,"problem":`, `"pointer":"/layers/0/kind"`},
		{`{"line_index":3,"problem":`, `"status":400`},
		{`{"estimate":`, `"basis":"adapted"`},
		{`{"estimates_count":2,"lines_count":4,"problems_count":2}`, ``},
	} {
		if !strings.HasPrefix(lines[i], c.begin) || !strings.Contains(lines[i], c.says) {
			t.Errorf("line %d: %.200s, want %s ... %s", i, lines[i], c.begin, c.says)
		}
	}
	for i, thickness := range map[int]int{0: 50, 3: 80} {
		single := s.estimate(line(thickness))
		whole := struct {
			Estimate json.RawMessage `json:"estimate"`
		}{}
		if err := json.Unmarshal([]byte(lines[i]), &whole); err != nil || !bytes.Equal(whole.Estimate, bytes.TrimSpace(single.body)) {
			t.Errorf("line %d is not the answer to the single question: %v", i, err)
		}
	}
	if lines := s.batch(""); len(lines) != 1 || lines[0] != `{"estimates_count":0,"lines_count":0,"problems_count":0}` {
		t.Errorf("nothing asked: %v", lines)
	}
}

// The order is that of the lines, however many are computed at once.
func TestBatchKeepsTheOrder(t *testing.T) {
	s := serve(t, quiet{})
	var body strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&body, `{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":%d,"thickness_mm":%d}]}`+"\n", 1000+i, 10+i%97)
	}
	lines := s.batch(body.String())
	if len(lines) != 1001 {
		t.Fatalf("%d lines", len(lines))
	}
	for i, l := range lines[:1000] {
		var value struct {
			Index    int `json:"line_index"`
			Estimate struct {
				Inputs struct {
					Layers []struct {
						Sigma int `json:"airflow_resistivity_pa_s_per_m2"`
					} `json:"layers"`
				} `json:"inputs"`
			} `json:"estimate"`
		}
		if err := json.Unmarshal([]byte(l), &value); err != nil || value.Index != i || value.Estimate.Inputs.Layers[0].Sigma != 1000+i {
			t.Fatalf("line %d: %v %+v", i, err, value)
		}
	}
}

func TestLimitsOfABatch(t *testing.T) {
	s := serve(t, quiet{})
	send := func(body io.Reader, media string) reply {
		return s.do(http.MethodPost, "/v1/absorption-estimates/batch", body, "Content-Type", media)
	}
	blank := strings.Repeat("\n", 10_000)
	s.must(http.StatusOK, send(strings.NewReader(blank), "application/x-ndjson"))
	r := s.must(http.StatusRequestEntityTooLarge, send(strings.NewReader(blank+"\n"), "application/x-ndjson"))
	if !strings.Contains(string(r.body), "at most 10000 lines") {
		t.Errorf("%s", r.body)
	}
	s.must(http.StatusOK, send(strings.NewReader(strings.Repeat(" ", 8<<20)), "application/x-ndjson"))
	r = s.must(http.StatusRequestEntityTooLarge, send(io.NopCloser(strings.NewReader(strings.Repeat(" ", 8<<20+1))), "application/x-ndjson"))
	if !strings.Contains(string(r.body), "8388608 bytes") {
		t.Errorf("%s", r.body)
	}
	s.must(http.StatusUnsupportedMediaType, send(strings.NewReader("{}"), "application/json"))
	// Line breaks alone are counted before they are lines: 8 MiB of them are read, not spread out
	// into eight million slices of 24 bytes. Reading takes up to five times the body.
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	s.must(http.StatusRequestEntityTooLarge, send(strings.NewReader(strings.Repeat("\n", 8<<20)), "application/x-ndjson"))
	runtime.ReadMemStats(&after)
	if mib := (after.TotalAlloc - before.TotalAlloc) >> 20; mib > 150 {
		t.Errorf("%d MiB for a batch that is refused", mib)
	}
	// A line is no longer than a body: the same white space too much, the same problem.
	long := plainLine + strings.Repeat(" ", 1<<20) + "."
	if lines := s.batch(plainLine + "\n" + long); !strings.Contains(lines[1], `"status":413`) || !strings.Contains(lines[1], "1048576 bytes") {
		t.Errorf("%.300s", lines[1])
	}
}

const plainLine = `{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`

// A batch that names no records does not ask the store; one that does is refused before anything
// is sent. The names of members may be spelt with escapes.
func TestBatchAsksTheStoreForRecordsOnly(t *testing.T) {
	s := serve(t, failing{err: fmt.Errorf("store: dial: %w", catalog.ErrUnavailable)})
	if lines := s.batch(plainLine + "\nnot json"); len(lines) != 3 || !strings.Contains(lines[0], `"basis":"predicted"`) {
		t.Errorf("%.300s", lines)
	}
	for _, l := range []string{
		`{"layers":[{"kind":"fill","fill":"rock-wool-40","thickness_mm":50}]}`,
		`{"layers":[{"kind":"fill","thickness_mm":50,"fill"` + " \t" + `: "rock-wool-40"}]}`,
		`{"layers":[{"kind":"fabric","fabric":"knit-mesh"}]}`,
		`{"layers":[{"kind":"fill","fi\u006cl":"rock-wool-40","thickness_mm":50}]}`,
	} {
		s.must(http.StatusServiceUnavailable, s.do(http.MethodPost, "/v1/absorption-estimates/batch", strings.NewReader(plainLine+"\n"+l), "Content-Type", "application/x-ndjson"))
	}
}

// odd is a store with a test that holds no number, which nothing can answer from.
type odd struct{ api.Store }

func (odd) Revision(context.Context) (int64, error) { return 0, nil }
func (odd) Snapshot(context.Context) (catalog.Snapshot, error) {
	fill := catalog.Fill{Meta: catalog.Meta{ID: "fill_odd", Slug: "odd"}}
	curve := bands.OctaveCurve([bands.OctaveCount]float64{0.1, 0.2, math.NaN(), 0.4, 0.5, 0.6})
	return catalog.Snapshot{Fills: []catalog.Fill{fill}, Tests: []catalog.AbsorptionTest{{FillID: fill.ID, Mounting: "A", Thickness: 50, Alpha: curve}}}, nil
}

// A fault of the program in one line is the problem of that line, with its cause in the log; the
// other lines have their answers and the process goes on, whoever worked at the line.
func TestBatchOutlivesAFaultOfTheProgram(t *testing.T) {
	s, log, end := logged(t, odd{})
	oddLine := `{"layers":[{"kind":"fill","fill":"odd","thickness_mm":50}]}`
	lines := s.batch(strings.Repeat(plainLine+"\n"+oddLine+"\n", 100))
	if len(lines) != 201 || lines[200] != `{"estimates_count":100,"lines_count":200,"problems_count":100}` {
		t.Fatalf("%d lines, the last %s", len(lines), lines[len(lines)-1])
	}
	for i, l := range lines[:200] {
		want := `{"estimate":`
		if i%2 == 1 {
			want = fmt.Sprintf(`{"line_index":%d,"problem":{"detail":"Something happened that must not happen."`, i)
		}
		if !strings.HasPrefix(l, want) {
			t.Fatalf("line %d: %.300s, want %s", i, l, want)
		}
	}
	end()
	if n := strings.Count(log.String(), `"msg":"panic"`); n != 100 {
		t.Errorf("%d causes in the log", n)
	}
}

// dear lines have a front of their own each, so that nothing is shared between them: a fifth of
// a second and more of one core.
func dear(n int) string {
	var body strings.Builder
	for i := range n {
		fmt.Fprintf(&body, `{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50},{"kind":"air_gap","depth_mm":2000}],"patch":{"length_mm":6000,"width_mm":%d}}`+"\n", 5000+i)
	}
	return body.String()
}

// The time for writing begins when there is something to write: a batch whose first lines take
// longer than the server grants for a whole answer is not cut off.
func TestBatchThatTakesLongerThanAnAnswerMay(t *testing.T) {
	h, err := api.New(withKeeper(t, quiet{}), api.Options{Log: slog.New(slog.DiscardHandler), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	server := api.HTTPServer(h)
	server.WriteTimeout = 50 * time.Millisecond
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	s := serve(t, quiet{})
	s.url = "http://" + listener.Addr().String()
	begin := time.Now()
	lines := s.batch(dear(12))
	if took := time.Since(begin); took < server.WriteTimeout {
		t.Fatalf("%v shows nothing", took)
	}
	if len(lines) != 13 || lines[12] != `{"estimates_count":12,"lines_count":12,"problems_count":0}` {
		t.Errorf("%d lines, the last %.300s", len(lines), lines[len(lines)-1])
	}
	if err := server.Close(); err != nil {
		t.Error(err)
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		t.Error(err)
	}
}

// A batch of costly lines sends what it has and gives the slots beyond its own back about once a
// second: the first answers come, and a question that waits for a slot has one, within the 10 s
// that a question waits. All 500 lines take 50 s and more of two cores.
func TestQuestionBesideACostlyBatch(t *testing.T) {
	if runtime.GOMAXPROCS(0) < 2 {
		t.Skip("there is one slot, and the batch holds it")
	}
	s := serve(t, quiet{})
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url+"/v1/absorption-estimates/batch", strings.NewReader(dear(500)))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-ndjson")
	begin := time.Now()
	resp, err := keepers.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if _, err := io.ReadFull(resp.Body, make([]byte, 1000)); err != nil {
		t.Fatal(err)
	}
	if took := time.Since(begin); took > 10*time.Second {
		t.Errorf("the first answers came after %v", took)
	}
	s.estimate(plainLine)
}

// A client that goes away in the middle leaves nothing behind: its slots are free again.
func TestBatchOfAClientThatGoesAway(t *testing.T) {
	s := serve(t, quiet{})
	body := strings.Repeat(`{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50},{"kind":"air_gap","depth_mm":400}]}`+"\n", 10_000)
	for range 4 {
		ctx, leave := context.WithCancel(t.Context())
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url+"/v1/absorption-estimates/batch", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-ndjson")
		resp, err := keepers.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(resp.Body, make([]byte, 1000)); err != nil {
			t.Fatal(err)
		}
		leave()
		_ = resp.Body.Close()
	}
	begin := time.Now()
	s.estimate(`{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`)
	if waited := time.Since(begin); waited > 9*time.Second {
		t.Errorf("the next question waited %v", waited)
	}
}

// Clients that ask for much and read nothing keep nobody from an answer.
func TestBatchOfAClientThatDoesNotRead(t *testing.T) {
	s := serve(t, quiet{})
	body := strings.Repeat(plainLine+"\n", 10_000)
	for range runtime.GOMAXPROCS(0) + 1 {
		resp, err := keepers.Post(s.url+"/v1/absorption-estimates/batch", "application/x-ndjson", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close() // unread: the server's writes fill the connection and wait
	}
	s.estimate(plainLine)
}

// BenchmarkBatch answers 10 000 lines over HTTP: 5 resistivities, 20 thicknesses, 10 gaps, 10
// fabrics.
func BenchmarkBatch(b *testing.B) {
	s := serve(b, quiet{})
	var body strings.Builder
	for i := range 10_000 {
		fmt.Fprintf(&body, `{"layers":[{"kind":"fabric","flow_resistance_pa_s_per_m":%d,"surface_mass_kg_per_m2":0.2},{"kind":"fill","airflow_resistivity_pa_s_per_m2":%d,"thickness_mm":%d},{"kind":"air_gap","depth_mm":%d}]}`+"\n",
			50*(1+i%10), 2000*(1+i/2000), 20+5*(i/100%20), 10*(i/10%10))
	}
	b.ReportAllocs()
	for b.Loop() {
		resp, err := keepers.Post(s.url+"/v1/absorption-estimates/batch", "application/x-ndjson", strings.NewReader(body.String()))
		if err != nil {
			b.Fatal(err)
		}
		n, err := io.Copy(io.Discard, resp.Body)
		if err != nil || n < 10_000_000 {
			b.Fatal(n, err)
		}
		_ = resp.Body.Close()
	}
	b.ReportMetric(float64(b.N)*10_000/b.Elapsed().Seconds(), "lines/s")
}
