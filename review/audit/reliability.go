package audit

import (
	"cmp"
	"math"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// ReliabilityFigures is a snapshot made ready to be read: what is known of each person, by region of the body, with what
// it rests on.
type ReliabilityFigures struct {
	Group     string    `json:"group"`
	Version   int       `json:"version" doc:"Version of the snapshot, as assessments cite it; 0 knows the roles only"`
	At        time.Time `json:"at" doc:"When the snapshot was made; year 1 where it knows the roles only"`
	Refitted  time.Time `json:"refitted" doc:"When all reports were last weighed together; year 1 where they never were"`
	Specimens int       `json:"specimens" doc:"Specimens that it rests on: those whose submissions are all closed"`
	Items     int       `json:"items" doc:"Characters of those specimens"`
	Added     int       `json:"added" doc:"Specimens taken in one by one since the last refit"`
	// Warnings are those of the last refit.
	Warnings []confidence.Warning `json:"warnings" nullable:"false" doc:"Of the last refit"`
	Roles    []RoleFigures        `json:"roles" nullable:"false" doc:"What people are taken for before anything is known; assumed, no source"`
	People   []PersonFigures      `json:"people" nullable:"false" doc:"By name: everybody where the policy shows names to curators, otherwise the caller alone"`
	// Totals and Unnamed are for curators whom the policy shows no names.
	Totals  []review.ReliabilityTotal `json:"totals,omitempty" doc:"For curators where the policy shows totals alone: by role and region of the body"`
	Unnamed int                       `json:"unnamed,omitempty" doc:"How many persons the totals are of, those left out of them included"`
}

// RoleFigures is what somebody of a role is taken for before anything is known.
type RoleFigures struct {
	Role      review.Role `json:"role"`
	Accuracy  float64     `json:"accuracy" doc:"Probability of naming the true state where it is an ordinary one, 0 to 1; the tables say by role which are read more easily or less"`
	Anchoring float64     `json:"anchoring" doc:"Probability of confirming what is shown without looking, 0 to 1"`
	Weight    float64     `json:"weight" doc:"Reports of known truth that each of the two counts as"`
}

// PersonFigures is what is known of one person.
type PersonFigures struct {
	Person    string           `json:"person"`
	Name      string           `json:"name"`
	Role      review.Role      `json:"role" doc:"Latest role in which the person reported"`
	Regions   []RegionFigures  `json:"regions" nullable:"false" doc:"Every region of the tables"`
	Anchoring AnchoringFigures `json:"anchoring"`
	// Leaning is left out until it is estimated.
	Leaning *LeaningFigures `json:"leaning,omitempty" doc:"Readiness to say what is striking, beside how well the person sees; left out until there are 30 blind checks"`
}

// LeaningFigures is the leaning of one person.
type LeaningFigures struct {
	Value float64 `json:"value" doc:"In logits: added to that of reading a striking state right, and taken from that of the other states of its character (the criterion of Macmillan and Creelman 2005); 0 of nobody in particular"`
}

// RegionFigures is an accuracy of one person.
type RegionFigures struct {
	Region string `json:"region"`
	// Known is false where the person has reported nothing there: Accuracy is then the role's.
	Known         bool                 `json:"known" doc:"False where the person has reported nothing there: the accuracy is the role's"`
	Accuracy      float64              `json:"accuracy" doc:"Probability of naming an ordinary state that is to be seen, 0 to 1 (Dawid and Skene 1979, with a prior from the role)"`
	StandardError float64              `json:"standard_error" doc:"Of the accuracy"`
	Verdicts      int                  `json:"verdicts" doc:"Reports used"`
	Blind         int                  `json:"blind" doc:"Blind ones among them"`
	Warnings      []confidence.Warning `json:"warnings" nullable:"false"`
}

// AnchoringFigures is the anchoring of one person.
type AnchoringFigures struct {
	Value         float64              `json:"value" doc:"Probability of confirming what is shown without looking, 0 to 1"`
	Estimated     bool                 `json:"estimated" doc:"From the person's own blind checks; otherwise the role's"`
	StandardError float64              `json:"standard_error" doc:"0 where the value is the role's"`
	Shown         int                  `json:"shown" doc:"Verdicts on something shown"`
	Blind         int                  `json:"blind" doc:"Blind checks; from 30 on the anchoring is estimated"`
	Warnings      []confidence.Warning `json:"warnings" nullable:"false"`
}

// FiguresOf makes a snapshot ready to be read.
func FiguresOf(r review.Reliability, names map[string]string, t *diagnosis.Tables) ReliabilityFigures {
	f := ReliabilityFigures{Group: r.Group, Version: r.Version, At: r.At, Refitted: r.Refitted, Specimens: r.Specimens, Items: r.Items,
		Added: len(r.Added), Warnings: nonNilWarnings(r.Warnings), People: []PersonFigures{}, Totals: r.Totals, Unnamed: r.Unnamed}
	for _, role := range review.Roles {
		f.Roles = append(f.Roles, RoleFigures{Role: role, Accuracy: review.RoleAccuracy(role), Anchoring: review.RoleAnchoring(role), Weight: review.RoleWeight})
	}
	for id, known := range r.People {
		p := PersonFigures{Person: id, Name: names[id], Role: known.Role, Regions: []RegionFigures{}, Anchoring: anchoringFigures(r, id, known)}
		if known.Anchoring.Estimated() && known.Leaning != nil {
			p.Leaning = &LeaningFigures{Value: r.Leaning(id)}
		}
		for _, region := range t.Regions() {
			p.Regions = append(p.Regions, regionFigures(known, region))
		}
		f.People = append(f.People, p)
	}
	slices.SortFunc(f.People, func(a, b PersonFigures) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Person, b.Person))
	})
	return f
}

func regionFigures(p review.PersonKnown, region string) RegionFigures {
	prior := roles[roleIndex(p.Role)]
	k, known := p.Regions[region]
	if !known {
		k = confidence.KnownAccuracy{Right: prior.Right, Wrong: prior.Wrong}
	}
	f := RegionFigures{Region: region, Known: known, Accuracy: k.Value(), StandardError: k.StandardError(), Verdicts: k.Verdicts, Blind: k.Blind,
		Warnings: []confidence.Warning{}}
	if f.StandardError > errorOf(prior.Right, prior.Wrong, f.Accuracy)/math.Sqrt2 {
		f.Warnings = append(f.Warnings, confidence.PriorDecides)
	}
	if k.Blind == 0 {
		f.Warnings = append(f.Warnings, confidence.NeverBlind)
	}
	if f.Accuracy < 0.5 {
		f.Warnings = append(f.Warnings, confidence.WorseThanHalf)
	}
	return f
}

// errorOf is the standard error that a prior by itself leaves at p.
func errorOf(of, against, p float64) float64 {
	return 1 / math.Sqrt(of/(p*p)+against/((1-p)*(1-p)))
}

func anchoringFigures(r review.Reliability, id string, known review.PersonKnown) AnchoringFigures {
	a := known.Anchoring
	f := AnchoringFigures{Value: r.Anchoring(id, known.Role), Estimated: a.Estimated(), StandardError: a.StandardError(), Shown: a.Shown,
		Blind: a.Blind, Warnings: []confidence.Warning{}}
	switch prior := review.RoleAnchoring(known.Role); {
	case !f.Estimated:
		f.Warnings = append(f.Warnings, confidence.RoleAnchoring)
	case f.StandardError > errorOf(prior*review.RoleWeight, (1-prior)*review.RoleWeight, f.Value)/math.Sqrt2:
		f.Warnings = append(f.Warnings, confidence.PriorDecides)
	}
	return f
}
