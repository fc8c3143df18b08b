#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# An answer that cannot be written out is a failure, not a shorter answer. Prints TAP.
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
PATH=$PC_BUILD_ROOT/src/front/cli:$PC_BUILD_ROOT/tests:$PATH
cd "$work"
make-frame a.dng

point=0
# verdict NAME CODE: stderr of the run is in err.
verdict() {
    point=$((point + 1))
    if [ "$2" = 1 ] && grep -q '^platecall: the answer: It could not be written out whole' err; then
        echo "ok $point - $1"
    else
        echo "not ok $point - $1"
        echo "# exit $2: $(cat err)"
    fi
}
for words in --help --version 'read --help' 'read a.dng' 'read a.dng --json'; do
    code=0
    # shellcheck disable=SC2086 # words
    platecall $words >/dev/full 2>err || code=$?
    verdict "$words to a full disk" "$code"
    code=0
    # shellcheck disable=SC2086
    platecall $words >&- 2>err || code=$?
    verdict "$words to a closed stdout" "$code"
done
echo "1..$point"
