package judgement

import (
	"sync"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Method names the version of the arithmetic; it changes when the same evidence and tables would give another number. An
// assessment keeps the number and the name of the method by which it was made.
const Method = "mixture-posterior/3"

// SecondMethod is the one before, in which what a free list leaves out told nothing where somebody else had stated it, how often
// things are mentioned was nowhere learnt, and nobody was readier than others to say what is striking.
const SecondMethod = "mixture-posterior/2"

// FirstMethod is the one before that, in which misreading had no direction: whoever was right with θ erred as often at every
// state. An assessment that names no method is of this one.
const FirstMethod = "mixture-posterior/1"

// NoneOfThese is the name of the hypothesis that the specimen belongs to no family of the tables.
const NoneOfThese = "none-of-these"

// Assumed, no source; to be replaced by values fitted on held-out cases.
const (
	// nonePrior is the probability, before anything is seen, that a specimen belongs to no family of the tables.
	nonePrior = 0.02
	// tableError is the probability that a cell of the tables is wrong: then anything may be seen.
	tableError = 0.01
	// SharedError is the probability that the specimen or the photo misleads all who look at an ordinary state alike.
	SharedError = 0.02
	// lengthBins cut the range of a length so that a bin is a few per cent wide, as fine as anybody measures.
	lengthBins = 100
)

// Judge assesses specimens against one release of the tables. It is read-only and safe for concurrent use.
type Judge struct {
	tables *diagnosis.Tables
	taken  Taken
	model  *confidence.Model
	// characters are those of the tables in the terms of model.
	characters []confidence.Character
	// unmentioned are, by character and state, the probabilities of saying nothing; nil where silence tells nothing.
	unmentioned [][]float64
	scales      []confidence.Scale // by character; of lengths only
	index       index
	wider       wider
	spare       chan *scratch
	example     func() (Example, bool) // made once, when somebody asks for it
}

// Taken is what people are taken for of whom nothing is said: the probability of naming an ordinary true state, in (0, 1).
type Taken struct {
	Stated float64 // who states a character: a Member
	Look   float64 // who would look next: a Reviewer
}

// New compiles tables that Load has accepted. It panics where they are none that Load would accept.
func New(t *diagnosis.Tables, taken Taken) *Judge {
	j := &Judge{tables: t, taken: taken, scales: make([]confidence.Scale, len(t.Characters)), index: newIndex(t), spare: make(chan *scratch, mostSpare)}
	spec := confidence.Spec{None: nonePrior, TableError: tableError, SharedError: SharedError, Readers: []float64{taken.Stated, taken.Look}}
	for i := range t.Characters {
		if c := &t.Characters[i]; c.Kind == diagnosis.KindLength {
			j.scales[i] = confidence.Scale{Low: c.Min, High: c.Max, Bins: lengthBins}
		}
		spec.Characters = append(spec.Characters, j.character(i))
		j.unmentioned = append(j.unmentioned, unmentionedOf(t.Characters[i].Mentioned))
	}
	lengths := map[*diagnosis.Cell][]float64{}
	for i := range t.Families {
		spec.Hypotheses = append(spec.Hypotheses, j.hypothesis(&t.Families[i], lengths))
	}
	for _, d := range t.Dependent {
		group := confidence.Dependent{Exponent: d.Exponent}
		for _, id := range d.Characters {
			group.Characters = append(group.Characters, t.CharacterIndex(id))
		}
		spec.Dependent = append(spec.Dependent, group)
	}
	j.characters = spec.Characters
	model, err := confidence.NewModel(spec)
	if err != nil {
		panic("review: tables that were not checked: " + err.Error())
	}
	j.model = model
	j.example = sync.OnceValues(j.makeExample)
	return j
}

// Priors are the probabilities of all families and NoneOfThese before anything is seen of a specimen, the most probable
// first: by what Prior mixes, or by the tables where that has no part of theirs.
func (j *Judge) Priors(mix, list map[string]float64) []Ranked {
	return j.Assess(Evidence{Prior: Prior(mix, list, j.tables)}).Ranking
}

// Tables returns what the judge assesses against.
func (j *Judge) Tables() *diagnosis.Tables { return j.tables }

// Model returns the numbers that the judge computes with: its hypotheses are the families in their order, its characters
// those of the tables, its states theirs or the bins of a length.
func (j *Judge) Model() *confidence.Model { return j.model }

// Observations returns what Assess would weigh of the evidence, in the terms of Model. What the tables do not know is left
// out.
func (j *Judge) Observations(e Evidence) []confidence.Observation { return j.gather(e).observations }

// Character is a character of the tables, by its index, in the terms of Model. It is not to be changed.
func (j *Judge) Character(i int) confidence.Character { return j.characters[i] }

func (j *Judge) character(i int) confidence.Character {
	c := &j.tables.Characters[i]
	out := confidence.Character{States: len(c.States)}
	switch c.Kind {
	case diagnosis.KindLength:
		scale := j.scales[i]
		return confidence.Character{Kind: confidence.Length, States: scale.Bins, Step: scale.Step()}
	case diagnosis.KindCount:
		out.Kind = confidence.Count
	}
	if c.Kind == diagnosis.KindStates {
		out.Confused = confusedOf(c)
		out.Striking = strikingOf(c)
	}
	if c.Read != nil {
		out.Ease = [][]float64{j.easeOf(c, Member), j.easeOf(c, Reviewer)}
	}
	return out
}

// hypothesis computes each cell of a length once for all forms that share it.
func (j *Judge) hypothesis(f *diagnosis.Family, lengths map[*diagnosis.Cell][]float64) confidence.Hypothesis {
	h := confidence.Hypothesis{Prior: commonness(f.Species)}
	for i := range f.Forms {
		form := confidence.Form{Weight: f.Forms[i].Weight, Sex: sexOf(f.Forms[i].Sex)}
		for c := range j.tables.Characters {
			form.Cells = append(form.Cells, j.cell(c, f.Forms[i].Cells[j.tables.Characters[c].ID], lengths))
		}
		h.Forms = append(h.Forms, form)
	}
	return h
}

func (j *Judge) cell(character int, cell *diagnosis.Cell, lengths map[*diagnosis.Cell][]float64) []float64 {
	if cell == nil {
		return nil
	}
	if j.tables.Characters[character].Kind != diagnosis.KindLength {
		return cell.P
	}
	if lengths[cell] == nil {
		l := cell.Length
		lengths[cell] = j.scales[character].LogNormal(l.Usual[0], l.Usual[1], l.Min*(1-lengthSlack), l.Max*(1+lengthSlack))
	}
	return lengths[cell]
}

func sexOf(sex string) confidence.Sex {
	switch sex {
	case "male":
		return confidence.Male
	case "female":
		return confidence.Female
	}
	return confidence.AnySex
}
