package judgement

import "fmt"

// CaveatKind is what a number leaves out or takes for granted.
type CaveatKind string

const (
	// CaveatNoFamily: the tables have no family Name, so that no name is judged.
	CaveatNoFamily CaveatKind = "no-family"
	// CaveatOldName: Name is an old name, the species of which stand in Family.
	CaveatOldName CaveatKind = "old-name"
	// CaveatLeftOut: what was Stated is none of the tables' characters and states.
	CaveatLeftOut CaveatKind = "left-out"
	// CaveatReportLeftOut: so is what was reported of it.
	CaveatReportLeftOut CaveatKind = "report-left-out"
	// CaveatLiveOnly: what was Stated can be stated on a live specimen only.
	CaveatLiveOnly CaveatKind = "live-only"
	// CaveatList: the club's list gives Name a Weight that cannot be taken.
	CaveatList CaveatKind = "list"
	// CaveatNoneStated: no character is stated.
	CaveatNoneStated CaveatKind = "none-stated"
	// CaveatOneStated: only one of the Characters is.
	CaveatOneStated CaveatKind = "one-stated"
	// CaveatUnfit: no family explains well what was stated; first to be looked at are the Characters of the wider Group, where there are any.
	CaveatUnfit CaveatKind = "unfit"
	// CaveatSame: Characters partly say the same, and count less by so many Decibans.
	CaveatSame CaveatKind = "same"
	// CaveatGaps: the tables of Family lack Characters.
	CaveatGaps CaveatKind = "gaps"
	// CaveatWider: what was Stated of the wider Group speaks for its taxon Name.
	CaveatWider CaveatKind = "wider"
)

// CaveatKinds are all of them.
var CaveatKinds = []CaveatKind{CaveatNoFamily, CaveatOldName, CaveatLeftOut, CaveatReportLeftOut, CaveatLiveOnly, CaveatList, CaveatNoneStated,
	CaveatOneStated, CaveatUnfit, CaveatSame, CaveatGaps, CaveatWider}

// Caveat is what a number leaves out or takes for granted, as a code with its values: those that its kind names.
type Caveat struct {
	Kind       CaveatKind `json:"kind" enum:"no-family,old-name,left-out,report-left-out,live-only,list,none-stated,one-stated,unfit,same,gaps,wider"`
	Name       string     `json:"name,omitempty"`
	Family     string     `json:"family,omitempty"`
	Group      string     `json:"group,omitempty"`
	Characters []string   `json:"characters,omitempty"`
	Stated     []Selected `json:"stated,omitempty"`
	// Weight is text, because a list may hold what is no number.
	Weight   string `json:"weight,omitempty"`
	Decibans int    `json:"decibans,omitempty"`
}

func (g *gathered) warn(c Caveat) { g.caveats = append(g.caveats, c) }

// warnOf is a caveat about one stated character.
func (g *gathered) warnOf(kind CaveatKind, character, state string) {
	g.warn(Caveat{Kind: kind, Stated: []Selected{{character, state}}})
}

// weightText is a weight of a list as it is written there.
func weightText(w float64) string { return fmt.Sprint(w) }
