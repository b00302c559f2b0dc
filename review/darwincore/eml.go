package darwincore

import (
	"encoding/hex"
	"io"
	"strings"
	"time"
)

const emlName = "eml.xml"

// about is what the description of the whole tells, in the Ecological Metadata Language 2.2.0 (https://eml.ecoinformatics.org, from memory).
type about struct {
	*Options
	id      [16]byte
	changed time.Time // of the record that changed last
	first   string    // day of collecting, the earliest and the latest
	last    string
}

// write writes the same bytes for the same content: its date is that of the last change, not that of writing.
func (a *about) write(to io.Writer) error {
	var b strings.Builder
	line := func(text string) { b.WriteString(text + "\n") }
	day := a.changed.Format(time.DateOnly)
	line(`<?xml version="1.0" encoding="UTF-8"?>`)
	line(`<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" ` +
		`xsi:schemaLocation="https://eml.ecoinformatics.org/eml-2.2.0 https://eml.ecoinformatics.org/eml-2.2.0/eml.xsd" ` +
		`packageId="` + urn + a.uuid() + `" system="` + urn[:8] + `" scope="system" xml:lang="en">`)
	line("  <dataset>")
	line("    <title>" + attribute(a.Title) + "</title>")
	a.party(&b, "creator")
	a.party(&b, "metadataProvider")
	line("    <pubDate>" + day + "</pubDate>")
	line("    <language>en</language>")
	line("    <abstract><para>Specimens with the history of their determinations, written by Revidit. Places are as exact as the rule of the collection lets them out: " +
		"dataGeneralizations and informationWithheld say what was done.</para></abstract>")
	line("    <intellectualRights><para>" + attribute(a.License) + "</para></intellectualRights>")
	if a.first != "" {
		line("    <coverage><temporalCoverage><rangeOfDates><beginDate><calendarDate>" + a.first + "</calendarDate></beginDate><endDate><calendarDate>" + a.last +
			"</calendarDate></endDate></rangeOfDates></temporalCoverage></coverage>")
	}
	a.party(&b, "contact")
	line("  </dataset>")
	line("</eml:eml>")
	_, err := io.WriteString(to, b.String())
	return err
}

func (a *about) party(b *strings.Builder, role string) {
	b.WriteString("    <" + role + "><organizationName>" + attribute(a.Organization) + "</organizationName>")
	if a.Contact != "" {
		b.WriteString("<electronicMailAddress>" + attribute(a.Contact) + "</electronicMailAddress>")
	}
	b.WriteString("</" + role + ">\n")
}

// uuid is of the version for values that are made otherwise (RFC 9562, section 5.8).
func (a *about) uuid() string {
	id := a.id
	id[6], id[8] = id[6]&0x0f|0x80, id[8]&0x3f|0x80
	digits := hex.EncodeToString(id[:])
	return digits[:8] + "-" + digits[8:12] + "-" + digits[12:16] + "-" + digits[16:20] + "-" + digits[20:]
}

// collected widens the time that the specimens were collected in.
func (a *about) collected(from, to string) {
	if from == "" {
		return
	}
	if to == "" {
		to = from
	}
	if a.first == "" || from < a.first {
		a.first = from
	}
	if to > a.last {
		a.last = to
	}
}
