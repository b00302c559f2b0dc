package review

import "revidit/review/diagnosis"

// PLACEHOLDER by the lead so that package review compiles while assess.go and its neighbours are being written.
// The owner of assess.go replaces this whole file; the lead's files use exactly these names (plus the fields named in
// the task): ContradictionKind consts Excluded, Unusual, Combination, Incompatible, Unseen, BetterFit;
// Assessment.Brief() keeps what events store (top 5 of Ranking, all contradictions, Why, Next at most 8, Warnings).

type ContradictionKind string

const (
	Excluded     ContradictionKind = "excluded"
	Unusual      ContradictionKind = "unusual"
	Combination  ContradictionKind = "combination"
	Incompatible ContradictionKind = "incompatible"
	Unseen       ContradictionKind = "unseen"
	BetterFit    ContradictionKind = "better-fit"
)

type Contradiction struct {
	Kind      ContradictionKind `json:"kind"`
	Character string            `json:"character"`
	State     string            `json:"state"`
	Family    string            `json:"family"`
	Reason    string            `json:"reason"`
	Source    string            `json:"source"`
	Resolve   string            `json:"resolve"`
}

type Ranked struct {
	Family string  `json:"family"`
	P      float64 `json:"p"`
}

type Weight struct {
	Character string  `json:"character"`
	Decibans  float64 `json:"decibans"`
}

type Next struct {
	Character string  `json:"character"`
	Bits      float64 `json:"bits"`
}

type Assessment struct {
	Group          string          `json:"group"`
	Release        string          `json:"release"`
	TablesHash     string          `json:"tables_hash"`
	Method         string          `json:"method"`
	Family         string          `json:"family"`
	Remark         string          `json:"remark,omitempty"`
	Confidence     float64         `json:"confidence"`
	Ranking        []Ranked        `json:"ranking"`
	Contradictions []Contradiction `json:"contradictions"`
	Why            []Weight        `json:"why"`
	Next           []Next          `json:"next"`
	Warnings       []string        `json:"warnings"`
}

func (a Assessment) Brief() Assessment { return a }

type ReportKind string

const (
	ReportStated    ReportKind = "stated"
	ReportBlind     ReportKind = "blind"
	ReportConfirmed ReportKind = "confirmed"
	ReportDisputed  ReportKind = "disputed"
)

type Report struct {
	Kind                ReportKind
	Better              string
	Accuracy, Anchoring float64
}

type Stated struct {
	Character, State string
	Reports          []Report
}

type Evidence struct {
	Family string
	Sex    string
	Stated []Stated
	Views  []string
	Prior  map[string]float64
}

type Judge struct{ tables *diagnosis.Tables }

func NewJudge(t *diagnosis.Tables) *Judge { return &Judge{tables: t} }

func (j *Judge) Tables() *diagnosis.Tables { return j.tables }

func (j *Judge) Assess(e Evidence) Assessment { return Assessment{} }

func (j *Judge) CheckState(character, state string) error { return nil }
