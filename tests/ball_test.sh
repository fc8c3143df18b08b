#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `ball` on several frames of one ball whose lights are known: a folder, an ambient frame, a kit, a matte ball. Prints
# TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"

# How a made ball is told to the verb; a second word leaves its size to the kit.
told() {
    python3 -c 'import json, sys
t = json.load(open(sys.argv[1], encoding="utf-8"))
words = ["--linear", "--tilt", t["tilt_deg"], "--equivalent-mm", t["equivalent_mm"]]
print(*words, *([] if len(sys.argv) > 2 else ["--ball-mm", t["ball_mm"]]))' "$@"
}
# light N: frame N of the answer, with the head's keys, into flat.json.
light() {
    python3 -c 'import json, sys; f = json.load(open("out")); json.dump({**f, **f["lights"][int(sys.argv[1])]}, open("flat.json", "w"))' "$1" ||
        wrong="$wrong no frame $1"
}

mkdir frames
make-posed ball frames/1-near.png 7 >near.json
make-posed other frames/2-far.png 7 >far.json
make-posed dark frames/3-dark.png 7 >/dev/null
# shellcheck disable=SC2046 # options and numbers
run 0 platecall ball frames $(told near.json) --json
light 0
near flat.json near.json elevation_deg:elevation_deg:2 clock_h:clock_h:0.1 camera_distance_m:camera_m:3%
light 1
near flat.json far.json elevation_deg:elevation_deg:2 clock_h:clock_h:0.1
light 2
near flat.json near.json elevation_deg:elevation_deg:2 width_deg:width_deg:10%
python3 -c 'import json
near, _, dark = json.load(open("out"))["lights"]
assert near["over_exposed"] and near["darker_ev"] in range(1, 5), near
assert not dark["over_exposed"] and dark["darker_ev"] == 0, dark' 2>python.out || wrong="$wrong $(cat python.out)"
verdict 'a folder of frames shows each light, and the darker frame its size' "$wrong"

make-posed both both.png 7 >/dev/null
# shellcheck disable=SC2046
run 0 platecall ball both.png --ambient frames/2-far.png $(told near.json) --json
light 0
near flat.json near.json elevation_deg:elevation_deg:2 clock_h:clock_h:0.1
verdict 'another light that the ambient frame shows too is left out' "$wrong"

python3 -c 'import json; print(json.dumps({"ball_mm": json.load(open("near.json"))["ball_mm"]}))' >kit.json
# shellcheck disable=SC2046
run 0 platecall ball frames/1-near.png --kit kit.json $(told near.json size) --json
light 0
near flat.json near.json camera_distance_m:camera_m:3%
verdict 'the size of the ball comes from the kit' "$wrong"

# shellcheck disable=SC2046
run 0 platecall ball frames/1-near.png $(told near.json) --tilt-tolerance 6 --json
python3 -c 'import json
light = json.load(open("out"))["lights"][0]
assert 6 <= light["elevation_deg_tolerance"] < 7, light
assert light["clock_h_tolerance"] > 6 * 0.8 / 30, light' 2>python.out || wrong="$wrong $(cat python.out)"
verdict 'how well the tilt is known counts' "$wrong"

make-posed pair pair.png 7 >truth.json
matte=$(python3 -c 'import json; t = json.load(open("truth.json")); print("%.0f,%.0f" % (t["x_px"] + 520, t["y_px"]))')
# shellcheck disable=SC2046
run 0 platecall ball pair.png --ball "$(python3 -c 'import json; t = json.load(open("truth.json")); print("%.0f,%.0f" % (t["x_px"], t["y_px"]))')" --matte "$matte" $(told truth.json)
holds out "The matte ball's shading agrees"
holds out 'can be trusted to'
# shellcheck disable=SC2046
[ -n "$wrong" ] || run 1 platecall ball frames/1-near.png --ambient pair.png $(told near.json)
[ -n "$wrong" ] || holds err 'The ambient frame has another size'
verdict 'a matte ball agrees and says how far it can be trusted; another size of frame is told' "$wrong"

plan
