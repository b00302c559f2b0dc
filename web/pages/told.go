package pages

import (
	"cmp"

	"revidit/review/judgement"
)

// FreeListData is a list that somebody told freely. Assessment is nil until there is one that can be read.
type FreeListData struct {
	Form       Form
	Longest    int // in characters of text
	Assessment *judgement.Assessment
}

// nextAfterTold is how many characters to look at next are shown.
const nextAfterTold = 5

// nextOfTold are the first of what to look at next in the tables of the list.
func nextOfTold(a *judgement.Assessment) []judgement.Next {
	next := ownNext(*a)
	return next[:min(len(next), nextAfterTold)]
}

// subjectOf is what the weights are for: the name that was given, or the likeliest.
func subjectOf(a *judgement.Assessment) string { return cmp.Or(a.Family, a.Ranking[0].Family) }
