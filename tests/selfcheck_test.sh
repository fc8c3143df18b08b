#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `selfcheck` on the series of docs/selfcheck.md, as a person or a script calls it. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
tests=$PC_SOURCE_ROOT/tests
make-check series
# The whole documented series; WORD... is added.
whole() {
    platecall selfcheck series --ambient '01 window.dng' --light 'left=02 left longer.dng@100%' \
        --light 'left=03 left.dng@100%' --light 'left=04 left 80.dng@80%' --light 'left=05 left 60.dng@60%' \
        --light 'left=06 left 40.dng@40%' --light 'left=07 left 20.dng@20%' --light 'left=08 left 10.dng@10%' \
        --light 'right=09 right.dng@100%' --together 'left,right=10 both.dng@100%' \
        --light 'left=11 left again.dng@100%' --ambient '12 window again.dng' "$@"
}

run 0 whole
[ ! -s err ] || wrong="$wrong $(cat err)"
[ -z "${PC_RECORD:-}" ] || cp out "$tests/golden/selfcheck.txt"
cmp -s out "$tests/golden/selfcheck.txt" || wrong="$wrong $(diff out "$tests/golden/selfcheck.txt")"
verdict 'selfcheck says of each thing how far off it is' "$wrong"

# What make_check.c put in: power 1.3 of the dial, 5 % of sag of which the first frame had lost 1 - exp(-90 s / 120 s)
# less than its share, 2 % of drift, thirds of a stop; gain and read noise of the demo's camera.
run 0 whole --json
python3 - out "$PC_SOURCE_ROOT/docs/json.md" >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, math, re, sys
found = json.load(open(sys.argv[1], encoding="utf-8"))
def near(got, want, within, what):
    assert abs(got - want) <= within, f"{what}: got {got}, want {want}"
near(found["drift"]["change_pct"], 2.0, max(0.5, found["drift"]["change_pct_tolerance"]), "drift")
level = lambda since_s: 1 - 0.05 * (1 - math.exp(-since_s / 120))
sag = found["sag"]["lights"][0]
near(sag["change_pct"], 100 * (level(9 * 45) / level(45) - 1), max(0.3, sag["change_pct_tolerance"]), "sag")
assert found["shutters"]["kept_times"] == "thirds"
pair = found["shutters"]["pairs"][0]
near(pair["measured_stops"], 5 / 3, 0.03, "stops")
near(pair["named_stops"], math.log2(60 / 20), 1e-3, "named")
dial = found["dials"]["lights"][0]
assert len(dial["curve"]) >= 5
for at in dial["curve"]:
    near(at["light_ratio"], at["dial_ratio"] ** 1.3, 0.03 * at["dial_ratio"] ** 1.3, f"light at {at['dial_ratio']}")
near(found["superposition"]["frames"][0]["off_ev"], 0, 0.02, "sum")
near(found["noise"]["gain_dn_per_e"], 0.2, 0.02, "gain")
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
verdict 'selfcheck --json finds what was put in, under documented keys' "$wrong"

run 0 platecall selfcheck --ambient 'series/01 window.dng' --ambient 'series/12 window again.dng' \
    --light 'left=series/03 left.dng' --light 'right=series/09 right.dng' --together 'series/10 both.dng'
holds out 'Raw values: not tested.'
holds out 'Shutter times: not tested.'
holds out 'Lights together: '
holds out 'Dials: not tested.'
holds out 'Window: good.'
verdict 'what a shorter series can tell is told, the rest is named' "$wrong"

run 0 platecall selfcheck --record
holds out 'No closing check has been kept yet'
platecall-sim job --size 480x320 --actual 1 >/dev/null
platecall weigh job --hero 240,130 --surface 240,255 --actual job/actual.dng >/dev/null
run 0 platecall selfcheck --record
holds out 'Foretold against actual, 1 closing check at 2 places'
run 0 platecall selfcheck --record --json
holds out '"checks": 1'
verdict 'the record of closing checks is summed up' "$wrong"

run 1 platecall selfcheck series --ambient '01 window.dng'
holds err 'Nothing can be told from one frame'
run 2 platecall selfcheck series --ambient '01 window.dng' --light 'left=03 left.dng' --together 'left,rihgt=10 both.dng' \
    --light 'right=09 right.dng'
holds err 'No frame shows this light alone; did you mean right?'
run 2 platecall selfcheck series --light 'left=03 left.dng' --light 'left=03 left.dng'
holds err 'named twice'
verdict 'misuses are named' "$wrong"

plan
