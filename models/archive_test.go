package models_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/darwincore"
	"revidit/review/service"
)

var archivist = review.Actor{Person: "cora", Name: "Cora", Role: review.RoleCurator}

func archiving(t *testing.T, db *models.DB) *service.Service {
	return service.NewService(db, &blob.Mem{}, service.NewLibrary(modelstest.Tables(t)), service.Options{Arriving: t.TempDir()})
}

var everything = darwincore.Options{Title: "All", Organization: "Club", License: darwincore.Licences[0], Collectors: true, Media: true, Unsettled: true}

func handedOver(t *testing.T, s *service.Service) ([]byte, service.HandedOver) {
	t.Helper()
	var archive bytes.Buffer
	made, err := s.HandOver(t.Context(), archivist, everything, &archive, nil)
	require.NoError(t, err)
	return archive.Bytes(), made
}

// requireHandedOver: each archive that goes out is an event with the digest of its very bytes, which the log proves as any other.
func requireHandedOver(t *testing.T, db *models.DB, s *service.Service, archive []byte, made service.HandedOver) {
	t.Helper()
	out, names, err := s.Handovers(t.Context(), archivist)
	require.NoError(t, err)
	require.Len(t, out, 2)
	digest := sha256.Sum256(archive)
	for _, h := range out {
		require.Equal(t, hex.EncodeToString(digest[:]), h.SHA256)
		require.Equal(t, made.Counts, darwincore.Counts{Occurrences: h.Occurrences, Identifications: h.Identifications, Media: h.Media})
		require.Equal(t, archivist.Person, h.By)
		require.True(t, h.Collectors)
		require.Contains(t, names, h.By)
		events, err := db.Events(t.Context(), review.HandoverStream(h.ID))
		require.NoError(t, err)
		require.Len(t, events, 1)
		text, err := json.Marshal(events[0].Change)
		require.NoError(t, err)
		require.NotContains(t, string(text), everything.Organization, "what was typed stands in the file alone")
	}
	require.False(t, out[0].At.Before(out[1].At), "the latest first")
	_, _, err = s.Handovers(t.Context(), review.Actor{Person: "rita", Role: review.RoleReviewer})
	require.Equal(t, review.KindForbidden, review.KindOf(err))
}

// archiveRows are the rows of a file, without some columns.
func archiveRows(t *testing.T, archive []byte, name string, but ...string) []map[string]string {
	t.Helper()
	packed, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	require.NoError(t, err)
	file, err := packed.Open(name)
	require.NoError(t, err)
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, column := range all[0] {
			row[column] = r[i]
		}
		for _, column := range but {
			delete(row, column)
		}
		rows = append(rows, row)
	}
	return rows
}

// TestArchiveThereAndBack: an archive of a club in which everything has happened, read into an empty service, gives equal
// determinations, regions and dates; what came in are events that a rebuild makes again; and all of it is undone as one act.
func TestArchiveThereAndBack(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			from, to := open(t), open(t)
			modelstest.Live(t, from, 12, 20)
			theirs, ours := archiving(t, from), archiving(t, to)
			first, made := handedOver(t, theirs)
			again, _ := handedOver(t, theirs)
			requireHandedOver(t, from, theirs, first, made)
			require.True(t, bytes.Equal(first, again), "the same records give the same bytes")
			require.Positive(t, made.Identifications)
			require.Empty(t, made.Unread)

			plan := func() (review.Intake, error) {
				return ours.PlanArchive(t.Context(), archivist, service.IntakeFile{Name: "theirs.zip", From: bytes.NewReader(first), Size: int64(len(first))})
			}
			in, err := plan()
			require.NoError(t, err)
			require.Equal(t, []int{made.Occurrences, 0, made.Identifications}, []int{in.Told.Rows, in.Told.Refused, in.Told.Slips}, "%+v", in.Told)
			_, counted := handedOver(t, ours)
			require.Zero(t, counted.Occurrences, "nothing is stored before a plan is accepted")
			_, err = ours.AcceptIntake(t.Context(), review.Actor{Person: "r", Role: review.RoleReviewer}, in.ID, review.AnyPlan)
			require.Equal(t, review.KindForbidden, review.KindOf(err))
			job, err := ours.AcceptIntake(t.Context(), archivist, in.ID, review.AnyPlan)
			require.NoError(t, err)
			require.NoError(t, ours.Do(t.Context(), job, nil))
			_, err = ours.AcceptIntake(t.Context(), archivist, in.ID, review.AnyPlan)
			require.Equal(t, review.KindConflict, review.KindOf(err))

			second, _ := handedOver(t, ours)
			same := func(name string, but ...string) {
				t.Helper()
				require.Equal(t, archiveRows(t, first, name, but...), archiveRows(t, second, name, but...), name)
			}
			same("identification.csv", "identifiedByID")
			same("multimedia.csv", "creator")
			// Coordinates are coarsened once more, and nothing is withheld any more.
			same("occurrence.csv", "identifiedByID", "modified", "informationWithheld", "coordinateUncertaintyInMeters", "dataGeneralizations", "coordinatePrecision")

			differing, err := to.RebuildCompared(t.Context())
			require.NoError(t, err)
			for _, d := range differing {
				require.True(t, d.None(), "%+v", d)
			}
			rebuilt, _ := handedOver(t, ours)
			require.True(t, bytes.Equal(second, rebuilt))

			twice, err := plan()
			require.NoError(t, err)
			require.Equal(t, twice.Told.Rows, twice.Told.Refused, "nothing comes twice")
			v, err := ours.Intake(t.Context(), archivist, in.ID, false, 0)
			require.NoError(t, err)
			spec, err := ours.Specimen(t.Context(), archivist, v.Rows[0].Specimen)
			require.NoError(t, err)
			require.NotEmpty(t, spec.Specimen.Slips)
			require.NotEmpty(t, spec.Rest, "what has no place is kept word for word")
			form := review.VouchForm{Determination: spec.Specimen.Slips[0].ID, Verification: "3", TypeStatus: "holotype of X", Reason: "revision"}
			_, err = ours.Vouch(t.Context(), archivist, spec.Specimen.ID, service.AnyVersion, form)
			require.NoError(t, err)
			vouched, _ := handedOver(t, ours)
			require.Equal(t, "3", archiveRows(t, vouched, "identification.csv")[0]["identificationVerificationStatus"])

			job, err = ours.UndoIntake(t.Context(), archivist, in.ID, "another club's")
			require.NoError(t, err)
			require.NoError(t, ours.Do(t.Context(), job, nil))
			v, err = ours.Intake(t.Context(), archivist, in.ID, false, 0)
			require.NoError(t, err)
			require.Equal(t, 1, v.Kept, "something was done with one of them")
			_, left := handedOver(t, ours)
			require.Equal(t, 1, left.Occurrences)
			returned, err := plan()
			require.NoError(t, err)
			require.Equal(t, 1, returned.Told.Refused, "what was taken back may come again")
			require.NoError(t, to.Rebuild(t.Context()))
			_, left = handedOver(t, ours)
			require.Equal(t, 1, left.Occurrences)
		})
	}
}
