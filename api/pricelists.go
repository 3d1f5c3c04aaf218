package api

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"sabinbook/internal/catalog"
	"sabinbook/internal/exchange"
)

// maxPrices is the number of lines of a table of prices. Convention: a shop's whole list.
const maxPrices = 5000

// priceColumns are the columns of a table of prices, by the pointer of the member that each holds.
var priceColumns = map[string]string{
	"offer": "/offer_id", "amount": "/amount", "currency": "/price/currency", "tax_included": "/tax_included", "tax_rate_percent": "/tax_rate_percent", "observed_date": "/observed_date",
	"evidence": "/evidence", "source": "/source_id", "corrects_id": "/corrects_id", "note": "/note",
}

// priceLine is one line of a table of prices.
type priceLine struct {
	row   int
	offer catalog.Offer
	price catalog.Price
	// known says that the price is stored already, or stands in an earlier line.
	known bool
}

// AddPriceList answers POST /v1/price-lists.
func (s *Server) AddPriceList(ctx context.Context, in AddPriceListRequestObject) (AddPriceListResponseObject, error) {
	text, err := io.ReadAll(in.Body)
	if err != nil {
		return nil, fmt.Errorf("api: price list: %w", err)
	}
	stock, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	lines, faults := s.readPrices(stock, string(text))
	if len(faults) > 0 {
		return nil, &requestError{kind: problemInvalid, faults: faults}
	}
	var fresh []catalog.Price
	var rows []int
	for _, l := range lines {
		if !l.known {
			fresh, rows = append(fresh, l.price), append(rows, l.row)
		}
	}
	var added []catalog.Price
	if len(fresh) > 0 {
		if added, err = s.store.AddPrices(ctx, memberOf(ctx), fresh); err != nil {
			return nil, inRows(err, rows)
		}
	}
	out := PriceListResult{CreatedCount: int64(len(fresh)), UnchangedCount: int64(len(lines) - len(fresh)), Rows: []PriceListRow{}}
	for _, l := range lines {
		row := PriceListRow{Row: int64(l.row), Action: "unchanged", Offer: string(l.offer.Slug), Price: encodeMoney(l.price.Amount), TaxIncluded: l.price.TaxIncluded,
			TaxRatePercent: float64(l.price.TaxRateBP) / 100, ObservedDate: string(l.price.Observed)}
		if !l.known {
			row.Action = "created"
			if callOf(ctx).query.Get("dry_run") != "true" { // the id of what was only tried is nobody's
				row.PriceID = place(string(added[0].ID))
			}
			added = added[1:]
		}
		out.Rows = append(out.Rows, row)
	}
	return AddPriceList200JSONResponse{PriceListAnswerJSONResponse{Body: out}}, nil
}

// inRows turns the faults of prices, whose pointers tell their places, into faults of lines.
func inRows(err error, rows []int) error {
	var invalid *catalog.InvalidError
	if !errors.As(err, &invalid) {
		return err
	}
	var faults []fault
	for _, f := range invalid.Faults {
		parts := strings.SplitN(strings.TrimPrefix(f.Pointer, "/prices/"), "/", 2)
		i, wrong := strconv.Atoi(parts[0])
		if wrong != nil || i >= len(rows) || len(parts) < 2 {
			return err
		}
		faults = append(faults, inColumn(fault{pointer: "/" + parts[1], code: f.Code, detail: f.Detail, fix: f.Fix}, rows[i]))
	}
	return &requestError{kind: problemInvalid, faults: faults}
}

// inColumn is a fault of a price as one of the cell that holds the member.
func inColumn(f fault, row int) fault {
	at := f.pointer
	if at == "/price/amount" || at == "/price" {
		at = "/amount"
	}
	f.pointer, f.row, f.column = "", row, "amount"
	for column, pointer := range priceColumns {
		if at == pointer {
			f.column = column
		}
	}
	return f
}

// readPrices reads a table of prices. What a line leaves out is taken from what is known of the offer.
func (s *Server) readPrices(stock catalog.Snapshot, text string) ([]priceLine, []fault) {
	text = strings.TrimPrefix(text, "\ufeff")
	if !utf8.ValidString(text) {
		return nil, []fault{{row: 1, code: "bad_encoding", detail: "the table is not UTF-8", fix: "save it as CSV in UTF-8"}}
	}
	head, _, _ := strings.Cut(text, "\n")
	r := csv.NewReader(strings.NewReader(text))
	semicolons := strings.Count(head, ";") > strings.Count(head, ",")
	if semicolons {
		r.Comma = ';'
	}
	header, err := r.Read()
	if err != nil {
		return nil, []fault{unreadable(err)}
	}
	var faults []fault
	for i, name := range header {
		switch {
		case priceColumns[name] == "":
			known := make([]string, 0, len(priceColumns))
			for c := range priceColumns {
				known = append(known, c)
			}
			slices.Sort(known)
			faults = append(faults, fault{row: 1, column: name, code: "unknown_column", detail: "no such column", fix: didYouMean(name, known)})
		case slices.Index(header, name) != i:
			faults = append(faults, fault{row: 1, column: name, code: "duplicate", detail: "stands twice in the header", fix: "keep one"})
		}
	}
	for _, name := range []string{"offer", "amount"} {
		if !slices.Contains(header, name) {
			faults = append(faults, fault{row: 1, column: name, code: "required", detail: "is missing in the header", fix: "add the column; the first line names the columns"})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	var lines []priceLine
	seen := map[string]bool{}
	for _, p := range stock.Prices {
		seen[sameness(p)] = true
	}
	for {
		record, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, append(faults, unreadable(err))
		}
		row, _ := r.FieldPos(0)
		if len(lines) == maxPrices {
			return nil, append(faults, fault{row: row, code: "too_many", detail: fmt.Sprintf("may have at most %d lines behind the header", maxPrices), fix: "split it"})
		}
		cells := map[string]string{}
		for i, name := range header {
			cells[name] = exchange.Unguarded(strings.TrimSpace(record[i]))
		}
		if semicolons {
			for _, name := range []string{"amount", "tax_rate_percent"} {
				if !strings.Contains(cells[name], ".") {
					cells[name] = strings.Replace(cells[name], ",", ".", 1)
				}
			}
		}
		l, wrong := s.priceOf(stock, cells)
		for _, f := range wrong {
			faults = append(faults, inColumn(f, row))
		}
		l.row, l.known = row, seen[sameness(l.price)]
		seen[sameness(l.price)] = true
		lines = append(lines, l)
	}
	return lines, faults
}

func unreadable(err error) fault {
	f := fault{row: 1, code: "unreadable", detail: "the table cannot be read", fix: "send CSV with a header line and as many cells in every line"}
	if wrong := new(csv.ParseError); errors.As(err, &wrong) {
		f.row, f.detail = wrong.Line, "the line cannot be read: "+wrong.Err.Error()
	}
	return f
}

// sameness is equal for prices that say the same of the same offer on the same day.
func sameness(p catalog.Price) string {
	return fmt.Sprint(p.OfferID, p.Observed, p.Amount.Micro(), p.Amount.Currency(), p.TaxIncluded, p.TaxRateBP, p.Corrects)
}

// priceOf reads the cells of one line; the faults have the pointers of a price.
func (s *Server) priceOf(stock catalog.Snapshot, cells map[string]string) (priceLine, []fault) {
	offer, ok := named(stock.Offers, cells["offer"], func(o catalog.Offer) catalog.Meta { return o.Meta })
	if !ok {
		return priceLine{}, []fault{{pointer: "/offer_id", code: "unknown_reference", detail: "there is no offer " + quoted(cells["offer"]), fix: "use the id or the slug of a stored one; GET /v1/offers lists them"}}
	}
	v := &catalog.Faults{}
	terms := stock.TermsOf(offer, s.today())
	w := Price{Amount: known(cells["amount"]), ObservedDate: known(cells["observed_date"]), Evidence: known(cells["evidence"]), SourceID: known(cells["source"]), CorrectsID: known(cells["corrects_id"]), Note: known(cells["note"])}
	if c := cells["currency"]; c != "" && w.Amount != nil {
		w.Price, w.Amount = &Money{Amount: *w.Amount, Currency: c}, nil
	}
	if t := cells["tax_included"]; t != "" {
		yes, err := strconv.ParseBool(strings.ToLower(t))
		if err != nil {
			v.Add("/tax_included", "bad_form", "is neither true nor false: "+quoted(t), "write true or false")
		}
		w.TaxIncluded = &yes
	}
	if t := cells["tax_rate_percent"]; t != "" {
		rate, err := strconv.ParseFloat(t, 64)
		if err != nil {
			v.Add("/tax_rate_percent", "bad_form", "is no number: "+quoted(t), "write per cent, e.g. 21")
		}
		w.TaxRatePercent = &rate
	}
	w = completed(v, w, terms, s.today())
	p, err := s.prices().record(w, offer.ID)
	return priceLine{offer: offer, price: p}, faultsIn(joined(v.Err(), err))
}
