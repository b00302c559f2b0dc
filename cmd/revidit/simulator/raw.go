package simulator

import (
	"encoding/csv"
	"io"
	"strconv"
)

// RawHeader names the columns of WriteRaw.
var RawHeader = []string{"seed", "true", "top", "p", "majority", "majority_share", "looks_ours", "looks_arrival"}

// WriteRaw writes the specimens of one world as CSV, in the order of their submission, without a header. p and
// majority_share have nine decimals. looks_ours and looks_arrival are the verdicts that had been spent on all specimens
// when this one's top name last became right: 0 where it was right from the start, empty where it is wrong in the end.
// The looks until 95 % of all top names are right are then the smallest number that 95 % of the column, empty ones
// counted, do not exceed.
func WriteRaw(out io.Writer, r Result) error {
	w := csv.NewWriter(out)
	for _, s := range r.Specimens {
		row := []string{strconv.FormatUint(r.Seed, 10), s.True, s.Top, share(s.P), s.Majority, share(s.MajorityShare), looks(s.LooksOurs), looks(s.LooksArrival)}
		if err := w.Write(row); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func share(p float64) string { return strconv.FormatFloat(p, 'f', 9, 64) }

func looks(n int) string {
	if n < 0 {
		return ""
	}
	return strconv.Itoa(n)
}
