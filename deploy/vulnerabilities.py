"""Reads what govulncheck found (JSON) and says it: exit 1 where a module has a known fault that a newer version mends, or
that is reached. Faults of the standard library are only told."""
import json
import sys

text, version = open(sys.argv[1], encoding="utf-8").read(), sys.argv[2]
decoder, at, found = json.JSONDecoder(), 0, {}
while at < len(text.rstrip()):
    message, at = decoder.raw_decode(text, at)
    while at < len(text) and text[at].isspace():
        at += 1
    finding = message.get("finding")
    if finding:
        first = finding["trace"][0]
        key = (first["module"], first.get("version", ""), finding["osv"])
        fixed, reached, imported = found.get(key, ("", False, False))
        found[key] = (finding.get("fixed_version", fixed), reached or "function" in first, imported or "package" in first)
bad = 0
for (module, at_version, osv), (fixed, reached, imported) in sorted(found.items()):
    standard = module in ("stdlib", "toolchain")
    how = "reached" if reached else "imported" if imported else "not imported"
    counts = not standard and (bool(fixed) or reached)
    bad += counts
    print(f"{'FAULT' if counts else 'told'}  {module} {at_version}  {osv}  {how}; mended in {fixed or 'no version yet'}")
print(f"database {version}: {len(found)} known faults in what is built, {bad} of them to be mended here")
sys.exit(bad > 0)
