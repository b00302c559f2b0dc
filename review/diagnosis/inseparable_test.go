package diagnosis

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLoadReadsInseparable(t *testing.T) {
	files := validFiles(t)
	elateridae := files["families/Elateridae.yaml"]
	elateridae.Data = []byte(strings.Replace(string(elateridae.Data), "\ncharacters:\n",
		"\ninseparable:\n  - {family: Buprestidae, because: 'A made-up reason.', needs: a dissection}\ncharacters:\n", 1))

	tables, problems := Load(files)
	require.Empty(t, problems)
	require.Empty(t, tables.Lint())
	want := Inseparable{Family: "Buprestidae", Because: "A made-up reason.", Needs: "a dissection"}
	click, _ := tables.Family("Elateridae")
	jewel, _ := tables.Family("Buprestidae")
	require.Equal(t, []Inseparable{want}, click.Inseparable)
	require.Empty(t, jewel.Inseparable)

	for _, pair := range [][2]*Family{{click, jewel}, {jewel, click}} {
		got, ok := Explained(pair[0], pair[1])
		require.True(t, ok, "either side may say it")
		require.Equal(t, want, got)
	}
	_, ok := Explained(click, click)
	require.False(t, ok)
}
