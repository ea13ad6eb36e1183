"""Whether the comparison with the second implementation notices a fault in the rules: each of the planted ones, on cases that are run
once. One that no case notices is a gap in the cases."""

import concurrent.futures
from collections import Counter

import pytest

import second_law
import small_cases
import test_second_implementation as comparison
from planted_faults import FAULTS

pytestmark = pytest.mark.reference("numpy", "scipy", "shapely")

# Of the last three the first has a road whose ditch is used by permission, the others a share that cannot be led to the parcel's own
# frontage, which stands higher: few have.
SEEDS = (*range(60), 92, 95, 124)


class Runs:
    """The outputs of some cases, and the differences that the comparison finds in them without a fault planted."""

    def __init__(self, folder):
        classes = list(second_law.Profile("ontario").classes)
        with concurrent.futures.ThreadPoolExecutor(2) as pool:
            runs = [pool.submit(comparison.run, seed, folder, classes) for seed in SEEDS]
        self.cases = [run.result() for run in runs]
        self.known = {}

    def differences(self, number):
        profiles = {name: second_law.Profile(name) for name in small_cases.PROFILES}
        return set(comparison.compare(*self.cases[number], profiles, Counter()))

    def without_fault(self, number):
        if number not in self.known:
            self.known[number] = self.differences(number)
        return self.known[number]


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    return Runs(tmp_path_factory.mktemp("planted"))


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_noticed(name, runs, monkeypatch, measured):
    for number in range(len(SEEDS)):
        known = runs.without_fault(number)
        with monkeypatch.context() as planted:
            FAULTS[name](planted)
            found = runs.differences(number) - known
        if found:
            measured(f"{name}: noticed in case {SEEDS[number]}, {len(found)} differences")
            return
    pytest.fail(f"{len(SEEDS)} cases do not notice that {name}")
