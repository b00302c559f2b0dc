package label

import (
	"math"
	"strconv"
	"strings"
)

// hard is the space at which no line ends.
const hard = "\u00a0"

var romanMonths = [...]string{"", "i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"}

// RomanDate is a day, month or year (2026-05-14, 2026-05, 2026), or a range of them, as labels write it: 14.v.2026. A range says
// month and year once where both ends share them.
func RomanDate(from, to string) string {
	a, b := dateParts(from), dateParts(to)
	if to == "" || from == to {
		return joinDate(a)
	}
	if from == "" {
		return joinDate(b)
	}
	if len(a) == len(b) && a[0] == b[0] {
		if len(a) == 3 && a[1] == b[1] {
			return a[2] + "." + "-" + joinDate(b)
		}
		if len(a) > 1 {
			return joinDate(a[1:]) + ".-" + joinDate(b)
		}
	}
	return joinDate(a) + "-" + joinDate(b)
}

// dateParts are the year, the roman month and the day, as far as they are known.
func dateParts(date string) []string {
	parts := strings.Split(date, "-")
	for i, p := range parts {
		n, err := strconv.Atoi(p)
		switch {
		case err != nil:
			return []string{date}
		case i == 1 && n >= 1 && n <= 12:
			parts[i] = romanMonths[n]
		case i == 2:
			parts[i] = strconv.Itoa(n)
		}
	}
	return parts
}

func joinDate(parts []string) string {
	text := ""
	for i := len(parts) - 1; i >= 0; i-- {
		text += parts[i]
		if i > 0 {
			text += "."
		}
	}
	return text
}

// coordinateText is a place in decimal degrees with so many decimals, no more than the numbers have.
func coordinateText(latitude, longitude float64, decimals int) string {
	return degrees(latitude, decimals) + sign(latitude, "N", "S") + " " + degrees(longitude, decimals) + sign(longitude, "E", "W")
}

func degrees(x float64, decimals int) string {
	scale := math.Pow(10, float64(decimals))
	return strconv.FormatFloat(math.Round(math.Abs(x)*scale)/scale, 'f', -1, 64) + "°"
}

func sign(x float64, plus, minus string) string {
	if x < 0 {
		return minus
	}
	return plus
}

// mostDecimals is what a label shows of coordinates, about a metre; fewDecimals about eleven.
const (
	mostDecimals = 5
	fewDecimals  = 4
)

// sureDecimals is how many decimals of a degree a place is sure to: one step of the last decimal is no more than the uncertainty in
// metres, at 111,320 m for a degree of latitude (WGS 84, rounded).
func sureDecimals(uncertainty *float64) int {
	if uncertainty == nil || *uncertainty <= 0 {
		return fewDecimals
	}
	return min(max(int(math.Ceil(math.Log10(111_320 / *uncertainty))), 1), fewDecimals)
}

func metres(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', -1, 64) + hard + "m" }

// upright is a text of one line: what would break it is a space.
func upright(text string) string { return strings.Join(strings.Fields(text), " ") }

// abbreviations of the trade, longest first within those that begin alike. Common practice, no source.
var abbreviations = [...][2]string{
	{"flight interception trap", "FIT"}, {"interception trap", "IT"}, {"pitfall trap", "pitfall"}, {"pitfall traps", "pitfalls"},
	{"malaise trap", "MT"}, {"light trap", "LT"}, {"window trap", "WT"}, {"yellow pan trap", "YPT"}, {"pan trap", "PT"}, {"at light", "ad luc."},
	{"beating", "beat."}, {"sweeping", "swp."}, {"sweep net", "swp."}, {"sweep-netting", "swp."}, {"sifting", "sift."}, {"sifted", "sift."}, {"by hand", "hand"},
	{"hand collecting", "hand"}, {"collected by hand", "hand"}, {"under bark", "u. bark"}, {"reared from", "ex"}, {"larva", "l."},
	{"Bodenfalle", "BF"}, {"Barberfalle", "BF"}, {"Malaisefalle", "MF"}, {"Lichtfalle", "LF"}, {"Lichtfang", "Licht"}, {"Kreuzfensterfalle", "KFF"}, {"Fensterfalle", "FF"}, {"Klopfschirm", "geklopft"},
	{"unter Rinde", "u. Rinde"}, {"Handfang", "Hd."},
	{"national park", "NP"}, {"nationalpark", "NP"}, {"nature reserve", "NR"}, {"Naturschutzgebiet", "NSG"}, {"botanical garden", "bot. gard."}, {"botanischer Garten", "bot. Grt."},
	{"district", "distr."}, {"province", "prov."}, {"department", "dept."}, {"municipality", "mun."}, {"county", "co."},
	{"Landkreis", "Lkr."}, {"Bezirk", "Bez."}, {"Gemeinde", "Gem."}, {"Regierungsbezirk", "RB"}, {"Umgebung", "Umg."},
	{"mountains", "mts."}, {"mountain", "mt."}, {"mount", "mt."}, {"river", "r."}, {"creek", "cr."}, {"island", "isl."}, {"islands", "isls."}, {"lake", "l."}, {"forest", "for."},
	{"station", "stn."}, {"village", "vill."}, {"valley", "vall."}, {"road", "rd."}, {"street", "st."}, {"saint", "St."}, {"Sankt", "St."}, {"environs of", "env."}, {"near", "nr."},
	{"north of", "N of"}, {"south of", "S of"}, {"east of", "E of"}, {"west of", "W of"}, {"northern", "N"}, {"southern", "S"}, {"eastern", "E"}, {"western", "W"},
	{"nördlich von", "N"}, {"südlich von", "S"}, {"östlich von", "E"}, {"westlich von", "W"}, {"nördlich", "N"}, {"südlich", "S"}, {"östlich", "E"}, {"westlich", "W"},
	{"bei", "b."}, {"kilometres", "km"}, {"kilometers", "km"}, {"Kilometer", "km"}, {"metres", "m"}, {"meters", "m"},
}

// abbreviate puts abbreviations of the trade in place of whole words, whatever their case.
func abbreviate(text string) string {
	for _, a := range abbreviations {
		text = replaceWords(text, a[0], a[1])
	}
	return text
}

func replaceWords(text, long, short string) string {
	from := 0
	for {
		at := indexFold(text, long, from)
		if at < 0 {
			return text
		}
		end := at + len(long)
		if wordRune(lastRune(text[:at])) || wordRune(firstRune(text[end:])) {
			from = end
			continue
		}
		if strings.HasSuffix(short, ".") && strings.HasPrefix(text[end:], ".") {
			end++
		}
		text = text[:at] + short + text[end:]
		from = at + len(short)
	}
}

// indexFold looks for words of our own table, whose capital letters are as long as the small ones.
func indexFold(text, words string, from int) int {
	for at := from; at+len(words) <= len(text); at++ {
		if strings.EqualFold(text[at:at+len(words)], words) {
			return at
		}
	}
	return -1
}

// authors whose names the trade abbreviates. Common practice, no source.
var authors = map[string]string{"Linnaeus": "L.", "Linné": "L.", "Fabricius": "F.", "Latreille": "Latr.", "Olivier": "Ol.", "Illiger": "Ill.", "Herbst": "Hbst.",
	"Paykull": "Payk.", "Schrank": "Schrk.", "Gyllenhal": "Gyll.", "Scopoli": "Scop.", "Marsham": "Marsh.", "Panzer": "Panz.", "Erichson": "Er.", "Stephens": "Steph."}

// shortAuthor abbreviates the names of an authorship, as in (Linnaeus, 1758).
func shortAuthor(author string) string {
	for long, short := range authors {
		author = replaceWords(author, long, short)
	}
	return author
}

// withoutYear leaves the year out of an authorship.
func withoutYear(author string) string {
	body, bracket := strings.TrimSuffix(author, ")"), ""
	if body != author {
		bracket = ")"
	}
	at := strings.LastIndexAny(body, ", ")
	if at < 0 || len(body)-at-1 != 4 {
		return author
	}
	if _, err := strconv.Atoi(body[at+1:]); err != nil {
		return author
	}
	return strings.TrimRight(body[:at], ", ") + bracket
}
