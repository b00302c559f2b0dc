package inventory

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"revidit/review"
)

// Point is a place as it was read, in degrees.
type Point struct {
	Latitude, Longitude float64
	// LetterO: east in German, west in French, Italian and Spanish, and somebody has to say which.
	LetterO bool
}

// angle is one coordinate as it was written.
type angle struct {
	degrees float64
	axis    byte // 'N' latitude, 'E' longitude; 0: not written
	letterO bool
}

var (
	// Latitude and longitude of a cell stand apart by a mark, by a letter of the compass, or by a space between two decimal numbers.
	halves    = regexp.MustCompile(`^(.*[NSns])[\s,;/]*(.*[EWOewo])$|^([NSns].*?)[\s,;/]*([EWOewo].*)$|^([^,;/]+)[;/,]\s*([^,;/]+)$|^([^;/]+)[;/]\s*([^;/]+)$|^(\S+)\s+(\S+)$`)
	oneAngle  = regexp.MustCompile(`^([NSEWOnsewo])?\s*([+-]?\d{1,3}(?:[.,]\d+)?)\s*(?:[°ºd]?\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:['m]?\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:"|''|s)?|'?)|[°ºd]?)\s*([NSEWOnsewo])?$`)
	sameMarks = strings.NewReplacer("\u2032", "'", "\u2019", "'", "\u2018", "'", "\u00b4", "'", "`", "'", "\u2033", `"`, "\u201d", `"`, "\u201c", `"`, "\u2212", "-", "\u2013", "-", "\u00a0", " ", "\u202f", " ",
		"latitude", "", "longitude", "", "Breite", "", "Länge", "")
)

// parseAngle reads degrees, with minutes and seconds or with decimals: 47°04'44"N, 47 04.734 N, N47,0789, -10.6912.
func parseAngle(text, east string) (a angle, ok bool) {
	m := oneAngle.FindStringSubmatch(strings.TrimSpace(sameMarks.Replace(text)))
	if m == nil {
		return a, false
	}
	before, degrees, minutes, seconds, after := m[1], m[2], m[3], m[4], m[5]
	if before != "" && after != "" {
		return a, false
	}
	value, fine := decimal(degrees)
	least, _ := decimal(minutes)
	last, _ := decimal(seconds)
	whole := !strings.ContainsAny(degrees, ".,")
	if !fine || least >= 60 || last >= 60 || minutes != "" && !whole || seconds != "" && strings.ContainsAny(minutes, ".,") {
		return a, false
	}
	negative := strings.HasPrefix(degrees, "-")
	a.degrees = math.Abs(value) + least/60 + last/3600
	switch letter := strings.ToUpper(before + after); letter {
	case "N", "S":
		a.axis = 'N'
		negative = negative != (letter == "S")
	case "E", "W":
		a.axis = 'E'
		negative = negative != (letter == "W")
	case "O":
		a.axis, a.letterO = 'E', east == ""
		negative = negative != (east == "west")
	}
	if strings.HasPrefix(degrees, "-") && before+after != "" {
		return a, false // a sign and a letter: one of them is too many
	}
	if negative {
		a.degrees = -a.degrees
	}
	a.degrees = math.Round(a.degrees*1e7) / 1e7 // a centimetre
	return a, true
}

func decimal(text string) (float64, bool) {
	x, err := strconv.ParseFloat(strings.TrimPrefix(strings.Replace(text, ",", ".", 1), "+"), 64)
	return x, err == nil
}

// ParsePoint reads a place in one cell, latitude first unless letters say otherwise. east says what the letter O means; empty: not told.
func ParsePoint(text, east string) (p Point, ok bool) {
	text = strings.TrimSpace(sameMarks.Replace(text))
	m := halves.FindStringSubmatch(text)
	for i := 1; i+1 < len(m); i += 2 {
		if m[i] == "" {
			continue
		}
		if p, ok = pointFrom(m[i], m[i+1], east); ok {
			return p, true
		}
	}
	return p, false
}

// pointFrom puts latitude and longitude together, from two texts.
func pointFrom(first, second, east string) (p Point, ok bool) {
	one, fine := parseAngle(first, east)
	other, also := parseAngle(second, east)
	if !fine || !also || one.axis != 0 && one.axis == other.axis {
		return p, false
	}
	if one.axis == 'E' || other.axis == 'N' {
		one, other = other, one
	}
	p = Point{Latitude: one.degrees, Longitude: other.degrees, LetterO: one.letterO || other.letterO}
	return p, math.Abs(p.Latitude) <= 90 && math.Abs(p.Longitude) <= 180
}

var (
	height = regexp.MustCompile(`^(?i:ca\.?|c\.|um|about)?\s*(-?\d[\d.,' ]*?)\s*(m|m\.|mtr|metres?|meters?|msm|m\s*ü\.?\s*M\.?|m\s*ü\.?\s*NN\.?|m\s*a\.?s\.?l\.?|m\s*s\.?m\.?|ft\.?|feet|foot|')?$`)
	span   = regexp.MustCompile(`^\s*\d[\d.,']*\s*(?:m|ft)?\s*(?:-|–|—|/|bis|to)\s*\d[\d.,']*\s*\pL*\.?`)
)

// metresOf reads an elevation or a length. feet: it was turned into metres, by the international foot of 0.3048 m (ISO 80000-3, from
// memory); fault says why there is none.
func metresOf(text string) (x float64, feet bool, fault review.FaultCode) {
	text = strings.TrimPrefix(strings.TrimSpace(text), "±")
	m := height.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		if span.MatchString(text) {
			return 0, false, review.FaultSeveral
		}
		return 0, false, review.FaultNumber
	}
	x, ok := amount(m[1])
	if !ok {
		return 0, false, review.FaultNumber
	}
	if unit := strings.ToLower(m[2]); strings.HasPrefix(unit, "f") || unit == "'" {
		return math.Round(x * 0.3048), true, ""
	}
	return x, false, ""
}

var thousands = regexp.MustCompile(`^-?\d{1,3}(?:[.,' ]\d{3})+$`)

// amount reads a number with a point or a comma. Three figures behind a single mark may be thousands or decimals: metres of neither are
// sure, and it is none; where it has a mark of thousands that no decimal has, it is read.
func amount(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if thousands.MatchString(text) {
		if strings.ContainsAny(text, "' ") {
			text = strings.NewReplacer("'", "", " ", "").Replace(text)
		} else {
			return 0, false
		}
	}
	return decimal(text)
}

var letterO = regexp.MustCompile(`\d[°ºd'"\s]*[Oo]\s*$|^\s*[Oo]\s*\d|\d[°ºd'"\s]*[Oo][\s,;/]`)

// hasLetterO: the letter O stands as one of the compass.
func hasLetterO(text string) bool { return letterO.MatchString(sameMarks.Replace(text)) }
