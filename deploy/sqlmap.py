"""Asks sqlmap about one address after the other, and prints what it says of each as a table. Used by sqlmap.sh."""
import json
import re
import subprocess
import sys
import time
import urllib.parse
import urllib.request

base, token, work, minutes = sys.argv[1], sys.argv[2], sys.argv[3], float(sys.argv[4])
ends = time.monotonic() + minutes * 60
api = base + "/api/v1"


def got(path):
    asked = urllib.request.Request(api + path, headers={"Authorization": "Bearer " + token})
    with urllib.request.urlopen(asked) as answer:
        return json.load(answer)


line = got("/submissions?size=1")["items"][0]
view = got("/submissions/" + line["id"])
known = {"id": line["id"], "specimen": view["specimen"]["id"], "group": "coleoptera-adults", "name": "Elateridae", "size": "thumb",
         "character": "antenna-form", "file": "serrate.svg", "hash": view["assessment"]["release"], "key": "none", "intake": "none"}


def value(schema):
    """What a parameter is asked with: something that it takes."""
    if "enum" in schema:
        return next((str(v) for v in schema["enum"] if v != ""), "")
    kind = schema.get("type")
    if isinstance(kind, list):
        kind = kind[0]
    return {"integer": "1", "number": "1", "boolean": "true", "array": "a"}.get(kind, "beetle")


# Those that answer with a stream, sign out, or hold no text of ours.
passed_over = {"/queue/live", "/key"}


def targets():
    with urllib.request.urlopen(api + "/openapi.json") as answer:
        document = json.load(answer)
    for path, operations in sorted(document["paths"].items()):
        o = operations.get("get")
        if o is None or path in passed_over:
            continue
        filled = path.replace("/specimens/{id}", "/specimens/" + known["specimen"])
        for name, content in known.items():
            filled = filled.replace("{" + name + "}", content)
        query = {p["name"]: value(p["schema"]) for p in o.get("parameters", []) if p["in"] == "query" and p["name"] not in ("cursor", "size")}
        if query:
            yield filled, api + filled + "?" + urllib.parse.urlencode(query), None
        if "{" in path:  # what stands in the path is tried, too
            yield filled + "*", api + filled + "*", None
    for page in ("/submissions?q=beetle&family=Elateridae&status=open&drawer=a", "/queue?family=Elateridae&trip=a&drawer=b", "/search?q=ida", "/people?name=o",
                 "/submissions/" + known["id"] + "*", "/specimens/" + known["specimen"] + "*", "/tables/coleoptera-adults/compare?a=Elateridae&b=Buprestidae",
                 "/labels?list=submissions&status=confirmed&family=Elateridae", "/figures/changes?from=2000-01-01&which=settled", "/reports/determinations?from=2000-01-01&by=person",
                 "/published/" + known["specimen"] + "*"):
        yield page, base + page, None
    yield "POST /assessments", api + "/assessments", '{"family":"Elateridae","observations":{"antenna-form":"serrate"}}'
    yield "POST /news/read", api + "/news/read", '{"id":"none"}'
    yield "POST /searches/none", api + "/searches/none*", None


def ask(address, body):
    command = ["sqlmap", "-u", address, "--batch", "--disable-coloring", "--level=1", "--risk=1", "--technique=BEUS", "--timeout=10", "--retries=1",
               "--flush-session", "--ignore-code=400,404,409,429,503", "--skip-waf", "--output-dir=" + work + "/said",
               "--headers=Authorization: Bearer " + token, "--cookie=revidit=" + token, "-v", "1"]
    if body:
        command += ["--data=" + body, "--headers=Authorization: Bearer " + token + "\nContent-Type: application/json"]
    left = max(5, min(180, ends - time.monotonic()))
    try:
        said = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=left, text=True).stdout
    except subprocess.TimeoutExpired as late:
        said = (late.stdout or b"").decode(errors="replace") + "\nout of time"
    return said


found = unfinished = tried = parameters = 0
print(f"{'address':70} {'tried':>6} {'found':>6}")
for name, address, body in targets():
    if time.monotonic() > ends:
        unfinished += 1
        print(f"{name[:70]:70} {'-':>6} not asked: out of time")
        continue
    said = ask(address, body)
    looked = set(re.findall(r"(?:testing if|testing for SQL injection on) ?\(?(?:custom )?([^\n]*?parameter '[^']+')", said))
    looked = {re.sub(r".*parameter '", "", p) for p in looked}
    bad = re.findall(r"^Parameter: .*$|.*identified the following injection.*", said, re.M)
    tried, parameters, found = tried + 1, parameters + len(looked), found + len(bad)
    note = ""
    if "out of time" in said:
        unfinished, note = unfinished + 1, " not to its end"
    elif not looked:
        note = " " + (re.findall(r"\[(?:CRITICAL|ERROR)\] (.*)", said) or ["nothing tried"])[0][:60]
    print(f"{name[:70]:70} {len(looked):6} {len(bad):6}{note}", flush=True)
    for line in bad:
        print("    " + line)
print(f"\naddresses={tried} parameters={parameters} unfinished={unfinished} injectable={found}")
if tried == 0 or parameters == 0:
    sys.exit("sqlmap tried nothing")
sys.exit(1 if found else 0)
