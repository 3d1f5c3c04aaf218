package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"github.com/go-json-experiment/json/jsontext"
)

const (
	descriptorName = "datapackage.json"
	// packageName tells a package of this form from any other.
	packageName = "sabinbook-catalog"
	// formVersion is the version of tables and columns. Another first number is another form; a higher
	// second one has more tables or columns, and packages of a lower one are read as if what
	// they do not know were empty.
	//
	// 1.0.0: the first one. 1.1.0: exchange_rates. 1.2.0: use and use_note of absorption_tests.
	formVersion = "1.2.0"
	// profile and resourceProfile are the forms of the descriptor (datapackage.org, Data
	// Package 2.0: $schema in the package and in each resource, type "table"; seen in
	// its changelog).
	profile         = "https://datapackage.org/profiles/2.0/datapackage.json"
	resourceProfile = "https://datapackage.org/profiles/2.0/dataresource.json"
)

// object is an object of JSON on its way out.
type object map[string]any

// descriptor is datapackage.json. Its only member beyond the standard is catalog_revision;
// units stand in the descriptions of the fields.
func descriptor(revision int64, all []table, files []File) []byte {
	resources := make([]object, len(all))
	for i, t := range all {
		d := t.describe()
		digest := sha256.Sum256(files[i].Data)
		resources[i] = object{
			"$schema": resourceProfile, "name": d.name, "path": d.file(), "type": "table", "description": d.about,
			"format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
			"bytes": len(files[i].Data), "hash": "sha256:" + hex.EncodeToString(digest[:]),
			"schema": schemaOf(d),
		}
	}
	text, err := json.Marshal(object{
		"$schema": profile, "name": packageName, "version": formVersion, "title": "Materials and prices for sound-absorbing panels",
		"description":      "The whole catalog of one group. The licence of each figure is that of its source, see the table sources. Before a text that a spreadsheet would take for a formula stands an apostrophe; one is taken away in reading.",
		"catalog_revision": revision, "resources": resources,
	})
	if err != nil {
		panic(fmt.Sprintf("exchange: %v", err)) // it holds texts and whole numbers only
	}
	canonical := jsontext.Value(text)
	if err := canonical.Canonicalize(); err != nil {
		panic(fmt.Sprintf("exchange: %v", err)) // it was made by an encoder
	}
	return canonical
}

// schemaOf is the Table Schema of a table. A foreign key into the same table names no
// resource (Table Schema 2.0).
func schemaOf(d description) object {
	var fields, foreign []object
	for _, f := range d.fields {
		o := object{"name": f.name, "type": string(f.kind), "description": f.about}
		if f.required {
			o["constraints"] = object{"required": true}
		}
		fields = append(fields, o)
		if f.refers == "" {
			continue
		}
		to := object{"fields": []string{"id"}}
		if f.refers != d.name {
			to["resource"] = f.refers
		}
		foreign = append(foreign, object{"fields": []string{f.name}, "reference": to})
	}
	schema := object{"fields": fields, "primaryKey": d.key, "missingValues": []string{""}}
	if foreign != nil {
		schema["foreignKeys"] = foreign
	}
	return schema
}

// secondNumber is the second number of a version, that of this form where it has none.
func secondNumber(version string) int {
	parts := strings.Split(version, ".")
	if len(parts) > 1 {
		if n, err := strconv.Atoi(parts[1]); err == nil {
			return n
		}
	}
	return secondNumber(formVersion)
}

// readDescriptor checks that the package is one of this form, and notes its revision and version.
func (r *reading) readDescriptor(text []byte) {
	var d struct {
		Name     string `json:"name"`
		Version  string `json:"version"`
		Revision int64  `json:"catalog_revision"`
	}
	if err := json.Unmarshal(text, &d); err != nil {
		r.fault(descriptorName, 0, "", "bad_descriptor", "is not a descriptor of a Data Package in JSON", "take "+descriptorName+" from an export")
		return
	}
	first, _, _ := strings.Cut(formVersion, ".")
	if d.Name != packageName || !strings.HasPrefix(d.Version, first+".") {
		r.fault(descriptorName, 0, "", "other_form", fmt.Sprintf("describes %s in version %s, not %s in version %s.x", quote(d.Name), quote(d.Version), packageName, first), "export the package again with a program of this version")
	}
	r.snapshot.Revision, r.form = d.Revision, secondNumber(d.Version)
}
