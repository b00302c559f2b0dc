#!/usr/bin/env bash
# Sets up what the tests need and runs every check, from formatting to the browser. People and .ci/run call it alike.
#
# It installs PostgreSQL, Chromium and scikit-learn with apt where they are missing and it may (root on Debian); otherwise
# it says exactly what is missing and fails. It starts and stops every server itself and leaves nothing running.
set -euo pipefail
cd "$(dirname "$0")/.."

staticcheck_version=v0.8.2

step() { printf '\n== %s\n' "$1"; }
fail() { printf 'check: %s\n' "$1" >&2; exit 1; }

postgres_here() { compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || command -v initdb >/dev/null; }
chromium_here() { command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null; }
sklearn_here() { python3 -c 'import sklearn' 2>/dev/null || /usr/bin/python3 -c 'import sklearn' 2>/dev/null; }

step 'tools'
command -v go >/dev/null || fail 'Go is missing: install the version that go.mod names.'
command -v git >/dev/null || fail 'git is missing.'
missing=()
postgres_here || missing+=(postgresql)
chromium_here || missing+=(chromium)
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
sklearn_here || fail 'scikit-learn for python3 is still missing.'
go version

step 'formatting'
unformatted=$(git ls-files '*.go' | xargs gofmt -l)
[ -z "$unformatted" ] || fail "gofmt these files: $unformatted"

step 'vet'
go vet ./...

step 'staticcheck'
go run "honnef.co/go/tools/cmd/staticcheck@$staticcheck_version" ./...

step 'generated pages'
go tool templ generate -path web/pages >/dev/null
git diff --exit-code --stat -- '*_templ.go' || fail 'generated pages differ from their .templ files: run go tool templ generate -path web/pages and commit.'

step 'diagnosis tables'
go run ./cmd/revidit lint
go run ./cmd/revidit lint --pairs --largest 60 --strict

step 'build without C'
CGO_ENABLED=0 go build -o /dev/null ./cmd/revidit

step 'tests, both databases, browser, race detector'
# The packages that take longest begin first, so that none of them runs alone in the end.
REVIDIT_SKLEARN=1 go test -race -count=1 -timeout 40m ./web ./cmd/revidit ./models ./...

step 'all checks passed'
