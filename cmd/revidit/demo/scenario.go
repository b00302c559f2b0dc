package demo

// The club, its people and its places are invented; so is every specimen. Only the families and genera are real.

// cast are the people of the scenario, members of the Beetle Section of the Quernholm Field Club; the first of each
// role has the login that the demo prints.
var cast = []struct {
	login, name, role string
}{
	{"ida", "Ida Fennimark", "member"},
	{"bram", "Bram Oxley-Tarn", "member"},
	{"mirela", "Mirela Dunhollow", "member"},
	{"tove", "Tove Askerby", "member"},
	{"finn", "Finn Larkmoor", "member"},
	{"henrike", "Henrike Amselworth", "reviewer"},
	{"jonas", "Jonas Pellwood", "reviewer"},
	{"sabine", "Sabine Marrow", "reviewer"},
	{"ruben", "Ruben Hallowick", "reviewer"},
	{"wilma", "Wilma Sandreave", "reviewer"},
	{"tamsin", "Tamsin Orrel", "reviewer"},
	{"odile", "Odile Quernholm", "curator"},
}

// specialists are who is named for which families, by login.
var specialists = map[string][]string{
	"henrike": {"Elateridae", "Buprestidae", "Eucnemidae"}, "jonas": {"Carabidae", "Staphylinidae"},
	"sabine": {"Cerambycidae", "Chrysomelidae", "Curculionidae"},
}

// trip is one collecting trip of the club.
type trip struct {
	name, country, province, locality, habitat, method, from, to string
	latitude, longitude, elevation                               float64
}

var trips = map[string]trip{
	"sike": {"Aldersike spring trip", "Quernland", "Upper Quern", "Aldersike, alder carr below the mill", "alder carr, flood debris",
		"sieving", "2026-04-18", "2026-04-19", 47.412, 8.931, 410},
	"down": {"Marrow Down trap series", "Quernland", "Marrowshire", "Marrow Down, south slope", "chalk grassland",
		"pitfall trap, propylene glycol", "2026-05-02", "2026-06-13", 47.288, 8.604, 560},
	"hall": {"Quernholm Hall light evenings", "Quernland", "Lower Quern", "Quernholm Hall, walled garden", "old park with oak and lime",
		"light trap", "2026-06-26", "2026-07-11", 47.501, 9.017, 395},
	"wood": {"Tarn Wood dead-wood survey", "Quernland", "Upper Quern", "Tarn Wood, compartment 7", "beech forest with standing dead wood",
		"flight interception trap", "2026-05-20", "2026-08-04", 47.377, 8.846, 720},
	"pond": {"Fennimark ponds day", "Quernland", "Lower Quern", "Fennimark, third pond", "eutrophic pond, reed margin",
		"pond net", "2026-08-22", "", 47.533, 9.102, 388},
	"barn": {"Askerby barn visit", "Quernland", "Marrowshire", "Askerby, tithe barn", "grain store and hay loft",
		"hand", "2026-09-12", "", 47.245, 8.552, 515},
}

// course is what happens to a submission after it was made.
type course string

const (
	asDraft       course = "stays a draft"
	waiting       course = "waits in the queue"
	lookedAt      course = "one reviewer has looked"
	held          course = "is being looked at"
	confirmed     course = "two reviewers agree"
	disputedOpen  course = "one character is disputed"
	returned      course = "was returned for a photo"
	loanReturned  course = "was returned for the specimen"
	answered      course = "was returned, answered and confirmed"
	redetermined  course = "was redetermined by a reviewer"
	undetermined  course = "was left undetermined"
	withdrawn     course = "was withdrawn"
	reopened      course = "was left undetermined and reopened"
	authority     course = "was settled on authority"
	oldSlip       course = "carries an old slip's name"
	excludedReply course = "passes an excluded contradiction with a reason"
	secondDesk    course = "was confirmed without Henrike Amselworth, who can look blind if it is drawn"
)

// specimen is one row of the scenario. What is not said follows from the family's diagnosis table: the plain state of
// every character is drawn, and the stated ones are recorded.
type specimen struct {
	family   string // what it is
	form     string // which form of the family, where not the first
	proposed string // what the member proposes, where not family
	genus    string
	trip     string
	drawer   string
	by       string // login
	days     int    // days ago on which it was submitted
	sex      string
	is       map[string]string // states that differ from the plain ones
	stated   []string          // characters recorded; more are added where empty
	misread  map[string]string // what the member stated wrongly
	mm       string            // body length
	then     course
	remarks  string
}

var specimens = []specimen{
	{family: "Carabidae", genus: "Carabus", trip: "down", drawer: "A1", by: "ida", days: 58, mm: "24", then: confirmed},
	{family: "Carabidae", genus: "Amara", trip: "down", drawer: "A1", by: "bram", days: 57, mm: "7.5", then: confirmed},
	{family: "Carabidae", genus: "Bembidion", trip: "sike", drawer: "A1", by: "tove", days: 12, mm: "3.2", then: waiting},
	{family: "Carabidae", proposed: "Tenebrionidae", genus: "", trip: "down", drawer: "A1", by: "mirela", days: 40, mm: "11",
		then: redetermined, remarks: "Black, found under a stone; I took it for a darkling beetle."},
	{family: "Dytiscidae", genus: "Agabus", trip: "pond", drawer: "A2", by: "ida", days: 44, mm: "8.5", then: confirmed},
	{family: "Dytiscidae", proposed: "Hydrophilidae", genus: "", trip: "pond", drawer: "A2", by: "ida", days: 20, mm: "9", then: disputedOpen,
		misread: map[string]string{"antenna-form": "clavate"}},
	{family: "Gyrinidae", genus: "Gyrinus", trip: "pond", drawer: "A2", by: "ida", days: 43, mm: "6", then: confirmed},
	{family: "Hydrophilidae", genus: "Hydrobius", trip: "pond", drawer: "A2", by: "bram", days: 19, mm: "7", then: lookedAt},
	{family: "Histeridae", genus: "Margarinotus", trip: "barn", drawer: "A3", by: "mirela", days: 33, mm: "6.5", then: confirmed},
	{family: "Staphylinidae", genus: "Philonthus", trip: "sike", drawer: "A3", by: "ida", days: 52, mm: "9", then: confirmed},
	{family: "Staphylinidae", genus: "Stenus", trip: "sike", drawer: "A3", by: "tove", days: 0, mm: "4.5", then: held},
	{family: "Staphylinidae", proposed: "Silphidae", genus: "Nicrophorus", form: "", trip: "barn", drawer: "A3", by: "bram", days: 30, mm: "18",
		is:   map[string]string{"antenna-form": "capitate", "elytra-cover": "tip-exposed", "antenna-club-segments": "4"},
		then: oldSlip, remarks: "The slip on the pin says Silphidae."},
	{family: "Lucanidae", genus: "Dorcus", trip: "hall", drawer: "B1", by: "ida", days: 50, mm: "24", then: confirmed,
		remarks: "Found dead on the path; no permit was needed for that here."},
	{family: "Trogidae", genus: "Trox", trip: "barn", drawer: "B1", by: "mirela", days: 15, mm: "8", then: waiting},
	{family: "Geotrupidae", genus: "Anoplotrupes", trip: "wood", drawer: "B1", by: "tove", days: 47, mm: "17", then: confirmed},
	{family: "Geotrupidae", proposed: "Scarabaeidae", genus: "", trip: "wood", drawer: "B1", by: "bram", days: 26, mm: "19", then: redetermined},
	{family: "Scarabaeidae", genus: "Cetonia", trip: "hall", drawer: "B1", by: "ida", days: 46, mm: "18", then: confirmed,
		is: map[string]string{"lustre": "metallic"}},
	{family: "Scarabaeidae", genus: "Aphodius", trip: "down", drawer: "B1", by: "mirela", days: 3, mm: "6", then: asDraft},
	{family: "Buprestidae", genus: "Agrilus", trip: "wood", drawer: "B2", by: "tove", days: 36, mm: "7", then: confirmed},
	{family: "Elateridae", proposed: "Buprestidae", genus: "", trip: "wood", drawer: "B2", by: "bram", days: 24, mm: "12", then: returned,
		remarks: "Long and parallel, shining like a jewel beetle."},
	{family: "Elateridae", genus: "Athous", trip: "down", drawer: "B2", by: "ida", days: 39, mm: "11", then: answered},
	{family: "Elateridae", genus: "Agriotes", trip: "down", drawer: "B2", by: "mirela", days: 8, mm: "9", then: waiting},
	{family: "Lycidae", genus: "Platycis", trip: "wood", drawer: "B3", by: "ida", days: 41, mm: "8", then: confirmed},
	{family: "Lampyridae", genus: "Lamprohiza", trip: "hall", drawer: "B3", by: "tove", days: 35, sex: "male", mm: "9", then: confirmed},
	{family: "Lampyridae", genus: "", trip: "down", drawer: "B3", by: "mirela", days: 21, mm: "8", is: map[string]string{"light-organ": "absent"},
		then: lookedAt, remarks: "Flies by day; I see no light organ."},
	{family: "Cantharidae", genus: "Rhagonycha", trip: "down", drawer: "B3", by: "bram", days: 49, mm: "9", then: confirmed},
	{family: "Cantharidae", proposed: "Lampyridae", genus: "", trip: "hall", drawer: "B3", by: "tove", days: 18, mm: "10", then: disputedOpen,
		misread: map[string]string{"head-from-above": "partly-hidden"}},
	{family: "Dermestidae", genus: "Anthrenus", trip: "barn", drawer: "C1", by: "ida", days: 31, mm: "3", then: confirmed,
		remarks: "From the hall's own collection: please check the neighbouring drawers."},
	{family: "Ptinidae", genus: "Ptinus", trip: "barn", drawer: "C1", by: "mirela", days: 14, mm: "3.2", then: waiting},
	{family: "Ptinidae", genus: "Anobium", trip: "barn", drawer: "C1", by: "ida", days: 29, mm: "4", then: loanReturned},
	{family: "Trogossitidae", genus: "Tenebroides", trip: "barn", drawer: "C1", by: "tove", days: 27, mm: "9", then: authority},
	{family: "Cleridae", genus: "Thanasimus", trip: "wood", drawer: "C2", by: "ida", days: 45, mm: "9", then: confirmed},
	{family: "Cleridae", genus: "", trip: "wood", drawer: "C2", by: "ida", days: 4, mm: "8", then: asDraft},
	{family: "Buprestidae", genus: "Trachys", trip: "down", drawer: "B2", by: "tove", days: 11, mm: "3.2", then: waiting},
	{family: "Curculionidae", genus: "Lixus", trip: "barn", drawer: "C2", by: "bram", days: 57, mm: "11", then: secondDesk},
	{family: "Gyrinidae", genus: "Aulonogyrus", trip: "pond", drawer: "A2", by: "tove", days: 56, mm: "6.5", then: secondDesk},
	{family: "Elateridae", genus: "Dalopius", trip: "down", drawer: "B2", by: "mirela", days: 55, mm: "7", then: secondDesk},
	{family: "Mordellidae", genus: "Tomoxia", trip: "wood", drawer: "D1", by: "bram", days: 54, mm: "7", then: secondDesk},
	{family: "Nitidulidae", genus: "Glischrochilus", trip: "wood", drawer: "C2", by: "bram", days: 34, mm: "5", then: confirmed},
	{family: "Nitidulidae", genus: "", trip: "hall", drawer: "C2", by: "ida", days: 16, mm: "2.5", then: undetermined,
		remarks: "Both antennae and most legs are gone."},
	{family: "Erotylidae", genus: "Triplax", trip: "wood", drawer: "C2", by: "mirela", days: 22, mm: "5.5", then: lookedAt},
	{family: "Coccinellidae", genus: "Coccinella", trip: "down", drawer: "C3", by: "tove", days: 48, mm: "6.5", then: confirmed},
	{family: "Coccinellidae", proposed: "Chrysomelidae", genus: "", trip: "hall", drawer: "C3", by: "bram", days: 17, mm: "5", then: redetermined},
	{family: "Tenebrionidae", genus: "Tenebrio", trip: "barn", drawer: "C3", by: "ida", days: 38, mm: "15", then: confirmed},
	{family: "Tenebrionidae", genus: "", trip: "barn", drawer: "C3", by: "mirela", days: 10, mm: "5", then: withdrawn},
	{family: "Meloidae", genus: "Lytta", trip: "hall", drawer: "D1", by: "tove", days: 37, mm: "16", then: confirmed,
		remarks: "Collected with forceps: blister beetles burn the skin."},
	{family: "Meloidae", genus: "", trip: "down", drawer: "D1", by: "ida", days: 13, mm: "14", misread: map[string]string{"pronotum-width": "wider"}, then: waiting},
	{family: "Mordellidae", genus: "Mordella", trip: "down", drawer: "D1", by: "ida", days: 32, mm: "6", then: confirmed},
	{family: "Cerambycidae", genus: "Stictoleptura", trip: "wood", drawer: "D1", by: "mirela", days: 42, mm: "15", then: confirmed},
	{family: "Cerambycidae", genus: "Leiopus", trip: "wood", drawer: "D1", by: "tove", days: 7, mm: "8", is: map[string]string{"antenna-length": "over-whole"}, then: waiting},
	{family: "Cerambycidae", genus: "", trip: "hall", drawer: "D1", by: "bram", days: 28, mm: "20", then: reopened},
	{family: "Chrysomelidae", genus: "Chrysolina", trip: "down", drawer: "D2", by: "ida", days: 51, mm: "8", then: confirmed},
	{family: "Gyrinidae", genus: "Gyrinus", trip: "pond", drawer: "A2", by: "mirela", days: 6, mm: "6", then: waiting},
	{family: "Brentidae", proposed: "Curculionidae", genus: "", trip: "down", drawer: "D2", by: "tove", days: 23, mm: "2.4", then: disputedOpen,
		remarks: "It has a long snout, so it must be a weevil."},
	{family: "Curculionidae", genus: "Otiorhynchus", trip: "hall", drawer: "D2", by: "bram", days: 53, mm: "9", then: confirmed},
	{family: "Curculionidae", genus: "Curculio", trip: "wood", drawer: "D2", by: "ida", days: 5, mm: "7", then: waiting},
	{family: "Curculionidae", genus: "", trip: "wood", drawer: "D2", by: "mirela", days: 2, mm: "4", then: excludedReply,
		misread: map[string]string{"ventrites": "6"}},
}
