package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"sabinbook/internal/absorption"
	"sabinbook/internal/catalog"
)

// Limits of a batch. The number of lines is the contract's; the others are conventions.
const (
	maxBatchLines = 10_000
	// batchChunk lines at most, and no more than begin within chunkWork, are answered before any
	// of them is sent: their answers are all that is in memory at once.
	batchChunk = 256
	// chunkWork is how long lines are answered before they are sent and the slots beyond the
	// first are given back. A line takes from a tenth of a millisecond to a quarter of a second.
	chunkWork = time.Second
	// chunkTime is how long a client may take to read one chunk.
	chunkTime = 30 * time.Second
)

// EstimateAbsorptions answers POST /v1/absorption-estimates/batch.
func (s *Server) EstimateAbsorptions(ctx context.Context, in EstimateAbsorptionsRequestObject) (EstimateAbsorptionsResponseObject, error) {
	text, err := io.ReadAll(in.Body)
	if err != nil {
		return nil, fmt.Errorf("api: batch: %w", err)
	}
	text = bytes.TrimSuffix(text, []byte("\n")) // it ends the last line
	if n := bytes.Count(text, []byte("\n")) + 1; n > maxBatchLines {
		return nil, &requestError{kind: problemTooLarge, faults: []fault{{code: "too_many_lines",
			detail: fmt.Sprintf("may have at most %d lines, has %d", maxBatchLines, n), fix: "split it"}}}
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	var stock catalog.Snapshot // one for all lines
	if mayNameRecords(text) {
		if stock, err = s.snapshot(ctx); err != nil {
			done()
			return nil, err
		}
	}
	return &batch{server: s, ctx: ctx, lines: bytes.Split(text, []byte("\n")), stock: stock, done: done}, nil
}

// mayNameRecords reports whether a line may name a stored record, without reading the lines as
// JSON: whether a member has the name of one, or may have, spelt with escapes.
func mayNameRecords(text []byte) bool {
	for _, name := range []string{`"fill"`, `"fabric"`} {
		_, rest, found := bytes.Cut(text, []byte(name))
		for ; found; _, rest, found = bytes.Cut(rest, []byte(name)) {
			if bytes.HasPrefix(bytes.TrimLeft(rest, " \t\r"), []byte(":")) {
				return true
			}
		}
	}
	return bytes.IndexByte(text, '\\') >= 0
}

// batch answers many questions, one a line.
type batch struct {
	server *Server
	ctx    context.Context
	lines  [][]byte
	stock  catalog.Snapshot
	done   func() // gives the slot back; nil while the batch has none
}

// pause gives the slot back while a client reads, however slowly it does.
func (b *batch) pause() {
	if b.done != nil {
		b.done()
		b.done = nil
	}
}

// resume waits for a slot as long as the client is there, and is false when it has gone.
func (b *batch) resume() bool {
	done, there := b.server.nextSlot(b.ctx)
	b.done = done
	return there
}

// VisitEstimateAbsorptionsResponse answers the lines chunk by chunk.
func (b *batch) VisitEstimateAbsorptionsResponse(w http.ResponseWriter) error {
	defer b.pause()
	out := streaming(b.ctx, w, "application/x-ndjson")
	answerers := []*absorption.Answerer{absorption.NewAnswerer(b.stock)}
	var counts struct{ lines, estimates, problems int64 }
	for from := 0; from < len(b.lines); {
		if b.done == nil && !b.resume() {
			return nil
		}
		chunk := b.lines[from:min(from+batchChunk, len(b.lines))]
		answers := make([][]byte, len(chunk))
		fine := make([]bool, len(chunk))
		done := b.parallel(&answerers, len(chunk), func(a *absorption.Answerer, i int) {
			if line := bytes.TrimSpace(chunk[i]); len(line) > 0 {
				answers[i], fine[i] = b.answer(a, from+i, line)
			}
		})
		from += done
		b.pause()
		out.extend()
		for i, text := range answers[:done] {
			if text == nil {
				continue
			}
			counts.lines++
			if fine[i] {
				counts.estimates++
			} else {
				counts.problems++
			}
			if err := out.write(text); err != nil {
				return nil // the client has gone away: nobody is left to be told
			}
		}
		if out.flush() != nil {
			return nil
		}
	}
	if b.ctx.Err() == nil {
		out.extend()
		_ = out.write(jsonLine(AbsorptionLine{LinesCount: &counts.lines, EstimatesCount: &counts.estimates, ProblemsCount: &counts.problems}))
		_ = out.flush()
	}
	return nil
}

// parallel calls do for 0, 1 and so on, at most to n-1 and as far as it comes in chunkWork, and
// returns for how many. It does so on this goroutine and on as many more as there are slots
// that nobody uses now. Each has an answerer of its own.
func (b *batch) parallel(answerers *[]*absorption.Answerer, n int, do func(a *absorption.Answerer, i int)) int {
	var wait sync.WaitGroup
	var next atomic.Int64
	begin := time.Now()
	work := func(a *absorption.Answerer) {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			do(a, i)
			if time.Since(begin) > chunkWork || b.ctx.Err() != nil {
				return
			}
		}
	}
	for more := 1; more < cap(b.server.slots); more++ {
		release, free := b.server.freeSlot()
		if !free {
			break
		}
		if more == len(*answerers) {
			*answerers = append(*answerers, absorption.NewAnswerer(b.stock))
		}
		wait.Go(func() {
			defer release()
			work((*answerers)[more])
		})
	}
	work((*answerers)[0])
	wait.Wait()
	return min(int(next.Load()), n)
}

// answer answers one line, and reports whether it could. A panic becomes the problem of the line:
// on a goroutine of its own it would end the process.
func (b *batch) answer(a *absorption.Answerer, index int, text []byte) (line []byte, fine bool) {
	defer func() {
		if p := recover(); p != nil {
			b.server.opts.Log.ErrorContext(b.ctx, "panic", "request_id", callOf(b.ctx).id, "line", index, "cause", fmt.Sprint(p), "stack", string(debug.Stack()))
			*a = *absorption.NewAnswerer(b.stock) // what it remembers may be half done
			line, fine = b.problem(index, problemInternal, problemDetail{}), false
		}
	}()
	w, question, err := b.server.absorptionLine(text)
	var answered absorption.Answer
	if err == nil {
		answered, err = a.Answer(question)
	}
	if err != nil {
		kind, detail := problemOf(err)
		if kind == problemInternal {
			b.server.opts.Log.ErrorContext(b.ctx, kind.code, "request_id", callOf(b.ctx).id, "line", index, "cause", err.Error())
		}
		return b.problem(index, kind, detail), false
	}
	return jsonLine(AbsorptionLine{LineIndex: place(int64(index)), Estimate: place(encodeEstimate(w, answered))}), true
}

// problem is the line of a question that has no answer.
func (b *batch) problem(index int, kind *problemKind, detail problemDetail) []byte {
	return jsonLine(AbsorptionLine{LineIndex: place(int64(index)), Problem: place(problemBodyOf(fmt.Sprintf("%s.%d", callOf(b.ctx).id, index), kind, detail))})
}

// absorptionLine reads one question by the same rules as a body.
func (s *Server) absorptionLine(text []byte) (AbsorptionQuestion, absorption.Question, error) {
	var w AbsorptionQuestion
	if len(text) > maxBody {
		return w, absorption.Question{}, &requestError{kind: problemTooLarge, faults: []fault{tooLong(maxBody)}}
	}
	faults, unreadable := inspect(text)
	if unreadable != nil {
		return w, absorption.Question{}, &requestError{kind: problemBody, faults: []fault{*unreadable}}
	}
	var value any
	if err := decodeNumbers(text, &value); err != nil {
		return w, absorption.Question{}, &requestError{kind: problemBody, faults: []fault{{code: "not_json", detail: "is not JSON", fix: "send one object a line"}}}
	}
	if faults = append(s.contract.bind("AbsorptionQuestion", value, &w), faults...); len(faults) > 0 {
		return w, absorption.Question{}, &requestError{kind: problemInvalid, faults: withRules(faults, pruned(s.checkAbsorption, value, faults))}
	}
	question, err := decodeAbsorption(w)
	return w, question, err
}

// jsonLine writes a value as one line.
func jsonLine(value any) []byte {
	text, err := json.Marshal(value)
	if err != nil { // it holds texts and finite numbers only
		panic(err)
	}
	return append(text, '\n')
}

// stream is an answer that goes out as it comes.
type stream struct {
	to      *answer
	control *http.ResponseController
}

// streaming begins an answer that goes out as it comes, of a media type.
func streaming(ctx context.Context, w http.ResponseWriter, media string) stream {
	w.Header().Set("Content-Type", media)
	real := callOf(ctx).real
	to := callOf(ctx).answer
	to.stream(real)
	return stream{to, http.NewResponseController(real)}
}

func (s stream) write(text []byte) error {
	_, err := s.to.Write(text)
	return err
}

// extend grants the client the time for what is written next. A connection that knows no
// deadlines needs none. It goes before the writing: the time that the work took is not the
// client's.
func (s stream) extend() { _ = s.control.SetWriteDeadline(time.Now().Add(chunkTime)) }

// flush sends what was written.
func (s stream) flush() error {
	if err := s.control.Flush(); !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	return nil
}
