package catalog

import (
	"fmt"
	"slices"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Source says where figures come from.
type Source struct {
	Meta
	Citation string   // author, year, title, page; or what was observed
	Observer string   // who saw or measured it, if a person did
	Date     Date     // of publication or observation, may be empty
	Licence  string   // SPDX expression, or words such as "single figures, facts only"
	Evidence Evidence // the usual grade of figures from it
	Invented bool     // made up for a demonstration: never to be taken for real
	Note     string
}

// Family is a kind of fill.
type Family string

// The families of fills.
const (
	GlassWool    Family = "glass_wool"
	RockWool     Family = "rock_wool"
	MineralWool  Family = "mineral_wool_unspecified"
	Polyester    Family = "polyester"
	Cotton       Family = "cotton"
	SheepWool    Family = "sheep_wool"
	WoodFibre    Family = "wood_fibre"
	Hemp         Family = "hemp"
	Cellulose    Family = "cellulose"
	OpenCellFoam Family = "open_cell_foam"
	WoodWool     Family = "wood_wool"
	OtherFamily  Family = "other"
)

var families = []Family{GlassWool, RockWool, MineralWool, Polyester, Cotton, SheepWool, WoodFibre, Hemp, Cellulose, OpenCellFoam, WoodWool, OtherFamily}

// Form is the form in which a fill is sold.
type Form string

// The forms of fills.
const (
	Batt  Form = "batt"
	Slab  Form = "slab"
	Roll  Form = "roll"
	Sheet Form = "sheet"
	Loose Form = "loose"
)

var forms = []Form{Batt, Slab, Roll, Sheet, Loose}

// SoldSize is one size in which a fill is sold.
type SoldSize struct{ Length, Width, Thickness units.Length }

// String names the size "1200x600x50", in millimetres.
func (s SoldSize) String() string {
	return fmt.Sprintf("%gx%gx%g", float64(s.Length), float64(s.Width), float64(s.Thickness))
}

// Profile is the way in which a fill is handled; the burden model has a row for each.
type Profile string

// The profiles of the handling model.
const (
	Fibrous      Profile = "fibrous"
	DustyPlant   Profile = "dusty_plant"
	WoolProfile  Profile = "wool"
	PolyProfile  Profile = "polyester"
	FoamProfile  Profile = "foam"
	OtherProfile Profile = "other" // no row in the model: burden unknown
)

var profiles = []Profile{Fibrous, DustyPlant, WoolProfile, PolyProfile, FoamProfile, OtherProfile}

// Binder is what holds a fill together.
type Binder string

// The binders.
const (
	PhenolFormaldehyde   Binder = "phenol_formaldehyde"
	FormaldehydeFree     Binder = "formaldehyde_free_declared"
	PolyesterBicomponent Binder = "polyester_bicomponent"
	NoBinder             Binder = "none"
	UnknownBinder        Binder = "unknown"
)

var binders = []Binder{PhenolFormaldehyde, FormaldehydeFree, PolyesterBicomponent, NoBinder, UnknownBinder}

// MothTreatment is the treatment of wool against moths.
type MothTreatment string

// The moth treatments.
const (
	MothNone       MothTreatment = "none"
	MothBorate     MothTreatment = "borate"
	MothPermethrin MothTreatment = "permethrin"
	MothOther      MothTreatment = "other"
	MothUnknown    MothTreatment = "unknown"
	MothNotNeeded  MothTreatment = "not_applicable"
)

var mothTreatments = []MothTreatment{MothNone, MothBorate, MothPermethrin, MothOther, MothUnknown, MothNotNeeded}

// Handling holds what a fill asks of whoever handles it. Nothing is assumed: what is
// not known is Unknown.
type Handling struct {
	Profile  Profile
	Irritant Answer // may itch
	Dust     Answer
	Binder   Binder
	Borate   *Figure[units.Fraction] // share by mass, nil when unknown
	Moth     MothTreatment
	// BackTissue says whether a tissue is bonded to the back, which spares the full back wrap.
	BackTissue Answer
	NoteQ      Answer // of the European classification of mineral wool
	NoteR      Answer
	// Cutting is a measured cutting time per metre of cut; nil takes the profile's.
	Cutting *Figure[units.Minutes]
}

// Fill is a porous material that absorbs sound inside a panel.
type Fill struct {
	Meta
	Family        Family
	Form          Form
	Density       *Figure[units.Density]
	Resistivity   *Figure[units.AirflowResistivity]
	FibreDiameter *Figure[units.Diameter]
	SoldSizes     []SoldSize
	Fire          []FireDeclaration
	Handling      Handling
	SourceID      ID // of the record as a whole: sizes, handling
	Note          string
}

// Mounting is the letter of a test mounting (ASTM E795, ISO 354 annex B).
type Mounting string

var mountings = []Mounting{"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", UnknownMounting}

// UnknownMounting stands for a mounting that the source does not tell.
const UnknownMounting Mounting = "unknown"

// TestStandard is the method of an absorption test.
type TestStandard string

var testStandards = []TestStandard{"iso_354", "astm_c423", "handbook_table", "other"}

// Use says how a test counts among several of one fill that may contradict each other.
type Use string

// The uses. The zero value is NormalUse.
const (
	NormalUse Use = ""          // the nearest one is used
	Preferred Use = "preferred" // goes before others that fit equally or nearly so
	SetAside  Use = "set_aside" // is never used, and stays stored
)

const normalWord = "normal"

// UseOf is the use that a word names; that of an unknown word is refused by Validate.
func UseOf(word string) Use {
	if word == normalWord {
		return NormalUse
	}
	return Use(word)
}

// Word is the word of the use.
func (u Use) Word() string {
	if u == NormalUse {
		return normalWord
	}
	return string(u)
}

// AbsorptionTest is one measured diffuse-field (reverberation room) curve of one bare fill.
type AbsorptionTest struct {
	Meta
	FillID         ID
	Standard       TestStandard
	Mounting       Mounting
	MountingSuffix units.Length // number behind C, D, E, G; zero otherwise
	Thickness      units.Length
	AirGap         units.Length  // behind the specimen, 0 for mounting A
	Density        units.Density // of the specimen, zero when not stated
	Alpha          bands.Curve
	CappedAtOne    bool // the source prints no value above 1.00
	Evidence       Evidence
	SourceID       ID
	Use            Use
	UseNote        string // why it is preferred or set aside; empty for NormalUse
	Note           string
}

// Permeability is the flow of air through a fabric at a stated test pressure
// (ISO 9237, ASTM D737). Without its pressure the figure would be ambiguous.
type Permeability struct {
	Velocity float64 // face velocity, mm/s, which is also l/(m² s)
	Pressure float64 // Pa
	Evidence Evidence
	SourceID ID
}

// Stretch says how much a fabric gives.
type Stretch string

var stretches = []Stretch{"none", "low", "high", "unknown"}

// Fabric is the covering through which sound must pass.
type Fabric struct {
	Meta
	RollWidth    units.Length
	Selvedge     units.Length // on each edge, not usable
	SurfaceMass  *Figure[units.SurfaceMass]
	Resistance   *Figure[units.AirflowResistance] // stated openness
	Permeability *Permeability                    // from which openness is derived when it is not stated
	Directional  bool                             // nap, print or weave: pieces may not be turned
	Stretch      Stretch
	Fire         []FireDeclaration
	SourceID     ID
	Note         string
}

// PartKind is a kind of part.
type PartKind string

// The kinds of parts.
const (
	Timber              PartKind = "timber"
	Board               PartKind = "board"
	Hardware            PartKind = "hardware"
	Consumable          PartKind = "consumable"
	ProtectiveEquipment PartKind = "protective_equipment"
	Tool                PartKind = "tool"
)

// Role is what a part does in or for a panel; parts of one role stand in for each other.
type Role string

// The roles that a panel design or the burden model asks for.
const (
	FrameTimber Role = "frame_timber"
	BackBoard   Role = "back_board"
	Hanger      Role = "hanger"
	StandOff    Role = "stand_off"
	Screw       Role = "screw"
	Staple      Role = "staple"
	Adhesive    Role = "adhesive"
	Respirator  Role = "respirator"
	Gloves      Role = "gloves"
	Goggles     Role = "goggles"
	Coverall    Role = "coverall"
	LongSleeves Role = "long_sleeves"
	ToolRole    Role = "tool"
)

// roleKinds tells which kind of part plays a role.
var roleKinds = map[Role]PartKind{
	FrameTimber: Timber, BackBoard: Board, Hanger: Hardware, StandOff: Hardware, Screw: Hardware,
	Staple: Consumable, Adhesive: Consumable,
	Respirator: ProtectiveEquipment, Gloves: ProtectiveEquipment, Goggles: ProtectiveEquipment,
	Coverall: ProtectiveEquipment, LongSleeves: ProtectiveEquipment, ToolRole: Tool,
}

// Part is whatever a panel needs besides fill and fabric.
type Part struct {
	Meta
	Kind             PartKind
	Role             Role
	SectionThickness units.Length   // of timber and boards
	SectionWidth     units.Length   // of timber; becomes the depth of the frame
	StockLengths     []units.Length // of timber
	Density          *Figure[units.Density]
	UnitMass         *Figure[units.Mass] // of one piece of hardware or one staple
	WorkingLoad      *Figure[units.Mass] // working load limit of hardware
	UsesPerUnit      int                 // of protective equipment: wearings before it is spent; 0 for other parts
	SourceID         ID
	Note             string
}

// ReadyMadePanel is what one would buy instead of building.
type ReadyMadePanel struct {
	Meta
	Width, Height, Depth units.Length
	Mass                 *Figure[units.Mass]
	Alpha                bands.Curve // may be empty
	AlphaEvidence        Evidence
	AlphaSourceID        ID
	Mounting             Mounting // of the test behind Alpha
	Fire                 []FireDeclaration
	SourceID             ID
	Note                 string
}

// Delivery is how a supplier delivers: one fee per order, nothing from a threshold of
// goods value on, and a fee per started kilogram, each optional.
type Delivery struct {
	Fee      money.Amount
	FreeFrom *money.Amount // nil: never free
	PerKg    money.Amount  // zero: none
	Basis    WeightBasis   // what PerKg counts
	Divisor  int           // cm³ for one kg, for weight by size; 0 otherwise
	// FreeCoversWeight says that FreeFrom waives PerKg too.
	FreeCoversWeight bool
}

// WeightBasis is the weight for which a carrier charges.
type WeightBasis string

// The bases.
const (
	ActualWeight      WeightBasis = "actual"
	DimensionalWeight WeightBasis = "dimensional" // the volume by the divisor
	GreaterWeight     WeightBasis = "greater"     // the larger of both
)

// WeightBases lists the words for bases.
var WeightBases = []WeightBasis{ActualWeight, DimensionalWeight, GreaterWeight}

// Supplier sells things.
type Supplier struct {
	Meta
	Country  string // ISO 3166-1 alpha-2
	Region   string // where it delivers or stands, free words of the group
	Currency money.Currency
	Delivery *Delivery     // nil: does not deliver
	TripCost *money.Amount // cost of collecting an order; nil: cannot be collected
	SourceID ID
	Note     string
}

// ItemKind is the noun that an offer sells.
type ItemKind string

// What can be offered.
const (
	FillItem      ItemKind = "fill"
	FabricItem    ItemKind = "fabric"
	PartItem      ItemKind = "part"
	ReadyMadeItem ItemKind = "ready_made_panel"
)

var itemKinds = []ItemKind{FillItem, FabricItem, PartItem, ReadyMadeItem}

// Offer is one item in one pack size at one supplier. Which of the pack fields applies
// follows from the item: pieces of a sold size of a fill, a length of fabric, boards
// of a stock length, pieces of another part, ready-made panels.
type Offer struct {
	Meta
	SupplierID  ID
	ItemKind    ItemKind
	ItemID      ID
	SoldSize    *SoldSize    // of a fill
	StockLength units.Length // of timber
	PackCount   int          // things in a pack; 0 for fabric
	PackLength  units.Length // of fabric in one selling unit; zero otherwise
	PackMass    units.Mass   // for delivery by weight, zero when not stated
	PackVolume  float64      // for delivery by size, litres, zero when not stated
	MinPacks    int          // least number sold, 0 for any
	MaxPacks    int          // stock at the shop, 0 for no limit
	SourceID    ID
	Note        string
}

// Break is the price of one pack from a number of packs on, for all of them.
type Break struct {
	From  int
	Price money.Amount
}

// Price is one price of an offer seen on one day, for one pack. Prices are only ever
// added: a correction is a new row that names the row it corrects.
type Price struct {
	ID          ID
	OfferID     ID
	Amount      money.Amount
	Breaks      []Break // lower prices of a pack, by rising number of packs
	TaxIncluded bool
	TaxRateBP   int // basis points, 1900 for 19 %
	Observed    Date
	Corrects    ID
	Evidence    Evidence
	SourceID    ID
	Note        string
	Created     time.Time
	CreatedBy   string
}

// Families lists the words for families.
func Families() []Family { return families }

// Forms lists the words for forms of fills.
func Forms() []Form { return forms }

// Mountings lists the words for test mountings.
func Mountings() []Mounting { return mountings }

// TestStandards lists the words for methods of absorption tests.
func TestStandards() []TestStandard { return testStandards }

// Stretches lists the words for how much a fabric gives.
func Stretches() []Stretch { return stretches }

// ItemKinds lists the words for what can be offered.
func ItemKinds() []ItemKind { return itemKinds }

// PartKinds lists the words for kinds of parts in their order.
func PartKinds() []PartKind {
	list := make([]PartKind, 0, len(roleKinds))
	for _, kind := range roleKinds {
		list = append(list, kind)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// Roles lists the roles of parts in the order of their words.
func Roles() []Role {
	list := make([]Role, 0, len(roleKinds))
	for r := range roleKinds {
		list = append(list, r)
	}
	slices.Sort(list)
	return list
}
