"""Where a machine is used: what is read as a region, and what is not known then."""

from __future__ import annotations

from pathlib import Path

import pytest

from orders.rules.regions import load_regions, meant, region_code, regions
from orders.rules.strict import DataError


@pytest.mark.parametrize(
    ("typed", "country", "code"),
    [
        ("CA", "US", "US-CA"), ("us-ca", "US", "US-CA"), (" oh ", "US", "US-OH"), ("California", "US", "US-CA"),
        ("new  york", "US", "US-NY"), ("Ontario", "US", "CA-ON"), ("CA-ON", "US", "CA-ON"), ("US", "US", "US"),
        ("PR", "US", "US-PR"), ("CA", "CA", "CA"), ("ON", "CA", "CA-ON"), ("US", "CA", "US"), ("DE", "US", "US-DE"),
        ("BY", "DE", "DE-BY"), ("DE-BY", "US", "DE-BY"), ("Ohio", "DE", "US-OH"),
        # Not known, and so never a state of the shop's country:
        ("ON", "US", None), ("Calif.", "US", None), ("XX", "US", None), ("US-XX", "US", None), ("CA-CA", "US", None),
        ("CALIFORNIA-US", "US", None), ("US-", "US", None), ("XX-YY", "US", None), ("US", "DE", None), ("OH", "CA", None),
        ("US-CALIFORNIA", "US", None), ("'; DROP", "US", None), ("Bavaria", "DE", None),
    ],
)  # fmt: skip
def test_what_was_typed_as_a_code(typed: str, country: str, code: str | None) -> None:
    assert region_code(typed, country) == code


def test_a_code_of_another_country_is_named() -> None:
    assert (meant("on"), meant("XX")) == ("CA-ON", "")


def test_every_state_territory_and_province_is_listed_once() -> None:
    counts = {country: sum(code.startswith(f"{country}-") for code in regions().names) for country in ("US", "CA")}
    assert counts == {"US": 50 + 1 + 6, "CA": 13}
    assert len(set(regions().names.values())) == 70
    # No bare code stands for two of them, save where it is the shop's own country that tells.
    assert len({code[3:] for code in regions().names}) == 70


@pytest.mark.parametrize(
    "row", ["{code: US-OH, name: A}, {code: US-OH, name: B}", "{code: ZZ-OH, name: A}", "{code: US-Ohio, name: A}"]
)
def test_a_wrong_row_is_refused_with_its_place(row: str, tmp_path: Path) -> None:
    path = tmp_path / "regions.yaml"
    path.write_text(f'countries: ["US"]\nregions: [{row}]\n')
    with pytest.raises(DataError, match=r"regions.yaml:2"):
        load_regions(path)
