package builder

import (
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/key"
)

// print makes couplets of nodes: numbered in the order of reading, with the shorter way first, as the trade has it.
func (b *builder) print(root *node) *key.Key {
	k := &key.Key{Group: b.tables.Group.ID, Release: b.tables.Group.Release, Hash: b.tables.Hash}
	for _, f := range b.families {
		k.Families = append(k.Families, f.Name)
	}
	if root.parts != nil {
		b.printFrom(k, root, 0)
	}
	return k
}

func (b *builder) printFrom(k *key.Key, n *node, from int) int {
	number := len(k.Couplets) + 1
	out := key.Couplet{Number: number, From: from, Parted: b.sexesParted(n)}
	below, turned := n.below, size(n.below[1]) < size(n.below[0])
	if turned {
		below[0], below[1] = below[1], below[0]
	}
	for _, q := range n.parts.questions {
		c := &b.tables.Characters[q.character]
		out.Preparing = out.Preparing || c.Effort >= key.PreparingEffort
		for i := range out.Leads {
			side := int8(1 - 2*i)
			if turned {
				side = -side
			}
			out.Leads[i].Says = append(out.Leads[i].Says, saying(c, q.side, side))
		}
	}
	k.Couplets = append(k.Couplets, out)
	for i, next := range below {
		if next.parts == nil {
			k.Couplets[number-1].Leads[i].Endings = b.endings(next)
			continue
		}
		k.Couplets[number-1].Leads[i].To = b.printFrom(k, next, number)
	}
	return number
}

func size(n *node) int {
	if n.parts == nil {
		return 0
	}
	return 1 + size(n.below[0]) + size(n.below[1])
}

func saying(c *diagnosis.Character, sides []int8, side int8) key.Saying {
	says := key.Saying{Character: c.ID}
	if c.Kind == diagnosis.KindLength {
		first := slices.Index(sides, side)
		last := len(sides) - 1
		for sides[last] != side {
			last--
		}
		if first > 0 {
			says.Over = limits[first-1]
		}
		if last < len(limits) {
			says.UpTo = limits[last]
		}
		return says
	}
	for s, of := range sides {
		if of == side {
			says.States = append(says.States, c.States[s].ID)
		}
	}
	return says
}

// endings are the families of an end with the forms whose usual specimens come out there.
func (b *builder) endings(n *node) []key.Ending {
	var all []key.Ending
	for _, family := range n.ends {
		end := key.Ending{Family: b.families[family].Name}
		var sexes []string
		for _, i := range n.samples {
			f := &b.forms[b.samples.form[i]]
			if b.samples.usual[i] && f.family == family {
				end.Forms = append(end.Forms, f.ID)
				sexes = append(sexes, f.Sex)
			}
		}
		if len(sexes) > 0 && !slices.ContainsFunc(sexes, func(s string) bool { return s != sexes[0] }) {
			end.Sex = sexes[0]
		}
		if len(n.ends) == 1 {
			end.Check, end.Enough = b.check(n, family)
		}
		all = append(all, end)
	}
	return all
}

// sexesParted are families of which usual specimens of one sex take one lead and those of the other the other.
func (b *builder) sexesParted(n *node) []string {
	goes := map[int][2]map[string]bool{} // by family and lead: sexes
	for lead, below := range n.below {
		for _, i := range below.samples {
			f := &b.forms[b.samples.form[i]]
			if !b.samples.usual[i] || f.Sex == "" {
				continue
			}
			to, known := goes[f.family]
			if !known {
				to = [2]map[string]bool{{}, {}}
				goes[f.family] = to
			}
			to[lead][f.Sex] = true
		}
	}
	var names []string
	for f, to := range goes {
		for _, pair := range [][2]string{{"male", "female"}, {"female", "male"}} {
			if to[0][pair[0]] && !to[0][pair[1]] && to[1][pair[1]] && !to[1][pair[0]] {
				names = append(names, b.families[f].Name)
			}
		}
	}
	slices.Sort(names)
	return names
}
