"""Every parcel's hectares add up, in whole cells."""

import pytest

import balance

pytestmark = pytest.mark.reference("numpy")


def test_hectares_of_the_demonstration_balance(demonstration, measured):
    balance.assert_balanced(demonstration)
    measured(f"demonstration: {len(demonstration.features('parcels'))} parcels balance to the cell")
