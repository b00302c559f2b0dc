package pages

import (
	"context"
	"strconv"
	"strings"

	"revidit/review/judgement"
	"revidit/web/words"
	say "revidit/web/words/problems"
)

// retold is a sentence that the record holds in English, in the language of who reads and with labels in the place of ids; one that is
// none of those whose ids begin so stays as it is.
func (s Site) retold(ctx context.Context, beginning, sentence string) string {
	id, values, ok := words.Recognize(beginning, sentence)
	if _, err := strconv.Atoi(values["count"]); !ok || values["count"] != "" && err != nil {
		return sentence
	}
	return s.saidBy(ctx, beginning, id, values)
}

// saidBy is the text of an id with its values, by the names of its places in small letters.
func (s Site) saidBy(ctx context.Context, beginning, id string, values map[string]string) string {
	if id == "sentence.warning-same" && !s.Measures() {
		id = "sentence.warning-same-plain"
		delete(values, "decibans")
	}
	var args []any
	for place, value := range values {
		if place != "count" || value == "" {
			args = append(args, capital(place), s.retoldValue(ctx, beginning, place, values))
		}
	}
	if n, err := strconv.Atoi(values["count"]); err == nil {
		return words.N(ctx, id, n, args...)
	}
	return words.T(ctx, id, args...)
}

// retoldValue is a value of such a sentence, told by the name of its place.
func (s Site) retoldValue(ctx context.Context, beginning, place string, values map[string]string) string {
	value := values[place]
	switch place {
	case "missing":
		return s.retold(ctx, beginning, value)
	case "words":
		if told := s.retold(ctx, beginning, value); told != value {
			return told
		}
		return say.Phrase(ctx, value)
	case "error":
		return s.retold(ctx, "sentence.cannot-", value)
	case "character":
		return s.of(value).Character(value)
	case "characters":
		return joinedBy(ctx, "sentence.and", s.labelsOfIDs(strings.Split(strings.Replace(value, " and ", ", ", 1), ", ")))
	case "state":
		return s.of(values["character"]).State(values["character"], value)
	case "answers":
		return s.answersRetold(value)
	case "kind":
		return contradictionShort(ctx, judgement.ContradictionKind(value))
	case "rank":
		return rankWord(ctx, value)
	case "hypothesis":
		return hypothesis(ctx, value)
	case "allowed":
		return strings.Join(s.statesOfIDs(values["character"], strings.Split(value, ", ")), ", ")
	case "p", "least", "from", "to":
		return decimalRetold(ctx, value)
	case "remark":
		if s.Book.Tables == nil {
			return value
		}
		if _, remark, ok := s.Book.Resolve(values["old"]); ok {
			return remark
		}
	}
	return value
}

func (s Site) labelsOfIDs(ids []string) []string {
	labels := make([]string, len(ids))
	for i, id := range ids {
		labels[i] = s.of(id).Character(id)
	}
	return labels
}

func (s Site) statesOfIDs(character string, ids []string) []string {
	labels := make([]string, len(ids))
	for i, id := range ids {
		labels[i] = s.of(character).State(character, id)
	}
	return labels
}

// answersRetold puts labels in the place of ids in "CHARACTER STATE, CHARACTER STATE".
func (s Site) answersRetold(answers string) string {
	told := strings.Split(answers, ", ")
	for i, answer := range told {
		if character, state, ok := strings.Cut(answer, " "); ok {
			told[i] = s.of(character).Character(character) + " " + s.of(character).State(character, state)
		}
	}
	return strings.Join(told, ", ")
}

// decimalRetold is a number with as many decimals as it was written with.
func decimalRetold(ctx context.Context, number string) string {
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return number
	}
	_, decimals, _ := strings.Cut(number, ".")
	return words.Fixed(ctx, x, len(decimals))
}

// contradictionShort is the kind of what does not fit, in a word or two.
func contradictionShort(ctx context.Context, kind judgement.ContradictionKind) string {
	if id := "sentence.kind-" + string(kind); words.Has(id) {
		return words.T(ctx, id)
	}
	return string(kind)
}

// joinedBy lists words with commas, and the last by a text with the places Some and Last.
func joinedBy(ctx context.Context, id string, list []string) string {
	last := len(list) - 1
	if last < 1 {
		return strings.Join(list, "")
	}
	return words.T(ctx, id, "Some", strings.Join(list[:last], ", "), "Last", list[last])
}
