#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# docs/json.md names every key of every --json answer, and a tolerance stands beside each figure that has one.
# Prints TAP.
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
PATH=$PC_BUILD_ROOT/src/front/cli:$PC_BUILD_ROOT/tests:$PATH
export XDG_STATE_HOME="$work/state"
cd "$work"
make-set set
cp set/right.dng actual.dng
set -- --hero 240,130 --surface 240,255 --place 'rim one=200,130'
platecall weigh set "$@" --dials left=0,right=1 --actual actual.dng --json >weigh.json
platecall want set "$@" --surface-stops 9 --hero-ev 0 --json >want.json
platecall read set/left.dng --place middle=240,130 --json >read.json

cat >check.py <<'END'
import glob, json, re, sys

docs, sources, answers = sys.argv[1], sys.argv[2], sys.argv[3:]
documented = set(re.findall(r"`([a-z0-9_A-Z]+)`", open(docs, encoding="utf-8").read()))
BY_NAME = ("dials", "kelvins_K", "light_share_ratios")  # keys in these are names the photographer gave
FIGURES = ("key_to_fill_stops", "hero_over_surface_picture_stops", "hero_over_surface_light_stops", "floor_stops",
           "greycard_lx", "hero_share_ratio", "surface_share_ratio", "mired_from_ambient", "foretold_ev", "exposure_ev",
           "off_ev")


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
    for figure in re.findall(r'put_figure\(\s*\w+,\s*"(\w+)"', text):
        written |= {figure, figure + "_tolerance"}
point += 1
verdict(point, "the keys in the sources are in docs/json.md",
        sorted(written - documented) or ([] if len(written) > 80 else [f"only {len(written)} keys were seen"]))
print(f"1..{point}")
END
exec python3 check.py "$PC_SOURCE_ROOT/docs/json.md" "$PC_SOURCE_ROOT/src/front/cli" weigh.json want.json read.json
