package inventory

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"revidit/review"
)

// slipCell takes a part of a determination.
func (s *specimen) slipCell(number int, part string, c Cell) {
	p := s.parts[number]
	if p == nil {
		p = &slipParts{row: s.row, columns: map[string]int{}}
		s.parts[number] = p
	}
	*p.field(part) = c.Text
	p.columns[part] = s.column
	if part == "date" {
		p.nativeDay, p.shortYear = c.Kind == CellDay, c.ShortYear
	}
}

// endRow makes determinations of the columns of a row. Earlier ones come first, then by their numbers.
func (s *specimen) endRow() {
	for _, number := range slices.Sorted(maps.Keys(s.parts)) {
		s.partsSlip(s.parts[number])
	}
	clear(s.parts)
	s.wholeSlips()
}

// partsSlip makes a determination of its parts.
func (s *specimen) partsSlip(p *slipParts) {
	slip := review.IncomingSlip{}
	written := p.name
	if written == "" && p.genus != "" {
		written = p.genus
		if p.subgenus != "" && p.epithet != "" {
			written += " (" + strings.Trim(p.subgenus, "()") + ")"
		}
		written = strings.Join(strings.Fields(written+" "+p.epithet+" "+p.subspecies), " ")
	}
	if written == "" {
		written = p.family
	}
	if written != "" && p.author != "" && !strings.Contains(written, p.author) {
		written += " " + p.author
	}
	slip.Slip = ReadName(written)
	if slip.Family = p.family; slip.Rank == "family" && slip.Family == "" {
		slip.Family = slip.Name
	}
	if slip.Qualifier == "" {
		slip.Qualifier = p.qualifier
	}
	slip.TypeStatus, slip.Remarks = p.typeStatus, p.remarks
	s.signedBy(&slip, p)
	if slip.Name == "" {
		if slip.Wording = strings.TrimSpace(strings.Join([]string{written, p.determiner, p.date}, " ")); slip.Wording == "" {
			s.keepParts(p)
			return
		}
		s.tell(review.FaultUnnamed, slip.Wording, "")
	}
	s.renamed(slip.Family, p)
	s.own = s.addSlip(slip)
}

// keepParts keeps what makes no determination.
func (s *specimen) keepParts(p *slipParts) {
	for _, part := range review.SlipParts {
		if value := *p.field(part); value != "" {
			s.column = p.columns[part]
			s.keep(value)
		}
	}
}

// signedBy takes who determined it, and when.
func (s *specimen) signedBy(slip *review.IncomingSlip, p *slipParts) {
	text := determined.ReplaceAllString(p.determiner, "$1")
	date := Date{}
	if text = strings.TrimSpace(text); text != "" {
		s.column = p.columns["determiner"]
		if slip.By, date, _ = signed(text, s.source.datesOf(s.column)); date != (Date{}) {
			s.tellDate(date, p.determiner)
			if p.date == "" && date.From != "" && !strings.HasSuffix(text, date.From) || date.Fault != "" {
				s.keep(p.determiner)
			}
		}
	}
	if p.date != "" {
		s.column = p.columns["date"]
		date = s.date(Cell{Text: p.date, Kind: map[bool]CellKind{true: CellDay}[p.nativeDay], ShortYear: p.shortYear})
	}
	slip.DeterminedOn = date.From
}

// renamed tells what a family is called today; what was written stays.
func (s *specimen) renamed(family string, p *slipParts) {
	if family == "" || s.source.families == nil {
		return
	}
	if today, remark, known := s.source.families(family); known && today != family {
		if at, ok := p.columns["family"]; ok {
			s.column = at
		} else if at, ok := p.columns["name"]; ok {
			s.column = at
		}
		s.tell(review.FaultRenamed, family, strings.TrimSuffix(today+": "+remark, ": "))
	}
}

// readWhole reads slips of a cell.
func (s *specimen) readWhole(text string) []slipText {
	slips := ReadSlips(text, s.source.datesOf(s.column))
	inexact := false
	for i := range slips {
		if d := slips[i].date; d != (Date{}) {
			s.tellDate(d, slips[i].dateText)
		}
		slips[i].DeterminedOn = slips[i].date.From
		inexact = inexact || slips[i].confirms
	}
	s.keep(text)
	if inexact {
		s.tell(review.FaultConfirmed, text, "")
	}
	return slips
}

// wholeSlips takes the slips of cells in. One that names no taxon and is the latest is the determination of the row's own name, where
// that has nobody who signed it; of an earlier one the name is not known.
func (s *specimen) wholeSlips() {
	whole := s.whole
	s.whole = nil
	s.column = s.source.columnOf(review.MeansSlips, s.column)
	for i := range whole {
		w := &whole[i]
		switch {
		case w.confirms:
			s.confirm(w.Wording)
		case (w.Name == "" && i == lastDetermination(whole) || s.isOwn(w.Name)) && s.signOwn(w):
		case w.Name == "" && len(w.By) == 0 && w.DeterminedOn == "":
		default:
			if w.Name == "" {
				s.tell(review.FaultUnnamed, w.Wording, "")
			}
			s.renamed(familyOf(&w.Slip), &slipParts{})
			s.addSlip(w.IncomingSlip)
		}
	}
}

func familyOf(slip *review.Slip) string {
	if slip.Rank == "family" {
		slip.Family, _, _ = strings.Cut(slip.Name, " ")
	}
	return slip.Family
}

func lastDetermination(slips []slipText) int {
	for i := len(slips) - 1; i >= 0; i-- {
		if !slips[i].confirms {
			return i
		}
	}
	return -1
}

// signOwn puts people and date of a slip to the name of the row, where that has none.
func (s *specimen) signOwn(w *slipText) bool {
	if s.own < 0 || s.Slips[s.own].Name == "" || len(s.Slips[s.own].By) > 0 || s.Slips[s.own].DeterminedOn != "" {
		return false
	}
	s.Slips[s.own].By, s.Slips[s.own].DeterminedOn = w.By, w.DeterminedOn
	return true
}

// isOwn says whether a name is that of the row's columns.
func (s *specimen) isOwn(name string) bool {
	return s.own >= 0 && name != "" && s.Slips[s.own].Name == name
}

// confirm keeps what somebody said who gave no name: with the determination before it, as a remark.
func (s *specimen) confirm(text string) {
	if len(s.Slips) == 0 { // the cell is kept as it is
		return
	}
	slip := &s.Slips[len(s.Slips)-1]
	slip.Remarks = strings.TrimPrefix(slip.Remarks+"; "+text, "; ")
}

// mostSlips bounds determinations of one specimen.
const mostSlips = 50

// addSlip adds a determination unless it is there already, and returns its index; -1: it has no place.
func (s *specimen) addSlip(slip review.IncomingSlip) int {
	same := func(o review.IncomingSlip) bool {
		return o.Name == slip.Name && o.DeterminedOn == slip.DeterminedOn && slices.Equal(o.By, slip.By)
	}
	if at := slices.IndexFunc(s.Slips, same); at >= 0 {
		return at
	}
	for _, text := range []*string{&slip.Name, &slip.Family, &slip.Qualifier, &slip.Wording, &slip.TypeStatus, &slip.Remarks} {
		if utf8.RuneCountInString(*text) > review.MaxSlipText {
			s.tell(review.FaultLetters, *text, "")
			s.keep(*text)
			*text = ""
		}
	}
	if len(s.Slips) >= mostSlips || slip.Name == "" && slip.Wording == "" {
		s.tell(review.FaultSeveral, cmp.Or(slip.Wording, slip.Name), "")
		s.keep(cmp.Or(slip.Wording, slip.Name))
		return -1
	}
	s.Slips = append(s.Slips, slip)
	return len(s.Slips) - 1
}

// accept marks the one that holds: the name of the row's own columns where that has no date, since it is what the table calls the
// specimen; else the latest by its date, and of several without or of the same date the last one.
func (s *specimen) accept() {
	best := -1
	for i := range s.Slips {
		if s.Slips[i].Name == "" {
			continue
		}
		if best < 0 || s.Slips[i].DeterminedOn >= s.Slips[best].DeterminedOn {
			best = i
		}
	}
	if s.own >= 0 && s.Slips[s.own].Name != "" && s.Slips[s.own].DeterminedOn == "" {
		best = s.own
	}
	if best < 0 {
		best = len(s.Slips) - 1
	}
	if best >= 0 {
		s.Slips[best].Accepted = true
	}
}
