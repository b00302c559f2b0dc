package builder

// tuning are the numbers that weigh what a couplet tells against what it takes. They were chosen by trying keys out (package trial)
// for the lists of one region (Central Europe, seed 1); they change how good a key is, and nothing of how it is tried.
type tuning struct {
	characters int     // of a couplet at most; odd
	starts     int     // how many characters are tried as the first of a couplet
	rivals     int     // how many are tried beside them
	scatter    float64 // what a bit of scatter of the families over both leads counts, against a bit of parting them
	effort     float64 // bits that a glance has to tell
	least      float64 // share of a node below which a state is not told of
	pure       float64 // share of the commonest family from which on a node is not divided for the sake of the others
	worth      float64 // share of all specimens that a couplet more has to bring to the right end
}

var (
	careful = tuning{characters: 5, starts: 4, rivals: 7, scatter: 1.5, effort: 0.0005, least: 0.01, pure: 0.995, worth: 0.0004}
	greedy  = tuning{characters: 1, starts: 1, rivals: 0, scatter: 1, effort: 0, least: 0.01, pure: 0.995, worth: 0.0004}
)
