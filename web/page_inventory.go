package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// registerInventoryPages adds what comes in from the table of an old collection.
func (s *Server) registerInventoryPages(p *gin.RouterGroup) {
	p.GET("/inventory", s.inventoriesPage)
	p.POST("/inventory", s.planInventory)
	p.GET("/inventory/:id", s.inventoryPage)
	p.POST("/inventory/:id/reading", s.readAgain)
	p.POST("/inventory/:id/accept", s.acceptInventory)
	p.POST("/inventory/:id/undo", s.undoInventory)
}

func (s *Server) inventoriesPage(c *gin.Context) {
	s.showInventories(c, http.StatusOK, pages.NewForm(nil))
}

func (s *Server) showInventories(c *gin.Context, status int, form pages.Form) {
	all, err := s.Service.Intakes(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Inventories(site, form, all) })
}

// planInventory tells what a table would bring.
func (s *Server) planInventory(c *gin.Context) {
	if actor := actorOf(c); !review.May(actor, review.ActTakeIn, "") { // before anything is read
		s.fail(c, review.Forbidden(actor, review.ActTakeIn, ""))
		return
	}
	in, err := s.sentFile(c, s.planTable)
	switch {
	case err == nil:
		seeOther(c, "/inventory/"+in.ID)
	case again(err):
		s.showInventories(c, pageStatus(err), pages.NewForm(nil).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

func (s *Server) planTable(ctx context.Context, actor review.Actor, name string, from io.Reader) (in review.Intake, err error) {
	file, err := receiveFile(from, service.MostInventory)
	if err != nil {
		return in, err
	}
	in, err = s.Service.PlanInventory(service.Unhurried(ctx), actor, service.IntakeFile{Name: name, From: file, Size: file.size}, nil)
	if failed := file.close(); err == nil && failed != nil {
		err = fmt.Errorf("remove a file: %w", failed)
	}
	return in, err
}

func (s *Server) inventoryPage(c *gin.Context) { s.showInventory(c, http.StatusOK, nil) }

// showInventory shows a plan; failed is the form that came back.
func (s *Server) showInventory(c *gin.Context, status int, failed func(*review.InventoryReading) pages.Form) {
	after, err := strconv.Atoi(c.DefaultQuery("after", "0"))
	if err != nil || after < 0 {
		after = 0
	}
	all := c.Query("all") != ""
	v, err := s.Service.Intake(c.Request.Context(), actorOf(c), c.Param("id"), !all, after)
	if err == nil && v.Format != service.FormatInventory {
		err = review.Errorf(review.KindNotFound, "There is no such intake, or it was not accepted in time: send the file again.")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.InventoryData{IntakeView: v, Form: pages.NewForm(pages.ReadingValues(v.Reading)), All: all}
	if failed != nil {
		d.Form = failed(v.Reading)
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Inventory(site, d) })
}

// readAgain plans a table anew, as the form says that it is to be read.
func (s *Server) readAgain(c *gin.Context) {
	s.moveInventory(c, func(ctx context.Context, sent *sentForm) error {
		wanted, err := wantedReading(sent)
		if err != nil {
			return err
		}
		_, err = s.Service.ReadAgain(service.Unhurried(ctx), actorOf(c), c.Param("id"), wanted)
		return err
	})
}

func (s *Server) acceptInventory(c *gin.Context) {
	s.moveInventory(c, func(ctx context.Context, sent *sentForm) error {
		plan, err := strconv.Atoi(sent.get("plan"))
		if err != nil || plan < 1 {
			return review.Invalidf("plan", "is missing; load the page again")
		}
		_, err = s.Service.AcceptIntake(ctx, actorOf(c), c.Param("id"), plan)
		return err
	})
}

func (s *Server) undoInventory(c *gin.Context) {
	s.moveInventory(c, func(ctx context.Context, sent *sentForm) error {
		_, err := s.Service.UndoIntake(ctx, actorOf(c), c.Param("id"), sent.text("reason"))
		return err
	})
}

func (s *Server) moveInventory(c *gin.Context, do func(context.Context, *sentForm) error) {
	sent, err := s.textForm(c)
	if err == nil {
		_, err = s.once(c, sent, func(ctx context.Context) error { return do(ctx, sent) })
	}
	switch {
	case err == nil:
		seeOther(c, "/inventory/"+c.Param("id"))
	case again(err) && sent != nil:
		s.showInventory(c, pageStatus(err), func(r *review.InventoryReading) pages.Form {
			return pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil).Columns(r)
		})
	default:
		s.fail(c, err)
	}
}

// wantedReading is what a form says of how a table is read. Whoever changes how it is cut leaves it to the program what the columns hold.
func wantedReading(sent *sentForm) (*review.InventoryReading, error) {
	r := &review.InventoryReading{Encoding: sent.get("encoding"), Separator: sent.get("separator"), Sheet: sent.get("sheet")}
	var err error
	if r.Header, err = wholeOr(sent.get("header"), 0); err != nil {
		return nil, review.Invalidf("header", "must be a row from 1 to 1000")
	}
	for i := 0; sent.values["columns."+strconv.Itoa(i)+".means"] != nil && i <= review.MostColumns; i++ {
		at := "columns." + strconv.Itoa(i)
		col := review.InventoryColumn{Means: review.Meaning(sent.get(at + ".means")), Order: review.DateOrder(sent.get(at + ".order")), East: sent.get(at + ".east")}
		if col.Century, err = wholeOr(sent.get(at+".century"), 0); err != nil {
			return nil, review.Invalidf(at+".century", "must be a year from 1700 to 2100, or empty")
		}
		r.Columns = append(r.Columns, col)
	}
	return r, nil
}

func wholeOr(text string, none int) (int, error) {
	if text = strings.TrimSpace(text); text == "" {
		return none, nil
	}
	return strconv.Atoi(text)
}
