package review

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Open nomenclature, the marks of doubt with a name, follows Sigovini, Keppel and Tagliapietra (2016), Open Nomenclature in
// the biodiversity era, Methods in Ecology and Evolution 7: 1217-1225, from memory: a qualifier stands before the word that
// is doubted, and indet. names the rank at which naming stopped. Conf., det. and vid. on slips are common practice, no source.

// Rank of a name, as far as it goes below the rank that the tables judge (Group.Rank).
type Rank string

const (
	RankGenus   Rank = "genus"
	RankSpecies Rank = "species"
)

// Ranks are those that a name goes through, the highest first: that of the tables, genus and species.
func (d *Determination) Ranks(tables string) []Rank {
	ranks := []Rank{Rank(tables)}
	if d.ScientificName == "" {
		return ranks
	}
	ranks = append(ranks, RankGenus)
	if _, epithet := d.words(); epithet != "" {
		ranks = append(ranks, RankSpecies)
	}
	return ranks
}

// words are the genus, with its subgenus, and what follows from the epithet of the species on. A name of a genus with its
// author has no epithet; nor is sp. one.
func (d *Determination) words() (genus, rest string) {
	fields := strings.Fields(d.ScientificName)
	at := min(1, len(fields))
	if at < len(fields) && strings.HasPrefix(fields[at], "(") && strings.HasSuffix(fields[at], ")") {
		at++
	}
	if at < len(fields) && isEpithet(fields[at]) {
		return strings.Join(fields[:at], " "), strings.Join(fields[at:], " ")
	}
	return strings.Join(fields, " "), ""
}

// NameWords are the words of a scientific name.
type NameWords struct {
	Genus, Subgenus, Epithet, Infraspecific, Author string
}

// particles begin the names of authors in lower case.
var particles = []string{"de", "der", "den", "des", "di", "da", "du", "la", "le", "van", "vom", "von", "zu", "zur", "et", "ex", "in"}

// NameWords splits the scientific name. What follows the last epithet is the author.
func (d *Determination) NameWords() NameWords {
	var n NameWords
	rest := strings.Fields(d.ScientificName)
	take := func() string {
		word := rest[0]
		rest = rest[1:]
		return word
	}
	if len(rest) == 0 {
		return n
	}
	n.Genus = take()
	isSub := len(rest) > 0 && strings.HasPrefix(rest[0], "(") && strings.HasSuffix(rest[0], ")") && len(rest) > 1 && isEpithet(rest[1])
	if isSub {
		n.Subgenus = strings.Trim(take(), "()")
	}
	if len(rest) > 0 && isEpithet(rest[0]) && !slices.Contains(particles, rest[0]) {
		n.Epithet = take()
		if len(rest) > 1 && (rest[0] == "subsp." || rest[0] == "ssp." || rest[0] == "var.") {
			take()
		}
		if len(rest) > 0 && isEpithet(rest[0]) && !slices.Contains(particles, rest[0]) {
			n.Infraspecific = take()
		}
	}
	n.Author = strings.Join(rest, " ")
	return n
}

func isEpithet(word string) bool {
	first, _ := utf8.DecodeRuneInString(word)
	return unicode.IsLower(first) && !strings.HasSuffix(word, ".")
}

// NamePart is a stretch of a scientific name; qualifiers are not set in italics.
type NamePart struct {
	Text   string
	Italic bool
}

// Parts are the scientific name as it is written on a slip, empty where nobody went so far. A qualifier stands before the
// word that is doubted; where that was not asked yet, before the whole name.
func (d *Determination) Parts() []NamePart { return d.PartsTo(RankSpecies) }

// PartsTo is the same down to a rank: genus or species.
func (d *Determination) PartsTo(rank Rank) []NamePart {
	if d.ScientificName == "" {
		return nil
	}
	genus, rest := d.words()
	if rank == RankGenus {
		rest = ""
	}
	qualifier := NamePart{Text: string(d.Qualifier)}
	if d.Qualifier != QualifierCf && d.Qualifier != QualifierAff {
		qualifier.Text = ""
	}
	var parts []NamePart
	switch {
	case d.Doubted == RankSpecies && rest != "":
		parts = []NamePart{{genus, true}, qualifier, {rest, true}}
	case d.Doubted == RankSpecies:
		parts = []NamePart{{genus, true}}
	default:
		parts = []NamePart{qualifier, {strings.TrimSpace(genus + " " + rest), true}}
	}
	return slices.DeleteFunc(parts, func(p NamePart) bool { return p.Text == "" })
}

// NameAt is the name down to a rank, as it is written on a slip; tables is the rank that the tables judge.
func (d *Determination) NameAt(rank Rank) string {
	if rank != RankGenus && rank != RankSpecies {
		return d.Family
	}
	var words []string
	for _, p := range d.PartsTo(rank) {
		words = append(words, p.Text)
	}
	return strings.Join(words, " ")
}

// Slip is what an opinion prints on a slip, after the person; empty: no slip. What is confirmed is named where the name goes
// further, so that conf. never stands beside more than somebody agreed with. An opinion of a time when it had no rank was on
// the rank of the tables. Seen with the name left open is vid. (vidit, has seen it), which would be read as an endorsement,
// and prints none.
func (o *Opinion) Slip(d *Determination) string {
	switch o.Kind {
	case OpinionAnother:
		return "det. " + o.Family
	case OpinionLeftOpen:
		return ""
	}
	words := []string{"conf."}
	if d.ScientificName != "" {
		words = append(words, d.NameAt(o.Rank))
	}
	if o.Basis == BasisPhotos {
		words = append(words, "from photo")
	}
	return strings.Join(words, " ")
}

// AgreesAt says whether an opinion agrees with a name down to a rank at least.
func (o *Opinion) AgreesAt(rank Rank) bool {
	switch rank {
	case RankSpecies:
		return o.Kind == OpinionAgrees && o.Rank == RankSpecies
	case RankGenus:
		return o.Kind == OpinionAgrees && (o.Rank == RankSpecies || o.Rank == RankGenus)
	}
	return o.Kind == OpinionAgrees
}

// SureRank is the lowest rank of the name that is sure: somebody else has agreed down to it, and no word above is doubted. It is
// that of the tables where nobody went further, since those are all that tables and policy judge.
func (s *Submission) SureRank(tables string) Rank {
	d, sure := &s.Determination, Rank(tables)
	for _, rank := range d.Ranks(tables)[1:] {
		doubted := (d.Qualifier == QualifierCf || d.Qualifier == QualifierAff) && (d.Doubted != RankSpecies || rank == RankSpecies)
		agreed := slices.ContainsFunc(s.Opinions, func(o Opinion) bool { return o.By != d.Determiner && o.AgreesAt(rank) })
		if doubted || !agreed {
			break
		}
		sure = rank
	}
	return sure
}

// rankWords are the abbreviations of ranks before indet.; of others the rank stands in full.
var rankWords = map[string]string{"order": "ord.", "suborder": "subord.", "superfamily": "superfam.", "family": "fam.", "subfamily": "subfam.", "tribe": "trib.",
	"genus": "gen.", "species": "sp."}

// Indet is the name of what cannot be named at the rank of the tables: the taxon that they are about, and the rank at which
// naming stopped, as in "Coleoptera, fam. indet.".
func Indet(taxon, rank string) string {
	word := rankWords[rank]
	if word == "" {
		word = rank
	}
	return taxon + ", " + word + " indet."
}

// checkDoubted adds what is wrong with the word that is said to be doubted.
func (f *SubmissionForm) checkDoubted(p *Problems) {
	d := Determination{ScientificName: f.ScientificName}
	switch q := Qualifier(f.Qualifier); {
	case f.Doubted == "":
	case q != QualifierCf && q != QualifierAff:
		p.Addf("doubted", "only with cf. or aff.")
	case f.Doubted != RankGenus && f.Doubted != RankSpecies:
		p.Addf("doubted", "must be genus or species: the word before which the qualifier stands")
	case !slices.Contains(d.Ranks(""), f.Doubted):
		p.Addf("doubted", "the name goes no further than the genus")
	}
}

// doubted is the word before which cf. or aff. stands: where nobody has said, the last one of the name.
func (f *SubmissionForm) doubted(d *Determination) Rank {
	if d.Qualifier != QualifierCf && d.Qualifier != QualifierAff {
		return ""
	}
	if f.Doubted != "" {
		return f.Doubted
	}
	ranks := d.Ranks("")
	return ranks[len(ranks)-1]
}

// agreedRank is the rank down to which an opinion agrees; where nothing is said, that of the tables.
func (o *OpinionForm) agreedRank(p *Problems, d *Determination, tables string) Rank {
	ranks := d.Ranks(tables)
	switch {
	case o.Rank == "":
		return ranks[0]
	case o.Kind != OpinionAgrees:
		p.Addf("opinion.rank", "only where you agree with the name")
	case !slices.Contains(ranks, o.Rank):
		p.Addf("opinion.rank", "must be %s: the name goes no further", rankList(ranks))
	}
	return o.Rank
}

func rankList(ranks []Rank) string {
	words := make([]string, len(ranks))
	for i, r := range ranks {
		words[i] = string(r)
	}
	return strings.Join(words, " or ")
}
