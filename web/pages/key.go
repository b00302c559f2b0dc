package pages

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/key"
	"revidit/review/service"
	"revidit/web/words"
)

// KeyData is what the page of a printed key shows; Made is nil where none was asked for.
type KeyData struct {
	Form    Form
	Made    *service.MadeKey
	Query   string // of the choice, for the addresses of the booklet
	Ticked  []string
	Region  string
	Expert  bool
	Prepare bool
}

// RegionName is what a region of a key is called.
func RegionName(ctx context.Context, t *diagnosis.Tables, id string) string {
	switch id {
	case judgement.MixList:
		return words.T(ctx, "key.list")
	case judgement.MixWorld:
		return words.T(ctx, "key.world")
	}
	if f, ok := t.Fauna(id); ok {
		return f.Label
	}
	return id
}

func regionChoices(ctx context.Context, b Book) []Choice {
	var choices []Choice
	for _, id := range service.KeyRegions(b.Tables) {
		choices = append(choices, Choice{Value: id, Label: RegionName(ctx, b.Tables, id)})
	}
	return choices
}

// KeySays is what a lead tells of a character, in words: its label and the states.
func KeySays(ctx context.Context, t *diagnosis.Tables, s *key.Saying) (label, states string) {
	c, ok := t.Character(s.Character)
	if !ok {
		return s.Character, strings.Join(s.States, ", ")
	}
	if c.Kind == diagnosis.KindLength {
		return c.Label, lengthSays(ctx, s)
	}
	if c.Kind == diagnosis.KindCount {
		return c.Label, either(ctx, runs(s.States))
	}
	var labels []string
	for _, id := range s.States {
		labels = append(labels, c.States[c.State(id)].Label)
	}
	return c.Label, either(ctx, labels)
}

func lengthSays(ctx context.Context, s *key.Saying) string {
	over, to := words.Number(ctx, s.Over), words.Number(ctx, s.UpTo)
	switch {
	case s.Over == 0:
		return words.T(ctx, "key.up-to", "To", to)
	case s.UpTo == 0:
		return words.T(ctx, "key.above", "Over", over)
	}
	return words.T(ctx, "key.between", "Over", over, "To", to)
}

// runs are counts with those that follow each other drawn together: 3, 8–10.
func runs(counts []string) []string {
	var out []string
	for i := 0; i < len(counts); {
		j := i
		for j+1 < len(counts) && follows(counts[j], counts[j+1]) {
			j++
		}
		switch j - i {
		case 0:
			out = append(out, counts[i])
		default:
			out = append(out, counts[i]+"–"+counts[j])
		}
		i = j + 1
	}
	return out
}

func follows(a, b string) bool {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	return errX == nil && errY == nil && y == x+1
}

func either(ctx context.Context, list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return words.T(ctx, "key.or", "Before", strings.Join(list[:len(list)-1], ", "), "Last", list[len(list)-1])
}

// KeyTrial are the sentences that tell what the trial of a key found.
func KeyTrial(ctx context.Context, m *service.MadeKey) string {
	return words.T(ctx, "key.trial", "Specimens", words.Number(ctx, float64(m.Beginner.Specimens)), "Beginner", words.Percent(ctx, m.Beginner.Right, 0),
		"Expert", words.Percent(ctx, m.Expert.Right, 0), "Steps", words.Fixed(ctx, m.Beginner.Steps, 1), "Greedy", words.Percent(ctx, m.Greedy.Right, 0))
}

// KeyForms are the forms of a family that come out at an ending, in words; empty where it is all of it, or where none is usual there.
func KeyForms(ctx context.Context, t *diagnosis.Tables, e *key.Ending) string {
	f, ok := t.Family(e.Family)
	if !ok || len(e.Forms) == 0 || len(e.Forms) == len(f.Forms) {
		return ""
	}
	var labels []string
	for i := range f.Forms {
		if slices.Contains(e.Forms, f.Forms[i].ID) {
			labels = append(labels, f.Forms[i].Label)
		}
	}
	return strings.Join(labels, "; ")
}

// KeySex is the sex of an ending that one sex alone comes to.
func KeySex(ctx context.Context, e *key.Ending) string {
	switch e.Sex {
	case "male":
		return words.T(ctx, "key.males")
	case "female":
		return words.T(ctx, "key.females")
	}
	return ""
}

// KeyAlike are the look-alikes of a family that the key leads to as well, at most three.
func KeyAlike(k *key.Key, f *diagnosis.Family) []diagnosis.LookAlike {
	var out []diagnosis.LookAlike
	for _, a := range f.LookAlikes {
		if slices.Contains(k.Families, a.Family) && len(out) < 3 {
			out = append(out, a)
		}
	}
	return out
}

func coupletID(n int) string { return "c" + strconv.Itoa(n) }
