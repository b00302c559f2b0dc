package main

import (
	"bytes"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

func TestLintBuiltInTables(t *testing.T) {
	var out bytes.Buffer
	require.Zero(t, runLint(diagnosis.Files(), &out), out.String())
	require.Regexp(t, `^coleoptera-adults, release \S+: 30 families, 47 characters, no problem; hash [0-9a-f]{64}\n$`, out.String())
}

func TestLintBadTables(t *testing.T) {
	var out bytes.Buffer
	files := fstest.MapFS{"group.yaml": {Data: []byte("group: x\nspecies: 3\n")}}
	problems := runLint(files, &out)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	require.Greater(t, problems, 1)
	require.Len(t, lines, problems+1)
	require.Contains(t, out.String(), "group.yaml:2: ")
	require.Regexp(t, `^\d+ problems$`, lines[problems])
}
