package api

import (
	"bytes"
	"compress/gzip"
	"mime"
	"net/http"
	"strconv"
	"strings"
)

// leastCompressed is the length from which an answer is worth compressing. Source: http conventions of this
// project, 1 KiB.
const leastCompressed = 1 << 10

// takesGzip reports whether an Accept-Encoding header lets gzip pass (RFC 9110 section 12.5.3).
func takesGzip(header http.Header) bool {
	took, named := false, false
	for _, part := range strings.Split(strings.Join(header.Values("Accept-Encoding"), ","), ",") {
		coding, parameters, err := mime.ParseMediaType("x/" + strings.TrimSpace(part)) // the form of its parameters is the same
		if err != nil {
			continue
		}
		quality := 1.0
		if q, ok := parameters["q"]; ok {
			if quality, err = strconv.ParseFloat(q, 64); err != nil {
				quality = 0
			}
		}
		switch coding {
		case "x/gzip", "x/x-gzip":
			took, named = quality > 0, true
		case "x/*":
			if !named {
				took = quality > 0
			}
		}
	}
	return took
}

// compressed returns a text in gzip, the same bytes each time.
func compressed(text []byte) []byte {
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	_, _ = w.Write(text) // a bytes.Buffer takes everything
	_ = w.Close()
	return out.Bytes()
}
