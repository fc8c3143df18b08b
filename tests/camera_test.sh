#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The demo's questions of where the camera goes, what is sharp and what shines, as they are answered at the shell. Prints
# TAP. PC_RECORD=1 records the texts anew.
set -eu
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
demo=$PC_SOURCE_ROOT/demo
golden=$PC_SOURCE_ROOT/tests/golden

# same NAME COMMAND...: the text is the golden one.
same() {
    name=$1
    shift
    wrong=
    "$@" >out 2>err || wrong="exit $?: $(cat err)"
    [ -z "${PC_RECORD:-}" ] || cp out "$golden/$name.txt"
    cmp -s out "$golden/$name.txt" || wrong="$wrong $(diff out "$golden/$name.txt" || true)"
    verdict "$name" "$wrong"
}

# holds NAME CHECK COMMAND...: CHECK is Python that asserts what it holds of `found`, the --json answer.
holds() {
    name=$1
    check=$2
    shift 2
    wrong=
    "$@" --json >out 2>err || wrong="exit $?: $(cat err)"
    python3 -c "
import json, math
found = json.load(open('out', encoding='utf-8'))
def near(got, want, within): assert got is not None and abs(got - want) <= within, f'got {got}, want {want}'
$check" 2>err || wrong="$wrong $(tail -n 1 err)"
    verdict "$name" "$wrong"
}

spread="--kit $demo/kit.json --site $demo/site.json --wide-cm 114 --tall-cm 16 --off-axis-cm 40"
# shellcheck disable=SC2086 # options are words
{
    same standpoint-spread platecall standpoint $spread --outlet 'S2 spread' --outlets "$demo/outlets.json" \
        --board 'grey linen'
    # By hand, with the thin lens: f (2 + m + 1/m), x h / (u - h), pixels over inches; docs/camera.md.
    holds 'a spread: which camera, which lens, which table' '
first, second = found["standpoints"][:2]
assert (first["camera"], first["lens"], first["support"]) == ("C1", "50 mm", "trestles"), first
assert (second["camera"], second["lens"], second["support"]) == ("C1", "35 mm", "table"), second
near(first["sensor_distance_m"], 1.685, 0.001); near(first["support_most_m"], 0.485, 0.001)
near(first["lean_mm"], 43.4, 0.1); near(second["lean_mm"], 65.1, 0.1); near(second["sensor_distance_m"], 1.179, 0.001)
by = {(s["camera"], s["lens"]): s for s in found["standpoints"]}
c2, c3 = by["C2", "35 mm"], by["C3", "24 mm-equivalent"]
assert c2["support"] is None and not c2["does"]
near(c2["sensor_distance_m"], 1.769, 0.001); near(c2["ppi"], 285.2, 0.1)
near(c3["sensor_distance_m"], 0.80, 0.005); near(c3["lean_mm"], 100.5, 1)
assert not first["board"]["near_edge_shows"] and not first["board"]["side_shows"]' \
        platecall standpoint $spread --page-mm 436x286 --board 'grey linen'
    holds 'a page of an outlet is that page' '
near(found["standpoints"][0]["ppi"], 477.2, 0.1); near(found["standpoints"][0]["picture_height_cm"], 74.8, 0.05)' \
        platecall standpoint $spread --outlet 'S2 spread' --outlets "$demo/outlets.json"
}
holds 'a camera told at the shell' '
one = found["standpoints"][0]
near(one["sensor_distance_m"], 0.05 * (2 + 0.036 / 0.6 + 0.6 / 0.036), 1e-4); near(one["support_m"], 0.7, 1e-9)
assert found["ceiling_m"] is None and one["spare_m"] is None and one["ppi"] is None' \
    platecall standpoint --sensor-mm 36x24 --focal-mm 50 --wide-cm 60 --table-m 0.7
holds 'a phone told at the shell' 'near(found["standpoints"][0]["pupil_distance_m"], 0.7904 + 0.0053, 0.0005)' \
    platecall standpoint --sensor-mm 7.68x5.76 --equivalent-mm 24 --wide-cm 114

stack='--focal-mm 90 --coc-mm 0.02 --magnification 0.15 --pupil-ratio 1 --deep-mm 160'
# shellcheck disable=SC2086
{
    same depth-stack platecall depth $stack --f 8
    holds 'a stack of galettes at f/8' '
near(found["total_mm"], 16.36, 0.01); near(found["total_with_diffraction_mm"], 16.36, 0.01)
assert found["rail"]["frames"] == 14 == len(found["rail"]["at_mm"]), found["rail"]
near(found["total_mm_tolerance"] / found["total_mm"], 0.15, 0.01)' platecall depth $stack --f 8
    holds 'a stack of galettes at f/16' '
near(found["total_with_diffraction_mm"], 32.73, 0.01); assert found["rail"]["frames"] == 7, found["rail"]' \
        platecall depth $stack --f 16
}
# The same by the page that it is for. By hand: 24 mm across 221 mm of paper make 0.2 mm there 0.0217 mm on the sensor, so
# 2 N c (1 + m) / m^2 = 17.8 and 35.5 mm, and 1 + (160 - 17.8) / (0.7 x 17.8) = 12.4 and 6.01 frames, or 13 and 7.
by_page="--kit $demo/kit.json --camera C1 --magnification 0.15 --deep-mm 160 --outlets $demo/outlets.json"
# shellcheck disable=SC2086
{
    holds 'the same stack for its page at f/8' '
near(found["coc_mm"], 0.02172, 1e-5); near(found["total_with_diffraction_mm"], 17.77, 0.02)
assert found["rail"]["frames"] == 13, found["rail"]' platecall depth $by_page --lens '90 mm macro' --f 8 --outlet 'S3 page'
    holds 'the same stack for its page at f/16' '
near(found["total_with_diffraction_mm"], 35.55, 0.05); assert found["rail"]["frames"] == 7, found["rail"]' \
        platecall depth $by_page --lens '90 mm macro' --f 16 --outlet 'S3 page'
    # A screen 950 mm wide seen from 2 m: 1.6 mm there, 0.0606 mm on the sensor.
    holds 'the same stack for a menu board' '
near(found["coc_mm"], 1.6 * 36 / 950, 1e-5); near(found["total_with_diffraction_mm"], 2 * 16 * 0.06063 * 1.15 / 0.0225 / (1 - (0.06063 / 0.15 * 16 / 90) ** 2), 0.1)' \
        platecall depth $by_page --lens '90 mm macro' --f 16 --outlet 'S5 menu board'
    # expose goes by the same page: its depth, and its pixels (221 mm at 300 an inch over 24 mm of the sensor).
    holds 'expose for the page of the stack' '
one = found["settings"][0]
near(one["sharp_mm"], 35.55, 0.2); near(one["airy_over_coc_ratio"], 2.44 * 0.55e-3 * 16 * 1.15 / 0.02172, 0.002)
near(one["depth_lacking_ratio"], 1 - 35.55 / 160, 0.002)' \
        platecall expose $by_page --lens '90 mm macro' --lux 3500 --f 16 --shutter 1/8 --iso 100 --outlet 'S3 page'
}
# Computed twice, by the closed form and by hand.
holds 'depth of a pupil of half the size' '
near(found["near_mm"], 1.9108, 6e-5); near(found["far_mm"], 1.9293, 6e-5); near(found["total_mm"], 3.8401, 6e-5)
near(found["effective_f"], 16, 1e-9); near(found["exposure_loss_ev"], 2, 1e-9)' \
    platecall depth --focal-mm 100 --f 8 --coc-mm 0.03 --magnification 0.5 --pupil-ratio 0.5
holds 'depth to infinity' '
assert found["far_mm"] is None and found["total_mm"] is None and found["far_mm_tolerance"] is None; near(found["near_mm"], 50 * (1 / 0.001 + 1) / (1 + 50 / 8 / 15), 0.1)' \
    platecall depth --focal-mm 50 --f 8 --coc-mm 0.015 --magnification 0.001 --pupil-ratio 1
holds 'depth for an outlet, with a lens of the kit' '
near(found["coc_mm"], 0.2 / (221 / 24), 1e-5); near(found["magnification_ratio"], 0.1, 1e-5)' \
    platecall depth --kit "$demo/kit.json" --camera C1 --lens '90 mm macro' --f 8 --wide-cm 24 --outlet 'S3 page' \
    --outlets "$demo/outlets.json"

same glare-broth platecall glare --site "$demo/site.json" --facing W1 --angle 30 --above-cm 4
# By 90 000 mirrored rays (src/shoot/advise/glare_test.c), and the ray over the far rim.
for row in '30 1 0' '45 0.6677 0.001' '58 0 0'; do
    # shellcheck disable=SC2086
    set -- $row
    holds "broth before a window at $1 degrees" "near(found['share_ratio'], $2, $3)
edge = found['edges']['lower' if $2 == 0 else 'raise']
near(edge['angle_deg'], 55.94, 0.01); assert 1 < edge['angle_deg_tolerance'] < 2.5, edge" \
        platecall glare --site "$demo/site.json" --facing W1 --angle "$1" --above-cm 4
done
holds 'broth mirrors 6 %, and half of one through a polariser' '
near(found["reflectance_pct"], 6.0, 0.1); near(found["polarised_reflectance_pct"], 0.43, 0.05)' \
    platecall glare --site "$demo/site.json" --facing W1 --angle 30 --above-cm 4
holds 'the same window told at the shell' "near(found['share_ratio'], 0.6677, 0.001)" \
    platecall glare --window-cm 180x130 --sill-cm 85 --wall-cm 125 --table-cm 76 --angle 45 --above-cm 4
holds 'W1 at nine o'"'"'clock leaves it clear' '
assert found["clear"] and found["share_ratio"] == 0' \
    platecall glare --site "$demo/site.json" --looking 295 --angle 30 --above-cm 4
holds 'a panel before the window' '
shows = {one["name"]: one["share_ratio"] for one in found["shows"]}
assert set(shows) == {"W1", "W2", "P1"} and shows["P1"] > 0.2, shows' \
    platecall glare --site "$demo/site.json" --kit "$demo/kit.json" --facing W1 --above-cm 4 --stands P1=12,80,50
for lumpy in --lumpy '--dish=sauce'; do
    holds "$lumpy: it cannot tell" 'assert found["can_tell"] is False and len(found) == 2' \
        platecall glare --site "$demo/site.json" --facing W1 "$lumpy"
done

wrong=
for what in standpoint glare; do
    case $what in
    standpoint) set -- --sensor-mm 36x24 --focal-mm 50 --wide-cm 60 ;;
    glare) set -- --site "$demo/site.json" --facing W1 --above-cm 4 ;;
    esac
    platecall "$what" "$@" --section "$what.svg" >/dev/null 2>err || wrong="$wrong $(cat err)"
    grep -q '<svg' "$what.svg" 2>err || wrong="$wrong no drawing of $what"
done
verdict 'side sections are drawn' "$wrong"
plan
