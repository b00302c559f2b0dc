package pages

import (
	"context"
	"strings"

	"revidit/review"
	"revidit/web/words"
)

// Manual is what the OpenAPI document says, in the order in which it is read. Its words are those of the document, which is in English.
type Manual struct {
	Title, Version, About string
	Groups                []ManualGroup
	Things                []ManualThing // what is sent and answered, by name
}

// ManualGroup are operations about one thing.
type ManualGroup struct {
	Name       string
	Operations []ManualOperation
}

// ManualOperation is one thing that can be done.
type ManualOperation struct {
	ID, Method, Path, Summary, About string
	// Open: nobody has to be logged in. Else Who are the rows of the permission table; none where the document says no more than that
	// somebody has to be.
	Open       bool
	Who        []ManualWho
	Parameters []ManualField
	Bodies     []ManualBody // one of them is sent
	Answers    []ManualAnswer
	Call       string // an example for a shell
}

// ManualWho is a row of the permission table: which roles, and whose the thing has to be ("any", "own", "others").
type ManualWho struct {
	Roles []string
	Whose string
}

// ManualField is a parameter, or a field of what is sent or answered.
type ManualField struct {
	Name, In, About string
	Required        bool
	Type            ManualType
}

// ManualType says what a value may be.
type ManualType struct {
	// Kind is "string", "integer", "number", "boolean", "object", "file", "time", "day", "any", or "list" and "map", of Of.
	Kind  string
	Of    *ManualType
	Thing string // name of a thing that it is
	// Least and Most bound the letters of a text, the entries of a list, the value of a number; empty where nothing does.
	Least, Most string
	Pattern     string
	Choice      []string // one of these
	Usual       string   // what it is where nothing is said
	Null        bool     // it may be null
}

// ManualBody is what is sent or answered in one media type.
type ManualBody struct {
	Media string
	Type  ManualType
	// Fields are those of a body that has no name of its own.
	Fields []ManualField
}

// ManualAnswer is how an operation may end.
type ManualAnswer struct {
	Status, About string
	Headers       []ManualField
	Bodies        []ManualBody
}

// ManualThing is a kind of object.
type ManualThing struct {
	Name, About string
	Fields      []ManualField
}

// manualID is where something stands on the page.
func manualID(kind, name string) string { return kind + "-" + name }

// typeWords say what a value may be, without the name of a thing, which is a link.
func typeWords(ctx context.Context, t ManualType) string {
	if t.Thing != "" {
		return ""
	}
	said := coded(ctx, "manual.type-", t.Kind)
	if t.Of != nil && t.Of.Thing == "" {
		said += " " + typeWords(ctx, *t.Of)
	}
	return said
}

// thingOf is the thing that a type is, or is made of.
func thingOf(t ManualType) string {
	for t.Thing == "" && t.Of != nil {
		t = *t.Of
	}
	return t.Thing
}

// limitWords say how a value is bounded.
func limitWords(ctx context.Context, t ManualType) string {
	kind := t.Kind
	if kind == "integer" {
		kind = "number"
	}
	switch {
	case t.Least != "" && t.Most != "":
		return words.T(ctx, "manual.between-"+kind, "Least", t.Least, "Most", t.Most)
	case t.Least != "":
		return words.T(ctx, "manual.least-"+kind, "Least", t.Least)
	case t.Most != "":
		return words.T(ctx, "manual.most-"+kind, "Most", t.Most)
	}
	return ""
}

// boundWords say how a value is bounded, behind what it is.
func boundWords(ctx context.Context, t ManualType) (said string) {
	if limits := limitWords(ctx, t); limits != "" {
		said = ", " + limits
	}
	if t.Null {
		said += ", " + words.T(ctx, "manual.null")
	}
	return said
}

// whoWords say who may, a row of the permission table.
func whoWords(ctx context.Context, w ManualWho) string {
	var roles []string
	for _, r := range w.Roles {
		roles = append(roles, roleWord(ctx, review.Role(r)))
	}
	said := strings.Join(roles, ", ")
	if w.Whose == "own" || w.Whose == "others" {
		said += " (" + coded(ctx, "manual.whose-", w.Whose) + ")"
	}
	return said
}
