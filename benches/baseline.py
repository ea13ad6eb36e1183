"""The same pipeline put together from general-purpose Python libraries: what a user has without this program.

    baseline.py RASTER RESULT

RASTER is square, little-endian 32-bit floats; times of each stage go to RESULT as JSON. Each stage takes the way that its
library makes fast: scikit-image's reconstruction, whole-array numpy, scipy's compiled graph routines.
"""

import json
import resource
import sys
import time

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph
from skimage.morphology import reconstruction

STEPS = [(-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0)]  # rows, columns; codes 1 to 8
ENDS, NODATA = 0, 255


def shifted(padded, step):
    rows, cols = padded.shape[0] - 2, padded.shape[1] - 2
    return padded[1 + step[0] : 1 + step[0] + rows, 1 + step[1] : 1 + step[1] + cols]


def fill(ground):
    """Morphological reconstruction by erosion from the cells where water leaves."""
    valid = ~np.isnan(ground)
    lowest = np.nanmin(ground) - 1
    mask = np.where(valid, ground, lowest)
    seed = np.full_like(mask, np.nanmax(ground) + 1)
    seed[~valid] = lowest
    seed[[0, -1], :] = mask[[0, -1], :]
    seed[:, [0, -1]] = mask[:, [0, -1]]
    # A cell beside missing data lets its water out at its own level.
    beside = np.zeros_like(valid)
    padded = np.pad(valid, 1, constant_values=False)
    for step in STEPS:
        beside |= ~shifted(padded, step)
    seed[beside & valid] = mask[beside & valid]
    filled = reconstruction(seed, mask, method="erosion", footprint=np.ones((3, 3))).astype(np.float32)
    filled[~valid] = np.nan
    return filled


def directions(surface):
    """Steepest fall by eight shifted copies; -1 where none falls away from the data's edge."""
    padded = np.pad(surface, 1, constant_values=np.nan)
    best = np.zeros(surface.shape, dtype=np.float32)
    code = np.zeros(surface.shape, dtype=np.int16)
    beside = np.zeros(surface.shape, dtype=bool)
    for number, step in enumerate(STEPS, start=1):
        beyond = shifted(padded, step)
        beside |= np.isnan(beyond)
        slope = surface - beyond
        if step[0] and step[1]:
            slope /= np.float32(np.sqrt(2))
        steeper = slope > best
        best[steeper] = slope[steeper]
        code[steeper] = number
    code[(code == 0) & ~beside] = -1
    code[np.isnan(surface)] = NODATA
    return code


def flats(surface, code):
    """Breadth-first from the low edges over the graph of level neighbours."""
    cols = surface.shape[1]
    flat = code == -1
    number = np.full(surface.shape, -1, dtype=np.int32)
    number[flat] = np.arange(flat.sum(), dtype=np.int32)
    cells = np.flatnonzero(flat)
    levels = surface.ravel()
    froms, tos = [], []
    low = np.zeros(cells.size, dtype=np.int8)
    for position, step in enumerate(STEPS, start=1):
        there = cells + step[0] * cols + step[1]
        level = levels[there] == levels[cells]
        other = number.ravel()[there]
        inside = level & (other >= 0)
        froms.append(np.flatnonzero(inside).astype(np.int32))
        tos.append(other[inside])
        low[level & (other < 0) & (low == 0)] = position
    source = cells.size
    near = np.flatnonzero(low)
    froms.append(np.full(near.size, source, dtype=np.int32))
    tos.append(near.astype(np.int32))
    froms, tos = np.concatenate(froms), np.concatenate(tos)
    graph = sparse.csr_matrix((np.ones(froms.size, dtype=np.int8), (froms, tos)), shape=(source + 1, source + 1))
    _, before = csgraph.breadth_first_order(graph, source, return_predecessors=True)
    before = before[:source]
    result = low.astype(np.int16)
    inner = (low == 0) & (before >= 0)
    gap = cells[before[inner]] - cells[inner]
    codes = np.zeros(inner.sum(), dtype=np.int16)
    for position, step in enumerate(STEPS, start=1):
        codes[gap == step[0] * cols + step[1]] = position
    result[inner] = codes
    code.ravel()[cells] = result
    return code


def receivers(code):
    cols = code.shape[1]
    receiver = np.full(code.size, -1, dtype=np.int32 if code.size < 2**31 else np.int64)
    for position, step in enumerate(STEPS, start=1):
        here = np.flatnonzero(code.ravel() == position)
        receiver[here] = here + step[0] * cols + step[1]
    return receiver


def accumulation(code, receiver):
    """Level by level: all cells whose donors have arrived are passed on at once."""
    count = (code.ravel() != NODATA).astype(np.int64)
    donors = np.bincount(receiver[receiver >= 0], minlength=code.size).astype(np.int8)
    ready = np.flatnonzero((donors == 0) & (receiver >= 0))
    while ready.size:
        to = receiver[ready]
        np.add.at(count, to, count[ready])
        np.subtract.at(donors, to, 1)
        # Sorting only those that are ready takes half the time of sorting all.
        ready = np.unique(to[(donors[to] == 0) & (receiver[to] >= 0)])
    return count


def labels(receiver):
    """Cells that drain to one end are one component."""
    giving = np.flatnonzero(receiver >= 0)
    ones = np.ones(giving.size, dtype=np.int8)
    graph = sparse.csr_matrix((ones, (giving, receiver[giving])), shape=(receiver.size, receiver.size))
    return csgraph.connected_components(graph, directed=False)[1]


def main(raster, result):
    values = np.fromfile(raster, dtype="<f4")
    side = int(np.sqrt(values.size))
    ground = values.reshape(side, side)
    stages = {}

    def timed(name, work, *arguments):
        wall, cpu = time.perf_counter(), time.process_time()
        found = work(*arguments)
        stages[name] = {"wall_s": time.perf_counter() - wall, "cpu_s": time.process_time() - cpu}
        return found

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    surface = timed("filling", fill, ground)
    code = timed("directions", directions, surface)
    code = timed("flats", flats, surface, code)

    def counted():
        receiver = receivers(code)
        return receiver, accumulation(code, receiver)

    receiver, _ = timed("accumulation", counted)
    timed("labels", labels, receiver)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    answer = {"cells": ground.size, "stages": stages, "bytes_before": before, "peak_bytes": peak}
    with open(result, "w", encoding="utf-8") as file:
        json.dump(answer, file)


if __name__ == "__main__":
    main(*sys.argv[1:])
