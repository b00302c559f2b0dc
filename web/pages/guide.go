package pages

import (
	"context"
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/words"
)

// BeginData is the page on which a submission begins: photos and the name that its owner thinks of.
type BeginData struct {
	Form   Form
	Photos PhotoFields
	Key    string
	// Draft is the one that this page has made before, and Registered says that its label stands with the specimen.
	Draft      string
	Registered bool
	// Last is the submission whose label can be copied, or empty; LastNumber is its number.
	Last, LastNumber string
}

// AskData is one question to the owner of a draft.
type AskData struct {
	Guide service.Guide
	// Character is what is asked, with Book the tables that it is of; nil where nothing is left to ask, or the name is.
	Character *diagnosis.Character
	Book      Book
	Wider     bool // it is a question of the wider group
	// Names are what a typed name may mean, where it is none; Typed is that name.
	Names []diagnosis.Named
	Typed string
	// Lesson is the character whose part the owner has just said not to know.
	Lesson *diagnosis.Character
	Form   Form
}

func (d AskData) id() string { return d.Guide.View.Submission.ID }

// answer is what stands in the draft about the character: a state, or why there is none.
func (d AskData) answer() (state string, why review.WhyUnseen) {
	if d.Wider {
		for _, a := range d.Guide.View.Submission.Wider {
			if a.Character == d.Character.ID {
				return a.State, ""
			}
		}
	} else if o, ok := StatedIn(d.Guide.View, d.Character.ID); ok {
		return o.State, ""
	}
	for _, u := range d.Guide.View.Submission.Unseen {
		if u.Character == d.Character.ID && (u.Group != "") == d.Wider {
			return "", u.Why
		}
	}
	return "", ""
}

// StatedIn is the standing observation of a character in a draft.
func StatedIn(v service.SubmissionView, character string) (review.Observation, bool) {
	for _, s := range ShownOf(v) {
		if s.Character == character && s.Withdrawn == "" {
			return s.Observation, true
		}
	}
	return review.Observation{}, false
}

// told says whether its owner was told that what stands there does not fit, so that a change is one after a hint.
func (d AskData) told() bool {
	return !d.Wider && slices.ContainsFunc(d.Guide.Told, func(t judgement.Selected) bool { return t.Character == d.Character.ID })
}

// photo is the one that the question shows: where the character was seen, else the first that shows it, else the first.
func (d AskData) photo() (review.Photo, bool) {
	photos := photosOf(d.Guide.View)
	if len(photos) == 0 || d.Wider || d.Character == nil {
		return review.Photo{}, false
	}
	chosen := d.Form.Get("photo")
	if chosen == "" {
		o, _ := StatedIn(d.Guide.View, d.Character.ID)
		chosen = o.Photo
	}
	for _, p := range photos {
		if p.ID == chosen {
			return p, true
		}
	}
	for _, p := range photos {
		if slices.Contains(d.Character.Views, p.View) {
			return p, true
		}
	}
	return photos[0], true
}

// AskURL is the address of the question about a character; empty: of the next one.
func AskURL(draft, group, character string) templ.SafeURL {
	query := url.Values{}
	if character != "" {
		query.Set("character", character)
	}
	if group != "" {
		query.Set("group", group)
	}
	address := "/submissions/" + url.PathEscape(draft) + "/ask"
	if len(query) > 0 {
		address += "?" + query.Encode()
	}
	return templ.SafeURL(address)
}

func (d AskData) group() string {
	if d.Wider {
		return d.Book.Group.ID
	}
	return ""
}

// statedCount is how many characters a draft states.
func statedCount(v service.SubmissionView) int {
	n := 0
	for _, s := range ShownOf(v) {
		if s.Withdrawn == "" {
			n++
		}
	}
	return n
}

// Buttons are sent as "state:ID", "why:REASON", "number" or "back".
const (
	AnswerState  = "state:"
	AnswerWhy    = "why:"
	AnswerNumber = "number"
	AnswerBack   = "back"
)

// whyAnswers are the answers that are no states, in the order of the form.
var whyAnswers = []review.WhyUnseen{review.UnseenHidden, review.UnseenPhoto, review.UnseenBroken, review.UnseenNotKnown}

// unseenWords say why a character was not stated.
func unseenWords(ctx context.Context, why review.WhyUnseen) string {
	return coded(ctx, "common.unseen-", string(why))
}

// sides are from where a view is seen, by the term of Audiovisual Core.
var sides = []string{"dorsal", "ventral", "lateral", "anterior", "posterior"}

// sideOf is from where a character is judged first, in words.
func (b Book) sideOf(ctx context.Context, c *diagnosis.Character) string {
	for _, id := range c.Views {
		for _, v := range b.Group.Views {
			if v.ID == id && slices.Contains(sides, v.Orientation) {
				return words.T(ctx, "guide.side-"+v.Orientation)
			}
		}
	}
	return words.T(ctx, "guide.any-side")
}

// where is where the owner of a draft looks next: at a photo that shows it, else at a side of the beetle.
func (d AskData) where(ctx context.Context) string {
	for i, p := range photosOf(d.Guide.View) {
		if slices.Contains(d.Character.Views, p.View) {
			return words.T(ctx, "guide.on-photo", "Number", i+1)
		}
	}
	return d.Book.sideOf(ctx, d.Character)
}

// mostNumbers is how many numbers are offered as buttons.
const mostNumbers = 16

// numbers are those that a count may be, where they are few.
func numbers(c *diagnosis.Character) []string {
	if c.Kind != diagnosis.KindCount || c.Max-c.Min >= mostNumbers {
		return nil
	}
	var all []string
	for n := c.Min; n <= c.Max; n++ {
		all = append(all, dotted(n))
	}
	return all
}

// Against is one thing that speaks against a name, in few words, with the character to look at again.
type Against struct{ Words, Character string }

// against is what of an assessment its owner reads while answering. That no photo shows a character is for the end.
func against(ctx context.Context, b Book, a judgement.Assessment) []Against {
	var found []Against
	says := func(character, state string) string { return b.Character(character) + ": " + b.State(character, state) }
	for _, c := range a.Contradictions {
		switch c.Kind {
		case judgement.Excluded:
			found = append(found, Against{words.T(ctx, "guide.never-in", "Family", c.Family, "State", says(c.Character, c.State)), c.Character})
		case judgement.Unusual:
			found = append(found, Against{words.T(ctx, "guide.rare-in", "Family", c.Family, "State", says(c.Character, c.State)), c.Character})
		case judgement.Combination, judgement.Incompatible:
			all := []string{says(c.Character, c.State)}
			for _, w := range c.With {
				all = append(all, says(w.Character, w.State))
			}
			found = append(found, Against{words.T(ctx, "guide.not-together", "States", strings.Join(all, "; ")), c.Character})
		case judgement.BetterFit:
			found = append(found, Against{Words: words.T(ctx, "guide.fits-better", "Family", c.Family)})
		}
	}
	return found
}

// Stands says in one line what speaks against the name of a draft and what remains possible.
func Stands(ctx context.Context, b Book, g service.Guide) string {
	said := ""
	for _, x := range top(against(ctx, b, g.Alone), 3) {
		said += x.Words + ". "
	}
	return said + possible(ctx, g.Alone, statedCount(g.View))
}

// possibleFrom is how probable a name must be to be said to remain possible.
const possibleFrom = 0.05

// possible says in few words what remains possible.
func possible(ctx context.Context, a judgement.Assessment, stated int) string {
	if stated == 0 {
		return words.T(ctx, "guide.nothing-stated")
	}
	var names []string
	for _, r := range a.Ranking {
		if r.P >= possibleFrom && r.Family != a.Family && len(names) < 3 {
			names = append(names, hypothesis(ctx, r.Family))
		}
	}
	said, also := "", "guide.possible"
	if a.Family != "" {
		said, also = words.T(ctx, "guide.so-far", "Family", a.Family, "Likelihood", soFar(ctx, a)), "guide.also-possible"
	}
	if len(names) > 0 {
		said += " " + words.T(ctx, also, "Names", strings.Join(names, ", "))
	}
	return strings.TrimSpace(said)
}

// soFar is how likely the proposed name is by what is stated, in a word. As long as nothing speaks against it, it is open and not
// unlikely: a name among many begins low, and that few characters are stated says nothing against it.
func soFar(ctx context.Context, a judgement.Assessment) string {
	against := slices.ContainsFunc(a.Contradictions, func(c judgement.Contradiction) bool { return c.Kind != judgement.Unseen })
	if !against && a.Confidence < likely {
		return words.T(ctx, "common.open")
	}
	return Likelihood(ctx, a.Confidence)
}

// likely is from which probability on Likelihood says so.
const likely = 0.66

// Lacks are what a draft still needs before it can be submitted, in words.
func Lacks(ctx context.Context, v service.SubmissionView) []string {
	var lacks []string
	if v.Submission.Determination.Family == "" {
		lacks = append(lacks, words.T(ctx, "guide.lacks-name"))
	}
	if len(v.Submission.Photos) == 0 {
		lacks = append(lacks, words.T(ctx, "guide.lacks-photo"))
	}
	for _, p := range photosOf(v) {
		if p.View == "" {
			lacks = append(lacks, words.T(ctx, "guide.lacks-views"))
			break
		}
	}
	if statedCount(v) == 0 {
		lacks = append(lacks, words.T(ctx, "guide.lacks-character"))
	}
	if v.Specimen.Label.CatalogueNumber == "" {
		lacks = append(lacks, words.T(ctx, "guide.lacks-number"))
	}
	if len(v.Loose) > 0 {
		lacks = append(lacks, words.T(ctx, "guide.lacks-correction"))
	}
	return lacks
}

// ready says whether a draft can be submitted with one press: nothing is lacking and nothing speaks against it.
func (d AskData) ready(ctx context.Context) bool {
	return len(Lacks(ctx, d.Guide.View)) == 0 && len(against(ctx, d.Book, d.Guide.Alone)) == 0
}

// Wanted is a view that would show what could not be seen, with the parts that it would.
type Wanted struct {
	View  string
	Parts []string
}

// wanted are the photos to ask for: of what was hidden or on no photo, each view once.
func wanted(b Book, unseen []review.Unseen) []Wanted {
	var all []Wanted
	for _, u := range unseen {
		c := b.character(u.Character)
		if c == nil || u.Group != "" || len(c.Views) == 0 || u.Why != review.UnseenHidden && u.Why != review.UnseenPhoto {
			continue
		}
		at := slices.IndexFunc(all, func(w Wanted) bool { return w.View == c.Views[0] })
		if at < 0 {
			at = len(all)
			all = append(all, Wanted{View: c.Views[0]})
		}
		all[at].Parts = append(all[at].Parts, c.Label)
	}
	return all
}

// ofPart is the character to ask for where a part is touched: the first of that part that is not answered, else its first; empty
// where no character is of it.
func ofPart(b Book, v service.SubmissionView, part string) string {
	first := ""
	for _, c := range b.Characters {
		if !slices.Contains(c.Parts, part) {
			continue
		}
		if first == "" {
			first = c.ID
		}
		if !isAnswered(v, c.ID) {
			return c.ID
		}
	}
	return first
}

// isAnswered says whether a draft states a character, or why it cannot.
func isAnswered(v service.SubmissionView, character string) bool {
	_, is := StatedIn(v, character)
	return is || slices.ContainsFunc(v.Submission.Unseen, func(u review.Unseen) bool { return u.Group == "" && u.Character == character })
}

// partHref leads from a part of a plate to the question about it, or to what is said of the part where none is asked.
func partHref(b Book, v service.SubmissionView) func(string) templ.SafeURL {
	return func(part string) templ.SafeURL {
		if character := ofPart(b, v, part); character != "" {
			return AskURL(v.Submission.ID, "", character)
		}
		return partURL(b, part)
	}
}

// otherPlates are the plates of the whole beetle and the head, but for one that stands in the page already.
func otherPlates(b Book, shown *diagnosis.Plate) []*diagnosis.Plate {
	var plates []*diagnosis.Plate
	for i := range b.Plates {
		if p := &b.Plates[i]; slices.Contains([]string{"above", "below", "head"}, p.ID) && p != shown {
			plates = append(plates, p)
		}
	}
	return plates
}

// plate is that which shows where the character of the question is, or nil.
func (d AskData) plate() *diagnosis.Plate {
	if d.Wider || d.Character == nil || !d.Book.placed(d.Character) {
		return nil
	}
	return d.Book.PlateOf(d.Character)
}

// partLine is a region of the body in the list of parts, with what of it is answered.
type partLine struct {
	Region   Region
	Answered int
	First    string // the first character of it that is not answered, or its first
}

func partLines(b Book, v service.SubmissionView) []partLine {
	var lines []partLine
	for _, r := range b.Regions() {
		line := partLine{Region: r, First: r.Characters[0].ID}
		open := false
		for _, c := range r.Characters {
			if isAnswered(v, c.ID) {
				line.Answered++
			} else if !open {
				line.First, open = c.ID, true
			}
		}
		lines = append(lines, line)
	}
	return lines
}
