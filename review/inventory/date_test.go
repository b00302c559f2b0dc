package inventory

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review"
	"revidit/review/label"
)

// TestDatesAsTheyAreWritten: forms that labels and lists write dates in; common practice, no source, but for those of ISO 8601.
func TestDatesAsTheyAreWritten(t *testing.T) {
	day := Dates{Order: review.DayFirst}
	for _, c := range []struct {
		text     string
		how      Dates
		from, to string
		fault    review.FaultCode
	}{
		{"14.v.2026", Dates{}, "2026-05-14", "", ""},
		{"14. V. 2026", Dates{}, "2026-05-14", "", ""},
		{"14-V-2026", Dates{}, "2026-05-14", "", ""},
		{"14V2026", Dates{}, "2026-05-14", "", ""},
		{"14.V.26", Dates{}, "", "", review.FaultCentury},
		{"14.V.26", Dates{Century: 1925}, "1926-05-14", "", ""},
		{"14.V.26", Dates{Century: 1930}, "2026-05-14", "", ""},
		{"14.V.24", Dates{Century: 1925}, "2024-05-14", "", ""},
		{"31.ii.26", Dates{}, "", "", review.FaultUnread},
		{"29.ii.1900", Dates{}, "", "", review.FaultUnread}, // no leap year (Gregorian calendar)
		{"29.ii.2000", Dates{}, "2000-02-29", "", ""},
		{"28.V.-2.VI.", Dates{}, "", "", review.FaultNoYear},
		{"14.V.", Dates{}, "", "", review.FaultNoYear},
		{"28.V.-2.VI.2026", Dates{}, "2026-05-28", "2026-06-02", ""},
		{"28.V.–2.VI.26", Dates{Century: 2000}, "2026-05-28", "2026-06-02", ""},
		{"28.-30.v.2026", Dates{}, "2026-05-28", "2026-05-30", ""},
		{"28.-30.5.2026", Dates{}, "2026-05-28", "2026-05-30", ""},
		{"3.-5.6.2026", Dates{}, "", "", review.FaultOrder},
		{"3.-5.6.2026", day, "2026-06-03", "2026-06-05", ""},
		{"14.5.-16.6.1987", Dates{}, "1987-05-14", "1987-06-16", ""},
		{"v.-vi.2026", Dates{}, "2026-05", "2026-06", ""},
		{"28.xii.2025-2.i.2026", Dates{}, "2025-12-28", "2026-01-02", ""},
		{"28.xii.-2.i.2026", Dates{}, "", "", review.FaultBackwards},
		{"14 May 2026", Dates{}, "2026-05-14", "", ""},
		{"14. Mai 2026", Dates{}, "2026-05-14", "", ""},
		{"May 14, 2026", Dates{}, "2026-05-14", "", ""},
		{"3. März 1931", Dates{}, "1931-03-03", "", ""},
		{"Junius 1821", Dates{}, "1821-06", "", ""},
		{"J. 1821", Dates{}, "", "", review.FaultUnread},
		{"28 May to 2 June 2026", Dates{}, "2026-05-28", "2026-06-02", ""},
		{"28. Mai bis 2. Juni 2026", Dates{}, "2026-05-28", "2026-06-02", ""},
		{"5/6/1987", Dates{}, "", "", review.FaultOrder},
		{"5/6/1987", day, "1987-06-05", "", ""},
		{"5/6/1987", Dates{Order: review.MonthFirst}, "1987-05-06", "", ""},
		{"6/6/1987", Dates{}, "1987-06-06", "", ""},
		{"25/6/1987", Dates{}, "1987-06-25", "", ""},
		{"6/25/1987", day, "1987-06-25", "", ""},
		{"5/6/87", day, "", "", review.FaultCentury},
		{"v.2026", Dates{}, "2026-05", "", ""},
		{"05.2026", Dates{}, "2026-05", "", ""},
		{"14.2026", Dates{}, "", "", review.FaultUnread},
		{"V.87", Dates{Century: 1900}, "1987-05", "", ""},
		{"May 26", Dates{Century: 1900}, "", "", review.FaultNoYear}, // a day, or a year
		{"2026", Dates{}, "2026", "", ""},
		{"'87", Dates{Century: 1900}, "1987", "", ""},
		{"87", Dates{Century: 1900}, "", "", review.FaultUnread},
		{"87", Dates{Century: 1900, Years: true}, "1987", "", ""},
		{"87", Dates{Years: true}, "", "", review.FaultCentury},
		{"1987-1988", Dates{}, "1987", "1988", ""},
		{"1987/88", Dates{}, "1987", "1988", ""},
		{"1987/08", Dates{}, "", "", review.FaultUnread}, // August, or a range
		{"2026-05-14", Dates{}, "2026-05-14", "", ""},
		{"2026-05", Dates{}, "2026-05", "", ""},
		{"2026-05-28/2026-06-02", Dates{}, "2026-05-28", "2026-06-02", ""},
		{"2026-05-14T10:30", Dates{}, "2026-05-14", "", ""},
		{"2026/5/14", Dates{}, "2026-05-14", "", ""},
		{"ca. 1987", Dates{}, "", "", review.FaultUnread},
		{"Sommer 1987", Dates{}, "", "", review.FaultUnread},
		{"14.v.2026 14.v.2027", Dates{}, "", "", review.FaultUnread},
		{"", Dates{}, "", "", review.FaultUnread},
		{"1.2.3.4", Dates{}, "", "", review.FaultUnread},
	} {
		d := ParseDate(c.text, c.how)
		require.Equal(t, []any{c.from, c.to, c.fault}, []any{d.From, d.To, d.Fault}, "%q %+v", c.text, c.how)
	}
	require.True(t, ParseDate("6/25/1987", day).Against)
	require.Equal(t, Date{From: "1987-06-25", DayFirst: true}, ParseDate("25/6/1987", Dates{}))
	either := ParseDate("5/6/87", Dates{})
	require.True(t, either.Either && either.TwoDigits, "both are asked")
}

// someDate is a day, month or year.
func someDate(t *rapid.T, name string) string {
	at := time.Date(rapid.IntRange(1700, 2099).Draw(t, name+" year"), 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, name+" day"))
	return at.Format(rapid.SampledFrom([]string{time.DateOnly, "2006-01", "2006"}).Draw(t, name+" to"))
}

// TestWhatLabelsWriteIsRead: whatever date or range a label of ours bears, it is read back as it was.
func TestWhatLabelsWriteIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := someDate(t, "from"), ""
		if rapid.Bool().Draw(t, "range") {
			to = someDate(t, "to")
		}
		if to != "" && to <= from {
			from, to = to, from
		}
		if from == to {
			to = ""
		}
		written := label.RomanDate(from, to)
		require.Equal(t, Date{From: from, To: to}, ParseDate(written, Dates{}), written)
	})
}

// TestFormsAreReadBack: a day in each form, with each century and order, is read as the day that it is, or told to be open.
func TestFormsAreReadBack(t *testing.T) {
	roman := []string{"", "i", "II", "iii", "IV", "v", "VI", "vii", "VIII", "ix", "X", "xi", "XII"}
	rapid.Check(t, func(t *rapid.T) {
		century := rapid.IntRange(1700, 2000).Draw(t, "century")
		at := time.Date(century+rapid.IntRange(0, 99).Draw(t, "year"), 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, "day"))
		want, sep := at.Format(time.DateOnly), rapid.SampledFrom([]string{".", "/", "-", ". "}).Draw(t, "mark")
		order := rapid.SampledFrom([]review.DateOrder{"", review.DayFirst, review.MonthFirst}).Draw(t, "order")
		how := Dates{Order: order, Century: century}
		short := at.Format("06")

		require.Equal(t, want, ParseDate(fmt.Sprint(at.Day(), sep, roman[at.Month()], sep, at.Year()), how).From)
		require.Equal(t, want, ParseDate(fmt.Sprint(at.Day(), sep, roman[at.Month()], sep, short), how).From)
		require.Equal(t, review.FaultCentury, ParseDate(fmt.Sprint(at.Day(), sep, roman[at.Month()], sep, short), Dates{Order: order}).Fault)
		require.Equal(t, want, ParseDate(at.Format("January 2, 2006"), how).From)
		require.Equal(t, want, ParseDate(at.Format("2 Jan 2006"), how).From)

		figures := fmt.Sprint(at.Day(), sep, int(at.Month()), sep, at.Year())
		if order == review.MonthFirst {
			figures = fmt.Sprint(int(at.Month()), sep, at.Day(), sep, at.Year())
		}
		d := ParseDate(figures, how)
		if order == "" && at.Day() <= 12 && at.Day() != int(at.Month()) {
			require.Equal(t, Date{Fault: review.FaultOrder, Either: true}, d)
			return
		}
		require.Equal(t, want, d.From, figures)
		require.False(t, d.Against)
	})
}

func FuzzDate(f *testing.F) {
	for _, text := range []string{"14.v.2026", "28.V.-2.VI.", "5/6/87", "1987/88", "May 14, 2026", "2026-05-28/2026-06-02", "28. Mai bis 2. Juni 1926", "'87", "3.-5.6.2026"} {
		f.Add(text, 1925, "day")
		f.Add(text, 0, "")
	}
	f.Fuzz(func(t *testing.T, text string, century int, order string) {
		if century != 0 {
			century = 1700 + (century%400+400)%400
		}
		d := ParseDate(text, Dates{Order: review.DateOrder(order), Century: century})
		require.NotEqual(t, d.Fault == "", d.From == "", "a date, or why there is none: %+v", d)
		if d.Fault != "" {
			require.Empty(t, d.From+d.To)
			return
		}
		l := review.Label{CollectedFrom: d.From, CollectedTo: d.To}
		var p review.Problems
		l.Check(&p)
		require.NoError(t, p.Err(), "what is read fits the field: %+v", d)
		require.False(t, d.TwoDigits && century == 0, "no century is guessed")
	})
}
