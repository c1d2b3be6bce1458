#!/usr/bin/env bash
# Runs every script that made golden numbers again and holds what it prints against the kept file, so that no number rots.
#   bash tests/golden-numbers.sh             compare
#   bash tests/golden-numbers.sh --rewrite   write the files anew
set -euo pipefail
cd "$(dirname "$0")"
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
failed=0 count=0
for script in DriftWatch.Tests/Golden/*/make_*.py DriftWatch.Tests/Golden/*/make_*.R; do
    [ -e "$script" ] || continue
    name=$(basename "$script") folder=$(dirname "$script")
    kept="$folder/$(sed 's/^make_\(.*\)\.\(py\|R\)$/\1.json/' <<<"$name")"
    case "$name" in *.py) run=(/usr/bin/python3 "$name") ;; *) run=(Rscript --vanilla "$name") ;; esac
    count=$((count + 1))
    if ! (cd "$folder" && "${run[@]}") >"$made/out.json" 2>"$made/err"; then
        echo "$script failed"
        tail -n 20 "$made/err"
        failed=$((failed + 1))
    elif [ "${1:-}" = --rewrite ]; then
        cp "$made/out.json" "$kept"
    elif ! /usr/bin/python3 golden_compare.py "$kept" "$made/out.json"; then
        failed=$((failed + 1))
    fi
done
echo "golden numbers: $count scripts, $failed differ"
[ "$count" -gt 0 ] && [ "$failed" -eq 0 ]
