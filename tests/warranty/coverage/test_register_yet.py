"""A machine that nobody has registered yet, while the term still lets it be registered."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.warranty.coverage.kit import decided, on, unit
from tests.warranty.coverage.test_who_pays import promise
from warranty.coverage.decision import from_json, to_json
from warranty.coverage.words import words

SOLD = date(2025, 6, 1)
TERM = promise("card", "maker", [], requires={"registered_within_days": 30})


@pytest.mark.parametrize(("after", "said"), [(3, True), (30, True), (31, False)])
def test_the_last_day_to_register_is_said_while_it_lies_ahead(after: int, said: bool) -> None:
    machine = unit(sold_on=SOLD, delivered_on=SOLD, first_service_on=SOLD, registered=False, registered_on=None)
    decision = decided(machine, on(SOLD + timedelta(days=after)), (TERM,))
    assert decision.answer == "not_covered"
    for one in (decision, from_json(to_json(decision))):  # frozen, it says the same
        lines = "\n".join(words(one))
        assert ("it can still be registered, until 2025-07-01 at the latest" in lines) is said
    registered = unit(sold_on=SOLD, delivered_on=SOLD, first_service_on=SOLD, registered_on=date(2025, 7, 1))
    assert decided(registered, on(date(2025, 7, 2)), (TERM,)).answer == "covered"


def test_nothing_is_said_where_it_fails_for_another_reason_too() -> None:
    machine = unit(sold_on=SOLD, delivered_on=SOLD, registered=False, registered_on=None)
    found = on(SOLD + timedelta(days=3), cause="impact")
    assert "can still be registered" not in "\n".join(words(decided(machine, found, (TERM,))))
