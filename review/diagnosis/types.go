// Package diagnosis holds what marks a family: characters, their states, and for each family which states occur and
// how often, with the source of every cell.
//
// The knowledge is data: a group of taxa (adult beetles, to family) is one folder of YAML files whose format is
// FORMAT.md. Load reads a folder strictly and reports every problem with file and line. This package computes nothing
// about a specimen: that is review/assess.go, with the numbers of review/confidence.
package diagnosis

import (
	"io/fs"
	"slices"
)

// Kind says how a character is recorded.
type Kind string

const (
	// KindStates is a choice among named states.
	KindStates Kind = "states"
	// KindCount is a whole number; its states are the numbers Min to Max in order.
	KindCount Kind = "count"
	// KindLength is a length in millimetres.
	KindLength Kind = "length"
)

// Tables is one release of one group, read-only after Load.
type Tables struct {
	Group        Group
	Characters   []Character // in the order of characters.yaml
	Dependent    []Dependent
	Incompatible []Incompatible
	AtMost       []AtMost
	Families     []Family // by name
	Faunas       []Fauna  // by id
	Sources      []Source // in the order of sources.yaml
	Plates       []Plate  // in the order of parts.yaml, as the parts; none of either where a group has no such file
	Parts        []Part
	Terms        []Term // in the order of glossary.yaml
	// Hash is the SHA-256 over the names and contents of all files, in hex: the identity of a release.
	Hash string

	characterIndex map[string]int
	familyIndex    map[string]int
	sourceIndex    map[string]int
	oldNames       map[string]oldNameRef
	pictures       map[string]string // SVG by "character/state"
	folder         fs.FS             // what Load has read

	// spoken are the other languages of tables as they were loaded; of what In makes of them, english are those, in language
	// by words.
	spoken   *spoken
	english  *Tables
	language string
	words    map[string]string
}

// Group describes what a folder of tables is about.
type Group struct {
	ID, Title, Taxon, Rank string
	Release, Notes         string
	// BetterFitDecibans is how much better (10 log10 of the likelihood ratio) a rival must explain the observations
	// before it is flagged.
	BetterFitDecibans float64
	Cautions          []string
	// Quarantine is what to do where a specimen may be of a species that Family.Quarantine names, and Handling what to mind
	// where specimens are prepared and drawers are handled; empty where the tables say nothing.
	Quarantine string
	Handling   []string
	Views      []View
	// Within is the id of a wider group of tables, one of whose taxa is Taxon; empty for none.
	Within string
	// Turning is the effort of turning a pinned specimen to another side, Photo that of taking one more photo, both in
	// glances (Character.Effort); 0 where the tables do not say.
	Turning, Photo float64
}

// View is what a photo shows, in the terms of Audiovisual Core.
type View struct {
	ID, Label         string
	Part, Orientation string // subjectPart, subjectOrientation
}

// Character is a feature that can be observed on a specimen.
type Character struct {
	ID, Label, Region string
	Kind              Kind
	How               string   // how it is recorded
	Views             []string // view ids, any of which can show it
	Parts             []string // part ids, the chief one first; none in a group without parts
	// States in order. For KindCount they are made from Min..Max, with the number as id and label; for KindLength empty.
	States []State
	// Min and Max bound what may be stated: whole numbers for KindCount, millimetres for KindLength.
	Min, Max float64
	Confused []Confused
	Mistaken []Mistaken
	// Striking are state ids that are often overlooked and hardly ever imagined.
	Striking []string
	// Read are, by state, the probabilities of reading it right; nil where all are ordinary.
	Read []Rates
	// Mentioned are, by state, the probabilities that a member who tells freely what strikes the eye mentions the character
	// where the state is to be seen, and Silence says that it was not; nil and "" where silence tells nothing.
	Mentioned []float64
	Silence   string
	// Beside are other regions of the body: who speaks of one of them has had this character before their eyes, too.
	Beside []string
	// NeverExcludes: states overlap so that none is ever a reason to exclude a family.
	NeverExcludes bool
	// OnlyLive are state ids that can be stated on live material only.
	OnlyLive []string
	// Effort of one look, in glances at what a pinned specimen shows at once; 1 where the tables do not say. Needs says in
	// words what a look takes beyond that; empty for nothing.
	Effort float64
	Needs  string
	// AskFirst: to be looked at before anything else, as long as it can tell anything.
	AskFirst bool

	line int // in characters.yaml
}

// State is one way a character can be.
type State struct{ ID, Label, Hint string }

// Confused is a pair of states that people mix up, with a weight against 1 for any other pair.
type Confused struct {
	States [2]string
	Weight float64
}

// Mistaken is a state that is read where another one is true, with its weight among the errors there, in place of what
// Confused and Striking make of it.
type Mistaken struct {
	From, To string
	Weight   float64
}

// Rates are probabilities by who looks, above 0 and below 1; 0 stands for what is ordinary.
type Rates struct{ Member, Reviewer float64 }

// imagined is what the weight of a striking state among the errors is multiplied by where something plain is true. Assumed,
// no source.
const imagined = 0.1

// Dependent is a set of characters that partly say the same thing; each counts with Exponent (0 to 1) when two or
// more of them are stated.
type Dependent struct {
	ID         string
	Characters []string
	Exponent   float64
	Because    string
}

// Selection is a character with some of its states.
type Selection struct {
	Character string
	States    []string
}

// Incompatible are two selections that cannot both be true of one specimen, whatever the family.
type Incompatible struct {
	ID            string
	First, Second Selection
	Because       string
}

// AtMost is a count character (Less) that cannot exceed another (More) on one specimen.
type AtMost struct{ ID, Less, More, Because string }

// Source is a cited work.
type Source struct{ ID, Citation string }

// Basis says whether the source was read for this cell or is cited from memory.
type Basis string

const (
	BasisRead Basis = "read"
	// BasisInPart: what was read in the source covers a part of the cell only (a region of the world, a subfamily or sex, some
	// of the states); the note says which, and the rest is from memory.
	BasisInPart Basis = "read-in-part"
	BasisMemory Basis = "memory"
)

// Bases are all of them, as they are written, in the order of certainty.
var Bases = []Basis{BasisRead, BasisInPart, BasisMemory}

// WasRead says so of a source, be it of a part of the cell only.
func (b Basis) WasRead() bool { return b == BasisRead || b == BasisInPart }

// Citation is the source of a cell: a work, a place in it (chapter, section or page), and how it was consulted.
type Citation struct {
	Source string `json:"source"` // id in Tables.Sources
	Place  string `json:"place"`
	Basis  Basis  `json:"basis"`
}

// Family is a taxon of the group's rank.
type Family struct {
	Name, Superfamily, Common string
	Species                   int // described in the world, approximate
	SpeciesSource             string
	Caution                   string
	// Dissecting is what to mind where one is relaxed, mounted or dissected; empty for nothing beyond the group's own words.
	Dissecting string
	// Quarantine are species of this family that have to be reported.
	Quarantine []Reportable
	OldNames   []OldName
	LookAlikes []LookAlike
	// Inseparable are families that the characters of these tables do not always tell from this one.
	Inseparable []Inseparable
	// Forms make up the family; weights sum to 1; at least one. Their cells are complete: what a form does not
	// override is the family's own cell (the same pointer).
	Forms []Form
	// Cells are the family's own, before its forms, by character id.
	Cells map[string]*Cell
	File  string
}

// Reportable is a species that plant health services want to hear of at once, by its scientific and its common name.
type Reportable struct{ Name, Common string }

// OldName is a name that this family holds today.
type OldName struct{ Name, Remark string }

// LookAlike is a family easily taken for this one, and what tells them apart.
type LookAlike struct {
	Family, Tell string

	line int // in the family's file
}

// Inseparable is a family that the characters of the tables do not always tell from the one that names it: Because
// says why, Needs what it takes.
type Inseparable struct{ Family, Because, Needs string }

// Form is a part of a family that looks alike: a subfamily, a sex, a flightless genus.
type Form struct {
	ID, Label string
	Weight    float64 // 0 to 1, within the family
	Sex       string  // "", "male" or "female"
	Cells     map[string]*Cell
	// Own are the character ids that this form overrides.
	Own []string

	line int // in the family's file; 0 where the family has no forms of its own
}

// Cell is what a family or form shows in one character.
type Cell struct {
	Character string
	// P are the probabilities of the character's states, in its order, summing to 1; nil for KindLength.
	P []float64
	// Words are the frequency words (or numbers) as written, per state, "never" included; nil for KindLength.
	Words    []string
	Length   Length // KindLength only
	Citation Citation
	Note     string
	File     string
	Line     int
}

// Length is a range of body length or the like in millimetres: Usual holds the 5th and 95th percentile of a
// log-normal, Min and Max the extremes known.
type Length struct {
	Min   float64    `json:"min"`
	Max   float64    `json:"max"`
	Usual [2]float64 `json:"usual"`
}

type oldNameRef struct {
	family int
	remark string
}

// Folder is the folder that the tables were read from.
func (t *Tables) Folder() fs.FS { return t.folder }

// Character returns the character with that id, or false.
func (t *Tables) Character(id string) (*Character, bool) {
	i, ok := t.characterIndex[id]
	if !ok {
		return nil, false
	}
	return &t.Characters[i], true
}

// CharacterIndex returns the position of a character in Characters, or -1.
func (t *Tables) CharacterIndex(id string) int {
	i, ok := t.characterIndex[id]
	if !ok {
		return -1
	}
	return i
}

// Family returns the family with that accepted name, or false.
func (t *Tables) Family(name string) (*Family, bool) {
	i, ok := t.familyIndex[name]
	if !ok {
		return nil, false
	}
	return &t.Families[i], true
}

// FamilyIndex returns the position of an accepted name in Families, or -1.
func (t *Tables) FamilyIndex(name string) int {
	i, ok := t.familyIndex[name]
	if !ok {
		return -1
	}
	return i
}

// Resolve returns the family that holds a name today. For an old name remark says what became of it; it is empty for
// an accepted one. Names are compared as written.
func (t *Tables) Resolve(name string) (family *Family, remark string, ok bool) {
	if f, ok := t.Family(name); ok {
		return f, "", true
	}
	ref, ok := t.oldNames[name]
	if !ok {
		return nil, "", false
	}
	return &t.Families[ref.family], ref.remark, true
}

// Source returns the work with that id, or false.
func (t *Tables) Source(id string) (*Source, bool) {
	i, ok := t.sourceIndex[id]
	if !ok {
		return nil, false
	}
	return &t.Sources[i], true
}

// State returns the index of a state id within the character, or -1.
func (c *Character) State(id string) int {
	for i := range c.States {
		if c.States[i].ID == id {
			return i
		}
	}
	return -1
}

// IsStriking says so of a state, by its index.
func (c *Character) IsStriking(state int) bool {
	return slices.Contains(c.Striking, c.States[state].ID)
}

// MistakenFor is the weight of a state among the errors where another is true, by their indices: 1 where nothing is known of
// the two.
func (c *Character) MistakenFor(from, to int) float64 {
	a, b := c.States[from].ID, c.States[to].ID
	for _, m := range c.Mistaken {
		if m.From == a && m.To == b {
			return m.Weight
		}
	}
	weight := 1.0
	for _, pair := range c.Confused {
		if slices.Contains(pair.States[:], a) && slices.Contains(pair.States[:], b) {
			weight = pair.Weight
		}
	}
	if c.IsStriking(to) && !c.IsStriking(from) {
		weight *= imagined
	}
	return weight
}

// Explained returns what is written about two families that the characters do not always tell apart, and false where
// nothing is. Either may name the other; the first one's own words come first.
func Explained(a, b *Family) (Inseparable, bool) {
	for _, pair := range [][2]*Family{{a, b}, {b, a}} {
		for _, i := range pair[0].Inseparable {
			if i.Family == pair[1].Name {
				return i, true
			}
		}
	}
	return Inseparable{}, false
}

// Share returns how much of the family shows a state, over all forms by weight, 0 to 1, and false where a form has
// no cell for the character. state is an index into Character.States.
func (f *Family) Share(character string, state int) (p float64, known bool) {
	for i := range f.Forms {
		cell := f.Forms[i].Cells[character]
		if cell == nil || cell.P == nil {
			return 0, false
		}
		p += f.Forms[i].Weight * cell.P[state]
	}
	return p, true
}

// Regions are the regions of the body that characters belong to, in the order of the tables.
func (t *Tables) Regions() []string {
	var regions []string
	for i := range t.Characters {
		if region := t.Characters[i].Region; !slices.Contains(regions, region) {
			regions = append(regions, region)
		}
	}
	return regions
}
