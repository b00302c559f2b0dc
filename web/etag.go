package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
)

// entityTag is an entity tag of RFC 9110 section 8.8.3; opaque is without its quotes.
type entityTag struct {
	weak   bool
	opaque string
}

func (t entityTag) String() string {
	if t.weak {
		return `W/"` + t.opaque + `"`
	}
	return `"` + t.opaque + `"`
}

// strongly compares as RFC 9110 section 8.8.3.2 does for If-Match: a weak tag matches nothing, not even itself.
func (t entityTag) strongly(other entityTag) bool {
	return !t.weak && !other.weak && t.opaque == other.opaque
}

// weakly compares as RFC 9110 section 8.8.3.2 does for If-None-Match.
func (t entityTag) weakly(other entityTag) bool { return t.opaque == other.opaque }

// tagList is the value of If-Match or If-None-Match: any, or some tags.
type tagList struct {
	any  bool
	tags []entityTag
}

func (l tagList) holds(current []entityTag, same func(a, b entityTag) bool) bool {
	if l.any {
		return len(current) > 0
	}
	return slices.ContainsFunc(l.tags, func(given entityTag) bool {
		return slices.ContainsFunc(current, func(c entityTag) bool { return same(given, c) })
	})
}

// parseTags reads a header; an empty one gives nil. name is the header's, for the error.
func parseTags(name, header string) (*tagList, error) {
	rest := strings.Trim(header, " \t,")
	if strings.TrimSpace(header) == "" {
		return nil, nil
	}
	if rest == "*" {
		return &tagList{any: true}, nil
	}
	var list tagList
	for rest != "" {
		tag, after, ok := cutTag(rest)
		if !ok {
			return nil, review.Invalidf(name, "must be * or entity tags in double quotes, as an ETag header gave them")
		}
		list.tags = append(list.tags, tag)
		rest = strings.TrimLeft(after, " \t")
		if rest != "" && rest[0] != ',' {
			return nil, review.Invalidf(name, "must have a comma between entity tags")
		}
		rest = strings.TrimLeft(rest, " \t,")
	}
	if len(list.tags) == 0 {
		return nil, review.Invalidf(name, "names no entity tag")
	}
	return &list, nil
}

func cutTag(s string) (tag entityTag, rest string, ok bool) {
	s, tag.weak = strings.CutPrefix(s, "W/")
	s, ok = strings.CutPrefix(s, `"`)
	if !ok {
		return tag, "", false
	}
	tag.opaque, rest, ok = strings.Cut(s, `"`)
	if !ok || strings.ContainsFunc(tag.opaque, func(r rune) bool { return r < 0x21 || r == 0x7f }) {
		return tag, "", false
	}
	return tag, rest, true
}

// outcome of preconditions.
type outcome int

const (
	perform outcome = iota
	notModified
	failed
)

// precondition evaluates If-Match and If-None-Match in the order of RFC 9110 section 13.2.2; dates are not used here.
// current are the tags under which the thing is known now, none where it does not exist.
func precondition(method, ifMatch, ifNoneMatch string, current ...entityTag) (outcome, error) {
	match, err := parseTags("If-Match", ifMatch)
	if err != nil {
		return failed, err
	}
	return conditions(method, match, ifNoneMatch, current...)
}

// conditions is precondition with If-Match read.
func conditions(method string, match *tagList, ifNoneMatch string, current ...entityTag) (outcome, error) {
	noneMatch, err := parseTags("If-None-Match", ifNoneMatch)
	if err != nil {
		return failed, err
	}
	if match != nil && !match.holds(current, entityTag.strongly) {
		return failed, nil
	}
	if noneMatch == nil || !noneMatch.holds(current, entityTag.weakly) {
		return perform, nil
	}
	if method == http.MethodGet || method == http.MethodHead {
		return notModified, nil
	}
	return failed, nil
}

// evidenceTag stands for a version of the evidence alone (review.EvidenceVersion). The letter keeps it apart from the number
// of an event.
func evidenceTag(version int) entityTag {
	return entityTag{opaque: evidenceLetter + strconv.Itoa(version)}
}

const evidenceLetter = "e"

// submissionTag stands for a view of a submission to the last letter. What stands before the hyphen is the version of the
// evidence, which is all that a change is decided on.
func submissionTag(version int, view any) (entityTag, error) {
	tag, err := viewTag(version, view)
	tag.opaque = evidenceLetter + tag.opaque
	return tag, err
}

// onEvidence is a tag without what of a view does not belong to the evidence.
func (t entityTag) onEvidence() entityTag {
	if strings.HasPrefix(t.opaque, evidenceLetter) {
		t.opaque, _, _ = strings.Cut(t.opaque, "-")
	}
	return t
}

// versionTag stands for a version alone, whatever belongs to the view of it: a client that has the version from a body
// need not keep the header.
func versionTag(version int) entityTag { return entityTag{opaque: strconv.Itoa(version)} }

// viewTag stands for a view to the last letter: a label that was corrected or a name that was erased changes it although
// the version stays.
func viewTag(version int, view any) (entityTag, error) {
	text, err := json.Marshal(view)
	if err != nil {
		return entityTag{}, fmt.Errorf("entity tag: %w", err)
	}
	sum := sha256.Sum256(text)
	return entityTag{opaque: strconv.Itoa(version) + "-" + hex.EncodeToString(sum[:8])}, nil
}

// errStale says that a precondition has failed.
func errStale() error {
	return review.Errorf(review.KindStale, "This has changed since you read it. Nothing was stored: read it again, compare, and send your change with its present ETag.")
}
