"""Hectares as whole cells, and the sums that must hold for every parcel."""


class Cells:
    """Turns hectares of an output into cells and fails where they are no whole number of cells."""

    def __init__(self, rasters):
        width, height = rasters.cell
        self.hectares_each = width * height / 10_000.0

    def __call__(self, hectares):
        cells = round(hectares / self.hectares_each)
        off = abs(cells * self.hectares_each - hectares)
        assert off < 1e-6 * max(1.0, hectares), f"{hectares} ha is no whole number of cells"
        return cells


def problems(parcel, cells):
    """The sums that do not hold for one parcel's properties, as text."""
    own, run_on, contributing = (cells(parcel[name]) for name in ("own_ha", "run_on_ha", "contributing_ha"))
    by_standing = [cells(parcel[name]) for name in ("right_ha", "acquire_ha", "undecided_ha")]
    shares = [cells(share["hectares"]) for share in parcel["shares"]]
    received = [cells(giver["hectares"]) for giver in parcel["receives_from"]]
    sums = {
        "own_ha + run_on_ha = contributing_ha": (own + run_on, contributing),
        "right_ha + acquire_ha + undecided_ha = own_ha": (sum(by_standing), own),
        "the hectares of shares = own_ha": (sum(shares), own),
        "the hectares of receives_from = run_on_ha": (sum(received), run_on),
    }
    for standing, hectares in zip(("right", "acquire", "undecided"), by_standing, strict=True):
        of_shares = sum(cells(share["hectares"]) for share in parcel["shares"] if share["standing"] == standing)
        sums[f"{standing}_ha = its shares"] = (hectares, of_shares)
    return [
        f"parcel {parcel['parcel_id']}: {text} fails, {found} and {expected} cells"
        for text, (found, expected) in sums.items()
        if found != expected
    ]


def assert_balanced(case):
    cells = Cells(case.rasters)
    failing = [line for feature in case.features("parcels") for line in problems(feature["properties"], cells)]
    assert not failing, "\n".join(failing[:20])
