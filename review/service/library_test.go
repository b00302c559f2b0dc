package service

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

func TestLibraryRefusesTwoTablesOfOneGroup(t *testing.T) {
	require.Panics(t, func() { NewLibrary(diagnosis.Default(), diagnosis.Default()) })
	require.Panics(t, func() { NewLibrary() })
	require.Nil(t, NewLibrary(diagnosis.Default()).BuiltIn("spiders"))
}
