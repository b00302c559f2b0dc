// Package review is the workflow of Revidit: what a specimen, a submission, an observation, a verdict and an opinion
// are, who may do what when, and what each act changes.
//
// The main idea: a determination is a hypothesis about a specimen. It rests on observations, it is looked at again by
// others, it is followed by another one and never overwritten. Every change is an Event; a Specimen and a Submission
// are what Replay makes of their events, and the rows that a store keeps are copies of that.
//
// The files are pure (values in, values out, the clock as an argument) except service.go and the service_*.go beside
// it, which load, decide, assess and commit. Storage is behind the interfaces of store.go. Numbers come from
// review/confidence, knowledge from review/diagnosis.
package review
