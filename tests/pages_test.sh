#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The pages without a browser: their types agree, and their sums are right.
set -eu
cd "$PC_SOURCE_ROOT/web"
"$PC_SOURCE_ROOT/tools/pages" install >&2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
node_modules/.bin/esbuild tests/units.ts --bundle --platform=node --format=esm --log-level=warning \
    --outfile="$work/units.mjs" >&2
PC_TSC=$PWD/node_modules/typescript/lib/tsc.js node --test-reporter=tap "$work/units.mjs"
