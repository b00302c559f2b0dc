package inventory

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"revidit/review"
)

// headings are what columns are called, by what they hold: English, German, the Latin of labels, and the terms of Darwin Core (2026-05)
// by their local names. They are compared without case, accents and marks; a number in them is that of a determination.
// The words of the three languages are common practice, no source.
var headings = map[review.Meaning]string{
	"label.catalogue_number":   "catalogue number, catalog number, catalogue no, catalog no, cat no, cat number, catalogNumber, number, no, nr, nummer, inventory number, inventory no, inv no, inventarnummer, inventarnr, inv nr, katalognummer, katalognr, kat nr, sammlungsnummer, belegnummer, belegnr, specimen number, specimen no, accession number, acc no, numerus",
	"label.country":            "country, land, staat, terra, patria",
	"label.province":           "province, state, canton, provinz, bundesland, kanton, stateProvince, region",
	"withheld.district":        "district, county, municipality, bezirk, kreis, landkreis, gemeinde, distrikt",
	"withheld.locality":        "locality, place, site, location, fundort, ort, fundstelle, lokalitaet, lokalitat, locus, loc, habitatio, verbatimLocality",
	"withheld.elevation_m":     "elevation, altitude, elev, alt, height, elevation m, altitude m, hoehe, hohe, seehoehe, meereshoehe, hoehe m, hoehe ue m, minimumElevationInMeters, verbatimElevation",
	"withheld.latitude":        "latitude, lat, breite, breitengrad, geogr breite, decimalLatitude, verbatimLatitude, y wgs84",
	"withheld.longitude":       "longitude, long, lon, lng, laenge, langengrad, laengengrad, geogr laenge, decimalLongitude, verbatimLongitude, x wgs84",
	"withheld.uncertainty_m":   "uncertainty, uncertainty m, accuracy, precision m, unschaerfe, genauigkeit, coordinateUncertaintyInMeters",
	"withheld.collector":       "collector, collectors, collected by, leg, legit, sammler, gesammelt von, finder, recordedBy, coll by",
	"withheld.permit":          "permit, permit no, genehmigung, bewilligung, sammelgenehmigung",
	"withheld.verbatim_label":  "label, label text, label data, etikett, etikettentext, fundortetikett, verbatimLabel, verbatim label, originaletikett",
	"label.trip":               "trip, expedition, excursion, exkursion, reise, sammelreise, eventRemarks",
	"label.method":             "method, collecting method, trap, methode, fangmethode, sammelmethode, falle, samplingProtocol",
	"label.host_plant":         "host, host plant, plant, food plant, wirtspflanze, futterpflanze, pflanze, planta",
	"label.habitat":            "habitat, biotope, biotop, lebensraum",
	"label.sex":                "sex, gender, geschlecht, sexus",
	"label.stage":              "stage, life stage, stadium, entwicklungsstadium, lifeStage",
	"label.count":              "count, individuals, number of individuals, quantity, specimens, ex, exx, anzahl, stueck, stk, individuen, exemplare, individualCount, organismQuantity",
	"label.preparation":        "preparation, mounting, praeparation, praparation, preparations",
	"label.missing_parts":      "missing parts, damage, schaeden, fehlende teile",
	"label.storage_place":      "storage place, storage, drawer, cabinet, box, standort, aufbewahrung, kasten, lade, schublade, schrank",
	"label.disposition":        "whereabouts, disposition, verbleib",
	review.MeansCollected:      "date, collecting date, date collected, collected, collection date, datum, funddatum, sammeldatum, fangdatum, dies, eventDate, verbatimEventDate, date from, collected from, datum von, von",
	review.MeansCollectedUntil: "date to, collected until, until, datum bis, bis",
	review.MeansDay:            "day, tag",
	review.MeansMonth:          "month, monat, mensis",
	review.MeansYear:           "year, jahr, annus",
	review.MeansPoint:          "coordinates, coords, coordinate, position, gps, koordinaten, geogr koordinaten, verbatimCoordinates",
	review.MeansDatum:          "geodetic datum, geodeticDatum, kartendatum",
	review.MeansSource:         "occurrenceID, materialEntityID, uuid, guid, identifier",
	review.MeansSlips:          "determinations, det slips, determination labels, bestimmungen, bestimmungsetiketten, determinationes",
	"slip.0.name":              "former name, old name, earlier determination, previous identification, previousIdentifications, synonym, alter name, frueherer name, fruehere bestimmung, alte bestimmung, olim, altbestimmung",
	"slip.1.name":              "name, taxon, scientific name, species name, determination, identification, scientificName, verbatimIdentification, art und gattung, wissenschaftlicher name, artname, bestimmung, nomen",
	"slip.1.family":            "family, familie, familia, fam",
	"slip.1.genus":             "genus, gattung, gen, genericName",
	"slip.1.subgenus":          "subgenus, untergattung, subgen",
	"slip.1.epithet":           "species, epithet, art, artepitheton, sp, spec, specificEpithet",
	"slip.1.subspecies":        "subspecies, unterart, ssp, subsp, infraspecificEpithet",
	"slip.1.author":            "author, authority, autor, autor jahr, auctor, scientificNameAuthorship",
	"slip.1.qualifier":         "qualifier, identificationQualifier",
	"slip.1.determiner":        "det, determiner, determined by, identified by, determinavit, bestimmer, bestimmt von, identifiedBy, determinator",
	"slip.1.date":              "det date, date determined, determination date, det year, year determined, year of determination, det datum, det jahr, bestimmungsjahr, bestimmungsdatum, bestimmt am, dateIdentified, identification date",
	"slip.1.type":              "type, type status, typus, typestatus",
	"slip.1.remarks":           "det remarks, identification remarks, identificationRemarks, bemerkung zur bestimmung",
}

// meaningOf are the headings as they are compared.
var meaningOf = func() map[string]review.Meaning {
	of := map[string]review.Meaning{}
	for means, names := range headings {
		for _, name := range strings.Split(names, ", ") {
			of[folded(name)] = means
		}
	}
	return of
}()

var german = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss")

// folded leaves letters of a heading: lower case, without accents, marks and figures.
func folded(heading string) string {
	heading = german.Replace(strings.ToLower(norm.NFC.String(heading)))
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) {
			return -1
		}
		return r
	}, norm.NFD.String(heading))
}

// ByHeading is what a column of that name holds; empty where the name tells nothing.
func ByHeading(heading string) review.Meaning {
	if _, term, ok := strings.Cut(heading, ":"); ok && len(heading)-len(term) <= 5 { // dwc:country
		heading = term
	}
	if i := strings.LastIndexAny(heading, "([{"); i > 0 { // Elevation (m)
		heading = heading[:i]
	}
	heading = strings.TrimSpace(heading)
	number := 0
	for i, r := range heading {
		alone := (i == 0 || heading[i-1] < '0' || heading[i-1] > '9') && (i+1 == len(heading) || heading[i+1] < '0' || heading[i+1] > '9')
		if r >= '1' && r <= '0'+review.MostSlips && alone {
			number = int(r - '0')
		}
	}
	means := meaningOf[folded(heading)]
	if _, part, slip := means.Slip(); slip && number > 0 {
		return review.SlipMeaning(number, part)
	}
	if number > 0 && means != "" && !strings.Contains(strings.ToLower(heading), "wgs") {
		return "" // Place 2: a second one has no place
	}
	return means
}
