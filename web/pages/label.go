package pages

import (
	"context"

	"revidit/review"
	"revidit/web/words"
)

// titleOf is what pages call a field of the label, by its path.
func titleOf(ctx context.Context, path string) string {
	return words.T(ctx, "label.title-"+dashed(path))
}

// askOf is what a form calls a field of the label, and hintOf what it says under it.
func askOf(ctx context.Context, f review.LabelField) string {
	if id := "label.ask-" + dashed(f.Path()); words.Has(id) {
		return words.T(ctx, id)
	}
	return titleOf(ctx, f.Path())
}

func hintOf(ctx context.Context, f review.LabelField) string {
	if id := "label.hint-" + dashed(f.Path()); words.Has(id) {
		return words.T(ctx, id)
	}
	return ""
}

// choicesOf are the values of a field that takes one of some.
func choicesOf(ctx context.Context, f review.LabelField) []Choice {
	var choices []Choice
	for _, value := range f.Choices {
		choices = append(choices, Choice{Value: value, Label: labelValue(ctx, f.Name, value)})
	}
	return choices
}

// labelValue is one of the values that a field may have, in words; the empty one is not known.
func labelValue(ctx context.Context, field, value string) string {
	if value == "" {
		return words.T(ctx, "label.not-known")
	}
	return words.T(ctx, "label.value-"+field+"-"+value)
}

// openLines are the lines of the open part of a label, and withheldLines those of the other, for who reads them.
func openLines(ctx context.Context, l *review.Label) []review.LabelLine {
	lines := titled(ctx, l.Lines())
	for i := range lines {
		switch line := &lines[i]; {
		case line.Path == "label.sex" && l.Sex != "":
			line.Text = labelValue(ctx, "sex", l.Sex)
		case line.Path == "label.collected_from" && l.CollectedTo != "" && l.CollectedFrom != "":
			line.Text = words.T(ctx, "label.range", "From", l.CollectedFrom, "To", l.CollectedTo)
		case line.Path == "label.collected_from" && l.CollectedTo != "":
			line.Text = words.T(ctx, "label.until", "To", l.CollectedTo)
		}
	}
	return lines
}

func withheldLines(ctx context.Context, w *review.Withheld) []review.LabelLine {
	return titled(ctx, w.Lines())
}

func titled(ctx context.Context, lines []review.LabelLine) []review.LabelLine {
	for i := range lines {
		lines[i].Title = titleOf(ctx, lines[i].Path)
	}
	return lines
}
