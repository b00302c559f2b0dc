package diagnosis_test

import (
	"maps"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// Words of a translation have to be found again, or nobody reads them.
func TestEveryTranslationIsOfATextThatTheTablesHave(t *testing.T) {
	for _, tables := range diagnosis.All() {
		require.Equal(t, []string{"de"}, tables.Languages())
		require.Empty(t, tables.Stale("de"), "%s: remove what was translated and is said no more", tables.Group.ID)
		require.Empty(t, tables.Untranslated("de"), "%s: German pages would say this in English", tables.Group.ID)
	}
}

// Terms as German keys of beetles have them, from memory.
func TestTablesInGerman(t *testing.T) {
	english := diagnosis.Default()
	german := english.In("de-AT")
	require.Same(t, german, english.In("de"), "made once")
	require.Same(t, english, english.In("en"))
	require.Same(t, english, english.In("fi"))
	require.Same(t, german, german.In("de"))
	require.Equal(t, english.Hash, german.Hash)
	require.Equal(t, "de", german.Language())
	require.Equal(t, "en", english.Language())
	require.Equal(t, "Halsschild", german.Region("pronotum"))
	require.Equal(t, "pronotum", english.Region("pronotum"))

	c, _ := german.Character("antenna-elbowed")
	require.Equal(t, "Fühler, gekniet", c.Label)
	require.Equal(t, "gekniet", c.States[c.State("yes")].Label)
	c, _ = english.Character("antenna-elbowed")
	require.Equal(t, "Antenna, elbowed", c.Label, "the English tables stay as they are")
	part, _ := german.Part("scutellum")
	require.Equal(t, "Schildchen (Scutellum)", part.Term)
	family, _ := german.Family("Elateridae")
	plain, _ := english.Family("Elateridae")
	require.Equal(t, "Comb-like in Melanotus, Adrastus and Synaptus.", plain.Cells["claws"].Note)
	require.Equal(t, "Kammförmig bei Melanotus, Adrastus und Synaptus.", family.Cells["claws"].Note)
	for i := range english.Families {
		require.Equal(t, english.Families[i].Name, german.Families[i].Name)
	}
}

func TestAFolderBringsItsOwnWords(t *testing.T) {
	files, err := diagnosis.Contents(diagnosis.Files(diagnosis.Beetles))
	require.NoError(t, err)
	load := func(changes map[string]string) (*diagnosis.Tables, []diagnosis.Problem) {
		changed := maps.Clone(files)
		maps.Copy(changed, changes)
		return diagnosis.Load(diagnosis.FromContents(changed))
	}
	tables, problems := load(map[string]string{
		"words/fi.yaml": "words:\n  - {en: 'Antenna, elbowed', to: 'Polvituntosarvi'}\n",
		"words/de.yaml": "words:\n  - {en: 'Antenna, elbowed', to: 'Fühler mit Knie'}\n"})
	require.Empty(t, problems)
	require.Equal(t, []string{"de", "fi"}, tables.Languages())
	for language, label := range map[string]string{"fi": "Polvituntosarvi", "de": "Fühler mit Knie", "en": "Antenna, elbowed"} {
		c, _ := tables.In(language).Character("antenna-elbowed")
		require.Equal(t, label, c.Label)
	}
	c, _ := tables.In("fi").Character("antenna-form")
	require.Equal(t, "Antenna, outline", c.Label, "English where a word is missing")
	require.NotContains(t, tables.Untranslated("fi"), "Antenna, elbowed")
	require.Contains(t, tables.Untranslated("fi"), "Antenna, outline")
	require.NotEqual(t, diagnosis.Default().Hash, tables.Hash, "what a folder brings is part of its release")

	for file, text := range map[string]string{
		"words/en.yaml":     "words: []\n",
		"words/German.yaml": "words: []\n",
		"words/nl.yaml":     "words:\n  - {en: a, to: b}\n  - {en: a, to: c}\n",
		"words/sv.yaml":     "words:\n  - {en: a}\n",
	} {
		tables, problems := load(map[string]string{file: text})
		require.Nil(t, tables)
		require.Len(t, problems, 1, file)
		require.Equal(t, file, problems[0].File)
	}
}

// Where a club's own release says something else than the text that was translated, it is read as the club wrote it.
func TestAChangedTextIsNotTranslatedByTheFormerOne(t *testing.T) {
	files, err := diagnosis.Contents(diagnosis.Files(diagnosis.Beetles))
	require.NoError(t, err)
	changed := maps.Clone(files)
	require.Contains(t, changed["group.yaml"], "Labels on the pin")
	changed["group.yaml"] = strings.ReplaceAll(changed["group.yaml"], "Labels on the pin", "Every label of the pin")
	tables, problems := diagnosis.Load(diagnosis.FromContents(changed))
	require.Empty(t, problems)
	views := tables.In("de").Group.Views
	require.Equal(t, "Every label of the pin", views[len(views)-1].Label)
	require.Equal(t, "Ganzer Käfer von oben", views[0].Label)
}

// Who reads German types German names, and may know the English one.
func TestFamiliesAreFoundByCommonNamesOfTheLanguage(t *testing.T) {
	german := diagnosis.Default().In("de")
	for _, typed := range []string{"Marienkäfer", "ladybird beetle", "Coccinellidae"} {
		found, sure := german.Search(typed)
		require.True(t, sure, typed)
		require.Equal(t, "Coccinellidae", found[0].Family.Name)
	}
}
