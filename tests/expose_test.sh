#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# `expose` and `mains` as a person or a script calls them. Prints TAP. (PC_RECORD=1 writes the goldens anew, to be read
# before they are kept.)
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
golden=$PC_SOURCE_ROOT/tests/golden
kit=$PC_SOURCE_ROOT/demo/kit.json

# refuses TEXT: adds to wrong unless err holds it and nothing is on stdout.
refuses() {
    [ ! -s out ] || wrong="$wrong something on stdout"
    holds err "$1"
}
same() {
    [ -z "${PC_RECORD:-}" ] || cp out "$golden/$1"
    cmp -s out "$golden/$1" || wrong="$wrong $(diff out "$golden/$1" 2>&1 || true)"
}
# value JSON-PATH WANTED WITHIN: of out.
value() {
    python3 - out "$@" >python.out 2>&1 <<'END' || wrong="$wrong $(cat python.out)"
import json, sys
got = json.load(open(sys.argv[1], encoding="utf-8"))
for step in sys.argv[2].split("."):
    got = got[int(step)] if step.isdigit() else got[step]
want, within = float(sys.argv[3]), float(sys.argv[4])
assert abs(got - want) <= within, f"{sys.argv[2]}: got {got}, want {want}"
END
}

# 2 / pi of a sinusoid is left where the shutter holds half a wave, nothing where it holds a whole one.
run 0 platecall mains --shutter 1/200 --shutter 1/50
holds out '1/200 s 64 ± 1 %'
holds out '1/50 s under 1.6 %'
verdict 'a pendant at 1/200 and at 1/50' "$wrong"
run 0 platecall mains --shutter 1/200 --shutter 1/50 --json
value shutters.0.left_ratio 0.6366 0.0001
value shutters.1.left_ratio 0 0.0001
verdict 'the same for programs' "$wrong"

run 0 platecall mains
same mains.txt
verdict 'mains tells the usual shutters' "$wrong"
run 0 platecall mains --mains-hz 60 --clip 25 --shutter 1/50
holds out 'pulses 5 times a second'
holds out 'seizure'
holds out 'stand still under this lamp: 24, 30, 60'
verdict 'a clip beats with the mains, and flicker is warned of' "$wrong"
run 0 platecall mains --clip 25 --shutter 1/50 --json
value clip.beat_hz 0 0.001
verdict 'a clip that stands still' "$wrong"

make-bands bands.dng 3 5.3 200
make-bands shallow.dng 0.3 5.3 200
make-bands few.dng 5 0.7 200
make-bands cloth.dng 0 1 200 cloth
make-bands cloth-bands.dng 3 5.3 200 cloth
run 0 platecall mains bands.dng --readout 0.053
same mains-bands.txt
verdict 'bands of the mains in one frame' "$wrong"
run 0 platecall mains bands.dng --readout 0.053 --json
value measured.bands 5.3 0.05
value measured.depth_pct 3 0.1
value measured.lamp_hz 100 6
value measured.lamp_mains_hz 50 0
value measured.modulation_pct 4.71 0.2
verdict 'the same for programs' "$wrong"
make-bands cloth-smooth.dng 0 5.3 50 cloth
run 0 platecall mains cloth-bands.dng cloth-smooth.dng --json
value measured.bands 5.3 0.05
value measured.depth_pct 3 0.1
value measured.readout_s 0.053 0.001
verdict 'bands on cloth, from two frames' "$wrong"
run 0 platecall mains shallow.dng
holds out 'There are no bands deeper than 0.7 %.'
verdict 'shallow bands are passed over' "$wrong"
run 0 platecall mains cloth.dng
holds out 'It cannot be told'
verdict 'of a cloth nothing is told' "$wrong"
run 0 platecall mains few.dng
holds out 'less than 1.5 bands'
verdict 'fewer bands than can be told say so' "$wrong"

# 750 lx: log2(750 * 100 / 250) less log2(2^7 * 2^(23/3)).
run 0 platecall expose --lux 750 --f 11 --shutter 1/200 --iso 100 --magnification 0.0001 --flash-f 16 --json
value settings.0.ambient_ev -6.438 0.005
value settings.0.flash_power_ratio 0.5 0.001
verdict 'steady light under flash, each for itself' "$wrong"
run 0 platecall expose --lux 750 --f 11 --shutter 1/200 --iso 100 --magnification 0.0001 --flash-f 16
holds out '750 lx of steady light lies 6.4 ± 0.4 stops under'
holds out 'Flash at 1/2 power is right within 0.2 stops.'
verdict 'the same for people' "$wrong"
run 0 platecall expose --lux 700 --ripple 30 --f 8 --shutter 1/200 --iso 1600 --magnification 0.1
holds out 'ripple 19.1 ± 0.3 % of the light is left'
verdict 'the pendant in the picture' "$wrong"

run 0 platecall expose --kit "$kit" --camera C1 --lens '50 mm' --lux 700 --wide-cm 40 --pour-cm 15 --mains-hz 50 --flash F1
same expose.txt
verdict 'a pour by flash or by what there is' "$wrong"
run 0 platecall expose --kit "$kit" --camera C1 --lens '90 mm macro' --lux 3500 --wide-cm 24 --deep-mm 15 --hand
same expose-hand.txt
verdict 'depth against hands' "$wrong"
run 0 platecall expose --kit "$kit" --camera C1 --lens '90 mm macro' --lux 3500 --wide-cm 24 --deep-mm 160
holds out 'No aperture is deep enough for one frame'
verdict 'depth that no aperture gives' "$wrong"
run 0 platecall expose --class phone --lux 500 --wide-cm 30 --focal-mm 6 --clip 24 --mains-hz 50 --moving hands
holds out 'a second'
verdict 'a clip on a phone' "$wrong"

# The made sensor holds (16000 - 512) / 0.2 = 77440 electrons and reads to 3, with rounding to 3.3.
make-set set
run 0 platecall expose --lux 500 --wide-cm 30 --noise set/window-1.dng --noise set/window-2.dng
holds out 'holds 76000 ± 11000 electrons at ISO 100 and reads them to 3.6 ± 0.5'
verdict 'noise is measured from two frames' "$wrong"
run 0 platecall expose --kit "$kit" --camera C2 --lux 750 --wide-cm 30
holds out 'ISO is kept to 800'
verdict 'what the kit calls noisy is kept out' "$wrong"

# By hand from make_frame.c: 1/4 of saturation at 1/64 s, f/8, ISO 100: 78 / 400 lx s, L = H N^2 / (0.65 t), pi / 0.18.
make-frame card.dng
run 0 platecall expose --card card.dng --greycard 80,120 --json
value subject_lx 21446 60
value subject_lx_tolerance 4957 100
run 0 platecall expose --card card.dng --greycard 80,120 --meter-lx 20000 --tie tie.json
holds out '(0.1 EV, tied to a meter)'
holds out 'kept in tie.json'
run 0 platecall expose --card card.dng --greycard 80,120 --tie tie.json --json
value subject_lx 20000 5
value subject_lx_tolerance 1435 10
verdict 'a card gives lux, and a tie makes them better' "$wrong"
sed 's/"7"/"8"/' tie.json >other.json
run 1 platecall expose --card card.dng --greycard 80,120 --tie other.json
refuses 'another camera'
verdict 'the tie of another camera is refused' "$wrong"
cp tie.json before.json
run 1 platecall expose --card card.dng --greycard 80,120 --meter-lx 100 --tie tie.json
refuses 'No camera is so far off'
cmp -s tie.json before.json || wrong="$wrong the tie was touched"
verdict 'a meter that lay elsewhere ties nothing' "$wrong"
plan
