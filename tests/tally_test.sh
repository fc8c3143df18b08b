#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# tools/tally counts what failed, and nothing that was skipped. Prints TAP.
set -eu
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"

# counted WANT NAME TAP...: a log of one test that printed these lines and ended well.
counted() {
    want=$1 name=$2
    shift 2
    printf '%s\n' "$@" | python3 -c 'import json, sys
print(json.dumps({"name": "t", "result": "OK", "returncode": 0, "stdout": sys.stdin.read()}))' >log
    got=$("$PC_SOURCE_ROOT/tools/tally" log 2>complaints)
    if [ "$got" = "$want" ]; then verdict "$name" ''; else verdict "$name" "counted $got, not $want"; fi
}
counted '2 0' 'all good, the plan before' 1..2 'ok 1 - a' 'ok 2 - b'
counted '1 0' 'one skipped, the plan before' 1..2 'ok 1 - a' 'ok 2 - b # SKIP no disk'
counted '1 0' 'one skipped, the plan after' 'ok 1 - a' 'ok 2 - b # SKIP no disk' 1..2
counted '1 1' 'one failed' 1..2 'ok 1 - a' 'not ok 2 - b'
counted '1 1' 'one lost against the plan' 1..2 'ok 1 - a'
counted '0 1' 'none printed' ''
plan
