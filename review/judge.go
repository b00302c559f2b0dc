package review

import (
	"math"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Method names the version of the arithmetic; it changes when the same evidence and tables would give another number.
const Method = "mixture-posterior/1"

// NoneOfThese is the name of the hypothesis that the specimen belongs to no family of the tables.
const NoneOfThese = "none-of-these"

// Assumed, no source; to be replaced by values fitted on held-out cases.
const (
	// nonePrior is the probability, before anything is seen, that a specimen belongs to no family of the tables.
	nonePrior = 0.02
	// tableError is the probability that a cell of the tables is wrong: then anything may be seen.
	tableError = 0.01
	// sharedError is the probability that the specimen or the photo misleads all who look at a character alike.
	sharedError = 0.02
	// lengthBins cut the range of a length so that a bin is a few per cent wide, as fine as anybody measures.
	lengthBins = 100
)

// Judge assesses specimens against one release of the tables. It is read-only and safe for concurrent use.
type Judge struct {
	tables *diagnosis.Tables
	model  *confidence.Model
	scales map[int]confidence.Scale // of length characters, by index
}

// NewJudge compiles tables that Load has accepted. It panics where they are none that Load would accept.
func NewJudge(t *diagnosis.Tables) *Judge {
	j := &Judge{tables: t, scales: map[int]confidence.Scale{}}
	spec := confidence.Spec{None: nonePrior, TableError: tableError, SharedError: sharedError}
	for i := range t.Characters {
		if c := &t.Characters[i]; c.Kind == diagnosis.KindLength {
			j.scales[i] = confidence.Scale{Low: c.Min, High: c.Max, Bins: lengthBins}
		}
		spec.Characters = append(spec.Characters, j.character(i))
	}
	for i := range t.Families {
		spec.Hypotheses = append(spec.Hypotheses, j.hypothesis(&t.Families[i]))
	}
	for _, d := range t.Dependent {
		group := confidence.Dependent{Exponent: d.Exponent}
		for _, id := range d.Characters {
			group.Characters = append(group.Characters, t.CharacterIndex(id))
		}
		spec.Dependent = append(spec.Dependent, group)
	}
	model, err := confidence.NewModel(spec)
	if err != nil {
		panic("review: tables that were not checked: " + err.Error())
	}
	j.model = model
	return j
}

// Tables returns what the judge assesses against.
func (j *Judge) Tables() *diagnosis.Tables { return j.tables }

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
	for _, pair := range c.Confused {
		out.Confused = append(out.Confused, confidence.Confused{
			A: c.State(pair.States[0]), B: c.State(pair.States[1]), Weight: pair.Weight})
	}
	return out
}

func (j *Judge) hypothesis(f *diagnosis.Family) confidence.Hypothesis {
	h := confidence.Hypothesis{Prior: math.Sqrt(float64(max(f.Species, 1)))}
	for i := range f.Forms {
		form := confidence.Form{Weight: f.Forms[i].Weight, Sex: sexOf(f.Forms[i].Sex)}
		for c := range j.tables.Characters {
			form.Cells = append(form.Cells, j.cell(c, f.Forms[i].Cells[j.tables.Characters[c].ID]))
		}
		h.Forms = append(h.Forms, form)
	}
	return h
}

func (j *Judge) cell(character int, cell *diagnosis.Cell) []float64 {
	if cell == nil {
		return nil
	}
	if scale, ok := j.scales[character]; ok {
		l := cell.Length
		return scale.LogNormal(l.Usual[0], l.Usual[1], l.Min*(1-lengthSlack), l.Max*(1+lengthSlack))
	}
	return cell.P
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
