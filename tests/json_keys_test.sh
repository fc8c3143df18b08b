#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# docs/json.md names every key of every --json answer, and a tolerance stands beside each figure that has one.
# Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
make-set set
cp set/right.dng actual.dng
set -- --hero 240,130 --surface 240,255 --place 'rim one=200,130'
platecall weigh set "$@" --dials left=0,right=1 --actual actual.dng --json >weigh.json
platecall want set "$@" --surface-stops 9 --hero-ev 0 --json >want.json
platecall read set/left.dng --place middle=240,130 --json >read.json
demo=$PC_SOURCE_ROOT/demo
platecall sun --site "$demo/site.json" --at 14:00 --shadow 2 --json >sun.json
platecall window --site "$demo/site.json" --at 14:00 --scrim-stops 1 --json >window.json
platecall standpoint --kit "$demo/kit.json" --site "$demo/site.json" --wide-cm 114 --page-mm 436x286 --board-cm 140x110 \
    --tall-cm 16 --off-axis-cm 40 --json >standpoint.json
platecall depth --focal-mm 90 --f 8 --coc-mm 0.02 --magnification 0.15 --deep-mm 160 --json >depth.json
platecall glare --site "$demo/site.json" --facing W1 --above-cm 4 --json >glare.json
platecall recce --kit "$demo/kit.json" --site "$demo/site.json" --wide-cm 114 --outlet spread --json >recce.json
make-bands bands.dng 3 5.3 200
platecall mains bands.dng --clip 24 --shutter 1/50 --json >mains.json
platecall expose --lux 700 --wide-cm 30 --deep-mm 20 --focal-mm 50 --pour-cm 10 --flash-f 16 --json >expose.json
lamps=$PC_SOURCE_ROOT/demo/lamps
platecall lamp --sheet "$lamps/p1.json" --at-m 0.9 --door-cm 15 --scrim-cm 90 --against-K 7500 --json >lamp_sheet.json
platecall lamp --spectrum "$lamps/pendant.csv" --against-K 3200 --json >lamp_colour.json
platecall lamp --lx key=3500@5300K --lx fill=900@7500K --json >lamp_place.json
platecall lamp --file "$PC_SOURCE_ROOT/tests/photometry/axis.ldt" --at 30,0 --at-m 2 --json >lamp_file.json
make-posed sheet sheet.jpg 4 >truth.txt
platecall plumb sheet.jpg --equivalent-mm 24 --json >plumb.json

cat >check.py <<'END'
import glob, json, re, sys

docs, sources, answers = sys.argv[1], sys.argv[2], sys.argv[3:]
documented = set(re.findall(r"`([a-z0-9_A-Z]+)`", open(docs, encoding="utf-8").read()))
BY_NAME = ("dials", "kelvins_K", "light_share_ratios")  # keys in these are names the photographer gave
FIGURES = ("key_to_fill_stops", "hero_over_surface_picture_stops", "hero_over_surface_light_stops", "floor_stops",
           "greycard_lx", "hero_share_ratio", "surface_share_ratio", "mired_from_ambient", "foretold_ev", "exposure_ev",
           "off_ev", "azimuth_deg", "elevation_deg", "elevation_true_deg", "delta_t_s", "facing_deg",
           "table_share_ratio", "overcast_lx", "clear_lx", "direct_lx", "scrimmed_lx", "daylight_factor_pct",
           "overcast_K", "clear_K", "direct_K", "near_mm", "far_mm", "total_mm", "total_with_diffraction_mm",
           "spare_m", "sensor_distance_m", "pupil_distance_m", "working_distance_m", "lean_mm", "share_ratio",
           "reflectance_pct", "polarised_reflectance_pct", "turn_deg", "subject_lx", "ambient_ev", "flash_ev",
           "sharp_mm", "depth_lacking_ratio", "airy_over_coc_ratio", "smear_output_px", "hand_smear_output_px",
           "ripple_left_pct", "noise_to_signal_ratio", "left_ratio", "bands", "depth_pct", "lamp_hz", "light_lx",
           "flash_fnumber", "wide_deg", "high_deg", "penumbra_m", "door_full_m", "door_half_m", "door_dark_m",
           "scrim_light_lx", "scrim_lost_stops", "scrim_wide_deg", "scrim_penumbra_m", "apart_mired", "left_mired",
           "left_duv", "cct_K", "tint_duv", "ra", "r9", "change_de2000", "gel_mired", "gel_loss_stops",
           "shadow_stops",
           )


def keys(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            if key not in BY_NAME:
                yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


def lacking(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            # A way tells what its dials come to; what they are good to stands with the lights.
            if key in FIGURES and key + "_tolerance" not in value and "why_not" not in value:
                yield key
            yield from lacking(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from lacking(inner)


def verdict(point, name, wrong):
    print(f"{'not ok' if wrong else 'ok'} {point} - {name}")
    for text in wrong:
        print(f"# {text}")


point = 0
for path in answers:
    found = json.load(open(path, encoding="utf-8"))
    point += 1
    verdict(point, f"the keys of {path} are in docs/json.md", sorted(set(keys(found)) - documented))
    point += 1
    verdict(point, f"the figures of {path} have their tolerances beside them", sorted(set(lacking(found))))

# Keys that these answers happen not to hold. The record of closing checks is a file, told in docs/files.md.
written = set()
for path in glob.glob(sources + "/*.c"):
    if path.endswith(("_test.c", "_fuzz.c", "/record.c")):
        continue
    text = open(path, encoding="utf-8").read()
    written |= set(re.findall(r'pc_json_put\w*\(\s*\*?\w+,\s*"(\w+)"', text))
    written |= set(re.findall(r'put_text_or_null\(\s*\w+,\s*"(\w+)"', text))
    for figure in re.findall(r'put_figure(?:_mm)?\(\s*\w+,\s*"(\w+)"', text):
        written |= {figure, figure + "_tolerance"}
point += 1
verdict(point, "the keys in the sources are in docs/json.md",
        sorted(written - documented) or ([] if len(written) > 80 else [f"only {len(written)} keys were seen"]))
print(f"1..{point}")
END
exec python3 check.py "$PC_SOURCE_ROOT/docs/json.md" "$PC_SOURCE_ROOT/src/front/cli" ./*.json
