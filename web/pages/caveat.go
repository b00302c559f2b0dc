package pages

import (
	"context"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/words"
)

// caveatWords say what the number of an assessment leaves out or takes for granted.
func caveatWords(ctx context.Context, site Site, a judgement.Assessment) []string {
	return site.telling(&a, "").caveats(ctx)
}

// caveats tells those that stand there as codes, and those of a time that stored words.
func (t telling) caveats(ctx context.Context) (told []string) {
	for _, c := range t.a.Caveats {
		told = append(told, t.caveat(ctx, c))
	}
	for _, w := range t.a.Warnings {
		told = append(told, t.site.retold(ctx, "sentence.warning-", w))
	}
	return told
}

func (t telling) caveat(ctx context.Context, c judgement.Caveat) string {
	switch c.Kind {
	case judgement.CaveatNoFamily:
		return words.T(ctx, "sentence.warning-no-family", "Family", c.Name)
	case judgement.CaveatOldName:
		return t.oldName(ctx, c)
	case judgement.CaveatLeftOut:
		return words.T(ctx, "sentence.warning-left-out", "Error", t.cannotStand(ctx, c))
	case judgement.CaveatReportLeftOut:
		return words.T(ctx, "sentence.warning-report", "Error", t.cannotStand(ctx, c))
	case judgement.CaveatLiveOnly:
		character, state := t.stated(c)
		return words.T(ctx, "sentence.warning-live-only", "Character", t.label("", character), "State", t.stateLabel("", character, state))
	case judgement.CaveatList:
		return words.T(ctx, "sentence.warning-list", "Name", c.Name, "Weight", c.Weight)
	case judgement.CaveatNoneStated:
		return words.T(ctx, "sentence.warning-none-stated")
	case judgement.CaveatOneStated:
		return words.T(ctx, "sentence.warning-one-stated", "Character", t.labels(ctx, c))
	case judgement.CaveatUnfit:
		return t.unfit(ctx, c)
	case judgement.CaveatSame:
		return t.same(ctx, c)
	case judgement.CaveatGaps:
		return words.T(ctx, "sentence.warning-gaps", "Family", c.Family, "Characters", t.labels(ctx, c))
	case judgement.CaveatWider:
		return words.T(ctx, "sentence.warning-wider", "Answers", t.answers(c), "Other", hypothesis(ctx, c.Name), "Taxon", t.taxon())
	}
	return string(c.Kind)
}

func (t telling) oldName(ctx context.Context, c judgement.Caveat) string {
	if remark := t.remark(); remark != "" {
		return words.T(ctx, "sentence.warning-old-name", "Old", c.Name, "Family", c.Family, "Remark", remark)
	}
	return words.T(ctx, "sentence.warning-old-name-plain", "Old", c.Name, "Family", c.Family)
}

// stated is the first of what a caveat is about.
func (t telling) stated(c judgement.Caveat) (character, state string) {
	if len(c.Stated) == 0 {
		return "", ""
	}
	return c.Stated[0].Character, c.Stated[0].State
}

// label is what a character of a group is called; an empty group is the assessment's own.
func (t telling) label(group, character string) string {
	if t.site.IDs {
		return character
	}
	if group == "" {
		return t.of(character).Character(character)
	}
	return t.site.book(group).Character(character)
}

func (t telling) stateLabel(group, character, state string) string {
	if t.site.IDs {
		return state
	}
	if group == "" {
		return t.of(character).State(character, state)
	}
	return t.site.book(group).State(character, state)
}

func (t telling) labels(ctx context.Context, c judgement.Caveat) string {
	labels := make([]string, len(c.Characters))
	for i, id := range c.Characters {
		labels[i] = t.label(c.Group, id)
	}
	return joinedBy(ctx, "sentence.and", labels)
}

func (t telling) answers(c judgement.Caveat) string {
	told := make([]string, len(c.Stated))
	for i, s := range c.Stated {
		told[i] = t.label(c.Group, s.Character) + " " + t.stateLabel(c.Group, s.Character, s.State)
	}
	return strings.Join(told, ", ")
}

func (t telling) taxon() string {
	if b := t.own(); b.Tables != nil {
		return b.Group.Taxon
	}
	return t.a.Group
}

func (t telling) rank(ctx context.Context) string {
	if b := t.own(); b.Tables != nil {
		return rankWord(ctx, b.Group.Rank)
	}
	return rankWord(ctx, "taxon")
}

func (t telling) unfit(ctx context.Context, c judgement.Caveat) string {
	if len(c.Characters) == 0 {
		return words.T(ctx, "sentence.warning-unfit", "Rank", t.rank(ctx))
	}
	return words.T(ctx, "sentence.warning-unfit-wider", "Rank", t.rank(ctx), "Taxon", t.taxon(), "Characters", t.labels(ctx, c), "Group", c.Group)
}

func (t telling) same(ctx context.Context, c judgement.Caveat) string {
	if t.site.Measures() {
		return words.T(ctx, "sentence.warning-same", "Characters", t.labels(ctx, c), "Decibans", c.Decibans)
	}
	return words.T(ctx, "sentence.warning-same-plain", "Characters", t.labels(ctx, c))
}

// cannotStand says why a state cannot be stated, by the tables that refused it.
func (t telling) cannotStand(ctx context.Context, c judgement.Caveat) string {
	id, state := t.stated(c)
	if t.by.Tables == nil {
		return words.T(ctx, "sentence.cannot-plain", "Character", t.label("", id), "State", state)
	}
	about := t.by.character(id)
	if about == nil {
		return words.T(ctx, "sentence.cannot-no-character", "Character", id)
	}
	switch about.Kind {
	case diagnosis.KindCount:
		return words.T(ctx, "sentence.cannot-count", "Character", t.label("", id), "From", number(ctx, about.Min), "To", number(ctx, about.Max), "State", state)
	case diagnosis.KindLength:
		return words.T(ctx, "sentence.cannot-length", "Character", t.label("", id), "From", number(ctx, about.Min), "To", number(ctx, about.Max), "State", state)
	}
	allowed := make([]string, len(about.States))
	for i, s := range about.States {
		allowed[i] = t.stateLabel("", id, s.ID)
	}
	return words.T(ctx, "sentence.cannot-state", "Character", t.label("", id), "State", state, "Allowed", strings.Join(allowed, ", "))
}
