package web

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

// typedList is the club's list as lines of a name and a weight, the heaviest first.
func typedList(ctx context.Context, list map[string]float64) string {
	names := slices.SortedFunc(maps.Keys(list), func(a, b string) int {
		return cmp.Or(cmp.Compare(list[b], list[a]), strings.Compare(a, b))
	})
	var lines []string
	for _, name := range names {
		lines = append(lines, name+" "+words.Typed(ctx, list[name]))
	}
	return strings.Join(lines, "\n")
}

// listOf reads lines of a name and a weight, as they are typed or pasted from a table: the weight stands last, after
// blanks, a tab, a semicolon or a colon. An old name leads to the one that holds it today.
func (s *Server) listOf(ctx context.Context, text string) (map[string]float64, error) {
	list := map[string]float64{}
	var problems review.Problems
	for i, line := range strings.Split(text, "\n") {
		parts := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" \t\r\u00a0;:=", r) })
		if len(parts) == 0 {
			continue
		}
		weight := review.TypedNumber(parts[len(parts)-1])
		if len(parts) != 2 || *weight == review.Unreadable {
			problems.Addf("list", "line %d must be a name and a number: %q", i+1, shortName(strings.TrimSpace(line)))
			continue
		}
		name, err := s.todaysName(ctx, "", parts[0])
		if err != nil {
			return nil, err
		}
		if _, twice := list[name]; twice {
			problems.Addf("list", "line %d names %s, which stands on the list already", i+1, name)
		}
		list[name] = *weight
	}
	return list, problems.Err()
}

// typedTaxa are taxa as lines of a name and how coarse its places are told.
func typedTaxa(taxa map[string]review.Grid) string {
	var lines []string
	for _, name := range slices.Sorted(maps.Keys(taxa)) {
		lines = append(lines, name+" "+string(taxa[name]))
	}
	return strings.Join(lines, "\n")
}

// taxaOf reads lines of a name, which may have a blank in it, and how coarse its places are told.
func taxaOf(text string) (map[string]review.Grid, error) {
	taxa := map[string]review.Grid{}
	var problems review.Problems
	for i, line := range strings.Split(text, "\n") {
		parts := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" \t\r\u00a0;:=", r) })
		if len(parts) == 0 {
			continue
		}
		last := len(parts) - 1
		if last < 1 || last > 2 {
			problems.Addf("places.taxa", "line %d must be a name and how coarse its places are told: %q", i+1, shortName(strings.TrimSpace(line)))
			continue
		}
		taxa[strings.Join(parts[:last], " ")] = review.Grid(parts[last])
	}
	if len(taxa) == 0 {
		return nil, problems.Err()
	}
	return taxa, problems.Err()
}

// mixOf reads the shares of the parts that were offered; a field that is empty, or 0, gives none.
func mixOf(sent *sentForm, judges []*judgement.Judge) map[string]float64 {
	mix := map[string]float64{}
	for _, part := range service.Parts(judges) {
		if share := review.TypedNumber(sent.text("mix." + part)); share != nil && *share != 0 {
			mix[part] = *share
		}
	}
	return mix
}

// priorsOf are the priors of a group by its tables alone, by the policy in force, and by one that is tried, or nil.
func priorsOf(ctx context.Context, j *judgement.Judge, present review.Policy, tried *review.Policy) pages.Priors {
	book := pages.BookIn(ctx, j.Tables())
	p := pages.Priors{Group: book.Group.Title, Rank: book.Group.Rank}
	inForce := j.Priors(present.Mix, present.List)
	bare, now, then := byFamily(j.Priors(nil, nil)), byFamily(inForce), map[string]float64{}
	if tried != nil {
		then = byFamily(j.Priors(tried.Mix, tried.List))
	}
	for _, r := range inForce {
		p.Lines = append(p.Lines, pages.PriorLine{Family: r.Family, Weight: present.List[r.Family], Tables: bare[r.Family], Now: now[r.Family], Tried: then[r.Family]})
	}
	for _, fauna := range book.Faunas {
		p.Faunas = append(p.Faunas, pages.FaunaPrior{Fauna: fauna, P: byFamily(j.Priors(map[string]float64{fauna.ID: 1}, nil))})
	}
	return p
}

func byFamily(ranking []judgement.Ranked) map[string]float64 {
	p := map[string]float64{}
	for _, r := range ranking {
		p[r.Family] = r.P
	}
	return p
}
