package darwincore

import (
	"strings"
	"time"

	"revidit/review"
)

// Levels of verification, of HISPID 3: the standard has no list of its own and points to this one. Empty is not known. LevelRevision and
// LevelType are never worked out: a curator vouches for them, or they came with a specimen.
const (
	levelNone      = "0" // checked by nobody
	levelCompetent = "2" // determined by a competent person
)

// identification is a determination as a row.
type identification struct {
	id, by, byID, on     string
	family, name, rank   string
	words                review.NameWords
	higher               Higher
	qualifier, formula   string
	verification         string
	verbatim, typeStatus string
	evidence, references string
	remarks              string
	accepted             bool
	// By what one is preferred: the greatest standing, of these the latest.
	standing int
	at       time.Time
	day      string
}

// Standings of a determination, the least first.
const (
	standsProposed = iota + 1
	standsSlip
	standsAcceptedSlip
	standsSettled
)

// identificationsOf are the rows of a record, those of slips first. One of them is accepted.
func identificationsOf(r *Record, book Book) []identification {
	rows := make([]identification, 0, len(r.Submissions)+len(r.Specimen.Slips))
	for i := range r.Specimen.Slips {
		rows = append(rows, slipRow(&r.Specimen.Slips[i], book))
	}
	for i := range r.Submissions {
		s := &r.Submissions[i]
		if s.Status == review.StatusDraft || s.Status == review.StatusWithdrawn {
			continue
		}
		rows = append(rows, submissionRow(s, book))
		rows = append(rows, namedOtherwise(r, s, book)...)
		if s.Status == review.StatusUndetermined {
			rows = append(rows, indetRow(s, book))
		}
	}
	accept(rows)
	for _, v := range r.Specimen.Vouchings {
		vouch(rows, v)
	}
	return rows
}

// accept marks the one that is preferred.
func accept(rows []identification) {
	best := -1
	for i := range rows {
		if best < 0 || rows[i].preferred(&rows[best]) {
			best = i
		}
	}
	for i := range rows {
		rows[i].accepted = i == best
	}
}

// preferred says whether one that stands behind another goes before it all the same.
func (x *identification) preferred(other *identification) bool {
	if x.standing != other.standing {
		return x.standing > other.standing
	}
	if !x.at.Equal(other.at) {
		return x.at.After(other.at)
	}
	return x.day >= other.day
}

func vouch(rows []identification, v review.Vouching) {
	for i := range rows {
		if rows[i].id != v.Determination && rows[i].id != urn+v.Determination {
			continue
		}
		if v.Verification != "" {
			rows[i].verification = v.Verification
		}
		if v.TypeStatus != "" {
			rows[i].typeStatus = v.TypeStatus
		}
	}
}

// submissionRow is the name that was submitted. A voice that agrees with it is told in the remarks: it is no further determination.
func submissionRow(s *review.ExtractedSubmission, book Book) identification {
	d := &s.Determination
	_, rank := book.Group(s.Group)
	x := identification{id: urn + s.ID, on: d.DeterminedOn, family: d.Family, name: d.Family, rank: rank, verification: levelNone, evidence: "features",
		standing: standsProposed, at: s.ChangedAt, verbatim: d.Wording, higher: book.Higher(d.Family)}
	x.by, x.byID = person(d.Determiner, book)
	if d.ScientificName != "" {
		x.name = d.ScientificName
		x.setWords(review.RankGenus)
	}
	x.qualifier, x.formula = doubt(d, x.name)
	if x.verbatim == "" {
		x.verbatim = written(d)
	}
	if s.Settled {
		x.verification = levelCompetent
	}
	if s.Status == review.StatusConfirmed {
		x.standing, x.at = standsSettled, closedAt(s)
	}
	x.remarks = agreed(s, book)
	return x
}

func closedAt(s *review.ExtractedSubmission) time.Time {
	if s.ClosedAt == nil {
		return s.ChangedAt
	}
	return *s.ClosedAt
}

// setWords splits the name, and says of which rank it is where that was not told.
func (x *identification) setWords(least review.Rank) {
	d := review.Determination{ScientificName: x.name}
	x.words = d.NameWords()
	switch {
	case x.words.Infraspecific != "":
		x.rank = "subspecies"
	case x.words.Epithet != "":
		x.rank = string(review.RankSpecies)
	default:
		x.rank = string(least)
	}
}

// doubt is the qualifier with what it is about, and the pattern of both.
func doubt(d *review.Determination, name string) (qualifier, formula string) {
	switch d.Qualifier {
	case review.QualifierDoubt:
		return "? " + name, "A ?"
	case review.QualifierCf, review.QualifierAff:
		words := d.NameWords()
		if d.Doubted == review.RankSpecies && words.Epithet != "" {
			name = words.Epithet
		}
		return string(d.Qualifier) + " " + name, "A " + string(d.Qualifier)
	}
	return "", "A"
}

// written is the name as it is written on a slip.
func written(d *review.Determination) string {
	name := d.NameAt(review.RankSpecies)
	if name == "" {
		name = d.Family
		if d.AsGiven != "" {
			name = d.AsGiven
		}
	}
	if d.Qualifier == review.QualifierDoubt {
		name += "?"
	}
	return name
}

// person is a name with its identifier; of somebody who was erased nothing is told.
func person(id string, book Book) (name, identifier string) {
	if name = book.Person(id); name == "" {
		return "", ""
	}
	return name, urn + id
}

// agreed tells who agreed with the name of a closed submission, down to which rank, and from what.
func agreed(s *review.ExtractedSubmission, book Book) string {
	var told []string
	for i := range s.Opinions {
		o := &s.Opinions[i]
		name := book.Person(o.By)
		if o.Kind != review.OpinionAgrees || name == "" {
			continue
		}
		told = append(told, o.Slip(&s.Determination)+" "+name+" "+o.At.Format(time.DateOnly))
	}
	return strings.Join(told, between)
}

// namedOtherwise are the other names that reviewers gave: a determination each, unless the same person has submitted it.
func namedOtherwise(r *Record, s *review.ExtractedSubmission, book Book) []identification {
	var rows []identification
	for i := range s.Opinions {
		o := &s.Opinions[i]
		if o.Kind != review.OpinionAnother || submitted(r, o.By, o.Family) {
			continue
		}
		_, rank := book.Group(s.Group)
		x := identification{id: urn + s.ID + "#" + o.By, on: o.At.Format(time.DateOnly), family: o.Family, name: o.Family, rank: rank, formula: "A", verification: levelCompetent,
			verbatim: o.Family, evidence: "features", standing: standsProposed, at: o.At, higher: book.Higher(o.Family)}
		x.by, x.byID = person(o.By, book)
		if o.Basis == review.BasisPhotos {
			x.evidence = "media"
		}
		rows = append(rows, x)
	}
	return rows
}

func submitted(r *Record, by, family string) bool {
	for i := range r.Submissions {
		d := &r.Submissions[i].Determination
		if d.Determiner == by && d.Family == family && r.Submissions[i].Status != review.StatusWithdrawn {
			return true
		}
	}
	return false
}

// indetRow is the determination of whoever left it undetermined: the taxon that the tables are about.
func indetRow(s *review.ExtractedSubmission, book Book) identification {
	taxon, rank := book.Group(s.Group)
	x := identification{id: urn + s.ID + "#indet", on: closedAt(s).Format(time.DateOnly), name: taxon, verification: levelCompetent, formula: "A", evidence: "features",
		verbatim: review.Indet(taxon, rank), standing: standsSettled, at: closedAt(s), higher: book.Higher(taxon)}
	if x.higher.Order == taxon {
		x.rank = "order"
	}
	x.by, x.byID = person(s.UndeterminedBy, book)
	return x
}

// slipRow is a determination that came with the specimen, as it came.
func slipRow(s *review.Slip, book Book) identification {
	x := identification{id: s.ID, on: s.DeterminedOn, family: s.Family, name: s.Name, rank: s.Rank, qualifier: s.Qualifier, formula: s.Formula, verification: s.Verification,
		verbatim: s.Wording, typeStatus: s.TypeStatus, evidence: s.Evidence, references: s.References, remarks: s.Remarks, standing: standsSlip, day: s.DeterminedOn}
	if s.Accepted {
		x.standing = standsAcceptedSlip
	}
	var names, ids []string
	for _, id := range s.Determiners {
		if name, identifier := person(id, book); name != "" {
			names, ids = append(names, name), append(ids, identifier)
		}
	}
	x.by, x.byID = strings.Join(names, between), strings.Join(ids, between)
	x.higher = book.Higher(s.Family)
	if s.Family == "" {
		x.higher = book.Higher(s.Name)
	}
	if s.Name != s.Family && x.higher.Order != s.Name {
		rank := x.rank
		if x.setWords(review.RankGenus); rank != "" {
			x.rank = rank
		}
	}
	return x
}

// putTaxon fills the columns of the name, behind at.
func (x *identification) putTaxon(row []string, at int) {
	row[at+tKingdom], row[at+tPhylum], row[at+tClass], row[at+tOrder] = x.higher.Kingdom, x.higher.Phylum, x.higher.Class, x.higher.Order
	row[at+tFamily], row[at+tGenus], row[at+tSubgenus], row[at+tEpithet] = x.family, x.words.Genus, x.words.Subgenus, x.words.Epithet
	row[at+tInfraspecific], row[at+tName], row[at+tAuthor], row[at+tRank] = x.words.Infraspecific, x.name, x.words.Author, x.rank
	row[at+tCode] = "ICZN"
}

// putShort fills the columns of the identification, of which that of the identifier stands at at.
func (x *identification) putShort(row []string, at int) {
	row = row[at-iID:]
	row[iID], row[iBy], row[iByID], row[iOn] = x.id, x.by, x.byID, x.on
	row[iQualifier], row[iVerification], row[iRemarks], row[iReferences] = x.qualifier, x.verification, x.remarks, x.references
	row[iTypeStatus], row[iVerbatim], row[iEvidence], row[iFormula] = x.typeStatus, x.verbatim, x.evidence, x.formula
	row[iAccepted] = "false"
	if x.accepted {
		row[iAccepted] = "true"
	}
}

// appendIdentifications writes the rows of a record; row is memory to use.
func appendIdentifications(to []byte, row []string, core string, all []identification) []byte {
	for i := range all {
		row[iCore] = core
		all[i].putShort(row, iID)
		all[i].putTaxon(row, iTaxon)
		to = appendRow(to, row)
	}
	return to
}
