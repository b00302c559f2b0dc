package simulator

import (
	"context"
	"slices"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/judgement"
)

// What an owner does before submitting: the page says what would tell most, they look at as many of these as asked at
// once, and go on until nothing is worth a look or they have had enough.
const (
	askedAtOnce = 4
	// enoughGlances is when they have had enough: two dozen characters at the effort that the tables take for one in the mean.
	enoughGlances = 60
	worthALook    = 0.005 // bits
)

// interview is the list of characters that are stated of every specimen: what its owner noticed first, then what the
// service asked for. It is the same in every course of events.
func interview(ctx context.Context, world *nature.World, judge *judgement.Judge) ([][]int, error) {
	stated := make([][]int, len(world.Specimens))
	for i := range stated {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		stated[i] = interviewed(world, judge, i)
	}
	return stated, nil
}

func interviewed(world *nature.World, judge *judgement.Judge, i int) []int {
	s := &world.Specimens[i]
	tables := judge.Tables()
	stated := slices.Clone(s.First)
	spent := 0.0
	for _, c := range stated {
		spent += tables.Characters[c].Effort
	}
	for spent < enoughGlances {
		e := judgement.Evidence{Family: s.Proposed, Prior: world.List, Look: judgement.Look{Reader: judgement.Member, Accuracy: review.RoleAccuracy(review.RoleMember)}}
		for _, c := range stated {
			e.Stated = append(e.Stated, judgement.Stated{Character: tables.Characters[c].ID, State: world.Reading(i, s.Owner, c)})
		}
		before := len(stated)
		for _, next := range judge.Assess(e).Next {
			if len(stated) < before+askedAtOnce && next.Group == "" && next.Bits >= worthALook {
				stated = append(stated, tables.CharacterIndex(next.Character))
				spent += next.Effort
			}
		}
		if len(stated) == before {
			break
		}
	}
	return stated
}
