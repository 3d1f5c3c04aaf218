package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
)

// tried turns the answer to a change that was made and undone into the answer to a trial: what only
// a stored record has is taken out.
func (c *call) tried() error {
	a := c.answer
	a.header.Set("Dry-Run", "true")
	for _, name := range []string{"ETag", "Location", "Content-Location"} {
		a.header.Del(name)
	}
	a.header.Set("Cache-Control", "no-store")
	if a.body.Len() == 0 {
		return nil
	}
	var record map[string]any
	d := json.NewDecoder(bytes.NewReader(a.body.Bytes()))
	d.UseNumber()
	if err := d.Decode(&record); err != nil {
		return fmt.Errorf("api: the answer to a trial: %w", err)
	}
	if a.status == http.StatusCreated {
		delete(record, "id")
	}
	for _, name := range []string{"revision", "create_time", "update_time"} {
		delete(record, name)
	}
	if c.op.id == "addBatch" {
		unborn(record["items"].([]any))
	}
	text, err := json.Marshal(record)
	if err != nil {
		return fmt.Errorf("api: the answer to a trial: %w", err)
	}
	a.body.Reset()
	a.body.Write(append(text, '\n'))
	return nil
}

// unborn takes from the records of a batch what only stored ones have. Where they name each other by
// ids that nobody has, their slugs stand instead.
func unborn(items []any) {
	slugs := map[any]any{}
	for _, item := range items {
		for _, record := range item.(map[string]any) {
			r := record.(map[string]any)
			slugs[r["id"]] = r["slug"]
			for _, name := range []string{"id", "revision", "create_time", "update_time"} {
				delete(r, name)
			}
		}
	}
	var walk func(value any) any
	walk = func(value any) any {
		switch v := value.(type) {
		case map[string]any:
			for name := range v {
				v[name] = walk(v[name])
			}
		case []any:
			for i := range v {
				v[i] = walk(v[i])
			}
		case string:
			if slug, ok := slugs[v]; ok {
				return slug
			}
		}
		return value
	}
	walk(items)
}
