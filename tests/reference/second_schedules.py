"""What a drain's schedule assesses a parcel for, read from its rows as `docs/case-file.md` describes them."""

# As the reason of land whose outlet nobody knows before the municipality answers.
BENEFIT_ONLY = "assessed_for_benefit_only"


def assessed(schedule, parcel):
    """Hectares for outlet; `BENEFIT_ONLY`; `None` where the schedule does not assess the parcel. Rows of several branches add up."""
    rows = [row for row in schedule.rows if row.land == parcel]
    hectares = [row.hectares for row in rows if for_outlet(schedule, row)]
    if hectares:
        return sum(hectares)
    return BENEFIT_ONLY if any(is_some(row.benefit) for row in rows) else None


def for_outlet(schedule, row):
    return not schedule.has_amounts or is_some(row.outlet)


def is_some(amount):
    return bool(amount) and float(amount) > 0.0
