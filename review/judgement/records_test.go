package judgement

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// record is what a member notes of a beetle, and a mistake that a beginner could make in it.
type record struct {
	Species, Family string
	Observations    map[string]any
	Mistake         any // by character; in lists that have one already, a word on it
}

func (r record) mistake() map[string]any {
	m, _ := r.Mistake.(map[string]any)
	return m
}

// evidence has a mistake in place of what there is, where one is given.
func (r record) evidence(j *Judge, mistake map[string]any) Evidence {
	var e Evidence
	for _, c := range j.tables.Characters {
		state, stated := r.Observations[c.ID]
		if wrong, ok := mistake[c.ID]; ok {
			state = wrong
		}
		if stated {
			e.Stated = append(e.Stated, Stated{Character: c.ID, State: fmt.Sprint(state)})
		}
	}
	return e
}

// free is evidence as somebody tells it who was not asked: what strikes the eye and is not in it is told by silence, too.
func (r record) free(j *Judge, mistake map[string]any) Evidence {
	e := r.evidence(j, mistake)
	var list []string
	for _, s := range e.Stated {
		list = append(list, s.Character)
	}
	e.Free = []FreeList{{Mentioned: list}}
	return e
}

func readRecords(t *testing.T, name string) []record {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer file.Close()
	var records []record
	for lines := bufio.NewScanner(file); lines.Scan(); {
		var r record
		require.NoError(t, json.Unmarshal(lines.Bytes(), &r))
		records = append(records, r)
	}
	return records
}

// sureEnough is a probability with which a name is usable: more likely than all others together.
const sureEnough = 0.5

// recordFiles are everyday records, with how many of them may lose their family by one mistake, be less than sure, or not be led
// by their family without a mistake. The mistake is the overlooked mark of the family in most. From memory, common practice, no
// source; those of the files named blind were written before anybody knew how they come out (testdata/README.md says how they did).
var recordFiles = []struct {
	name                string
	lost, unsure, wrong int
}{
	{"testdata/records.jsonl", 4, 1, 0},
	{"testdata/records_further.jsonl", 12, 9, 0}, // twenty of them of small families
	{"testdata/records_blind.jsonl", 4, 2, 0},
	{"testdata/records_blind_second.jsonl", 3, 2, 0},
	{"testdata/records_mistaken.jsonl", 8, 4, 1},
	{"testdata/records_mistaken_aside.jsonl", 13, 8, 3},
}

// TestRecords: everyday records name their family first, surely enough in most, and with one beginner's mistake in them it still
// leads in eight of ten. Nine of ten is not reached, and cannot be by weighing these tables in another way: without what marks the
// family, seven characters leave several families open. An expert who knows everything of a world in which the tables are true
// keeps 174 of all 210 of these records (revidit bench records).
func TestRecords(t *testing.T) {
	j := shipped()
	for _, file := range recordFiles {
		records := readRecords(t, file.name)
		unsure, wrong, lost := 0, 0, 0
		for _, r := range records {
			plain := j.Assess(r.free(j, nil)).Ranking[0]
			if plain.Family != r.Family || plain.P < sureEnough {
				unsure++
				t.Logf("%s (%s): %s %.3f", r.Species, r.Family, plain.Family, plain.P)
			}
			if plain.Family != r.Family {
				wrong++
			}
			mistaken := j.Assess(r.free(j, r.mistake())).Ranking[0]
			if mistaken.Family != r.Family {
				lost++
				t.Logf("%s (%s) with %v: %s %.3f", r.Species, r.Family, r.Mistake, mistaken.Family, mistaken.P)
			}
		}
		t.Logf("%s: %d records; %d not first, %d below %v; with a mistake %d not first", file.name, len(records), wrong, unsure, sureEnough, lost)
		require.LessOrEqual(t, wrong, file.wrong, file.name)
		require.LessOrEqual(t, unsure, file.unsure, file.name)
		require.LessOrEqual(t, lost, file.lost, file.name)
	}
}

// TestFreeLists: silence improves what is made of lists that people told freely. testdata/free_lists.jsonl are 200 species as
// hobbyists might describe them, by one writer who did not know the tables of the families; nothing was fitted to them.
func TestFreeLists(t *testing.T) {
	j := shipped()
	with, without := score{}, score{}
	for _, r := range readRecords(t, "testdata/free_lists.jsonl") {
		family, _, ok := j.tables.Resolve(r.Family)
		require.True(t, ok, r.Family)
		with.add(j.Assess(r.free(j, nil)), family.Name)
		without.add(j.Assess(r.evidence(j, nil)), family.Name)
	}
	t.Logf("with silence: first %.3f, log score %.4f, weevils first by mistake %.0f; without: %.3f, %.4f, %.0f", with.share(), with.mean(), with.weevils, without.share(), without.mean(), without.weevils)
	require.Less(t, with.mean(), without.mean())
	require.GreaterOrEqual(t, with.share(), without.share())
}

// score is how well names come out: the logarithmic score is the mean of -ln p of the true family.
type score struct{ n, first, log, weevils float64 }

func (s *score) add(a Assessment, family string) {
	s.n++
	for i, r := range a.Ranking {
		if r.Family != family {
			continue
		}
		s.log -= math.Log(r.P)
		if i == 0 {
			s.first++
		}
	}
	if a.Ranking[0].Family == "Curculionidae" && family != "Curculionidae" {
		s.weevils++
	}
}

func (s *score) share() float64 { return s.first / s.n }
func (s *score) mean() float64  { return s.log / s.n }
