#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A decoder killed while it reads a set, and decoders that are none. Prints TAP."""
import os
import random
import shutil
import signal
import subprocess
import time

import faulty

SEED = 11
KILLS = 24
LONGEST_WAIT_S = 0.08  # a set is read in about that
NOT_IN_TIME_S = 10.0


def start(words, **env):
    return subprocess.Popen([faulty.PROGRAM, *words], env=dict(os.environ, **env), stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE)


def finish(process):
    """Exit code (or "hang"), stdout, stderr."""
    try:
        out, err = process.communicate(timeout=faulty.HANG_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        return "hang", "", ""
    return process.returncode, out.decode(), err.decode(errors="replace")


def children(pid):
    found = set()
    try:
        for thread in os.listdir(f"/proc/{pid}/task"):
            with open(f"/proc/{pid}/task/{thread}/children", encoding="ascii") as file:
                found.update(int(word) for word in file.read().split())
    except (FileNotFoundError, ProcessLookupError):
        pass  # it ended meanwhile
    return sorted(found)


def kill_one(process, chance):
    """Kills one decoder of the process some time after the first is there. True when there was one."""
    until = time.monotonic() + NOT_IN_TIME_S
    while not children(process.pid) and process.poll() is None and time.monotonic() < until:
        time.sleep(0.001)
    time.sleep(chance.uniform(0, LONGEST_WAIT_S))
    alive = children(process.pid)
    if not alive:
        return False
    try:
        os.kill(chance.choice(alive), signal.SIGKILL)  # a child that ended stays a child until it is waited for
    except ProcessLookupError:
        return False
    return True


def wrong_after_kill(code, out, err, answer, frames):
    if code == 0:
        return [] if out == answer else [f"another answer than with nothing killed: {out}"]
    place, wrong = faulty.complaint(err)
    if code != 1 or wrong:
        return [f"exit {code}: {wrong or err}"]
    if os.path.basename(place) not in [*frames, "actual.dng", "platecall-decode"]:
        return [f"names {place}: {err}"]
    return []


def killed(points, words, frames):
    code, answer, err = finish(start(words))
    points.point("a set is read", [] if code == 0 else [err])
    chance, struck, failed, wrong = random.Random(SEED), 0, 0, []
    for _ in range(KILLS):
        process = start(words)
        struck += kill_one(process, chance)
        code, out, err = finish(process)
        failed += code != 0
        wrong += wrong_after_kill(code, out, err, answer, frames)
    print(f"# {struck} of {KILLS} were killed, {failed} of them while they read")
    points.point("a decoder killed at any moment is an error that names a file, or does no harm", wrong)
    points.point("decoders were killed indeed", [] if struck > KILLS // 2 else [f"{struck} of {KILLS}"])


def no_program(points, words, work):
    empty, text, silent = (os.path.join(work, name) for name in ("not-a-program", "text", "silent"))
    for path, held, mode in ((empty, "", 0o644), (text, "no program\n", 0o755), (silent, "#!/bin/sh\nexit 0\n", 0o755)):
        with open(path, "w", encoding="ascii") as file:
            file.write(held)
        os.chmod(path, mode)
    for name, path in (("missing", os.path.join(work, "missing")), ("a folder", work), ("not executable", empty),
                       ("a text", text), ("one that says nothing", silent)):
        code, out, err = finish(start(words, PLATECALL_DECODER=path))
        place, wrong = faulty.complaint(err)
        reasons = [wrong] if wrong else []
        if code != 1 or out:
            reasons.append(f"exit {code}, {out!r}")
        if place not in (path, "platecall-decode"):
            reasons.append(f"names {place}: {err}")
        points.point(f"a decoder that is {name} is said", reasons)


def main():
    points = faulty.Points()
    work = faulty.work_folder()
    try:
        words = faulty.make_set(work)
        os.environ["XDG_STATE_HOME"] = os.path.join(work, "state")
        before = faulty.digest(os.path.join(work, "set"))
        killed(points, words, list(before))
        no_program(points, words, work)
        after = faulty.digest(os.path.join(work, "set"))
        points.point("the frames are as they were", [] if after == before else ["they are not"])
    finally:
        shutil.rmtree(work)
    points.end()


main()
