#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Every answer of the API's tests against the OpenAPI document, and that document against a linter.
# usage: tests/openapi.sh BUILD
set -u
cd "$(dirname "$0")/.." || exit 1
(cd tests && npm ci --loglevel=error --no-audit --no-fund >/dev/null) || exit 1
exchanges=$1/exchanges.jsonl
rm -f "$exchanges"
for name in test_api test_day test_sheet_days; do
    [ ! -x "$1/tests/$name" ] || PERCHD_EXCHANGES=$exchanges sh tests/run.sh "$1" $name || exit 1
done
node tests/openapi.mjs "$exchanges"
