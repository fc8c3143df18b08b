#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `weigh` on a set taken from the hand, with and without cards pointed out. Prints TAP.
set -eu
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"

# at FRAME PLACE: X,Y of a place in a frame (from 0), as the truth has it.
at() {
    python3 - "$1" "$2" <<'END'
import json, sys
place = json.load(open("set/truth.json", encoding="utf-8"))["frames"][int(sys.argv[1])]["places"][sys.argv[2]]
print("%.0f,%.0f" % (place["x_px"], place["y_px"]))
END
}
# shares: out (--json) against the truth, within a tenth of a stop at either card.
shares() {
    python3 - >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, math
found = json.load(open("out", encoding="utf-8"))
frame = json.load(open("set/truth.json", encoding="utf-8"))["frames"][1]
assert found["hand_held"] is True
for place in ("hero", "surface"):
    truth = frame["places"][place + "_card"]["lights"]
    lit = [name for name in truth if name != "window"]
    assert len(lit) == 1 and len(found["lights"]) == 1
    got = found["lights"][0][place + "_share_ratio"]
    off = abs(math.log2(got / truth[lit[0]]["share_ratio"]))
    assert off < 0.1, f"{place}: {got} of {truth[lit[0]]['share_ratio']}"
END
}

platecall-sim set --seed 107 --series hand --size 900x600
light=$(cd set && ls -- 002*.dng)
hero=$(at 0 hero_card) surface=$(at 0 surface_card)
# weighed WANTED-EXIT WORD...
weighed() {
    wanted=$1
    shift
    run "$wanted" platecall weigh set --hero "$hero" --surface "$surface" "$@"
}

weighed 0 --json
shares
holds out 'The camera moved between the frames'
verdict 'a set from the hand is read from its cards' "$wrong"

weighed 0 --json --card "$light=$(at 1 hero_card)" --card "$light=$(at 1 surface_card)"
shares
verdict 'cards pointed out are taken' "$wrong"

weighed 1 --card "$light=$(at 1 surface_card)" --card "$light=$(at 1 hero_card)"
holds err 'the other way round'
verdict 'cards pointed out the other way round are refused' "$wrong"

weighed 1 --card "$light=$(at 1 surface_card)" --card "$light=$(at 1 surface_card)"
holds err "$light: The hero and the surface lie on the same card"
verdict 'one card pointed out twice is refused' "$wrong"

weighed 2 --card "$light=$(at 1 hero_card)"
holds err "Give it twice for $light: first the card at the hero, then the one at the surface."
verdict 'one card pointed out alone is a misuse' "$wrong"

weighed 2 --card "x$light=10,10" --card "x$light=20,20"
holds err "$light"
verdict 'a frame that is not there has the nearest name told' "$wrong"

weighed 2 --card "$light=10,10" --card "$light=9000,20"
holds err 'lies outside the frame, which is 900 by 600'
verdict 'a place outside the frame is a misuse' "$wrong"

# On the rim of the chart's white patch light goes apart as in a shadow's edge.
rim=$(python3 - <<'END'
import json
patch = next(p for p in json.load(open("set/truth.json", encoding="utf-8"))["patches"] if p["patch"] == 19)
print("%.0f,%.0f" % (patch["x_px"] + 1.25 * patch["radius_px"], patch["y_px"]))
END
)
first=$(cd set && ls -- 001*.dng)
weighed 1 --card "$first=$rim" --card "$first=$surface"
holds err 'goes apart by'
verdict 'a card in a shadow edge is refused' "$wrong"

plan
