// Package nature makes up what a determination service is tried on: specimens, their photos, and people who look at
// them. It is drawn from the diagnosis tables and from the names of their confused states, and knows nothing of how
// confidence or reliability are computed: it must be able to contradict them.
//
// The club lives somewhere: a few families are common there, many others hardly ever fly in, and the club's list says so
// roughly. An owner states what they notice first, then what the service asks for.
//
// What it takes for true differs on purpose from what the service assumes. Everybody has accuracies of their own by
// character, with weak regions of the body and a weak character. Misreading has a direction, but the tables are right for the
// most part only about which states are overlooked and which are imagined. Whoever misreads one character of a group that is
// judged at one glance tends to misread the others. A bad photo misleads everybody alike about most of what it shows.
// A few cells of the tables are wrong, the gaps of the tables are filled by relatives, states that exclude each other by
// the meaning of the words never occur together, and some specimens belong to families that the tables do not have.
//
// Everything hangs on the seed and on who looks at what, never on the order of calls: whoever looks at a character of a
// specimen sees the same thing in every course of events.
//
// All figures below are judgements about an ordinary club, no source.
package nature

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"revidit/review/diagnosis"
)

// Options say what world it is.
type Options struct {
	Seed      uint64
	Specimens int // above 0
	// WrongCells is the share of the cells of the tables that are wrong, 0 to 1.
	WrongCells float64
	// ConfirmsAll makes the first reviewer confirm every state and every name without looking.
	ConfirmsAll bool
	// Copies makes the first two reviewers say what the other has said before them.
	Copies bool
}

// UsuallyWrongCells is the share of wrong cells on an ordinary day.
const UsuallyWrongCells = 0.01

// NoListedFamily is the family of specimens that the tables do not know.
const NoListedFamily = "none-of-these"

const (
	members   = 40
	reviewers = 12
	// unlisted is the share of specimens of families that the tables do not have, and unlistedFamilies their number.
	unlisted         = 0.012
	unlistedFamilies = 8
	strange          = 0.9
	// common is the number of families that are found where the club is, strays the share of specimens of all others.
	common = 15
	strays = 0.01
	// localSpread is by how much a family is more or less common there than the number of its species lets expect, and
	// listError by how much the list errs, both in natural logarithms.
	localSpread = 1.2
	listError   = 0.4
)

// World is one made-up club. It is read-only and safe for concurrent use.
type World struct {
	Options
	Tables    *diagnosis.Tables
	People    []Person // the members, then the reviewers
	Specimens []Specimen
	// List is what the club thinks is found where it is: weights by family.
	List map[string]float64

	families []family
	groups   []int // dependent group of each character, or -1
}

// family is what a family truly looks like.
type family struct {
	name    string
	parent  int // the listed family that people take an unlisted one for; itself otherwise
	weight  float64
	forms   []form
	similar []int // families that are easily taken for it
}

type form struct {
	weight float64
	cells  []*diagnosis.Cell // by character
}

// New makes a world.
func New(tables *diagnosis.Tables, o Options) *World {
	w := &World{Options: o, Tables: tables}
	w.addFamilies()
	w.settle()
	w.spoilCells()
	w.addUnlisted()
	w.addGroups()
	w.addPeople()
	for i := range o.Specimens {
		w.Specimens = append(w.Specimens, w.specimen(i))
	}
	for i := range w.Specimens {
		w.Specimens[i].Proposed = w.name(i, w.Specimens[i].Owner)
	}
	return w
}

// addGroups finds the dependent group of each character.
func (w *World) addGroups() {
	w.groups = make([]int, len(w.Tables.Characters))
	for c := range w.Tables.Characters {
		w.groups[c] = slices.IndexFunc(w.Tables.Dependent, func(d diagnosis.Dependent) bool {
			return slices.Contains(d.Characters, w.Tables.Characters[c].ID)
		})
	}
}

// settle decides which families are common where the club is.
func (w *World) settle() {
	d := w.dice(locally, 0)
	order := make([]int, len(w.families))
	for i := range w.families {
		order[i] = i
		w.families[i].weight *= math.Exp(localSpread * d.NormFloat64())
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(w.families[b].weight, w.families[a].weight) })
	commonest, rest := order[:min(common, len(order))], order[min(common, len(order)):]
	total := 0.0
	w.List = map[string]float64{}
	for _, i := range commonest {
		total += w.families[i].weight
		w.List[w.families[i].name] = w.families[i].weight * math.Exp(listError*d.NormFloat64())
	}
	others := 0.0
	for _, i := range rest {
		others += w.families[i].weight
	}
	for _, i := range rest {
		w.families[i].weight *= total / others * strays / (1 - strays)
	}
}

func (w *World) addFamilies() {
	for i := range w.Tables.Families {
		f := &w.Tables.Families[i]
		made := family{name: f.Name, parent: i, weight: math.Sqrt(float64(max(f.Species, 1)))}
		for g := range f.Forms {
			made.forms = append(made.forms, form{weight: f.Forms[g].Weight, cells: w.cellsOf(i, g)})
		}
		for _, l := range f.LookAlikes {
			if at := w.Tables.FamilyIndex(l.Family); at >= 0 {
				made.similar = append(made.similar, at)
			}
		}
		w.families = append(w.families, made)
	}
}

// cellsOf fills what the tables lack with the cell of a relative: the specimen shows some state all the same.
func (w *World) cellsOf(f, g int) []*diagnosis.Cell {
	cells := make([]*diagnosis.Cell, len(w.Tables.Characters))
	for c := range w.Tables.Characters {
		id := w.Tables.Characters[c].ID
		cells[c] = w.Tables.Families[f].Forms[g].Cells[id]
		if cells[c] == nil {
			cells[c] = w.relativesCell(f, c)
		}
	}
	return cells
}

// relativesCell is of the same superfamily where one of it has the character, otherwise of any family.
func (w *World) relativesCell(f, c int) *diagnosis.Cell {
	id := w.Tables.Characters[c].ID
	var near, all []*diagnosis.Cell
	for i := range w.Tables.Families {
		cell := w.Tables.Families[i].Cells[id]
		if cell == nil {
			continue
		}
		all = append(all, cell)
		if w.Tables.Families[i].Superfamily == w.Tables.Families[f].Superfamily {
			near = append(near, cell)
		}
	}
	if len(near) > 0 {
		all = near
	}
	if len(all) == 0 {
		return nil
	}
	return all[w.dice(relative, f, c).IntN(len(all))]
}

// spoilCells puts the cell of another family where the tables are wrong. All forms that share a cell share the mistake.
func (w *World) spoilCells() {
	type place struct{ family, character int }
	for f := range w.families {
		for c := range w.Tables.Characters {
			d := w.dice(wrongCell, f, c)
			if d.Float64() >= w.WrongCells {
				continue
			}
			at := place{d.IntN(len(w.Tables.Families)), c}
			cell := w.Tables.Families[at.family].Cells[w.Tables.Characters[at.character].ID]
			if cell == nil {
				continue
			}
			for g := range w.families[f].forms {
				w.families[f].forms[g].cells[c] = cell
			}
		}
	}
}

// addUnlisted makes families that the tables do not have: mixtures of a listed one, of relatives and of any other.
func (w *World) addUnlisted() {
	listed := len(w.families)
	total := 0.0
	for _, f := range w.families {
		total += f.weight
	}
	for n := range unlistedFamilies {
		d := w.dice(mixture, n, 0)
		parent := d.IntN(listed)
		made := family{name: NoListedFamily, parent: parent, weight: total * unlisted / (1 - unlisted) / unlistedFamilies,
			forms: []form{{weight: 1, cells: slices.Clone(w.families[parent].forms[0].cells)}}}
		for c := range made.forms[0].cells {
			if d.Float64() < strange {
				other := w.families[d.IntN(listed)]
				made.forms[0].cells[c] = other.forms[d.IntN(len(other.forms))].cells[c]
			}
		}
		w.families = append(w.families, made)
	}
}

func personID(i int) string { return fmt.Sprintf("person-%02d", i) }
