package review

import "fmt"

// AgeScaleDays is the age at which an open submission comes as far forward as one where a look tells a whole bit.
const AgeScaleDays = 30

// gainOf is how much one more look is expected to tell about the family, in bits, at most 1: the best of
// what-to-check-next.
func gainOf(a Assessment) float64 {
	if len(a.Next) == 0 {
		return 0
	}
	return min(1, a.Next[0].Bits)
}

// assessed is the event of an assessment now, with the gain that everybody may know: verdicts count in it only where
// their submission is closed.
func (now *situation) assessed() *Assessed {
	assessment := now.judge.Assess(evidenceOf(now.submission, now.specimen, now.siblings)).Brief()
	closed := []Submission{}
	for i := range now.siblings {
		if now.siblings[i].Closed() {
			closed = append(closed, now.siblings[i])
		}
	}
	open := unseenOf(*now.submission)
	return &Assessed{Assessment: assessment, Gain: gainOf(now.judge.Assess(evidenceOf(&open, now.specimen, closed)))}
}

func queueReason(l QueueLine, f QueueFilter) string {
	days := 0
	if l.OpenedAt != nil {
		days = int(f.AsOf.Sub(*l.OpenedAt).Hours() / 24)
	}
	if l.Priority > l.Gain {
		return fmt.Sprintf("has waited %d %s", days, plural(days, "day", "days"))
	}
	return fmt.Sprintf("one more look is expected to tell %.2f bits about the family", l.Gain)
}
