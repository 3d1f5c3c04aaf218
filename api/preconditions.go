package api

import (
	"fmt"
	"regexp"
	"strings"

	"sabinbook/internal/catalog"
)

// tagOf returns the entity tag of a record, which names one revision of it for ever.
func tagOf(m catalog.Meta) string { return fmt.Sprintf(`"%s.%d"`, m.ID, m.Revision) }

// tagForm is one entity tag of RFC 9110 section 8.8.3.
var tagForm = regexp.MustCompile(`^(W/)?"[\x21\x23-\x7E\x{80}-\x{FF}]*"`)

// tags splits the value of If-Match or If-None-Match into its entity tags. any reports the
// star; ok is false when the value has neither form.
func tags(value string) (list []string, any, ok bool) {
	rest := strings.Trim(value, " \t,")
	if rest == "*" {
		return nil, true, true
	}
	for rest != "" {
		tag := tagForm.FindString(rest)
		if tag == "" {
			return nil, false, false
		}
		list = append(list, tag)
		after := strings.TrimLeft(rest[len(tag):], " \t")
		rest = strings.TrimLeft(after, " \t,")
		if rest != "" && !strings.HasPrefix(after, ",") {
			return nil, false, false
		}
	}
	return list, false, len(list) > 0
}

// noneMatch reports whether If-None-Match names the tag (weak comparison), so that the
// client's copy is current.
func noneMatch(value, tag string) bool {
	list, any, ok := tags(value)
	for _, t := range list {
		any = any || strings.TrimPrefix(t, "W/") == tag
	}
	return ok && any
}

// match checks If-Match against the stored record (strong comparison: weak tags never
// match). The store compares the revision once more when it writes.
func match(value string, stored catalog.Meta) error {
	list, any, ok := tags(value)
	if !ok {
		return &requestError{kind: problemParameter, faults: []fault{{header: "If-Match", code: "bad_header",
			detail: "is not a list of entity tags", fix: `copy the ETag of the record with its quotes, like "fill_06f1k2m3n4p5q6r7s8t9u0v1a2.1", or send *`}}}
	}
	for _, t := range list {
		any = any || t == tagOf(stored)
	}
	if !any {
		return &catalog.StaleError{Current: stored}
	}
	return nil
}
