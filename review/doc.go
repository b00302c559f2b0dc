// Package review is the record of Revidit: what a specimen, a submission, an observation, a verdict and an opinion are,
// who may do what when, and what each act changes.
//
// The main idea: a determination is a hypothesis about a specimen. It rests on observations, it is looked at again by
// others, it is followed by another one and never overwritten. Every change is an Event; a Specimen and a Submission
// are what Replay makes of their events, and the rows that a store keeps are copies of that.
//
// Everything here is pure: values in, values out, the clock as an argument. An act is a form, a Decide function that
// returns a Decision or an error with the field, and Dossier.Write, which turns the decision into events and adds the
// assessment and the settlement that follow from it. What the characters say is judged in review/judgement, which knows no
// workflow; loading and storing is done in review/service.
package review
