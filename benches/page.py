"""Writes docs/performance.md from benches/result.json: nothing on the page is typed by hand but the words."""

import json
import math
import pathlib
import statistics

HERE = pathlib.Path(__file__).resolve().parent
STAGES = ["filling", "directions and flats", "accumulation", "labels"]
# Figures of two threads say something where pure arithmetic on two threads is so many times as fast as on one.
QUIET = 1.8
GIGACELL = 31_623

# Figure, floor, aim, and whether more is better.
TARGETS = {
    "end to end against Python, 3,000², 2 threads": (25, 40, True),
    "end to end against Python, 10,000², 2 threads": (60, 100, True),
    "filling against the textbook flood, 10,000², 1 thread": (3.5, 8, True),
    "whole pipeline in passes, 10,000², 2 threads": (120, 50, False),
    "peak bytes a cell, all outputs in memory": (18, 13, False),
    "2-thread efficiency, 10,000²": (0.75, 0.9, True),
    "growth exponent of CPU, 1,000² to 20,000²": (1.10, 1.02, False),
    "border data exchanged between tiles, bytes a cell, 10,000²": (0.25, 0.05, False),
    "one gigacell under 2 GiB, ns a cell against in memory": (2.0, 1.3, False),
    "one gigacell under 2 GiB, peak memory against the cap": (1.10, 1.0, False),
}
NOT_QUOTABLE = "not quotable"


def seconds(run, kind="wall_s", stages=None):
    return sum(run["stages"][stage][kind] for stage in (stages or run["stages"]))


def rounds_of(result, side):
    return result.get(str(side), {}).get("rounds", [])


def sides(result):
    return sorted(int(name) for name in result if name.isdigit())


def speedup(one):
    """How much faster two threads of arithmetic were than one in a round."""
    return seconds(one["control 1"]) / seconds(one["control 2"])


def is_quiet(one):
    return speedup(one) >= QUIET


def pass_seconds(one):
    """One copy of the raster; what was copied may be the raster many times over."""
    copied = statistics.median(stage["wall_s"] for stage in one["copy"]["stages"].values())
    return copied / one["copy"]["cells"] * one["engine 1"]["cells"]


def median(rounds, figure):
    return statistics.median(map(figure, rounds)) if rounds else None


def of_two_threads(rounds, figure):
    """The median over the rounds in which two threads could show what they can."""
    return median([one for one in rounds if is_quiet(one)], figure) if rounds else None


def ratio(over, under, **how):
    return lambda one: seconds(one[over], **how) / seconds(one[under], **how)


def having(rounds, name):
    return [one for one in rounds if name in one]


def figures(result):
    """Each figure that was measured: a number, or that it cannot be quoted."""
    found = {}

    def note(name, rounds, value):
        if rounds:
            found[name] = NOT_QUOTABLE if value is None else value

    for side in (3000, 10_000):
        rounds = having(rounds_of(result, side), "python")
        note(f"end to end against Python, {side:,}², 2 threads", rounds, of_two_threads(rounds, ratio("python", "engine 2")))
    rounds = rounds_of(result, 10_000)
    flooded = having(rounds, "textbook")
    filling = ratio("textbook", "engine 1", stages=["filling"])
    note("filling against the textbook flood, 10,000², 1 thread", flooded, median(flooded, filling))
    passes = of_two_threads(rounds, lambda one: seconds(one["engine 2"]) / pass_seconds(one))
    note("whole pipeline in passes, 10,000², 2 threads", rounds, passes)
    peak = median(rounds, lambda one: one["engine 1"]["peak_bytes"] / one["engine 1"]["cells"])
    note("peak bytes a cell, all outputs in memory", rounds, peak)
    efficiency = of_two_threads(rounds, lambda one: ratio("engine 1", "engine 2")(one) / speedup(one))
    note("2-thread efficiency, 10,000²", rounds, efficiency)
    border = result.get("10000", {}).get("border")
    if border:
        exchanged = sum(border["bytes"].values()) / border["cells"]
        found["border data exchanged between tiles, bytes a cell, 10,000²"] = exchanged
    small, large = rounds_of(result, 1000), rounds_of(result, 20_000)
    if small and large:
        cpu = lambda one: seconds(one["engine 1"], "cpu_s")
        found["growth exponent of CPU, 1,000² to 20,000²"] = math.log(median(large, cpu) / median(small, cpu)) / math.log(400)
    giga = result.get(f"capped_{GIGACELL}")
    if giga:
        against = lambda one: parts(one["capped"])["work"] / seconds(one["in_memory"], stages=STAGES[:3])
        note("one gigacell under 2 GiB, ns a cell against in memory", [giga], of_two_threads([giga], against))
        found["one gigacell under 2 GiB, peak memory against the cap"] = giga["capped"]["peak_bytes"] / (int(giga["cap"].removesuffix("GiB")) << 30)
    return found


def parts(run):
    """Seconds of reading, of the work and of writing, by the command's own log."""
    starts = [at for at, _ in run["log"]] + [run["wall_s"]]
    first = next(place for place, (_, words) in enumerate(run["log"]) if not words.startswith("reading"))
    last = next(place for place, (_, words) in enumerate(run["log"]) if words.startswith("writing"))
    return {"reading": starts[first], "work": starts[last] - starts[first], "writing": run["wall_s"] - starts[last]}


def row(*cells):
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def targets_table(found):
    lines = [row("figure", "measured", "floor", "aim", ""), row("---", "---:", "---:", "---:", "---")]
    for name, (floor, aim, more) in TARGETS.items():
        value = found.get(name, "not measured")
        if isinstance(value, str):
            lines.append(row(name, value, floor, aim, ""))
            continue
        reached = lambda mark: value >= mark if more else value <= mark
        verdict = "aim reached" if reached(aim) else "floor reached" if reached(floor) else "**floor missed**"
        lines.append(row(name, f"{value:.3g}", floor, aim, verdict))
    return lines


def by_processor_time(result):
    """What other work on the machine disturbs least."""
    lines = [
        "By processor time, which other work on the machine disturbs least (one thread of the engine):",
        "",
        row("cells", "Python / engine", "textbook / engine", "filling, textbook / engine"),
        row("---:", "---:", "---:", "---:"),
    ]
    for side in sides(result):
        rounds = rounds_of(result, side)
        shown = []
        for over, stages in (("python", None), ("textbook", None), ("textbook", ["filling"])):
            value = median(having(rounds, over), ratio(over, "engine 1", kind="cpu_s", stages=stages))
            shown.append("" if value is None else f"{value:.1f}")
        lines.append(row(f"{side:,}²", *shown))
    return lines


def stage_table(rounds):
    lines = [row("", *STAGES, "all", "CPU, all", "peak bytes a cell"), row("---", *["---:"] * 7)]
    titles = {"engine 1": "engine, 1 thread", "engine 2": "engine, 2 threads", "textbook": "textbook", "python": "Python baseline"}
    for name, title in titles.items():
        runs = [one[name] for one in having(rounds, name) if name != "engine 2" or is_quiet(one)]
        if runs:
            lines.append(row(title, *stage_cells(runs)))
        elif name == "engine 2":
            lines.append(row(title, *[NOT_QUOTABLE] * 5, "", ""))
    return lines


def stage_cells(runs):
    cells = runs[0]["cells"]
    per_cell = lambda kind, stages: median(runs, lambda run: seconds(run, kind, stages)) / cells * 1e9
    whole = lambda stage: [stage] if stage in runs[0]["stages"] else ["directions", "flats"]
    stages = [f"{per_cell('wall_s', whole(stage)):.1f}" for stage in STAGES]
    peak = median(runs, lambda run: run["peak_bytes"]) / cells
    return [*stages, f"{per_cell('wall_s', None):.1f}", f"{per_cell('cpu_s', None):.1f}", f"{peak:.1f}"]


def measured_on(section):
    machine = section["machine"]
    return (
        f"Measured {machine['date']} on {machine['cores']} cores of {machine['processor']}, {machine['memory_bytes'] / 2**30:.0f} GiB; "
        f"load before the run {machine['load_before']:.1f}."
    )


def rounds_lines(section):
    rounds = section["rounds"]
    copies = median(rounds, lambda one: pass_seconds(one) / one["engine 1"]["cells"]) * 1e9
    count = lambda name: len(having(rounds, name))
    controls = ", ".join(f"{speedup(one):.2f}" for one in rounds)
    return [
        measured_on(section),
        f"One pass: {copies:.2f} ns a cell. Rounds: engine {len(rounds)}, textbook {count('textbook')}, Python {count('python')}. Two threads of",
        f"arithmetic were {controls} times as fast as one, round by round; figures of two threads come from the",
        f"rounds with at least {QUIET}: {sum(map(is_quiet, rounds))} of {len(rounds)}.",
        "",
        *stage_table(rounds),
        "",
        *border_lines(section),
    ]


def border_lines(section):
    border = section.get("border")
    if not border:
        return []
    steps = "; ".join(f"{step} {count / border['cells']:.3f}" for step, count in border["bytes"].items())
    return [f"Exchanged between tiles of {border['tile_side']} cells, there and back, bytes a cell: {steps}.", ""]


def capped_lines(section):
    side, cells = section["side"], section["side"] ** 2
    lines = [f"## {side:,} x {side:,} cells under {section['cap']}", "", measured_on(section)]
    lines += [f"Two threads of arithmetic were {speedup(section):.2f} times as fast as one."]
    lines += [f"`fallwright terrain --longest-cut 0 --threads 2 --max-memory {section['cap']}`; in memory the engine took"]
    lines += [f"{seconds(section['in_memory'], stages=STAGES[:3]) / cells * 1e9:.1f} ns a cell, without reading and writing."]
    lines += ["Ground, directions and counts are the same, cell by cell." if section["same"] else "**The rasters differ.**", ""]
    lines += [row("memory allowed", "peak MiB", "reading s", "work s", "writing s", "all s", "processor s", "work, ns a cell")]
    lines += [row("---", *["---:"] * 7)]
    enough = "enough for everything"
    memory = {"capped": section["cap"], "plenty": enough, "capped, cut": f"{section.get('cut_cap')}, with cuts", "plenty, cut": f"{enough}, with cuts"}
    for name, allowed in memory.items():
        if name in section:
            run = section[name]
            times = [f"{value:.1f}" for value in (*parts(run).values(), run["wall_s"], run["cpu_s"])]
            per_cell = parts(run)["work"] / cells * 1e9
            lines.append(row(allowed, f"{run['peak_bytes'] / 2**20:.0f}", *times, f"{per_cell:.1f}"))
    lines += ["", "By step with the memory capped, s: " + "; ".join(steps(section["capped"])) + ".", ""]
    return lines


def steps(run):
    ends = [at for at, _ in run["log"][1:]] + [run["wall_s"]]
    return [f"{words} {end - at:.1f}" for (at, words), end in zip(run["log"], ends)]


def page(result):
    out = [
        "# Performance",
        "",
        "Written by `make bench` from `benches/result.json` and `benches/notes.md`; not edited by hand. Times are nanoseconds a cell, arrays in, arrays out, medians of",
        "the rounds; a ratio is the median of the ratios of each round. A *pass* is one copy of the raster as 32-bit floats on one thread, in arrays",
        f"of at least 1.6 GB. Figures of two threads come only from rounds in which two threads of pure arithmetic were at least {QUIET} times as",
        f"fast as one; where there is no such round they are {NOT_QUOTABLE}. Each section has its own date.",
        "",
        *targets_table(figures(result)),
        "",
        *by_processor_time(result),
        "",
        *(HERE / "notes.md").read_text(encoding="utf-8").splitlines(),
        "",
    ]
    for side in sides(result):
        out += [f"## {side:,} x {side:,} cells", "", *rounds_lines(result[str(side)])]
    if "farm_valley" in result:
        section = result["farm_valley"]
        out += ["## Real ground: farm valley, mirrored", ""]
        out += [f"{section['side']:,} x {section['side']:,} cells of 1 m lidar, continued by reflection.", "", *rounds_lines(section)]
    for name in sorted((name for name in result if name.startswith("capped_")), key=lambda name: result[name]["side"]):
        out += capped_lines(result[name])
    return "\n".join(out).rstrip() + "\n"


if __name__ == "__main__":
    result = json.loads((HERE / "result.json").read_text(encoding="utf-8"))
    (HERE.parent / "docs" / "performance.md").write_text(page(result), encoding="utf-8")
