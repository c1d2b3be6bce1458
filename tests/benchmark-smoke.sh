#!/usr/bin/env bash
# Runs every benchmark on a small size, so that none of them rots; figures are printed, not judged.
set -euo pipefail
cd "$(dirname "$0")/.."
exec dotnet run --project tests/DriftWatch.Benchmarks -c Release --no-build -- smoke
