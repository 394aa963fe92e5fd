#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# docs/case.md ends in tables printed from the code, and docs/rules.md is printed whole, so that they
# cannot differ.
#   tools/case_doc.sh          rewrites both
#   tools/case_doc.sh check    1 when they are not current
set -eu
cd "$(dirname "$0")/.."
mark='<!-- printed by tools/case_keys.c; do not edit below -->'
fresh=$(mktemp)
trap 'rm -f "$fresh"' EXIT
sed "/^$(printf '%s' "$mark" | sed 's/[.\/*]/\\&/g')\$/q" docs/case.md >"$fresh"
echo >>"$fresh"
build/release/case_keys >>"$fresh"
if [ "${1:-}" = check ]; then
    diff -u docs/case.md "$fresh"
    build/release/rule_rows | diff -u docs/rules.md -
    build/release/forecast_coverage | diff -u docs/forecast-coverage.md -
else
    cp "$fresh" docs/case.md
    build/release/rule_rows >docs/rules.md
    build/release/forecast_coverage >docs/forecast-coverage.md
fi
