package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const recordLines = `{"species":"Melolontha melolontha","family":"Scarabaeidae","observations":{"antenna-form":"lamellate","club-plates":"closing","fore-tibia":"toothed","tarsi-counted":"5-5-5","pygidium":"exposed","body-length-mm":26},"mistake":{"tarsi-counted":"4-4-4"}}
{"species":"Ampedus sanguineus","family":"Elateridae","observations":{"body-form":"parallel","body-length-mm":15,"lustre":"not-metallic","tarsi-counted":"5-5-5"},"mistake":{"body-form":"oval"}}
`

var recordFiguresLine = regexp.MustCompile(`^file=(\S+) records=(\d+) led_ours=(\d+) led_expert=(\d+) led_unaware=(\d+) any_ours=(\S+) any_expert=(\S+) any_unaware=(\S+) same_ours=(\S+) same_expert=(\S+) same_unaware=(\S+)$`)

func recordFile(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "made-up.jsonl")
	require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	return name
}

// TestBenchRecords: a chafer by its fan of plates leads with a foot miscounted, for everybody; a plain brown beetle with nothing that
// marks it is nobody's, so that the bound is low there. From memory, common practice, no source.
func TestBenchRecords(t *testing.T) {
	name := recordFile(t, recordLines)
	result := runHere(t, "", "bench", "records", name, "--draws", "60")
	require.Equal(t, 0, result.code, result.err)
	lines := strings.Split(strings.TrimSuffix(result.out, "\n"), "\n")
	require.Len(t, lines, 5)
	require.Contains(t, lines[0], "Melolontha melolontha")
	require.Contains(t, lines[0], "expert leads/leads")
	require.Contains(t, lines[1], "expert loses/loses")
	one := recordFiguresLine.FindStringSubmatch(lines[3])
	require.NotNil(t, one, lines[3])
	require.Equal(t, []string{"made-up.jsonl", "2", "1", "1", "1"}, one[1:6])
	require.Equal(t, strings.Replace(lines[3], "made-up.jsonl", "all", 1), lines[4], "there is one file")
	drawn := regexp.MustCompile(`drawn \S+ of (\S+) `)
	first, second := number(t, drawn.FindStringSubmatch(lines[0])[1]), number(t, drawn.FindStringSubmatch(lines[1])[1])
	require.Greater(t, first, 0.7)
	require.Less(t, second, 0.5)
	require.InDelta(t, (first+second)/2, number(t, one[7]), 0.006)

	again := runHere(t, "", "bench", "records", name, "--draws", "60", "--totals")
	require.Equal(t, lines[3:], strings.Split(strings.TrimSpace(again.out), "\n"))
}

func TestBenchRecordsRefuses(t *testing.T) {
	for text, says := range map[string]string{
		`{"family":"Elateridae"}`:                                                                                  "line 1: there is no mistake",
		`{"family":"Unicornidae","mistake":{"lustre":"metallic"}}`:                                                 "Unicornidae",
		`{"family":"Elateridae","observations":{"horn":1},"mistake":{"horn":2}}`:                                   `no character "horn"`,
		`{"family":"Elateridae","observations":{},"mistake":{"lustre":"metallic"}}`:                                "of which the record says nothing",
		`{"family":"Elateridae","observations":{"lustre":"metallic"},"mistake":{"lustre":"golden"}}`:               `there is no state "golden"`,
		`{"family":"Elateridae","observations":{"body-length-mm":9},"mistake":{"body-length-mm":"long"}}`:          "no length in millimetres",
		`{"family":"Elateridae","observations":{"lustre":"metallic"},"mistake":"none"}`:                            "line 1",
		`{"family":"Elateridae","observations":{"lustre":"metallic"},"mistake":{"lustre":"not-metallic"}}` + "\nx": "line 2",
	} {
		result := runHere(t, "", "bench", "records", recordFile(t, text))
		require.Equal(t, 1, result.code, text)
		require.Contains(t, result.err, says, text)
		require.Contains(t, result.err, "nothing was measured", text)
	}
	require.Equal(t, 2, runHere(t, "", "bench", "records", recordFile(t, recordLines), "--draws", "0").code)
}
