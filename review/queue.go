package review

import "fmt"

// AgeScaleDays is the age at which an open submission comes as far forward as one where a look tells a whole bit.
const AgeScaleDays = 30

// Gain is how much one more look at the submission is expected to tell about its family, in bits, at most 1: the best
// of what-to-check-next.
func (s *Submission) Gain() float64 {
	if s.Assessment == nil || len(s.Assessment.Next) == 0 {
		return 0
	}
	return min(1, s.Assessment.Next[0].Bits)
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
