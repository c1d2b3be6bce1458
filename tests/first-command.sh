#!/usr/bin/env bash
# Runs the README's first command as it stands, from the root of the checkout, and asks for its page. Only the store and
# the port are moved out of the way of a service that may be running here.
set -euo pipefail
cd "$(dirname "$0")/.."
work=$(mktemp -d)
trap 'kill -TERM "$pid" 2>/dev/null; wait "$pid" 2>/dev/null; rm -rf "$work"' EXIT
command=$(sed -n '/^## Start/,/^## /{/^dotnet run/p}' README.md | head -n 1)
[ -n "$command" ] || { echo "The README has no first command."; exit 1; }
# The program itself, not 'dotnet run' that started it, must get the signal: hence its own session.
setsid bash -c "exec $command --store $work/store --listen 127.0.0.1:0" >"$work/log" 2>&1 &
pid=$!
for _ in $(seq 300); do
    url=$(sed -n 's/.*The page is at \(http[^ ]*\).*/\1/p' "$work/log" | head -n 1)
    [ -n "$url" ] && break
    kill -0 "$pid" 2>/dev/null || { cat "$work/log"; echo "The first command ended."; exit 1; }
    sleep 0.2
done
[ -n "${url:-}" ] || { cat "$work/log"; echo "The first command showed no page within 60 s."; exit 1; }
# Read to its end first: a grep that finds early closes the pipe, and curl fails for it.
page=$(curl -fsS "$url/")
grep -q '<title>' <<<"$page" || { echo "$url is no page."; exit 1; }
for _ in $(seq 50); do
    curl -fsS "$url/readyz" >/dev/null 2>&1 && ready=yes && break
    sleep 0.2
done
[ "${ready:-no}" = yes ] || { echo "The practice bench was not ready within 10 s."; exit 1; }
kill -TERM -- "-$pid" 2>/dev/null || true
echo "first command: page and readings at $url"
