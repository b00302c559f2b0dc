package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review/key"
	"revidit/review/key/trial"
	"revidit/review/service"
)

type keyInput struct {
	Caller
	OfGroup
	Region     string   `query:"region" maxLength:"60" doc:"A fauna of the tables, list for the club’s own list, world for all families; empty: the region of the club"`
	Family     []string `query:"family,explode" maxItems:"500" doc:"Only these families"`
	Submission []string `query:"submission,explode" maxItems:"60" doc:"In place of families: what the evidence on these submissions leaves possible"`
	Reader     string   `query:"reader" enum:"beginner,expert" default:"beginner" doc:"For whom the key is made"`
	Preparing  bool     `query:"preparing" doc:"With characters for which a specimen has to be softened, opened, wetted or had alive"`
}

type keyOutput struct {
	Body struct {
		Tables   TablesView    `json:"tables"`
		Region   string        `json:"region"`
		Families []string      `json:"families" nullable:"false" doc:"That the key leads to, by name"`
		Couplets []KeyCouplet  `json:"couplets" nullable:"false" doc:"By number, from 1"`
		Trial    []KeyTrialRow `json:"trial" nullable:"false" doc:"What a beginner and an expert made of it in a simulation, and a beginner of a key of one character a couplet (greedy)"`
	}
}

// KeyCouplet is a couplet of a printed key. The lead of which more characters fit is taken; the earliest decides where as many do.
type KeyCouplet struct {
	Number    int       `json:"number"`
	From      int       `json:"from,omitempty" doc:"The couplet that leads here"`
	Leads     []KeyLead `json:"leads" minItems:"2" maxItems:"2" nullable:"false"`
	Preparing bool      `json:"preparing,omitempty" doc:"Needs a specimen that is prepared, or alive"`
	Parted    []string  `json:"parted,omitempty" doc:"Families whose sexes take different leads here"`
}

// KeyLead is one of two leads, with the couplet that it leads to or the families that it ends at.
type KeyLead struct {
	Says    []KeySaying `json:"says" nullable:"false"`
	To      int         `json:"to,omitempty"`
	Endings []KeyEnding `json:"endings,omitempty"`
}

// KeySaying is what is told of a character: states, or a length in mm above one bound and not above the other.
type KeySaying struct {
	Character string   `json:"character"`
	States    []string `json:"states,omitempty"`
	OverMM    float64  `json:"over_mm,omitempty"`
	UpToMM    float64  `json:"up_to_mm,omitempty"`
}

// KeyEnding is a family that a lead ends at, with what to hold a specimen against.
type KeyEnding struct {
	Family string      `json:"family"`
	Forms  []string    `json:"forms,omitempty"`
	Sex    string      `json:"sex,omitempty" enum:",male,female"`
	Check  []KeySaying `json:"check,omitempty"`
	Enough int         `json:"enough,omitempty" doc:"As many of check have to fit; else the way was wrong"`
}

// KeyTrialRow is what somebody made of a key in the simulation.
type KeyTrialRow struct {
	Key       string  `json:"key" enum:"key,greedy"`
	Person    string  `json:"person" enum:"beginner,expert"`
	Specimens int     `json:"specimens"`
	Right     float64 `json:"right" doc:"Share that came to their own family"`
	Error     float64 `json:"error" doc:"Standard error of right"`
	Steps     float64 `json:"steps" doc:"Couplets read, on average"`
}

func (a *api) registerKey() {
	huma.Register(a.doors, hiding(operation(http.MethodGet, "/key", "key", "knowledge", "A dichotomous key from the tables in force", http.StatusNotFound, http.StatusForbidden)), a.key)
}

func (a *api) key(ctx context.Context, in *keyInput) (*keyOutput, error) {
	made, err := a.Service.Key(ctx, in.actor, service.KeyChoice{Group: in.Group, Region: in.Region, Families: in.Family, Submissions: in.Submission,
		Expert: in.Reader == "expert", Preparing: in.Preparing})
	if err != nil {
		return nil, err
	}
	t, err := a.tables(ctx, made.Group)
	if err != nil {
		return nil, err
	}
	out := &keyOutput{}
	out.Body.Tables, out.Body.Region, out.Body.Families = tablesView(t), made.Region, made.Families
	for i := range made.Couplets {
		out.Body.Couplets = append(out.Body.Couplets, keyCouplet(&made.Couplets[i]))
	}
	out.Body.Trial = []KeyTrialRow{trialRow("key", "beginner", made.Beginner), trialRow("key", "expert", made.Expert), trialRow("greedy", "beginner", made.Greedy)}
	return out, nil
}

func trialRow(of, person string, f trial.Figures) KeyTrialRow {
	return KeyTrialRow{Key: of, Person: person, Specimens: f.Specimens, Right: f.Right, Error: f.Error, Steps: f.Steps}
}

func keyCouplet(c *key.Couplet) KeyCouplet {
	view := KeyCouplet{Number: c.Number, From: c.From, Preparing: c.Preparing, Parted: c.Parted}
	for _, l := range c.Leads {
		lead := KeyLead{Says: keySayings(l.Says), To: l.To}
		for _, e := range l.Endings {
			lead.Endings = append(lead.Endings, KeyEnding{Family: e.Family, Forms: e.Forms, Sex: e.Sex, Check: keySayings(e.Check), Enough: e.Enough})
		}
		view.Leads = append(view.Leads, lead)
	}
	return view
}

func keySayings(says []key.Saying) []KeySaying {
	out := []KeySaying{}
	for _, s := range says {
		out = append(out, KeySaying{Character: s.Character, States: s.States, OverMM: s.Over, UpToMM: s.UpTo})
	}
	return out
}
