#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Each write, sync, rename and so on of a whole `weigh` made to fail in its turn. Prints TAP.

Whatever fails, the run says one sentence that names the file; every picture is the older one or the new one, whole;
nothing else lies beside them; the record has its older lines; the frames are as they were.
"""
import concurrent.futures
import json
import os
import shutil
import subprocess
import sys

import faulty

SHIM = os.path.join(faulty.BUILD, "tests/fault-shim.so")
AT_ONCE = 2
OLDER_LINE = b'{"at_s":0,"frame":"older.dng","dials":{},"places":[]}\n'

# Kind of fault, whether older pictures and a record are there already, and whether the run may bear it.
KINDS = [
    ("write", True, False),
    ("short", True, False),
    ("fsync", True, False),
    ("rename", True, False),
    ("close", True, False),
    ("open", False, False),
    ("open", True, False),
    ("mkdir", False, True),  # of folders that are there already
    ("look", False, False),
    ("list", False, False),
    ("thread", False, True),
    ("memory", False, True),
]


class Bench:
    def __init__(self):
        self.work = faulty.work_folder()
        self.words = faulty.make_set(self.work)
        self.originals = self.digest_originals()
        code, self.answer, err, _ = self.run(self.folder("reference"), "", 0)
        if code != 0:
            sys.exit(f"the run without a fault failed: {err}")
        self.reference = faulty.contents(os.path.join(self.work, "reference", "pictures"))

    def digest_originals(self):
        held = faulty.digest(os.path.join(self.work, "set"))
        with open(os.path.join(self.work, "actual.dng"), "rb") as file:
            held["actual.dng"] = file.read()
        return held

    def folder(self, name, older=False):
        """A place of its own for one run, with older pictures and a record or with nothing."""
        place = os.path.join(self.work, name)
        os.mkdir(place)
        if older:
            os.makedirs(os.path.join(place, "pictures"))
            os.makedirs(os.path.join(place, "state", "platecall"))
            for picture in self.reference:
                with open(os.path.join(place, "pictures", picture), "wb") as file:
                    file.write(self.older(picture))
            with open(os.path.join(place, "state", "platecall", "foretold.jsonl"), "wb") as file:
                file.write(OLDER_LINE)
        return place

    @staticmethod
    def older(picture):
        return b"older " + picture.encode()

    def run(self, place, kind, number):
        """Exit code, stdout, stderr, and the shim's log as {word: [text]}."""
        log = os.path.join(place, "log")
        env = dict(os.environ, XDG_STATE_HOME=os.path.join(place, "state"), LD_PRELOAD=SHIM, FAULT_KIND=kind,
                   FAULT_N=str(number), FAULT_LOG=log)
        words = [faulty.PROGRAM, *self.words, "--out", os.path.join(place, "pictures")]
        try:
            done = subprocess.run(words, env=env, capture_output=True, timeout=faulty.HANG_S, check=False)
        except subprocess.TimeoutExpired:
            return "hang", "", "", {}
        said = {}
        if os.path.exists(log):
            with open(log, encoding="utf-8") as file:
                for line in file:
                    word, text = line.rstrip("\n").split(" ", 1)
                    said.setdefault(word, []).append(text)
        return done.returncode, done.stdout.decode(), done.stderr.decode(errors="replace"), said

    def try_one(self, kind, older, may_bear, number):
        """What is wrong with the run whose call number fails, as (is it past the last call, reasons)."""
        place = self.folder(f"{kind}-{'older' if older else 'fresh'}-{number}", older)
        code, out, err, said = self.run(place, kind, number)
        hit = said.get("hit", [None])[0]
        wrong = [f"{kind} {number} ({hit}): {reason}" for reason in self.reasons(place, kind, older, may_bear, code, out, err,
                                                                                  hit)]
        shutil.rmtree(place)
        return hit is None, wrong

    def reasons(self, place, kind, older, may_bear, code, out, err, hit):
        record = faulty.contents(os.path.join(place, "state", "platecall")).get("foretold.jsonl", b"")
        before = OLDER_LINE if older else b""
        pictures = faulty.contents(os.path.join(place, "pictures"))
        bearable = hit is None or may_bear
        if code == 0 and bearable:
            if out != self.answer:
                yield f"exit 0, and another answer than without a fault: {out}"
            if pictures != self.reference:
                yield "exit 0, and the pictures are not those of a run without a fault"
            if not record.startswith(before) or record.count(b"\n") != before.count(b"\n") + 1:
                yield f"exit 0, and the record is {record!r}"
            json.loads(record.splitlines()[-1])
            return
        if kind == "memory" and code == -6 and "a bug of ours at" in err:
            pass  # a small thing that cannot be had ends the process; what is on the disk has to be sound all the same
        elif code != 1:
            yield f"exit {code}: {err}"
        else:
            yield from self.wrong_words(kind, out, err, hit)
        for name, held in pictures.items():
            if name not in self.reference:
                yield f"{name} is left"
            elif held != self.reference[name] and not (older and held == self.older(name)):
                yield f"{name} is neither the older picture nor the new one"
        if older and pictures.keys() != self.reference.keys():
            yield f"pictures are gone: {self.reference.keys() - pictures.keys()}"
        if older and hit is not None and kind not in ("memory", "fsync"):
            name = os.path.basename(hit).split(".part-")[0]
            if name in pictures and pictures[name] != self.older(name):
                yield f"{name} failed and is not the older one any more"
        if record != before:
            yield f"the record is {record!r}"

    @staticmethod
    def wrong_words(kind, out, err, hit):
        if out:
            yield f"it failed and gave an answer: {out}"
        place, wrong = faulty.complaint(err)
        if kind == "memory" and wrong and err.startswith("platecall: ") and err.count("\n") == 1:
            return  # memory has no file to name
        if wrong:
            yield wrong
        elif kind not in ("memory", "list", "thread"):
            file = hit.split(".part-")[0]
            if place != file and os.path.dirname(place) != file:
                yield f"names {place}, not {file}: {err}"


def main():
    bench = Bench()
    points = faulty.Points()
    asked = sys.argv[1:]
    try:
        names = sorted(bench.reference)
        points.point("the run without a fault writes its pictures whole", [
            f"{name} cannot be read" for name in names
            if subprocess.run([faulty.PROGRAM, "read", os.path.join(bench.work, "reference", "pictures", name)],
                              capture_output=True, check=False).returncode != 0])
        with concurrent.futures.ThreadPoolExecutor(AT_ONCE) as pool:
            for kind, older, may_bear in KINDS:
                if asked and kind not in asked:
                    continue
                place = bench.folder(f"count-{kind}-{older}", older)
                count = int(bench.run(place, kind, 0)[3]["count"][0])
                results = list(pool.map(lambda n: bench.try_one(kind, older, may_bear, n), range(1, count + 1)))
                wrong = [reason for _, reasons in results for reason in reasons]
                missed = sum(past for past, _ in results)
                if count == 0 or (missed > 0 and kind not in ("memory", "thread")):
                    wrong.append(f"{missed} of {count} faults hit nothing")
                points.point(f"{kind}, over {'older pictures' if older else 'nothing'}: each of {count} fails", wrong)
        points.point("the frames are as they were",
                     [] if bench.digest_originals() == bench.originals else ["they are not"])
    finally:
        shutil.rmtree(bench.work)
    points.end()


main()
