package access

// Key tells requests that are sent again from new ones: two with the same scope and text are the
// same request, and their fingerprints then agree.
type Key struct {
	Scope       string // SHA-256, in hexadecimal digits, of who asks for what: token, method and path
	Text        string // as the client chose it: 1 to 255 visible ASCII characters
	Fingerprint string // SHA-256, in hexadecimal digits, of what was sent: query and body
}

// Answer is what was answered to a request with a key. An empty header was not sent.
type Answer struct {
	Fingerprint                                  string // of the request that was answered
	Status                                       int    // 200 to 299: only answers to what was done are kept
	ETag, Location, ContentLocation, ContentType string
	Body                                         string // JSON, or nothing
}
