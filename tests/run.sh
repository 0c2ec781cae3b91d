#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs every test program of a build folder and adds up what they say.
# usage: tests/run.sh BUILD [PROGRAM...]   (test_store test_pot ...; all without)
# RUN is put before each program, as in RUN='valgrind -q --error-exitcode=99'.
set -u
build=$1
shift
# shellcheck disable=SC2046  # one word a program
[ $# -gt 0 ] || set -- $(find tests -maxdepth 1 -name 'test_*.c' -exec basename {} .c \; | sort)
passed=0
failed=0
broken=
for name in "$@"; do
    program=$build/tests/$name
    log=$program.log
    # shellcheck disable=SC2086  # RUN holds words
    PERCHD_BUILD=$build ${RUN:-} "$program" >"$log" 2>&1
    code=$?
    ok=$(grep -c '^\[       OK \]' "$log")
    bad=$(grep '^\[  FAILED  \] [a-z].*[^:]$' "$log" | sort -u | wc -l) # each is named twice
    passed=$((passed + ok))
    if [ "$code" != 0 ]; then
        [ "$bad" -gt 0 ] || bad=1
        failed=$((failed + bad))
        broken="$broken $program"
        echo "--- $program (exit $code)"
        tail -n 60 "$log"
    fi
    printf '%-40s %4d passed\n' "$name" "$ok"
done
[ -z "$broken" ] || echo "failed:$broken"
echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
