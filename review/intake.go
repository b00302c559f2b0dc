package review

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
)

// An intake takes in specimens from a file of somebody else: an archive, or a table of an old collection. What it would bring is
// planned and shown first, row by row with every fault; nothing of it is stored as a specimen before a curator accepts the plan, and
// what was taken in can be taken back as one act. Whoever reads another format makes Incoming of it; everything behind that is the same.

// Incoming is a specimen as a file of somebody else tells of it.
type Incoming struct {
	Row       int            `json:"row"`              // of the file, the first one with data being 1
	Source    string         `json:"source,omitempty"` // identifier there
	Label     Label          `json:"label"`
	Withheld  Withheld       `json:"withheld"`
	Slips     []IncomingSlip `json:"slips,omitempty"`
	Described []Described    `json:"described,omitempty"`
	Rest      []RestValue    `json:"rest,omitempty"`
	Faults    []IntakeFault  `json:"faults,omitempty"`
	// Refused: it cannot be taken in; one of its faults says why. The other rows are.
	Refused bool `json:"refused,omitempty"`
	// Joined are further rows of the same specimen.
	Joined []int `json:"joined,omitempty"`
}

// IncomingSlip is a determination whose determiners are no persons of ours yet.
type IncomingSlip struct {
	Slip
	By []string `json:"by,omitempty"` // names, as they were written
}

// RestValue is something that has no place here, word for word.
type RestValue struct {
	File   string `json:"file"`
	Row    int    `json:"row"`
	Column string `json:"column"`
	Value  string `json:"value"`
}

// FaultCode names what is wrong with something in a file, in every language.
type FaultCode string

// What is wrong with a row, or with the whole.
const (
	FaultOpen       FaultCode = "open"        // a field that begins with the enclosing mark is not closed
	FaultLong       FaultCode = "long"        // row or field is longer than is taken
	FaultText       FaultCode = "text"        // bytes that are no text of the encoding
	FaultNoID       FaultCode = "no-id"       // no identifier
	FaultTwice      FaultCode = "twice"       // the identifier of another row
	FaultOrphan     FaultCode = "orphan"      // belongs to no row of the core
	FaultHere       FaultCode = "here"        // that specimen is here already
	FaultDate       FaultCode = "date"        // no date of ISO 8601
	FaultNumber     FaultCode = "number"      // no number, or out of range
	FaultLetters    FaultCode = "letters"     // more letters than the field takes
	FaultChoice     FaultCode = "choice"      // a word that the field does not know
	FaultDatum      FaultCode = "datum"       // coordinates of another datum than WGS 84
	FaultAccepted   FaultCode = "accepted"    // several accepted determinations
	FaultRegion     FaultCode = "region"      // no rectangle within its image
	FaultMissing    FaultCode = "missing"     // a file that is named and not there
	FaultFile       FaultCode = "file"        // a file that cannot be read
	FaultNoTaxon    FaultCode = "no-taxon"    // a determination without a name
	FaultEmptyPlace FaultCode = "half-a-pair" // latitude without longitude, or the other way round
)

// What is wrong with a cell of the table of an old collection, or to be known of it.
const (
	FaultUnread    FaultCode = "unread"    // no date that can be read
	FaultOrder     FaultCode = "order"     // a date of which nobody told whether the day or the month is first
	FaultAgainst   FaultCode = "against"   // a date that can only be read against the order of its column
	FaultCentury   FaultCode = "century"   // two digits of a year, and nobody told of which century
	FaultShown     FaultCode = "shown"     // a day of a spreadsheet that shows two digits of its year: the program chose the century
	FaultNoYear    FaultCode = "no-year"   // a date without a year
	FaultBackwards FaultCode = "backwards" // a range that ends before it begins
	FaultFuture    FaultCode = "future"    // a date that is still to come
	FaultSeveral   FaultCode = "several"   // several values for a field that holds one
	FaultZeros     FaultCode = "zeros"     // a number that has perhaps lost zeros at its beginning
	FaultRounded   FaultCode = "rounded"   // a number that a spreadsheet has rounded, such as 1.2E+11
	FaultFormula   FaultCode = "formula"   // a formula of which no value is stored
	FaultError     FaultCode = "error"     // an error of a spreadsheet, such as #REF!
	FaultRenamed   FaultCode = "renamed"   // a family that has another name today
	FaultNoNumber  FaultCode = "no-number" // no catalogue number
	FaultJoined    FaultCode = "joined"    // a further row of the same specimen, with another determination
	FaultCompass   FaultCode = "compass"   // the letter O: east in German, west in French, Italian and Spanish
	FaultPoint     FaultCode = "point"     // coordinates that cannot be read
	FaultUnit      FaultCode = "unit"      // feet, turned into metres
	FaultUnnamed   FaultCode = "unnamed"   // an earlier determination that names no taxon
	FaultConfirmed FaultCode = "confirmed" // conf., rev. or vid.: no determination of its own
)

// FaultCodes are all of them.
var FaultCodes = []FaultCode{FaultOpen, FaultLong, FaultText, FaultNoID, FaultTwice, FaultOrphan, FaultHere, FaultDate, FaultNumber, FaultLetters, FaultChoice, FaultDatum,
	FaultAccepted, FaultRegion, FaultMissing, FaultFile, FaultNoTaxon, FaultEmptyPlace,
	FaultUnread, FaultOrder, FaultAgainst, FaultCentury, FaultShown, FaultNoYear, FaultBackwards, FaultFuture, FaultSeveral, FaultZeros, FaultRounded, FaultFormula, FaultError,
	FaultRenamed, FaultNoNumber, FaultJoined, FaultCompass, FaultPoint, FaultUnit, FaultUnnamed, FaultConfirmed}

// Refuses says whether a row with such a fault cannot be taken in at all.
func (c FaultCode) Refuses() bool {
	return slices.Contains([]FaultCode{FaultOpen, FaultLong, FaultText, FaultNoID, FaultTwice, FaultHere}, c)
}

// IntakeFault is something wrong in a file, by row and column. Values keep what was there.
type IntakeFault struct {
	Code   FaultCode `json:"code"`
	File   string    `json:"file,omitempty"`
	Row    int       `json:"row,omitempty"`
	Column string    `json:"column,omitempty"`
	Value  string    `json:"value,omitempty"` // what stands there, shortened
	// Stored is what is taken in its place; empty: nothing, or what stands there.
	Stored string `json:"stored,omitempty"`
}

// mostFaultLetters bounds what a fault repeats.
const mostFaultLetters = 80

// Fault notes a fault of the row.
func (i *Incoming) Fault(f IntakeFault) {
	if letters := []rune(f.Value); len(letters) > mostFaultLetters {
		f.Value = string(letters[:mostFaultLetters]) + "…"
	}
	i.Faults = append(i.Faults, f)
	i.Refused = i.Refused || f.Code.Refuses()
}

// Keep keeps a value word for word.
func (i *Incoming) Keep(v RestValue) {
	if v.Value != "" {
		i.Rest = append(i.Rest, v)
	}
}

// Fit empties fields of the label that hold what they cannot, keeps that word for word, and says so. where tells from which column a
// field was filled.
func (i *Incoming) Fit(file string, where func(path string) string) {
	var p Problems
	i.Label.Check(&p)
	i.Withheld.Check(&p)
	fields := LabelFields()
	for _, problem := range p {
		at := slices.IndexFunc(fields, func(f LabelField) bool { return f.Path() == problem.Field })
		if at < 0 {
			continue
		}
		f := &fields[at]
		value := f.Text(&i.Label, &i.Withheld)
		if value == "" {
			i.Fault(IntakeFault{Code: FaultEmptyPlace, File: file, Row: i.Row, Column: where(problem.Field)})
			i.Withheld.Latitude, i.Withheld.Longitude = nil, nil
			continue
		}
		code := map[LabelKind]FaultCode{LabelDate: FaultDate, LabelChoice: FaultChoice, LabelCount: FaultNumber, LabelNumber: FaultNumber}[f.Kind]
		if code == "" {
			code = FaultLetters
		}
		i.Fault(IntakeFault{Code: code, File: file, Row: i.Row, Column: where(problem.Field), Value: value})
		i.Keep(RestValue{File: file, Row: i.Row, Column: where(problem.Field), Value: value})
		f.clear(&i.Label, &i.Withheld)
	}
}

// clear empties a field.
func (f *LabelField) clear(l *Label, w *Withheld) { f.value(l, w).SetZero() }

// MaxSlipText bounds each text of a slip, in letters.
const MaxSlipText = 1000

// IntakeState is how far an intake has come.
type IntakeState string

const (
	// IntakeReading: its file is being read; nobody is shown it yet.
	IntakeReading IntakeState = "reading"
	// IntakePlanned: its rows are told, and nothing is taken in. Left by accepting, or after a while.
	IntakePlanned IntakeState = "planned"
	// IntakeAccepted: a curator has accepted it; it is being taken in, or was.
	IntakeAccepted IntakeState = "accepted"
	// IntakeUndone: a curator has taken it back.
	IntakeUndone IntakeState = "undone"
)

// Intake is one file of somebody else and what it brings.
type Intake struct {
	ID     string        `json:"id"`
	State  IntakeState   `json:"state" enum:"planned,accepted,undone"`
	File   string        `json:"file" doc:"Name of the file"`
	Format string        `json:"format" doc:"darwin-core-archive, or inventory: the table of an old collection"`
	SHA256 string        `json:"sha256"`
	By     string        `json:"by"`
	At     time.Time     `json:"at"`
	Told   IntakeSummary `json:"told"`
	// Plan counts how often it was planned: a table is planned again when a curator says how it is to be read.
	Plan int `json:"plan,omitempty" doc:"How often it was planned; name it when accepting, so that what is accepted is what was seen"`
	// Reading is how a table is read; nil of archives.
	Reading *InventoryReading `json:"reading,omitempty" doc:"How the table of an old collection is read"`
	// AcceptedBy and UndoneBy are who did so, for UndoneWhy.
	AcceptedBy string     `json:"accepted_by,omitempty"`
	AcceptedAt *time.Time `json:"accepted_at,omitempty"`
	UndoneBy   string     `json:"undone_by,omitempty"`
	UndoneAt   *time.Time `json:"undone_at,omitempty"`
	UndoneWhy  string     `json:"undone_why,omitempty"`
	// Whole: what was accepted was taken in to the last row, or what was undone was taken back.
	Whole bool `json:"whole,omitempty" doc:"What was accepted was taken in to the last row, or what was undone was taken back"`
	// Kept are specimens that could not be taken back, since something was done with them.
	Kept int `json:"kept,omitempty" doc:"Specimens that were left when it was undone, since something was done with them"`
	// Walk is how far taking in or taking back has come; nil where nothing is under way.
	Walk *Walk `json:"walk,omitempty"`
}

// IntakeSummary is what a file brings in all.
type IntakeSummary struct {
	Rows      int              `json:"rows"`    // of the core
	Refused   int              `json:"refused"` // that cannot be taken in
	Faulty    int              `json:"faulty"`  // of which something is told
	Slips     int              `json:"slips"`
	Described int              `json:"described"`
	Regions   int              `json:"regions"`
	Unplaced  []UnplacedColumn `json:"unplaced,omitempty"` // what is kept word for word
	Unread    []string         `json:"unread,omitempty"`   // files of which nothing is kept
	Faults    []IntakeFault    `json:"faults,omitempty"`   // of no single row of the core
	// MoreFaults of these there are, which are not listed.
	MoreFaults int `json:"more_faults,omitempty"`
	// Groups count what is told of rows by what it is and by column, what refuses rows first.
	Groups []FaultGroup `json:"groups,omitempty"`
	Joined int          `json:"joined,omitempty"` // rows that belong to the specimen of another
}

// FaultGroup is how often one thing is told of a column.
type FaultGroup struct {
	Code    FaultCode `json:"code"`
	Column  string    `json:"column,omitempty"`
	Times   int       `json:"times"`
	Refuses bool      `json:"refuses,omitempty"`
	Rows    []int     `json:"rows,omitempty" doc:"The first of them"`
}

// UnplacedColumn is a column that has no place here.
type UnplacedColumn struct {
	File   string `json:"file"`
	Column string `json:"column"`
	Values int    `json:"values"`
}

// mostGeneralFaults bounds those that are listed of the whole.
const mostGeneralFaults = 200

// General notes a fault of no single row.
func (s *IntakeSummary) General(f IntakeFault) {
	if len(s.Faults) >= mostGeneralFaults {
		s.MoreFaults++
		return
	}
	s.Faults = append(s.Faults, f)
}

// Count adds a row.
func (s *IntakeSummary) Count(i *Incoming) {
	s.Rows++
	s.Joined += len(i.Joined)
	if len(i.Faults) > 0 {
		s.Faulty++
	}
	for _, f := range i.Faults {
		s.group(f)
	}
	if i.Refused {
		s.Refused++
		return
	}
	s.Slips += len(i.Slips)
	s.Described += len(i.Described)
	for _, d := range i.Described {
		s.Regions += len(d.Regions)
	}
	for _, v := range i.Rest {
		at := slices.IndexFunc(s.Unplaced, func(u UnplacedColumn) bool { return u.File == v.File && u.Column == v.Column })
		if at < 0 {
			s.Unplaced = append(s.Unplaced, UnplacedColumn{File: v.File, Column: v.Column})
			at = len(s.Unplaced) - 1
		}
		s.Unplaced[at].Values++
	}
}

const (
	mostFaultGroups = 500 // a column for each kind of what is told
	rowsOfAGroup    = 5
)

// group counts what is told, in order: what refuses rows first, then as it is met.
func (s *IntakeSummary) group(f IntakeFault) {
	at := slices.IndexFunc(s.Groups, func(g FaultGroup) bool { return g.Code == f.Code && g.Column == f.Column })
	if at < 0 {
		if len(s.Groups) >= mostFaultGroups {
			return
		}
		at = len(s.Groups)
		if f.Code.Refuses() {
			at = slices.IndexFunc(append(s.Groups, FaultGroup{}), func(g FaultGroup) bool { return !g.Refuses })
		}
		s.Groups = slices.Insert(s.Groups, at, FaultGroup{Code: f.Code, Column: f.Column, Refuses: f.Code.Refuses()})
	}
	g := &s.Groups[at]
	if g.Times++; len(g.Rows) < rowsOfAGroup {
		g.Rows = append(g.Rows, f.Row)
	}
}

// Takes is how many specimens it brings.
func (s *IntakeSummary) Takes() int { return s.Rows - s.Refused }

// PlannedRow is a row of a plan as it is stored.
type PlannedRow struct {
	Number   int
	Specimen string // that it has become; empty: none
	Faults   int
	Refused  bool
	Incoming Incoming
}

// IntakeBatch is what a batch changes of an intake.
type IntakeBatch struct {
	Intake
	// Rows that are new, or have become a specimen: of these nothing but that is kept.
	Rows  []PlannedRow
	Taken map[int]string // specimen by row
	// Parts are of the file that was sent, kept until the plan is accepted or gone, so that it can be read in another way.
	Parts []FilePart
	// RowsFrom is the id under which a new plan of the intake was made: its rows take the place of the former ones. Empty: there is none.
	RowsFrom string
}

// FilePart is a stretch of a file, by its number from 0.
type FilePart struct {
	Number int
	Body   []byte
}

// AnyPlan accepts whatever the plan is.
const AnyPlan = 0

// DecideAccept lets a curator accept a plan: the one that was seen, or AnyPlan.
func DecideAccept(m Moment, in Intake, plan int) (Intake, error) {
	switch {
	case May(m.Actor, ActTakeIn, "") && in.State == IntakePlanned && plan != AnyPlan && plan != in.Plan:
		return in, Errorf(KindConflict, "The file was read in another way since you looked. Nothing was taken in: look at what it would bring now.")
	case !May(m.Actor, ActTakeIn, ""):
		return in, Forbidden(m.Actor, ActTakeIn, "")
	case in.State != IntakePlanned:
		return in, Errorf(KindConflict, "This was accepted already, or taken back. Nothing was changed.")
	case in.Told.Takes() == 0:
		return in, Errorf(KindConflict, "There is no row that could be taken in. Nothing was changed.")
	}
	in.State, in.AcceptedBy, in.AcceptedAt = IntakeAccepted, m.Actor.Person, &m.Now
	return in, nil
}

// DecideUndo lets a curator take back what was taken in, with a reason.
func DecideUndo(m Moment, in Intake, reason string) (Intake, error) {
	var p Problems
	switch CheckText(&p, "reason", reason, 1, MaxNote); {
	case !May(m.Actor, ActTakeIn, ""):
		return in, Forbidden(m.Actor, ActTakeIn, "")
	case in.State != IntakeAccepted || !in.Whole:
		return in, Errorf(KindConflict, "Only what was taken in wholly can be taken back. Nothing was changed.")
	case len(p) > 0:
		return in, p.Err()
	}
	in.State, in.UndoneBy, in.UndoneAt, in.UndoneWhy = IntakeUndone, m.Actor.Person, &m.Now, strings.TrimSpace(reason)
	in.Whole = false
	return in, nil
}

// WithholdText closes a text that is to be erasable, as Withhold does with label data.
func WithholdText(id string, salt []byte, body string) (WithheldRecord, Withholding) {
	digest := withheldDigest(salt, body)
	return WithheldRecord{ID: id, Digest: digest, Salt: salt, Body: body}, Withholding{ID: id, Digest: digest}
}

// OpenRest returns what came with a specimen and has no place here, and an error where it is not what the event tells of.
func (s WithheldRecord) OpenRest(with Withholding) (rest []RestValue, err error) {
	if withheldDigest(s.Salt, s.Body) != with.Digest {
		return nil, fmt.Errorf("what came with a specimen, %s, is not what its event tells of", s.ID)
	}
	if err := json.Unmarshal([]byte(s.Body), &rest); err != nil {
		return nil, fmt.Errorf("what came with a specimen, %s: %w", s.ID, err)
	}
	return rest, nil
}
