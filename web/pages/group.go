package pages

import (
	"context"
	"slices"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/words"
)

// several says whether there is more than one group, so that a page has to name it.
func (s Site) several() bool { return len(s.Books) > 1 }

// book is that of a group by its id; zero where there is none.
func (s Site) book(group string) Book {
	for _, b := range s.Books {
		if b.Group.ID == group {
			return b
		}
	}
	return Book{}
}

// groupTitle is how a group is called; an id that no tables have stays as it is.
func (s Site) groupTitle(group string) string {
	if b := s.book(group); b.Tables != nil {
		return b.Group.Title
	}
	return group
}

// listed are the books whose names a page offers: that of the page, otherwise all.
func (s Site) listed() []Book {
	if s.Book.Tables != nil {
		return []Book{s.Book}
	}
	return s.Books
}

// rank is what the taxa of the page are: "family", "order"; "taxon" where the groups of the page differ.
func (s Site) rank() string {
	books := s.listed()
	if len(books) == 0 {
		return "taxon"
	}
	for _, b := range books {
		if b.Group.Rank != books[0].Group.Rank {
			return "taxon"
		}
	}
	return books[0].Group.Rank
}

// rankWord is what the taxa of the page are called, and ranksWord what several are.
func (s Site) rankWord(ctx context.Context) string { return rankWord(ctx, s.rank()) }

func (s Site) ranksWord(ctx context.Context) string {
	return rankPlural(ctx, s.rank())
}

// rankWord is what a rank is called, and rankPlural several of it; a rank without words stays as it is.
func rankWord(ctx context.Context, rank string) string {
	if id := "common.rank-" + rank; words.Has(id) {
		return words.T(ctx, id)
	}
	return rank
}

func rankPlural(ctx context.Context, rank string) string {
	if id := "common.ranks-" + rank; words.Has(id) {
		return words.T(ctx, id)
	}
	return diagnosis.Ranks(rank)
}

// rankCount is a number of taxa of a rank.
func rankCount(ctx context.Context, n int, rank string) string {
	if id := "tables.count-" + rank; words.Has(id) {
		return words.N(ctx, id, n)
	}
	return itoa(n) + " " + diagnosis.Ranks(rank)
}

// closest is the book that knows most of what a specimen shows. A specimen may have been judged by several groups, and
// its observations do not say by which.
func (s Site) closest(spec review.Specimen) Book {
	var best Book
	most := -1
	for _, b := range s.Books {
		known := 0
		for _, o := range spec.Observations {
			if _, ok := b.Tables.Character(o.Character); ok {
				known++
			}
		}
		for _, p := range spec.Photos {
			if b.knowsView(p.View) {
				known++
			}
		}
		if known > most {
			best, most = b, known
		}
	}
	return best
}

func (b Book) knowsView(id string) bool {
	for _, v := range b.Group.Views {
		if v.ID == id {
			return true
		}
	}
	return false
}

// of is the book that knows a character, the page's own first.
func (s Site) of(character string) Book {
	for _, b := range append([]Book{s.Book}, s.Books...) {
		if b.Tables == nil {
			continue
		}
		if _, ok := b.Tables.Character(character); ok {
			return b
		}
	}
	return s.Book
}

// region is what a region of the body is called by the tables of the page, or else by the first that have it.
func (s Site) region(id string) string {
	for _, b := range append([]Book{s.Book}, s.Books...) {
		if b.Tables != nil && slices.Contains(b.Tables.Regions(), id) {
			return b.Region(id)
		}
	}
	return s.Book.Region(id)
}

// About is the site with a group in front.
func (s Site) About(b Book) Site {
	s.Book = b
	return s
}

// BookOf makes a book of tables.
func BookOf(t *diagnosis.Tables) Book { return Book{Tables: t} }

// BookIn is the book of tables in the language of a context.
func BookIn(ctx context.Context, t *diagnosis.Tables) Book {
	return BookOf(t.In(words.Tag(ctx).String()))
}
