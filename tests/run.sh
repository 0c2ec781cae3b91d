#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs every test program of a build folder and adds up what they say.
# usage: tests/run.sh BUILD [NAME-PREFIX]
set -u
build=$1
prefix=${2:-test_}
passed=0
failed=0
broken=
for program in "$build"/tests/"$prefix"*; do
    case $program in *.o | *.d) continue ;; esac
    [ -x "$program" ] || continue
    log=$program.log
    PERCHD_BUILD=$build "$program" >"$log" 2>&1
    code=$?
    ok=$(grep -c '^\[       OK \]' "$log")
    bad=$(grep -c '^\[  FAILED  \] [a-z].*[^:]$' "$log")
    passed=$((passed + ok))
    if [ "$code" != 0 ]; then
        [ "$bad" -gt 0 ] || bad=1
        failed=$((failed + bad))
        broken="$broken $program"
        echo "--- $program (exit $code)"
        tail -n 60 "$log"
    fi
    printf '%-40s %4d passed\n' "$(basename "$program")" "$ok"
done
[ -z "$broken" ] || echo "failed:$broken"
echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
