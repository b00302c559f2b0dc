package models

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"gorm.io/gorm"

	"revidit/review/service"
)

// mark is a place in an order of the queue: the more urgent first, of equal ones the lower id.
type mark struct {
	Urgency float64 `json:"urgency"` // weighed
	ID      string  `json:"id"`
}

func (m *mark) valid() bool {
	return m == nil || m.ID != "" && storable(m.ID) && !math.IsNaN(m.Urgency) && !math.IsInf(m.Urgency, 0)
}

func compareMarks(a, b mark) int {
	return cmp.Or(cmp.Compare(b.Urgency, a.Urgency), strings.Compare(a.ID, b.ID))
}

// passed says whether an order that has come to a place has passed m.
func (m mark) passed(at *mark) bool { return at != nil && compareMarks(m, *at) <= 0 }

// A trip and a drawer are compared with the empty one as well, because their indexes leave it out, and SQLite does not see
// from a value that it may use them.

// queueLists are the names of the lists in which something may stand that a filter lets through: one step down the index
// for each name, however many entries there are.
func (db *DB) queueLists(ctx context.Context, f service.QueueFilter) ([]string, error) {
	within, args := "", []any{}
	switch {
	case f.Drawer != "":
		within, args = "e.storage_place = ? AND e.storage_place <> ''", []any{f.Drawer}
	case f.Trip != "":
		within, args = "e.trip = ? AND e.trip <> ''", []any{f.Trip}
	case f.Family != "":
		within, args = "e.family = ?", []any{f.Family}
	}
	first, further := "", "e.list > names.list"
	if within != "" {
		first, further = " WHERE "+within, within+" AND "+further
	}
	var names []string
	err := db.read(ctx).Raw("WITH RECURSIVE names (list) AS (SELECT min(e.list) FROM queue_entries AS e"+first+
		" UNION ALL SELECT (SELECT min(e.list) FROM queue_entries AS e WHERE "+further+") FROM names WHERE names.list IS NOT NULL) "+
		"SELECT list FROM names WHERE list IS NOT NULL", append(args, args...)...).Scan(&names).Error
	return names, err
}

// merged reads lists that are each in order, and merges them. A submission that stands in several of them comes first
// where it is the most urgent: so the order is exact however little is read of each list, because within a list it does
// not depend on the weight.
type merged struct {
	db    *DB
	ctx   context.Context
	f     service.QueueFilter
	lists []*orderedList
	chunk int // entries that are read of a list at once
	seen  map[string]bool
}

type orderedList struct {
	name   string
	within []string // families that it is read of; nil: all
	weight float64
	from   *mark // not weighed; read from behind it
	ahead  []mark
	done   bool
}

const largestChunk = 1000

func (db *DB) merge(ctx context.Context, f service.QueueFilter) *merged {
	return &merged{db: db, ctx: ctx, f: f, seen: map[string]bool{}}
}

// add takes a list into the merge, from behind a place. A list of no weight tells nothing.
func (m *merged) add(name string, weight float64, after *mark) {
	if weight == 0 {
		return
	}
	for _, families := range readWithin(m.f) {
		list := &orderedList{name: name, within: families, weight: weight}
		if after != nil {
			list.from = startOf(weight, *after)
		}
		m.lists = append(m.lists, list)
	}
}

// fewFamilies are read each by its index; of more a list is gone through, since they are much of it.
const fewFamilies = 12

// readWithin are the families that a list is read of, part by part; nil in a part stands for all.
func readWithin(f service.QueueFilter) (parts [][]string) {
	families := f.Families.Names()
	switch {
	case f.Family != "" && f.Families.Cover(f.Family):
		return [][]string{{f.Family}}
	case f.Family != "":
		return nil
	case len(families) == 0:
		return [][]string{nil}
	case len(families) > fewFamilies:
		return [][]string{families}
	}
	for _, family := range families {
		parts = append(parts, []string{family})
	}
	return parts
}

// startOf is a place in a list behind which everything is that stands behind a place of the merge, and nothing else.
// Weighed, gains that differ by a millionth differ as well, so that at most one of them comes to the urgency of the place.
func startOf(weight float64, after mark) *mark {
	if weight == 1 {
		return &after
	}
	gain := millionth(after.Urgency / weight)
	switch weighed := gain * weight; {
	case weighed > after.Urgency:
		return &mark{Urgency: gain, ID: lastID}
	case weighed < after.Urgency:
		return &mark{Urgency: gain}
	}
	return &mark{Urgency: gain, ID: after.ID}
}

// lastID stands behind every id.
const lastID = "\U0010FFFF"

// next is the id of the next one, or empty at the end.
func (m *merged) next() (string, error) {
	for {
		if err := m.fill(); err != nil {
			return "", err
		}
		var first *orderedList
		for _, list := range m.lists {
			if len(list.ahead) > 0 && (first == nil || compareMarks(list.ahead[0], first.ahead[0]) < 0) {
				first = list
			}
		}
		if first == nil {
			return "", nil
		}
		id := first.ahead[0].ID
		first.ahead = first.ahead[1:]
		if !m.seen[id] {
			m.seen[id] = true
			return id, nil
		}
	}
}

// fill reads on in the lists of which nothing is left, in one statement.
func (m *merged) fill() error {
	var parts []string
	var args []any
	var short []*orderedList
	for _, list := range m.lists {
		if len(list.ahead) > 0 || list.done {
			continue
		}
		short = append(short, list)
		for _, part := range m.parts(list) {
			parts, args = append(parts, "SELECT * FROM ("+part.sql+") AS part"), append(args, part.args...)
		}
	}
	if len(short) == 0 {
		return nil
	}
	var rows []entryRow
	if err := m.db.read(m.ctx).Raw(strings.Join(parts, " UNION ALL "), args...).Scan(&rows).Error; err != nil {
		return err
	}
	for _, list := range short {
		var found []mark
		for _, row := range rows {
			if row.List == list.name && (list.within == nil || slices.Contains(list.within, row.Family)) {
				found = append(found, mark{row.Urgency, row.SubmissionID})
			}
		}
		list.take(found, m.chunk)
	}
	m.chunk = min(2*m.chunk, largestChunk)
	return nil
}

func (l *orderedList) take(found []mark, chunk int) {
	slices.SortFunc(found, compareMarks)
	if l.done = len(found) < chunk; !l.done {
		found = found[:chunk] // there may be some between these and the rest
	}
	if len(found) > 0 {
		l.from = &mark{found[len(found)-1].Urgency, found[len(found)-1].ID}
	}
	for _, entry := range found {
		entry.Urgency *= l.weight
		if entry.Urgency != 0 { // too small for a number
			l.ahead = append(l.ahead, entry)
		}
	}
}

type statement struct {
	sql  string
	args []any
}

// parts read a chunk of a list: those that are as urgent as the last one, and the less urgent. Apart, because no database
// finds both with one step down an index.
func (m *merged) parts(list *orderedList) []statement {
	where, args := "e.list = ?", []any{list.name}
	for _, c := range []struct{ column, value string }{{"storage_place", m.f.Drawer}, {"trip", m.f.Trip}, {"family", list.oneFamily()}} {
		if c.value != "" {
			where, args = where+" AND e."+c.column+" = ? AND e."+c.column+" <> ''", append(args, c.value)
		}
	}
	if len(list.within) > 1 {
		where, args = where+" AND e.family IN ?", append(args, list.within)
	}
	read := func(further, order string, more ...any) statement {
		return statement{"SELECT e.list, e.urgency, e.submission_id, e.family FROM queue_entries AS e WHERE " + where + further + " ORDER BY " + order + " LIMIT ?",
			append(append(slices.Clone(args), more...), m.chunk)}
	}
	const order = "e.urgency DESC, e.submission_id"
	if list.from == nil {
		return []statement{read("", order)}
	}
	return []statement{
		read(" AND e.urgency = ? AND e.submission_id > ?", "e.submission_id", list.from.Urgency, list.from.ID),
		read(" AND e.urgency < ?", order, list.from.Urgency),
	}
}

// oneFamily is the family of a list that is read of one; empty else.
func (l *orderedList) oneFamily() string {
	if len(l.within) == 1 {
		return l.within[0]
	}
	return ""
}

// candidate is what may get a place in the queue.
type candidate struct {
	line    lineRow
	gain    mark // by the most telling region, weighed; 0 where a look tells nothing
	region  string
	wait    mark
	longest bool // has its place because it has waited longest
}

// ordered gives the candidates of a merge that the filter lets through.
type ordered struct {
	merged  *merged
	weights map[string]float64
	ahead   []*candidate
}

// next is the next one that is not passed over, or nil at the end.
func (o *ordered) next(passed func(*candidate) bool) (*candidate, error) {
	for {
		for len(o.ahead) > 0 {
			c := o.ahead[0]
			o.ahead = o.ahead[1:]
			if !passed(c) {
				return c, nil
			}
		}
		var ids []string
		for size := o.merged.chunk; len(ids) < size; {
			id, err := o.merged.next()
			if err != nil {
				return nil, err
			}
			if id == "" {
				break
			}
			ids = append(ids, id)
		}
		if len(ids) == 0 {
			return nil, nil
		}
		found, err := o.merged.db.candidates(o.merged.ctx, o.merged.f, ids, o.weights)
		if err != nil {
			return nil, err
		}
		o.ahead = found
	}
}

// ownName is true where the viewer, given twice, has given the name to the specimen in another submission. A specimen has a
// few of them and a family a tenth of all: the name is compared so that no index of families serves, or SQLite takes it.
const ownName = "EXISTS (SELECT 1 FROM submissions AS o WHERE o.specimen_id = s.specimen_id AND o.id <> s.id AND o.opened_at IS NOT NULL " +
	"AND o.family || '' = s.family AND (o.owner = ? OR o.determiner = ?))"

// candidates are those of some submissions that the viewer may be sent to, in the same order.
func (db *DB) candidates(ctx context.Context, f service.QueueFilter, ids []string, weights map[string]float64) ([]*candidate, error) {
	query := db.read(ctx).Table("submissions AS s").Select(firstColumns+", "+ownName+" AS own_name", f.Viewer, f.Viewer).Where("s.id IN ?", ids)
	if f.Viewer != "" {
		query = query.Where("s.owner <> ? AND s.determiner <> ?", f.Viewer, f.Viewer).
			Where("NOT EXISTS (SELECT 1 FROM judged AS j WHERE j.person = ? AND j.submission_id = s.id AND j.evidence = s.evidence)", f.Viewer)
	}
	if machines := f.Machines.IDs(); len(machines) > 0 {
		query = query.Where("s.owner NOT IN ? AND s.determiner NOT IN ?", machines, machines)
	}
	var rows []lineRow
	if err := db.lines(ctx, asked(query, f)).Select(lineColumns + ", line.own_name").Scan(&rows).Error; err != nil {
		return nil, err
	}
	found := map[string]*candidate{}
	for _, row := range rows {
		found[row.ID] = &candidate{line: row, gain: mark{ID: row.ID}, wait: mark{ID: row.ID}}
	}
	var entries []entryRow
	err := db.read(ctx).Select("submission_id", "place", "list", "urgency").Where("submission_id IN ?", ids).Order("submission_id, place").Find(&entries).Error
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if c := found[e.SubmissionID]; c != nil {
			c.add(e, weights)
		}
	}
	var list []*candidate
	for _, id := range ids {
		if c := found[id]; c != nil && c.wait.Urgency != 0 {
			list = append(list, c)
		}
	}
	return list, nil
}

func (c *candidate) add(e entryRow, weights map[string]float64) {
	kind, _, region := listParts(e.List)
	if kind != listGain {
		c.wait.Urgency = e.Urgency
		return
	}
	if gain := weightOf(weights, region) * e.Urgency; gain > c.gain.Urgency {
		c.gain.Urgency, c.region = gain, region
	}
}

// asked lets those rechecks through that the viewer may be asked about: who knows a specimen by another submission, or has been shown it, cannot
// look at it blind either. Written with replace because LIKE heeds no case in SQLite.
func asked(query *gorm.DB, f service.QueueFilter) *gorm.DB {
	if !asksForPanel(f) {
		return query.Where("NOT s.recheck_open")
	}
	return narrow(query, "(NOT s.recheck_open OR NOT EXISTS (SELECT 1 FROM submissions AS o WHERE o.specimen_id = s.specimen_id "+
		"AND o.opened_at IS NOT NULL AND replace(o.known_to, ?, '') <> o.known_to))", spaced(f.Viewer)).
		Where("(NOT s.recheck_open OR NOT EXISTS (SELECT 1 FROM openings AS op WHERE op.specimen_id = s.specimen_id AND op.person = ?))", f.Viewer)
}
