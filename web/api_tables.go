package web

import "revidit/review/diagnosis"

// TablesView says which release of which tables an answer comes from.
type TablesView struct {
	Group      string   `json:"group"`
	Title      string   `json:"title"`
	Taxon      string   `json:"taxon"`
	Rank       string   `json:"rank"`
	Release    string   `json:"release"`
	Hash       string   `json:"hash" doc:"SHA-256 of the tables: the identity of the release"`
	Cautions   []string `json:"cautions" nullable:"false"`
	Handling   []string `json:"handling" nullable:"false" doc:"What to mind where specimens are prepared and drawers are handled"`
	Quarantine string   `json:"quarantine,omitempty" doc:"What to do where a specimen may be of a species that a family names under quarantine"`
	Views      []View   `json:"views" nullable:"false" doc:"What a photo can show"`
}

// View is what a photo shows, in the terms of Audiovisual Core.
type View struct {
	ID          string `json:"id"`
	Label       string `json:"label"`
	Part        string `json:"part" doc:"ac:subjectPart"`
	Orientation string `json:"orientation" doc:"ac:subjectOrientation"`
}

// FamilyLine is a family in a list.
type FamilyLine struct {
	Name        string `json:"name"`
	Superfamily string `json:"superfamily,omitempty"`
	Common      string `json:"common,omitempty"`
	Species     int    `json:"species" doc:"Described in the world, approximate"`
	Caution     string `json:"caution,omitempty"`
	Dissecting  string `json:"dissecting,omitempty" doc:"What to mind where one is relaxed, mounted or dissected"`

	Quarantine []ReportableView `json:"quarantine" nullable:"false" doc:"Species that have to be reported at once"`
}

// ReportableView is a species that plant health services want to hear of at once.
type ReportableView struct {
	Name   string `json:"name"`
	Common string `json:"common"`
}

// FamilyView is a family with what marks it.
type FamilyView struct {
	FamilyLine
	Remark        string      `json:"remark,omitempty" doc:"What became of the old name that was asked for"`
	SpeciesSource string      `json:"species_source,omitempty"`
	OldNames      []OldName   `json:"old_names" nullable:"false"`
	LookAlikes    []LookAlike `json:"look_alikes" nullable:"false"`
	Inseparable   []Alike     `json:"inseparable" nullable:"false" doc:"Families that these characters do not always tell from this one"`
	Diagnosis     []CellView  `json:"diagnosis" nullable:"false" doc:"What the family shows in each character, in the order of the characters"`
	Forms         []FormView  `json:"forms" nullable:"false"`
}

// OldName is a name that a family holds today.
type OldName struct {
	Name   string `json:"name"`
	Remark string `json:"remark,omitempty"`
}

// LookAlike is a family easily taken for this one.
type LookAlike struct {
	Family string `json:"family"`
	Tell   string `json:"tell" doc:"What tells them apart"`
}

// Alike is a family that the characters of the tables do not always tell from another, and what it takes to do so.
type Alike struct {
	Family  string `json:"family"`
	Because string `json:"because"`
	Needs   string `json:"needs"`
}

// FormView is a part of a family that looks alike, with what it shows differently from the family.
type FormView struct {
	ID        string     `json:"id"`
	Label     string     `json:"label"`
	Weight    float64    `json:"weight" doc:"Share of the family, 0 to 1"`
	Sex       string     `json:"sex,omitempty"`
	Diagnosis []CellView `json:"diagnosis" nullable:"false"`
}

// CellView is what a family or form shows in one character, and who says so.
type CellView struct {
	Character string      `json:"character"`
	States    []ShareView `json:"states,omitempty" nullable:"false"`
	Length    *LengthView `json:"length,omitempty"`
	Source    SourceView  `json:"source"`
	Note      string      `json:"note,omitempty"`
}

// ShareView is how often a state occurs.
type ShareView struct {
	State string  `json:"state"`
	Word  string  `json:"word" doc:"Frequency as it stands in the table"`
	P     float64 `json:"p" doc:"Probability, 0 to 1"`
}

// LengthView is a range in millimetres.
type LengthView struct {
	Min      float64 `json:"min"`
	UsualMin float64 `json:"usual_min" doc:"5th percentile"`
	UsualMax float64 `json:"usual_max" doc:"95th percentile"`
	Max      float64 `json:"max"`
}

// SourceView is where a statement comes from.
type SourceView struct {
	ID       string `json:"id"`
	Citation string `json:"citation"`
	Place    string `json:"place,omitempty" doc:"Chapter, section or page"`
	Basis    string `json:"basis" enum:"read,read-in-part,memory" doc:"Read for this statement, for a part of it that the note names, or cited from memory"`
}

// CharacterView is a character with its states.
type CharacterView struct {
	ID     string      `json:"id"`
	Label  string      `json:"label"`
	Region string      `json:"region"`
	Kind   string      `json:"kind" enum:"states,count,length"`
	How    string      `json:"how,omitempty" doc:"How it is recorded"`
	Views  []string    `json:"views" nullable:"false" doc:"Views of which any can show it"`
	Parts  []string    `json:"parts,omitempty" doc:"Ids of the parts that it is looked for on, the chief one first"`
	States []StateView `json:"states" nullable:"false"`
	Min    *float64    `json:"min,omitempty" doc:"Least that may be stated; millimetres for a length"`
	Max    *float64    `json:"max,omitempty"`
	Effort float64     `json:"effort" doc:"What one look takes, in glances at what a pinned specimen shows at once; assumed"`
	Needs  string      `json:"needs,omitempty" doc:"What a look takes besides, in words"`
}

// StateView is one way a character can be.
type StateView struct {
	ID    string `json:"id"`
	Label string `json:"label"`
	Hint  string `json:"hint,omitempty"`
}

func tablesView(t *diagnosis.Tables) TablesView {
	v := TablesView{Group: t.Group.ID, Title: t.Group.Title, Taxon: t.Group.Taxon, Rank: t.Group.Rank, Release: t.Group.Release,
		Hash: t.Hash, Cautions: orEmpty(t.Group.Cautions), Handling: orEmpty(t.Group.Handling), Quarantine: t.Group.Quarantine, Views: []View{}}
	for _, view := range t.Group.Views {
		v.Views = append(v.Views, View(view))
	}
	return v
}

func familyLine(f *diagnosis.Family) FamilyLine {
	line := FamilyLine{Name: f.Name, Superfamily: f.Superfamily, Common: f.Common, Species: f.Species, Caution: f.Caution,
		Dissecting: f.Dissecting, Quarantine: []ReportableView{}}
	for _, r := range f.Quarantine {
		line.Quarantine = append(line.Quarantine, ReportableView(r))
	}
	return line
}

func familyView(t *diagnosis.Tables, f *diagnosis.Family, remark string) FamilyView {
	v := FamilyView{FamilyLine: familyLine(f), Remark: remark, SpeciesSource: f.SpeciesSource, OldNames: []OldName{},
		LookAlikes: []LookAlike{}, Inseparable: []Alike{}, Diagnosis: cellsView(t, f.Cells, nil), Forms: []FormView{}}
	for _, old := range f.OldNames {
		v.OldNames = append(v.OldNames, OldName(old))
	}
	for _, other := range f.LookAlikes {
		v.LookAlikes = append(v.LookAlikes, LookAlike{Family: other.Family, Tell: other.Tell})
	}
	for _, other := range f.Inseparable {
		v.Inseparable = append(v.Inseparable, Alike(other))
	}
	for _, form := range f.Forms {
		v.Forms = append(v.Forms, FormView{ID: form.ID, Label: form.Label, Weight: form.Weight, Sex: form.Sex,
			Diagnosis: cellsView(t, form.Cells, f.Cells)})
	}
	return v
}

// cellsView are the cells in the order of the characters, without those that are the same in common.
func cellsView(t *diagnosis.Tables, cells, common map[string]*diagnosis.Cell) []CellView {
	views := []CellView{}
	for i := range t.Characters {
		cell := cells[t.Characters[i].ID]
		if cell == nil || cell == common[t.Characters[i].ID] {
			continue
		}
		views = append(views, cellView(t, &t.Characters[i], cell))
	}
	return views
}

func cellView(t *diagnosis.Tables, c *diagnosis.Character, cell *diagnosis.Cell) CellView {
	v := CellView{Character: c.ID, Note: cell.Note, Source: SourceView{ID: cell.Citation.Source, Place: cell.Citation.Place,
		Basis: string(cell.Citation.Basis)}}
	if source, ok := t.Source(cell.Citation.Source); ok {
		v.Source.Citation = source.Citation
	}
	if c.Kind == diagnosis.KindLength {
		length := lengthView(cell.Length)
		v.Length = &length
		return v
	}
	for i, p := range cell.P {
		v.States = append(v.States, ShareView{State: c.States[i].ID, Word: cell.Words[i], P: p})
	}
	return v
}

func lengthView(l diagnosis.Length) LengthView {
	return LengthView{Min: l.Min, UsualMin: l.Usual[0], UsualMax: l.Usual[1], Max: l.Max}
}

func characterView(c *diagnosis.Character) CharacterView {
	v := CharacterView{ID: c.ID, Label: c.Label, Region: c.Region, Kind: string(c.Kind), How: c.How, Views: orEmpty(c.Views), Parts: c.Parts,
		States: []StateView{}, Effort: c.Effort, Needs: c.Needs}
	for _, state := range c.States {
		v.States = append(v.States, StateView(state))
	}
	if c.Kind != diagnosis.KindStates {
		v.Min, v.Max = &c.Min, &c.Max
	}
	return v
}
