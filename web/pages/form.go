package pages

import (
	"context"
	"errors"
	"net/url"
	"slices"
	"strings"

	"github.com/google/uuid"

	"revidit/review"
	"revidit/review/photo"
	"revidit/review/service"
	"revidit/web/words"
	say "revidit/web/words/problems"
)

// Form is the state of a form on a page: what was typed, by field name, and what is wrong with it. Field names are the
// paths that review's errors use, so that a message finds its field.
type Form struct {
	Values   map[string][]string
	Message  string // what happened, when the form comes back
	Problems []Problem
	Version  int
	// Prefix keeps the ids of several forms on one page apart.
	Prefix string
}

// Problem is a wrong field: its name in the form, the words beside it, and its message.
type Problem struct{ Field, Label, Message string }

// NewForm is a form with values.
func NewForm(values map[string][]string) Form {
	if values == nil {
		values = map[string][]string{}
	}
	return Form{Values: values}
}

// under is the form with ids apart from those of others.
func (f Form) under(prefix string) Form {
	f.Prefix = prefix
	return f
}

// Failed adds an error to the form. rename turns a path of the error into the name of a field; nil keeps it.
func (f Form) Failed(ctx context.Context, err error, rename func(string) string) Form {
	var e *review.Error
	if !errors.As(err, &e) {
		f.Message = err.Error()
		return f
	}
	e = say.In(ctx, e)
	f.Message = e.Message
	for _, p := range e.Fields {
		field := p.Field
		if rename != nil {
			field = rename(field)
		}
		f.Problems = append(f.Problems, Problem{Field: field, Label: labelOf(ctx, field), Message: p.Message})
	}
	return f
}

// Get is the first value of a field.
func (f Form) Get(field string) string {
	if len(f.Values[field]) == 0 {
		return ""
	}
	return f.Values[field][0]
}

// key is the idempotency key that the form came with, or a new one.
func (f Form) key() string {
	if key := f.Get("key"); key != "" {
		return key
	}
	return uuid.NewString()
}

// Has says whether a field holds a value among its values.
func (f Form) Has(field, value string) bool { return slices.Contains(f.Values[field], value) }

// Set gives a field one value, or none where it is empty.
func (f Form) Set(field, value string) {
	if value == "" {
		delete(f.Values, field)
		return
	}
	f.Values[field] = []string{value}
}

func (f Form) messages(field string) []string {
	var found []string
	for _, p := range f.Problems {
		if p.Field == field {
			found = append(found, p.Message)
		}
	}
	return found
}

func (f Form) wrong(field string) bool { return len(f.messages(field)) > 0 }

// wrongUnder says whether any field below a prefix is wrong.
func (f Form) wrongUnder(prefix string) bool {
	return slices.ContainsFunc(f.Problems, func(p Problem) bool { return strings.HasPrefix(p.Field, prefix) })
}

// invalid is the value of aria-invalid.
func (f Form) invalid(field string) string {
	if f.wrong(field) {
		return "true"
	}
	return "false"
}

// describedBy lists the ids of the hint and the message of a field, where there are any.
func (f Form) describedBy(field, hint string) string {
	var ids []string
	if hint != "" {
		ids = append(ids, f.id(field)+"-hint")
	}
	if f.wrong(field) {
		ids = append(ids, f.id(field)+"-wrong")
	}
	return strings.Join(ids, " ")
}

// id is the id of a field's control in the page.
func (f Form) id(field string) string { return idOf("f-" + f.Prefix + field) }

// idOf makes an id of any text.
func idOf(text string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, text)
}

// labelOf is the label of a field, for the summary of problems: of its own, or that of the label's.
func labelOf(ctx context.Context, field string) string {
	if id := "fields.label-" + dashed(field); words.Has(id) {
		return words.T(ctx, id)
	}
	for _, known := range review.LabelFields() {
		if known.Path() == field {
			return askOf(ctx, known)
		}
	}
	last := field[strings.LastIndex(field, ".")+1:]
	return capital(strings.ReplaceAll(last, "_", " "))
}

// dashed is the path of a field as ids of texts have it.
func dashed(field string) string { return strings.NewReplacer(".", "-", "_", "-").Replace(field) }

// KeptPhoto is a photo that has been uploaded, as a form keeps it until it is saved.
type KeptPhoto struct {
	ID, Name, View string
	LeaveOut       bool
	// Latitude, Longitude, Uncertainty, Elevation and Date are what the photo said about itself; empty where it did not.
	Latitude, Longitude, Uncertainty, Elevation, Date string
	UsePlace, UseDate                                 bool
	Unused                                            []photo.Warning
	// Seen are photos that are here already and show the same.
	Seen []service.SeenPhoto
}

// RefusedPhoto is a file that was not accepted.
type RefusedPhoto struct{ Name, Reason string }

// PhotoFields are the photos of a form.
type PhotoFields struct {
	Kept    []KeptPhoto
	Refused []RefusedPhoto
	// Offer says whether what photos say about place and date can be put on the label in this form.
	Offer bool
	// Brief leaves out what who has sent photos before knows.
	Brief bool
}

// label is how a photo is called in a list.
func (p KeptPhoto) label(ctx context.Context, b Book, i int) string {
	if p.View == "" {
		return words.T(ctx, "common.photo-number", "Number", i+1)
	}
	return words.T(ctx, "common.photo-view", "Number", i+1, "View", b.View(ctx, p.View))
}

// address is where the script uploads a photo as soon as it is chosen.
func (p PhotoFields) address(site Site) string {
	query := url.Values{}
	if site.Book.Tables != nil {
		query.Set("group", site.Book.Group.ID)
	}
	if p.Offer {
		query.Set("offer", "yes")
	}
	return "/photos?" + query.Encode()
}
