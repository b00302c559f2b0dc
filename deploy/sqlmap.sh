#!/usr/bin/env bash
# Points sqlmap (Debian's) at a demo of its own on a loopback port, as a curator who is logged in: pages and routes of the API with
# whatever they take in their address, and bodies that are asked with again and again. It ends by itself with a table, and with 1 where
# anything could be injected. Nothing leaves the machine.
#
#   deploy/sqlmap.sh [MINUTES]   at most so long, 20 where nothing is said
#
# REVIDIT_PROGRAM names a program that is built already, REVIDIT_DEMO_DATA a folder with a demo that was made before.
#
# What it cannot do: guess passwords at the login, where limits answer 429 after a few tries, and walk through forms of several steps.
set -euo pipefail
cd "$(dirname "$0")/.."
export GOTOOLCHAIN=auto
minutes=${1:-20}
fail() { printf 'sqlmap: %s\n' "$1" >&2; exit 1; }
for tool in sqlmap python3 curl go; do command -v "$tool" >/dev/null || fail "$tool is missing (sqlmap: apt-get install sqlmap)."; done

work=$(mktemp -d)
server=
end() {
  [ -z "$server" ] || kill "$server" 2>/dev/null || true
  rm -rf "$work"
}
trap end EXIT

program=${REVIDIT_PROGRAM:-$work/revidit}
[ -x "$program" ] || go build -o "$program" ./cmd/revidit
"$program" demo --data "${REVIDIT_DEMO_DATA:-$work/club}" --addr 127.0.0.1:0 >"$work/out" 2>"$work/err" &
server=$!
base=
for _ in $(seq 300); do
  base=$(sed -n 's/.*\(http:\/\/[0-9.:]*\).*/\1/p' "$work/out" | tail -n 1)
  [ -n "$base" ] && curl -sf "$base/healthz" >/dev/null && break
  kill -0 "$server" 2>/dev/null || { cat "$work/err" >&2; fail 'the demo did not start.'; }
  sleep 1
done
[ -n "$base" ] || fail 'the demo did not answer within five minutes.'

login() {
  curl -sf "$base/api/v1/sessions" -H 'Content-Type: application/json' -d "{\"login\":\"$1\",\"password\":\"pinned-and-labelled\"}" |
    python3 -c 'import json,sys; print(json.load(sys.stdin)["token"])'
}
python3 deploy/sqlmap.py "$base" "$(login odile)" "$work" "$minutes"
