"""kill -9 at random moments (TRUST A1): nothing acknowledged is lost, nothing is half there, no photo entry lacks its bytes.

A nursery process imports desorb once and forks a child for each kill; the child opens the store (also a store that is
being created), appends entries with photos, and writes a line after each commit. The parent kills the child 5 to 500 ms
after the fork (1 to 30 ms when the store is new: while it is being created), opens the store anew and compares it with
the lines. Two liars show that the comparison can fail.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from desorb.notebook.attachments import folder
from desorb.notebook.chain import faults_of_chains, faults_of_receipts
from desorb.notebook.store import Store

QUICK, LONG_RUN = 200, 2_000
LANES = 4
KILLS_PER_HOME = 5
CALLERS = 4

NURSERY = """
import hashlib, os, random, sys, threading, time
from pathlib import Path
from desorb.core.kinds import CaseOpened, Note, Photo
from desorb.notebook.store import Draft, Store
from desorb.notebook.writer import Writer

def say(text):
    os.write(1, (text + chr(10)).encode())

def drafts(sha256, count):
    photo = Photo(sha256, "image/jpeg", 1, "crack", "t")
    return [Draft(photo, "t"), *(Draft(Note("x" * 50, "t"), "t") for _ in range(count))]

def acknowledge(entries):
    say("ack " + " ".join(entry.hash for entry in entries))

def alone(store, case, generator, way):
    while True:
        content = generator.randbytes(generator.choice((10, 3_000, 200_000)))
        count = generator.randrange(4)
        if way == "photo later":
            entries = store.append(case, drafts(hashlib.sha256(content).hexdigest(), count))
            store.attach(content)
        else:
            entries = store.append(case, drafts(store.attach(content), count))
        acknowledge(entries)

def too_soon(insert):
    def told(entry):
        insert(entry)
        acknowledge([entry])
        time.sleep(0.002)  # and the commit comes later
    return told

def together(store, case, seed):
    writer = Writer(store)
    def caller(generator):
        while True:
            sha256 = store.attach(generator.randbytes(2_000))
            acknowledge(writer.append(case, drafts(sha256, generator.randrange(3))))
    for place in range(int(sys.argv[1])):
        threading.Thread(target=caller, args=(random.Random(f"{seed} {place}"),)).start()

def live(home, seed, way):
    store = Store(Path(home))
    cases = store.cases()
    case = cases[0] if cases else store.open_case(CaseOpened("A", "s", "UTC"), "t")
    say("case " + case)
    if way == "says it too soon":
        store._insert = too_soon(store._insert)
    if way == "together":
        together(store, case, seed)
    else:
        alone(store, case, random.Random(seed), way)

for line in sys.stdin:
    home, seed, way = line.rstrip(chr(10)).split(chr(9))
    child = os.fork()
    if child == 0:
        try:
            live(home, seed, way)
            threading.Event().wait()
        except BaseException as problem:
            say("trouble " + repr(problem))
        finally:
            os._exit(1)
    say(f"child {child}")
    os.waitpid(child, 0)
    say("gone")
"""


class Nursery:
    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", NURSERY, str(CALLERS)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.say, self.hear = self.process.stdin, self.process.stdout

    def kill_one(self, home: Path, seed: str, way: str, delay: float) -> list[str]:
        """What a child said before it was killed."""
        self.say.write(f"{home}\t{seed}\t{way}\n")
        self.say.flush()
        heard: list[str] = []
        timer: threading.Timer | None = None
        for line in self.hear:
            word, _, rest = line.rstrip("\n").partition(" ")
            if word == "child":
                timer = threading.Timer(delay, os.kill, (int(rest), signal.SIGKILL))
                timer.start()
            elif word == "gone":
                break
            else:
                heard.append(line.rstrip("\n"))
        assert timer is not None
        timer.join()
        return heard

    def close(self) -> None:
        self.say.close()
        self.process.wait()
        self.hear.close()


def look(home: Path, acknowledged: set[str], at_most: int, count: Counter[str]) -> None:
    """Open the store that was killed and count what is wrong."""
    with Store(home) as store:
        count["damaged files"] += bool(store.check_file())
        cases = store.cases()
        assert len(cases) <= 1
        entries = store.entries(cases[0]) if cases else []
        hashes = [entry.hash for entry in entries]
        count["faults"] += len(faults_of_chains(entries))
        if cases:
            count["faults"] += len(faults_of_receipts(store.receipts(cases[0]), set(hashes)))
        count["lost"] += len(acknowledged - set(hashes))
        extra = [entry for entry in entries if entry.hash not in acknowledged and entry.kind != "case-opened"]
        groups = sum(entry.kind == "photo" for entry in extra)  # each group begins with its photo
        count["too many extra groups"] += groups > at_most
        count["half groups"] += bool(extra) and groups == 0
        for entry in entries:
            if entry.kind == "photo":
                sha256 = entry.payload()["sha256"]
                content = store.attachment(sha256)
                count["without photo"] += content is None or hashlib.sha256(content).hexdigest() != sha256
        count["entries"] += len(entries)
        count["unfinished photos"] += len(list(folder(home).rglob("arriving-*")))
        acknowledged |= set(hashes)  # what is there now has to stay


def kills(where: Path, number: int, ways: tuple[str, ...], seed: int) -> Counter[str]:
    """Kill children in several lanes at once and count what was found."""

    def lane(lane_number: int) -> Counter[str]:
        generator = random.Random(f"{seed} {lane_number}")
        count: Counter[str] = Counter()
        nursery = Nursery()
        acknowledged: set[str] = set()
        try:
            for turn in range(number // LANES):
                if turn % KILLS_PER_HOME == 0:
                    acknowledged = set()
                home = where / f"{lane_number}-{turn // KILLS_PER_HOME}"
                way = ways[turn % len(ways)]
                delay = generator.uniform(0.005, 0.5) if turn % KILLS_PER_HOME else generator.uniform(0.001, 0.03)
                heard = nursery.kill_one(home, f"{seed} {lane_number} {turn}", way, delay)
                assert [line for line in heard if line.startswith("trouble")] == []
                acks = [line.split()[1:] for line in heard if line.startswith("ack ")]
                acknowledged |= {each for ack in acks for each in ack}
                count["kills"] += 1
                count["acknowledged"] += sum(map(len, acks))
                count["killed while opening"] += not any(line.startswith("case ") for line in heard)
                look(home, acknowledged, CALLERS if way == "together" else 1, count)
        finally:
            nursery.close()
        return count

    with ThreadPoolExecutor(LANES) as pool:
        return sum(pool.map(lane, range(LANES)), Counter())


WRONG = ("damaged files", "faults", "lost", "too many extra groups", "half groups", "without photo")


def nothing_is_wrong(count: Counter[str], number: int) -> None:
    print(dict(count))
    assert {name: count[name] for name in WRONG} == dict.fromkeys(WRONG, 0)
    assert count["kills"] == number
    assert count["acknowledged"] > number, "the children hardly wrote anything: this shows nothing"


def test_nothing_acknowledged_is_lost_by_kills(tmp_path: Path) -> None:
    """TRUST A1: 200 kills, a child of its own each; half of the children write through the group commit."""
    nothing_is_wrong(kills(tmp_path, QUICK, ("alone", "together"), 20260302), QUICK)


@pytest.mark.soak
def test_nothing_acknowledged_is_lost_by_many_kills(tmp_path: Path) -> None:
    nothing_is_wrong(kills(tmp_path, LONG_RUN, ("alone", "together"), 20260303), LONG_RUN)


@pytest.mark.parametrize(("lie", "found"), [("says it too soon", "lost"), ("photo later", "without photo")])
def test_a_liar_is_found_out(tmp_path: Path, lie: str, found: str) -> None:
    """Negative controls: acknowledged before the commit, and the entry before its photo."""
    count = kills(tmp_path, 24, (lie,), 7)
    print(dict(count))
    assert count[found] > 0
