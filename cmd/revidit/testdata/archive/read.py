"""Reads a Darwin Core archive with Python's own readers of ZIP, CSV and XML, and tells what is in it as JSON. Used by a test."""
import csv
import io
import json
import sys
import xml.etree.ElementTree as ET
import zipfile

text = "{http://rs.tdwg.org/dwc/text/}"
archive = zipfile.ZipFile(sys.argv[1])
damaged = archive.testzip()
if damaged:
    sys.exit(damaged + " is damaged")
meta = ET.fromstring(archive.read("meta.xml"))


def table(element):
    place = element.find(text + "files/" + text + "location").text
    rows = list(csv.reader(io.StringIO(archive.read(place).decode(element.get("encoding")), newline=""), delimiter=element.get("fieldsTerminatedBy").replace("\\t", "\t"),
                           quotechar=element.get("fieldsEnclosedBy") or None))
    rows = rows[int(element.get("ignoreHeaderLines", "0")):]
    key = element.find(text + "id")
    key = element.find(text + "coreid") if key is None else key
    names = {int(key.get("index")): "id"}
    for field in element.findall(text + "field"):
        if field.get("index") is not None:
            names.setdefault(int(field.get("index")), field.get("term"))
            if int(field.get("index")) == int(key.get("index")):
                continue
    widths = {len(r) for r in rows}
    return {"type": element.get("rowType"), "widths": sorted(widths), "columns": max(names) + 1, "rows": [{names[i]: v for i, v in enumerate(r)} for r in rows]}


eml = ET.fromstring(archive.read(meta.get("metadata")))
print(json.dumps({"files": archive.namelist(), "core": table(meta.find(text + "core")), "extensions": [table(e) for e in meta.findall(text + "extension")],
                  "title": eml.findtext("dataset/title"), "licence": ET.tostring(eml.find("dataset"), encoding="unicode")}))
