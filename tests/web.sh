#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Tests of the page: its modules under node, then whole pages in a browser against the daemon.
# usage: tests/web.sh BUILD   ($CHROMIUM names another browser than /usr/bin/chromium)
set -u
build=$1
cd "$(dirname "$0")/.." || exit 1
(cd tests && npm ci --loglevel=error --no-audit --no-fund >/dev/null) || exit 1
mkdir -p "$build"
log=$build/web.tap
PERCHD_BUILD=$build node --test --test-reporter=tap tests/js/*.test.mjs tests/browser/*.test.mjs >"$log" 2>&1
code=$?
passed=$(sed -n 's/^# pass //p' "$log")
failed=$(sed -n 's/^# fail //p' "$log")
[ "$code" = 0 ] || grep -v '^ *\(ok\|duration_ms\)' "$log" | tail -n 200
echo "${passed:-0} passed, ${failed:-1} failed"
[ "$code" = 0 ] && [ "${passed:-0}" -gt 0 ]
