#!/bin/sh
# Times our reader beside dcmtk in one run and prints ratios (below 1 is faster than dcmtk). Needs g++ and libdcmtk-dev; says so
# and stops where they are missing. Run from the project's root.
set -e
command -v g++ >/dev/null && [ -e /usr/include/dcmtk/dcmdata/dctk.h ] || { echo "scan_bench: install g++ and libdcmtk-dev to compare with dcmtk" >&2; exit 0; }
work=${TMPDIR:-/tmp}/sectionary-bench
mkdir -p "$work"
trap 'rm -rf "$work" "$work"-300 "$work"-600 "$work"-1000' EXIT
g++ -O2 -std=c++17 -o "$work/scan_dcmtk" testdata/gen/scan_dcmtk.cc -ldcmdata -lofstd -loflog
go test -c -o "$work/scan.test" ./slices/scan
# the best of nine runs on either side: other work on the machine only ever adds time
ours() { (cd slices/scan && "$work/scan.test" -test.run XXX -test.bench "^$1\$" -test.benchtime 1x -test.count 9 | awk '/ns\/op/ {if (!b || $3 < b) b = $3} END {printf "%.4f", b / 1e9}'); }
theirs() { for i in 1 2 3 4 5 6 7 8 9; do "$work/scan_dcmtk" "$1" "${TMPDIR:-/tmp}/sectionary-bench-$2" 2>/dev/null; done | awk '{if (!b || $1 < b) b = $1} END {print b}'; }
line() { awk -v n="$1" -v a="$2" -v b="$3" 'BEGIN {printf "%-44s ours %.3f s  dcmtk %.3f s  ratio %.2f\n", n, a, b, a / b}'; }
a=$(ours BenchmarkLoad300OneCore); line "load 300 slices of 512x512, one core" "$a" "$(theirs full 300)"
a=$(ours BenchmarkLoad300); line "load 300 slices of 512x512, all cores" "$a" "$(theirs full 300)"
a=$(ours BenchmarkSurvey1000OneCore); line "survey 1,000 headers, one core" "$a" "$(theirs head 1000)"
