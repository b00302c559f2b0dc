package review

import (
	"maps"
	"slices"
	"strings"
)

// Coded is what the program has to say of something: a code, and what it is about, by name, as ids and plain decimals. It is what is
// stored and what programs are told; words are made of it where somebody reads it. What was stored as a sentence, before there were
// codes, stays in fields of its own, and is recognized there.
type Coded struct {
	Code  string            `json:"code"`
	About map[string]string `json:"about,omitempty" doc:"What it is about, by name: ids, and numbers as plain decimals"`
}

// Code makes a Coded of names and values in turn.
func Code(code string, about ...string) Coded {
	c := Coded{Code: code}
	for i := 0; i+1 < len(about); i += 2 {
		if c.About == nil {
			c.About = map[string]string{}
		}
		c.About[about[i]] = about[i+1]
	}
	return c
}

// with is c with one more thing that it is about.
func (c Coded) with(name, value string) Coded {
	about := maps.Clone(c.About)
	if about == nil {
		about = map[string]string{}
	}
	about[name] = value
	return Coded{c.Code, about}
}

// String is for the log: the code, and what it is about in the order of the names.
func (c Coded) String() string {
	words := []string{c.Code}
	for _, name := range slices.Sorted(maps.Keys(c.About)) {
		words = append(words, name+"="+c.About[name])
	}
	return strings.Join(words, " ")
}

// Reasons that the program gives where nobody has written one: codes that stand in the place of what somebody writes. Events of before hold
// them as English sentences, which are read as these.
const (
	ReasonTakenBack      = "given-taken-back"      // an observer takes an observation back without a word
	ReasonDraftWithdrawn = "given-draft-withdrawn" // with a draft of the time when drafts were events
	ReasonDraftChanged   = "given-draft-changed"   // in such a draft
)
