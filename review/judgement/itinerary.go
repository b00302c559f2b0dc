package judgement

import (
	"math/bits"
	"slices"

	"revidit/review/diagnosis"
)

// side is a side of the specimen, an index into index.sides; onPhotos stands for what the photos at hand show.
type side = int

const onPhotos side = 0

// sideSet is a set of sides.
type sideSet uint32

func (s sideSet) has(x side) bool { return s&(1<<x) != 0 }

// noOrientation is the term of Audiovisual Core for a view of no side.
const noOrientation = "unspecifiedOrientation"

// sidesOf are the sides from which a character can be judged, and the first of its views' sides, by which it is judged
// where the specimen has to be turned. A character of no view can be judged from every side.
func (k *index) sidesOf(t *diagnosis.Tables, c *diagnosis.Character) (sides sideSet, first side) {
	for _, id := range c.Views {
		at := slices.IndexFunc(t.Group.Views, func(v diagnosis.View) bool { return v.ID == id })
		if at < 0 || t.Group.Views[at].Orientation == noOrientation {
			continue
		}
		x := slices.Index(k.sides, t.Group.Views[at].Orientation)
		if sides == 0 {
			first = x
		}
		sides |= 1 << x
	}
	if sides == 0 {
		return ^sideSet(0), k.home()
	}
	return sides, first
}

// fillSides lists the orientations of the views, in their order after onPhotos.
func (k *index) fillSides(t *diagnosis.Tables) {
	k.sides = []string{"photos"}
	for _, v := range t.Group.Views {
		if v.Orientation != noOrientation && !slices.Contains(k.sides, v.Orientation) {
			k.sides = append(k.sides, v.Orientation)
		}
	}
}

// home is the side of the first view: that which a specimen shows when nothing is known of who looks.
func (k *index) home() side { return min(1, len(k.sides)-1) }

// sideAtHand is the side from which most of what is stated can be judged, in shares where a character has several; the
// home side where nothing is stated, or several have as many. It does not depend on the order of the statements.
func (j *Judge) sideAtHand(s *scratch) side {
	const shares = 27720 // divisible by 1 to 12
	s.votes = resized(s.votes, len(j.index.sides))
	clear(s.votes)
	for _, c := range s.posterior.Seen {
		sides := j.index.characters[c].sides
		for x := range s.votes {
			if x != onPhotos && sides.has(x) {
				s.votes[x] += shares / bits.OnesCount32(uint32(sides))
			}
		}
	}
	best := j.index.home()
	for x, n := range s.votes {
		if n > s.votes[best] {
			best = x
		}
	}
	return best
}

// stop is a stay at one side: what is still to be looked at there.
type stop struct {
	setup float64 // the effort of getting there, in glances
	best  float64 // the most bits for each glance of any beginning of what is left, that effort included
}

// itinerary orders the characters of s.keys, which come by bits for each glance. Those to be asked first come first.
// Then it stays at the side at hand as long as the next character there is worth as much, for each glance, as turning to another
// side and looking at the best of it, the turning included (a weighted flow with setup times: the ratio rule of Smith 1956,
// Naval Research Logistics Quarterly 3: 59-66, for groups that share a setup). So one side is finished before the pin
// is turned. Where photos are the question, all that they show is at hand at once.
func (j *Judge) itinerary(s *scratch, photos bool) []int {
	s.left, s.order = s.left[:0], s.order[:0]
	for _, key := range s.keys {
		if c := j.index.charactersByName[key&places]; j.tables.Characters[c].AskFirst {
			s.order = append(s.order, c)
		} else {
			s.left = append(s.left, c)
		}
	}
	at := j.stops(s, photos)
	for len(s.left) > 0 {
		next := s.firstAt(at)
		other := s.otherStop(at)
		if next >= 0 && (other < 0 || j.worth(s, s.left[next]) >= s.stops[other].best) {
			s.order = append(s.order, s.left[next])
			s.left = slices.Delete(s.left, next, next+1)
			continue
		}
		s.stops[at].best = j.bestAt(s, at)
		at = other
	}
	return s.order
}

// stops prepares s.stops and s.at, the side of each character, and returns where the looker is.
func (j *Judge) stops(s *scratch, photos bool) side {
	hand := j.sideAtHand(s)
	s.at = resized(s.at, len(j.tables.Characters))
	for _, c := range s.left {
		words := &j.index.characters[c]
		switch {
		case photos && j.shown(s, c):
			s.at[c] = onPhotos
		case words.sides.has(hand):
			s.at[c] = hand
		default:
			s.at[c] = words.side
		}
	}
	s.stops = resized(s.stops, len(j.index.sides))
	for x := range s.stops {
		s.stops[x].setup = j.tables.Group.Turning
		if photos {
			s.stops[x].setup += j.tables.Group.Photo
		}
	}
	if photos {
		s.stops[hand].setup -= j.tables.Group.Turning
		hand = onPhotos
	}
	s.stops[onPhotos].setup = 0
	for x := range s.stops {
		s.stops[x].best = j.bestAt(s, x)
	}
	return hand
}

func (j *Judge) worth(s *scratch, character int) float64 {
	return s.bits[character] / j.tables.Characters[character].Effort
}

// bestAt is the most bits for each glance of any beginning of what is left at a side, 0 where nothing is.
func (j *Judge) bestAt(s *scratch, x side) float64 {
	best, gained, effort := 0.0, 0.0, s.stops[x].setup
	for _, c := range s.left {
		if s.at[c] == x {
			gained += s.bits[c]
			effort += j.tables.Characters[c].Effort
			best = max(best, gained/effort)
		}
	}
	return best
}

// firstAt is the position of the first character left at a side, or -1.
func (s *scratch) firstAt(x side) int {
	return slices.IndexFunc(s.left, func(c int) bool { return s.at[c] == x })
}

// otherStop is the side that is most worth going to, or -1 where nothing is left elsewhere.
func (s *scratch) otherStop(at side) side {
	best := -1
	for x := range s.stops {
		if x != at && s.stops[x].best > 0 && (best < 0 || s.stops[x].best > s.stops[best].best) {
			best = x
		}
	}
	return best
}
