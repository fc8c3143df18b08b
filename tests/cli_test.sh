#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The built program as a person or a script calls it. Prints TAP. Each folder of tests/bad is one misuse or broken
# input: `command` is run by sh in an empty folder, and what it says on stderr, with its exit code, must be `error`.
# (PC_RECORD=1 writes each `error` anew, to be read before it is kept.)
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
tests=$PC_SOURCE_ROOT/tests
make-frame 'Bröd 1.dng'

verbs=$(platecall @bash-completion | sed -n 's/^    \([a-z][a-z]*\))$/\1/p')
run 0 platecall --help
[ -n "$verbs" ] || wrong="$wrong no verbs"
for verb in $verbs; do
    holds out "  $verb "
done
[ ! -s err ] || wrong="$wrong something on stderr"
verdict '--help lists every verb' "$wrong"

run 0 platecall --version
grep -qx 'platecall [0-9]*\.[0-9]*\.[0-9]*' out || wrong="$wrong $(cat out)"
verdict '--version names the version' "$wrong"

platecall @man >platecall.1
for verb in $verbs; do
    run 0 platecall "$verb" --help
    holds out "platecall $verb "
    # shellcheck disable=SC2013 # options are words
    for option in $(sed -n 's/^  \(--[a-z-]*\).*/\1/p' out); do
        [ "$option" != --help ] || continue
        holds platecall.1 ".B \"$(printf %s "$option" | sed 's/-/\\-/g')"
        # An option of one verb is completed for that verb.
        platecall @bash-completion | sed -n "/^    $verb)/,/;;/p" >completion
        holds completion " $option"
    done
    awk 'length($0) > 140 { exit 1 }' out || wrong="$wrong a line is too long"
    verdict "$verb --help, the man page and completion agree" "$wrong"
done

wrong=
if command -v groff >/dev/null; then
    LC_ALL=C.UTF-8 groff -man -Tutf8 -ww platecall.1 2>warnings >/dev/null || wrong='groff failed'
    wrong="$wrong$(head -n 3 warnings)"
fi
grep -q '^\.SH NAME' platecall.1 || wrong="$wrong no NAME"
verdict 'the man page is good roff' "$wrong"

cat >complete.bash <<'END'
compopt() { :; }
. ./completion.bash
try() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=(); _platecall; echo "${COMPREPLY[*]}"; }
try platecall wei
try platecall read --gre
try platecall read Br
try platecall read --greycard ""
END
platecall @bash-completion >completion.bash
run 0 bash complete.bash
printf '%s\n' weigh --greycard 'Bröd 1.dng' '' >want
cmp -s out want || wrong="$wrong $(cat out err)"
verdict 'bash completes verbs, options and files' "$wrong"

run 0 platecall read 'Bröd 1.dng' --place card=80,120 --place 'dark side=280,200' --greycard 80,40
[ ! -s err ] || wrong="$wrong $(cat err)"
cmp -s out "$tests/golden/read.txt" || wrong="$wrong $(diff out "$tests/golden/read.txt")"
verdict 'read says what is in a frame' "$wrong"

# Closed forms: the levels that make_frame.c put there; lux by ISO 2720 and ISO 12232 from 1/4 of saturation at 1/64 s,
# f/8, ISO 100: H = 78/100/4 lx s, L = H N^2 / (0.65 t), E = pi L / 0.18.
run 0 platecall read 'Bröd 1.dng' --place card=80,120 --place dark=280,200 --greycard=80,40 --json
python3 - out "$PC_SOURCE_ROOT/docs/json.md" >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, math, re, sys
found = json.load(open(sys.argv[1], encoding="utf-8"))
def near(got, want, within, what):
    assert abs(got - want) <= within, f"{what}: got {got}, want {want}"
card, dark = found["places"][0], found["places"][1]
for got, want in zip(card["level_ev"], (-3, -2, -4)): near(got, want, 0.004, "card")
for got, want in zip(dark["level_ev"], (-5, -5, -5)): near(got, want, 0.004, "dark side")
near(found["clipped_pct"], 100 * 32 * 32 / (320 * 240), 0.001, "clipped")
lx = math.pi / 0.18 * (78 / 100 / 4) * 64 / (0.65 / 64)
near(found["greycard_lx"], lx, lx * 0.003, "lux")
near(found["greycard_lx_tolerance"], lx * (2 ** 0.3 - 1), lx * 0.003, "its tolerance")
near(found["facts"]["shutter_apex_s"], 1 / 64, 1e-6, "true shutter")
near(found["facts"]["time_s"], 1e9 + 0.25, 1e-3, "time")
near(found["black_dn"], 512, 0.01, "black")
documented = set(re.findall(r"`([a-z0-9_A-Z]+)`", open(sys.argv[2], encoding="utf-8").read()))
def keys(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)
missing = set(keys(found)) - documented
assert not missing, f"not in docs/json.md: {sorted(missing)}"
END
verdict 'read --json holds the levels that were put in, under documented keys' "$wrong"

make-frame display.jpg
run 0 platecall read display.jpg
holds out 'JPEG, 320 x 240 pixels upright'
holds out 'no light level, lux or cast can be read from it'
grep -q 'stops from what clips' out && wrong="$wrong levels of a JPEG"
run 0 platecall read display.jpg --json
grep -q '"tone_mapped": true' out || wrong="$wrong $(cat out)"
grep -q level_ev out && wrong="$wrong levels of a JPEG in --json"
verdict 'read tells of a display picture, and reads no light from it' "$wrong"

# A PNG declared linear: its 16-bit numbers over 65535 are levels; the card is at 512 + 3840 of it in green.
make-frame linear.png
run 0 platecall read linear.png --linear --place dark=280,200 --json
python3 - out >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, math, sys
got = json.load(open(sys.argv[1], encoding="utf-8"))["places"][0]["level_ev"][0]
want = math.log2((512 + 15360 / 32) / 65535)
assert abs(got - want) < 0.01, f"got {got}, want {want}"
END
verdict 'read --linear takes a PNG at its numbers' "$wrong"

make-frame untold.dng untold
run 0 platecall read untold.dng
holds out 'shutter not said, f-number not said, ISO not said'
verdict 'read leaves what is missing missing' "$wrong"

run 0 platecall read -- 'Bröd 1.dng'
cp out first
run 0 platecall read -- 'Bröd 1.dng'
cmp -s out first || wrong="$wrong two runs differ"
verdict 'read says the same twice' "$wrong"

for folder in "$tests"/bad/*/; do
    name=$(basename "$folder")
    mkdir "$work/$name"
    cd "$work/$name"
    [ ! -d "$folder/input" ] || cp "$folder"/input/* .
    code=0
    sh "$folder/command" >../said.out 2>../said || code=$?
    echo "exit $code" >>../said
    wrong=
    [ -z "${PC_RECORD:-}" ] || cp ../said "$folder/error"
    cmp -s ../said "$folder/error" || wrong="$(diff ../said "$folder/error" 2>&1 || true)"
    [ ! -s ../said.out ] || wrong="$wrong something on stdout"
    cd "$work"
    verdict "bad/$name" "$wrong"
done
plan
