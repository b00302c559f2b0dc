package words

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/nicksnyder/go-i18n/v2/i18n/template"
	"go.yaml.in/yaml/v4"
	"golang.org/x/text/language"
)

//go:embed *.yaml
var files embed.FS

// strict makes a text fail that has a place for which no value came.
var strict = &template.TextParser{Option: "missingkey=error"}

// catalogue holds all texts.
type catalogue struct {
	messages   map[language.Tag]map[string]*i18n.Message
	plain      map[language.Tag]map[string]string // those without places and plural forms, to be said as they are
	localizers map[language.Tag]*i18n.Localizer
}

// texts are read from files of this very program, which tests read as well: a wrong one is a fault of the build.
var texts = must(load(files))

func must(c *catalogue, err error) *catalogue {
	if err != nil {
		panic(err)
	}
	return c
}

func (c *catalogue) has(id string) bool {
	_, ok := c.messages[Languages[0]][id]
	return ok
}

func load(fsys fs.FS) (*catalogue, error) {
	c := &catalogue{messages: map[language.Tag]map[string]*i18n.Message{}, plain: map[language.Tag]map[string]string{},
		localizers: map[language.Tag]*i18n.Localizer{}}
	for _, tag := range Languages {
		c.messages[tag], c.plain[tag] = map[string]*i18n.Message{}, map[string]string{}
	}
	names, err := fs.Glob(fsys, "*.yaml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if err := c.read(fsys, name); err != nil {
			return nil, fmt.Errorf("words: %s: %w", name, err)
		}
	}
	bundle := i18n.NewBundle(Languages[0])
	for tag, messages := range c.messages {
		for _, m := range messages {
			if err := bundle.AddMessages(tag, m); err != nil {
				return nil, fmt.Errorf("words: %s: %w", m.ID, err)
			}
		}
	}
	for _, tag := range Languages {
		c.localizers[tag] = i18n.NewLocalizer(bundle, tag.String())
	}
	return c, nil
}

// read adds the texts of one file, NAME.LANGUAGE.yaml.
func (c *catalogue) read(fsys fs.FS, name string) error {
	page, rest, _ := strings.Cut(name, ".")
	tag, ok := Of(strings.TrimSuffix(rest, ".yaml"))
	if !ok {
		return fmt.Errorf("is not named after its page and language")
	}
	content, err := fs.ReadFile(fsys, name)
	if err != nil {
		return err
	}
	var entries map[string]yaml.Node
	if err := yaml.Load(content, &entries); err != nil {
		return err
	}
	for key, node := range entries {
		m, err := message(page+"."+key, node)
		if err != nil {
			return err
		}
		c.messages[tag][m.ID] = m
		if m.One == "" && !strings.Contains(m.Other, "{{") {
			c.plain[tag][m.ID] = m.Other
		}
	}
	return nil
}

// forms are the plural forms that English and German have (Unicode CLDR, language plural rules).
var forms = []string{"one", "other"}

func message(id string, node yaml.Node) (*i18n.Message, error) {
	if node.Kind == yaml.ScalarNode {
		if node.Value == "" {
			return nil, fmt.Errorf("%s: is empty", id)
		}
		return &i18n.Message{ID: id, Other: node.Value}, nil
	}
	var plural map[string]string
	if err := node.Decode(&plural); err != nil {
		return nil, fmt.Errorf("%s: %w", id, err)
	}
	for form := range plural {
		if !slices.Contains(forms, form) {
			return nil, fmt.Errorf("%s: %s is no plural form", id, form)
		}
	}
	if plural["one"] == "" || plural["other"] == "" {
		return nil, fmt.Errorf("%s: has not both plural forms", id)
	}
	return &i18n.Message{ID: id, One: plural["one"], Other: plural["other"]}, nil
}
