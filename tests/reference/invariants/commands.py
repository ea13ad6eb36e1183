"""Running the commands on a case: exit codes, whole folders or none, the same bytes with any number of threads."""

import subprocess
import xml.etree.ElementTree as ElementTree

import program

DONE, FAILED, USAGE, REFUSED, UNDECIDED = 0, 1, 2, 3, 4
LONGEST_S = 120


class Commands:
    """Runs commands in a folder for each number of threads, with the same arguments, and keeps what does not hold."""

    def __init__(self, folder, file):
        self.folder, self.file, self.problems = folder, file, []
        self.expected = {1: set(), 2: set()}
        for threads in self.expected:
            self.cwd(threads).mkdir()

    def cwd(self, threads):
        return self.folder / f"threads-{threads}"

    def run(self, command, *arguments, file=None, out=None, threads=(1,), codes=(DONE,)):
        """The first run, on the case unless another file is given; its output folder, if any, is `out` in the folder of its number
        of threads."""
        arguments = [file or self.file, *arguments]
        runs = [self.once(command, arguments, out, count) for count in threads]
        name = " ".join(map(str, [command, *arguments[1:]]))
        for count, done in zip(threads, runs, strict=True):
            self.problems += [f"{name} --threads {count}: {problem}" for problem in self.faults(done, out, count, codes)]
        if any((run.returncode, run.stdout, run.stderr) != (runs[0].returncode, runs[0].stdout, runs[0].stderr) for run in runs):
            self.problems.append(f"{name}: another number of threads, other words or another exit code")
        if out and len(threads) > 1 and contents(self.cwd(threads[0]) / out) != contents(self.cwd(threads[1]) / out):
            self.problems.append(f"{name}: another number of threads, other bytes")
        return runs[0]

    def once(self, command, arguments, out, threads):
        arguments = [command, *arguments, *(["--out", out] if out else []), "--threads", threads, "--quiet"]
        return subprocess.run(
            [str(program.BINARY), *map(str, arguments)],
            cwd=self.cwd(threads),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
        )

    def faults(self, done, out, threads, codes):
        if "panicked" in done.stderr or "RUST_BACKTRACE" in done.stderr:
            yield f"a panic: {done.stderr[:500]}"
        if done.returncode not in codes:
            yield f"exit code {done.returncode} instead of {' or '.join(map(str, codes))}: {done.stderr[:500]}"
        if out and done.returncode in (DONE, UNDECIDED):
            self.expected[threads].add(out)
        if found := {path.name for path in self.cwd(threads).iterdir()} - self.expected[threads]:
            yield f"exit code {done.returncode} leaves {sorted(found)} behind"
        if done.returncode in (DONE, UNDECIDED) and out and not (self.cwd(threads) / out / "run.json").is_file():
            yield f"exit code {done.returncode} without run.json"


def contents(folder):
    """The bytes of every file; nothing where there is no folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def pictures(out):
    """Every SVG is well-formed XML."""
    for path in sorted(out.glob("*.svg")):
        try:
            ElementTree.parse(path)
        except ElementTree.ParseError as fault:
            yield f"{path.name}: {fault}"
