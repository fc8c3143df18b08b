#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `lamp` on the demo's lamps and on invented files, as a person or a script calls it. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
lamps=$PC_SOURCE_ROOT/demo/lamps
files=$PC_SOURCE_ROOT/tests/photometry

# What the demo asks, as the page about lamps shows it.
{
    for words in '--sheet p1.json --at-m 0.9' '--sheet p1.json --kelvin 5300 --dial 60 --against-K 7500' \
        '--sheet p1.json --at-m 0.9 --door-cm 15 --scrim-cm 110 --scrim-stops 1.33' '--sheet f1.json --at-m 1.2 --dial 50' \
        '--sheet pendant.json' '--lx key=3500@5300K --lx fill=3500@5300K --lx window=750@7500K' \
        '--lx key=3500 --lx fill=900 --lx window=750' '--spectrum pendant.csv --against-K 3200'; do
        printf '$ platecall lamp %s\n' "$words"
        # shellcheck disable=SC2086 # words
        (cd "$lamps" && platecall lamp $words 2>&1)
        echo
    done
    for words in '--file axis.ldt' '--file quarters-2002.ies --at 45,30' '--file absolute.ldt' \
        '--file axis.ldt --at 30,0 --at-m 1.5' '--file tilt-2002.ies --tilted-deg 30' '--file type-a-2002.ies'; do
        printf '$ platecall lamp %s\n' "$words"
        # shellcheck disable=SC2086
        (cd "$files" && platecall lamp $words 2>&1)
        echo
    done
} >out
wrong=
[ -z "${PC_RECORD:-}" ] || cp out "$PC_SOURCE_ROOT/tests/golden/lamp.txt"
cmp -s out "$PC_SOURCE_ROOT/tests/golden/lamp.txt" || wrong="$(diff out "$PC_SOURCE_ROOT/tests/golden/lamp.txt")"
verdict 'lamp says what the demo asks' "$wrong"

# Closed forms, reckoned here from nothing of the program's: see each line.
platecall lamp --sheet "$lamps/p1.json" --at-m 0.9 --json >reach.json
platecall lamp --sheet "$lamps/p1.json" --kelvin 5300 --against-K 7500 --json >match.json
platecall lamp --lx a=1000@5300K --lx b=1000@7500K --json >mix.json
platecall lamp --lx key=3500 --lx fill=900 --lx window=750 --json >shares.json
platecall lamp --file "$files/quarters-2002.ies" --at 45,30 --json >toward.json
platecall lamp --file "$files/quarters-2002.ies" --json >flux.json
platecall lamp --spectrum "$lamps/pendant.csv" --against-K 3200 --json >colour.json
wrong=
python3 - >python.out 2>&1 <<'END' || wrong="$(cat python.out)"
import json, math
def load(name): return json.load(open(name + ".json", encoding="utf-8"))
def near(got, want, within, what):
    assert abs(got - want) <= within, f"{what}: got {got}, want {want}"
r = load("reach")
def square(d, side=0.3):  # a square seen from its axis
    x = side / 2 / d
    s = math.sqrt(1 + x * x)
    return 4 * x / s * math.atan(x / s) / 2
near(r["light_lx"], 2900 * square(0.9) / square(1), 0.1, "lx")
near(r["light_lx"], 3580, 0.01 * 3580, "as from a point")
near(r["light_lx_tolerance"] / r["light_lx"], 0.10, 0.01, "about the sheet's 10 %")
near(r["wide_deg"], math.degrees(2 * math.atan(0.15 / 0.9)), 0.01, "degrees")
near(r["penumbra_m"], 0.3 * 0.05 / 0.85, 1e-5, "penumbra")
m = load("match")
near(m["apart_mired"], 1e6 / 5300 - 1e6 / 7500, 0.06, "apart")
assert m["set_K"] == 6500 and m["at_limit"]
near(m["left_mired"], 1e6 / 6500 - 1e6 / 7500, 0.06, "left")
x = load("mix")
near(x["cct_K"], 6245, 2, "half and half")
near(x["lights"][1]["shadow_stops"], 1, 1e-3, "a stop")
s = load("shares")
near(100 * s["lights"][0]["share_ratio"], 68, 0.5, "key")
near(100 * s["lights"][1]["share_ratio"], 17, 0.5, "fill")
assert s["second_shadow_light"] == "fill" and s["cct_K"] is None and s["cct_K_tolerance"] is None
near(load("toward")["intensity_cd"], 1600 / 3, 1e-3, "cd")
f = load("flux")
near(f["flux_lm"], 2283.19, 0.1, "lm")
near(sum(zone["flux_lm"] for zone in f["zones"]), f["flux_lm"], 0.05, "zones")
assert "intensity_cd" not in f
c = load("colour")
near(c["cct_K"], 2700, 40, "K")
assert c["ra"] < 80 and c["r9"] < 0 and len(c["r"]) == 15 and len(c["foods"]) == 4
# A black body wants -58; a gap between its blue and the rest makes a gel move this lamp less than it would that.
near(c["gel_mired"], 1e6 / 3200 - 1e6 / 2700, 25, "gel")
END
verdict 'lamp --json holds closed forms' "$wrong"

# 500 cos 20, whatever h is.
run 0 platecall lamp --file "$files/type-b-2002.ies" --at -20,-30 --json
holds out '"intensity_cd": 469.846'
verdict 'directions of types A and B may be negative' "$wrong"

run 0 platecall lamp --sheet "$lamps/p1.json" --at-m 0.9 --json
cp out first
run 0 platecall lamp --sheet "$lamps/p1.json" --at-m 0.9 --json
cmp -s out first || wrong="$wrong two runs differ"
verdict 'lamp says the same twice' "$wrong"
plan
