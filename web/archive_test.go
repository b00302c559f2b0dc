package web

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"sync/atomic"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// archives counts those that were made, so that nothing comes twice.
var archives atomic.Int64

// archive is one of a single specimen that is not here.
func (c *apiClub) archive() []byte {
	var packed bytes.Buffer
	w := zip.NewWriter(&packed)
	for name, text := range map[string]string{
		"meta.xml": `<archive xmlns="http://rs.tdwg.org/dwc/text/"><core rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>o.csv</location></files><id index="0"/>` +
			`<field index="0" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/><field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/></core></archive>`,
		"o.csv": fmt.Sprintf("elsewhere-%d,Agriotes lineatus\n", archives.Add(1)),
	} {
		file, err := w.Create(name)
		require.NoError(c.t, err)
		_, err = file.Write([]byte(text))
		require.NoError(c.t, err)
	}
	require.NoError(c.t, w.Close())
	return packed.Bytes()
}

// planned is an intake that waits to be accepted, or one that was taken in.
func (c *apiClub) planned(takenIn bool) string {
	c.t.Helper()
	archive, s := c.archive(), c.server.Service
	in, err := s.PlanArchive(c.t.Context(), c.actor("cora"), service.IntakeFile{Name: "a.zip", From: bytes.NewReader(archive), Size: int64(len(archive))})
	require.NoError(c.t, err)
	if takenIn {
		job, err := s.AcceptIntake(c.t.Context(), c.actor("cora"), in.ID, review.AnyPlan)
		require.NoError(c.t, err)
		require.NoError(c.t, s.Do(c.t.Context(), job, nil))
	}
	return in.ID
}

// intakeFor is an intake with which a route can do what it does.
func (c *apiClub) intakeFor(path string) string {
	if !strings.HasSuffix(path, "/reading") {
		return c.planned(strings.HasSuffix(path, "/undo"))
	}
	c.t.Helper()
	table := fmt.Sprintf("no,name\nT-%d,Agriotes lineatus\n", archives.Add(1))
	in, err := c.server.Service.PlanInventory(c.t.Context(), c.actor("cora"), service.IntakeFile{Name: "t.csv", From: strings.NewReader(table), Size: int64(len(table))}, nil)
	require.NoError(c.t, err)
	return in.ID
}
