package web

import (
	"github.com/gin-gonic/gin"

	"revidit/review/audit"
)

// agreementLine is a line of agreement as a file: on a character, a region, all, or of a pair.
type agreementLine struct {
	Looks    audit.Looks `json:"looks"`
	Observer bool        `json:"observer"`
	Of       string      `json:"of"` // all, region, character or pair
	Name     string      `json:"name"`
	Other    string      `json:"other,omitempty"` // of a pair
	Method   string      `json:"method"`
	audit.Coefficient
}

func (s *Server) agreementFile(c *gin.Context, a audit.Agreement, names map[string]string) {
	var lines []agreementLine
	for _, set := range a.Sets {
		add := func(of, name, other, method string, k audit.Coefficient) {
			lines = append(lines, agreementLine{set.Looks, set.Observer, of, name, other, method, k})
		}
		add("all", "", "", "alpha", set.Overall.Alpha)
		for _, l := range set.Regions {
			add("region", l.Name, "", "alpha", l.Alpha)
		}
		for _, l := range set.Characters {
			add("character", l.Name, "", "alpha", l.Alpha)
		}
		for _, p := range set.Pairs {
			add("pair", names[p.A], names[p.B], "kappa", p.Kappa)
		}
	}
	sendAll(s, c, "agreement", []string{"looks", "observer", "of", "name", "other", "method", "value", "standard_error", "observed", "expected", "units", "ratings"}, lines,
		func(l *agreementLine) []any {
			return []any{string(l.Looks), l.Observer, l.Of, l.Name, l.Other, l.Method, l.Value, l.StandardError, l.Observed, l.Expected, l.Units, l.Ratings}
		})
}

// calibrationLine is a bin of the reliability diagram.
type calibrationLine struct {
	Claim string `json:"claim"` // opening or closing
	audit.Bin
}

func (s *Server) calibrationFile(c *gin.Context, cal audit.Calibration) {
	var lines []calibrationLine
	for claim, f := range map[string]audit.Forecasts{"opening": cal.Opening, "closing": cal.Closing} {
		for _, b := range f.Bins {
			lines = append(lines, calibrationLine{claim, b})
		}
	}
	sendAll(s, c, "calibration", []string{"claim", "cases", "claimed", "least", "most", "observed", "low", "high"}, lines, func(l *calibrationLine) []any {
		return []any{l.Claim, l.Cases, l.Claimed, l.Least, l.Most, l.Observed, l.Low, l.High}
	})
}

// reliabilityLine is what is known of a person, or in total of a role, on a region of the body.
type reliabilityLine struct {
	Person string `json:"person,omitempty"`
	Name   string `json:"name,omitempty"`
	Role   string `json:"role"`
	audit.RegionFigures
	People int `json:"people"`
}

func (s *Server) reliabilityFile(c *gin.Context, f audit.ReliabilityFigures) {
	var lines []reliabilityLine
	for _, p := range f.People {
		for _, r := range p.Regions {
			lines = append(lines, reliabilityLine{p.Person, p.Name, string(p.Role), r, 1})
		}
	}
	for _, t := range f.Totals {
		lines = append(lines, reliabilityLine{Role: string(t.Role), RegionFigures: audit.RegionFigures{Region: t.Region, Known: true, Accuracy: t.Accuracy, Verdicts: t.Reports}, People: t.People})
	}
	sendAll(s, c, "reliability", []string{"person", "name", "role", "region", "known", "accuracy", "standard_error", "reports", "blind", "people"}, lines,
		func(l *reliabilityLine) []any {
			return []any{l.Person, l.Name, l.Role, l.Region, l.Known, l.Accuracy, l.StandardError, l.Verdicts, l.Blind, l.People}
		})
}
