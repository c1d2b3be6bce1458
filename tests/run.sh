#!/usr/bin/env bash
# The one test command: installs what the tests need (Debian packages, NuGet by restore), builds, and runs everything.
#   bash tests/run.sh            all of it, as CI does
#   bash tests/run.sh --quick    unit tests only
#   DRIFTWATCH_LONG=1            the long simulations in full instead of their small fixed set
# The last line counts: 'N passed, N failed' (', N skipped' may follow). Nothing is skipped silently: what can't be
# installed is a failure.
set -uo pipefail
cd "$(dirname "$0")/.."
export DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1
# Pages, reports and charts as they looked in this run, for a person to look at; where CI keeps files, it keeps this folder.
export DRIFTWATCH_SCREENSHOTS=${DRIFTWATCH_SCREENSHOTS:-$PWD/artifacts/screenshots}
logs=$(mktemp -d)
policy=/usr/sbin/policy-rc.d policy_is_ours=no root=()
trap 'allow_services; rm -rf "$logs"' EXIT
passed=0 failed=0 skipped=0
failures=()
quick=no
[ "${1:-}" = --quick ] && quick=yes

# The failures are told once more at the end: the output of what ran after them is long.
finish() {
    [ "${#failures[@]}" -eq 0 ] || printf 'FAILED: %s\n' "${failures[@]}"
    line="$passed passed, $failed failed"
    [ "$skipped" -gt 0 ] && line="$line, $skipped skipped"
    echo "$line"
    [ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
    exit $?
}

fail() {
    echo "FAILED: $1"
    failures+=("$1")
    failed=$((failed + 1))
}

# What the system tests drive, by the command or file that shows it is there, and the Debian package that brings it. A
# file of the package's own, never its folder: a second package may fill the same folder with what is no use alone.
needs() {
    cat <<'LIST'
socat socat
/usr/bin/chromium chromium
/usr/lib/python3/dist-packages/pymodbus/__init__.py python3-pymodbus
/usr/lib/python3/dist-packages/serial/__init__.py python3-serial
/usr/lib/python3/dist-packages/serial_asyncio/__init__.py python3-serial-asyncio
/usr/lib/python3/dist-packages/aiosmtpd/__init__.py python3-aiosmtpd
/usr/lib/python3/dist-packages/webvtt/__init__.py python3-webvtt
/usr/lib/python3/dist-packages/dbus/__init__.py python3-dbus
/usr/lib/python3/dist-packages/gi/__init__.py python3-gi
/usr/sbin/mosquitto mosquitto
/usr/bin/mosquitto_sub mosquitto-clients
/usr/bin/notify-send libnotify-bin
/usr/bin/dbus-daemon dbus-daemon
/usr/bin/faketime faketime
/usr/bin/strace strace
/usr/bin/systemd-analyze systemd
/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf fonts-dejavu-core
curl curl
/usr/bin/pdftotext poppler-utils
/usr/bin/victoria-metrics victoria-metrics
/usr/bin/influxd influxdb
Rscript r-base-core
/usr/lib/R/site-library/jsonlite/DESCRIPTION r-cran-jsonlite
/usr/lib/R/site-library/spc/DESCRIPTION r-cran-spc
/usr/lib/R/site-library/strucchange/DESCRIPTION r-cran-strucchange
/usr/lib/R/site-library/sandwich/DESCRIPTION r-cran-sandwich
/usr/lib/R/library/nlme/DESCRIPTION r-cran-nlme
/usr/lib/R/library/MASS/DESCRIPTION r-cran-mass
/usr/lib/R/site-library/robustbase/DESCRIPTION r-cran-robustbase
/usr/lib/R/site-library/mcmc/DESCRIPTION r-cran-mcmc
/usr/lib/python3/dist-packages/scipy/__init__.py python3-scipy
/usr/lib/python3/dist-packages/statsmodels/api.py python3-statsmodels
/usr/lib/python3/dist-packages/astropy/timeseries/__init__.py python3-astropy
LIST
}

# The servers are started by the tests and the benchmarks themselves, on ports and folders of their own: the services that
# come with their packages must not start, now or at the next boot.
forbid_services() {
    [ -e "$policy" ] && return
    policy_is_ours=yes
    printf '#!/bin/sh\nexit 101\n' | "${root[@]}" tee "$policy" >/dev/null
    "${root[@]}" chmod 755 "$policy"
}

allow_services() {
    [ "$policy_is_ours" = no ] && return
    policy_is_ours=no
    "${root[@]}" rm -f "$policy"
}

install_packages() {
    local missing=() server
    while read -r what package; do
        case "$what" in
            /*) [ -e "$what" ] || missing+=("$package") ;;
            *) command -v "$what" >/dev/null || missing+=("$package") ;;
        esac
    done < <(needs)
    [ "${#missing[@]}" -eq 0 ] && return 0
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || { echo "The tests need: ${missing[*]}. Install them as root, or install sudo."; return 1; }
        root=(sudo)
    fi
    echo "Installing ${missing[*]}"
    forbid_services
    "${root[@]}" apt-get update -qq >"$logs/apt" 2>&1 \
        && DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >>"$logs/apt" 2>&1 \
        || { tail -n 20 "$logs/apt"; return 1; }
    allow_services
    for server in influxdb victoria-metrics mosquitto; do
        case " ${missing[*]} " in
            *" $server "*) "${root[@]}" systemctl disable "$server" >>"$logs/apt" 2>&1 || true ;;
        esac
    done
}

# Runs one test project, or the tests of it that a filter names, into a log of its own: several may go on at once.
start_tests() {
    local name=$1 project=$2 limit=$3
    shift 3
    timeout "$limit" dotnet test "tests/$project" -c Release --no-build --nologo -v q --logger "console;verbosity=minimal" \
        --logger "trx;LogFileName=$logs/$name.trx" "$@" >"$logs/$name.log" 2>&1
    echo $? >"$logs/$name.status"
}

# A line for each test that failed: its name and what it said, up to its stack.
failed_tests() {
    awk '
        /^ *Failed [^ ].* \[[^]]*\]$/ { if (line != "") print line; line = $0; sub(/^ *Failed /, "", line); sub(/ \[[^]]*\]$/, "", line); said = 1; next }
        /^ *Stack Trace:/ { said = 0 }
        said && !/^ *(Error Message:)? *$/ { if (length(line) < 900) { sub(/^ +/, ""); line = line " | " $0 } }
        END { if (line != "") print line }'
}

# Shows a log and adds up what its runner counted; a run that counted nothing is a failure.
count_tests() {
    local name=$1 log="$logs/$1.log" status counts
    echo "== $name"
    cat "$log"
    echo "the slowest:"
    sed -n 's/.*testName="\([^"]*\)".*duration="\([^"]*\)".*/  \2 \1/p' "$logs/$name.trx" 2>/dev/null | sort -r | head -n 12
    status=$(cat "$logs/$name.status")
    counts=$(sed -n 's/.*Failed: *\([0-9]*\), Passed: *\([0-9]*\), Skipped: *\([0-9]*\).*/\1 \2 \3/p' "$log" | tail -n 1)
    if [ -z "$counts" ]; then
        fail "$name counted no tests (exit code $status)"
        return
    fi
    read -r f p s <<<"$counts"
    while read -r test; do
        failures+=("$name: $test")
    done < <(failed_tests <"$log")
    failed=$((failed + f)) passed=$((passed + p)) skipped=$((skipped + s))
    [ "$status" -ne 0 ] && [ "$f" -eq 0 ] && fail "$name ended with exit code $status"
}

# Runs one script as one test.
run_script() {
    echo "== $1"
    if timeout "$2" bash "tests/$1"; then
        passed=$((passed + 1))
    else
        fail "tests/$1"
    fi
}

[ "$quick" = yes ] || install_packages || fail "what the tests need could not be installed"
echo "== build"
if ! dotnet build DriftWatch.sln -c Release -v q -nologo -clp:ErrorsOnly; then
    fail "the build"
    finish
fi

rm -rf "$PWD/artifacts/screenshots"
mkdir -p "$DRIFTWATCH_SCREENSHOTS"
start_tests DriftWatch.Tests DriftWatch.Tests 900
count_tests DriftWatch.Tests
if [ "$quick" = no ]; then
    run_script first-command.sh 120
    run_script replay-identity.sh 300
    run_script golden-numbers.sh 300
    # Both halves wait more than they work, for timers, servers and a browser: side by side they take the longer one's time.
    start_tests "DriftWatch.SystemTests, pages" DriftWatch.SystemTests 1350 --filter 'FullyQualifiedName~SystemTests.Page.' &
    start_tests "DriftWatch.SystemTests, the rest" DriftWatch.SystemTests 1350 --filter 'FullyQualifiedName!~SystemTests.Page.' &
    wait
    count_tests "DriftWatch.SystemTests, pages"
    count_tests "DriftWatch.SystemTests, the rest"
    run_script benchmark-smoke.sh 600
    echo "pictures of pages and reports: $(find "$DRIFTWATCH_SCREENSHOTS" -type f | wc -l) in artifacts/screenshots, or where DRIFTWATCH_SCREENSHOTS says"
fi
finish
