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
# verdict NAME WHAT-IS-WRONG
verdict() {
    point=$((point + 1))
    if [ -n "$2" ]; then
        echo "not ok $point - $1"
        printf '%s\n' "$2" | sed 's/^/# /'
    else
        echo "ok $point - $1"
    fi
}
# run WANTED-EXIT WORD...: fills out, err and wrong.
run() {
    wanted=$1
    shift
    code=0
    "$@" >out 2>err || code=$?
    wrong=
    [ "$code" = "$wanted" ] || wrong="exit $code, want $wanted: $(cat err)"
}
# holds FILE TEXT: adds to wrong unless the file holds the text, in one line or broken into several.
holds() {
    grep -qF -- "$2" "$1" || tr '\n' ' ' <"$1" | sed 's/  */ /g' | grep -qF -- "$2" || wrong="$wrong
$1 lacks: $2"
}
# The last word: how many points there were.
plan() {
    echo "1..$point"
}
