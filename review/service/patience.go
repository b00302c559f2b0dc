package service

import "context"

type unhurried struct{}

// Unhurried marks a context under which nobody waits for an answer: a job, or a command. Everything else waits for the
// store a few seconds at most, and then says so.
func Unhurried(ctx context.Context) context.Context { return context.WithValue(ctx, unhurried{}, true) }

// Hurried says whether somebody waits for an answer.
func Hurried(ctx context.Context) bool { return ctx.Value(unhurried{}) == nil }
