package benchmark

import (
	"context"

	"revidit/review/judgement"
)

// Assessment times whole assessments, one after the other on one core.
func Assessment(ctx context.Context, judge *judgement.Judge, cases []judgement.Evidence) (Cost, error) {
	return perUnit(ctx, len(cases), func() {
		for i := range cases {
			judge.Assess(cases[i])
		}
	})
}
