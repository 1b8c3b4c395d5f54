"""Tenths of an hour against a computed table, and a published allocation chart whose times are bare."""

from decimal import Decimal

import pytest

from orders.rules.labour import Rounding, labour_time, tenths
from orders.rules.labour_guide import LessWith, Operation, guide

# Minutes / 60 in tenths; computed. Binary floats get the half-up row wrong (0.15 and 0.25), decimals do not.
TABLE = [
    (0, "0.0", "0.0", "0.0"),
    (2, "0.0", "0.0", "0.1"),
    (3, "0.1", "0.0", "0.1"),
    (8, "0.1", "0.1", "0.2"),
    (9, "0.2", "0.2", "0.2"),
    (14, "0.2", "0.2", "0.3"),
    (15, "0.3", "0.2", "0.3"),
    (27, "0.5", "0.4", "0.5"),
    (33, "0.6", "0.6", "0.6"),
    (44, "0.7", "0.7", "0.8"),
    (45, "0.8", "0.8", "0.8"),
    (57, "1.0", "1.0", "1.0"),
    (59, "1.0", "1.0", "1.0"),
    (61, "1.0", "1.0", "1.1"),
    (63, "1.1", "1.0", "1.1"),
]


@pytest.mark.parametrize(("minutes", "half_up", "half_even", "up"), TABLE)
def test_minutes_to_tenths(minutes: int, half_up: str, half_even: str, up: str) -> None:
    assert str(tenths(Decimal(minutes), Rounding.HALF_UP)) == half_up
    assert str(tenths(Decimal(minutes), Rounding.HALF_EVEN)) == half_even
    assert str(tenths(Decimal(minutes), Rounding.UP)) == up


# The usual chart of six-minute spans, rounded up; computed.
@pytest.mark.parametrize("tenth", range(1, 11))
def test_each_span_of_six_minutes(tenth: int) -> None:
    for minutes in range(6 * tenth - 5, 6 * tenth + 1):
        assert tenths(Decimal(minutes), Rounding.UP) == Decimal(tenth) / 10


def test_rounding_each_job_differs_from_rounding_the_sum() -> None:
    """Three jobs of 8 minutes: 3 x 0.1 = 0.3, but 24 minutes = 0.4 (half-up); computed."""
    assert 3 * tenths(Decimal(8), Rounding.HALF_UP) == Decimal("0.3")
    assert tenths(Decimal(3 * 8), Rounding.HALF_UP) == Decimal("0.4")


# US Army TM 5-4310-379-14, maintenance allocation chart, page B-6, Change 1,
# https://compressors.tpub.com/TM-5-4310-379-14/css/TM-5-4310-379-14_559.htm ; read, sums computed. The chart states
# no overlap, so nothing is deducted and each pair is reported as unknown.
CHART = [
    ("governor", {"inspect": "0.1", "adjust": "0.3", "replace": "0.5", "repair": "2.0"}, "2.9"),
    ("air cleaner", {"service": "0.3", "replace": "0.2", "repair": "0.3"}, "0.8"),
    ("air shutdown housing", {"replace": "0.5", "repair": "1.0"}, "1.5"),
    ("blower", {"replace": "1.3", "repair": "2.5"}, "3.8"),
    ("air box drains", {"inspect": "0.1", "replace": "0.3"}, "0.4"),
    ("starter", {"inspect": "0.1", "test": "0.3", "replace": "0.5", "repair": "2.0"}, "2.9"),
    ("starting aid", {"inspect": "0.1", "replace": "0.4", "repair": "0.4"}, "0.9"),
    ("alternator", {"inspect": "0.1", "test": "0.3", "adjust": "0.2", "replace": "0.3", "repair": "1.5"}, "2.4"),
]


@pytest.mark.parametrize(("item", "times", "total"), CHART)
@pytest.mark.parametrize("rounding", Rounding)
def test_a_published_chart_of_bare_times(item: str, times: dict[str, str], total: str, rounding: Rounding) -> None:
    book = guide([], [Operation(work, f"{work} {item}", hours=Decimal(hours)) for work, hours in times.items()])
    found = labour_time(book, list(times), rounding)
    assert found.hours == Decimal(total)
    assert [part.counted for part in found.operations] == [Decimal(hours) for hours in times.values()]
    assert len(found.unknown_overlaps) == len(times) * (len(times) - 1) // 2


def test_a_shop_may_record_the_overlap_that_the_chart_leaves_open() -> None:
    """The chart's blower: were the replacement known to share 0.3 h with the repair, 3.8 h would become 3.5 h
    (inference).
    """
    repair = Operation(
        "repair", "Repair blower", hours=Decimal("2.5"), less_with=(LessWith("replace", Decimal("0.3")),)
    )
    book = guide([], [repair, Operation("replace", "Replace blower", hours=Decimal("1.3"))])
    found = labour_time(book, ["repair", "replace"], Rounding.HALF_UP)
    assert (found.hours, found.saved, found.unknown_overlaps) == (Decimal("3.5"), Decimal("0.3"), ())
