package pages

import (
	"context"

	"revidit/review/audit"
	"revidit/web/words"
)

// agreementSets are the two sets of one way of looking: with the observer, and reviewers alone.
func agreementSets(a audit.Agreement, looks audit.Looks) (with, alone audit.AgreementSet) {
	for _, s := range a.Sets {
		if s.Looks != looks {
			continue
		}
		if s.Observer {
			with = s
		} else {
			alone = s
		}
	}
	return with, alone
}

// agreementRow is a line of the table: one character, region or all, by both sets.
type agreementRow struct {
	Label       string
	Strong      bool
	With, Alone audit.AgreementLine
}

// agreementRows are the whole, the regions and the characters that have at least one unit.
func agreementRows(ctx context.Context, b Book, a audit.Agreement, looks audit.Looks) []agreementRow {
	with, alone := agreementSets(a, looks)
	if with.Overall.Alpha.Units == 0 {
		return nil
	}
	rows := []agreementRow{{words.T(ctx, "agreement.all-characters"), true, with.Overall, alone.Overall}}
	for _, line := range with.Regions {
		rows = append(rows, agreementRow{capital(b.Region(line.Name)), true, line, lineNamed(alone.Regions, line.Name)})
		for _, of := range with.Characters {
			if c := b.character(of.Name); c != nil && c.Region == line.Name {
				rows = append(rows, agreementRow{c.Label, false, of, lineNamed(alone.Characters, of.Name)})
			}
		}
	}
	return rows
}

func lineNamed(lines []audit.AgreementLine, name string) audit.AgreementLine {
	for _, l := range lines {
		if l.Name == name {
			return l
		}
	}
	return audit.AgreementLine{Name: name}
}

// pairsOf are the pairs of people in one way of looking, the observer's among them.
func pairsOf(a audit.Agreement, looks audit.Looks) []audit.AgreementPair {
	with, _ := agreementSets(a, looks)
	return with.Pairs
}

func kappaDots(c audit.Coefficient) []dot {
	if c.Value == nil {
		return nil
	}
	return []dot{interval95(*c.Value, c.StandardError, false)}
}

// fleissWords is Fleiss' kappa of a line, or why there is none.
func fleissWords(ctx context.Context, l audit.AgreementLine) string {
	if l.Fleiss != nil {
		return coefficient(ctx, *l.Fleiss) + " (" + restsOn(ctx, *l.Fleiss) + ")"
	}
	if why := fleissNote(ctx, l); why != "" {
		return capital(why)
	}
	return words.T(ctx, "agreement.no-two-ratings")
}

// copyingAxis has room for the largest count of any pair.
func copyingAxis(c audit.Copying) axis {
	most := 1.0
	for _, p := range c.Pairs {
		most = max(most, float64(p.Observed), p.Expected)
	}
	return countAxis(most, "plot.shared-departures")
}

// tailWords is a small probability in words that do not claim more digits than it has.
func tailWords(ctx context.Context, p float64) string {
	switch {
	case p < 1e-6:
		return words.T(ctx, "agreement.one-in-a-million")
	case p < 0.001:
		return words.T(ctx, "agreement.under", "P", number(ctx, ceilTo(p)))
	}
	return three(ctx, p)
}

// ceilTo is the next power of ten at or above.
func ceilTo(p float64) float64 {
	limit := 1e-6
	for limit < p {
		limit *= 10
	}
	return limit
}
