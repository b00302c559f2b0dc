package darwincore

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"revidit/review"
)

// readSlip is a determination as it was read.
type readSlip struct {
	review.IncomingSlip
	marked bool // it says itself whether it is accepted
}

// empty: there is no name in it.
func (s *readSlip) empty() bool { return s.Name == "" && s.Wording == "" && s.Family == "" }

// slip takes the determination out of a row; the ranks between are told by the name and the family.
func (v *values) slip() readSlip {
	var s readSlip
	s.ID, s.Name, s.Rank, s.Family = v.take(dwc+"identificationID"), v.take(dwc+"scientificName"), v.take(dwc+"taxonRank"), v.take(dwc+"family")
	s.Qualifier, s.Formula = v.take(dwc+"identificationQualifier"), v.take(dwc+"taxonFormula")
	s.Wording, s.TypeStatus, s.Evidence = v.take(dwc+"verbatimIdentification"), v.take(dwc+"typeStatus"), v.take(dwc+"identificationType")
	s.References, s.Remarks = v.take(dwc+"identificationReferences"), v.take(dwc+"identificationRemarks")
	s.By = v.list(dwc + "identifiedBy")
	v.ignoreIDs()
	v.wholeName(&s)
	v.verification(&s)
	v.determinedOn(&s)
	switch accepted := strings.ToLower(v.take(dwc + "isAcceptedIdentification")); accepted {
	case "":
	case "true", "false":
		s.Accepted, s.marked = accepted == "true", true
	default:
		v.fault(review.FaultChoice, dwc+"isAcceptedIdentification", accepted)
	}
	for _, f := range []struct {
		term string
		text *string
	}{{"identificationID", &s.ID}, {"scientificName", &s.Name}, {"taxonRank", &s.Rank}, {"family", &s.Family}, {"identificationQualifier", &s.Qualifier}, {"taxonFormula", &s.Formula},
		{"verbatimIdentification", &s.Wording}, {"typeStatus", &s.TypeStatus}, {"identificationType", &s.Evidence}, {"identificationReferences", &s.References},
		{"identificationRemarks", &s.Remarks}} {
		if utf8.RuneCountInString(*f.text) > review.MaxSlipText {
			v.fault(review.FaultLetters, dwc+f.term, *f.text)
			*f.text = ""
		}
	}
	return s
}

// ignoreIDs drops identifiers of people that are ours, since they name nobody elsewhere; others are kept.
func (v *values) ignoreIDs() {
	ids := v.take(dwc + "identifiedByID")
	for _, id := range strings.Split(ids, "|") {
		if !strings.HasPrefix(strings.TrimSpace(id), urn) {
			v.keep(dwc+"identifiedByID", ids)
			return
		}
	}
}

// wholeName puts together what stands in parts, and drops parts that the name tells.
func (v *values) wholeName(s *readSlip) {
	genus, subgenus, epithet, infra, author := v.take(dwc+"genus"), v.take(dwc+"subgenus"), v.take(dwc+"specificEpithet"), v.take(dwc+"infraspecificEpithet"),
		v.take(dwc+"scientificNameAuthorship")
	if s.Name == "" && genus != "" {
		parts := []string{genus}
		if subgenus != "" && epithet != "" {
			parts = append(parts, "("+subgenus+")")
		}
		s.Name = strings.Join(strings.Fields(strings.Join(append(parts, epithet, infra), " ")), " ")
	}
	if s.Name == "" && s.Family != "" && s.Wording == "" {
		s.Name, s.Rank = s.Family, "family"
	}
	if author != "" && !strings.Contains(s.Name, author) && s.Name != "" {
		s.Name += " " + author
	}
	for _, part := range []struct{ term, value string }{{"genus", genus}, {"subgenus", subgenus}, {"specificEpithet", epithet}, {"infraspecificEpithet", infra}} {
		if !strings.Contains(s.Name, part.value) {
			v.keep(dwc+part.term, part.value)
		}
	}
	// The higher taxa that any beetle has say nothing; others are kept.
	for term, known := range map[string]string{"kingdom": "Animalia", "phylum": "Arthropoda", "class": "Insecta", "order": "Coleoptera"} {
		if v.by[dwc+term] == known {
			v.ignore(dwc + term)
		}
	}
}

// verification keeps the levels of HISPID 3; another list's words have no place.
func (v *values) verification(s *readSlip) {
	value := v.take(dwc + "identificationVerificationStatus")
	if len(value) == 1 && value >= "0" && value <= "4" {
		s.Verification = value
		return
	}
	v.keep(dwc+"identificationVerificationStatus", value)
}

func (v *values) determinedOn(s *readSlip) {
	value := v.take(dwc + "dateIdentified")
	if value == "" {
		return
	}
	from, to, exact, ok := dates(value)
	if !ok {
		v.fault(review.FaultDate, dwc+"dateIdentified", value)
		return
	}
	if s.DeterminedOn = from; !exact || to != "" {
		v.keep(dwc+"dateIdentified", value)
	}
}

// settleSlips adds the determination of the core's own row where the history has none like it, and sees to it that one is accepted.
func settleSlips(in *review.Incoming, file string, core readSlip) {
	same := slices.IndexFunc(in.Slips, func(s review.IncomingSlip) bool { return sameSlip(&s, &core.IncomingSlip) })
	if same < 0 && !core.empty() {
		in.Slips = append(in.Slips, core.IncomingSlip)
		same = len(in.Slips) - 1
	}
	accepted := []int{}
	for i := range in.Slips {
		if in.Slips[i].Accepted {
			accepted = append(accepted, i)
		}
	}
	preferred := same
	switch {
	case len(accepted) > 0:
		if len(accepted) > 1 {
			in.Fault(review.IntakeFault{Code: review.FaultAccepted, File: file, Row: in.Row, Value: in.Slips[accepted[1]].Name})
		}
		preferred = latest(in.Slips, accepted)
	case same < 0:
		preferred = latest(in.Slips, nil)
	}
	for i := range in.Slips {
		in.Slips[i].Accepted = i == preferred
	}
}

// latest is the one with the latest date, among some or all.
func latest(slips []review.IncomingSlip, among []int) int {
	at := -1
	for i := range slips {
		if among != nil && !slices.Contains(among, i) {
			continue
		}
		if at < 0 || slips[i].DeterminedOn >= slips[at].DeterminedOn {
			at = i
		}
	}
	return at
}

// sameSlip: by their identifiers, or by name, person and date.
func sameSlip(a, b *review.IncomingSlip) bool {
	if a.ID != "" && b.ID != "" {
		return a.ID == b.ID
	}
	return a.Name == b.Name && a.DeterminedOn == b.DeterminedOn && slices.Equal(a.By, b.By)
}

// keepFormer keeps former names that the history does not tell.
func (v *values) keepFormer(former string) {
	for _, name := range strings.Split(former, "|") {
		name = strings.TrimSpace(name)
		known := func(s review.IncomingSlip) bool { return s.Wording == name || s.Name == name }
		if name != "" && !slices.ContainsFunc(v.in.Slips, known) {
			v.keep(dwc+"previousIdentifications", former)
			return
		}
	}
}

// mostMedia bounds photos and regions of one specimen.
const mostMedia = 200

// medium takes a photo, or a region of one that stands in the rows before it.
func (v *values) medium() {
	id := v.take(dcterms + "identifier")
	if of := v.take(ac + "isROIOf"); of != "" {
		v.region(id, of)
		return
	}
	d := review.Described{ID: id, Address: v.take(ac + "accessURI"), Type: v.take(dc + "format"), TakenOn: v.take(dcterms + "created"), License: v.take(dcterms + "rights")}
	if function := v.take(ac + "hashFunction"); function == "SHA-256" {
		d.SHA256 = v.take(ac + "hashValue")
	} else {
		v.keep(ac+"hashFunction", function)
	}
	d.Width, d.Height = v.pixels(exif+"PixelXDimension"), v.pixels(exif+"PixelYDimension")
	d.Part = v.word(ac+"subjectPart", subjectParts, partValues)
	d.Orientation = v.word(ac+"subjectOrientation", subjectOrientations, orientationValues)
	v.ignore(ac + "hasROI") // the regions say it themselves
	if v.by[dc+"type"] == "StillImage" {
		v.ignore(dc + "type")
	}
	if d.ID == "" {
		d.ID = d.Address
	}
	if d.ID == "" || len(v.in.Described) >= mostMedia || longest(d.ID, d.Address, d.Type, d.TakenOn, d.License) > review.MaxSlipText {
		v.in.Fault(review.IntakeFault{Code: review.FaultFile, File: v.name, Row: v.row, Value: d.ID})
		v.keep(dcterms+"identifier", d.ID)
		v.keep(ac+"accessURI", d.Address)
		return
	}
	v.in.Described = append(v.in.Described, d)
}

func longest(texts ...string) (n int) {
	for _, t := range texts {
		n = max(n, utf8.RuneCountInString(t))
	}
	return n
}

func (v *values) pixels(term string) int {
	value := v.take(term)
	n, err := strconv.Atoi(value)
	if value != "" && (err != nil || n < 1) {
		v.fault(review.FaultNumber, term, value)
		return 0
	}
	return n
}

// word is the word of a list, told by its IRI or by itself.
func (v *values) word(term string, list map[string]string, at string) string {
	iri, literal := v.take(term), v.take(term+"Literal")
	if word := wordOf(list, at, iri); word != "" {
		return word
	}
	v.keep(term, iri)
	if _, known := list[literal]; known || literal == "" {
		return literal
	}
	v.fault(review.FaultChoice, term+"Literal", literal)
	return ""
}

// region takes a rectangle in fractions of the image; other shapes have no place.
func (v *values) region(id, of string) {
	g := review.DescribedRegion{ID: id, Text: v.take(dcterms + "description")}
	var whole = true
	for term, into := range map[string]*float64{"xFrac": &g.X, "yFrac": &g.Y, "widthFrac": &g.W, "heightFrac": &g.H} {
		x, err := strconv.ParseFloat(v.by[ac+term], 64)
		whole = whole && err == nil
		*into = x
	}
	at := slices.IndexFunc(v.in.Described, func(d review.Described) bool { return d.ID == of })
	const slack = 1e-9 // of fractions that were rounded
	inside := g.X >= 0 && g.Y >= 0 && g.W > 0 && g.H > 0 && g.X+g.W <= 1+slack && g.Y+g.H <= 1+slack
	if !whole || !inside || at < 0 || len(v.in.Described[at].Regions) >= mostMedia || longest(g.ID, g.Text) > review.MaxSlipText {
		v.in.Fault(review.IntakeFault{Code: review.FaultRegion, File: v.name, Row: v.row, Value: id})
		v.keep(dcterms+"identifier", id)
		v.keep(ac+"isROIOf", of)
		v.keep(dcterms+"description", g.Text)
		return
	}
	v.ignore(ac+"xFrac", ac+"yFrac", ac+"widthFrac", ac+"heightFrac")
	if v.by[dc+"type"] == "StillImage" {
		v.ignore(dc + "type")
	}
	v.in.Described[at].Regions = append(v.in.Described[at].Regions, g)
}
