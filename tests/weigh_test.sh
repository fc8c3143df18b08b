#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `weigh` and `want` on whole sets, as a person or a script calls them. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
places='--hero 240,130 --surface 240,255'

# Names of the files, of the lights and of the folder hold spaces and letters beyond ASCII.
make-set 'Bröd och smör'
mv 'Bröd och smör/left.dng' 'Bröd och smör/lampa från vänster.dng'
echo note >'Bröd och smör/anteckning.txt'
echo hidden >'Bröd och smör/.hidden.dng'
# shellcheck disable=SC2086 # words
run 0 platecall weigh 'Bröd och smör' $places
holds out 'lampa från vänster'
holds out '1 other file in the folder was passed over.'
verdict 'names hold spaces and any letters; other files are passed over' "$wrong"

make-set set
# shellcheck disable=SC2086
run 0 platecall weigh set $places --json
cp out whole.json
# shellcheck disable=SC2086
platecall want set $places --surface-stops 1 --json >want.json
python3 - whole.json want.json "$PC_SOURCE_ROOT/docs/json.md" >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, re, sys
weigh, want = (json.load(open(f, encoding="utf-8")) for f in sys.argv[1:3])
for light in weigh["lights"]:
    for key in ("name", "hero_share_ratio", "surface_share_ratio", "mired_from_ambient"):
        assert key in light, key
for key in ("key_to_fill_stops", "hero_over_surface_picture_stops", "hero_over_surface_light_stops", "greycard_lx"):
    assert key in weigh and key + "_tolerance" in weigh, key
for key in ("ambient_drift_pct", "moved", "ways"):
    assert key in weigh, key
assert all("dials" in way for way in weigh["ways"]) and len(weigh["ways"]) == 3
assert weigh["greycard_lx"] is None and "actual" not in weigh
hero = sum(light["hero_share_ratio"] for light in weigh["lights"]) + weigh["ambient_hero_share_ratio"]
assert abs(hero - 1) < 1e-3, hero
documented = set(re.findall(r"`([a-z0-9_A-Z]+)`", open(sys.argv[3], encoding="utf-8").read()))
named = {light["name"] for light in weigh["lights"]}
def keys(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)
missing = (set(keys(weigh)) | set(keys(want))) - documented - named
assert not missing, f"not in docs/json.md: {sorted(missing)}"
END
verdict 'the keys scripts rely on are there, documented, and shares add up to one' "$wrong"

# shellcheck disable=SC2086
run 0 platecall weigh set $places --json
cmp -s out whole.json || wrong="$wrong two runs differ"
# shellcheck disable=SC2086
run 0 platecall weigh set/right.dng set/window-2.dng set/left.dng set/window-1.dng $places --json
cmp -s out whole.json || wrong="$wrong another order of the frames gives another answer"
verdict 'the same set gives the same answer, however its frames are listed' "$wrong"

make-frame set/left.jpg
# shellcheck disable=SC2086
run 0 platecall weigh set $places --json
cmp -s out whole.json || wrong="$wrong a JPEG beside its raw changes the answer"
verdict 'a raw and its JPEG are one frame' "$wrong"
rm set/left.jpg

# The same table as linear TIFFs of half the size, which tell neither time nor exposure: the shares are those of the raws.
make-set tiffs linear
run 1 platecall weigh tiffs --hero 120,65 --surface 120,127
holds err 'bent their tones'
verdict 'TIFFs that nobody declared linear are refused, with the reason' "$wrong"
run 0 platecall weigh tiffs --hero 120,65 --surface 120,127 --linear --ambient window-1.tif --ambient window-2.tif --json
python3 - whole.json out >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
raw, tiff = (json.load(open(f, encoding="utf-8")) for f in sys.argv[1:3])
assert len(raw["lights"]) == len(tiff["lights"]) == 2
for a, b in zip(raw["lights"], tiff["lights"]):
    for key in ("hero_share_ratio", "surface_share_ratio"):
        assert abs(a[key] - b[key]) < a[key + "_tolerance"] + b[key + "_tolerance"], (key, a[key], b[key])
assert tiff["greycard_lx"] is None and tiff["lights"][0]["mired_from_ambient"] is None
END
verdict 'TIFFs declared linear count as raws' "$wrong"

# Without its tag a DNG has a black of 0. All is then too bright by what the black was, but two lamps, each less the
# window, stand to each other as they did.
cp -r set blackless
python3 - blackless/*.dng <<'END'
import struct, sys
for path in sys.argv[1:]:
    data = bytearray(open(path, "rb").read())
    at = data.index(struct.pack("<HH", 50714, 5))
    data[at:at + 2] = struct.pack("<H", 60000)
    open(path, "wb").write(data)
END
# shellcheck disable=SC2086
run 0 platecall weigh blackless $places --json
holds out 'window-1.dng does not state its black level, so 0 was taken, as the DNG specification has it.'
python3 - whole.json out >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
was, now = (json.load(open(f, encoding="utf-8")) for f in sys.argv[1:3])
for place in ("hero", "surface"):
    a, b = ([light[place + "_share_ratio"] for light in found["lights"]] for found in (was, now))
    assert abs((b[0] / b[1]) / (a[0] / a[1]) - 1) < 0.02, (place, a, b)
    assert now["ambient_hero_share_ratio"] > was["ambient_hero_share_ratio"]
END
run 0 platecall read blackless/left.dng
holds out "black at 0.0 (the file states none: the DNG specification's)"
verdict 'a black level that the file leaves out is 0, and said' "$wrong"

for fault in aperture iso refocused untold; do
    make-set "$fault" "$fault"
    # shellcheck disable=SC2086
    run 0 platecall weigh "$fault" $places
    case $fault in
    aperture) holds out 'right.dng was taken at f/10.1 and window-1.dng at f/8: this costs 0.1 EV' ;;
    iso) holds out 'right.dng was taken at ISO 200 and window-1.dng at ISO 100: this costs 0.1 EV' ;;
    refocused) holds out 'the focus was turned in between; switch autofocus off' ;;
    untold) holds out 'No frame says its shutter time, so all are taken to have had one exposure' ;;
    esac
    verdict "$fault: said aloud, and what it costs" "$wrong"
done

make-set burnt hero-clipped
# shellcheck disable=SC2086
run 1 platecall weigh burnt $places
holds err 'clipped in this frame, so its light cannot be measured there'
verdict 'a hero that clips is refused by frame and place' "$wrong"

# A closing frame taken at the captured dials is as foretold, and is kept in the record.
platecall-sim job --size 480x320 --actual 1 >/dev/null
# shellcheck disable=SC2086
run 0 platecall weigh job $places --actual job/actual.dng --out pictures --json
python3 - out >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
weigh = json.load(open(sys.argv[1], encoding="utf-8"))
for place in weigh["actual"]:
    assert abs(place["foretold_ev"] - place["actual_ev"]) < 0.1, place
assert not weigh["closing"]["exposure_blamed"]
END
[ "$(wc -l <state/platecall/foretold.jsonl)" = 1 ] || wrong="$wrong the record has no line"
for picture in window.jpg airy.jpg middle.jpg dark.jpg foretold.jpg foretold.tif residual.png; do
    [ -s "pictures/$picture" ] || wrong="$wrong no $picture"
done
verdict 'a closing frame is laid beside what was foretold, with its pictures and its record' "$wrong"

# A light may be called what another picture is called.
make-set names
mv names/left.dng names/airy.dng
mv names/right.dng names/Foretold.dng
# shellcheck disable=SC2086
run 0 platecall weigh names $places --out named
ls named >left
printf '%s\n' 'Foretold 2.jpg' 'airy 2.jpg' airy.jpg dark.jpg foretold.jpg foretold.tif middle.jpg window.jpg | LC_ALL=C sort >wanted
LC_ALL=C sort left | cmp -s - wanted || wrong="$wrong pictures: $(cat left)"
verdict 'no picture takes the place of another' "$wrong"

# Nothing half-written when the disk runs full: a file system of 64 KiB, seen by this one run only.
mkdir full
cat >fill <<END
mount -t tmpfs -o size=64k none full
code=0
platecall weigh job $places --actual job/actual.dng --out full || code=\$?
ls full >left
exit \$code
END
if unshare -r -m true 2>/dev/null; then
    run 1 unshare -r -m sh fill
    holds err 'The disk is full: free some space and run it again; this file was not changed.'
    if grep -v '\.jpg$' left; then
        wrong="$wrong something half-written is left: $(cat left)"
    fi
    verdict 'a full disk while pictures are written leaves nothing half-written' "$wrong"
else
    echo "ok $((point += 1)) - a full disk # SKIP no mount of its own can be made here"
fi

plan
