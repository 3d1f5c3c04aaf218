// Package seed holds the demo catalog: published figures of materials with their sources,
// and the invented goods, shops and prices of the demo scenario, which say so.
//
// # The files
//
// Everything is read from the CSV files of this folder, one noun each, which are edited
// by hand: UTF-8, commas, one header row, decimal points, an empty cell for what is
// not known. Units stand at the end of a column's name, yes and no for switches,
// dates as 2026-11-02, and another record is named by its slug.
//
//	sources.csv            where figures come from; invented = yes for the demo scenario
//	fills.csv              materials: density, airflow resistivity, fibre, handling
//	sold_sizes.csv         the sizes in which a fill is sold
//	absorption_tests.csv   diffuse-room curves in octaves; the end of a slug names the row of
//	                       testdata/porous.csv from which it was copied
//	fabrics.csv            coverings, with a stated openness or an air permeability
//	parts.csv              timber, boards, hardware, protective equipment, tools
//	ready_made_panels.csv  what one would buy instead
//	designs.csv            panels without fill and fabric
//	rooms.csv              rooms in which panels are hung (all invented)
//	room_surfaces.csv      what bounds a room, by the names of published surfaces
//	room_things.csv        who sits and what stands in a room
//	fire_declarations.csv  fire classes of fills, fabrics and panels (all invented)
//	suppliers.csv          shops (all invented)
//	offers.csv             one item in one pack at one shop (all invented)
//	prices.csv             what an offer cost on a day (all invented)
//
// A figure takes the columns value, low, high, evidence, source and basis, for example
// density_kg_per_m3, density_low_kg_per_m3, density_high_kg_per_m3, density_evidence,
// density_source and density_basis.
//
// # On what the figures rest
//
// Curves of fills are copied from published tables of diffuse-room values and graded
// published; only the ready-made panels have invented ones, which say so. An airflow
// resistivity is measured or published where a source has a specimen, remembered where it
// was not read, and estimated where it was computed from density and fibre or is the
// middle of a reported range: then its basis begins with the formula, and the tests compute
// it again. A fill without an honest relation has none and is usable only as it was
// measured. Goods, their sizes, fire classes, shops and prices are invented; their sources
// are marked so, and the names of shops and offers end in "(invented)".
//
// On purpose, to show what a ranking does with them: glass-wool-130, cellulose-loose and
// the fabric glass-cloth-96 have no offer, the only price of polyester-fine-50 is of 2024, cellulose-loose has no acoustic figure, one price is the
// correction of another, the protective equipment for felt-unstated is unknown because
// nobody names its fibre, and glass-wool-unstated, mineral-board-170 and wood-wool-400 have
// curves but no airflow resistivity, so that the effect of a fabric on them is unclear.
//
// # Ids and dates
//
// All records are of one moment and one author, and an id is computed from noun and slug,
// so that two loads are equal and a new row changes no other record.
package seed

import (
	"crypto/sha256"
	"embed"
	"encoding/base32"
	"encoding/binary"
	"io/fs"
	"time"

	"sabinbook/internal/catalog"
)

//go:embed *.csv
var files embed.FS

// author is who made and last changed every record of the seed.
const author = "seed"

// moment is when every record of the seed was made.
var moment = time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)

// Load returns the demo catalog in the order of a snapshot, at revision 1. It fails, naming
// file and line of every fault, when a file does not have the columns it must have, a
// cell cannot be read or a row names a record that is not there. It does not apply the
// rules of package catalog: whoever stores the records does, and so do the tests.
func Load() (catalog.Snapshot, error) { return read(files) }

// read reads the catalog from the files of a folder.
func read(files fs.FS) (catalog.Snapshot, error) {
	l := &loader{files: files, known: map[catalog.ID]bool{}}
	s := catalog.Snapshot{Revision: 1}
	// Sources come first: a row may only name what has been read before it.
	s.Sources = load(l, "sources.csv", sourceColumns, source)
	sizes, fire := l.soldSizes(), l.fireDeclarations()
	s.Fills = load(l, "fills.csv", fillColumns, func(w row) catalog.Fill { return fill(w, sizes, fire) })
	s.Tests = load(l, "absorption_tests.csv", testColumns, absorptionTest)
	s.Fabrics = load(l, "fabrics.csv", fabricColumns, func(w row) catalog.Fabric { return fabric(w, fire) })
	s.Parts = load(l, "parts.csv", partColumns, part)
	s.ReadyMade = load(l, "ready_made_panels.csv", readyMadeColumns, func(w row) catalog.ReadyMadePanel { return readyMade(w, fire) })
	s.Designs = load(l, "designs.csv", designColumns, design)
	surfaces, things := l.roomSurfaces(), l.roomThings()
	s.Rooms = load(l, "rooms.csv", roomColumns, func(w row) catalog.Room { return room(w, surfaces, things) })
	surfaces.unowned("room")
	things.unowned("room")
	sizes.unowned("fill")
	fire.unowned("item")
	s.Suppliers = load(l, "suppliers.csv", supplierColumns, supplier)
	s.Offers = load(l, "offers.csv", offerColumns, offer)
	s.Prices = load(l, "prices.csv", priceColumns, price)
	if err := l.err(); err != nil {
		return catalog.Snapshot{}, err
	}
	s.Sort()
	return s, nil
}

// idText writes the 16 bytes of an id in 26 characters 0-9a-v that sort like the bytes.
var idText = base32.NewEncoding("0123456789abcdefghijklmnopqrstuv").WithPadding(base32.NoPadding)

// id returns the permanent id of the record of a noun that is called by key: the layout of
// a UUID version 7 (RFC 9562 section 5.7: 48 bits of Unix milliseconds, version, 12 bits,
// variant, 62 bits) with the fixed moment and, where a new record has random bits, the
// SHA-256 of noun and key.
func id(n catalog.Noun, key string) catalog.ID {
	sum := sha256.Sum256([]byte(n.Prefix + "/" + key))
	var b [16]byte
	binary.BigEndian.PutUint64(b[:8], uint64(moment.UnixMilli())<<16)
	copy(b[6:], sum[:10])
	b[6] = b[6]&0x0f | 0x70
	b[8] = b[8]&0x3f | 0x80
	return catalog.ID(n.Prefix + "_" + idText.EncodeToString(b[:]))
}
