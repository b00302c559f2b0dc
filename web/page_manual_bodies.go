package web

import (
	"regexp"
	"strings"
)

// variableForm is a variable of the shell in an example.
var variableForm = regexp.MustCompile(`\$[A-Z][A-Z_]*`)

// manualBodies are what examples of the manual send, by operation: each of a kind that somebody would really send, taken by a club with the
// usual tables. Words in capitals behind a dollar are variables of the shell, as in addresses. A test sends each to its handler.
var manualBodies = map[string]string{
	"log-in":               `{"login": "ida", "password": "$PASSWORD"}`,
	"refresh":              `{"refresh_token": "$REFRESH_TOKEN"}`,
	"set-password":         `{"present": "$PASSWORD", "password": "elytra are hardened wings"}`,
	"invite":               `{"role": "member", "name": "Berta Lattich", "address": "berta@club.example"}`,
	"suspend":              `{"reason": "left the club"}`,
	"readmit":              `{"reason": "back again"}`,
	"change-role":          `{"role": "reviewer", "reason": "knows the click beetles"}`,
	"end-sessions-of":      `{"reason": "a telephone was lost"}`,
	"remove-second-factor": `{"reason": "a telephone was lost"}`,
	"remove-museum-login":  `{"reason": "has left the museum"}`,
	"pass-holds-of":        `{"to": "$REVIEWER", "submissions": ["$SUBMISSION"], "reason": "away until July"}`,
	"erase-person":         `{"login": "$LOGIN", "reason": "asked for it"}`,
	"name-reviewer":        `{"families": ["Elateridae"], "reason": "knows the click beetles"}`,
	"give-machine-token":   `{"name": "Photo stand", "purpose": "sends photos of drawer 7", "scopes": ["read", "submit"], "days": 90}`,

	"create-submission": `{"family": "Elateridae", "label": {"catalogue_number": "AB-000001", "country": "Austria"},` +
		` "photos": [{"photo": "$PHOTO", "view": "below"}],` +
		` "observations": [{"character": "ventrites", "state": "5", "photo": "$PHOTO", "region": {"x": 0.1, "y": 0.4, "w": 0.5, "h": 0.3}}]}`,
	"revise-submission":      `{"family": "Elateridae", "label": {"catalogue_number": "AB-000001"}, "observations": [{"character": "ventrites", "state": "5"}]}`,
	"review-submission":      `{"verdicts": [{"observation": "$OBSERVATION", "kind": "confirm"}], "opinion": {"kind": "agrees", "basis": "photos"}}`,
	"reply-to-contradiction": `{"kind": "excluded", "character": "ventrites", "state": "9", "reason": "folds were counted as plates"}`,
	"return-submission":      `{"want": "photo", "view": "below", "text": "please one of the underside"}`,
	"answer-submission":      `{"text": "seen from below", "observations": [{"character": "antenna-form", "state": "serrate"}]}`,
	"settle-submission":      `{"reason": "seen in the hand"}`,
	"undetermine-submission": `{"reason": "the abdomen is missing"}`,
	"withdraw-submission":    `{"reason": "another specimen was meant"}`,
	"reopen-submission":      `{"reason": "the genitalia were looked at"}`,
	"audit-submission":       `{"reason": "a question of the lender"}`,
	"uphold-submission":      `{"reason": "dissected, and it stands"}`,
	"redetermine":            `{"family": "Buprestidae", "reason": "the first two plates are fused"}`,
	"answer-blind":           `{"state": "5"}`,
	"name-blind":             `{"family": "Elateridae"}`,
	"mentor-series":          `{"mentor": ""}`,
	"end-series":             `{"text": "You count plates well; look at the hind corners of the pronotum next."}`,
	"assess":                 `{"family": "Elateridae", "observations": {"ventrites": "5"}}`,

	"correct-label":    `{"label": {"catalogue_number": "AB-000001", "country": "Austria"}, "withheld": {"locality": "A meadow"}, "reason": "misread"}`,
	"vouch":            `{"determination": "$DETERMINATION", "verification": "3", "reason": "revision of 2026, page 12"}`,
	"publish-photos":   `{"photos": ["$PHOTO"], "license": "https://creativecommons.org/licenses/by/4.0/", "holder": "The club", "reason": "for the page on click beetles"}`,
	"unpublish-photos": `{"photos": ["$PHOTO"], "reason": "asked back by its photographer"}`,
	"print-labels":     `{"size": "18x7", "paper": "a4", "labels": [{"kind": "catalogue", "specimen": "$SPECIMEN"}]}`,

	"preview-change":  `{"edit": ` + manualEdit + `}`,
	"propose-change":  `{"edit": ` + manualEdit + `, "reason": "counted in twelve specimens"}`,
	"decide-change":   `{"status": "approved", "reason": "so it is"}`,
	"publish-release": `{"version": "2026.2", "notes": "plates of click beetles"}`,
	"reassess":        `{"confidence": 0.998}`,
	"open-reviews":    `{"groups": [{"effect": "below-confidence", "cause": "threshold"}], "reason": "too unsure by the new threshold"}`,

	"read-intake-again": `{"header": 1}`,
	"undo-intake":       `{"reason": "the table of another club"}`,
	"save-search":       `{"name": "Click beetles", "query": "family=Elateridae"}`,
	"read-news":         `{"until": "2026-05-14T12:00:00Z"}`,
	"choose-mail":       `{"address": "ida@club.example", "rhythm": "daily", "codes": ["returned"]}`,
	"set-policy": `{"reviewers": 2, "confidence": 0.95, "excluded_needs_reason": true, "experts": {}, "hold_minutes": 30, "holds_at_once": 3,` +
		` "blind_rate": 0.1, "recheck_rate": 0.05, "panel": 3, "list": {}, "reason": "as we agreed in May"}`,
}

// manualEdit says of a cell of click beetles how often they have how many plates.
const manualEdit = `{"family": "Elateridae", "character": "ventrites",` +
	` "states": [{"state": "5", "word": "usually"}, {"state": "6-7", "word": "rarely"}, {"state": "rest", "word": "never"}]}`

// quotedBody is a body as an argument for a shell, which fills in its variables.
func quotedBody(body string) string {
	body = strings.ReplaceAll(body, "'", `'\''`)
	return "'" + variableForm.ReplaceAllString(body, `'"$0"'`) + "'"
}
