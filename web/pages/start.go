package pages

import (
	"context"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/words"
)

// StartData is what whoever is not logged in finds.
type StartData struct {
	Example *ExampleData // nil where no tables have one
	// Invented: it is a demo, whose people stand on the login page.
	Invented bool
}

// ExampleData is a specimen made up from the tables with what they say of it.
type ExampleData struct {
	Book       Book
	Example    judgement.Example
	Assessment judgement.Assessment
}

// ExampleOf is the example of a judge, with the character that tells; nil where its tables have none.
func ExampleOf(ctx context.Context, j *judgement.Judge) *ExampleData {
	e, ok := j.Example()
	if !ok {
		return nil
	}
	return &ExampleData{Book: BookIn(ctx, j.Tables()), Example: e, Assessment: j.Assess(e.Evidence(true))}
}

func (d ExampleData) telling() *diagnosis.Character {
	return d.Book.character(d.Example.Telling.Character)
}

// stated are all characters of the example, that which tells last.
func (d ExampleData) stated() []judgement.Stated { return d.Example.Evidence(true).Stated }

// tells says whether a character is the one that tells.
func (d ExampleData) tells(s judgement.Stated) bool {
	return s.Character == d.Example.Telling.Character
}

// named is a family with its common name in brackets, where it has one.
func (b Book) named(ctx context.Context, family string) string {
	if f, ok := b.Family(family); ok && f.Common != "" {
		return words.T(ctx, "visit.family-common", "Family", family, "Common", f.Common)
	}
	return family
}
