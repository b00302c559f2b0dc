package review

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestMentionRates works one out by hand. Of a hundred lists that speak of a head thirty mention a snout. Twenty of these were
// looked at and thirty of the others, so that the former weigh 1.5 each and the latter 7/3. Of long snouts 15 were mentioned and
// 5 not: 22.5 against 35/3, a share of 0.6585, worth (34.1667)² / (1.5 · 22.5 + 7/3 · 35/3) = 19.146 lists. The tables say 0.75,
// worth 20 lists: (15 + 12.608) / 39.146 = 0.7053.
func TestMentionRates(t *testing.T) {
	rostrum, ok := beetles.Tables().Character("rostrum")
	require.True(t, ok)
	m := Mentions{Lists: Told{30, 70}, States: map[string]Told{"long": {15, 5}, "none": {5, 25}}}
	rates, ok := m.Rates(rostrum)
	require.True(t, ok)
	long, short := rostrum.State("long"), rostrum.State("short-broad")
	require.InDelta(t, 0.75, rostrum.Mentioned[long], 1e-9)
	require.InDelta(t, 0.7053, rates.Rates[long], 1e-4)
	require.InDelta(t, rostrum.Mentioned[short], rates.Rates[short], 1e-12, "nothing was seen of it")
	require.Equal(t, 50, rates.Specimens)
	require.True(t, rates.Taught)

	fewer := Mentions{Lists: Told{30, 70}, States: map[string]Told{"long": {14, 5}, "none": {5, 25}}}
	rates, ok = fewer.Rates(rostrum)
	require.True(t, ok)
	require.False(t, rates.Taught, "the bounds of what is assumed hold until fifty states are known")
	_, ok = Mentions{Lists: Told{30, 70}, States: map[string]Told{"long": {40, 9}}}.Rates(rostrum)
	require.False(t, ok, "of what was not mentioned too little is known")
	require.Nil(t, (*Reliability)(nil).MentionRates(beetles.Tables()))
}

// TestMentionRatesAreNotOfWhatIsLookedAt: what is mentioned is looked at four times as often as what is not. The share among what
// was looked at says six in seven; the rate is six in ten.
func TestMentionRatesAreNotOfWhatIsLookedAt(t *testing.T) {
	rostrum, _ := beetles.Tables().Character("rostrum")
	random := rand.New(rand.NewPCG(3, 5))
	mentioned := map[string]float64{"long": 0.6, "none": 0.1}
	m := Mentions{States: map[string]Told{}}
	for range 20_000 {
		state := "none"
		if random.Float64() < 0.3 {
			state = "long"
		}
		told, looked := Told{Without: 1}, 0.2
		if random.Float64() < mentioned[state] {
			told, looked = Told{With: 1}, 0.8
		}
		one := Mentions{Lists: told}
		if random.Float64() < looked {
			one.States = map[string]Told{state: told}
		}
		m = m.Plus(one)
	}
	long := m.States["long"]
	require.Greater(t, float64(long.With)/float64(long.With+long.Without), 0.8)
	rates, ok := m.Rates(rostrum)
	require.True(t, ok)
	require.InDelta(t, 0.6, rates.Rates[rostrum.State("long")], 0.02)
	require.InDelta(t, 0.1, rates.Rates[rostrum.State("none")], 0.02)
}
