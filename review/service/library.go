package service

import (
	"context"
	"fmt"
	"sync"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Library holds the judges of all groups: those built into the program, and those of releases that the club has
// published, compiled when they are first asked for. It is safe for concurrent use.
type Library struct {
	builtIn []*judgement.Judge // one a group, in the order in which groups are offered

	mu     sync.Mutex
	byHash map[string]*judgement.Judge
}

// NewLibrary returns a library of tables that Load has accepted, one of each group; the first is that of submissions
// which name none. It panics without any, and where two are of one group.
func NewLibrary(tables ...*diagnosis.Tables) *Library {
	if len(tables) == 0 {
		panic("review: a library without tables")
	}
	l := &Library{byHash: map[string]*judgement.Judge{}}
	for _, t := range tables {
		if l.BuiltIn(t.Group.ID) != nil {
			panic("review: two tables of the group " + t.Group.ID)
		}
		judge := review.NewJudge(t)
		l.builtIn = append(l.builtIn, judge)
		l.byHash[t.Hash] = judge
	}
	for _, judge := range l.builtIn {
		l.widen(judge)
	}
	return l
}

// widen tells a judge of the wider group that its tables name, as the program brings it.
func (l *Library) widen(judge *judgement.Judge) {
	if wider := l.BuiltIn(judge.Tables().Group.Within); wider != nil {
		judge.Widen(wider)
	}
}

// BuiltIn is the judge of a group as the program brings it, or nil.
func (l *Library) BuiltIn(group string) *judgement.Judge {
	for _, j := range l.builtIn {
		if j.Tables().Group.ID == group {
			return j
		}
	}
	return nil
}

// Tables are those that the program brings, one a group, in the order in which groups are offered.
func (l *Library) Tables() []*diagnosis.Tables {
	var tables []*diagnosis.Tables
	for _, j := range l.builtIn {
		tables = append(tables, j.Tables())
	}
	return tables
}

// First is the group of submissions that name none.
func (l *Library) First() string { return l.builtIn[0].Tables().Group.ID }

// compiled returns the judge of a release by its hash, making it from the release's files where it is new here.
func (l *Library) compiled(hash string, files func() (map[string]string, error)) (*judgement.Judge, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if j, ok := l.byHash[hash]; ok {
		return j, nil
	}
	contents, err := files()
	if err != nil {
		return nil, err
	}
	tables, problems := diagnosis.Load(diagnosis.FromContents(contents))
	if len(problems) > 0 {
		return nil, fmt.Errorf("the stored release %s cannot be read by this program: %s", hash, problems[0])
	}
	if tables.Hash != hash {
		return nil, review.Fault(review.KindDamaged, fmt.Errorf("the stored release %s is not what was published: its files give %s", hash, tables.Hash),
			"The files of release %s of the tables are not those that were published. No other tables are taken in their place, and revidit rebuild cannot make them anew, since the history holds no files: the keeper of this server restores the table of releases from a backup.", hash)
	}
	j := review.NewJudge(tables)
	l.widen(j)
	l.byHash[hash] = j
	return j, nil
}

// Groups are the judges in force, one a group.
func (s *Service) Groups(ctx context.Context) ([]*judgement.Judge, error) {
	var judges []*judgement.Judge
	for _, b := range s.library.builtIn {
		j, err := s.Judge(ctx, b.Tables().Group.ID)
		if err != nil {
			return nil, err
		}
		judges = append(judges, j)
	}
	return judges, nil
}

// Judge is the judge in force for a group: of the release that the club has published last, otherwise the built-in
// one. An empty group is the first one.
func (s *Service) Judge(ctx context.Context, group string) (*judgement.Judge, error) {
	if group == "" {
		group = s.library.First()
	}
	builtIn := s.library.BuiltIn(group)
	if builtIn == nil {
		return nil, review.Errorf(review.KindNotFound, "There is no group %q of tables.", group)
	}
	hash, err := s.store.CurrentRelease(ctx, group)
	if err != nil {
		return nil, err
	}
	if hash == "" {
		return builtIn, nil
	}
	return s.judgeOfHash(ctx, hash)
}

// judgeOfHash is the judge of any release that was ever in force here.
func (s *Service) judgeOfHash(ctx context.Context, hash string) (*judgement.Judge, error) {
	return s.library.compiled(hash, func() (map[string]string, error) {
		release, err := s.store.Release(ctx, hash)
		return release.Files, err
	})
}

// TablesOf are the tables of a hash: those that the program brings, or a release of the club's. Nil where they are not here (any more).
func (s *Service) TablesOf(ctx context.Context, hash string) (*diagnosis.Tables, error) {
	judge, err := s.judgeOfHash(ctx, hash)
	if review.KindOf(err) == review.KindNotFound {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return judge.Tables(), nil
}

// BuiltIn are the tables that the program brings, one a group, in the order in which groups are offered.
func (s *Service) BuiltIn() []*diagnosis.Tables { return s.library.Tables() }

// KnownReleases are the published releases of all groups, the latest of each group first, without their files, and behind them
// the tables that the program brings.
func (s *Service) KnownReleases(ctx context.Context) ([]review.Release, error) {
	var known []review.Release
	for _, t := range s.library.Tables() {
		published, err := s.store.Releases(ctx, t.Group.ID)
		if err != nil {
			return nil, err
		}
		known = append(append(known, published...), review.Release{Group: t.Group.ID, Version: t.Group.Release, Hash: t.Hash})
	}
	return known, nil
}
