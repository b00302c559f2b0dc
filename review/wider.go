package review

import (
	"fmt"

	"revidit/review/judgement"
)

// WiderAnswer is what somebody sees who is asked first whether a specimen belongs to the group at all: a character of the wider
// group that the tables name (Group.Within), with its state.
type WiderAnswer struct {
	Character string `json:"character" maxLength:"60" doc:"Character of the wider group, such as the orders of insects"`
	State     string `json:"state" maxLength:"60" doc:"State id, or a whole number"`
}

// maxWider is how many answers a submission has at most: more than are ever asked.
const maxWider = 20

// checkWider adds what is wrong with answers to the questions of the wider group.
func checkWider(p *Problems, judge *judgement.Judge, answers []WiderAnswer) {
	if len(answers) > maxWider {
		p.Addf("wider", "at most %d answers", maxWider)
		return
	}
	seen := map[string]bool{}
	for i, a := range answers {
		field := fmt.Sprintf("wider[%d]", i)
		if err := judge.CheckWider(a.Character, a.State); err != nil {
			p.Addf(field+".state", "%s", err)
		}
		if seen[a.Character] {
			p.Addf(field+".character", "is answered twice")
		}
		seen[a.Character] = true
	}
}

// widerStated are answers as evidence.
func widerStated(answers []WiderAnswer) []judgement.Stated {
	var stated []judgement.Stated
	for _, a := range answers {
		stated = append(stated, judgement.Stated{Character: a.Character, State: a.State})
	}
	return stated
}
