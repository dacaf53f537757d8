#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every bench program in turn, on a machine that does nothing else; about ten minutes.
# sh bench/all.sh [BUILD] > figures.txt; QUICK=--quick for a first look.
set -e
build=${1:-build}
cd "$(dirname "$0")/.."

run()
{
    printf '\n$ %s\n' "$*"
    "$@"
}

printf '%s, %s cores; %s; load %s\n' "$(sed -n 's/^model name[^:]*: *//p' /proc/cpuinfo | head -n 1)" \
    "$(nproc)" "$(uname -sr)" "$(cut -d ' ' -f 1 /proc/loadavg)"
git log -1 --format='%h %s' 2>/dev/null || true
run "$build/bench/engine" $QUICK
run "$build/bench/engine" $QUICK --kernels avx2
run "$build/bench/kernels" $QUICK
run "$build/bench/rotation" $QUICK
run "$build/bench/correlate" $QUICK
run "$build/bench/memory"
run /usr/bin/python3 -B bench/numpy_fx.py --build "$build"
run "$build/cli/whitefringe" throughput
