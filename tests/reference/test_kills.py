"""Kills: at every renaming of a file by every command, and at random times. Each time the folder holds the old set, the new set, or a
set that a reader refuses; the next run puts it right. The reader is the notebooks' own. The case is a small one, since what is killed is
the writing of files."""

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace

import pytest

import program
import random_cases

sys.path.insert(0, str(program.ROOT / "notebooks"))
import result_set  # noqa: E402

pytestmark = pytest.mark.reference()

# Kills of the whole check; `make torture` asks for more.
RANDOM_KILLS = int(os.environ.get("FALLWRIGHT_RANDOM_KILLS", 40))
# A seed whose case has waterways, sizes and a parcel with a path, and its elevation in one file.
CASE = random_cases.random_case(318)
# Stands in for the C library's function: the process kills itself before the renaming with a given number, from 0.
RENAME = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdlib.h>
#include <unistd.h>

int rename(const char *from, const char *to) {
    static int left = -1;
    if (left < 0) left = atoi(getenv("KILL_AT_RENAMING"));
    if (left-- == 0) { kill(getpid(), SIGKILL); pause(); }
    int (*real)(const char *, const char *) = dlsym(RTLD_NEXT, "rename");
    return real(from, to);
}
"""


@pytest.fixture(scope="session")
def shim(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shim")
    (folder / "rename.c").write_text(RENAME)
    subprocess.run(["cc", "-shared", "-fPIC", "-o", folder / "rename.so", folder / "rename.c", "-ldl"], check=True)
    return folder / "rename.so"


def arguments(command, case):
    file = case / "case.toml"
    return {
        "demo": ["demo"],
        "outlets": ["outlets", file],
        "watershed": ["watershed", file, "--outlet", "W0"],
        "capacity": ["capacity", file],
        "sheets": ["sheets", file, "--no-pdf", "--parcel", next(iter(CASE.parcels))],
        "terrain": ["terrain", case / "dem.tif", "--vertical-unit", CASE.unit],
    }[command]


def full_command(command, case, out):
    where = [out] if command == "demo" else ["--out", out]
    return [str(part) for part in [program.BINARY, *arguments(command, case), *where, "--overwrite", "--quiet"]]


class Sets:
    """Two cases that differ in their elevation, and what a command makes of each."""

    def __init__(self, home, command):
        self.home, self.command, self.out = home, command, home / "out"
        random_cases.write(CASE, home / "new")
        random_cases.write(replace(CASE, ground=CASE.ground + 1), home / "old")
        self.digests = {}
        for age in ("old", "new"):
            subprocess.run(full_command(command, home / age, home / f"set_{age}"), check=True, timeout=120)
            self.digests[age] = contents(home / f"set_{age}")

    def start(self, **environment):
        """The new set over the old one."""
        shutil.rmtree(self.out, ignore_errors=True)
        shutil.copytree(self.home / "set_old", self.out)
        given = os.environ | {name: str(value) for name, value in environment.items()}
        return subprocess.Popen(full_command(self.command, self.home / "new", self.out), env=given, stdin=subprocess.DEVNULL)

    def judge(self):
        """`old`, `new`, or `refused` by a reader."""
        left = contents(self.out)
        try:
            if self.command == "demo":
                program.run("check", self.out / "case.toml", "--quiet")
            else:
                result_set.whole(self.out)
        except (result_set.TornSet, AssertionError):
            assert left not in self.digests.values()
            return "refused"
        return next(age for age, digests in self.digests.items() if digests == left)

    def put_right(self):
        subprocess.run(full_command(self.command, self.home / "new", self.out), check=True, timeout=120)
        assert sorted(contents(self.out, hidden=True)) == sorted(self.digests["new"]), "something was left behind"
        assert self.judge() in ("new", "old") and contents(self.out) == self.digests["new"]


def contents(folder, hidden=False):
    files = [file for file in folder.rglob("*") if file.is_file() and (hidden or not file.relative_to(folder).parts[0].startswith("."))]
    return {str(file.relative_to(folder)): result_set.digest(file) for file in files}


@pytest.mark.parametrize("command", ["demo", "outlets", "watershed", "capacity", "sheets", "terrain"])
def test_a_kill_at_every_renaming(command, tmp_path, shim, measured):
    sets = Sets(tmp_path, command)
    found = []
    for number in range(1_000):
        process = sets.start(LD_PRELOAD=shim, KILL_AT_RENAMING=number)
        code = process.wait(120)
        if code == 0:
            break
        assert code == -signal.SIGKILL, code
        found.append(sets.judge())
    assert sets.judge() == "new" or sets.digests["old"] == sets.digests["new"]
    # At least one file and the one that is written last; the first kill comes when the old one is gone.
    assert len(found) >= 2 and set(found) == {"refused"}, found
    process = sets.start(LD_PRELOAD=shim, KILL_AT_RENAMING=0)
    process.wait(120)
    sets.put_right()
    measured(f"{command}: {len(found)} kills, each left a set that is refused")


def test_kills_at_random_times(tmp_path, measured):
    sets = Sets(tmp_path, "outlets")
    began = time.monotonic()
    assert sets.start().wait(120) == 0
    whole_run = time.monotonic() - began
    counts = {"old": 0, "new": 0, "refused": 0}
    for number in range(RANDOM_KILLS):
        process = sets.start()
        # Evenly over the run; the last tenth, where the files are named, gets as many again.
        part = (number // 2 * 2 + 1) / RANDOM_KILLS
        time.sleep(whole_run * (part if number % 2 == 0 else 0.9 + part / 10))
        process.kill()
        process.wait(120)
        counts[sets.judge()] += 1
    sets.put_right()
    measured(f"{RANDOM_KILLS} kills left {counts['old']} old sets, {counts['new']} new ones, {counts['refused']} that are refused")
