package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// FuzzRow: what is read of a row of the form is what LabelRow.Value writes.
func FuzzRow(f *testing.F) {
	for _, text := range []string{"locality/s1@0", "locality/s1@0 locality/s2@3", "determination/s1/u1@1", "locality/s1@-1", "locality/s1", "@", "", "locality/s1@x", "locality/s1@00"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		labels, ok := parseRow(text)
		require.Equal(t, ok, len(labels) > 0)
		row := pages.LabelRow{}
		for _, l := range labels {
			require.GreaterOrEqual(t, l.Printed, 0)
			row.Of = append(row.Of, service.PlannedLabel{Printable: review.Printable{PrintedLabel: review.PrintedLabel{PinLabel: l.PinLabel, Nth: l.Printed + 1}}})
		}
		again, ok := parseRow(row.Value())
		require.Equal(t, ok, len(labels) > 0)
		require.Equal(t, labels, again)
		require.LessOrEqual(t, len(labels), review.MostLabels)
		require.LessOrEqual(t, len(labels), len(strings.Fields(text)))
	})
}
