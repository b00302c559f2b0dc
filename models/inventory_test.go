package models_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

func inventoryOf(text string) service.IntakeFile {
	return service.IntakeFile{Name: `C:\old\table.csv`, From: strings.NewReader(text), Size: int64(len(text))}
}

// TestInventoryThereAndBack: the table of an old collection is planned, planned again as a curator says, taken in slice by slice, and taken
// back as one act, but for what something was done with since; on both databases, and as a rebuild makes it again.
func TestInventoryThereAndBack(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			db := open(t)
			s, ctx := archiving(t, db), t.Context()
			text := strings.Builder{}
			text.WriteString("Nr.;Familie;Name;det.;Datum;Fundort;Bemerkung\n")
			const rows = 430 // three slices
			for i := range rows {
				fmt.Fprintf(&text, "N-%03d;Carabidae;Carabus auratus;A. Lattich 1931;%d.%d.30;Hintertal;Nr. %d im Buch\n", i, i%12+1, i%11+1, i)
			}
			text.WriteString("N-000;Carabidae;Carabus nitens;C. Sauerklee 1975;;;\nN-001;Carabidae;Carabus nitens;;;Anderswo;\n")

			_, err := s.PlanInventory(ctx, review.Actor{Person: "r", Role: review.RoleReviewer}, inventoryOf(text.String()), nil)
			require.Equal(t, review.KindForbidden, review.KindOf(err))
			_, err = s.PlanInventory(ctx, archivist, inventoryOf("\n;;\n"), nil)
			require.Equal(t, review.KindInvalid, review.KindOf(err))
			_, err = s.PlanInventory(ctx, archivist, inventoryOf(text.String()), &review.InventoryReading{Separator: "x"})
			require.Equal(t, review.KindInvalid, review.KindOf(err))
			none, err := s.Intakes(ctx, archivist)
			require.NoError(t, err)
			require.Empty(t, none, "of what was refused nothing stays")

			in, err := s.PlanInventory(ctx, archivist, inventoryOf(text.String()), nil)
			require.NoError(t, err)
			require.Equal(t, []any{"table.csv", rows + 1, 1, 1, rows + 1}, []any{in.File, in.Told.Rows, in.Told.Refused, in.Told.Joined, in.Told.Slips})
			require.Equal(t, review.FaultGroup{Code: review.FaultTwice, Column: "Nr.", Times: 1, Refuses: true, Rows: []int{rows + 3}}, in.Told.Groups[0], "what refuses rows comes first")
			require.Equal(t, review.FaultGroup{Code: review.FaultCentury, Column: "Datum", Times: rows, Rows: []int{2, 3, 4, 5, 6}}, in.Told.Groups[1])
			require.Equal(t, &review.ColumnsDates{TwoDigits: rows, Either: either(rows), DayFirst: 0}, in.Reading.Columns[4].Dates)

			answered := *in.Reading
			answered.Columns[4].Century, answered.Columns[4].Order = 1900, review.DayFirst
			answered.Columns[5].Means = "nonsense"
			_, err = s.ReadAgain(ctx, archivist, in.ID, &answered)
			require.Equal(t, review.KindInvalid, review.KindOf(err))
			answered.Columns[5].Means = "withheld.locality"
			again, err := s.ReadAgain(ctx, archivist, in.ID, &answered)
			require.NoError(t, err)
			require.Equal(t, []any{in.ID, 2, 2}, []any{again.ID, again.Plan, again.Told.Faulty}, "the plan keeps its address: %+v", again.Told.Groups)
			all, err := s.Intakes(ctx, archivist)
			require.NoError(t, err)
			require.Len(t, all, 1)
			_, err = s.AcceptIntake(ctx, archivist, in.ID, in.Plan)
			require.Equal(t, review.KindConflict, review.KindOf(err), "what is accepted is what was seen")

			job, err := s.AcceptIntake(ctx, archivist, in.ID, again.Plan)
			require.NoError(t, err)
			_, err = s.ReadAgain(ctx, archivist, in.ID, &answered)
			require.Equal(t, review.KindConflict, review.KindOf(err))
			file, err := db.IntakeFile(ctx, in.ID)
			require.NoError(t, err)
			require.Empty(t, file, "what is accepted is not read again, and its file is gone")
			var steps []int
			require.NoError(t, s.Do(ctx, job, func(step service.JobStep) { steps = append(steps, step.Done) }))
			require.Equal(t, []int{200, 400, rows + 1}, steps, "progress is told slice by slice")
			require.NoError(t, s.Do(ctx, job, nil), "a job that is done once more does nothing")

			v, err := s.Intake(ctx, archivist, in.ID, false, 0)
			require.NoError(t, err)
			require.True(t, v.Whole)
			spec, err := s.Specimen(ctx, archivist, v.Rows[0].Specimen)
			require.NoError(t, err)
			require.Equal(t, []string{"N-000", "1930-01-01"}, []string{spec.Specimen.Label.CatalogueNumber, spec.Specimen.Label.CollectedFrom})
			require.Equal(t, []any{2, "Carabus nitens", true}, []any{len(spec.Specimen.Slips), spec.Specimen.Slips[1].Name, spec.Specimen.Slips[1].Accepted})
			require.Contains(t, spec.Rest, review.RestValue{File: "table.csv", Row: 2, Column: "Datum", Value: "1.1.30"}, "how a date was written is kept")

			twice, err := s.PlanInventory(ctx, archivist, inventoryOf(strings.ToLower(text.String())), nil)
			require.NoError(t, err)
			require.Equal(t, twice.Told.Rows, twice.Told.Refused, "what is here already is told, in whatever case it is written: %+v", twice.Told.Groups)
			differing, err := db.RebuildCompared(ctx)
			require.NoError(t, err)
			for _, d := range differing {
				require.True(t, d.None(), "%+v", d)
			}

			form := review.VouchForm{Determination: spec.Specimen.Slips[0].ID, Verification: "3", Reason: "revision"}
			_, err = s.Vouch(ctx, archivist, spec.Specimen.ID, service.AnyVersion, form)
			require.NoError(t, err)
			job, err = s.UndoIntake(ctx, archivist, in.ID, "another club's")
			require.NoError(t, err)
			require.NoError(t, s.Do(ctx, job, nil))
			v, err = s.Intake(ctx, archivist, in.ID, false, 0)
			require.NoError(t, err)
			require.Equal(t, []any{review.IntakeUndone, true, 1}, []any{v.State, v.Whole, v.Kept}, "something was done with one of them")
			returned, err := s.PlanInventory(ctx, archivist, inventoryOf(text.String()), nil)
			require.NoError(t, err)
			require.Equal(t, 2, returned.Told.Refused, "what was taken back may come again")
		})
	}
}

// either counts the dates of the test that can be read both ways: those whose day and month differ.
func either(rows int) (n int) {
	for i := range rows {
		if i%12 != i%11 {
			n++
		}
	}
	return n
}

// TestInventoryGoesOn: a job that was killed between two slices goes on behind what it has stored, and brings nothing twice.
func TestInventoryGoesOn(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			db := open(t)
			s, ctx := archiving(t, db), t.Context()
			var text bytes.Buffer
			text.WriteString("no,name\n")
			for i := range 250 {
				fmt.Fprintf(&text, "K-%d,Carabus auratus\n", i)
			}
			in, err := s.PlanInventory(ctx, archivist, inventoryOf(text.String()), nil)
			require.NoError(t, err)
			job, err := s.AcceptIntake(ctx, archivist, in.ID, in.Plan)
			require.NoError(t, err)
			first, err := s.DoSlice(ctx, jobs.Slice{Job: job})
			require.NoError(t, err)
			require.True(t, first.More)
			require.NoError(t, db.Commit(ctx, first.Batch))
			// The process is gone before anybody notes the cursor: the same slice comes again.
			require.NoError(t, s.Do(ctx, job, nil))
			v, err := s.Intake(ctx, archivist, in.ID, false, 200)
			require.NoError(t, err)
			require.True(t, v.Whole)
			known, err := db.KnownNumbers(ctx, []string{"K-0", "k-249", "K-250", ""})
			require.NoError(t, err)
			require.Len(t, known, 2)
			counts, err := db.CountExtracts(ctx)
			require.NoError(t, err)
			require.Equal(t, 250, counts)
		})
	}
}
