package booklet

import (
	"strconv"
	"strings"

	"revidit/review/key"
	"revidit/web/pages"
	"revidit/web/words"
)

const (
	numberWide  = 14.0 // the column of numbers
	mostDrawn   = 3    // drawings beside a lead
	pictureStep = picture + 0.8
	picturesAt  = pageWide - margin - mostDrawn*pictureStep
	leadWide    = picturesAt - margin - numberWide - 2
)

// all sets the whole booklet.
func (l *layout) all() {
	l.newPage()
	l.title()
	l.newPage()
	for i := range l.made.Couplets {
		l.couplet(&l.made.Couplets[i])
	}
	l.newPage()
	l.families()
}

func (l *layout) title() {
	t := func(id string, args ...any) string { return words.T(l.ctx, "key."+id, args...) }
	l.y += 8
	l.paragraph(t("to-of", "Count", len(l.made.Families)), headline, 2)
	l.paragraph(l.tables.Group.Title+" · "+pages.RegionName(l.ctx, l.tables, l.made.Region), heading, 3)
	l.paragraph(pages.KeyTrial(l.ctx, l.made), plain, 1.5)
	l.paragraph(t("release", "Release", words.T(l.ctx, "tables.release", "Release", l.made.Release, "Hash", l.made.Hash[:12])), plain, 5)
	l.paragraph(t("how-heading"), heading, 1.5)
	for _, id := range []string{"how-leads", "how-back", "how-check", "how-variable"} {
		l.paragraph(t(id), plain, 1.2)
	}
	l.y += 3
	l.paragraph(t("care"), heading, 1.5)
	for _, caution := range l.tables.Group.Cautions {
		l.paragraph(caution, plain, 1.2)
	}
}

// couplet sets both leads together where a page has room for them.
func (l *layout) couplet(c *key.Couplet) {
	height := 2.6
	for i := range c.Leads {
		height += l.leadHeight(&c.Leads[i]) + 1
	}
	marks := l.marks(c)
	for _, m := range marks {
		height += float64(len(l.broken(m, slanted, textWide-numberWide))) * slanted.line()
	}
	l.room(min(height, bottom-margin))
	number := strconv.Itoa(c.Number)
	if c.From > 0 {
		number += " (" + strconv.Itoa(c.From) + ")"
	}
	for _, m := range marks {
		l.y += l.lines(l.broken(m, slanted, textWide-numberWide), slanted, margin+numberWide, l.y)
	}
	for i := range c.Leads {
		l.room(min(l.leadHeight(&c.Leads[i]), bottom-margin))
		if i == 0 {
			l.lines([]string{number}, strong, margin, l.y)
		} else {
			l.lines([]string{"–"}, strong, margin, l.y)
		}
		l.lead(&c.Leads[i])
		l.y++
	}
	l.rule()
}

func (l *layout) marks(c *key.Couplet) []string {
	var marks []string
	if c.Preparing {
		marks = append(marks, words.T(l.ctx, "key.preparing-mark"))
	}
	if len(c.Parted) > 0 {
		marks = append(marks, words.T(l.ctx, "key.sexes-mark", "Families", strings.Join(c.Parted, ", ")))
	}
	return marks
}

// said is what a lead tells, character after character.
func (l *layout) said(lead *key.Lead) []string {
	var told []string
	for i := range lead.Says {
		label, states := pages.KeySays(l.ctx, l.tables, &lead.Says[i])
		told = append(told, label+": "+states)
	}
	return l.broken(strings.Join(told, "; ")+".", plain, leadWide)
}

// drawings are the names of those beside a lead: of the first state of each character that has one.
func (l *layout) drawings(lead *key.Lead) []string {
	var names []string
	for _, s := range lead.Says {
		if len(s.States) == 0 || len(names) == mostDrawn {
			continue
		}
		if l.draws(s.Character, s.States[0]) {
			names = append(names, s.Character+"/"+s.States[0])
		}
	}
	return names
}

func (l *layout) leadHeight(lead *key.Lead) float64 {
	height := float64(len(l.said(lead))) * plain.line()
	if len(l.drawings(lead)) > 0 {
		height = max(height, picture)
	}
	for _, p := range l.outcome(lead) {
		height += float64(len(p.lines)) * p.style.line()
	}
	return height
}

func (l *layout) lead(lead *key.Lead) {
	top := l.y
	height := l.lines(l.said(lead), plain, margin+numberWide, top)
	for i, name := range l.drawings(lead) {
		l.picture(name, picturesAt+float64(i)*pictureStep, top)
		height = max(height, picture)
	}
	l.y = top + height
	for _, p := range l.outcome(lead) {
		l.y += l.lines(p.lines, p.style, margin+numberWide, l.y)
	}
}

// part is a text under a lead.
type part struct {
	lines []string
	style style
}

// outcome is where a lead leads: the number, or the family with its check and what to mind.
func (l *layout) outcome(lead *key.Lead) []part {
	wide := textWide - numberWide
	if lead.To > 0 {
		return []part{{[]string{"→ " + strconv.Itoa(lead.To)}, strong}}
	}
	var parts []part
	add := func(text string, s style) { parts = append(parts, part{l.broken(text, s, wide), s}) }
	if len(lead.Endings) > 1 {
		add(words.T(l.ctx, "key.several"), small)
	}
	for i := range lead.Endings {
		e := &lead.Endings[i]
		add("→ "+l.named(e), strong)
		f, ok := l.tables.Family(e.Family)
		if !ok {
			continue
		}
		if f.Caution != "" {
			add(words.T(l.ctx, "key.care")+": "+f.Caution, style{"B", 7.4})
		}
		if len(e.Check) > 0 {
			add(l.check(e), small)
		}
	}
	return parts
}

func (l *layout) named(e *key.Ending) string {
	name := e.Family
	if sex := pages.KeySex(l.ctx, e); sex != "" {
		name += " (" + sex + ")"
	}
	if forms := pages.KeyForms(l.ctx, l.tables, e); forms != "" {
		name += ": " + forms
	}
	return name
}

func (l *layout) check(e *key.Ending) string {
	var told []string
	for i := range e.Check {
		label, states := pages.KeySays(l.ctx, l.tables, &e.Check[i])
		told = append(told, label+": "+states)
	}
	return words.T(l.ctx, "key.check", "Enough", e.Enough, "Of", len(e.Check)) + " " + strings.Join(told, "; ") + "."
}
