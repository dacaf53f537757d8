#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# First fringes: builds the program, makes recordings of an invented campaign of four stations,
# finds the fringes and how far the clocks are off, correlates, and makes a page that shows it all.
# Everything lands in build/first-fringes/, or in the folder that is named.
#   sh examples/first-fringes.sh [FOLDER]
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
out=${1:-$here/build/first-fringes}
. "$here/lib/cmake/packages.sh"
# shellcheck disable=SC2086
need_packages $packages_build $packages_plot

echo "== build"
build=$here/build/program
mkdir -p "$build"
cmake -S "$here" -B "$build" -DWF_TESTS=OFF -DWF_BENCH=OFF >"$build/build.log" 2>&1 &&
    cmake --build "$build" -j "$(nproc)" >>"$build/build.log" 2>&1 ||
    { cat "$build/build.log" >&2; exit 1; }
whitefringe=$build/cli/whitefringe

echo "== simulate: recordings of four stations"
"$whitefringe" simulate "$here/examples/first-fringes.yaml" -o "$out"
echo "== delays: when the wave reached each station"
"$whitefringe" delays "$out/job.yaml"
echo "== search: fringes of the test scan, and how far the clocks are off"
"$whitefringe" search "$out/job.yaml" --window-delay 20e-6
echo "== correlate: recordings into visibilities"
"$whitefringe" correlate "$out/job.yaml" -o "$out/forest.fits"
echo "== report: a page with the fringes"
"$whitefringe" report "$out/forest.fits" -o "$out/report"
echo
echo "The visibilities are in $out/forest.fits. Open $out/report/report.html in a browser."
