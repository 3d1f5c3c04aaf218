package exchange_test

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"testing"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/internal/money"
)

// changed calls see for every field below v in turn, while it holds another value.
func changed(at string, v reflect.Value, see func(at string)) {
	old := reflect.New(v.Type()).Elem()
	old.Set(v)
	try := func(next any) {
		v.Set(reflect.ValueOf(next).Convert(v.Type()))
		see(at)
		v.Set(old)
	}
	switch x := v.Interface().(type) {
	case time.Time:
		try(x.Add(time.Second))
		return
	case money.Amount:
		try(money.FromMicro(x.Micro()+1, x.Currency()))
		at += " in another currency"
		try(money.FromMicro(x.Micro(), "CHF"))
		return
	case bands.Curve:
		x.Set(bands.OctaveBand(1), 0.123)
		try(x)
		return
	}
	switch v.Kind() {
	case reflect.String:
		try(v.String() + "x")
	case reflect.Float64:
		try(v.Float() + 1)
	case reflect.Int, reflect.Int64:
		try(v.Int() + 1)
	case reflect.Bool:
		try(!v.Bool())
	case reflect.Pointer:
		if !v.IsNil() {
			changed(at, v.Elem(), see)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			changed(fmt.Sprintf("%s[%d]", at, i), v.Index(i), see)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			changed(at+"."+v.Type().Field(i).Name, v.Field(i), see)
		}
	default:
		panic("no way to change " + at)
	}
}

// No field of any noun is left out of a package: whatever is changed changes bytes. Deleted
// records are not in a snapshot, and the currency of a break is that of its price.
func TestEveryFieldIsWritten(t *testing.T) {
	left := regexp.MustCompile(`\.Meta\.Deleted$|\.Breaks\[\d+\]\.Price in another currency$`)
	seen := 0
	for seed := range uint64(6) {
		s := catalogtest.Random(seed)
		want := exchange.Archive(exchange.Write(s))
		changed("", reflect.ValueOf(&s).Elem(), func(at string) {
			seen++
			if bytes.Equal(want, exchange.Archive(exchange.Write(s))) && !left.MatchString(at) {
				t.Errorf("seed %d: %s changes nothing", seed, at)
			}
		})
	}
	if seen < 1000 {
		t.Errorf("%d fields", seen)
	}
}
