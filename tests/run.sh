#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Build and test; installs what is missing. Without options: the release build with every test,
# then modules and published values under the address and undefined-behaviour sanitizers. By hand
# also the threads under the thread sanitizer.
#   --release, --asan, --tsan   only that build
set -eu
cd "$(dirname "$0")/.."
. lib/cmake/packages.sh
# shellcheck disable=SC2086
need_packages $packages_build $packages_plot $packages_test

jobs=$(nproc)

# build_and_test TYPE FOLDER CTEST_OPTIONS...
build_and_test() {
    type=$1
    folder=$2
    shift 2
    echo "== $type"
    cmake -S . -B "$folder" -DCMAKE_BUILD_TYPE="$type" -DWF_WERROR=ON >"$folder.log" 2>&1 ||
        { cat "$folder.log"; exit 1; }
    cmake --build "$folder" -j "$jobs" >>"$folder.log" 2>&1 || { tail -50 "$folder.log"; exit 1; }
    rm "$folder.log"
    ctest --test-dir "$folder" -j "$jobs" --output-on-failure --no-tests=error "$@"
}

release() { build_and_test Release build; }
# The modules and the published values; the program as a whole would take an hour under it.
asan() { build_and_test Asan build-asan -L 'unit|standards' -LE release_only; }
tsan() { build_and_test Tsan build-tsan -L threads; }

case ${1:-all} in
all) release && asan ;;
--release) release ;;
--asan) asan ;;
--tsan) tsan ;;
*) echo "tests/run.sh: unknown option $1; expected --release, --asan or --tsan" >&2; exit 2 ;;
esac
