#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs every test program of a build folder and adds up what they say.
# usage: tests/run.sh BUILD [PROGRAM...]   (test_store test_pot ...; all without)
# RUN is put before each program, as in RUN='valgrind -q --error-exitcode=99'. Several run at once,
# since those that talk to each other mostly wait; JOBS says how many.
set -u
build=$1
shift
# shellcheck disable=SC2046  # one word a program
[ $# -gt 0 ] || set -- $(find tests -maxdepth 1 -name 'test_*.c' -exec basename {} .c \; | sort)
# shellcheck disable=SC2016  # for the inner shell: build, RUN, name
printf '%s\n' "$@" | xargs -P "${JOBS:-$(($(nproc) * 2))}" -n 1 sh -c '
    PERCHD_BUILD=$0 $1 "$0/tests/$2" >"$0/tests/$2.log" 2>&1
    echo $? >"$0/tests/$2.code"' "$build" "${RUN:-}"
passed=0
failed=0
broken=
for name in "$@"; do
    program=$build/tests/$name
    log=$program.log
    code=$(cat "$program.code")
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
