package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
)

// openRoutes are the routes for which nobody has to be logged in: what everybody sees, how one logs in, and what a link of a letter
// leads to, which is signed for one purpose and person.
var openRoutes = []string{
	"GET " + healthPath, "GET /", "GET /static/:name", "HEAD /static/:name", "GET /login", "POST /login", "POST /logout", "POST /language",
	"GET /unsubscribe/:token", "POST /unsubscribe/:token", "GET /mail/confirm/:token", "POST /mail/confirm/:token",
	"POST /api/v1/sessions", "POST /api/v1/sessions/refresh", "GET /api/v1/openapi.json", "GET /api/v1/openapi.yaml",
	"GET /api", "GET /api/v1/",
	"GET " + joinPath + ":token", "POST " + joinPath + ":token", "GET /password", "POST /password", "GET " + resetPath + ":token", "POST " + resetPath + ":token",
	"POST /login/provider", "GET " + ProviderPath, "POST " + joinPath + ":token/provider",
	"GET /login/second", "POST /login/second", "POST /login/second/passkey", "POST /login/second/passkey/end", "POST /login/passkey", "POST /login/passkey/end",
}

// routesOf are all other routes, by the act that the permission table (review.Permissions) has to allow. A server that
// finds a route in neither does not begin; TestEveryRouteAsTheTableSays walks over all of them.
var routesOf = map[review.Action][]string{
	review.ActKeepOwn: {"GET /kept/:id", "GET /visit", "GET /visit/:step", "POST /visit", "GET /seeing", "GET /news", "POST /news", "GET /news/:id", "GET /mail", "POST /mail",
		"GET /account", "POST /account/password", "POST /account/logins/end", "POST /account/logins/:id/end", "POST /account/codes", "GET /account/codes", "POST /account/codes/confirm",
		"POST /account/passkeys", "POST /account/passkeys/end", "POST /account/recovery", "POST /account/factors/remove", "GET /api/v1/me/sessions", "DELETE /api/v1/me/sessions/:id", "PUT /api/v1/me/password",
		"POST /account/provider", "POST /account/provider/confirm", "POST /account/provider/unlink",
		"POST /searches", "POST /searches/:id/remove", "DELETE /api/v1/sessions", "GET /api/v1/me/mail", "PUT /api/v1/me/mail",
		"GET /api/v1/news", "POST /api/v1/news/read", "GET /api/v1/searches", "POST /api/v1/searches", "DELETE /api/v1/searches/:id"},
	review.ActReadSelf:   {"GET /api/v1/me"},
	review.ActList:       {"GET /submissions", "GET /search", "GET /api/v1/submissions", "GET /api/v1/counts"},
	review.ActReadQueue:  {"GET /queue", "GET /queue/next", "GET /queue/live", "GET /api/v1/queue", "GET /api/v1/queue/live"},
	review.ActReadPolicy: {"GET /policy", "GET /permissions", "GET /api/v1/policy", "GET /api/v1/permissions"},
	review.ActSetPolicy:  {"POST /policy", "PUT /api/v1/policy"},
	review.ActReadPeople: {"GET /people", "GET /api/v1/people"},
	review.ActReadPerson: {"GET /people/:id", "GET /api/v1/people/:id"},
	review.ActKeepAccounts: {"GET /invitations", "POST /invitations", "POST /invitations/:id/link", "POST /invitations/:id/remove", "GET /people/:id/account", "POST /people/:id/account/readmit", "POST /people/:id/account/logins", "POST /people/:id/account/holds", "POST /people/:id/account/pass", "POST /people/:id/account/link", "GET /api/v1/invitations", "POST /api/v1/invitations", "POST /api/v1/invitations/:invitation/link",
		"POST /api/v1/invitations/:invitation/taking-back", "GET /api/v1/people/:id/account", "POST /api/v1/people/:id/account/readmission",
		"POST /api/v1/people/:id/account/logins-end", "POST /api/v1/people/:id/account/holds-end", "POST /api/v1/people/:id/account/holds-passing",
		"POST /api/v1/people/:id/account/link"},
	review.ActChangeAccount: {"POST /people/:id/account/suspend", "POST /people/:id/account/role", "POST /people/:id/account/factors", "POST /people/:id/account/museum", "POST /people/:id/account/erase", "POST /api/v1/people/:id/account/suspension", "POST /api/v1/people/:id/account/second-factor-removal", "POST /api/v1/people/:id/account/museum-login-removal", "POST /api/v1/people/:id/account/role", "POST /api/v1/people/:id/account/erasure"},
	review.ActKeepReviewers: {"POST /people/:id/families", "PUT /api/v1/people/:id/families"},
	review.ActKeepMachines:  {"GET /machines", "POST /machines", "POST /machines/tokens/:id/revoke", "GET /api/v1/machines", "POST /api/v1/machines", "DELETE /api/v1/machines/tokens/:id"},
	review.ActReadOwn:       {"GET /figures", "GET /figures/reliability", "GET /api/v1/figures/reliability"},
	review.ActReadFigures:   {"GET /figures/agreement", "POST /figures/agreement", "GET /figures/calibration", "POST /figures/calibration", "GET /figures/work", "GET /reports/year", "GET /api/v1/figures/agreement", "GET /api/v1/figures/calibration", "GET /api/v1/figures/work", "POST /api/v1/figures/anew", "GET /api/v1/reports/year"},
	review.ActRefit:         {"POST /figures/reliability", "POST /api/v1/figures/reliability/refit"},
	review.ActReadChanges:   {"GET /figures/changes", "GET /reports/determinations", "GET /api/v1/collection/changes", "GET /api/v1/reports/determinations"},
	review.ActReadLedger:    {"GET /api/v1/ledger"},
	review.ActProve:         {"GET /proof", "GET /proof/checkpoint", "GET /submissions/:id/proof", "GET /api/v1/proof", "GET /api/v1/submissions/:id/proof"},

	review.ActReadSpecimen: {"GET /specimens/:id", "GET /specimens/:id/dossier", "GET /photos/:id/:size", "GET /api/v1/specimens/:id", "GET /api/v1/specimens/:id/dossier", "GET /api/v1/photos/:id/:size"},
	review.ActCorrectLabel: {"GET /specimens/:id/label", "POST /specimens/:id/label", "PUT /api/v1/specimens/:id/label"},
	review.ActPublish:      {"POST /specimens/:id/publication", "POST /specimens/:id/publication/end", "POST /api/v1/specimens/:id/publication", "POST /api/v1/specimens/:id/publication/end"},
	review.ActVouch:        {"POST /specimens/:id/vouching", "POST /api/v1/specimens/:id/vouching"},
	review.ActHandOver:     {"GET /archive", "GET /archive/file", "GET /api/v1/archive", "GET /api/v1/handovers"},
	review.ActTakeIn: {"POST /archive/intakes", "GET /archive/intakes/:id", "POST /archive/intakes/:id/accept", "POST /archive/intakes/:id/undo", "GET /inventory", "POST /inventory", "GET /inventory/:id",
		"POST /inventory/:id/reading", "POST /inventory/:id/accept", "POST /inventory/:id/undo", "GET /api/v1/intakes", "POST /api/v1/intakes", "GET /api/v1/intakes/:intake",
		"POST /api/v1/intakes/:intake/accept", "POST /api/v1/intakes/:intake/reading", "POST /api/v1/intakes/:intake/undo"},
	review.ActPrintLabels: {"GET /labels", "POST /labels", "GET /api/v1/labels", "POST /api/v1/sheets", "GET /api/v1/sheets"},
	review.ActReadSheet:   {"GET /labels/:id", "GET /labels/:id/sheet.pdf", "GET /api/v1/sheets/:id", "GET /api/v1/sheets/:id/pdf"},

	review.ActDraft:  {"GET /submissions/new", "POST /submissions", "GET /submissions/tray", "POST /submissions/tray", "GET " + beginPath, "POST " + beginPath, "POST /api/v1/submissions"},
	review.ActUpload: {"POST /photos", "POST /api/v1/photos"},
	review.ActRead: {"GET /submissions/:id", "GET /submissions/:id/history", "GET /api/v1/submissions/:id",
		"GET /api/v1/submissions/:id/events"},
	review.ActReadPast:    {"GET /submissions/:id/as-of", "GET /submissions/:id/difference", "GET /api/v1/submissions/:id/as-of", "GET /api/v1/submissions/:id/difference"},
	review.ActRevise:      {"GET /submissions/:id/edit", "POST /submissions/:id/edit", "GET /submissions/:id/ask", "POST /submissions/:id/ask", "PUT /api/v1/submissions/:id"},
	review.ActSubmit:      {"GET /submissions/:id/check", "POST /submissions/:id/check", "POST /api/v1/submissions/:id/submit"},
	review.ActReview:      {"GET /submissions/:id/review", "POST /submissions/:id/review", "POST /api/v1/submissions/:id/reviews"},
	review.ActBlind:       {"GET /submissions/:id/blind", "POST /submissions/:id/blind", "GET /api/v1/submissions/:id/blind", "POST /api/v1/submissions/:id/blind"},
	review.ActPanel:       {"POST /submissions/:id/panel", "POST /submissions/:id/panel/leave", "POST /api/v1/submissions/:id/panel", "POST /api/v1/submissions/:id/panel/leave"},
	review.ActAnswer:      {"GET /submissions/:id/answer", "POST /submissions/:id/answer", "POST /api/v1/submissions/:id/answers"},
	review.ActHold:        {"POST /submissions/:id/hold", "POST /api/v1/submissions/:id/hold"},
	review.ActEndHold:     {"POST /submissions/:id/release", "DELETE /api/v1/submissions/:id/hold"},
	review.ActReply:       {"POST /submissions/:id/reply", "POST /api/v1/submissions/:id/replies"},
	review.ActReturn:      {"POST /submissions/:id/return", "POST /api/v1/submissions/:id/returns"},
	review.ActSettle:      {"POST /submissions/:id/settle", "POST /api/v1/submissions/:id/settlement"},
	review.ActRedetermine: {"POST /submissions/:id/redetermine", "POST /api/v1/submissions/:id/redeterminations"},
	review.ActUndetermine: {"POST /submissions/:id/undetermine", "POST /api/v1/submissions/:id/undetermination"},
	review.ActWithdraw:    {"POST /submissions/:id/withdraw", "POST /api/v1/submissions/:id/withdrawal"},
	review.ActReopen:      {"POST /submissions/:id/reopen", "POST /api/v1/submissions/:id/reopening"},
	review.ActAudit:       {"POST /submissions/:id/audit", "POST /api/v1/submissions/:id/audit"},
	review.ActReleaseSlip: {"POST /submissions/:id/release-slip", "POST /api/v1/submissions/:id/slip", "DELETE /api/v1/submissions/:id/slip"},
	review.ActUphold:      {"POST /submissions/:id/uphold", "POST /api/v1/submissions/:id/upholding"},

	review.ActAssess: {"POST /api/v1/assessments"},
	review.ActReadTables: {"GET /families", "GET /families/:name", "GET /pictures/:hash/:character/:state", "GET /plates/:hash/:plate", "GET /glossary", "GET /tables", "GET /tables/:group",
		"GET /tables/:group/sheets/:name", "GET /tables/:group/characters/:id", "GET /tables/:group/parts", "GET /tables/:group/glossary", "GET /tables/:group/compare",
		"GET /tables/:group/told", "GET /key", "GET /tables/:group/key", "GET /tables/:group/key/booklet", "GET /tables/:group/releases",
		"GET /api/v1/families", "GET /api/v1/families/:name", "GET /api/v1/families/:name/comparison", "GET /api/v1/characters", "GET /api/v1/characters/:id", "GET /api/v1/faunas",
		"GET /api/v1/key", "GET /api/v1/parts", "GET /api/v1/pictures/:character/:file", "GET /api/v1/groups", "GET /api/v1/groups/:group/releases", "GET /api/v1/groups/:group/releases/:hash"},
	review.ActEditTables: {"POST /tables/:group/releases", "GET /tables/:group/releases/new", "GET /tables/:group/changes", "POST /tables/:group/changes", "GET /tables/:group/changes/new",
		"GET /tables/:group/changes/:id", "POST /tables/:group/changes/:id", "POST /api/v1/groups/:group/changes/preview", "POST /api/v1/groups/:group/changes", "GET /api/v1/groups/:group/changes",
		"GET /api/v1/groups/:group/changes/:id", "POST /api/v1/groups/:group/changes/:id/decision", "GET /api/v1/groups/:group/release-preview", "POST /api/v1/groups/:group/releases",
		"POST /api/v1/groups/:group/imports"},
	review.ActReassess: {"GET /tables/:group/reassessments", "POST /tables/:group/reassessments", "GET /tables/:group/reassessments/:key", "POST /tables/:group/reassessments/:key",
		"GET /api/v1/groups/:group/reassessments", "POST /api/v1/groups/:group/reassessments", "GET /api/v1/groups/:group/reassessments/:key",
		"GET /api/v1/groups/:group/reassessments/:key/touched", "POST /api/v1/groups/:group/reassessments/:key/reviews"},

	review.ActFindSeries:  {"GET /series", "GET /api/v1/series"},
	review.ActBeginSeries: {"POST /series", "POST /api/v1/series"},
	review.ActReadSeries:  {"GET /series/:id", "GET /api/v1/series/:id"},
	review.ActLeaveSeries: {"POST /series/:id/leave", "POST /api/v1/series/:id/leaving"},
	review.ActMentor: {"POST /series/:id/mentor", "POST /series/:id/give-back", "POST /series/:id/end", "GET /api/v1/series/:id/seen",
		"POST /api/v1/series/:id/mentor", "POST /api/v1/series/:id/giving-back", "POST /api/v1/series/:id/end"},
}

// actOfRoute is the act of each route of routesOf.
var actOfRoute = func() map[string]review.Action {
	acts := map[string]review.Action{}
	for act, routes := range routesOf {
		for _, route := range routes {
			acts[route] = act
		}
	}
	return acts
}()

// checkRoutes fails where a route names no act and is not said to be open, or stands in the table and not in the router.
func checkRoutes(r *gin.Engine) error {
	known := map[string]bool{}
	for _, route := range r.Routes() {
		name := route.Method + " " + route.Path
		known[name] = true
		if actOfRoute[name] == "" && !slices.Contains(openRoutes, name) && !isPublicPath(route.Path) {
			return fmt.Errorf("web: %s names no act of the permission table", name)
		}
	}
	for route := range actOfRoute {
		if !known[route] {
			return fmt.Errorf("web: there is no route %s, which the permission table knows", route)
		}
	}
	return nil
}

// permissionName is the extension of an operation of the OpenAPI document that says who may do it.
const permissionName = "x-permission"

// tellPermission adds to an operation which act it is, and who may do it.
func tellPermission(_ *huma.OpenAPI, o *huma.Operation) {
	path := strings.NewReplacer("{", ":", "}", "").Replace(o.Path)
	act, known := actOfRoute[o.Method+" "+apiPrefix+path]
	if !known {
		return
	}
	if o.Extensions == nil {
		o.Extensions = map[string]any{}
	}
	o.Extensions[permissionName] = struct {
		Act  review.Action       `json:"act"`
		Rows []review.Permission `json:"rows"`
	}{act, review.PermissionsOf(act)}
}

type permissionsOutput struct {
	Body struct {
		Items []review.Permission `json:"items" nullable:"false"`
	}
}

func (a *api) registerPermissions() {
	o := operation(http.MethodGet, "/permissions", "permissions", "policy", "Who may do what: the permission table")
	o.Description = "What no row allows is refused. Each operation names its act and repeats the rows of that in " + permissionName + "."
	huma.Register(a.doors, o, a.permissions)
}

func (a *api) permissions(context.Context, *callerInput) (*permissionsOutput, error) {
	out := &permissionsOutput{}
	out.Body.Items = review.Permissions()
	return out, nil
}
