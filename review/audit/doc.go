// Package audit says what closed submissions tell about people and about our own numbers: how far reviewers agree, who
// copies whom, whether names at 0.9 are right nine times in ten, and how reliably each person reads each region of the
// body. It is pure, and only looks at what is closed: what is said of others is sealed until then.
package audit
