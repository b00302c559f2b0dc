package label

import (
	"slices"
	"strings"
	"unicode"

	"revidit/review"
)

// Slip is a determination label: a name, and under it who says so.
type Slip struct {
	// Plain is a name that is no scientific name of genus or species, such as a family; else Parts are it.
	Plain string
	Parts []review.NamePart
	Words string // det., conf. or conf. from photo
	Name  string // of who signs
	Year  string // empty where it is not known
}

var slipRecipe = recipe{
	gentle: []step{
		rewrite(Initials, initials, Determiner),
		rewrite(Abbreviated, shortAuthor, Author),
	},
	drops: []step{
		rewrite(LeftOut, withoutYear, Author),
		leaveOut(Author),
		withoutSubgenus,
	},
	cut: []Field{Determiner, Name},
}

// Determination is the slip of an opened submission's determination; person is the determiner's name.
func Determination(d *review.Determination, person string) Slip {
	s := slipOf(d, review.RankSpecies)
	s.Words, s.Name, s.Year = "det.", person, year(d.DeterminedOn)
	return s
}

// Opinion is the slip of what a reviewer has said of a determination; on is the day. It names what was agreed on, and nothing below
// (review.Opinion.Slip).
func Opinion(o *review.Opinion, d *review.Determination, person, on string) Slip {
	if o.Kind == review.OpinionAnother {
		return Slip{Plain: o.Family, Words: "det.", Name: person, Year: year(on)}
	}
	rank := o.Rank
	if d.ScientificName == "" {
		rank = ""
	}
	s := slipOf(d, rank)
	s.Words, s.Name, s.Year = "conf.", person, year(on)
	if o.Basis == review.BasisPhotos {
		s.Words = "conf. from photo"
	}
	return s
}

// Indet is the slip of what cannot be named; name is review.Indet.
func Indet(name, person, on string) Slip {
	return Slip{Plain: name, Words: "det.", Name: person, Year: year(on)}
}

// slipOf names a determination down to a rank.
func slipOf(d *review.Determination, rank review.Rank) Slip {
	if (rank == review.RankGenus || rank == review.RankSpecies) && d.ScientificName != "" {
		return Slip{Parts: d.PartsTo(rank)}
	}
	s := Slip{Plain: d.Family}
	if d.Qualifier == review.QualifierDoubt {
		s.Plain += hard + "?"
	}
	return s
}

func year(date string) string {
	if len(date) < 4 {
		return ""
	}
	return date[:4]
}

// Slip sets a determination label.
func (s Setter) Slip(x Slip) Typeset {
	name := []piece{{Name, run(x.Plain), ""}}
	if len(x.Parts) > 0 {
		runs, author := nameRuns(x.Parts)
		name = pieces(piece{Name, runs, ""}, piece{Author, run(author), " "})
	}
	who := pieces(piece{Whole, together(x.Words), ""}, piece{Determiner, together(x.Name), " "}, piece{Date, run(x.Year), hard})
	return s.set(draft{name, who}, slipRecipe, marginSide)
}

// together is a text that stays on one line where it can.
func together(text string) []Run {
	return []Run{{Text: strings.ReplaceAll(upright(text), " ", hard)}}
}

// particles begin the name of an author, though they are written small.
var particles = []string{"de", "del", "della", "der", "den", "di", "du", "da", "la", "le", "van", "von", "vom", "zu", "af", "in", "et"}

// nameRuns are the name in italics, with what is upright in it, and its author. Authors are not set in italics.
func nameRuns(parts []review.NamePart) (name []Run, author string) {
	for _, part := range parts {
		if !part.Italic {
			name = addWord(name, part.Text, false)
			continue
		}
		fields := strings.Fields(part.Text)
		for i, field := range fields {
			kind := wordKind(field, i, len(name) == 0)
			if kind == authorWord {
				author = strings.TrimSpace(author + " " + strings.Join(fields[i:], " "))
				break
			}
			name = addWord(name, field, kind == nameWord)
		}
	}
	return name, author
}

type kindOfWord int

const (
	nameWord    kindOfWord = iota
	uprightWord            // sp., subsp., var.
	authorWord
)

// wordKind tells the i-th word of a stretch of a scientific name: the genus is the first one of all, a subgenus stands in brackets
// behind it, epithets are written small, and so are ranks with a full stop; an author begins with a capital letter, a bracket or a
// particle.
func wordKind(word string, i int, genus bool) kindOfWord {
	small := unicode.IsLower(firstRune(word))
	switch {
	case i == 0 && (genus || small):
		return nameWord
	case i == 1 && strings.HasPrefix(word, "(") && strings.HasSuffix(word, ")"):
		return nameWord
	case small && strings.HasSuffix(word, "."):
		return uprightWord
	case small && !slices.Contains(particles, word):
		return nameWord
	}
	return authorWord
}

func addWord(name []Run, word string, italic bool) []Run {
	if n := len(name); n > 0 {
		name = appendRun(name, Run{" ", name[n-1].Italic})
	}
	return appendRun(name, Run{word, italic})
}

// withoutSubgenus leaves out what stands in brackets behind the genus.
func withoutSubgenus(d draft) []Shortening {
	p := d.find(Name)
	full := p.text()
	for i := range p.runs {
		from, to := strings.Index(p.runs[i].Text, " ("), strings.Index(p.runs[i].Text, ")")
		if p.runs[i].Italic && from >= 0 && to > from {
			p.runs[i].Text = p.runs[i].Text[:from] + p.runs[i].Text[to+1:]
		}
	}
	if p.text() == full {
		return nil
	}
	return []Shortening{{Name, LeftOut, plain(full), plain(p.text())}}
}
