package review

import (
	"crypto/sha256"
	"encoding/binary"
)

// Draw is chance, fixed and recorded when something is drawn: everybody can check afterwards that the dice were not
// thrown twice. It is told to nobody while the result must stay unknown.
type Draw struct {
	Rate float64 `json:"rate"` // probability of being drawn, 0 to 1
	Seed string  `json:"seed"` // random
}

// number is uniform from 0 to below 1, another for each purpose.
func (d Draw) number(purpose string) float64 {
	sum := sha256.Sum256([]byte(d.Seed + "/" + purpose))
	return float64(binary.BigEndian.Uint64(sum[:8])>>11) / (1 << 53)
}

// Drawn says whether somebody or something is drawn. Without a seed nothing is.
func (d Draw) Drawn(purpose string) bool {
	return d.Seed != "" && d.number(purpose) < d.Rate
}

// pick is an index below n.
func (d Draw) pick(purpose string, n int) int {
	return min(int(d.number("which/"+purpose)*float64(n)), n-1)
}
