"""Running the program under check."""

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BINARY = Path(os.environ.get("FALLWRIGHT_BIN", ROOT / "target/release/fallwright")).absolute()
LONGEST_RUN_S = 900
# Runs a command and prints its exit code and its most memory in KiB. A process begins with the memory of the one that starts it
# on its record, and that of the other checks is large.
MEASURED = """
import os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(process.pid, 0)
print(os.waitstatus_to_exitcode(status), usage.ru_maxrss)
"""


def run(*arguments, exit_code=0):
    """Run `fallwright` and return what it printed; any other exit code than the one given fails the check."""
    if not BINARY.is_file():
        raise FileNotFoundError(f"no program at {BINARY}: build it with `make binary` or name it in FALLWRIGHT_BIN")
    command = [str(BINARY), *map(str, arguments)]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=LONGEST_RUN_S)
    assert done.returncode == exit_code, (
        f"exit code {done.returncode} instead of {exit_code}: {' '.join(command)}\n{done.stdout}\n{done.stderr}"
    )
    return done


def run_measured(*arguments):
    """Exit code, standard error, seconds and MiB of a run."""
    began = time.monotonic()
    command = [sys.executable, "-IS", "-c", MEASURED, BINARY, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace")
    took = time.monotonic() - began
    code, most_kib = map(int, done.stdout.split())
    return code, done.stderr, took, most_kib / 1024
