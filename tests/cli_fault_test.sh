#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# An answer that cannot be written out is a failure, not a shorter answer. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
make-frame a.dng

# told NAME CODE: the run is a failure, and stderr, in err, says why.
told() {
    wrong=
    [ "$2" = 1 ] || wrong="exit $2, want 1"
    grep -q '^platecall: the answer: It could not be written out whole' err || wrong="$wrong: $(cat err)"
    verdict "$1" "$wrong"
}
for words in --help --version 'read --help' 'read a.dng' 'read a.dng --json'; do
    code=0
    # shellcheck disable=SC2086 # words
    platecall $words >/dev/full 2>err || code=$?
    told "$words to a full disk" "$code"
    code=0
    # shellcheck disable=SC2086
    platecall $words >&- 2>err || code=$?
    told "$words to a closed stdout" "$code"
done
plan
