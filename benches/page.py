"""Writes docs/performance.md from benches/result.json: nothing on the page is typed by hand but the words."""

import json
import math
import pathlib
import statistics

HERE = pathlib.Path(__file__).resolve().parent
STAGES = ["filling", "directions and flats", "accumulation", "labels"]

# Ratio or figure, floor, aim, and whether more is better.
TARGETS = {
    "end to end against Python, 3,000²": (25, 40, True),
    "end to end against Python, 10,000²": (60, 100, True),
    "filling against the textbook flood, 10,000², 1 thread": (3.5, 8, True),
    "whole pipeline in passes, 10,000², 2 threads": (120, 50, False),
    "peak bytes a cell, all outputs in memory": (18, 13, False),
    "2-thread efficiency, 10,000²": (0.75, 0.9, True),
    "growth exponent of CPU, 1,000² to 20,000²": (1.10, 1.02, False),
    "one gigacell under 2 GiB, ns a cell against in memory": (2.0, 1.3, False),
    "one gigacell under 2 GiB, peak memory against the cap": (1.10, 1.0, False),
}


def seconds(run, kind="wall_s", stages=None):
    return sum(run["stages"][stage][kind] for stage in (stages or run["stages"]))


def of(rounds, name, **how):
    return [seconds(one[name], **how) for one in rounds if name in one]


def median_ratio(rounds, over, under, **how):
    ratios = [seconds(one[over], **how) / seconds(one[under], **how) for one in rounds if over in one and under in one]
    return statistics.median(ratios) if ratios else None


def pass_seconds(one):
    return statistics.median(stage["wall_s"] for stage in one["copy"]["stages"].values())


def figures(result):
    found = {}
    sizes = result["sizes"]
    for side, rounds in sizes.items():
        label = f"{int(side):,}²"
        if any("python" in one for one in rounds):
            found[f"end to end against Python, {label}"] = median_ratio(rounds, "python", "engine 2")
    if "10000" in sizes:
        rounds = sizes["10000"]
        ratio = [
            one["textbook"]["stages"]["filling"]["wall_s"] / one["engine 1"]["stages"]["filling"]["wall_s"]
            for one in rounds
            if "textbook" in one
        ]
        found["filling against the textbook flood, 10,000², 1 thread"] = statistics.median(ratio)
        passes = [seconds(one["engine 2"]) / pass_seconds(one) for one in rounds]
        found["whole pipeline in passes, 10,000², 2 threads"] = statistics.median(passes)
        found["peak bytes a cell, all outputs in memory"] = statistics.median(
            one["engine 1"]["peak_bytes"] / one["engine 1"]["cells"] for one in rounds
        )
        found["2-thread efficiency, 10,000²"] = efficiency(rounds)
    if "20000" in sizes and "1000" in sizes:
        small = statistics.median(of(sizes["1000"], "engine 1", kind="cpu_s"))
        large = statistics.median(of(sizes["20000"], "engine 1", kind="cpu_s"))
        found["growth exponent of CPU, 1,000² to 20,000²"] = math.log(large / small) / math.log(400)
    if result.get("gigacell"):
        giga = result["gigacell"]
        capped = giga["capped"]["2GiB"]
        found["one gigacell under 2 GiB, ns a cell against in memory"] = engine_seconds(capped["log"]) / seconds(
            giga["in_memory"], stages=STAGES[:3]
        )
        found["one gigacell under 2 GiB, peak memory against the cap"] = float(capped["time"][0]) * 1024 / (2 << 30)
    return found


def efficiency(rounds):
    """Speed-up by the second thread, in parts of what pure arithmetic gained at the same time."""
    speedups = []
    for one in rounds:
        control = seconds(one["control 1"]) / seconds(one["control 2"])
        speedups.append(seconds(one["engine 1"]) / seconds(one["engine 2"]) / control)
    return statistics.median(speedups)


def control_speedup(rounds):
    return statistics.median(seconds(one["control 1"]) / seconds(one["control 2"]) for one in rounds)


def by_processor_time(sizes):
    """What other work on the machine disturbs least, and how much other work there was."""
    lines = [
        "By processor time, which other work on the machine disturbs least (one thread of the engine):",
        "",
        row("cells", "Python / engine", "textbook / engine", "filling, textbook / engine", "two threads of arithmetic against one"),
        row("---:", "---:", "---:", "---:", "---:"),
    ]
    for side, rounds in sizes.items():
        ratios = [median_ratio(rounds, name, "engine 1", kind="cpu_s") for name in ("python", "textbook")]
        ratios.append(median_ratio(rounds, "textbook", "engine 1", kind="cpu_s", stages=["filling"]))
        shown = ["" if ratio is None else f"{ratio:.1f}" for ratio in ratios]
        lines.append(row(f"{int(side):,}²", *shown, f"{control_speedup(rounds):.2f}"))
    lines += ["", "Figures by the clock that need two threads say little where two threads of arithmetic were less than 1.8 times as fast as one."]
    return lines


def engine_seconds(log):
    """From the start of filling to the start of writing, by the command's own log."""
    start = next(at for at, words in log if words.startswith("filling"))
    end = next(at for at, words in log if words.startswith("writing"))
    return end - start


def row(*cells):
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def targets_table(found):
    lines = [row("figure", "measured", "floor", "aim", ""), row("---", "---:", "---:", "---:", "---")]
    for name, (floor, aim, more) in TARGETS.items():
        if name not in found:
            lines.append(row(name, "not measured in this run", floor, aim, ""))
            continue
        value = found[name]
        reached = lambda mark: value >= mark if more else value <= mark
        verdict = "aim reached" if reached(aim) else "floor reached" if reached(floor) else "**floor missed**"
        lines.append(row(name, f"{value:.3g}", floor, aim, verdict))
    return lines


def stage_table(rounds):
    lines = [row("", *STAGES, "all", "CPU, all", "peak bytes a cell"), row("---", *["---:"] * 7)]
    for name in ("engine 1", "engine 2", "textbook", "python"):
        runs = [one[name] for one in rounds if name in one]
        if not runs:
            continue
        cells = runs[0]["cells"]
        per_cell = lambda kind, stage: statistics.median(seconds(run, kind, stage) for run in runs) / cells * 1e9
        stages = []
        for stage in STAGES:
            parts = [stage] if stage in runs[0]["stages"] else ["directions", "flats"]
            stages.append(f"{per_cell('wall_s', parts):.1f}")
        title = {"engine 1": "engine, 1 thread", "engine 2": "engine, 2 threads", "python": "Python baseline"}.get(name, name)
        peak = statistics.median(run["peak_bytes"] for run in runs) / cells
        lines.append(row(title, *stages, f"{per_cell('wall_s', None):.1f}", f"{per_cell('cpu_s', None):.1f}", f"{peak:.1f}"))
    return lines


def page(result):
    machine = result["machine"]
    found = figures(result)
    out = [
        "# Performance",
        "",
        "Written by `make bench` from `benches/result.json` and `benches/notes.md`; not edited by hand. Times are nanoseconds a cell, arrays in, arrays out, medians of",
        "the rounds; a ratio is the median of the ratios of each round. A *pass* is one copy of the raster as 32-bit floats on one thread.",
        "",
        f"Measured {machine['date']} on {machine['cores']} cores of {machine['processor']}, {machine['memory_bytes'] / 2**30:.0f} GiB; "
        f"load before the run {machine['load_before']:.1f}.",
        "",
        *targets_table(found),
        "",
    ]
    out += [*by_processor_time(result["sizes"]), ""]
    out += [*(HERE / "notes.md").read_text(encoding="utf-8").splitlines(), ""]
    for side, rounds in result["sizes"].items():
        copies = statistics.median(pass_seconds(one) for one in rounds) / int(side) ** 2 * 1e9
        count = lambda name: sum(name in one for one in rounds)
        out += [f"## {int(side):,} x {int(side):,} cells", ""]
        out += [
            f"One pass: {copies:.2f} ns a cell. Rounds: engine {len(rounds)}, textbook {count('textbook')}, Python {count('python')}.",
            "",
            *stage_table(rounds),
            "",
        ]
    out += ["## Real ground: farm valley, mirrored", ""]
    if result.get("farm_valley"):
        side = result["farm_valley"]["side"]
        out += [f"{side:,} x {side:,} cells of 1 m lidar, continued by reflection.", "", *stage_table(result["farm_valley"]["rounds"]), ""]
    else:
        out += ["Not measured in this run: the data was not there.", ""]
    out += ["## One gigacell under 2 GiB", ""]
    if result.get("gigacell"):
        out += gigacell_lines(result["gigacell"])
    else:
        out += ["Not measured in this run."]
    return "\n".join(out).rstrip() + "\n"


def gigacell_lines(giga):
    cells = giga["side"] ** 2
    capped = giga["capped"]["2GiB"]
    peak, wall, user, system = (float(value) for value in capped["time"])
    lines = [
        f"`fallwright terrain` on {giga['side']:,} x {giga['side']:,} cells with `--max-memory 2GiB --threads 2`: peak resident memory "
        f"{peak / 2**20:.2f} GiB, {wall:.0f} s by the clock, {user + system:.0f} s of processor.",
        "",
        row("step", "s"),
        row("---", "---:"),
    ]
    log = capped["log"] + [[wall, "end"]]
    lines += [row(words, f"{following[0] - at:.0f}") for (at, words), following in zip(log, log[1:])]
    in_memory = sum(giga["in_memory"]["stages"][stage]["wall_s"] for stage in STAGES[:3])
    lines += [
        "",
        f"From filling to accumulation {engine_seconds(capped['log']) / cells * 1e9:.1f} ns a cell on file, "
        f"{in_memory / cells * 1e9:.1f} in memory.",
    ]
    return lines


if __name__ == "__main__":
    result = json.loads((HERE / "result.json").read_text(encoding="utf-8"))
    (HERE.parent / "docs" / "performance.md").write_text(page(result), encoding="utf-8")
