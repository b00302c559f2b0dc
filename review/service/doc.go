// Package service is the one way to read or change anything: it loads, has package review decide, and commits. It is the
// only part of review that does any input or output, all of it behind the interfaces of store.go. One file is one act,
// named as in package review.
package service
