package review

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// PinLabelKind is what a label on the pin tells.
type PinLabelKind string

// Kinds of labels, as they stand on the pin from above.
const (
	PinLocality      PinLabelKind = "locality"      // where, when and by whom it was collected
	PinCatalogue     PinLabelKind = "catalogue"     // its number, for people and as a Data Matrix
	PinDetermination PinLabelKind = "determination" // the name that somebody has given it: det.
	PinOpinion       PinLabelKind = "opinion"       // what a reviewer has said of that name and released: conf., or det. of another
	PinIndet         PinLabelKind = "indet"         // that it cannot be named, with the rank that is sure
)

// PinLabelKinds are all of them.
var PinLabelKinds = []PinLabelKind{PinLocality, PinCatalogue, PinDetermination, PinOpinion, PinIndet}

// OfAct says whether a label is the slip of an act on a submission.
func (k PinLabelKind) OfAct() bool { return k == PinDetermination || k == PinOpinion || k == PinIndet }

// PinLabel is one label of a specimen: Submission names the act of a slip, and Person who signs it where that is not its determiner.
type PinLabel struct {
	Specimen   string       `json:"specimen" maxLength:"60"`
	Kind       PinLabelKind `json:"kind" enum:"locality,catalogue,determination,opinion,indet"`
	Submission string       `json:"submission,omitempty" maxLength:"60" doc:"Whose act a slip tells"`
	Person     string       `json:"person,omitempty" maxLength:"60" doc:"Who signs an opinion, or that it cannot be named"`
}

// String is the label as forms and command lines write it, and ParsePinLabel reads it.
func (l PinLabel) String() string {
	return strings.TrimRight(strings.Join([]string{string(l.Kind), l.Specimen, l.Submission, l.Person}, "/"), "/")
}

// ParsePinLabel is the inverse of PinLabel.String; false where it is none.
func ParsePinLabel(text string) (PinLabel, bool) {
	parts := strings.Split(text, "/")
	if len(parts) > 4 || slices.ContainsFunc(parts, func(p string) bool { return p == "" || len(p) > 60 }) {
		return PinLabel{}, false
	}
	parts = append(parts, "", "", "")
	l := PinLabel{Kind: PinLabelKind(parts[0]), Specimen: parts[1], Submission: parts[2], Person: parts[3]}
	return l, l.valid()
}

// valid says whether a label names what its kind needs, and no more.
func (l PinLabel) valid() bool {
	if l.Specimen == "" || !slices.Contains(PinLabelKinds, l.Kind) {
		return false
	}
	return l.Kind.OfAct() == (l.Submission != "") && (l.Kind == PinOpinion || l.Kind == PinIndet) == (l.Person != "")
}

// PrintedLabel is a label as it was printed. The numbers of events say of which words: with them the same sheet can be made again.
type PrintedLabel struct {
	PinLabel
	Nth           int `json:"nth"`            // how often it has been printed with this: 1 the first time
	Copies        int `json:"copies"`         // pieces of paper
	SpecimenSeq   int `json:"specimen_seq"`   // last event of the specimen by then
	SubmissionSeq int `json:"submission_seq"` // and of the submission of a slip; 0 where it is none
	// Place says how much of the place it shows; empty where it shows none.
	Place PlaceShown `json:"place,omitempty" enum:",whole,district,coarse"`
}

// PlaceShown is how much of a withheld place a label shows, by what its printer might see.
type PlaceShown string

const (
	PlaceWhole    PlaceShown = "whole"
	PlaceDistrict PlaceShown = "district" // Withheld.ForReview
	PlaceCoarse   PlaceShown = "coarse"   // Withheld.Coarse
)

// Shown is as much of withheld data as that.
func (p PlaceShown) Shown(w Withheld) Withheld {
	switch p {
	case PlaceWhole:
		return w
	case PlaceDistrict:
		return w.ForReview()
	}
	return w.Coarse()
}

// PlaceSeenBy is how much of the place of a specimen an actor may see; owner is that of the specimen.
func PlaceSeenBy(actor Actor, owner string) PlaceShown {
	switch {
	case May(actor, ActReadWithheld, owner):
		return PlaceWhole
	case May(actor, ActReadDistrict, owner):
		return PlaceDistrict
	}
	return PlaceCoarse
}

// SheetForm says what paper a sheet is printed on, and how large its labels are.
type SheetForm struct {
	Size  string `json:"size" maxLength:"20" doc:"Size of a label; empty: the club's usual one"`
	Paper string `json:"paper" maxLength:"20" doc:"a4 or letter; empty: a4"`
}

// Sheet is what somebody printed at a time.
type Sheet struct {
	ID string `json:"id"`
	SheetForm
	Labels []PrintedLabel `json:"labels"` // in the order of the sheet
	By     string         `json:"by"`     // person
	At     time.Time      `json:"at"`
}

// SheetPrinted: somebody printed a sheet of labels. It stands in a stream of its own, so that it makes nobody's decision stale, and
// names people and places by ids alone.
type SheetPrinted struct {
	ID string `json:"id"`
	SheetForm
	Labels []PrintedLabel `json:"labels"`
}

// EventKind implements Change.
func (*SheetPrinted) EventKind() string { return "sheet-printed" }

func init() { newChange["sheet-printed"] = func() Change { return &SheetPrinted{} } }

// SheetStream is the stream of a sheet.
func SheetStream(id string) string { return "sheet/" + id }

// OfSpecimen is the same with the labels of one specimen alone; sealed leaves out slips of others than the person, by which one could
// work out what they have said.
func (c *SheetPrinted) OfSpecimen(specimen string, sealed bool, person string) *SheetPrinted {
	of := &SheetPrinted{ID: c.ID, SheetForm: c.SheetForm, Labels: []PrintedLabel{}}
	for _, l := range c.Labels {
		if l.Specimen == specimen && !(sealed && l.Kind == PinOpinion && l.Person != person) {
			of.Labels = append(of.Labels, l)
		}
	}
	return of
}

// ReplaySheet returns the sheet that its events make: one.
func ReplaySheet(events []Event) (Sheet, error) {
	if len(events) != 1 || events[0].Seq != 1 {
		return Sheet{}, fmt.Errorf("a sheet of labels has one event and not %d", len(events))
	}
	e := events[0]
	c, ok := e.Change.(*SheetPrinted)
	if !ok {
		return Sheet{}, fmt.Errorf("%s: event %d is %T, not a sheet's", e.Stream, e.Seq, e.Change)
	}
	return Sheet{ID: c.ID, SheetForm: c.SheetForm, Labels: c.Labels, By: e.Actor, At: e.At}, nil
}

// Sheet writes that a sheet was printed.
func (w *Writer) Sheet(c *SheetPrinted) (Sheet, error) {
	e := w.Event(SheetStream(c.ID), 1, c)
	s, err := ReplaySheet([]Event{e})
	if err != nil {
		return s, err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.Batch.Sheet = &s
	return s, nil
}

// Printed is how often a label was printed, by whom last and when.
type Printed struct {
	PinLabel
	Times int       `json:"times"`
	Sheet string    `json:"sheet"` // the last one
	By    string    `json:"by"`
	At    time.Time `json:"at"`
	// The last one's words.
	SpecimenSeq   int        `json:"-"`
	SubmissionSeq int        `json:"-"`
	Place         PlaceShown `json:"-"`
}

// Limits on one sheet of labels.
const (
	MostLabels = 300  // different labels
	MostCopies = 1000 // of one label
	MostPieces = 5000 // pieces of paper together
)

// WantedLabel is a label that somebody wants to be printed.
type WantedLabel struct {
	PinLabel
	Copies int `json:"copies,omitempty" minimum:"0" maximum:"1000" doc:"Pieces of paper; 0 is 1"`
	// Printed is how often it had been printed when its printer was told: who names a number above 0 wants it again, knowingly.
	Printed int `json:"printed,omitempty" minimum:"0" doc:"How often it was printed before, as the plan says: naming that number is to want it again, knowingly"`
}

// SheetOrder is a sheet as somebody wants it.
type SheetOrder struct {
	SheetForm
	Labels []WantedLabel `json:"labels" nullable:"false" maxItems:"300"`
}

// Printable is a label as it could be printed now.
type Printable struct {
	PrintedLabel          // Nth is the next one; Copies is left to whoever prints
	Number       string   `json:"number,omitempty" doc:"Catalogue number"`
	Last         *Printed `json:"last,omitempty" doc:"When it was printed last; left out where it never was"` // nil: never
}

// DecidePrint prints labels. now are those that its printer may print, as they are now.
func DecidePrint(m Moment, now []Printable, order SheetOrder) (*SheetPrinted, error) {
	var p Problems
	if len(order.Labels) == 0 {
		p.Addf("labels", "choose at least one label")
	}
	if len(order.Labels) > MostLabels {
		p.Addf("labels", "choose %d at most for one sheet", MostLabels)
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	made := &SheetPrinted{ID: m.NewID(), SheetForm: order.SheetForm}
	pieces, seen := 0, map[PinLabel]bool{}
	for i, w := range order.Labels {
		at := slices.IndexFunc(now, func(k Printable) bool { return k.PinLabel == w.PinLabel })
		copies := max(w.Copies, 1)
		switch {
		case at < 0:
			p.Addf(FieldOf("labels", i), "cannot be printed: it is not there, or not for you to print")
			continue
		case seen[w.PinLabel]:
			p.Addf(FieldOf("labels", i), "stands in the list twice; say how many copies instead")
		case copies > MostCopies || w.Copies < 0:
			p.Addf(FieldOf("labels", i), "must have 1 to %d copies", MostCopies)
		}
		if err := now[at].told(w.Printed); err != nil {
			return nil, err
		}
		l := now[at].PrintedLabel
		l.Copies = copies
		pieces, seen[w.PinLabel] = pieces+copies, true
		made.Labels = append(made.Labels, l)
	}
	if pieces > MostPieces {
		p.Addf("labels", "are %d pieces of paper together, and a sheet may have %d: print the rest afterwards", pieces, MostPieces)
	}
	return made, p.Err()
}

// told refuses a label that was printed more often than its printer has been told.
func (k Printable) told(printed int) error {
	times := k.Nth - 1
	switch {
	case times == printed:
		return nil
	case printed == 0:
		return Errorf(KindConflict, "A label of %s was printed on %s already. Nothing was printed: look who did, and tick it if you want it again.", k.named(), k.Last.At.UTC().Format(time.DateOnly))
	case times > printed:
		return Errorf(KindConflict, "A label of %s was printed by another request just now. Nothing was printed: look at the list again.", k.named())
	}
	return Invalidf("labels", "say of a label that it was printed %d times; it was printed %d times", printed, times)
}

func (k Printable) named() string {
	if k.Number != "" {
		return k.Number
	}
	return k.Specimen
}
