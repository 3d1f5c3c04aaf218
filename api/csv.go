package api

import (
	"bytes"
	"cmp"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sabinbook/internal/exchange"
)

// sheet is how a table is written for a spreadsheet.
type sheet struct {
	delimiter rune
	comma     bool // between whole and fraction
	mark      bool // byte order mark
}

// sheetOf reads the parameters of CSV; of another format they say nothing and are refused.
func sheetOf(query url.Values, chosen format) (sheet, []fault) {
	var faults []fault
	word := func(name string, words ...string) string {
		given := query.Get(name)
		if !query.Has(name) || slices.Contains(words, given) {
			return cmp.Or(given, words[0])
		}
		faults = append(faults, fault{parameter: name, code: "unknown_word", detail: "must be " + strings.Join(words, " or ") + ", got " + quoted(given), fix: "use one of them, or leave it out"})
		return ""
	}
	s := sheet{delimiter: ',', mark: query.Get("bom") == "true"} // the contract lets true and false pass
	if word("delimiter", "comma", "semicolon") == "semicolon" {
		s.delimiter = ';'
	}
	s.comma = word("decimal", "point", "comma") == "comma"
	if s.comma && s.delimiter == ',' && len(faults) == 0 {
		faults = append(faults, fault{parameter: "decimal", code: "conflict", detail: "is comma, and commas are between the cells", fix: "add delimiter=semicolon"})
	}
	for _, name := range formParameters[1:] {
		if query.Has(name) && chosen != formatCSV {
			faults = append(faults, fault{parameter: name, code: "not_applicable", detail: "belongs to csv, and the answer is " + string(chosen), fix: "add format=csv, or leave it out"})
		}
	}
	return s, faults
}

// cell is a text, a number or nothing known.
type cell struct {
	text   string
	number bool
}

func textCell(s string) cell { return cell{text: s} }

func textCellIf(s *string) cell { return cell{text: orZero(s)} }

// numberCell writes a number so that reading it gives the very same one.
func numberCell(x float64) cell {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return cell{}
	}
	return cell{strconv.FormatFloat(x, 'f', -1, 64), true}
}

func numberCellIf(x *float64) cell {
	if x == nil {
		return cell{}
	}
	return numberCell(*x)
}

func wholeCell(n int64) cell { return cell{strconv.FormatInt(n, 10), true} }

func moneyCell(m *Money) cell {
	if m == nil {
		return cell{}
	}
	return cell{m.Amount, true}
}

// table is a header and rows of as many cells. Its lines end in CR LF (RFC 4180).
type table struct {
	header []string
	rows   [][]cell
}

func (t table) write(s sheet) []byte {
	var out bytes.Buffer
	if s.mark {
		out.WriteString("\ufeff")
	}
	line := make([]string, len(t.header))
	exchange.AppendLine(&out, s.delimiter, t.header)
	for _, row := range t.rows {
		for i, c := range row {
			switch {
			case !c.number:
				line[i] = exchange.Guarded(c.text)
			case s.comma:
				line[i] = strings.Replace(c.text, ".", ",", 1)
			default:
				line[i] = c.text
			}
		}
		exchange.AppendLine(&out, s.delimiter, line)
	}
	return out.Bytes()
}

// csvMedia is the media type of a table (RFC 4180, RFC 7111).
const csvMedia = "text/csv; charset=utf-8; header=present"

// csvAnswer is a table as an answer.
type csvAnswer []byte

func (a csvAnswer) visit(w http.ResponseWriter) error {
	w.Header().Set("Content-Type", csvMedia)
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(a)
	return err
}
