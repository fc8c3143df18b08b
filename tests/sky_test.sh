#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `sun` and `window` as a person or a script calls them. What they say of the demo's place is derived another way in
# sky_check.py. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
site=$PC_SOURCE_ROOT/demo/site.json
golden=$PC_SOURCE_ROOT/tests/golden

# The worked example of NREL/TP-560-34302; a hundredth of a degree is what is promised.
run 0 platecall sun --lat 39.742476 --lon -105.1786 --at 2003-10-17T12:30:30-07:00 --height-m 1830.14 \
    --pressure-hpa 820 --temperature-c 11 --delta-t-s 67 --json
python3 - out >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
found = json.load(open(sys.argv[1], encoding="utf-8"))
for key, want in (("azimuth_deg", 194.34024), ("elevation_deg", 90 - 50.11162), ("elevation_true_deg", 39.872046)):
    assert abs(found[key] - want) < 0.001, (key, found[key], want)
END
verdict 'sun --json stands where the published example does' "$wrong"

for what in sun window; do
    run 0 platecall "$what" --site "$site" --at 14:00
    [ ! -s err ] || wrong="$wrong $(cat err)"
    if [ -n "${PC_RECORD:-}" ]; then cp out "$golden/$what.txt"; fi
    cmp -s out "$golden/$what.txt" || wrong="$wrong $(diff out "$golden/$what.txt")"
    verdict "$what tells of the demo's place what it has told" "$wrong"
done

run 0 platecall sun --site "$site" --at 2027-03-18T14:00+01:00 --again 2027-09-25T00:00+02:00
holds out 'The same sun comes again at 14:44 on 25 September 2027 by a clock at UTC+02:00'
verdict 'the same sun on another day, by that day'"'"'s clock' "$wrong"

# From straight into the room, the sun at 207.61 degrees throws a shadow 2.61 degrees round.
run 0 platecall sun --site "$site" --at 14:00 --shadow 2.605
holds out 'the window looks to a bearing of 205.0 ± 0.8 degrees'
run 0 platecall sun --lat 58.35 --lon 11.25 --at 2027-03-18T14:00+01:00 --shadow 2.605 --json
holds out '"facing_deg": 205'
verdict 'a shadow tells the bearing' "$wrong"

run 0 platecall window --site "$site" --facing 205 --at 14:00 --scrim-stops 1.333
holds out 'Behind a scrim of 1.33 stops 1'
run 0 platecall window --site "$site" --facing 205 --at 09:30
holds out "The sun itself does not reach the hero's centre then."
verdict 'window reckons with a scrim' "$wrong"

run 0 platecall sun --lat 58.35 --lon 11.25 --at 2027-03-18T14:00+01:00 --facing 205 --window-m 1.8x1.3 --sill-m 0.85 \
    --from-table-m 1.25 --table-height-m 0.76
holds out "The hero's centre is in it from 11:"
verdict 'a window told by options needs no file' "$wrong"

run 0 platecall sun --site "$site" --facing 205 --out day.svg
[ "$(head -c 5 day.svg)" = '<?xml' ] || wrong="$wrong no SVG"
mv day.svg first.svg
run 0 platecall sun --site "$site" --facing 205 --out day.svg
cmp -s first.svg day.svg || wrong="$wrong twice drawn, two drawings"
run 2 platecall sun --site "$site" --facing 205 --out day.bmp
holds err '.svg, .pdf or .png'
verdict 'the drawing is written, and always the same' "$wrong"

# A sentence and no number where there is nothing to tell.
run 0 platecall sun --lat 78 --lon 15 --at 2027-12-21T12:00+01:00
holds out 'The sun does not rise there on 21 December 2027.'
run 0 platecall sun --lat 78 --lon 15 --at 2027-06-21T12:00+01:00
holds out 'The sun does not set there on 21 June 2027'
run 0 platecall sun --lat 58.35 --lon 11.25 --at 2027-12-18T14:00+01:00 --facing 0
holds out 'No sun comes to the table on that day'
verdict 'no sun has a sentence' "$wrong"
# And for programs, null and nothing in the lists, with the reason beside.
for day in '78 2027-12-21 180' '58.35 2027-12-18 0'; do
    # shellcheck disable=SC2086 # three words
    set -- $day
    run 0 platecall sun --lat "$1" --lon 15 --at "$2T12:00+01:00" --facing "$3" --json
    python3 - out "$1" >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
found = json.load(open(sys.argv[1], encoding="utf-8"))
assert found["table_in_sun"] == [] == found["hero_in_sun"] and found["why_not"].startswith("No sun comes"), found["why_not"]
assert not any(row["hero_lit"] or row["table_share_ratio"] for row in found["rows"])
if sys.argv[2] == "78":
    assert found["rise"] is None and found["set"] is None and found["highest"] is None and found["highest_deg"] is None
END
done
run 0 platecall sun --lat 78 --lon 15 --at 2027-06-21T12:00+01:00 --json
holds out '"rise": null'
holds out '"set": null'
verdict 'no sun, and a sun that does not set, are null for programs' "$wrong"
plan
