"""Whether a folder holds one whole set of results. A command that is stopped while it replaces an earlier set leaves no run.json, and
files of two runs side by side are not the ones that run.json lists."""

import hashlib
import json
from pathlib import Path


class TornSet(Exception):
    pass


def whole(folder):
    """The folder, when it holds every file that its run.json lists, with the content listed there."""
    folder = Path(folder)
    record = folder / "run.json"
    if not record.is_file():
        raise TornSet(f"{record} is missing: the files here may be of several runs; run the command again")
    listed = json.loads(record.read_text())["outputs"]
    torn = [output["name"] for output in listed if digest(folder / output["name"]) != output["sha256"]]
    if torn:
        raise TornSet(f"{folder}: {', '.join(torn)} not as run.json lists them: run the command again")
    return folder


def digest(file):
    """SHA-256 in hexadecimal; none where there is no such file."""
    return hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() else None
