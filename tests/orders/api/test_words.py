"""The door that lists the words of the trade gives just the codes that the findings' door takes."""

from typing import Any

import pytest

from orders.rules import trade


@pytest.mark.django_db
def test_the_words_are_those_that_findings_take(api: Any, technician: Any) -> None:
    words = api(technician).get("/api/v1/trade/").json()
    assert [row["code"] for row in words["components"]] == [one.code for one in trade.components()]
    assert {row["code"] for row in words["causes"]} == {one.code for one in trade.causes()}
    line = next(row for row in words["components"] if row["code"] == "fuel_line")
    assert "leaks" in line["unsafe"] and "ok" not in line["unsafe"]
    assert any(row["code"] == "mm" for row in words["measurement_units"])
