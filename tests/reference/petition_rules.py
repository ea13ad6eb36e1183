"""Texts of rule profiles for the checks of petitions: a shipped profile, with its tests of petitions replaced by others."""

import re

import program

PROFILES = program.ROOT / "crates/law/profiles"
# With tests of petitions of their own; the others say that they know of no petition.
WITH_PETITIONS = ("ontario", "iowa")
OURS = ("petition.test", "petition.officer", "remonstrance", "remonstrance.test")
HEADER = re.compile(r"^\[+([\w.]+)\]+\s*$", re.MULTILINE)
SLIVER = re.compile(r"^sliver_ha = .*$", re.MULTILINE)

HEADS = ("record_owner", "ownership_unit", "parcel")
OF_HEADS = ("owners", "owners_and_road_authorities")
OF_HECTARES = ("land", "land_and_roads", "land_and_perhaps_roads", "land_and_perhaps_roads")
FRACTIONS = ("1/5", "1/4", "1/3", "1/2", "1/2", "3/5", "2/3", "7/10", "9/10")
SLIVERS_HA = ("0.01", "0.05", "0.1", "0.5", "1.0")


def shipped(name):
    return (PROFILES / f"{name}.toml").read_text()


def without_tests(text):
    starts = [(found.start(), found[1]) for found in HEADER.finditer(text)]
    ends = [start for start, _ in starts[1:]] + [len(text)]
    kept = [text[start:end] for (start, name), end in zip(starts, ends, strict=True) if name not in OURS]
    return text[: starts[0][0]] + "".join(kept)


def profile(tests, base="ontario", officers=(), remonstrance=(), sliver_ha="0.1"):
    """`tests` are those of petitions, each its conditions and whether withdrawals are `counted` or `ignored`."""
    text = SLIVER.sub(f'sliver_ha = {{ value = {sliver_ha}, source = "our_choice" }}', without_tests(shipped(base)))
    parts = [test("petition", number, *given) for number, given in enumerate(tests, 1)]
    parts += [officer(id) for id in officers]
    parts += [test("remonstrance", number, *given) for number, given in enumerate(remonstrance, 1)]
    return "\n".join([text, *parts])


def test(of, number, conditions, withdrawals="counted"):
    return f"""
[[{of}.test]]
id = "{of}_{number}"
label = "invented test {number}"
source = "our_choice"
confirmed = false
withdrawals = "{withdrawals}"
withdrawals_until = "an invented day"
all_of = [{", ".join(conditions)}]
"""


def officer(id):
    return f'\n[[petition.officer]]\nid = "{id}"\nlabel = "an invented officer"\nsource = "our_choice"\nconfirmed = false\n'


def of_heads(of, heads, **least):
    return "{ " + f'of = "{of}", heads = "{heads}", {written(least)}' + " }"


def of_hectares(of, **least):
    return "{ " + f'of = "{of}", {written(least)}' + " }"


def written(least):
    """One of `more_than`, `at_least` and `count`."""
    ((word, value),) = least.items()
    return f"{word} = {value}" if word == "count" else f'{word} = "{value}"'


def random_profile(rng):
    """Any of several tests, each of several conditions."""
    officers = [id for id in ("road_authority", "director") if rng.random() < 0.5]
    remonstrance = random_tests(rng) if rng.random() < 0.5 else ()
    base = str(rng.choice(WITH_PETITIONS))
    return profile(random_tests(rng), base, officers, remonstrance, str(rng.choice(SLIVERS_HA)))


def random_tests(rng):
    return [random_test(rng) for _ in range(rng.integers(1, 4))]


def random_test(rng):
    conditions = [random_condition(rng) for _ in range(rng.choice([1, 1, 1, 2, 2, 3]))]
    return conditions, "ignored" if rng.random() < 0.3 else "counted"


def random_condition(rng):
    fraction = {str(rng.choice(["more_than", "at_least"])): str(rng.choice(FRACTIONS))}
    if rng.random() < 0.45:
        return of_hectares(str(rng.choice(OF_HECTARES)), **fraction)
    least = {"count": int(rng.integers(1, 7))} if rng.random() < 0.25 else fraction
    return of_heads(str(rng.choice(OF_HEADS)), str(rng.choice(HEADS)), **least)
