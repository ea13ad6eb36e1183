"""Areas of the parcels as given."""

import pytest

pytestmark = pytest.mark.reference("shapely")

SQUARE_METRES_PER_HECTARE = 10_000.0
# A tenth of a square metre: room for rounding to five decimals of a hectare, no more.
ROUNDING_HA = 0.00001


def test_area_of_every_parcel(demonstration, measured):
    _, parcels = demonstration.parcel_polygons()
    features = demonstration.features("parcels")
    farthest = max(
        abs(
            feature["properties"]["area_ha"]
            - parcels[feature["properties"]["parcel_id"]].area / SQUARE_METRES_PER_HECTARE
        )
        for feature in features
    )
    assert farthest <= ROUNDING_HA
    measured(f"{len(features)} parcels, farthest area off by {farthest * SQUARE_METRES_PER_HECTARE:.4f} m²")
