#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `plumb` and `ball` as a person or a script calls them, on frames whose truth is known. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"

make-posed sheet sheet.jpg 4 >truth.json
run 0 platecall plumb sheet.jpg --equivalent-mm 24 --focal-tolerance-pct 0 --json
near out truth.json distance_m:distance_m:1.7% tilt_deg:tilt_deg:0.3
verdict 'plumb finds the camera of a telephone picture' "$wrong"

run 0 platecall plumb sheet.jpg --equivalent-mm 24
holds out 'The lens is'
holds out 'degrees off straight down'
holds out 'camera'
verdict 'plumb says so in sentences' "$wrong"

set --
for corner in $(python3 -c 'import json; [print("%d,%d" % (x + 9, y - 7)) for x, y in json.load(open("truth.json"))["corners"]]'); do
    set -- "$@" --corner "$corner"
done
run 0 platecall plumb sheet.jpg --json "$@"
near out truth.json tilt_deg:tilt_deg:0.5
verdict 'four given places will do, and the focal length is found' "$wrong"

make-posed table table.jpg 7003 >/dev/null
run 1 platecall plumb table.jpg --equivalent-mm 24
holds err 'No A4 sheet is seen in this frame'
[ ! -s out ] || wrong="$wrong a number was printed"
verdict 'a frame without a sheet says so' "$wrong"

run 2 platecall plumb sheet.jpg --corner 10,10
holds err 'give --corner four times'
run 1 platecall plumb sheet.jpg --corner 10,10 --corner 60,10 --corner 60,60 --corner 10,60
holds err 'no four straight edges are seen'
run 2 platecall plumb sheet.jpg --camera C1
holds err 'Name the kit file'
verdict 'corners that are none are told' "$wrong"

make-posed ball ball.png 4 >truth.json
# shellcheck disable=SC2046 # options and numbers
set -- $(python3 -c 'import json; t = json.load(open("truth.json")); print("--tilt", t["tilt_deg"], "--equivalent-mm", t["equivalent_mm"], "--ball-mm", t["ball_mm"], "--ball", "%.0f,%.0f" % (t["x_px"], t["y_px"]))')
run 0 platecall ball ball.png --linear "$@" --json
python3 -c 'import json; f = json.load(open("out")); json.dump({**f, **f["lights"][0]}, open("flat.json", "w"))' || wrong="$wrong no object"
near flat.json truth.json elevation_deg:elevation_deg:3.5 camera_distance_m:camera_m:3%
verdict 'ball tells how high the light is and how far the camera' "$wrong"

run 0 platecall ball ball.png --linear "$@"
holds out "o'clock"
holds out 'degrees up'
verdict 'ball says so in sentences' "$wrong"

run 1 platecall ball sheet.jpg --equivalent-mm 24 --tilt 10
holds err 'give the raw file'
run 1 platecall ball ball.png --linear --tilt 10
holds err 'Give --focal-mm'
run 1 platecall ball ball.png --linear --tilt 10 --equivalent-mm 100 --ball 20,20
holds err 'No polished ball is seen at the place given'
verdict 'frames that cannot serve are told' "$wrong"
plan
