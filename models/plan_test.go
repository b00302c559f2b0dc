package models_test

import (
	"database/sql/driver"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// filled is how many submissions the plans are looked at with: enough for a planner to take an index.
const filled = 8000

// page is a first page, and the indexes that it must be read by.
type page struct {
	read    func(*testing.T, *models.DB)
	indexes []string
}

func listOf(f service.SubmissionFilter, indexes ...string) page {
	return page{func(t *testing.T, db *models.DB) {
		_, _, err := db.FindSubmissions(t.Context(), f, service.Page{Size: 50})
		require.NoError(t, err)
	}, indexes}
}

func queueOf(f service.QueueFilter, indexes ...string) page {
	f.Viewer, f.Rechecks = "p7", true
	f.Weights = map[string]float64{"region1": 0.4, "region2": 1.3, "region5": 0}
	return page{func(t *testing.T, db *models.DB) {
		first, next, err := db.FindQueue(t.Context(), f, service.Page{Size: 5})
		require.NoError(t, err)
		require.NotEmpty(t, first)
		_, _, err = db.FindQueue(t.Context(), f, service.Page{Size: 5, Cursor: next})
		require.NoError(t, err)
	}, indexes}
}

func newsOf(f service.NewsFilter, indexes ...string) page {
	f.Person, f.Codes = "p7", review.NewsCodes
	return page{func(t *testing.T, db *models.DB) {
		lines, _, err := db.FindNews(t.Context(), f, service.Page{Size: 10})
		require.NoError(t, err)
		require.NotEmpty(t, lines)
	}, indexes}
}

// aPageOfSubmissions are those of a full page, each with an event.
var aPageOfSubmissions = func() (submissions []string) {
	for n := 1; n <= 50; n++ {
		submissions = append(submissions, fmt.Sprint("s", 9*n))
	}
	return submissions
}()

// aPage are the specimens of a full page.
var aPage = func() (specimens []string) {
	for n := range 50 {
		specimens = append(specimens, fmt.Sprint("sp", n))
	}
	return specimens
}()

var pagesRead = map[string]page{
	"all":                            listOf(service.SubmissionFilter{}, "submissions_changed"),
	"a status":                       listOf(service.SubmissionFilter{Status: "undetermined"}, "submissions_status"),
	"a family":                       listOf(service.SubmissionFilter{Family: "Family3idae"}, "submissions_family"),
	"a family's status":              listOf(service.SubmissionFilter{Family: "Family3idae", Status: "open"}, "submissions_family_status"),
	"a group":                        listOf(service.SubmissionFilter{Group: "larvae"}, "submissions_group"),
	"a group's status":               listOf(service.SubmissionFilter{Group: "adults", Status: "undetermined"}, "submissions_group_status"),
	"one's own":                      listOf(service.SubmissionFilter{Owner: "p7", Viewer: "p7"}, "submissions_owner", "drafts_owner"),
	"one's own drafts":               listOf(service.SubmissionFilter{Owner: "p7", Viewer: "p7", Status: "draft"}, "submissions_owner_status", "drafts_owner_status"),
	"one's own with text":            listOf(service.SubmissionFilter{Owner: "p7", Viewer: "p7", Text: "xyzzyx"}, "submissions_owner", "drafts_owner"),
	"one's own of status":            listOf(service.SubmissionFilter{Owner: "p7", Viewer: "p7", Status: "open"}, "submissions_owner_status"),
	"a specimen":                     listOf(service.SubmissionFilter{Specimen: "sp77"}, "submissions_specimen"),
	"specimens of a page":            listOf(service.SubmissionFilter{Viewer: "p7", Specimens: aPage}, "submissions_specimen"),
	"doubtful":                       listOf(service.SubmissionFilter{Doubtful: true, Viewer: "p7"}, "submissions_doubtful", "submissions_owner_status"),
	"one's own doubtful":             listOf(service.SubmissionFilter{Doubtful: true, Viewer: "p7", Owner: "p7"}, "submissions_doubtful_owner"),
	"a whole number":                 listOf(service.SubmissionFilter{Text: "rv-10000077"}, "specimens_number"),
	"a text":                         listOf(service.SubmissionFilter{Text: "v-10000077"}, "submissions_changed", "search"),
	"a text that is not":             listOf(service.SubmissionFilter{Text: "xyzzyx"}, "submissions_changed", "search"),
	"a text of all":                  listOf(service.SubmissionFilter{Text: "family"}, "submissions_changed"),
	"a short text":                   listOf(service.SubmissionFilter{Text: "q"}, "submissions_changed", "search"),
	"the queue":                      queueOf(service.QueueFilter{}, "queue_entries_list"),
	"the queue of a group":           queueOf(service.QueueFilter{Group: "larvae"}, "queue_entries_list"),
	"of a family":                    queueOf(service.QueueFilter{Family: "Family3idae"}, "queue_entries_family"),
	"of a trip":                      queueOf(service.QueueFilter{Trip: "Trip 3"}, "queue_entries_trip"),
	"of a drawer":                    queueOf(service.QueueFilter{Drawer: "Drawer 3"}, "queue_entries_storage_place"),
	"what a panel does not bear out": listOf(service.SubmissionFilter{Parted: true, Viewer: "p7"}, "submissions_parted"),
	"one's own drafts of old slips":  listOf(service.SubmissionFilter{Slips: true, Owner: "p7", Viewer: "p7", Status: "draft"}, "submissions_owner_status", "drafts_slips"),
	"a beginner's series":            listOf(service.SubmissionFilter{Series: "se5", Viewer: "p7"}, "submissions_series"),
	"a kind of contradiction":        listOf(service.SubmissionFilter{Against: "combination", Viewer: "p7"}, "submissions_combination"),
	"another kind":                   listOf(service.SubmissionFilter{Against: "unseen", Viewer: "p7"}, "submissions_unseen"),
	"a kind in a family":             listOf(service.SubmissionFilter{Against: "unseen", Family: "Family3idae", Viewer: "p7"}, "submissions_unseen_family"),
	"a kind among determinations":    listOf(service.SubmissionFilter{Determiner: "p8", Against: "combination", Viewer: "p7"}, "submissions_combination_determiner"),
	"a kind of what was disputed":    listOf(service.SubmissionFilter{Judge: "p7", Said: service.SaidDisputed, Against: "combination", Viewer: "p7"}, "said_"), // along whichever has fewer
	"a kind of what was said":        listOf(service.SubmissionFilter{Judge: "p7", Against: "combination", Viewer: "p7"}, "said_combination"),
	"a release":                      listOf(service.SubmissionFilter{Release: "hash0"}, "submissions_release"),
	"who determined":                 listOf(service.SubmissionFilter{Determiner: "p8"}, "submissions_determiner"),
	"of whom something was said":     listOf(service.SubmissionFilter{Judge: "p7"}, "said_person"),
	"what somebody confirmed":        listOf(service.SubmissionFilter{Judge: "p7", Said: service.SaidConfirmed}, "said_confirmed"),
	"what somebody disputed":         listOf(service.SubmissionFilter{Judge: "p7", Said: service.SaidDisputed}, "said_disputed"),
	"where somebody named another":   listOf(service.SubmissionFilter{Judge: "p7", Said: service.SaidAnother}, "said_opinion"),
	"a period":                       listOf(service.SubmissionFilter{From: time.Unix(1700000100, 0), Until: time.Unix(1700001000, 0)}, "submissions_changed"),
	"counts of a person": {func(t *testing.T, db *models.DB) {
		n, err := db.CountOfPerson(t.Context(), "p7", 50)
		require.NoError(t, err)
		require.Equal(t, 50, n.Confirmed)
	}, []string{"said_confirmed", "said_disputed", "said_opinion", "submissions_determiner"}},
	"what came about": {func(t *testing.T, db *models.DB) {
		period := review.Period{From: time.Unix(1700000100, 0), Until: time.Unix(1700007000, 0)}
		found, _, err := db.FindTurns(t.Context(), []string{"confirmed", "undetermined"}, period, service.Page{Size: 50})
		require.NoError(t, err)
		require.Len(t, found, 50)
		_, err = db.CountTurns(t.Context(), []string{"submitted"}, period, 1001)
		require.NoError(t, err)
	}, []string{"events_turns"}},
	"families of a period": {func(t *testing.T, db *models.DB) {
		period := review.Period{From: time.Unix(1700000100, 0), Until: time.Unix(1700007000, 0)}
		found, err := db.CountFamilies(t.Context(), period, 500)
		require.NoError(t, err)
		require.NotEmpty(t, found)
	}, []string{"events_turns"}},
	"a family before a time": {func(t *testing.T, db *models.DB) {
		_, err := db.SettledBefore(t.Context(), "adults", "Family3idae", time.Unix(1700007000, 0))
		require.NoError(t, err)
	}, []string{"submissions_family"}},
	"what became of a page": {func(t *testing.T, db *models.DB) {
		found, err := db.TurnsOf(t.Context(), aPageOfSubmissions)
		require.NoError(t, err)
		require.Len(t, found, len(aPageOfSubmissions))
	}, []string{"(stream"}}, // not by what happened, of which there is more with every submission
	"a page by ids": listOf(service.SubmissionFilter{Viewer: "p7", IDs: []string{"s7", "s8"}}),
	"what was closed in a period": {func(t *testing.T, db *models.DB) {
		f := service.ClosingFilter{Group: "adults", Kind: service.ClosedPanel, From: time.Unix(1700000100, 0), Until: time.Unix(1700007000, 0)}
		_, _, err := db.FindClosings(t.Context(), f, service.Page{Size: 50})
		require.NoError(t, err)
		_, err = db.FewClosings(t.Context(), f, 100)
		require.NoError(t, err)
	}, []string{"closings"}},
	"saved searches": {func(t *testing.T, db *models.DB) {
		found, err := db.SavedSearches(t.Context(), "p7")
		require.NoError(t, err)
		require.NotEmpty(t, found)
	}, []string{"saved_searches_person"}},
	"series of somebody": {func(t *testing.T, db *models.DB) {
		found, err := db.SeriesOf(t.Context(), "p7")
		require.NoError(t, err)
		require.NotEmpty(t, found)
	}, []string{"series_mentor"}},
	"a series with its count": {func(t *testing.T, db *models.DB) {
		_, count, err := db.Series(t.Context(), "se5")
		require.NoError(t, err)
		require.Positive(t, count.All)
	}, []string{"submissions_series"}},
	"series that wait": {func(t *testing.T, db *models.DB) {
		_, err := db.WaitingSeries(t.Context(), 10)
		require.NoError(t, err)
	}, []string{"series_waiting"}},
	"what waits long for mentors": {func(t *testing.T, db *models.DB) {
		_, err := db.LateSeries(t.Context(), time.Unix(1700000100, 0), 20)
		require.NoError(t, err)
	}, []string{"submissions_late"}},
	"what somebody has submitted": {func(t *testing.T, db *models.DB) {
		n, err := db.SubmittedBy(t.Context(), "p7", 5)
		require.NoError(t, err)
		require.Equal(t, 5, n)
	}, []string{"submissions_owner"}},
	"proposals that wait": {func(t *testing.T, db *models.DB) {
		found, err := db.WaitingProposals(t.Context(), "p7", 11)
		require.NoError(t, err)
		require.Len(t, found, 11)
	}, []string{"cell_proposals_waiting"}},
	"holds that were left": {func(t *testing.T, db *models.DB) {
		_, err := db.LeftHolds(t.Context(), time.Unix(1800000000, 0), 200)
		require.NoError(t, err)
	}, []string{"submissions_left_held"}},
	"who reads below members": {func(t *testing.T, db *models.DB) {
		_, err := db.ReadBelow(t.Context(), "adults", 1001)
		require.NoError(t, err)
	}, []string{"reliability_people_below"}},
	"owners who cannot log in": {func(t *testing.T, db *models.DB) {
		owners, err := db.DisabledOwners(t.Context(), 11)
		require.NoError(t, err)
		require.Equal(t, []string{"p7"}, owners)
	}, []string{"accounts_disabled", "submissions_owner_status"}},
	"submissions by their ids": {func(t *testing.T, db *models.DB) {
		_, err := db.SubmissionsWith(t.Context(), []string{"none", "neither"}, nil)
		require.NoError(t, err)
	}, nil},
	"counts": {func(t *testing.T, db *models.DB) {
		counts, err := db.CountByStatus(t.Context(), "p7")
		require.NoError(t, err)
		require.Equal(t, service.MostCounted+1, counts[review.StatusConfirmed], "more than are counted")
		require.Greater(t, counts[review.StatusWithdrawn], filled/100, "with discarded drafts")
		require.Positive(t, counts[review.StatusDraft])
	}, []string{"submissions_status"}},
	"what one holds": {func(t *testing.T, db *models.DB) {
		_, err := db.Holdings(t.Context(), "p7", time.Unix(1700000000, 0))
		require.NoError(t, err)
	}, []string{"submissions_held"}},
	"photos of a page of files": {func(t *testing.T, db *models.DB) {
		digest := fmt.Sprintf("%08d%056d", 77, 0)
		known, err := db.KnownPhotos(t.Context(), []string{digest, fmt.Sprintf("%064d", 1)})
		require.NoError(t, err)
		require.Equal(t, map[string]bool{digest: true}, known)
	}, []string{"uploads_sha256"}},
	"what expires": {func(t *testing.T, db *models.DB) {
		early := time.Unix(1700000000+filled/20, 0) // a twentieth; what is filled begins there
		_, err := db.Expire(t.Context(), service.Expiry{Uploads: early, Keys: early, Forms: early, News: early, Letters: early, Jobs: early, Sessions: early})
		require.NoError(t, err)
	}, []string{"uploads_waiting", "idempotency_keys_at", "kept_forms_at", "news_at", "letters_made", "jobs_finished", "sessions_expire", "login_attempts_until"}},
	"news":        newsOf(service.NewsFilter{}, "news_person"),
	"unread news": newsOf(service.NewsFilter{Unread: true}, "news_unread"),
	"how much news is not read": {func(t *testing.T, db *models.DB) {
		n, err := db.CountNews(t.Context(), service.NewsFilter{Person: "p7", Codes: review.NewsCodes})
		require.NoError(t, err)
		require.Positive(t, n)
	}, []string{"news_unread"}},
	"letters to send": {func(t *testing.T, db *models.DB) {
		letters, err := db.WaitingLetters(t.Context(), time.Unix(1800000000, 0), 20)
		require.NoError(t, err)
		require.Len(t, letters, 20)
	}, []string{"letters_waiting"}},
	"the last letter": {func(t *testing.T, db *models.DB) {
		_, err := db.LastLetter(t.Context(), "p7")
		require.NoError(t, err)
	}, []string{"letters_person"}},
	"what is kept of a form": {func(t *testing.T, db *models.DB) {
		_, err := db.KeptForm(t.Context(), "p8", "f8")
		require.NoError(t, err)
	}, nil},
	"whether somebody has done anything": {func(t *testing.T, db *models.DB) {
		acted, err := db.HasActed(t.Context(), "nobody")
		require.NoError(t, err)
		require.False(t, acted)
	}, []string{"cell_proposals_proposer"}},
	"what one has opened of a page": {func(t *testing.T, db *models.DB) {
		opened, err := db.OpenedBy(t.Context(), "p8", []string{"sp7", "sp8"})
		require.NoError(t, err)
		require.Equal(t, map[string]bool{"sp7": true}, opened)
	}, nil},
	"what waits to be judged by new tables": {func(t *testing.T, db *models.DB) {
		_, _, err := db.FindDeterminations(t.Context(), service.DeterminationFilter{Group: "adults", Waiting: true, Unread: func(string) {}}, service.Page{Size: 50})
		require.NoError(t, err)
	}, []string{"submissions_waiting"}},
	"curators": {func(t *testing.T, db *models.DB) {
		_, err := db.Curators(t.Context())
		require.NoError(t, err)
	}, []string{"people_curators"}},
	"people": {func(t *testing.T, db *models.DB) {
		_, err := db.People(t.Context(), []string{"p7", "p8"})
		require.NoError(t, err)
	}, nil},
}

// TestPlans requires that no first page reads a whole table, and that each is read by the index made for it, in the order
// of which it can stop.
func TestPlans(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			db := open(t)
			fill(t, db, dialect, filled)
			var watched func(string, []any)
			require.NoError(t, db.Watch(func(query string, values []any) { watched(query, values) }))
			for name, p := range pagesRead {
				t.Run(name, func(t *testing.T) {
					plans, forAny := "", ""
					watched = func(query string, values []any) {
						plans += planOf(t, db, dialect, query, values)
						if dialect == migrations.Postgres {
							forAny += planForAny(t, db, query, values)
						}
					}
					p.read(t, db)
					requirePlan(t, name, dialect, plans, p.indexes)
					if dialect == migrations.Postgres {
						requirePlan(t, name, dialect, forAny, p.indexes[:min(1, len(p.indexes))]) // of one's own there may be any number
					}
				})
			}
		})
	}
}

func requirePlan(t *testing.T, name, dialect, plans string, indexes []string) {
	t.Helper()
	if name != "counts" { // a thousand of so few are counted quickest by reading all
		requireNoScan(t, plans)
	}

	for _, others := range otherSubmissions.FindAllString(plans, -1) {
		require.Contains(t, others, "submissions_specimen", "other submissions of a specimen are found by it in\n%s", plans)
	}
	for _, index := range indexes {
		if index == "search" && dialect == migrations.SQLite {
			index = "VIRTUAL TABLE INDEX 0:M" // FTS5 asked for a match
		}
		require.Truef(t, strings.Contains(plans, index), "%s in\n%s", index, plans)
	}
}

func planOf(t *testing.T, db *models.DB, dialect, query string, values []any) string {
	t.Helper()
	explain := map[string]string{migrations.SQLite: "EXPLAIN QUERY PLAN ", migrations.Postgres: "EXPLAIN "}[dialect]
	rows, err := db.RawReaders().QueryContext(t.Context(), explain+query, values...)
	require.NoError(t, err, query)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	var plan strings.Builder
	for rows.Next() {
		line, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range line {
			into[i] = &line[i]
		}
		require.NoError(t, rows.Scan(into...))
		fmt.Fprintln(&plan, line[len(line)-1])
	}
	require.NoError(t, rows.Err())
	return plan.String()
}

// planForAny is the plan that PostgreSQL makes for any values, which it may use once a statement has been run five times.
func planForAny(t *testing.T, db *models.DB, query string, values []any) (plan string) {
	t.Helper()
	connection, err := db.Raw().Conn(t.Context())
	require.NoError(t, err)
	defer connection.Close()
	execute := func(statement string) {
		_, err := connection.ExecContext(t.Context(), statement)
		require.NoError(t, err, statement)
	}
	execute("SET plan_cache_mode = force_generic_plan")
	defer execute("RESET plan_cache_mode")
	execute("PREPARE for_any AS " + query)
	defer execute("DEALLOCATE for_any")
	statement := "EXPLAIN EXECUTE for_any"
	if len(values) > 0 {
		statement += "(" + strings.Join(literals(t, values), ", ") + ")"
	}
	rows, err := connection.QueryContext(t.Context(), statement)
	require.NoError(t, err, statement)
	defer rows.Close()
	for rows.Next() {
		var line string
		require.NoError(t, rows.Scan(&line))
		plan += line + "\n"
	}
	require.NoError(t, rows.Err())
	return plan
}

func literals(t *testing.T, values []any) (literals []string) {
	t.Helper()
	for _, v := range values {
		if valuer, ok := v.(driver.Valuer); ok {
			var err error
			v, err = valuer.Value()
			require.NoError(t, err)
		}
		text := fmt.Sprint(v)
		if at, ok := v.(time.Time); ok {
			text = at.Format(time.RFC3339Nano)
		}
		literals = append(literals, "'"+strings.ReplaceAll(text, "'", "''")+"'")
	}
	return literals
}

// A table is read whole; an index in the order of a list is not, because the list stops.
var (
	scanned = regexp.MustCompile(`(?m)^SCAN (s|sp|p|a|e|n|j|d|drafts|submissions|specimens|people|queue_entries|judged|searched|uploads|openings|series|news|letters|idempotency_keys|jobs|said|closings|events|saved_searches)( USING .*)?$|Seq Scan on \w+`)
	// Other submissions of the same specimen, called o in every statement.
	otherSubmissions = regexp.MustCompile(`(?m)^SEARCH o USING .*$|Scan using \w+ on submissions o\b`)
	stopping         = regexp.MustCompile(`USING (COVERING )?INDEX (submissions_(changed|doubtful|parted|combination|unseen)|series_waiting|people_curators)$`)
)

func requireNoScan(t *testing.T, plans string) {
	t.Helper()
	for _, found := range scanned.FindAllString(plans, -1) {
		require.Regexp(t, stopping, found, "%s", plans)
	}
}
