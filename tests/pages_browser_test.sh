#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The pages in a real browser. PC_SHOTS=DIR keeps a picture of each failure, PC_PAGES=DIR one of each page.
set -eu
cd "$PC_SOURCE_ROOT/web"
PC_CHROMIUM=$(command -v chromium || true)
if [ -z "$PC_CHROMIUM" ]; then
    echo "1..0 # SKIP the program chromium is not here"
    exit 0
fi
export PC_CHROMIUM
"$PC_SOURCE_ROOT/tools/pages" build >&2
# Beside node_modules, so that the bundle finds what it does not hold.
bundle=$(mktemp -d node_modules/.tests-XXXXXX)
trap 'rm -rf "$bundle"' EXIT
node_modules/.bin/esbuild tests/browser.ts --bundle --platform=node --format=esm --log-level=warning \
    --external:playwright-core --external:axe-core --outfile="$bundle/browser.mjs" >&2
node "$bundle/browser.mjs"
