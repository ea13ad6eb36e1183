"""Running the program under check."""

import os
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BINARY = Path(os.environ.get("FALLWRIGHT_BIN", ROOT / "target/release/fallwright")).absolute()
LONGEST_RUN_S = 900


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
