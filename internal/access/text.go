package access

import (
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"regexp"
	"strings"
)

// A token reads prefix, body, checksum: sabin_, 32 letters and digits, 7 more. The body is
// randomBytes random bytes, 160 bits, more than anybody can guess through HTTP. The checksum is
// the CRC-32 (IEEE 802.3) of what stands before it; it finds every error within four bytes, so that a
// mistyped token is told from an unknown one before any database is asked. It keeps nobody out.
const (
	Prefix      = "sabin_"
	LinkPrefix  = "sabinlink_" // of the secret of a share link, which is made like a token and is none
	randomBytes = 20
	bodyLen     = 32 // base32 of randomBytes
	checkLen    = 7  // base32 of four bytes
)

// letters is the alphabet of RFC 4648 section 6 in lower case: it has no 0 and 1 beside o and l.
var letters = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// Why a text is no token.
var (
	ErrNotAToken = errors.New("is not a token of this service")
	ErrMistyped  = errors.New("is a token with a mistake in it")
)

// Secret is a token as its member holds it, or what is secret of a share link. It prints without what
// must stay secret.
type Secret struct{ text string }

// NewSecret makes a token of random bytes, which must come from a source fit for secrets.
func NewSecret(random io.Reader) (Secret, error) { return newSecret(Prefix, random) }

// NewLink makes the secret of a share link like a token.
func NewLink(random io.Reader) (Secret, error) { return newSecret(LinkPrefix, random) }

func newSecret(prefix string, random io.Reader) (Secret, error) {
	var body [randomBytes]byte
	if _, err := io.ReadFull(random, body[:]); err != nil {
		return Secret{}, fmt.Errorf("access: new secret: %w", err)
	}
	text := prefix + letters.EncodeToString(body[:])
	return Secret{text + checksum(text)}, nil
}

// checksum is the CRC-32 of a text in base32.
func checksum(text string) string {
	return letters.EncodeToString(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE([]byte(text))))
}

// ParseSecret reads a token that somebody sent: ErrNotAToken where it has another beginning,
// ErrMistyped where it is not as it was made.
func ParseSecret(text string) (Secret, error) { return parse(Prefix, text) }

// ParseLink reads the secret of a share link in the same way.
func ParseLink(text string) (Secret, error) { return parse(LinkPrefix, text) }

func parse(prefix, text string) (Secret, error) {
	if !strings.HasPrefix(text, prefix) {
		return Secret{}, ErrNotAToken
	}
	end := len(prefix) + bodyLen // of what the checksum is of
	if len(text) != end+checkLen || text[end:] != checksum(text[:end]) {
		return Secret{}, ErrMistyped
	}
	if _, err := letters.DecodeString(text[len(prefix):end]); err != nil {
		return Secret{}, ErrMistyped
	}
	return Secret{text}, nil
}

// inText finds what may be a secret, also one with a mistake in it or in capitals.
var inText = regexp.MustCompile(`(?i)(` + Prefix + `|` + LinkPrefix + `)[a-z0-9]+`)

// Redact takes what may be a token or the secret of a link out of a text, but for its beginning.
func Redact(text string) string { return inText.ReplaceAllString(text, "${1}...") }

// Reveal is the whole text, for the one answer that shows it.
func (s Secret) Reveal() string { return s.text }

// Hash is what is stored in place of the token: its SHA-256, in hexadecimal. A slow hash would
// protect no better, because nobody can try 2^160 texts.
func (s Secret) Hash() string {
	sum := sha256.Sum256([]byte(s.text))
	return hex.EncodeToString(sum[:])
}

// LastFour are the last characters, by which a member finds the token among others. They are
// part of the checksum.
func (s Secret) LastFour() string { return s.text[max(0, len(s.text)-4):] }

// String hides the body.
func (s Secret) String() string {
	prefix, _, _ := strings.Cut(s.text, "_")
	return prefix + "_..." + s.LastFour()
}

// GoString hides it from %#v.
func (s Secret) GoString() string { return s.String() }
