package confidence

import "fmt"

// look is one verdict, packed: there can be millions.
type look struct {
	slot   int32 // its accuracy, as an index of Reliability.accuracy
	person int32
	state  uint8 // what is stated, confirmed, disputed, or the better state of lookBetter
	kind   lookKind
	blind  bool
}

type lookKind uint8

const (
	lookStated lookKind = iota
	lookConfirmed
	lookBetter   // disputed in favour of a better state
	lookDisputed // disputed without a better state
)

// batch are items in flat arrays: those of item i start at first[i] and prior[i].
type batch struct {
	character []int32
	first     []int32
	looks     []look
	prior     []int
	priors    []float64
}

// compile checks and packs items. Fixed accuracies get slots of their own.
func (r *Reliability) compile(items []Item) (*batch, error) {
	verdicts, states := 0, 0
	for i := range items {
		if err := r.panel.checkItem(&items[i]); err != nil {
			return nil, fmt.Errorf("item %d: %w", i, err)
		}
		verdicts += len(items[i].Verdicts)
		states += len(items[i].Prior)
	}
	b := &batch{character: make([]int32, 0, len(items)), first: make([]int32, 1, len(items)+1),
		looks: make([]look, 0, verdicts), prior: make([]int, 1, len(items)+1), priors: make([]float64, 0, states)}
	place := make([]int32, len(r.panel.Persons)) // of a person's look, counted from 1; older than first: not on this item
	for i := range items {
		b.add(r, &items[i], place)
	}
	return b, nil
}

func (b *batch) add(r *Reliability, item *Item, place []int32) {
	first := len(b.looks)
	for i := range item.Verdicts {
		v := &item.Verdicts[i]
		l := r.pack(item.Character, v)
		at := int(place[v.Person]) - 1
		if at < first {
			b.looks = append(b.looks, l)
			place[v.Person] = int32(len(b.looks))
			continue
		}
		if l.blind || !b.looks[at].blind {
			b.looks[at] = l
		}
	}
	b.character = append(b.character, int32(item.Character))
	b.first = append(b.first, int32(len(b.looks)))
	b.appendPrior(&r.errors[item.Character], item.Prior, r.panel.SharedError > 0)
}

// appendPrior turns the prior of the true state into that of what there is to be seen.
func (b *batch) appendPrior(e *errorTable, prior []float64, shared bool) {
	for a, p := range prior {
		misled := 0.0
		if shared {
			for s, w := range e.column(a) {
				misled += e.shared[s] * prior[s] * w
			}
		}
		b.priors = append(b.priors, (1-e.shared[a])*p+misled)
	}
	b.prior = append(b.prior, len(b.priors))
}

func (r *Reliability) pack(character int, v *Verdict) look {
	l := look{person: int32(v.Person), state: uint8(v.State), blind: v.Blind,
		slot: int32(v.Person*r.panel.Regions + r.panel.Region[character])}
	switch {
	case v.Kind == Confirmed:
		l.kind = lookConfirmed
	case v.Kind == Disputed && v.Better == NoState:
		l.kind = lookDisputed
	case v.Kind == Disputed:
		l.kind, l.state = lookBetter, uint8(v.Better)
	}
	if v.Fixed != 0 {
		l.slot = r.fixedSlot(v.Fixed)
	}
	return l
}

func (r *Reliability) fixedSlot(accuracy float64) int32 {
	slot, known := r.fixed[accuracy]
	if !known {
		slot = int32(len(r.accuracy))
		r.fixed[accuracy] = slot
		r.accuracy = append(r.accuracy, accuracy)
		r.sights = append(r.sights, sights(make([]float64, len(r.classes)), accuracy, r.easesUnder(nil, 0))...)
	}
	return slot
}

// errorTable is how a character is misread: wrong[a*states+s] is the share of a among the errors where s is true, 0 where
// a = s.
type errorTable struct {
	states int
	wrong  []float64
	shared []float64 // by state: the probability of misleading everybody alike
	// classes are, by role, the places in Reliability.classes of the states; nil where all states are ordinary to that role.
	classes [][]uint8
}

func newErrorTable(c Character, shared float64) errorTable {
	e := errorTable{states: c.States, wrong: make([]float64, c.States*c.States), shared: sharedErrors(c, shared)}
	if c.Kind == Length {
		return e
	}
	matrix := misreading(c)
	for s := range c.States {
		for a := range c.States {
			e.wrong[a*c.States+s] = matrix[s*c.States+a]
		}
	}
	return e
}

func (e *errorTable) column(a int) []float64 { return e.wrong[a*e.states : (a+1)*e.states] }

// of are the classes of the states to a role, nil where all are 0.
func (e *errorTable) of(role int) []uint8 {
	if len(e.classes) == 0 {
		return nil
	}
	return e.classes[role]
}
