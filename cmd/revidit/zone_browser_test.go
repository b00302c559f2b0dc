package main

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"revidit/web/words"
)

// inZone lets the clock of the browser stand in a zone (IANA time zone database).
func (b *browser) inZone(name string) {
	b.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Void{}, t.Call(ctx, "Emulation.setTimezoneOverride", map[string]any{"timezoneId": name}, nil)
	})
}

// TestTimesAreTheReadersInABrowser: times are told by the clock of who reads, whose zone is named; without script they are UTC and say
// so. The date of a label is what stands on the label, wherever it is read.
func TestTimesAreTheReadersInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	member := loginClient(t, p, "member")
	form := clickBeetle("Z-1", member.upload(t, drawnPicture(t, "whole-below")))
	form["label"] = map[string]any{"catalogue_number": "Z-1", "collected_from": "2026-05-14"}
	var made struct{ Submission struct{ ID string } }
	status, err := member.send("POST", "/submissions", form, nil, &made)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	path := "/submissions/" + made.Submission.ID
	var held struct {
		Submission struct{ Hold struct{ Until time.Time } }
	}
	status, err = loginClient(t, p, "second").send("POST", path+"/hold", nil, nil, &held)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	until := held.Submission.Hold.Until
	require.False(t, until.IsZero())

	b := openBrowser(t, p.address)
	for _, name := range []string{"Pacific/Kiritimati", "America/New_York", "Australia/Adelaide"} { // 14 hours before UTC, behind it, half an hour off
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		b.inZone(name)
		b.login("reviewer") // the page of the login tells the zone
		b.open("/queue")
		require.Contains(b, b.text(), words.DateTime(words.InZone(t.Context(), zone), until), name)
		require.Contains(b, b.text(), "Times are those of "+name+".")
		b.open(path)
		require.Regexp(b, `2026-05-14|\b14 May 2026`, b.text(), "the date of the label")
		require.NotRegexp(b, `2026-05-1[35]|\b1[35] May 2026`, b.text())
	}

	plain := openBrowser(t, p.address)
	plain.inZone("America/New_York")
	plain.without(true)
	plain.login("reviewer")
	plain.open("/queue")
	require.Contains(t, plain.text(), words.DateTime(t.Context(), until))
	require.Contains(t, plain.text(), "Times are UTC.")
}
