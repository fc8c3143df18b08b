#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Kit and place files with a slip of the pen, and what `recce` makes of whole ones. Prints TAP. PC_RECORD=1 records the
# texts anew.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
demo=$PC_SOURCE_ROOT/demo
golden=$PC_SOURCE_ROOT/tests/golden

# same NAME WORD...: the answer is the one that was recorded.
same() {
    name=$1
    shift
    run 0 "$@"
    [ ! -s err ] || wrong="$wrong $(cat err)"
    [ -z "${PC_RECORD:-}" ] || cp out "$golden/$name.txt"
    cmp -s out "$golden/$name.txt" || wrong="$wrong $(diff out "$golden/$name.txt" || true)"
}
same recce-demo platecall recce --site "$demo/site.json" --kit "$demo/kit.json" --wide-cm 114 --outlet spread \
    --surface-stops 4
verdict "recce tells of the demo's place what it has told" "$wrong"
same recce-four-numbers platecall recce --ceiling-m 2.32 --table-m 0.76 --from-table-m 1.25 --window-m 1.8x1.3
verdict 'recce answers from four numbers' "$wrong"

# The demo's figures by other paths: the thick lens by bisection, the rest by hand.
run 0 platecall recce --site "$demo/site.json" --kit "$demo/kit.json" --surface-stops 4 --json
cp out demo.json
run 0 platecall recce --ceiling-m 2.32 --table-m 0.76 --from-table-m 1.25 --window-m 1.8x1.3 --json
cp out four.json
wrong=
python3 - >python.out 2>&1 <<'END' || wrong=$(cat python.out)
import json, math

demo, four = (json.load(open(name, encoding="utf-8")) for name in ("demo.json", "four.json"))


def found(answer, what):
    return next(f for f in answer["findings"] if f["finding"] == what)


def holds(answer, what, value):
    f = found(answer, what)
    assert f["low"] <= value <= f["high"], (what, f["low"], value, f["high"])


def wide_m(room_m, focal_m, sensor_m):
    low, high = 1e-4, 1.0
    for _ in range(100):
        m = (low + high) / 2
        low, high = (m, high) if focal_m * (2 + m + 1 / m) > room_m else (low, m)
    return sensor_m / low


for reach in demo["straight_down"]:
    if reach["camera"] == "C1" and reach["lens"] != "90 mm macro":
        exact = wide_m(2.32 - 0.15 - reach["support_m"], float(reach["lens"].split()[0]) / 1000, 0.036)
        assert reach["widest_low_m"] <= exact <= reach["widest_high_m"], (reach, exact)
        assert reach["widest_high_m"] / reach["widest_low_m"] < 1.4, reach
holds(demo, "daylight", 700)
holds(demo, "surface", math.log2(1 + 2900 / 0.9**2 / 700))
holds(demo, "flash", math.log2(250 * 11**2 / (0.005 * 100) / 750))
holds(demo, "colour", 1e6 / 5800 - 1e6 / 6500)
holds(demo, "sun", 33000)
holds(demo, "circuit", 2200 + 60 + 60 + 20)
holds(demo, "arm", 9.81 * (2.1 * 0.9 + 1.1 * 0.45))
assert found(demo, "circuit")["caution"] == "circuit" and found(demo, "arm")["caution"] == "arm"
# What the files say besides makes narrower what four numbers gave.
for what in ("daylight",):
    wide, narrow = found(four, what), found(demo, what)
    assert wide["low"] <= narrow["low"] and narrow["high"] <= wide["high"], (wide, narrow)
END
verdict "recce --json holds the demo's figures, worked another way" "$wrong"

# slip TEXT PLACE WORDS: a place file with TEXT in it is refused there, in these words.
slip() {
    printf '%s' "$1" >slip.json
    run 1 platecall recce --site slip.json
    holds err "slip.json:$2: $3"
    [ ! -s out ] || wrong="$wrong something was printed all the same"
    verdict "$3" "$wrong"
}
slip '{"celing_m": 2.4}' 1:2 'A place has no "celing_m"; did you mean "ceiling_m"?'
slip '{"ceiling_m": 45}' 1:15 '"ceiling_m" is 45; it must lie between 1.5 and 30 m.'
slip '{"windows": [{"glass": "double"}]}' 1:24 '"glass" must be a number.'
slip '{"windows": [{"blind": "rollers"}]}' 1:24 '"blind" cannot be "rollers"; did you mean "roller"?'
slip '{"ceiling_m": 2.4, "ceiling_m": 2.5}' 1:30 'The key that ends here is written twice; take one out.'
slip '{"date": "2027-02-29"}' 1:10 '"date" must be a day that exists'
slip '{"ceiling_m": 2.4' 1:17 'This is not valid JSON'

run 1 platecall recce --kit missing.json
holds err 'missing.json: It cannot be read'
verdict 'a kit file that is not there' "$wrong"
run 2 platecall recce --table-m 2 --ceiling-m 1.9
holds err 'The table is as high as the ceiling; check both.'
verdict 'a table as high as the ceiling' "$wrong"
run 2 platecall recce --outlet spread
holds err 'Say with --wide-cm how wide the picture on the table is to be.'
verdict 'an outlet without a width' "$wrong"
run 2 platecall recce --wide-cm 100 --outlet spraed
holds err 'did you mean "spread"?'
verdict 'an outlet that is not there' "$wrong"
printf '{"cameras": [{}]}' >bare.json
run 0 platecall recce --kit bare.json --site "$demo/site.json"
verdict 'a kit without a lens' "$wrong"
printf '{}' >empty.json
run 0 platecall recce --kit empty.json --site empty.json
verdict 'files that say nothing' "$wrong"
plan
