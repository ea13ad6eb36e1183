"""Names that look like one owner in two spellings, and names taken as one that are alike in any number of steps.

The rules are our choice: the same words in any order; one word shortened to its first letter; one slip of the pen in a name that
is not short. Letter case and punctuation count for nothing, digits always count.
"""

import itertools
import re

SHORTEST = 6


def words(name):
    return [word for word in re.split(r"[\W_]+", name.lower()) if word]


def are_alike(one, other):
    first, second = words(one), words(other)
    return sorted(first) == sorted(second) or is_shortened(first, second) or is_slip("".join(first), "".join(second))


def is_shortened(first, second):
    """All words are the same but one, of which the one name has the first letter alone."""
    if len(first) != len(second) or len(first) < 2:
        return False
    differing = [sorted(pair, key=len) for pair in zip(first, second, strict=True) if pair[0] != pair[1]]
    return (
        len(differing) == 1
        and len(differing[0][0]) == 1
        and differing[0][0].isalpha()
        and differing[0][1].startswith(differing[0][0])
    )


def is_slip(first, second):
    """One letter more, less or another, or two neighbours swapped."""
    if min(len(first), len(second)) < SHORTEST or digits(first) != digits(second):
        return False
    if len(first) == len(second):
        return second in swaps(first) or sum(one != other for one, other in zip(first, second, strict=True)) == 1
    shorter, longer = sorted((first, second), key=len)
    return shorter in {longer[:at] + longer[at + 1 :] for at in range(len(longer))}


def digits(text):
    return [letter for letter in text if letter.isdigit()]


def swaps(text):
    return {text[:at] + text[at + 1] + text[at] + text[at + 2 :] for at in range(len(text) - 1)} - {text}


def taken_as_one(names):
    """For each name the one that it is counted as."""
    one = {name: name for name in names}
    for first, second in itertools.combinations(sorted(names), 2):
        if are_alike(first, second):
            kept, gone = one[first], one[second]
            one = {name: kept if of == gone else of for name, of in one.items()}
    return one
