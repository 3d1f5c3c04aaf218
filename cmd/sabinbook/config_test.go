package main

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// settingsOf are the variables of the environment that a struct of settings, and those in it, read.
func settingsOf(t reflect.Type) []string {
	var names []string
	for i := range t.NumField() {
		f := t.Field(i)
		if env := f.Tag.Get("env"); env != "" {
			names = append(names, strings.Split(env, ",")...)
		}
		if f.Type.Kind() == reflect.Struct {
			names = append(names, settingsOf(f.Type)...)
		}
	}
	return names
}

func TestPagesNameEverySetting(t *testing.T) {
	names := append(settingsOf(reflect.TypeFor[config]()), "XDG_DATA_HOME")
	if len(names) < 10 {
		t.Fatal(names)
	}
	for _, page := range []string{"deploy/README.md", "README.md"} {
		text, err := os.ReadFile(filepath.Join("..", "..", page))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if name == "XDG_DATA_HOME" && page == "README.md" {
				continue
			}
			if !strings.Contains(string(text), "`"+name+"`") {
				t.Errorf("%s does not name %s", page, name)
			}
		}
	}
}
