package simulator

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Record is what a member notes of a beetle whose family is known, and a mistake that a beginner could make in it: states that
// are noted in place of the true ones, by character.
type Record struct {
	Species      string         `json:"species"`
	Family       string         `json:"family"`
	Observations map[string]any `json:"observations"`
	Mistake      map[string]any `json:"mistake"`
}

// longestRecord is in bytes what a line of records may have.
const longestRecord = 64 << 10

// ReadRecords reads JSON lines. Each error names its line; of a file with one nothing is returned.
func ReadRecords(in io.Reader, tables *diagnosis.Tables) ([]Record, error) {
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, longestRecord)
	var records []Record
	for n := 1; lines.Scan(); n++ {
		var r Record
		err := json.Unmarshal(lines.Bytes(), &r)
		if err == nil {
			err = r.check(tables)
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		records = append(records, r)
	}
	return records, lines.Err()
}

func (r *Record) check(tables *diagnosis.Tables) error {
	if tables.FamilyIndex(r.Family) < 0 {
		return fmt.Errorf("there is no family %q in the tables", r.Family)
	}
	if len(r.Mistake) == 0 {
		return errors.New("there is no mistake in the record")
	}
	for id := range r.Observations {
		if tables.CharacterIndex(id) < 0 {
			return fmt.Errorf("there is no character %q in the tables", id)
		}
	}
	for id := range r.Mistake {
		if _, stated := r.Observations[id]; !stated {
			return fmt.Errorf("the mistake is about %q, of which the record says nothing", id)
		}
	}
	return nil
}

// sheet are the characters of a record, in the order of the tables, and what was written of each, the mistake included.
func (r *Record) sheet(tables *diagnosis.Tables) (sheet nature.Sheet, written []string) {
	sheet.Freely = true
	for c := range tables.Characters {
		id := tables.Characters[c].ID
		said, stated := r.Observations[id]
		if !stated {
			continue
		}
		if wrong, ok := r.Mistake[id]; ok {
			said = wrong
		}
		sheet.Characters = append(sheet.Characters, c)
		written = append(written, fmt.Sprint(said))
	}
	return sheet, written
}

// RecordTrial is a record beside specimens of its family that are drawn from the tables and told by the same characters, in a
// world where the tables are true: how often the family leads by our number, and how often by that of an expert who knows that world
// and that exactly one character is mistaken. No way of weighing is right more often there.
type RecordTrial struct {
	Record Record
	// Ours and Expert say whether the family leads on the record itself, with its mistake; Unaware is an expert who does not know how
	// many mistakes there are.
	Ours, Expert, Unaware bool
	// P is our probability of the family then, Leader what leads.
	P      float64
	Leader string
	// Any are specimens with one mistake at any of the characters, as people make them; Same those with one at the record's.
	Any, Same Leads
}

// Leads are in how many of so many draws the family of a record leads.
type Leads struct{ Draws, Ours, Expert, Unaware int }

// Shares of the draws; false where there was none.
func (l Leads) Shares() (ours, expert, unaware float64, ok bool) {
	n := float64(max(l.Draws, 1))
	return float64(l.Ours) / n, float64(l.Expert) / n, float64(l.Unaware) / n, l.Draws > 0
}

// recordTrier tries one record.
type recordTrier struct {
	judge  *judgement.Judge
	world  *nature.World
	expert *nature.Expert
	sheet  nature.Sheet
	family int
}

// TryRecord tries a record in a world of nature.AsTables.
func TryRecord(judge *judgement.Judge, world *nature.World, r Record, draws int) (RecordTrial, error) {
	sheet, written := r.sheet(world.Tables)
	t := recordTrier{judge: judge, world: world, expert: nature.NewExpert(world, sheet), sheet: sheet, family: world.Tables.FamilyIndex(r.Family)}
	out := RecordTrial{Record: r}
	account, err := world.Account(sheet, written)
	if err != nil {
		return out, fmt.Errorf("%s: %w", r.Species, err)
	}
	top := t.ranking(written)[0]
	out.Leader = top.Family
	for _, ranked := range t.ranking(written) {
		if ranked.Family == r.Family {
			out.P = ranked.P
		}
	}
	one, any := t.expert.Families(account)
	out.Ours, out.Expert, out.Unaware = top.Family == r.Family, t.leads(one), t.leads(any)
	for n := range draws {
		t.draw(&out.Any, -1, n)
		t.draw(&out.Same, t.mistaken(&r), n)
	}
	return out, nil
}

// mistaken is the place on the sheet of the first character in which a record is mistaken.
func (t *recordTrier) mistaken(r *Record) int {
	return slices.IndexFunc(t.sheet.Characters, func(c int) bool {
		_, wrong := r.Mistake[t.world.Tables.Characters[c].ID]
		return wrong
	})
}

func (t *recordTrier) draw(l *Leads, at, number int) {
	account, ok := t.expert.Mistaken(t.family, at, number)
	if !ok {
		return
	}
	one, any := t.expert.Families(account)
	l.Draws++
	count(&l.Ours, t.ranking(t.world.Written(t.sheet, account))[0].Family == t.world.Tables.Families[t.family].Name)
	count(&l.Expert, t.leads(one))
	count(&l.Unaware, t.leads(any))
}

func count(n *int, yes bool) {
	if yes {
		*n++
	}
}

func (t *recordTrier) leads(p []float64) bool { return slices.Max(p) == p[t.family] }

// ranking is ours.
func (t *recordTrier) ranking(written []string) []judgement.Ranked {
	var e judgement.Evidence
	var list judgement.FreeList
	for i, c := range t.sheet.Characters {
		id := t.world.Tables.Characters[c].ID
		e.Stated = append(e.Stated, judgement.Stated{Character: id, State: written[i]})
		list.Mentioned = append(list.Mentioned, id)
	}
	e.Free = []judgement.FreeList{list}
	return t.judge.Assess(e).Ranking
}
