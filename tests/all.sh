#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs make targets one after the other, each to its end, and adds up what they say.
# usage: tests/all.sh TARGET...
# A target counts by its last line 'N passed, N failed'; one without such a line counts as one. Every
# target runs even when an earlier one failed. Logs are kept as build/log/TARGET.log.
set -u
cd "$(dirname "$0")/.." || exit 1
mkdir -p build/log
total_passed=0
total_failed=0
table=
for target in "$@"; do
    log=build/log/$target.log
    began=$(date +%s)
    echo "--- $target"
    make --no-print-directory -j"$(nproc)" "$target" >"$log" 2>&1
    code=$?
    line=$(grep -oE '[0-9]+ passed, [0-9]+ failed' "$log" | tail -n 1)
    passed=${line%% passed*}
    failed=${line##*, }
    failed=${failed%% failed}
    if [ -z "$line" ]; then
        passed=$((code == 0))
        failed=$((code != 0))
    elif [ "$code" != 0 ] && [ "$failed" = 0 ]; then
        failed=1
    fi
    if [ "$code" != 0 ]; then
        tail -n 100 "$log"
        echo "--- $target: exit $code, the whole of it in $log"
    fi
    total_passed=$((total_passed + passed))
    total_failed=$((total_failed + failed))
    table="$table$(printf '%-12s %6d passed %4d failed %5d s' "$target" "$passed" "$failed" \
        "$(($(date +%s) - began))")
"
done
printf '%s' "$table"
echo "$total_passed passed, $total_failed failed"
[ "$total_failed" = 0 ]
