# shellcheck shell=sh
# SPDX-License-Identifier: Apache-2.0
# Sourced by each test in shell: an empty folder to work in, the built programs by their names, and points in TAP.
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
PATH=$PC_BUILD_ROOT/src/front/cli:$PC_BUILD_ROOT/tests:$PC_BUILD_ROOT/tests/sim:$PATH
export XDG_STATE_HOME="$work/state"
cd "$work"

point=0
wrong=
# verdict NAME WHAT-IS-WRONG: wrong is empty again after it.
verdict() {
    point=$((point + 1))
    if [ -n "$2" ]; then
        echo "not ok $point - $1"
        printf '%s\n' "$2" | sed 's/^/# /'
    else
        echo "ok $point - $1"
    fi
    wrong=
}
# run WANTED-EXIT WORD...: fills out and err, adds to wrong.
run() {
    wanted=$1
    shift
    code=0
    "$@" >out 2>err || code=$?
    [ "$code" = "$wanted" ] || wrong="$wrong exit $code, want $wanted: $(cat err)"
}
# holds FILE TEXT: adds to wrong unless the file holds the text, in one line or broken into several.
holds() {
    grep -qF -- "$2" "$1" || tr '\n' ' ' <"$1" | sed 's/  */ /g' | grep -qF -- "$2" || wrong="$wrong
$1 lacks: $2"
}
# near FOUND TRUTH KEY:TRUE-KEY:OFF...: adds to wrong where a figure is off by more than OFF, or by OFF %.
near() {
    cat >near.py <<'END'
import json, sys
found, truth = (json.load(open(name, encoding="utf-8")) for name in sys.argv[1:3])
for pair in sys.argv[3:]:
    key, want, off = pair.split(":")
    most = float(off[:-1]) / 100 * abs(truth[want]) if off.endswith("%") else float(off)
    assert abs(found[key] - truth[want]) <= most, (key, found[key], truth[want])
END
    python3 near.py "$@" >python.out 2>&1 || wrong="$wrong $(cat python.out)"
}
# The last word: how many points there were.
plan() {
    echo "1..$point"
}
