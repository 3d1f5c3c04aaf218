package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"

	"sabinbook/internal/absorption"
	"sabinbook/internal/catalog"
)

// Limits of a batch. The number of lines is the contract's; the others are conventions.
const (
	maxBatchLines = 10_000
	// batchChunk lines are answered before any of them is sent: they are all of a batch that is
	// in memory at once.
	batchChunk = 256
	// chunkTime is how long a client may take to read one chunk.
	chunkTime = 30 * time.Second
)

// EstimateAbsorptions answers POST /v1/absorption-estimates/batch.
func (s *Server) EstimateAbsorptions(ctx context.Context, in EstimateAbsorptionsRequestObject) (EstimateAbsorptionsResponseObject, error) {
	text, err := io.ReadAll(in.Body)
	if err != nil {
		return nil, fmt.Errorf("api: batch: %w", err)
	}
	lines := bytes.Split(text, []byte("\n"))
	if n := len(lines); n > 0 && len(lines[n-1]) == 0 { // after the last line break
		lines = lines[:n-1]
	}
	if len(lines) > maxBatchLines {
		return nil, &requestError{kind: problemTooLarge, faults: []fault{{code: "too_many_lines",
			detail: fmt.Sprintf("may have at most %d lines, has %d", maxBatchLines, len(lines)), fix: "split it"}}}
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	stock, err := s.store.Snapshot(ctx) // one for all lines, whether or not they name records
	if err != nil {
		done()
		return nil, err
	}
	return &batch{server: s, ctx: ctx, lines: lines, stock: stock, done: done}, nil
}

// batch answers many questions, one a line.
type batch struct {
	server *Server
	ctx    context.Context
	lines  [][]byte
	stock  catalog.Snapshot
	done   func() // gives the slot back
}

// VisitEstimateAbsorptionsResponse answers the lines chunk by chunk.
func (b *batch) VisitEstimateAbsorptionsResponse(w http.ResponseWriter) error {
	defer b.done()
	out := streaming(b.ctx, w, "application/x-ndjson")
	answerers := []*absorption.Answerer{absorption.NewAnswerer(b.stock)}
	var counts struct{ lines, estimates, problems int64 }
	for from := 0; from < len(b.lines) && b.ctx.Err() == nil; from += batchChunk {
		chunk := b.lines[from:min(from+batchChunk, len(b.lines))]
		answers := make([][]byte, len(chunk))
		fine := make([]bool, len(chunk))
		b.parallel(&answerers, len(chunk), func(a *absorption.Answerer, i int) {
			if line := bytes.TrimSpace(chunk[i]); len(line) > 0 {
				answers[i], fine[i] = b.answer(a, from+i, line)
			}
		})
		for i, text := range answers {
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
		_ = out.write(jsonLine(AbsorptionLine{LinesCount: &counts.lines, EstimatesCount: &counts.estimates, ProblemsCount: &counts.problems}))
		_ = out.flush()
	}
	return nil
}

// parallel calls do for 0 to n-1, on this goroutine and on as many more as there are slots
// that nobody uses now. Each has an answerer of its own.
func (b *batch) parallel(answerers *[]*absorption.Answerer, n int, do func(a *absorption.Answerer, i int)) {
	var wait sync.WaitGroup
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	work := func(a *absorption.Answerer) {
		for i := range next {
			if b.ctx.Err() != nil {
				return
			}
			do(a, i)
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
}

// answer answers one line, and reports whether it could.
func (b *batch) answer(a *absorption.Answerer, index int, text []byte) (line []byte, fine bool) {
	out := AbsorptionLine{LineIndex: place(int64(index))}
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
		out.Problem = place(problemBodyOf(fmt.Sprintf("%s.%d", callOf(b.ctx).id, index), kind, detail))
		return jsonLine(out), false
	}
	out.Estimate = place(encodeEstimate(w, answered))
	return jsonLine(out), true
}

// absorptionLine reads one question by the same rules as a body.
func (s *Server) absorptionLine(text []byte) (AbsorptionQuestion, absorption.Question, error) {
	var w AbsorptionQuestion
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

// flush sends what was written, and grants the client the time for the next chunk. A
// connection that knows no deadlines needs none.
func (s stream) flush() error {
	_ = s.control.SetWriteDeadline(time.Now().Add(chunkTime))
	if err := s.control.Flush(); !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	return nil
}
