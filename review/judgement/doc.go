// Package judgement turns what was seen of a specimen into an assessment, by one release of the diagnosis tables: how
// sure the name is, what speaks against it and why, and what to look at next; and says what tells two families apart.
//
// It is the only place where families and characters meet the numbers of review/confidence. It knows no people, roles or
// workflow: how reliable whoever reports is, is part of the evidence that it is given. A contradiction is a flag,
// the confidence a number, and the two are computed apart. What comes out are codes, ids and numbers: words are made where they are read.
package judgement
