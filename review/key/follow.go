package key

// MostEndings is how many endings somebody tries whose checks fail before they keep the one of which most fitted.
const MostEndings = 3

// Look is somebody who looks at a specimen: what is seen of a character, and false where it cannot be seen.
type Look func(character string) (Seen, bool)

// Way is how somebody came through a key.
type Way struct {
	Endings []Ending // where they ended
	Steps   int      // couplets read, those after going back too
	Tried   int      // endings held against their checks
	Guessed int      // couplets of which nothing was seen, or as much spoke for either lead
	Passed  bool     // the check of the ending fitted
}

// Weigh is how many more characters fit the first lead than the second (below 0: the second). Where as many fit either, the earliest
// that fits only one of them decides: lead is 0 or 1 by that, -1 where none does.
func (c *Couplet) Weigh(look Look) (balance, lead int) {
	first := 0
	for i := range c.Leads[0].Says {
		seen, ok := look(c.Leads[0].Says[i].Character)
		if !ok {
			continue
		}
		vote := 0
		if c.Leads[0].Says[i].Fits(seen) {
			vote++
		}
		if c.Leads[1].Says[i].Fits(seen) {
			vote--
		}
		balance += vote
		if first == 0 {
			first = vote
		}
	}
	switch decides := balance; {
	case decides == 0 && first == 0:
		return 0, -1
	case decides > 0 || decides == 0 && first > 0:
		return balance, 0
	}
	return balance, 1
}

// stand is a couplet on the way, with the lead taken and by how many characters; turned says that its other lead was tried, too.
type stand struct {
	couplet, lead, margin int
	turned                bool
}

// Follow leads somebody through the key as its first page tells: the lead of which more characters fit; at an ending its check; where
// that fails, back to the couplet whose leads were closest, the latest of equals, and on with its other lead. After MostEndings
// endings that of which the greatest share of the check fitted stands, the first of equals. guess decides (0 or 1) where nothing else
// does.
func (k *Key) Follow(look Look, guess func(couplet int) int) Way {
	var way, best Way
	var path []stand
	bestShare, at := -1.0, 1
	for {
		var endings []Ending
		path, endings = k.toEnding(path, at, look, guess, &way)
		way.Tried++
		fits, of := holds(endings, look)
		share := 1.0
		if of > 0 {
			share = float64(fits) / float64(of)
		}
		if share > bestShare {
			best, bestShare = Way{Endings: endings, Passed: passes(endings, fits, of)}, share
		}
		if passes(endings, fits, of) || way.Tried == MostEndings {
			break
		}
		var again bool
		if path, at, again = k.back(path); !again {
			break
		}
	}
	best.Steps, best.Tried, best.Guessed = way.Steps, way.Tried, way.Guessed
	return best
}

// toEnding reads on from a couplet; 0 is the lead last taken where that ends.
func (k *Key) toEnding(path []stand, at int, look Look, guess func(int) int, way *Way) ([]stand, []Ending) {
	for at > 0 {
		c := &k.Couplets[at-1]
		balance, lead := c.Weigh(look)
		if lead < 0 {
			lead = guess(at)
			way.Guessed++
		}
		way.Steps++
		path = append(path, stand{couplet: at, lead: lead, margin: max(balance, -balance)})
		at = c.Leads[lead].To
	}
	last := path[len(path)-1]
	return path, k.Couplets[last.couplet-1].Leads[last.lead].Endings
}

// back goes to the couplet whose leads were closest and takes the other one: the couplet to go on with, 0 where that ends at once. It
// is false where all have been turned.
func (k *Key) back(path []stand) (left []stand, at int, ok bool) {
	closest := -1
	for i, s := range path {
		if !s.turned && (closest < 0 || s.margin <= path[closest].margin) {
			closest = i
		}
	}
	if closest < 0 {
		return path, 0, false
	}
	s := &path[closest]
	s.turned, s.lead = true, 1-s.lead
	return path[:closest+1], k.Couplets[s.couplet-1].Leads[s.lead].To, true
}

// holds is how much of the check of an ending can be seen, and how much of that fits. Only an ending at one family is checked.
func holds(endings []Ending, look Look) (fits, of int) {
	if len(endings) != 1 {
		return 0, 0
	}
	for i := range endings[0].Check {
		if seen, ok := look(endings[0].Check[i].Character); ok {
			of++
			if endings[0].Check[i].Fits(seen) {
				fits++
			}
		}
	}
	return fits, of
}

// passes: as many fit as are enough, one that cannot be seen taken for fitting.
func passes(endings []Ending, fits, of int) bool {
	if len(endings) != 1 {
		return true
	}
	return fits+len(endings[0].Check)-of >= endings[0].Enough
}
