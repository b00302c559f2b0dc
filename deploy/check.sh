#!/usr/bin/env bash
# Sets up what the tests need and runs every check, from formatting to the browser. People and .ci/run call it alike.
#
#   deploy/check.sh         everything, on SQLite and PostgreSQL, in a browser, with the race detector
#   deploy/check.sh quick   formatting, vet, the tables, and what needs neither PostgreSQL nor a browser: between two edits
#   deploy/check.sh browser the browser part alone and at its full length, with nothing beside it, and the figures that it measures
#   deploy/check.sh shots DIR  pictures of every page, by light and in the dark, at a desk and on a phone: to be looked at
#   deploy/check.sh clients a client in TypeScript that a generator makes of the API's document does the whole round (needs npm)
#   deploy/check.sh long    many more made-up histories than everything lives through: before a release, or after a change
#                           of what is stored
#
# It installs PostgreSQL, Chromium, xmllint, a wide font, scikit-learn, readers of PDF and of Data Matrix, and (for browser and clients) Node.js with
# apt where they are missing and it may (root on Debian); otherwise it says exactly what is missing and fails. Go fetches the toolchain that go.mod names. The script
# starts and stops every server itself and leaves nothing running. Each step prints how long it took, and how much of the
# processor, which says more on a busy machine.
set -euo pipefail
cd "$(dirname "$0")/.."
export GOTOOLCHAIN=auto

staticcheck_version=v0.8.2
govulncheck_version=v1.9.0
lighthouse_version=12.8.2
gosec_version=v2.30.0

# The program is pure Go: what is checked without C is what people run. The race detector needs C.
export CGO_ENABLED=0
# What was compiled in another folder serves again in this one.
export GOFLAGS="${GOFLAGS:+$GOFLAGS }-trimpath"
# Where there is memory, Go's compiler and checkers collect theirs later, which saves a sixth of their processor. Tests are as before.
(($(awk '/^MemTotal/ { print $2 }' /proc/meminfo) < 8000000)) || export GOGC="${GOGC:-400}" # kB
# Everything is vetted at once: go test need not do it again, hence -vet=off below.
# A program that is watched for races sleeps a second when it ends, and each photo is read by a program of its own.
export GORACE=atexit_sleep_ms=0

# What runs with the race detector: packages that start goroutines, or whose tests do. Code that runs in one goroutine only
# costs five to ten times as much there and cannot be caught at anything.
raced=(
  ./cmd/revidit/benchmark     # workers that assess side by side
  ./cmd/revidit/simulator     # made-up worlds at once
  ./cmd/revidit/stopwatch     # clients who submit at once
  ./models/blob               # many who write at once
  ./models/pgserver           # a server that is watched while it runs
  ./web/mail                  # a mail server that answers while letters are handed over
  ./review/darwincore         # rows are compressed while more are made
  ./review/service            # the library of tables, shared by all requests
)
# Of these only the tests run there in which much happens at once: started programs (which are the test binary itself, so
# that they are watched as well), kills, jobs, races for one event. The rest of their tests runs without.
partly_raced=(./models ./cmd/revidit ./web ./auth ./cmd/revidit/demo) # models waits most, and so begins first
at_once='AtOnce$|Race|Killed|KillsUnderLoad|TestServeOnPostgres|PostgresIsHung|StopsWhenTold'                     # cmd/revidit
at_once+='|BackupWhilePeopleSubmit'                                                              # cmd/revidit
at_once+='|IdempotencyKey$|Timeout|CutsOff|LoginsAreLimited|Pulse|TestPublishing$|AreBounded$'    # web
at_once+='|TakenOver|LostFromTheQueue|UnderWay|GoesOn$|NoJobIsLost'                              # models
at_once+='|TakeTurns|QueueOfWriters|FreesTheTurn|NumbersByItself'                                # models
at_once+='|TestNothingUndoesDisabling'                                                           # auth
# SQLite is compiled into the program, from C, in a package of its own that guards itself. Its own steps are not watched, which would
# make it take five times as long; what is done with it is.
unwatched_steps=(-gcflags=modernc.org/sqlite/lib=-race=false -gcflags=modernc.org/libc=-race=false)
# Watched in the packages above, which load tables and assess in every test: they start goroutines, too, but their own
# suites are long calculations; modelstest is the suite of models. The one test of confidence that shares a model is run by
# its name.
watched_elsewhere=(./review/diagnosis ./review/confidence ./models/modelstest)
# Long calculations of raced packages in one goroutine, or about time: they run without.
# What needs a browser, or the whole made-up club.
in_browser='Browser|WideFont|WithoutTheMouse|OneQuestionAfterAnother|WhatIsNoPage|Lighthouse|TestShots'
# What measures memory, which others would have their part in.
alone='^TestBenchUploads$'
unraced='^(TestHistories.*|TestBenchAssess.*|TestBenchCalibration.*|TestScikitLearn)$'

# quick leaves these to the whole check: each takes seconds, walks every route or every cell, or waits.
slow='^(TestIdempotencyKeyOnEveryChange|TestRolesOnEveryRoute|TestNothingIsGivenAway|TestBodiesOnEveryRoute|TestPulse|TestKeyPage'                  # web
slow+='|TestAShippedCellOfEachFormCanBeEdited|TestEveryShippedCellCanBeEditedAndWrittenBack|TestAFolderBringsItsOwnWords'                          # review/diagnosis
slow+='|TestExponentsFitHeldOutCases|TestPairsOfShippedTables|TestPairsAgainstSimulatedReviews|TestCalibrationError|TestOnlineApproachesRefit'     # judgement, confidence
slow+='|TestHeavyFormats.*|TestLooksOfTheSamePicture|TestNothingUndoesDisabling|TestGuessingElsewhereKeepsNobodyOut)$'                             # photo, auth
# Of the commands it tries those that start no other program.
quick_commands='^(TestNeverImports|TestConfidenceStandsAlone|TestAssess.*|TestLint.*|TestCommandLineErrors|TestUsers|TestTablesCheckIsLint|TestTablesOfOtherGroups|TestBench.*RefusesNothing|TestTheWalkLeavesNothingOut)$'

began=$SECONDS step_began='' step_cpu=0
# cpu_seconds is what this script's finished children have used, as Linux counts it.
cpu_seconds() { awk -v hz="$(getconf CLK_TCK)" '{ sub(/.*\) /, ""); printf "%d", ($14 + $15) / hz }' "/proc/$$/stat"; }
end_step() {
  [ -z "$step_began" ] || printf '   %d s, %d s of processor\n' $((SECONDS - step_began)) $(($(cpu_seconds) - step_cpu))
}
step() {
  end_step
  step_began=$SECONDS step_cpu=$(cpu_seconds)
  printf '\n== %s\n' "$1"
}
fail() { printf 'check: %s\n' "$1" >&2; exit 1; }

postgres_here() { compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || command -v initdb >/dev/null; }
chromium_here() { command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null; }
sklearn_here() { python3 -c 'import sklearn' 2>/dev/null || /usr/bin/python3 -c 'import sklearn' 2>/dev/null; }
node_here() { command -v node >/dev/null && command -v npm >/dev/null; }
# Fonts that pages are seen in (Times New Roman and Arial are taken for those of fonts-liberation), and a wide one to hold them against.
fonts=(fonts-liberation/liberation/LiberationSerif-Regular fonts-dejavu-core/dejavu/DejaVuSans-Bold)
font_here() { compgen -G "/usr/share/fonts/truetype/${1#*/}.ttf" >/dev/null; }

# in_memory lets tests keep their databases where nothing waits for a disk: each of hundreds of small ones is synced at every act,
# and what is tested is what is left after a kill, never after a power cut. Programs are run from there, too.
in_memory() {
  local memory=/dev/shm room=6291456 folder # kB
  [ -w "$memory" ] || return 0
  (($(df -k --output=avail "$memory" | tail -n 1) > room && $(awk '/^MemAvailable/ { print $2 }' /proc/meminfo) > room)) || return 0
  folder=$(mktemp -d "$memory/revidit-check-XXXXXX")
  trap "rm -rf '$folder'" EXIT
  chmod 755 "$folder" # PostgreSQL runs as another user than root
  printf '#!/bin/sh\n' >"$folder/probe" && chmod +x "$folder/probe"
  "$folder/probe" 2>/dev/null || return 0
  rm "$folder/probe"
  export TMPDIR=$folder
  unset GOTMPDIR # which goes before it
}

tools() {
  step 'tools'
  command -v go >/dev/null || fail 'Go is missing: install 1.26 or newer; it fetches the version that go.mod names.'
  command -v git >/dev/null || fail 'git is missing.'
  go version || fail 'the toolchain that go.mod names could not be fetched.'
}

# packages installs what is missing; with "node" also what Lighthouse needs.
packages() {
  local missing=() font
  [ "${1-}" != node ] || node_here || missing+=(nodejs npm)
  postgres_here || missing+=(postgresql)
  chromium_here || missing+=(chromium)
  command -v xmllint >/dev/null || missing+=(libxml2-utils)
  command -v dmtxread >/dev/null || missing+=(dmtx-utils)   # labels are read back with these
  command -v pdftoppm >/dev/null || missing+=(poppler-utils)
  for font in "${fonts[@]}"; do font_here "$font" || missing+=("${font%%/*}"); done
  sklearn_here || missing+=(python3-sklearn)
  if ((${#missing[@]})); then
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
      apt-get update -q
      DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "${missing[@]}"
    else
      fail "missing: ${missing[*]}. Install these Debian packages (as root: apt-get install ${missing[*]}) and run again."
    fi
  fi
  postgres_here || fail 'PostgreSQL server programs (initdb, postgres) are still missing.'
  chromium_here || fail 'Chromium is still missing.'
  for font in "${fonts[@]}"; do font_here "$font" || fail "a font (Debian's ${font%%/*}) is still missing."; done
  sklearn_here || fail 'scikit-learn for python3 is still missing.'
  [ "${1-}" != node ] || node_here || fail 'Node.js (node, npm) is still missing.'
}

formatting() {
  step 'formatting'
  local unformatted
  # gofmt of the toolchain that go.mod names, not the first in the path
  unformatted=$(git ls-files '*.go' | xargs "$(go env GOROOT)/bin/gofmt" -l)
  [ -z "$unformatted" ] || fail "gofmt these files: $unformatted"
}

# race_list fails where a package starts goroutines that the lists above do not know.
race_list() {
  step 'packages that start goroutines are watched'
  local known=" ${raced[*]} ${partly_raced[*]} ${watched_elsewhere[*]} " folder
  for folder in $(git grep -lE '^\s*go (func|[a-zA-Z_.]+\()|\.Go\(' -- '*.go' | xargs -n1 dirname | sort -u); do
    [[ $known == *" ./$folder "* ]] || fail "$folder starts goroutines: add it to the packages that run with the race detector, in deploy/check.sh."
  done
}

# vulnerabilities fails where a module that is built in has a known fault that a newer version mends, or that is reached.
# Faults of the standard library are printed: they are mended by the toolchain line of go.mod.
vulnerabilities() {
  step 'known vulnerabilities'
  local work
  work=$(mktemp -d)
  # In a module of its own, so that the database adds nothing to go.mod. The newest there is: a fault found today counts.
  (cd "$work" && printf 'module vulnerabilities\n' >go.mod && go mod download -json golang.org/x/vulndb@latest >vulndb.json)
  local sources version
  sources=$(sed -n 's/^\t"Dir": "\(.*\)",$/\1/p' "$work/vulndb.json")
  version=$(sed -n 's/^\t"Version": "\(.*\)",$/\1/p' "$work/vulndb.json")
  cp -r "$sources/data/osv" "$work/osv"
  chmod -R u+w "$work/osv"
  go run "golang.org/x/vulndb/cmd/indexdb@$version" -vulns "$work/osv" -out "$work/db"
  go run "golang.org/x/vuln/cmd/govulncheck@$govulncheck_version" -db "file://$work/db" -format json ./... >"$work/found.json"
  python3 deploy/vulnerabilities.py "$work/found.json" "$version" || { rm -rf "$work"; fail 'raise the modules named above.'; }
  rm -rf "$work"
}

tables() {
  step 'diagnosis tables'
  go run ./cmd/revidit tables check
  [ "${1-}" = quick ] || go run ./cmd/revidit tables check --pairs --largest 60 --strict
}

quick() {
  tools
  formatting
  race_list
  step 'vet'
  go vet ./...
  tables quick
  in_memory
  step 'tests, SQLite'
  # What was tested and has not changed is not tested again. -short leaves out long calculations.
  go test -vet=off -short -run '^(TestSQLite|TestUnknownDatabasesAreRefused|TestAPlaceTellsNoPassword)$' ./models
  go test -vet=off -short -run "$quick_commands" ./cmd/revidit
  go test -vet=off -short -skip "$slow|/^(Postgres|PostgreSQL|postgres)\$" $(go list ./... | grep -v -E '/(cmd/revidit|models|cmd/revidit/(demo|drawing|benchmark|simulator|collection)|label/sheet|key/builder)$')
}

everything() {
  tools
  packages
  formatting
  race_list
  step 'vet'
  go vet ./...
  step 'staticcheck'
  go run "honnef.co/go/tools/cmd/staticcheck@$staticcheck_version" ./...
  vulnerabilities
  step 'generated pages'
  go tool templ generate -path web/pages >/dev/null
  git diff --exit-code --stat -- '*_templ.go' || fail 'generated pages differ from their .templ files: run go tool templ generate -path web/pages and commit.'
  tables
  export REVIDIT_SKLEARN=1
  in_memory
  # These two one after the other: beside each other they take no less, and what has to answer in time does not.
  step 'tests with the race detector: both databases'
  # Those that take longest begin first, so that none of them runs alone in the end.
  race "${partly_raced[@]}" -run "$at_once"
  race "${raced[@]}"
  race ./review/confidence -run '^TestProbabilitiesAtTheSameTime$'
  step 'tests without it: both databases, browser'
  # What calculates goes on beside what waits for browsers, servers and kills.
  local said failed=0
  said=$(mktemp)
  { go test -vet=off -count=1 -timeout 40m -p 1 -run "$unraced" ./cmd/revidit/benchmark &&
    go test -vet=off -count=1 -timeout 40m -p 1 $(unwatched); } >"$said" 2>&1 &
  local calculates=$!
  go test -vet=off -count=1 -timeout 40m -skip "$at_once|$alone" "${partly_raced[@]}" || failed=1
  wait "$calculates" || failed=1
  cat "$said" && rm "$said"
  ((failed == 0)) || fail 'a test failed.'
  GOGC=100 go test -vet=off -count=1 -timeout 40m -run "$alone" ./cmd/revidit
}

race() { CGO_ENABLED=1 go test -race "${unwatched_steps[@]}" -vet=off -count=1 -timeout 40m -skip "$unraced" "$@"; }

# What browser ends with, in this order.
figures=(jobs axe_violations first_load_kb performance accessibility verdict_p95_ms quick_keys member_clicks review_keys review_px)

# browser ends with the figures that tests have printed: all others first, then those above in one line. Limits that are no times are
# held by the tests themselves.
browser() {
  tools
  packages node
  step 'lighthouse'
  local work said found name line=''
  work=$(mktemp -d)
  (cd "$work" && npm install --no-audit --no-fund --loglevel=error "lighthouse@$lighthouse_version")
  step 'browser, measured'
  said=$work/said
  REVIDIT_BROWSER=1 REVIDIT_LIGHTHOUSE="$work/node_modules/.bin/lighthouse" \
    go test -vet=off -count=1 -timeout 60m -v -run "$in_browser" ./cmd/revidit >"$said" 2>&1 ||
    { cat "$said"; rm -rf "$work"; fail 'a test in the browser failed.'; }
  grep -E '^(---|ok)' "$said"
  end_step
  step_began=''
  found=$(grep -E '^[a-z0-9_-]+=' "$said" | tr ' ' '\n')
  rm -rf "$work"
  printf '\n%s\n' "$(grep -vE "^($(IFS='|'; echo "${figures[*]}"))=" <<<"$found" | tr '\n' ' ')"
  for name in "${figures[@]}"; do
    grep -qE "^$name=." <<<"$found" || fail "no test has told $name."
    line+="$(grep -E "^$name=" <<<"$found" | tail -n 1) "
  done
  printf '%s\n' "${line% }"
}

shots() {
  [ -n "${1-}" ] || fail 'say into which folder: deploy/check.sh shots DIR'
  mkdir -p "$1"
  tools
  packages
  step 'pictures of every page'
  REVIDIT_SHOTS=$(cd "$1" && pwd) go test -vet=off -count=1 -timeout 60m -run '^TestShots$' ./cmd/revidit
}

# patterns asks gosec for patterns that are dangerous as a rule. What is left out is looked at otherwise, or meant:
#   G101  secrets in the code: names of kinds of tokens, and the hash of nobody in a test
#   G104  errors passed over: staticcheck and review
#   G115  numbers that might overflow: sizes are bounded before, with tests (review/photo)
#   G124  cookies: Secure goes with HTTPS, which the command line says, and benchmarks send cookies themselves; tests of web hold ours to their attributes
#   G204  programs started with arguments: ourselves, apart, and PostgreSQL in benchmarks; nothing that came over the network
#   G301 G302 G306  files that others may read: photos' folders are made with 0700, keys and logs with 0600; the rest is output of commands
#   G304 G703 G122  files whose name is a variable: those that a keeper names, and those in the data folder, opened through os.Root
#   G404  math/rand: drawings, simulations and dice of the demo; secrets come from crypto/rand
patterns() {
  step 'dangerous patterns'
  go run "github.com/securego/gosec/v2/cmd/gosec@$gosec_version" -quiet -exclude-generated \
    -exclude=G101,G104,G115,G122,G124,G204,G301,G302,G304,G306,G404,G703 ./... || fail 'gosec found the above: mend it, or say why not beside the list in deploy/check.sh.'
}

clients() {
  tools
  packages node
  step 'generated clients'
  REVIDIT_TYPESCRIPT_CLIENT=1 go test -vet=off -count=1 -timeout 20m -run '^TestGeneratedClients$' ./cmd/revidit
}

long() {
  tools
  packages
  patterns
  step 'made-up histories'
  REVIDIT_LONG=1 go test -vet=off -count=1 -timeout 60m -run 'TestHistories|TestUnsteadyClock' ./models
  step 'uploads of every kind'
  GOGC=100 REVIDIT_LONG=1 go test -vet=off -count=1 -timeout 60m -run '^TestBenchUploads$' ./cmd/revidit
}

# unwatched are all packages but those with tests that run with the race detector.
unwatched() { go list ./... | grep -v -x -F "$(go list "${raced[@]}" "${partly_raced[@]}")"; }

case "${1-}" in
  '') everything ;;
  quick) quick ;;
  browser) browser; exit ;; # its figures are its last line
  shots) shots "${2-}" ;;
  clients) clients ;;
  long) long ;;
  *) fail "unknown: $1. Say nothing for every check, or quick, browser, shots DIR, clients or long." ;;
esac
end_step
printf '\n== all checks passed in %d s\n' $((SECONDS - began))
