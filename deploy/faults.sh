#!/usr/bin/env bash
# Does to the program and its databases what happens to them in years: kills, full disks, databases that stop, hang or vanish,
# and clocks that are set back. Prints a table, and in the end a line for a program to read:
#
#   kills=… acknowledged=… lost=… half=… verify=ok|broken
#
#   deploy/faults.sh        300 kills on each database: half an hour or so
#   deploy/faults.sh N      N kills on each
#
# Full disks are small ones in memory, which only root on Linux can mount; elsewhere these lines say "skipped". Servers that are
# harmed are the script's own. deploy/check.sh runs the same tests with a few kills.
set -euo pipefail
cd "$(dirname "$0")/.."
export GOTOOLCHAIN=auto CGO_ENABLED=0

kills=${1:-300}
[[ $kills =~ ^[1-9][0-9]*$ ]] || { echo "faults: $kills is no number of kills" >&2; exit 2; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
chmod 755 "$work" # PostgreSQL runs as somebody else
go test -c -o "$work/revidit.test" ./cmd/revidit
go test -c -o "$work/models.test" ./models

failed=0
printf '%-34s %-10s %7s\n' fault result seconds
# try runs one test in the folder of its package, and prints a line of the table.
try() {
  local what=$1 package=$2 binary=$3 name=$4 began=$SECONDS result=ok
  local log="$work/$name.log"
  (cd "$package" && "$work/$binary" -test.v -test.timeout=3h -test.run "^$name\$") >"$log" 2>&1 || result=FAILED
  grep -q "^ *--- PASS: $name" "$log" || [ "$result" = FAILED ] || result=skipped
  [ "$result" != FAILED ] || { failed=1; cp "$log" "${TMPDIR:-/tmp}/revidit-$name.log"; }
  printf '%-34s %-10s %7d\n' "$what" "$result" $((SECONDS - began))
}

REVIDIT_KILLS=$kills try "killed at $kills points, both" cmd/revidit revidit.test TestKillsUnderLoad
try 'disk full, SQLite' models models.test TestSQLiteDiskIsFull
try 'disk full, PostgreSQL' models models.test TestPostgresDiskIsFull
try 'disk full, served' cmd/revidit revidit.test TestServeOnAFullDisk
try 'PostgreSQL killed, started again' models models.test TestPostgresIsKilled
try 'PostgreSQL hung' models models.test TestPostgresIsHung
try 'PostgreSQL hung, served' cmd/revidit revidit.test TestServeWhilePostgresIsHung
try 'SQLite file gone' models models.test TestSQLiteFileIsGone
try 'SQLite file gone, served' cmd/revidit revidit.test TestServeWithoutItsDatabaseFile
try 'SQLite locked' models models.test TestSQLiteIsLocked
try 'SQLite locked, served' cmd/revidit revidit.test TestServeWhileTheFileIsLocked
try 'clock set back, SQLite' models models.test TestUnsteadyClockSQLite
try 'clock set back, PostgreSQL' models models.test TestUnsteadyClockPostgres

echo
[ "$failed" = 0 ] || echo "What failed is told in ${TMPDIR:-/tmp}/revidit-NAME.log."
grep -h '^faults ' "$work/TestKillsUnderLoad.log" | awk '
  { for (i = 3; i <= NF; i++) { split($i, f, "="); if (f[1] == "verify") { if (f[2] != "ok") broken = 1 } else sum[f[1]] += f[2] } n++ }
  END {
    if (n < 2) broken = 1 # a database that did not come to its end
    printf "kills=%d acknowledged=%d lost=%d half=%d verify=%s\n", sum["kills"], sum["acknowledged"], sum["lost"], sum["half"], broken ? "broken" : "ok"
  }'
exit "$failed"
