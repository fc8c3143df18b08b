#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A writer of a job ended at each of its writes, syncs, links and renames in turn. Prints TAP.

Whatever was acknowledged before is there when the job is opened again, nothing is there by half, and the same work
done once more goes through. Then the same with a disk that is full: a sentence, and nothing lost.
"""
import concurrent.futures
import hashlib
import json
import os
import shutil
import subprocess
import sys

import faulty

MAKE_JOB = os.path.join(faulty.BUILD, "tests/make-job")
KILL = os.path.join(faulty.BUILD, "tests/kill-shim.so")
FAULT = os.path.join(faulty.BUILD, "tests/fault-shim.so")


def make_frames(work):
    frames = []
    for number in range(2):
        path = os.path.join(work, f"IMG_{number}.DNG")
        with open(path, "wb") as file:
            file.write(hashlib.sha512(str(number).encode()).digest() * 6000)
        frames.append(path)
    return frames


def write_job(place, frames, **env):
    run = subprocess.run([MAKE_JOB, os.path.join(place, "larder"), *frames], capture_output=True, text=True,
                         timeout=faulty.HANG_S, env={**os.environ, **env}, check=False)
    return run.returncode, run.stdout.splitlines(), run.stderr


def read_job(place):
    """The job's log and frames by its readable form, or why it cannot be had."""
    folder = os.path.join(place, "larder")
    run = subprocess.run([faulty.PROGRAM, "readable", folder], capture_output=True, text=True, timeout=faulty.HANG_S,
                         check=False)
    if run.returncode != 0:
        return None, None, run.stderr
    with open(os.path.join(folder, "readable/changes.json"), encoding="utf-8") as file:
        changes = json.load(file)
    return changes, {c["subject"]: c["body"] for c in changes if c["what"] == "frame"}, ""


def wrong_with(place, told):
    """What does not hold of the job in place, when the writer had said the lines told."""
    if not told and not os.path.exists(os.path.join(place, "larder/job.db")):
        return []
    changes, frames, why = read_job(place)
    if changes is None:
        # A writer that died before its first word may leave a record without a table in it.
        return [] if not told else [f"it cannot be opened: {why}"]
    wrong = []
    if [c["rev"] for c in changes] != list(range(1, len(changes) + 1)):
        wrong.append("numbers are missing in the log")
    for line in told:
        words = line.split()
        if words[0] == "change" and int(words[1]) > len(changes):
            wrong.append(f"{line} was acknowledged and is gone")
        if words[0] == "frame" and words[1] not in frames:
            wrong.append(f"{line} was acknowledged and is gone")
    for name, body in frames.items():
        path = os.path.join(place, "larder/frames", body["file"])
        with open(path, "rb") as file:
            if hashlib.sha256(file.read()).hexdigest() != body["sha256"]:
                wrong.append(f"the bytes of {name} are others")
    return wrong


def killed_at(work, frames, number):
    place = os.path.join(work, f"at-{number}")
    os.mkdir(place)
    code, told, _ = write_job(place, frames, LD_PRELOAD=KILL, KILL_N=str(number))
    wrong = [] if code == 137 else [f"it ended with {code} and not by the kill"]
    wrong += wrong_with(place, told)
    unopened = not told and read_job(place)[0] is None
    if unopened:  # nothing was promised yet: begun anew
        shutil.rmtree(os.path.join(place, "larder"), ignore_errors=True)
    code, again, err = write_job(place, frames)
    if code != 0:
        wrong.append(f"the work cannot be done again: {err}")
    else:
        wrong += wrong_with(place, told + again)
        kept = sorted(os.listdir(os.path.join(place, "larder/frames")))
        kept = [name for name in kept if ".part-" not in name]
        if kept != [os.path.basename(path) for path in frames]:
            wrong.append(f"frames/ holds {kept}")
    shutil.rmtree(place)
    return [f"at call {number}: {reason}" for reason in wrong]


def full_at(work, frames, kind, number):
    place = os.path.join(work, f"full-{kind}-{number}")
    os.mkdir(place)
    log = os.path.join(place, "log")
    code, told, err = write_job(place, frames, LD_PRELOAD=FAULT, FAULT_KIND=kind, FAULT_N=str(number), FAULT_LOG=log)
    wrong = wrong_with(place, told)
    if code not in (0, 1):
        wrong.append(f"exit {code}: {err}")
    if code == 1 and not err.strip():
        wrong.append("no sentence")
    shutil.rmtree(place)
    return [f"{kind} {number}: {reason}" for reason in wrong]


def main():
    work = faulty.work_folder()
    points = faulty.Points()
    frames = make_frames(work)
    log = os.path.join(work, "count")
    place = os.path.join(work, "whole")
    os.mkdir(place)
    code, told, err = write_job(place, frames, LD_PRELOAD=KILL, KILL_N="0", KILL_LOG=log)
    if code != 0 or wrong_with(place, told):
        sys.exit(f"the run that nobody ends fails: {err} {wrong_with(place, told)}")
    with open(log, encoding="utf-8") as file:
        calls = int(file.read())
    points.point(f"a writer touches the disk {calls} times", [] if calls > 60 else ["too few to have seen them all"])
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        wrong = [r for rs in pool.map(lambda n: killed_at(work, frames, n), range(1, calls + 1)) for r in rs]
        points.point("what was acknowledged outlives an end at each of them", wrong)
        jobs = [(kind, n) for kind in ("write", "fsync", "open") for n in range(1, 25)]
        wrong = [r for rs in pool.map(lambda j: full_at(work, frames, *j), jobs) for r in rs]
        points.point("on a disk that is full or failing it says so and loses nothing", wrong)
    shutil.rmtree(work)
    points.end()


main()
