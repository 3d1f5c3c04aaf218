package exchange

import (
	"bytes"
	"strings"
	"unicode/utf8"
)

// AppendLine writes one line of a table (RFC 4180), with another delimiter than the comma where a
// spreadsheet wants one. A cell is quoted where it must be and
// otherwise stands as it is: line breaks inside of a text are kept, which the writer of
// the standard library would change.
func AppendLine(out *bytes.Buffer, delimiter rune, cells []string) {
	for i, c := range cells {
		if i > 0 {
			out.WriteRune(delimiter)
		}
		// A line of one empty cell would be an empty line, which many readers skip.
		if strings.ContainsAny(c, "\"\r\n") || strings.ContainsRune(c, delimiter) || c == "" && len(cells) == 1 {
			out.WriteString(`"` + strings.ReplaceAll(c, `"`, `""`) + `"`)
		} else {
			out.WriteString(c)
		}
	}
	out.WriteString("\r\n")
}

// line is one record of a table as read; number counts lines of the file from 1, so that
// an editor finds it.
type line struct {
	number int
	cells  []string
}

// splitLines reads the lines of a table. Lines may end in CR LF or LF; empty ones
// are passed over. It stops at the first thing that is not CSV and tells what.
func splitLines(text string) (lines []line, bad *Fault) {
	text = strings.TrimPrefix(text, "\ufeff")
	if !utf8.ValidString(text) {
		return nil, &Fault{Code: "bad_encoding", Detail: "is not UTF-8", Fix: "save it as CSV in UTF-8"}
	}
	number := 1
	for len(text) > 0 {
		l := line{number: number}
		for {
			cell, rest, fault := splitCell(text)
			if fault != nil {
				fault.Row = number
				return lines, fault
			}
			number += strings.Count(text[:len(text)-len(rest)], "\n")
			l.cells = append(l.cells, cell)
			if !strings.HasPrefix(rest, ",") {
				text = strings.TrimPrefix(rest, "\r")
				break
			}
			text = rest[1:]
		}
		if len(text) > 0 { // the line break: splitCell stops nowhere else
			text = text[1:]
			number++
		}
		if len(l.cells) > 1 || l.cells[0] != "" {
			lines = append(lines, l)
		}
	}
	return lines, nil
}

// splitCell reads one cell; rest begins with what ends it, or is empty.
func splitCell(text string) (cell, rest string, bad *Fault) {
	if !strings.HasPrefix(text, `"`) {
		end := strings.IndexAny(text, ",\n")
		if end < 0 {
			end = len(text)
		}
		if end > 0 && end < len(text) && text[end] == '\n' && text[end-1] == '\r' {
			end--
		}
		if strings.Contains(text[:end], `"`) {
			return "", "", &Fault{Code: "bad_quotes", Detail: "has a quotation mark inside of a cell that does not begin with one", Fix: `write the cell in quotation marks, and "" for one of them`}
		}
		return text[:end], text[end:], nil
	}
	var b strings.Builder
	for rest = text[1:]; ; {
		end := strings.IndexByte(rest, '"')
		if end < 0 {
			return "", "", &Fault{Code: "bad_quotes", Detail: "has a cell whose quotation mark is never closed", Fix: "close it; perhaps the file was cut off"}
		}
		b.WriteString(rest[:end])
		rest = rest[end+1:]
		if !strings.HasPrefix(rest, `"`) {
			break
		}
		b.WriteByte('"')
		rest = rest[1:]
	}
	if rest != "" && !strings.HasPrefix(rest, ",") && !strings.HasPrefix(rest, "\n") && !strings.HasPrefix(rest, "\r\n") {
		return "", "", &Fault{Code: "bad_quotes", Detail: "has text behind the closing quotation mark of a cell", Fix: `write "" for a quotation mark inside of a cell`}
	}
	return b.String(), rest, nil
}
