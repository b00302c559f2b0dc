package darwincore

import (
	"maps"
	"slices"
	"strings"
)

// Namespaces of terms.
const (
	dwc     = "http://rs.tdwg.org/dwc/terms/"
	dcterms = "http://purl.org/dc/terms/"
	dc      = "http://purl.org/dc/elements/1.1/"
	ac      = "http://rs.tdwg.org/ac/terms/"
	exif    = "http://ns.adobe.com/exif/1.0/"
)

// Row types.
const (
	typeOccurrence     = dwc + "Occurrence"
	typeIdentification = dwc + "Identification"
	typeMultimedia     = ac + "Multimedia"
)

// Columns of occurrence.csv. Behind the record itself stand event, place, and the accepted identification.
const (
	oID = iota
	oBasis
	oModified
	oLicense
	oRightsHolder
	oInstitution
	oCollection
	oCatalogue
	oRecordedBy
	oCount
	oSex
	oStage
	oPreparations
	oDisposition
	oAssociatedTaxa
	oAssociatedMedia
	oRemarks
	oVerbatimLabel
	oEventDate
	oProtocol
	oHabitat
	oEventRemarks
	oCountry
	oCountryCode
	oProvince
	oCounty
	oLocality
	oElevationLow
	oElevationHigh
	oLatitude
	oLongitude
	oDatum
	oUncertainty
	oPrecision
	oGeneralizations
	oWithheld
	oPrevious
	oTaxon // from here on the columns of taxonTerms, then those of shortTerms
)

var occurrenceTerms = slices.Concat([]string{
	dwc + "occurrenceID", dwc + "basisOfRecord", dcterms + "modified", dcterms + "license", dcterms + "rightsHolder", dwc + "institutionCode", dwc + "collectionCode",
	dwc + "catalogNumber", dwc + "recordedBy", dwc + "individualCount", dwc + "sex", dwc + "lifeStage", dwc + "preparations", dwc + "disposition",
	dwc + "associatedTaxa", dwc + "associatedMedia", dwc + "occurrenceRemarks", dwc + "verbatimLabel", dwc + "eventDate", dwc + "samplingProtocol", dwc + "habitat",
	dwc + "eventRemarks", dwc + "country", dwc + "countryCode", dwc + "stateProvince", dwc + "county", dwc + "locality", dwc + "minimumElevationInMeters",
	dwc + "maximumElevationInMeters", dwc + "decimalLatitude", dwc + "decimalLongitude", dwc + "geodeticDatum", dwc + "coordinateUncertaintyInMeters",
	dwc + "coordinatePrecision", dwc + "dataGeneralizations", dwc + "informationWithheld", dwc + "previousIdentifications",
}, taxonTerms, identificationTerms[iID:])

// Columns of a name, in both files.
const (
	tKingdom = iota
	tPhylum
	tClass
	tOrder
	tFamily
	tGenus
	tSubgenus
	tEpithet
	tInfraspecific
	tName
	tAuthor
	tRank
	tCode
	taxonColumns
)

var taxonTerms = []string{dwc + "kingdom", dwc + "phylum", dwc + "class", dwc + "order", dwc + "family", dwc + "genus", dwc + "subgenus", dwc + "specificEpithet",
	dwc + "infraspecificEpithet", dwc + "scientificName", dwc + "scientificNameAuthorship", dwc + "taxonRank", dwc + "nomenclaturalCode"}

// Columns of identification.csv, before those of the name.
const (
	iCore = iota // occurrenceID
	iID
	iBy
	iByID
	iOn
	iQualifier
	iVerification
	iRemarks
	iReferences
	iTypeStatus
	iVerbatim
	iAccepted // new on 2026-05-26, as are the next two
	iEvidence
	iFormula
	iTaxon
)

var identificationTerms = []string{dwc + "occurrenceID", dwc + "identificationID", dwc + "identifiedBy", dwc + "identifiedByID", dwc + "dateIdentified",
	dwc + "identificationQualifier", dwc + "identificationVerificationStatus", dwc + "identificationRemarks", dwc + "identificationReferences", dwc + "typeStatus",
	dwc + "verbatimIdentification", dwc + "isAcceptedIdentification", dwc + "identificationType", dwc + "taxonFormula"}

var historyTerms = slices.Concat(identificationTerms, taxonTerms)

// Columns of multimedia.csv: of a photo, and of a region in one.
const (
	mCore = iota
	mID
	mType
	mFormat
	mCreator
	mCreated
	mRights
	mAddress
	mHashFunction
	mHash
	mWidth
	mHeight
	mPart
	mPartLiteral
	mOrientation
	mOrientationLiteral
	mHasROI
	mIsROIOf
	mX
	mY
	mW
	mH
	mDescription
	mediaColumns
)

var mediaTerms = []string{dwc + "occurrenceID", dcterms + "identifier", dc + "type", dc + "format", dc + "creator", dcterms + "created", dcterms + "rights", ac + "accessURI",
	ac + "hashFunction", ac + "hashValue", exif + "PixelXDimension", exif + "PixelYDimension", ac + "subjectPart", ac + "subjectPartLiteral", ac + "subjectOrientation",
	ac + "subjectOrientationLiteral", ac + "hasROI", ac + "isROIOf", ac + "xFrac", ac + "yFrac", ac + "widthFrac", ac + "heightFrac", dcterms + "description"}

// Between joins several values in one field, as the standard recommends.
const between = " | "

// shortName is a term without its namespace.
func shortName(term string) string {
	return term[strings.LastIndexAny(term, "/#")+1:]
}

// Subject parts and orientations of Audiovisual Core, by their words (Views Controlled Vocabularies, 2023-04-26): only those that the
// tables of some group name, and those that an archive may bring for insects.
var (
	subjectParts = map[string]string{"unspecifiedPart": "p0000", "entireOrganism": "p0001", "head": "p0013", "thorax": "p0014", "abdomen": "p0015", "leg": "p0016",
		"wing": "p0017", "antenna": "p0018", "forewing": "p0019", "hindwing": "p0020", "foreleg": "p0021", "midleg": "p0022", "hindleg": "p0023", "eye": "p0024",
		"genitalia": "p0026"}
	subjectOrientations = map[string]string{"unspecifiedOrientation": "r0000", "anterior": "r0001", "posterior": "r0002", "lateral": "r0003", "right": "r0004",
		"left": "r0005", "dorsal": "r0006", "ventral": "r0007", "upper": "r0008", "lower": "r0009", "apical": "r0010", "basal": "r0011", "oral": "r0012", "aboral": "r0013"}
)

const (
	partValues        = "http://rs.tdwg.org/acpart/values/"
	orientationValues = "http://rs.tdwg.org/acorient/values/"
)

// iriOf is the IRI of a word, empty where the list has none.
func iriOf(values map[string]string, at, word string) string {
	if local := values[word]; local != "" {
		return at + local
	}
	return ""
}

// wordOf is the word of an IRI, empty where the list has none.
func wordOf(values map[string]string, at, iri string) string {
	local, ok := strings.CutPrefix(iri, at)
	if !ok {
		return ""
	}
	for _, word := range slices.Sorted(maps.Keys(values)) {
		if values[word] == local {
			return word
		}
	}
	return ""
}
