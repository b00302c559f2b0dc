package web

import (
	"fmt"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
)

// registerLive adds what pages hear of the queue to the API. It is no answer that huma could write: it does not end.
func (a *api) registerLive(group *gin.RouterGroup) {
	group.GET("/queue/live", func(c *gin.Context) {
		if a.somebody(c) {
			a.queueLive(c)
		}
	})
	o := operation(http.MethodGet, "/queue/live", "queue-live", "submissions", "What others move in the queue, while it happens: server-sent events")
	o.Description = fmt.Sprintf("A stream (WHATWG HTML, server-sent events) of events of the type `moved`, whose data is a JSON array of "+
		"{\"submission\": id, \"move\": %q, %q, %q or %q}: it came before reviewers, perhaps again; somebody holds it; nobody does any more; it is closed, or with its owner. "+
		"What the caller does is left out, and nothing says what anybody thinks of a submission. A comment comes every %d seconds. The stream ends after %d minutes, or with the login: "+
		"connect again after the time of its `retry`, and read the queue anew, since what moved meanwhile is not told again. At most %d streams a person.",
		review.MoveOpened, review.MoveHeld, review.MoveFreed, review.MoveGone, int(liveHeartbeat.Seconds()), int(liveLongest.Minutes()), listenersOfOne)
	o.Responses = a.problemResponses(400, 401, 403, 429, 500, 503)
	o.Responses["200"] = &huma.Response{Description: "OK", Content: map[string]*huma.MediaType{
		"text/event-stream": {Schema: &huma.Schema{Type: huma.TypeString}}}}
	a.doors.OpenAPI().AddOperation(&o)
}
