package review

import (
	"errors"
	"fmt"
	"strings"
)

// Kind sorts errors by what a person can do about them. Any error without a Kind is a fault of ours.
type Kind string

const (
	// KindInvalid: the input is wrong; Fields says where. Nothing was stored.
	KindInvalid Kind = "invalid"
	// KindUnknownActor: nobody is logged in, or the login is no longer valid.
	KindUnknownActor Kind = "unknown-actor"
	// KindForbidden: the actor may not do this.
	KindForbidden Kind = "forbidden"
	// KindNotFound: there is no such thing, or the actor may not know of it.
	KindNotFound Kind = "not-found"
	// KindConflict: the thing is in a status that does not allow this, or somebody else was quicker.
	KindConflict Kind = "conflict"
	// KindStale: the actor decided on an older version than the present one.
	KindStale Kind = "stale"
	// KindBlind: the actor is to look blind before anything is shown.
	KindBlind Kind = "blind"
	// KindTooMany: the actor has asked for more than is given to one person for now.
	KindTooMany Kind = "too-many"
	// KindDown: what stores things does not answer for now, or is kept busy by somebody else. Nothing is lost.
	KindDown Kind = "down"
	// KindFull: there is no room left to store anything. What was stored before is safe.
	KindFull Kind = "full"
	// KindDamaged: something that was stored cannot be read any more. The keeper of the service can mend it.
	KindDamaged Kind = "damaged"
)

// FieldProblem is one wrong field of an input: its path ("observations[2].state") and a sentence about it.
type FieldProblem struct {
	Field   string `json:"field"`
	Message string `json:"message"`
	// Code names what is wrong, whatever language Message is in; it is given at the edge.
	Code string `json:"code,omitempty" example:"must-filled" doc:"Names what is wrong in every language and every wording"`

	wording *Wording
}

// Wording is what a sentence was made of, so that the edge can say it in another language.
type Wording struct {
	Format string // of fmt, in English
	Args   []any
}

func wording(format string, args []any) (string, *Wording) {
	return fmt.Sprintf(format, args...), &Wording{format, args}
}

// Wording is what Message was made of; nil where it is something else by now, or was not made here.
func (f FieldProblem) Wording() *Wording { return f.wording.of(f.Message) }

// of is the wording if it is still that of a message.
func (w *Wording) of(message string) *Wording {
	if w == nil || fmt.Sprintf(w.Format, w.Args...) != message {
		return nil
	}
	return w
}

// Error is an error for people: what happened, what is safe, what to do.
type Error struct {
	Kind    Kind
	Message string
	Fields  []FieldProblem // KindInvalid only
	// Look is the submission to look at blind: KindBlind only, empty while that one waits for its owner.
	Look string

	wording *Wording
}

// Wording is what Message was made of; nil where it was not made here.
func (e *Error) Wording() *Wording { return e.wording.of(e.Message) }

func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return e.Message
	}
	parts := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		parts[i] = f.Field + ": " + f.Message
	}
	return e.Message + " " + strings.Join(parts, "; ")
}

// Errorf returns an Error of that kind.
func Errorf(kind Kind, format string, args ...any) error {
	return errorOf(kind, format, args)
}

func errorOf(kind Kind, format string, args []any) *Error {
	message, words := wording(format, args)
	return &Error{Kind: kind, Message: message, wording: words}
}

// KindOf returns the kind of an error, or "" for a fault of ours and for nil.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return ""
}

// Fault is an error of ours of which people can be told something: a message over its cause, which is for the log alone.
func Fault(kind Kind, cause error, format string, args ...any) error {
	return &fault{errorOf(kind, format, args), cause}
}

type fault struct {
	said  *Error
	cause error
}

func (f *fault) Error() string   { return fmt.Sprintf("%s (%v)", f.said.Message, f.cause) }
func (f *fault) Unwrap() []error { return []error{f.said, f.cause} }

// Problems collects what is wrong with an input, so that a person hears everything at once.
type Problems []FieldProblem

// Addf notes a problem with a field.
func (p *Problems) Addf(field, format string, args ...any) {
	message, words := wording(format, args)
	*p = append(*p, FieldProblem{Field: field, Message: message, wording: words})
}

// Err returns a KindInvalid error with all problems, or nil when there are none.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	e := errorOf(KindInvalid, "Nothing was stored: please correct what is marked and send it again.", nil)
	e.Fields = p
	return e
}

// Invalidf returns a KindInvalid error about one field.
func Invalidf(field, format string, args ...any) error {
	var p Problems
	p.Addf(field, format, args...)
	return p.Err()
}
