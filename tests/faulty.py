# SPDX-License-Identifier: Apache-2.0
"""What the tests of things that fail have in common: a small set of frames, a run, points in TAP."""
import hashlib
import os
import re
import shutil
import subprocess
import tempfile

BUILD = os.environ["PC_BUILD_ROOT"]
PROGRAM = os.path.join(BUILD, "src/front/cli/platecall")
MAKE_SET = os.path.join(BUILD, "tests/make-set")
PLACES = ["--hero", "240,130", "--surface", "240,255"]
HANG_S = 60  # a run takes half a second, on a loaded machine a few


class Points:
    """Test points, printed as they come; a point that fails says at most a few of its reasons."""

    def __init__(self):
        self.count = 0

    def point(self, name, wrong):
        self.count += 1
        print(f"{'not ok' if wrong else 'ok'} {self.count} - {name}")
        for reason in wrong[:5]:
            print("# " + reason.replace("\n", "\n# "))
        if len(wrong) > 5:
            print(f"# and {len(wrong) - 5} more")

    def end(self):
        print(f"1..{self.count}", flush=True)


def work_folder():
    # Under its real name, as the kernel gives it back.
    return os.path.realpath(tempfile.mkdtemp(prefix="platecall-fault-"))


def make_set(work):
    """A set, and a closing frame beside it; gives back the words that weigh it."""
    frames = os.path.join(work, "set")
    subprocess.run([MAKE_SET, frames], check=True)
    actual = os.path.join(work, "actual.dng")
    shutil.copy(os.path.join(frames, "left.dng"), actual)
    return ["weigh", frames, *PLACES, "--dials", "left=1,right=0", "--actual", actual]


def contents(folder):
    """Name to bytes of all files in a folder; none when it is not there."""
    if not os.path.isdir(folder):
        return {}
    held = {}
    for name in sorted(os.listdir(folder)):
        with open(os.path.join(folder, name), "rb") as file:
            held[name] = file.read()
    return held


def digest(folder):
    return {name: hashlib.sha256(held).hexdigest() for name, held in contents(folder).items()}


def complaint(err):
    """(place, None) of a complaint that is one sentence with a place, else (None, what is wrong)."""
    lines = err.splitlines()
    match = re.match(r"platecall: (?P<place>[^:]+): [A-Z].*\.$", lines[0]) if len(lines) == 1 else None
    return (match.group("place"), None) if match else (None, f"not one sentence with a place: {err!r}")
