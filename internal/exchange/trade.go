package exchange

import (
	"math"
	"strconv"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

func supplierTable() noun[catalog.Supplier] {
	type r = catalog.Supplier
	type d = catalog.Delivery
	same := func(a *money.Amount) *money.Amount { return a }
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "suppliers", about: "Who sells things; one that does not deliver has no delivery_weight_basis.", kind: catalog.NounSupplier, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Suppliers },
		columns: columns(metaColumns(catalog.NounSupplier, meta), []column[r]{
			text("country", "ISO 3166-1 alpha-2.", func(x *r) *string { return &x.Country }),
			text("region", "Where it delivers or stands, in words.", func(x *r) *string { return &x.Region }),
			text("currency", "Currency of its prices and fees (ISO 4217).", func(x *r) *money.Currency { return &x.Currency }).need(),
		},
			part(func(x *r) **d { return &x.Delivery }, columns(
				amount("delivery_fee", "Fee of one order.", "/delivery/fee", func(x *d) *money.Amount { return &x.Fee }),
				part(func(x *d) **money.Amount { return &x.FreeFrom }, amount("delivery_free_from", "Goods value of an order from which on delivery is free.", "/delivery/free_from", same)...),
				amount("delivery_per_kg", "Fee per started kg.", "/delivery/per_kg", func(x *d) *money.Amount { return &x.PerKg }),
				[]column[d]{
					text("delivery_weight_basis", "The weight that counts: actual, dimensional or greater.", func(x *d) *catalog.WeightBasis { return &x.Basis }).under("/delivery/weight_basis").need(),
					wholeIf("delivery_divisor_cm3_per_kg", "Cubic centimetres that count as one kg.", func(x *d) *int { return &x.Divisor }).under("/delivery/divisor_cm3_per_kg"),
					flag("delivery_free_covers_weight", "Whether free delivery waives the fee per kg too.", func(x *d) *bool { return &x.FreeCoversWeight }).under("/delivery/free_covers_weight"),
				})...),
			part(func(x *r) **money.Amount { return &x.TripCost }, amount("trip_cost", "Cost of collecting an order; empty where none can be collected.", "/trip_cost", same)...),
			[]column[r]{sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note })}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

// item is the column of what an offer sells, of the one kind that it is for.
func item(name, table string, kind catalog.ItemKind) column[catalog.Offer] {
	c := reference(name, "What is sold, where that is of the table "+table+"; an offer fills one of these four columns.", table, func(x *catalog.Offer) *catalog.ID { return &x.ItemID }).under("/item_id")
	held := c.get
	c.get = func(x *catalog.Offer) string {
		if x.ItemKind != kind {
			return ""
		}
		return held(x)
	}
	c.set = func(x *catalog.Offer, s string) (string, string) {
		if x.ItemKind != "" {
			return "names a second thing that is sold", "fill one of fill_id, fabric_id, part_id and ready_made_panel_id"
		}
		x.ItemKind, x.ItemID = kind, catalog.ID(s)
		return "", ""
	}
	return c
}

func offerTable() noun[catalog.Offer] {
	type r = catalog.Offer
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "offers", about: "One thing in one pack at one supplier.", kind: catalog.NounOffer, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta, freeName: true,
		list: func(s *catalog.Snapshot) *[]r { return &s.Offers },
		columns: columns(metaColumns(catalog.NounOffer, meta), []column[r]{
			reference("supplier_id", "Who sells.", "suppliers", func(x *r) *catalog.ID { return &x.SupplierID }).need(),
			item("fill_id", "fills", catalog.FillItem),
			item("fabric_id", "fabrics", catalog.FabricItem),
			item("part_id", "parts", catalog.PartItem),
			item("ready_made_panel_id", "ready_made_panels", catalog.ReadyMadeItem),
		},
			part(func(x *r) **catalog.SoldSize { return &x.SoldSize }, sizeColumns("sold_", "/sold_size")...),
			[]column[r]{
				numberIf("stock_length_mm", "Length of timber in millimetres.", func(x *r) *units.Length { return &x.StockLength }),
				wholeIf("pack_count", "Things in a pack; empty for fabric.", func(x *r) *int { return &x.PackCount }),
				numberIf("pack_length_mm", "Length of fabric in one selling unit, in millimetres.", func(x *r) *units.Length { return &x.PackLength }),
				numberIf("pack_mass_kg", "Mass of a pack in kg.", func(x *r) *units.Mass { return &x.PackMass }),
				numberIf("pack_volume_l", "Volume of a pack in litres.", func(x *r) *float64 { return &x.PackVolume }),
				wholeIf("min_packs_count", "Least number of packs sold.", func(x *r) *int { return &x.MinPacks }),
				wholeIf("max_packs_count", "Packs in stock.", func(x *r) *int { return &x.MaxPacks }),
				sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
			}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

func priceTable() noun[catalog.Price] {
	type r = catalog.Price
	id := func(x *r) *catalog.ID { return &x.ID }
	return noun[r]{
		name: "prices", about: "What an offer cost on one day, one pack; prices are only ever added. Lower prices for more packs stand in price_breaks.", kind: catalog.NounPrice, id: id,
		list: func(s *catalog.Snapshot) *[]r { return &s.Prices },
		columns: columns([]column[r]{
			idColumn(catalog.NounPrice, id),
			reference("offer_id", "The offer.", "offers", func(x *r) *catalog.ID { return &x.OfferID }).need(),
		},
			amount("price", "Price of one pack.", "/price", func(x *r) *money.Amount { return &x.Amount }),
			[]column[r]{
				flag("tax_included", "Whether tax is in the price.", func(x *r) *bool { return &x.TaxIncluded }),
				percent("tax_rate_percent", "Rate of the tax in per cent.", func(x *r) *int { return &x.TaxRateBP }),
				day("observed_date", "Day on which the price was seen.", func(x *r) *catalog.Date { return &x.Observed }).need(),
				reference("corrects_id", "The price that this one corrects.", "prices", func(x *r) *catalog.ID { return &x.Corrects }),
				text("evidence", "How the price came to be known.", func(x *r) *catalog.Evidence { return &x.Evidence }).need(),
				sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
				instant("create_time", "When the price was stored (UTC).", func(x *r) *time.Time { return &x.Created }).need(),
				text("created_by", "Who stored it.", func(x *r) *string { return &x.CreatedBy }),
			}),
		validate: func(x r, today catalog.Date) error { return x.Validate(today) },
	}
}

// percent is a share kept in basis points and written in per cent.
func percent[R any](name, about string, at func(*R) *int) column[R] {
	return plain(name, about, numberKind, func(r *R) string { return numeral(float64(*at(r)) / 100) },
		func(r *R, s string) (string, string) {
			x, err := strconv.ParseFloat(s, 64)
			points := math.Round(x * 100)
			if err != nil || math.Abs(points) > maxWhole || numeral(points/100) != numeral(x) {
				return "is not a share in per cent with at most two decimals: " + quote(s), "write it like 21 or 5.5"
			}
			*at(r) = int(points)
			return "", ""
		}).need()
}

func priceBreaks(parent *noun[catalog.Price]) table {
	type r = catalog.Break
	price := amount("price", "Price of one pack, in the currency of the price.", "/price", func(b *r) *money.Amount { return &b.Price })[0]
	t := listOf(parent, "price_breaks", "Lower prices of a pack for more packs, for all of them.", "price_id", "/breaks",
		func(p *catalog.Price) *[]r { return &p.Breaks },
		[]column[r]{whole("from_count", "Number of packs from which on it holds.", func(b *r) *int { return &b.From }), price.need()})
	t.attach = func(p *catalog.Price, b *r) { b.Price = money.FromMicro(b.Price.Micro(), p.Amount.Currency()) }
	return t
}
