package booklet

import (
	"slices"
	"strconv"
	"strings"

	"revidit/web/pages"
	"revidit/web/words"
)

// families sets the index: where each family comes out, what to mind, and what is easily taken for it.
func (l *layout) families() {
	l.paragraph(words.T(l.ctx, "key.index"), heading, 2)
	at := l.places()
	for _, name := range l.made.Families {
		f, ok := l.tables.Family(name)
		if !ok {
			continue
		}
		l.room(3 * plain.line())
		l.paragraph(name+", "+f.Common+": "+strings.Join(at[name], ", "), style{"B", 8}, 0)
		if f.Caution != "" {
			l.paragraph(words.T(l.ctx, "key.care")+": "+f.Caution, small, 0)
		}
		for i, a := range pages.KeyAlike(l.made.Key, f) {
			before := ""
			if i == 0 {
				before = words.T(l.ctx, "key.alike") + " "
			}
			l.paragraph(before+a.Family+": "+a.Tell, slanted, 0)
		}
		l.y += 1
	}
}

// places are, by family, the numbers of the couplets at which it comes out.
func (l *layout) places() map[string][]string {
	at := map[string][]string{}
	for i := range l.made.Couplets {
		c := &l.made.Couplets[i]
		for _, lead := range c.Leads {
			for _, e := range lead.Endings {
				if n := strconv.Itoa(c.Number); !slices.Contains(at[e.Family], n) {
					at[e.Family] = append(at[e.Family], n)
				}
			}
		}
	}
	return at
}
