package api

import (
	"mime"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// format is a form of an answer, by its name on the wire.
type format string

// The formats that an answer may have.
const (
	formatJSON     format = "json"
	formatCSV      format = "csv"
	formatLines    format = "ndjson"
	formatHTML     format = "html"
	formatMarkdown format = "markdown"
)

// mediaTypes lists the media types of the formats; the first that a client likes as well as any other is taken.
var mediaTypes = []struct {
	format format
	media  string
}{{formatJSON, "application/json"}, {formatCSV, "text/csv"}, {formatLines, "application/x-ndjson"}, {formatHTML, "text/html"}, {formatMarkdown, "text/markdown"}}

// formParameters are the parameters that choose the form of an answer and no records.
var formParameters = []string{"format", "delimiter", "decimal", "bom", "fields"}

// form is how an answer is to be written.
type form struct {
	format format
	sheet  sheet    // of CSV
	fields []string // columns of CSV, in this order; all when empty
}

// suffixes are the ends of a path that choose a format.
var suffixes = map[string]format{".json": formatJSON, ".csv": formatCSV, ".ndjson": formatLines, ".html": formatHTML, ".md": formatMarkdown}

// cutSuffix takes a suffix that chooses a format off a path below /v1. No id and no slug has a dot.
func cutSuffix(path string) (string, format) {
	at := strings.LastIndexByte(path, '.')
	if at < 0 || !strings.HasPrefix(path, "/v1/") {
		return path, ""
	}
	if f, ok := suffixes[path[at:]]; ok {
		return path[:at], f
	}
	return path, ""
}

// formats lists what an operation answers in, in the order of mediaTypes; nil for one that answers in
// nothing of these.
func (op *operation) formats() []format {
	ok := op.target.Operation.Responses.Value("200")
	if ok == nil {
		return nil
	}
	var list []format
	for _, m := range mediaTypes {
		if ok.Value.Content[m.media] != nil {
			list = append(list, m.format)
		}
	}
	return list
}

// formOf finds out how a request is to be answered: by the parameter format, by the suffix of the path or by
// Accept, the first of them that is there.
func (op *operation) formOf(suffix format, query url.Values, accept []string) (form, []fault, error) {
	offered := op.formats()
	out := form{format: formatJSON}
	var faults []fault
	switch asked, given := query.Get("format"), query.Has("format"); {
	case given && slices.Contains(offered, format(asked)):
		out.format = format(asked)
	case given:
		faults = append(faults, fault{parameter: "format", code: "unknown_word", detail: "must be " + words(offered) + ", got " + quoted(asked), fix: "use one of them, or leave it out"})
	case suffix != "" && slices.Contains(offered, suffix):
		out.format = suffix
	case suffix != "":
		return out, nil, &requestError{kind: problemNotFound, detail: "no route has this path; what is here is answered as " + words(offered)}
	case len(offered) > 0 && len(accept) > 0:
		best := liked(offered, strings.Join(accept, ","))
		if best == "" {
			return out, nil, &requestError{kind: problemNotAcceptable, faults: []fault{{header: "Accept", code: "not_acceptable", detail: "takes none of " + words(offered), fix: "name the media type of one of them, or */*"}}}
		}
		out.format = best
	}
	if !slices.Contains(op.query, "delimiter") {
		return out, faults, nil
	}
	sheet, wrong := sheetOf(query, out.format)
	out.sheet = sheet
	faults = append(faults, wrong...)
	if query.Has("fields") && len(op.columns) > 0 {
		out.fields = strings.Split(query.Get("fields"), ",")
		_, wrong = op.chosenColumns(out.fields)
		faults = append(faults, wrong...)
	}
	return out, faults, nil
}

func words(list []format) string {
	names := make([]string, len(list))
	for i, f := range list {
		names[i] = string(f)
	}
	return strings.Join(names, " or ")
}

// liked returns the offered format that an Accept header likes best (RFC 9110 section 12.5.1), empty when it
// likes none. A part that cannot be read is passed over.
func liked(offered []format, accept string) format {
	var best format
	most := 0.0
	for _, m := range mediaTypes {
		if !slices.Contains(offered, m.format) {
			continue
		}
		quality, precision := 0.0, -1
		for _, part := range strings.Split(accept, ",") {
			media, parameters, err := mime.ParseMediaType(part)
			if err != nil {
				continue
			}
			how := slices.Index([]string{"*/*", m.media[:strings.IndexByte(m.media, '/')] + "/*", m.media}, media)
			if how <= precision {
				continue
			}
			precision, quality = how, 1
			if q, ok := parameters["q"]; ok {
				if quality, err = strconv.ParseFloat(q, 64); err != nil || !(quality >= 0 && quality <= 1) {
					quality = 0
				}
			}
		}
		if quality > most {
			best, most = m.format, quality
		}
	}
	return best
}
