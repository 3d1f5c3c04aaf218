package main

import (
	"regexp"
	"strings"
	"testing"
)

func TestPriceIsAddedWithAToken(t *testing.T) {
	url, secret := seededFor(t, "contributor")
	price := func(more ...string) (int, string, string) {
		return call(t, append([]string{"price", "--server", url}, more...)...)
	}
	code, out, errs := price("builders-yard-rock-wool-40-50-8", "32.50", "--token", secret)
	if code != 0 || !regexp.MustCompile(`^builders-yard-rock-wool-40-50-8: 32.50 EUR a pack, with 21 % tax, seen on 20..-..-.. \(price_.{26}\)\n$`).MatchString(out) {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	if code, out, errs = price("builders-yard-rock-wool-40-50-8", "30.00", "--currency", "CHF", "--no-tax-included", "--tax-rate", "8.1", "--date", "2026-11-01", "--token", secret); code != 0 || !strings.Contains(out, "30.00 CHF a pack, without 8.1 % tax, seen on 2026-11-01") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	t.Setenv("SABINBOOK_TOKEN", secret)
	if code, out, errs = price("builders-yard-rock-wool-40-50-8", "33.00", "--dry-run"); code != 0 || !strings.Contains(out, "(tried, not stored)") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	for want, args := range map[string][]string{
		"/amount ":       {"builders-yard-rock-wool-40-50-8", "32,50"},
		"/observed_date": {"builders-yard-rock-wool-40-50-8", "32.50", "--date", "2199-01-01"},
		"nothing":        {"nobodys-offer", "32.50"},
	} {
		if code, out, errs := price(args...); code != 1 || out != "" || want != "nothing" && !strings.Contains(errs, want) {
			t.Errorf("%v: exit code %d: %s%s", args, code, out, errs)
		}
	}
	t.Setenv("SABINBOOK_TOKEN", "")
	if code, _, errs := price("builders-yard-rock-wool-40-50-8", "32.50"); code != 1 || !strings.Contains(errs, "oken") {
		t.Errorf("without a token: exit code %d: %s", code, errs)
	}
}
