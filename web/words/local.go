package words

import (
	"context"
	"math"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // zones by name, where the system has none

	"github.com/go-playground/locales"
	"github.com/go-playground/locales/de"
	"github.com/go-playground/locales/en_GB"
	"golang.org/x/text/language"
)

// conventions are how numbers and dates are written in a language (Unicode CLDR). English is that of Britain: 14 May 2026.
var conventions = map[language.Tag]locales.Translator{language.English: en_GB.New(), language.German: de.New()}

func convention(ctx context.Context) locales.Translator { return conventions[Tag(ctx)] }

// noBreak is a space at which no line ends.
const noBreak = "\u00a0"

// Number is a number with as many decimals as it has: 1,234.5 or 1.234,5.
func Number(ctx context.Context, x float64) string {
	_, decimals, _ := strings.Cut(strconv.FormatFloat(math.Abs(x), 'f', -1, 64), ".")
	return Fixed(ctx, x, len(decimals))
}

// Fixed is a number with so many decimals. A negative one has a minus sign, not a hyphen.
func Fixed(ctx context.Context, x float64, decimals int) string {
	text := convention(ctx).FmtNumber(math.Abs(x), uint64(decimals))
	if x < 0 && strings.ContainsAny(text, "123456789") {
		return "−" + text
	}
	return text
}

// Typed is a number as it stands in a form: with as many decimals as it has, and without groups of thousands, so that it can be read again.
func Typed(ctx context.Context, x float64) string {
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if Tag(ctx) == language.English {
		return text
	}
	return strings.Replace(text, ".", ",", 1)
}

// Percent is a share of 0 to 1 in per cent, with so many decimals.
func Percent(ctx context.Context, share float64, decimals int) string {
	return Fixed(ctx, 100*share, decimals) + percentSpace(ctx) + "%"
}

// percentSpace stands before the sign. In English, too, where a space is not usual, Revidit writes one (ISO 80000-1 asks for it).
func percentSpace(ctx context.Context) string {
	if Tag(ctx) == language.English {
		return " "
	}
	return noBreak
}

type zoneKey struct{}

// InZone is a context in which times are told by the clocks of a place.
func InZone(ctx context.Context, zone *time.Location) context.Context {
	return context.WithValue(ctx, zoneKey{}, zone)
}

// Zone is the place by whose clocks times are told: UTC where nothing else is known.
func Zone(ctx context.Context) *time.Location {
	if zone, ok := ctx.Value(zoneKey{}).(*time.Location); ok {
		return zone
	}
	return time.UTC
}

// Date is the day of a time: 14 May 2026, 14. Mai 2026.
func Date(ctx context.Context, t time.Time) string {
	return convention(ctx).FmtDateLong(t.In(Zone(ctx)))
}

// DateTime is a time to the minute. In UTC it says so; in the zone of who reads, nothing needs to be said.
func DateTime(ctx context.Context, t time.Time) string {
	zone := Zone(ctx)
	text := Date(ctx, t) + ", " + t.In(zone).Format("15:04")
	if zone == time.UTC {
		return text + " UTC"
	}
	return text
}
