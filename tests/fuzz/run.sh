#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Build the fuzz targets with clang and run each for a share of the time, from the corpus kept here.
#   sh tests/fuzz/run.sh [SECONDS [FOLDER]]    SECONDS in all (default 3600), build in FOLDER
#                                              (default build-fuzz); grown corpora stay in it
# What a target finds stands as crash-*, leak-* or timeout-* in FOLDER; once mended, the file goes
# into the corpus. Exit 77 where there is no clang.
set -eu
seconds=${1:-3600}
here=$(cd "$(dirname "$0")" && pwd)
folder=${2:-$here/../../build-fuzz}
readers="vdif sound job job_edit earth_orientation ocean_loading delay_table"
command -v clang >/dev/null 2>&1 || { echo "no clang: fuzzing is left out"; exit 77; }

cmake -S "$here" -B "$folder" -DCMAKE_C_COMPILER=clang >"$folder.log" 2>&1 ||
    { cat "$folder.log"; exit 1; }
cmake --build "$folder" -j "$(nproc)" >>"$folder.log" 2>&1 || { tail -40 "$folder.log"; exit 1; }
rm -f "$folder.log"
cd "$folder"
# Freed memory is kept from use for a while; much of it only costs time.
export ASAN_OPTIONS=quarantine_size_mb=16:allocator_may_return_null=1
share=$((seconds / 7))
[ "$share" -gt 0 ] || share=1
total=0
for reader in $readers; do
    mkdir -p "grown/$reader"
    if ! ./"${reader}_fuzz" -max_total_time="$share" -timeout=20 -rss_limit_mb=2048 -close_fd_mask=1 \
        -print_final_stats=1 -verbosity=1 "grown/$reader" "$here/corpus/$reader" \
        >"$reader.log" 2>&1; then
        tail -60 "$reader.log"
        echo "$reader: a finding; see $folder"
        exit 1
    fi
    n=$(sed -n 's/^stat::number_of_executed_units: *//p' "$reader.log")
    echo "$reader: $n executions in $share s"
    total=$((total + n))
done
echo "$total executions in all, nothing found"
