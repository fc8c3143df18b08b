#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A job's folder as text, copied back, and listed; files that were tampered with. Prints TAP.
# shellcheck source=tests/tap.sh
. "$PC_SOURCE_ROOT/tests/tap.sh"
mkdir jobs
head -c 300000 /dev/urandom >IMG_1.DNG
head -c 200000 /dev/urandom >IMG_2.DNG
make-job jobs/larder IMG_1.DNG IMG_2.DNG >told

run 0 platecall readable jobs/larder
holds out "8 changes"
cat >check.py <<'END'
import csv, hashlib, json, sys

where = sys.argv[1]
rows = list(csv.DictReader(open(f"{where}/readable/shot.csv", newline="", encoding="utf-8")))
assert rows[0]["dish"] == "'=1+1, smoked \"beetroot\" broth", rows
assert float(rows[0]["angle_deg"]) == 30, rows
taps = list(csv.DictReader(open(f"{where}/readable/tap.csv", newline="", encoding="utf-8")))
assert taps[0]["plate"] == "S1 first" and taps[0]["state"] == "down" and taps[0]["made"].endswith("+00:00"), taps
frames = list(csv.DictReader(open(f"{where}/readable/frame.csv", newline="", encoding="utf-8")))
assert [f["file"] for f in frames] == ["IMG_1.DNG", "IMG_2.DNG"], frames
for f in frames:
    bytes_there = open(f"{where}/frames/{f['file']}", "rb").read()
    assert hashlib.sha256(bytes_there).hexdigest() == f["sha256"] and len(bytes_there) == int(float(f["bytes"])), f
log = json.load(open(f"{where}/readable/changes.json", encoding="utf-8"))
assert [c["rev"] for c in log] == list(range(1, 9)), log
now = json.load(open(f"{where}/readable/job.json", encoding="utf-8"))
assert now["job"]["client"] == "Tidehouse Orrevik" and len(now["frames"]) == 2, now
END
python3 check.py jobs/larder >python.out 2>&1 || wrong="$wrong $(cat python.out)"
verdict 'a job can be read without the program' "$wrong"

cp jobs/larder/readable/job.json before.json
run 0 platecall readable jobs/larder --json
cmp -s before.json jobs/larder/readable/job.json || wrong="$wrong twice the same job, and other bytes"
verdict 'the same job gives the same text' "$wrong"

run 0 platecall restore jobs/larder --to back
holds out '2 frames'
cmp -s IMG_2.DNG back/frames/IMG_2.DNG || wrong="$wrong a frame differs"
run 0 platecall readable back
python3 check.py back >python.out 2>&1 || wrong="$wrong $(cat python.out)"
verdict 'a job is restored with all its changes and frames' "$wrong"

run 2 platecall restore jobs/larder --to back
holds err 'never restored over another'
verdict 'a job is not restored over another' "$wrong"

cp -r jobs/larder flipped
printf X | dd of=flipped/frames/IMG_2.DNG bs=1 seek=777 conv=notrunc 2>dd.err
run 1 platecall restore flipped --to never
holds err 'IMG_2.DNG'
holds err 'not those that came from the camera'
[ ! -e never ] && [ -z "$(ls -d never* 2>/dev/null)" ] || wrong="$wrong something is left of it"
verdict 'one flipped bit in a copy stops the restoring, by name' "$wrong"

rm flipped/frames/IMG_1.DNG
run 1 platecall restore flipped --to never
holds err 'IMG_1.DNG'
verdict 'a frame that is missing from a copy is named' "$wrong"

head -c 3000 /dev/urandom >noise
mkdir jobs/noise jobs/newer
cp noise jobs/noise/job.db
cp jobs/larder/job.db jobs/newer/job.db
# The number of the schema lies at byte 60 of the file, four bytes, big end first (SQLite's file format).
printf '\000\000\000\143' | dd of=jobs/newer/job.db bs=1 seek=60 conv=notrunc 2>dd.err
cp jobs/newer/job.db newer.db
run 0 platecall jobs jobs
holds out '2027-03-18'
holds out 'Harbour kitchen'
holds out 'noise: It is damaged or no job'
holds out 'newer: This job was written by a newer platecall'
cmp -s newer.db jobs/newer/job.db || wrong="$wrong the newer job was written to"
verdict 'the diary lists the jobs, and says of two why they cannot be opened' "$wrong"

run 0 platecall jobs jobs --json
verdict 'the diary for programs' "$wrong"
run 1 platecall jobs nowhere
verdict 'a folder that is not there' "$wrong"
plan
