// Package page turns the document of a shortlist into what people read and print: a sheet of HTML that
// prints on A4, and Markdown. It is told everything by the bytes of the document and asks nothing else.
//
// The sheet is one file: one style, no script, drawings as inline SVG, nothing fetched. Everything in it
// that came from people is text to the template, and what would change how text is read, such as marks
// of direction, is printed as its code.
//
// Drawings are to scale. A plan that the document tells too little of to be drawn is told in words alone.
package page

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
)

// Choice says of which options the sheet tells how they are bought and built. The zero value is the first place.
type Choice struct {
	Key string // of one option
	All bool   // every option; Key says nothing then
}

//go:embed sheet.css
var style string

//go:embed sheet.html
var layout string

var sheet = template.Must(template.New("sheet").Parse(layout))

// Sheet is the document as one HTML file. The error is a DocumentError or a KeyError.
func Sheet(doc []byte, c Choice) ([]byte, error) {
	v, err := newView(doc, c)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := sheet.Execute(&out, v); err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	return []byte(visible(out.String())), nil
}

// Policy is the Content-Security-Policy under which a sheet looks as it should: its one style and nothing else.
func Policy() string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}
