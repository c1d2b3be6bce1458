#!/usr/bin/env bash
# The same night, live and judged: a live run with late samples, a step of the wall clock, a kill -9, an
# acknowledgement, a reload and a baseline; then the log is exported, judged, and the finding lines compared byte for
# byte with those the live run stored.
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
work=$(mktemp -d)
dotnet=$(command -v dotnet)
program="$root/src/DriftWatch/bin/Release/net10.0/driftwatch.dll"
[ -f "$program" ] || dotnet build src/DriftWatch -c Release -v q -nologo
pids=()
stop_all() {
    for pid in "${pids[@]}"; do kill -9 "$pid" 2>/dev/null || true; wait "$pid" 2>/dev/null || true; done
    rm -rf "$work"
}
trap stop_all EXIT
give_up() {
    echo "replay identity: $1"
    tail -n 30 "$work"/*.log 2>/dev/null || true
    exit 1
}

free_port() { python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'; }
meter_port=$(free_port)
page_port=$(free_port)
api="http://127.0.0.1:$page_port/api/v1/benches/practice"

# The practice bench, and beside it a multimeter whose replies are often late.
bench="$work/bench.toml"
{
    cat device-profiles/practice-rig/bench.toml
    cat <<TOML

[[instrument]]
id = "meter"
label = "Bench meter"
profile = "multimeter-scpi-tcp"
tcp = { host = "127.0.0.1", port = $meter_port }
reply-timeout = "2 s"

[[channel]]
id = "meter-volts"
label = "Five volt rail by the meter"
unit = "V"
instrument = "meter"
input = "dc-volts"
period = "200 ms"
TOML
} >"$bench"

python3 tests/slow-multimeter.py "$meter_port" 7 >"$work/meter.out" 2>&1 &
pids+=($!)

# The wall clock is stepped for this process alone, by a preloaded library that reads its offset from a file.
faketime=$(ls /usr/lib/*/faketime/libfaketime.so.1 | head -n 1)
echo "+0" >"$work/clock"
start_watch() {
    LD_PRELOAD="$faketime" FAKETIME_TIMESTAMP_FILE="$work/clock" FAKETIME_CACHE_DURATION=1 \
        FAKETIME_DONT_FAKE_MONOTONIC=1 DONT_FAKE_MONOTONIC=1 FAKETIME_FORCE_MONOTONIC_FIX=0 \
        "$dotnet" "$program" watch "$bench" --store "$work/store" --listen "127.0.0.1:$page_port" >>"$work/watch.log" 2>&1 &
    watch_pid=$!
    pids+=("$watch_pid")
    for _ in $(seq 100); do
        curl -fsS "http://127.0.0.1:$page_port/readyz" >/dev/null 2>&1 && return 0
        kill -0 "$watch_pid" 2>/dev/null || give_up "the service ended"
        sleep 0.2
    done
    give_up "the service was not ready within 20 s"
}
act() {
    curl -fsS -H 'Content-Type: application/json' -d "$2" "$api/commands/$1" >>"$work/acts.log" || give_up "$1 was refused"
}

start_watch
sleep 8
act mark '{"by":"R. Thrift","note":"reel on, leader cleaned"}'
act baseline '{"by":"R. Thrift"}'
sleep 3
echo "-1h" >"$work/clock"
sleep 4
kill -9 "$watch_pid"
wait "$watch_pid" 2>/dev/null || true
sleep 1
start_watch
# A new limit comes with a reload; what it finds is acknowledged.
cat >>"$bench" <<'TOML'

[[channel.limit]]
side = "high"
severity = "advisory"
value = 4.0
TOML
act reload '{"by":"R. Thrift"}'
sleep 4
finding=$(curl -fsS "$api/findings/open" | python3 -c '
import json, sys
items = json.load(sys.stdin)["items"]
print((items[0].get("line") or items[0].get("finding") or items[0])["id"] if items else "")')
[ -n "$finding" ] || give_up "nothing was found that could be acknowledged"
act acknowledge "{\"by\":\"R. Thrift\",\"finding\":\"$finding\"}"
sleep 2
echo "+2h" >"$work/clock"
sleep 4
kill -TERM "$watch_pid"
wait "$watch_pid" || give_up "the service did not stop cleanly"

store="$work/store/practice"
"$dotnet" "$program" export "$store" --format log --out "$work/night.dwlog.gz" >"$work/export.log" 2>&1 || give_up "export of the log failed"
"$dotnet" "$program" export "$store" --format findings --out "$work/live.jsonl" >>"$work/export.log" 2>&1 || give_up "export of the findings failed"
"$dotnet" "$program" judge "$work/night.dwlog.gz" --out "$work/judged.jsonl" >"$work/judge.log" 2>&1 || give_up "judge failed"

# The run must have had in it what this test is about.
zcat "$work/night.dwlog.gz" >"$work/night.txt"
has() { grep -qE "$1" "$2" || give_up "the run had no $3"; }
has '^[SF] ' "$work/night.txt" "late sample"
has '"kind":"WallStep"' "$work/night.txt" "wall step"
has '"command":"acknowledge"' "$work/night.txt" "acknowledgement"
has '"command":"baseline"' "$work/night.txt" "baseline"
[ "$(grep -c '^b ' "$work/night.txt")" -ge 3 ] || give_up "the run had no reload"
[ "$(grep -c '"kind":"Started"' "$work/night.txt")" -eq 2 ] || give_up "the run had no restart"
[ -s "$work/live.jsonl" ] || give_up "the live run found nothing"

cmp "$work/live.jsonl" "$work/judged.jsonl" || {
    diff "$work/live.jsonl" "$work/judged.jsonl" | head -n 10
    give_up "live and judged differ"
}
echo "replay identity: $(wc -l <"$work/night.txt") inputs, $(grep -c '^[SFW] ' "$work/night.txt") late, $(wc -l <"$work/live.jsonl") finding lines, live = judged to the byte"
