"""Small invented cases of every shape that a case file accepts, each a function of its seed: `random_case` makes one, `write` puts
its layers and its case file into a folder."""

from random_cases.case import Grid, RandomCase, Structure, Waterway
from random_cases.make import random_case
from random_cases.write import write

__all__ = ["Grid", "RandomCase", "Structure", "Waterway", "random_case", "write"]
