package web

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/web/pages"
	"revidit/web/words"
)

// looseRounds bounds how often a form is looked at again after something was set aside: what is wrong in one field may come to light
// when another has gone.
const looseRounds = 12

// sifted is a form as a draft can take it: what cannot be taken as it is stands in Loose, as it was typed. It fails only where the
// form is larger than any page of ours sends.
func sifted(judge *judgement.Judge, book pages.Book, sent *sentForm) (review.SubmissionForm, error) {
	fit := &sentForm{values: maps.Clone(sent.values), photos: sent.photos}
	fit.photos.Kept = slices.Clone(sent.photos.Kept)
	loose := review.Loose{}
	for range looseRounds {
		form, rename := submissionForm(book, fit)
		err := review.CheckForm(judge, form, false)
		if err == nil {
			form.Loose = loose
			return form, review.CheckForm(judge, form, false)
		}
		var wrong *review.Error
		if !errors.As(err, &wrong) || !fit.setAside(loose, wrong.Fields, rename) {
			return form, err
		}
	}
	form, _ := submissionForm(book, fit)
	return form, review.CheckForm(judge, form, false)
}

// setAside moves what is wrong out of a form; false where nothing of it can be found there.
func (f *sentForm) setAside(loose review.Loose, wrong []review.FieldProblem, rename func(string) string) bool {
	moved := false
	for _, p := range slices.Backward(wrong) { // photos are counted
		field := rename(p.Field)
		if f.dropPhoto(field) {
			moved = true
			continue
		}
		for name := range maps.Clone(f.values) {
			if f.get(name) != "" && besides(field, name) {
				loose[name], moved = f.get(name), true
				delete(f.values, name)
			}
		}
	}
	return moved
}

// besides says whether a field that is typed into belongs to one that is wrong: all parts of an observation, both coordinates.
func besides(wrong, name string) bool {
	if character, ok := strings.CutPrefix(wrong, "obs["); ok {
		character, _, _ = strings.Cut(character, "]")
		return strings.HasPrefix(name, "obs["+character+"].")
	}
	if wrong == "withheld.longitude" {
		return name == wrong || name == "withheld.latitude"
	}
	return name == wrong
}

// dropPhoto leaves open what a photo shows, or leaves out one that stands there twice.
func (f *sentForm) dropPhoto(field string) bool {
	at, part, ok := strings.Cut(strings.TrimPrefix(field, "photos["), "].")
	i, err := strconv.Atoi(at)
	if !ok || err != nil || !strings.HasPrefix(field, "photos[") || i >= len(f.photos.Kept) {
		return false
	}
	if part == "view" {
		f.photos.Kept[i].View = ""
	} else {
		f.photos.Kept = slices.Delete(f.photos.Kept, i, i+1)
	}
	return true
}

// withLoose puts what a draft could not take back into its form, where it was typed, and says what is wrong with it.
func withLoose(ctx context.Context, judge *judgement.Judge, book pages.Book, form pages.Form, loose review.Loose) pages.Form {
	if len(loose) == 0 {
		return form
	}
	for field, text := range loose {
		form.Set(field, text)
	}
	typed, rename := submissionForm(book, &sentForm{values: form.Values})
	if err := review.CheckForm(judge, typed, false); err != nil {
		form = form.Failed(ctx, err, rename)
	}
	form.Message = words.T(ctx, "submit.saved-to-correct")
	return form
}

// meant takes the name that was typed for the one that it means, whatever its case, and a common name for the Latin one.
func meant(book pages.Book, typed string) string {
	if _, _, ok := book.Resolve(typed); ok {
		return typed
	}
	found, sure := book.Search(typed)
	if !sure {
		return typed
	}
	if _, _, ok := book.Resolve(found[0].By); ok { // an old name is kept as one
		return found[0].By
	}
	return found[0].Family.Name
}
