package access_test

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/access"
)

func secret(t *rapid.T) access.Secret {
	random := rapid.SliceOfN(rapid.Byte(), 20, 20).Draw(t, "random")
	s, err := access.NewSecret(bytes.NewReader(random))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The checksum of a fixed body, worked out by Python: binascii.crc32, base64.b32encode.
func TestSecretOfNoughts(t *testing.T) {
	s, err := access.NewSecret(bytes.NewReader(make([]byte, 20)))
	if err != nil {
		t.Fatal(err)
	}
	if want := "sabin_" + strings.Repeat("a", 32) + "c6efq7q"; s.Reveal() != want {
		t.Errorf("%s, want %s", s.Reveal(), want)
	}
	if want := "082faa3a0c969e0a0cd4cc6557c9eabc39e11d09218fffd6e7435c879ffe4ea6"; s.Hash() != want {
		t.Errorf("hash %s, want %s", s.Hash(), want)
	}
}

func TestSecretIsReadAsItWasMade(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := secret(t)
		got, err := access.ParseSecret(s.Reveal())
		if err != nil || got != s || got.Hash() != s.Hash() || !strings.HasSuffix(s.Reveal(), s.LastFour()) {
			t.Fatalf("%v: %v, %v", s.Reveal(), got, err)
		}
	})
}

// Any one character changed into any other byte, left out, doubled or put in, and any two
// neighbours exchanged, are found without a database.
func TestEveryMistakeOfOneCharacterIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := secret(t).Reveal()
		refused := func(changed string) {
			if _, err := access.ParseSecret(changed); changed != text && err == nil {
				t.Fatalf("%q passes for %q", changed, text)
			}
		}
		for i := range len(text) {
			for b := range 256 {
				refused(text[:i] + string([]byte{byte(b)}) + text[i+1:])
			}
			refused(text[:i] + text[i+1:])
			refused(text[:i] + text[i:i+1] + text[i:])
			if i > 0 {
				refused(text[:i-1] + text[i:i+1] + text[i-1:i] + text[i+1:])
			}
		}
		refused(strings.ToUpper(text))
		refused(text + "\n")
	})
}

func TestAnyTextIsReadWithoutPanic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.Map(rapid.String(), func(s string) string { return access.Prefix + s })).Draw(t, "text")
		_, err := access.ParseSecret(text)
		want := access.ErrNotAToken
		if strings.HasPrefix(text, access.Prefix) {
			want = access.ErrMistyped
		}
		if !errors.Is(err, want) {
			t.Fatalf("%q: %v, want %v", text, err, want)
		}
	})
}

func TestSecretsDiffer(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		s, err := access.NewSecret(rand.Reader)
		if err != nil || seen[s.Reveal()] {
			t.Fatal(s.Reveal(), err)
		}
		seen[s.Reveal()] = true
	}
	if _, err := access.NewSecret(strings.NewReader("too short")); err == nil {
		t.Error("a secret of 9 bytes")
	}
}

func TestSecretPrintsWithoutItsBody(t *testing.T) {
	s, err := access.NewSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	body := s.Reveal()[len(access.Prefix) : len(access.Prefix)+32]
	for _, form := range []string{"%v", "%+v", "%#v", "%s", "%q"} {
		if text := fmt.Sprintf(form, s); strings.Contains(text, body) {
			t.Errorf("%s prints %s", form, text)
		}
		if text := fmt.Sprintf(form, struct{ S access.Secret }{s}); strings.Contains(text, body) {
			t.Errorf("%s prints %s within a struct", form, text)
		}
	}
}

// The secret of a link is no token, a token is no link, and both are taken out of texts.
func TestLinksAreNoTokens(t *testing.T) {
	token, err := access.NewSecret(strings.NewReader("twenty letters of it"))
	if err != nil {
		t.Fatal(err)
	}
	link, err := access.NewLink(strings.NewReader("twenty letters of it"))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := access.ParseLink(link.Reveal()); err != nil || got != link || got.Hash() == token.Hash() {
		t.Errorf("%v, %v", got, err)
	}
	if _, err := access.ParseSecret(link.Reveal()); !errors.Is(err, access.ErrNotAToken) {
		t.Error(err)
	}
	for _, text := range []string{token.Reveal(), access.LinkPrefix + strings.TrimPrefix(token.Reveal(), access.Prefix), link.Reveal()[:48], link.Reveal() + "a"} {
		if _, err := access.ParseLink(text); err == nil {
			t.Errorf("%s is a link", text)
		}
	}
	for _, s := range []access.Secret{token, link} {
		body := s.Reveal()[len(s.Reveal())-39:]
		for _, text := range []string{access.Redact("GET /v1/shared/" + s.Reveal() + "?x"), access.Redact(strings.ToUpper(s.Reveal())), s.String()} {
			if strings.Contains(strings.ToLower(text), body[:32]) || !strings.Contains(text, "...") {
				t.Error(text)
			}
		}
	}
}
