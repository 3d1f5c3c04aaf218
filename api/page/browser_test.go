package page

import (
	"context"
	"encoding/xml"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// program finds a program by one of its names. Where there is none the test is skipped, or fails where
// SABINBOOK_TEST_REQUIRE_BROWSER is 1.
func program(t *testing.T, names ...string) string {
	t.Helper()
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("SABINBOOK_TEST_REQUIRE_BROWSER") == "1" {
		t.Fatalf("%s is not installed, and SABINBOOK_TEST_REQUIRE_BROWSER is 1", names[0])
	}
	t.Skipf("%s is not installed: what a browser prints is not looked at", names[0])
	return ""
}

// output runs a program and returns what it writes.
func output(t *testing.T, name string, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	command := exec.CommandContext(ctx, name, args...)
	var errs strings.Builder
	command.Stderr = &errs
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s: %v: %s", filepath.Base(name), err, errs.String())
	}
	return string(out)
}

// browse starts a browser without a window on an address.
func browse(t *testing.T, address string, args ...string) string {
	t.Helper()
	browser := program(t, "chromium", "chromium-browser", "google-chrome")
	return output(t, browser, append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--user-data-dir=" + t.TempDir()}, append(args, address)...)...)
}

// printed is a PDF as a browser prints a page.
func printed(t *testing.T, address string) string {
	t.Helper()
	pdf := filepath.Join(t.TempDir(), "sheet.pdf")
	browse(t, address, "--no-pdf-header-footer", "--print-to-pdf="+pdf)
	return pdf
}

// sheetFile is a sheet as a file with its address.
func sheetFile(t *testing.T, document []byte, c Choice) string {
	t.Helper()
	out, err := Sheet(document, c)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.html")
	if err := os.WriteFile(file, out, 0o600); err != nil {
		t.Fatal(err)
	}
	return "file://" + file
}

// words are the words on the pages of a PDF and where they stand, in points from the upper left corner.
type words struct {
	Pages []struct {
		Width  float64 `xml:"width,attr"`
		Height float64 `xml:"height,attr"`
		Words  []struct {
			Left   float64 `xml:"xMin,attr"`
			Top    float64 `xml:"yMin,attr"`
			Right  float64 `xml:"xMax,attr"`
			Bottom float64 `xml:"yMax,attr"`
			Text   string  `xml:",chardata"`
		} `xml:"word"`
	} `xml:"body>doc>page"`
}

// wordsOf asks pdftotext.
func wordsOf(t *testing.T, pdf string) words {
	t.Helper()
	var w words
	text := output(t, program(t, "pdftotext"), "-bbox", pdf, "-")
	if err := xml.Unmarshal([]byte(text), &w); err != nil {
		t.Fatal(err)
	}
	return w
}

const pointsPerMM = 72 / 25.4

// Everything that must be said stands on paper, no line of the shopping list is broken by the end of a page, and no word goes
// beyond the margins; nor was the page made smaller so that it would not.
func TestSheetPrintsWithoutLoss(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes its time")
	}
	for _, c := range []struct {
		name     string
		document []byte
		choice   Choice
		title    string // its first word
	}{
		{"all", keptDocument(t), Choice{All: true}, "Panels"},
		{"one option", changed(t, func(d map[string]any, options []any) { d["answer"].(map[string]any)["options"] = options[:1] }), Choice{}, "Panels"},
		{"fifty options, long names, many shops", many(t, 50), Choice{}, "Panels"},
	} {
		t.Run(c.name, func(t *testing.T) {
			pdf := printed(t, sheetFile(t, c.document, c.choice))
			text := output(t, program(t, "pdftotext"), "-raw", pdf, "-")
			for _, want := range mustSay(t, c.document) {
				if !strings.Contains(unbroken(text), squashed(want)) {
					t.Errorf("the paper does not say %q", want)
				}
			}
			v, err := newView(c.document, c.choice)
			if err != nil {
				t.Fatal(err)
			}
			pages := strings.Split(text, "\f")
			for _, b := range v.Builds {
				for _, o := range b.Orders {
					for _, l := range o.Lines {
						wholeOnAPage(t, pages, l.Packs+l.What+l.Small()+l.Pack+l.Each+l.Sum)
					}
				}
			}
			for i, page := range pages {
				if page = squashed(page); strings.Contains(page, "priceseen") && !strings.Contains(page, "what,andtheoffer") {
					t.Errorf("page %d has lines of the shopping list without the head of the table", i+1)
				}
			}
			whiteMargins(t, pdf)
			list := wordsOf(t, pdf)
			if len(list.Pages) < 2 {
				t.Fatalf("%d pages", len(list.Pages))
			}
			const edge, hair = 15 * pointsPerMM, 1.2 // a browser rounds to its own grid, less than half a millimetre
			for i, p := range list.Pages {
				if math.Abs(p.Width-595) > 1.5 || math.Abs(p.Height-842) > 1.5 { // A4, ISO 216: 210 mm x 297 mm
					t.Errorf("page %d is %v x %v points", i+1, p.Width, p.Height)
				}
				for _, w := range p.Words {
					if w.Left < edge-hair || w.Right > p.Width-edge+hair || w.Top < edge-hair || w.Bottom > p.Height-5*pointsPerMM {
						t.Errorf("page %d: %q stands at %.1f to %.1f across and %.1f to %.1f down", i+1, w.Text, w.Left, w.Right, w.Top, w.Bottom)
					}
				}
			}
			for _, w := range list.Pages[0].Words {
				if w.Text == c.title && w.Bottom-w.Top > 20 { // its letters have 24 points
					return
				}
			}
			t.Errorf("%q does not stand in its size at the head: the page was made smaller to fit", c.title)
		})
	}
}

// wholeOnAPage says that a text stands on one page in one piece.
func wholeOnAPage(t *testing.T, pages []string, want string) {
	t.Helper()
	for _, page := range pages {
		if strings.Contains(squashed(page), squashed(want)) {
			return
		}
	}
	t.Errorf("this line is on no page in one piece: %s", want)
}

// unbroken is the text of all pages without white space, feet and the heads of tables that go on: what was one text is one again.
func unbroken(text string) string {
	var kept []string
	for _, page := range strings.Split(text, "\f") {
		var lines []string
		for line := range strings.Lines(page) {
			if line = strings.TrimSpace(line); line != "sabinbook shortlist" && !(strings.HasPrefix(line, "page ") && strings.Contains(line, " of ")) {
				lines = append(lines, line)
			}
		}
		kept = append(kept, strings.Join(lines, " "))
	}
	return squashed(strings.Join(kept, " "))
}

// What people write is text: no script runs, nothing is fetched.
func TestNamesRunNothing(t *testing.T) {
	asked := make(chan string, 100)
	bait := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { asked <- r.URL.Path }))
	defer bait.Close()
	evil := fmt.Sprintf(`</title></style><script>document.title="ran"</script><img src="%s/x" onerror="document.title='ran'"><svg onload="document.title='ran'">`, bait.URL)
	document := changed(t, func(d map[string]any, options []any) {
		about := d["about"].(map[string]any)
		about["name"], about["note"], about["kept_by"] = evil, evil, evil
		o := options[0].(map[string]any)
		o["fill"].(map[string]any)["name"], o["key"] = evil, evil
		o["cost"].(map[string]any)["lines"].([]any)[0].(map[string]any)["item"].(map[string]any)["name"] = evil
		d["digest"] = evil
	})
	dom := browse(t, sheetFile(t, document, Choice{}), "--dump-dom")
	if strings.Contains(dom, "<title>ran") || strings.Contains(dom, "<script") || strings.Contains(dom, "<img") || !strings.Contains(dom, "&lt;script&gt;") {
		t.Error("a name became markup")
	}
	select {
	case path := <-asked:
		t.Errorf("the browser fetched %s", path)
	default:
	}
}

// Under its policy a sheet looks as without: the hash in it is that of the style.
func TestSheetKeepsItsStyleUnderThePolicy(t *testing.T) {
	out, err := Sheet(keptDocument(t), Choice{})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Content-Security-Policy", map[bool]string{true: Policy(), false: "default-src 'none'"}[r.URL.Path == "/kept"])
		_, _ = w.Write(out)
	}))
	defer server.Close()
	// The foot of a page is in the style alone.
	for path, want := range map[string]bool{"/kept": true, "/bare": false} {
		text := output(t, program(t, "pdftotext"), printed(t, server.URL+path), "-")
		if got := strings.Contains(text, "page 1 of"); got != want || !strings.Contains(text, "Panels for Lantern Yard") {
			t.Errorf("%s: the style holds: %v, want %v", path, got, want)
		}
	}
}

// whiteMargins says that a picture of each page has ink, and none in the margins beside the text.
func whiteMargins(t *testing.T, pdf string) {
	t.Helper()
	picture := []byte(output(t, program(t, "pdftoppm"), "-r", "72", "-gray", pdf))
	var width, height, most int
	if _, err := fmt.Sscanf(string(picture), "P5\n%d %d\n%d\n", &width, &height, &most); err != nil {
		t.Fatal(err)
	}
	for len(picture) > 0 { // one picture for each page
		head := len(fmt.Sprintf("P5\n%d %d\n%d\n", width, height, most))
		if len(picture) < head+width*height {
			t.Fatalf("%d bytes are left", len(picture))
		}
		rows := picture[head : head+width*height]
		ink := 0
		for i, grey := range rows {
			if grey > 200 {
				continue
			}
			ink++
			if x := i % width; x < 41 || x > width-42 {
				t.Fatalf("there is ink in the margin, at %d, %d", x, i/width)
			}
		}
		if ink < 1000 {
			t.Errorf("a page has %d points of ink", ink)
		}
		picture = picture[head+width*height:]
	}
}

// No word is wider on paper than it is reckoned when drawings are laid out.
func TestWordsAreNoWiderThanReckoned(t *testing.T) {
	d := drawing{Width: 180, Height: 250}
	var want []string
	for i, word := range []string{"Mineral", "wool", "564×1164", "mmmm", "WWMM", "OGQDHN", "0123456789", "illicit", "Straße", "Übergröße", "1.2k", "behind", "Ждёт", "…"} {
		d.bold(2, mm(8*i+5), "start", word)
		d.text(80, mm(8*i+5), "start", word)
		want = append(want, word, word)
	}
	var out strings.Builder
	out.WriteString("<!DOCTYPE html><meta charset=utf-8><style>@page{size:A4;margin:15mm}body{margin:0}</style>")
	if err := sheet.ExecuteTemplate(&out, "drawing", d); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "words.html")
	if err := os.WriteFile(file, []byte(out.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	list := wordsOf(t, printed(t, "file://"+file))
	seen := 0
	for _, w := range list.Pages[0].Words {
		for _, text := range want {
			if w.Text != text {
				continue
			}
			seen++
			if width, reckoned := (w.Right-w.Left)/pointsPerMM, float64(widthOf(text, letters)); width > reckoned {
				t.Errorf("%q is %.2f mm wide, reckoned %.2f", text, width, reckoned)
			}
			break
		}
	}
	if seen != len(want) {
		t.Errorf("%d of %d words are on paper", seen, len(want))
	}
}
