package models

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"revidit/review"
)

// testimony is a review.Closed.Testimony as it is stored: people by their place in a list, since an id is longer than
// what its person said, and what was said below the observation that it is about, so that observations need no ids.
type testimony struct {
	Sex      string     `json:"sex,omitempty"`
	People   []speaker  `json:"people"`
	Observed []observed `json:"observed"`
	InHand   []int      `json:"h,omitempty"` // people who had the specimen before them, where somebody told freely
}

// speaker is a person in a role.
type speaker struct {
	ID   string      `json:"id"`
	Role review.Role `json:"role"`
}

// observed is an observation with what was said of it. Times are microseconds since 1970.
type observed struct {
	Character string          `json:"c"`
	State     string          `json:"s"`
	Sureness  review.Sureness `json:"u,omitempty"` // empty: sure
	By        int             `json:"b"`
	At        int64           `json:"t"`
	Free      bool            `json:"f,omitempty"` // told freely
	Back      bool            `json:"w,omitempty"` // and taken back since
	Said      []remark        `json:"r,omitempty"` // blind looks, then verdicts
}

// remark is a blind look where it has no kind, else a verdict.
type remark struct {
	Kind  review.VerdictKind `json:"k,omitempty"`
	State string             `json:"s,omitempty"` // seen blind, or the better one
	By    int                `json:"b"`
	At    int64              `json:"t"`
}

// encodeTestimony stores what Closed.Testimony returned.
func encodeTestimony(c review.Closed) (string, error) {
	out := testimony{Sex: c.Specimen.Label.Sex, People: []speaker{}, Observed: []observed{}}
	place := map[string]int{}
	s := c.Submissions[0]
	for _, o := range c.Specimen.Observations {
		place[o.ID] = len(out.Observed)
		stored := observed{Character: o.Character, State: o.State, By: out.speaker(o.By, o.Role), At: o.At.UnixMicro(),
			Free: o.List == review.ListFree, Back: o.Withdrawn != ""}
		if o.Sureness != review.Sure {
			stored.Sureness = o.Sureness
		}
		out.Observed = append(out.Observed, stored)
	}
	for _, b := range s.Blind {
		out.say(place[b.Observation], remark{State: b.State, By: out.speaker(b.By, b.Role), At: b.At.UnixMicro()})
	}
	for _, v := range s.Verdicts {
		out.say(place[v.Observation], remark{Kind: v.Kind, State: v.Better, By: out.speaker(v.By, v.Role), At: v.At.UnixMicro()})
	}
	for _, o := range s.Opinions {
		out.InHand = append(out.InHand, out.speaker(o.By, review.RoleReviewer))
	}
	body, err := json.Marshal(out)
	if err != nil {
		return "", fmt.Errorf("encode what was said of specimen %s: %w", c.Specimen.ID, err)
	}
	return string(body), nil
}

// speaker is the place of a person in a role.
func (t *testimony) speaker(id string, role review.Role) int {
	who := speaker{id, role}
	if at := slices.Index(t.People, who); at >= 0 {
		return at
	}
	t.People = append(t.People, who)
	return len(t.People) - 1
}

func (t *testimony) say(at int, s remark) { t.Observed[at].Said = append(t.Observed[at].Said, s) }

// decodeTestimony is the inverse of encodeTestimony, but for the ids of observations, which become their places.
func decodeTestimony(specimen, body string) (review.Closed, error) {
	var t testimony
	if err := json.Unmarshal([]byte(body), &t); err != nil {
		return review.Closed{}, unreadable("what was said of specimen", specimen, err)
	}
	spec := review.Specimen{ID: specimen, Label: review.Label{Sex: t.Sex}}
	s := review.Submission{Specimen: specimen, Verdicts: []review.Verdict{}}
	for i, o := range t.Observed {
		id, sureness := strconv.Itoa(i), o.Sureness
		if sureness == "" {
			sureness = review.Sure
		}
		by, err := t.who(specimen, o.By)
		if err != nil {
			return review.Closed{}, err
		}
		observation := review.Observation{ID: id, Character: o.Character, State: o.State, Sureness: sureness, By: by.ID, Role: by.Role, At: micro(o.At)}
		if o.Free {
			observation.List = review.ListFree
		}
		if o.Back {
			observation.Withdrawn = review.TakenBack
		} else {
			s.Cites = append(s.Cites, id)
		}
		spec.Observations = append(spec.Observations, observation)
		if err := t.said(&s, id, o.Said); err != nil {
			return review.Closed{}, err
		}
	}
	for _, place := range t.InHand {
		by, err := t.who(specimen, place)
		if err != nil {
			return review.Closed{}, err
		}
		s.Opinions = append(s.Opinions, review.Opinion{By: by.ID, Basis: review.BasisSpecimen})
	}
	return review.Closed{Specimen: spec, Submissions: []review.Submission{s}}, nil
}

func (t *testimony) said(s *review.Submission, observation string, said []remark) error {
	for _, r := range said {
		by, err := t.who(s.Specimen, r.By)
		if err != nil {
			return err
		}
		if r.Kind == "" {
			s.Blind = append(s.Blind, review.BlindCheck{Observation: observation, State: r.State, By: by.ID, Role: by.Role, At: micro(r.At)})
			continue
		}
		s.Verdicts = append(s.Verdicts, review.Verdict{Observation: observation, Kind: r.Kind, Better: r.State, By: by.ID, Role: by.Role, At: micro(r.At)})
	}
	return nil
}

func (t *testimony) who(specimen string, place int) (speaker, error) {
	if place < 0 || place >= len(t.People) {
		return speaker{}, fmt.Errorf("decode what was said of specimen %s: person %d of %d", specimen, place, len(t.People))
	}
	return t.People[place], nil
}

func micro(t int64) time.Time { return time.UnixMicro(t).UTC() }
