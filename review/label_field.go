package review

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// LabelKind is what a field of the label holds.
type LabelKind string

// Kinds of fields.
const (
	LabelText   LabelKind = "text"   // one line
	LabelLong   LabelKind = "long"   // several lines
	LabelDate   LabelKind = "date"   // a day, a month or a year
	LabelChoice LabelKind = "choice" // one of Choices
	LabelCount  LabelKind = "count"  // a whole number; 0 is not known
	LabelNumber LabelKind = "number"
)

// LabelField is one field of Label or Withheld, as its struct tags tell it: what forms, pages, history and checks know of it.
// The API reads the same tags. A field is added by one line in the struct.
type LabelField struct {
	Withheld bool      // in Withheld, else in Label
	Name     string    // json
	Title    string    // title: what pages call it; neighbours with the same one make one line
	Ask      string    // ask: what a form calls it, where that is not the title
	Hint     string    // hint: what a form says under it
	Kind     LabelKind // kind: long or date; the others follow from the type and from enum

	Most            int      // maxLength: letters that a text may have
	Least, Greatest float64  // minimum, maximum: of a count or a number, both included
	Choices         []string // enum: the empty one, not known, first

	beside string // beside: the field that it follows in forms, where it does not in the struct
	shown  string // shown: how pages show it, %s being the value
	index  int    // of the field in its struct
}

var (
	openFields     = labelFieldsOf(reflect.TypeFor[Label]())
	withheldFields = labelFieldsOf(reflect.TypeFor[Withheld]())
)

// LabelFields are all fields, in the order of forms: those of Label, then those of Withheld.
func LabelFields() []LabelField {
	return append(inFormOrder(openFields), inFormOrder(withheldFields)...)
}

// Path is the name of the field in forms and errors, such as label.country.
func (f *LabelField) Path() string {
	if f.Withheld {
		return "withheld." + f.Name
	}
	return "label." + f.Name
}

// Text is the value as it is typed; empty where there is none.
func (f *LabelField) Text(l *Label, w *Withheld) string {
	switch v := f.value(l, w).Interface().(type) {
	case int:
		if v != 0 {
			return strconv.Itoa(v)
		}
	case *float64:
		if v != nil {
			return plainNumber(*v)
		}
	case string:
		return v
	}
	return ""
}

// Set takes what was typed. A number that is none lies out of the field's range afterwards, so that Check tells of it.
func (f *LabelField) Set(l *Label, w *Withheld, typed string) {
	v := f.value(l, w)
	switch f.Kind {
	case LabelCount:
		v.SetInt(int64(TypedWhole(typed)))
	case LabelNumber:
		v.Set(reflect.ValueOf(TypedNumber(typed)))
	default:
		v.SetString(typed)
	}
}

func (f *LabelField) value(l *Label, w *Withheld) reflect.Value {
	if f.Withheld {
		return reflect.ValueOf(w).Elem().Field(f.index)
	}
	return reflect.ValueOf(l).Elem().Field(f.index)
}

func (f *LabelField) check(p *Problems, l *Label, w *Withheld) {
	switch v := f.value(l, w).Interface().(type) {
	case int:
		x := float64(v)
		checkNumber(p, f.Path(), &x, f.Least, f.Greatest)
	case *float64:
		checkNumber(p, f.Path(), v, f.Least, f.Greatest)
	case string:
		f.checkText(p, v)
	}
}

func (f *LabelField) checkText(p *Problems, text string) {
	switch f.Kind {
	case LabelDate:
		checkDate(p, f.Path(), text)
	case LabelChoice:
		if !slices.Contains(f.Choices, text) {
			p.Addf(f.Path(), "must be %s or empty", strings.Join(f.Choices[1:], ", "))
		}
	default:
		CheckText(p, f.Path(), text, 0, f.Most)
	}
}

// LabelLine is one line of the label as pages show it; Path is that of its first field, Text is empty where nothing is known.
type LabelLine struct{ Path, Title, Text string }

// Lines are those of the open part. Every label has the same ones.
func (l *Label) Lines() []LabelLine { return labelLines(openFields, l, nil) }

// Lines are those of the withheld part. Every label has the same ones.
func (w *Withheld) Lines() []LabelLine { return labelLines(withheldFields, nil, w) }

func labelLines(fields []LabelField, l *Label, w *Withheld) []LabelLine {
	var lines []LabelLine
	for i := range fields {
		f := &fields[i]
		if len(lines) == 0 || lines[len(lines)-1].Title != f.Title {
			lines = append(lines, LabelLine{Path: f.Path(), Title: f.Title})
		}
		if text := f.Text(l, w); text != "" {
			line := &lines[len(lines)-1]
			line.Text = strings.TrimPrefix(line.Text+" "+strings.Replace(f.shown, "%s", text, 1), " ")
		}
	}
	return lines
}

// inFormOrder puts fields beside those that their tags name.
func inFormOrder(fields []LabelField) []LabelField {
	ordered := make([]LabelField, 0, len(fields))
	for _, f := range fields {
		if f.beside == "" {
			ordered = append(ordered, f)
		}
	}
	for _, f := range fields {
		if f.beside != "" {
			after := slices.IndexFunc(ordered, func(o LabelField) bool { return o.Name == f.beside })
			ordered = slices.Insert(ordered, after+1, f)
		}
	}
	return ordered
}

// labelFieldsOf reads the tags. One that is missing or wrong is a fault in the struct, which no input can cause.
func labelFieldsOf(of reflect.Type) []LabelField {
	fields := make([]LabelField, of.NumField())
	for i := range fields {
		f, err := labelFieldOf(of.Field(i))
		if err != nil {
			panic(fmt.Sprintf("review: %s.%s: %s", of.Name(), of.Field(i).Name, err))
		}
		f.index, f.Withheld = i, of == reflect.TypeFor[Withheld]()
		fields[i] = f
	}
	return fields
}

func labelFieldOf(from reflect.StructField) (LabelField, error) {
	tag := from.Tag.Get
	name, _, _ := strings.Cut(tag("json"), ",")
	f := LabelField{Name: name, Title: tag("title"), Ask: cmp.Or(tag("ask"), tag("title")), Hint: tag("hint"),
		beside: tag("beside"), shown: cmp.Or(tag("shown"), "%s")}
	if f.Name == "" || f.Title == "" || tag("doc") == "" {
		return f, fmt.Errorf("needs the tags json, title and doc")
	}
	var err error
	if f.Kind, err = labelKindOf(from); err != nil {
		return f, err
	}
	switch f.Kind {
	case LabelCount, LabelNumber:
		f.Least, f.Greatest, err = rangeOf(from)
	case LabelChoice:
		f.Choices = strings.Split(tag("enum"), ",")
		if f.Choices[0] != "" {
			err = fmt.Errorf("needs an enum that begins with the empty choice")
		}
	default:
		f.Most, err = strconv.Atoi(tag("maxLength"))
	}
	return f, err
}

func rangeOf(from reflect.StructField) (least, greatest float64, err error) {
	if least, err = strconv.ParseFloat(from.Tag.Get("minimum"), 64); err != nil {
		return 0, 0, err
	}
	greatest, err = strconv.ParseFloat(from.Tag.Get("maximum"), 64)
	return least, greatest, err
}

func labelKindOf(from reflect.StructField) (LabelKind, error) {
	kind, enum := LabelKind(from.Tag.Get("kind")), from.Tag.Get("enum")
	switch from.Type {
	case reflect.TypeFor[int]():
		return LabelCount, nil
	case reflect.TypeFor[*float64]():
		return LabelNumber, nil
	case reflect.TypeFor[string]():
		if enum != "" {
			return LabelChoice, nil
		}
		if kind == "" || kind == LabelLong || kind == LabelDate {
			return cmp.Or(kind, LabelText), nil
		}
		return "", fmt.Errorf("%q is no kind of text", kind)
	}
	return "", fmt.Errorf("a field of the label is a string, an int or a *float64")
}
