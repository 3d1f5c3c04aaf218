package api

import (
	"bytes"
	"encoding/csv"
	"math"
	"net/http"
	"strconv"
	"strings"
)

// sheet is how a table is written for a spreadsheet.
type sheet struct {
	delimiter rune
	comma     bool // between whole and fraction
	mark      bool // byte order mark
}

// sheetOf reads the parameters of CSV; of JSON they say nothing.
func sheetOf(delimiter, decimal *string, bom *bool, format string) (sheet, []fault) {
	s := sheet{delimiter: ',', mark: bom != nil && *bom}
	var faults []fault
	word := func(name string, given *string, words ...string) string {
		if given == nil {
			return words[0]
		}
		for _, w := range words {
			if *given == w {
				return w
			}
		}
		faults = append(faults, fault{parameter: name, code: "unknown_word", detail: "must be " + strings.Join(words, " or ") + ", got " + quoted(*given), fix: "use one of them, or leave it out"})
		return words[0]
	}
	if word("delimiter", delimiter, "comma", "semicolon") == "semicolon" {
		s.delimiter = ';'
	}
	s.comma = word("decimal", decimal, "point", "comma") == "comma"
	if s.comma && s.delimiter == ',' && len(faults) == 0 {
		faults = append(faults, fault{parameter: "decimal", code: "conflict", detail: "is comma, and commas are between the cells", fix: "add delimiter=semicolon"})
	}
	if format != "csv" && (delimiter != nil || decimal != nil || bom != nil) {
		faults = append(faults, fault{parameter: "format", code: "conflict", detail: "is json, and delimiter, decimal and bom belong to csv", fix: "add format=csv, or leave them out"})
	}
	return s, faults
}

// formatOf reads the parameter format.
func formatOf(given *string) (string, []fault) {
	switch format := or(given, text[string], "json"); format {
	case "json", "csv":
		return format, nil
	default:
		return "", []fault{{parameter: "format", code: "unknown_word", detail: "must be json or csv, got " + quoted(format), fix: "use one of them, or leave it out"}}
	}
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

// guarded puts an apostrophe before a text that a spreadsheet would take for a formula, and one more
// before an apostrophe, so that taking one away gives the text back.
func guarded(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\x00'", rune(s[0])) {
		return "'" + s
	}
	return s
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
	w := csv.NewWriter(&out)
	w.Comma, w.UseCRLF = s.delimiter, true
	line := make([]string, len(t.header))
	_ = w.Write(t.header) // a bytes.Buffer takes everything
	for _, row := range t.rows {
		for i, c := range row {
			switch {
			case !c.number:
				line[i] = guarded(c.text)
			case s.comma:
				line[i] = strings.Replace(c.text, ".", ",", 1)
			default:
				line[i] = c.text
			}
		}
		_ = w.Write(line)
	}
	w.Flush()
	return out.Bytes()
}

// csvAnswer is a table as an answer.
type csvAnswer []byte

func (a csvAnswer) visit(w http.ResponseWriter) error {
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(a)
	return err
}
