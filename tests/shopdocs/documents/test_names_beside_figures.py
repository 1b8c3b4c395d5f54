"""A name that runs from right to left turns no figure beside it: every amount, rate, day and telephone number is seen as it is.

Each paper is drawn twice with every typed name changed: to one in Latin letters, and to one in Arabic that ends in a figure, the
worst for what stands behind it (UAX #9, W2). What is seen, by place on the page, must hold the same figures.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest

from shopdocs.documents.press.sheets import from_json, to_json
from tests import papers_samples as samples
from tests.papers_reading import seen

LATIN, ARABIC = "Zedrik Zoll 21", "ضريبة القيمة 21"
NAMES = {
    "account", "address", "assembly", "by", "caption", "component", "declared_by", "distributor", "family", "found", "held_as",
    "kind", "lines", "looked_at_by", "maker", "model", "name", "note", "part", "reason", "received_by", "remark", "serial",
    "source", "tagged_by", "technician", "title", "what", "who",
}  # fmt: skip
FIGURE = re.compile(
    r"-?\$\d[\d,]*\.\d\d(?!\d)|\d+(?:\.\d+)? %|\d{3}-\d{3}-\d{4}|\d{3}-\d{4}|\d{1,2} [A-Z][a-z]{2} \d{4}|\d+\.\d h\b|\d\d:\d\d"
)


def renamed(value: Any, name: str, key: str = "") -> Any:
    if isinstance(value, dict):
        return {at: renamed(one, name, at) for at, one in value.items()}
    if isinstance(value, list):
        return [renamed(one, name, key) for one in value]
    typed = isinstance(value, str) and key in NAMES and value and not FIGURE.search(value)
    return name if typed else value


def figures_of(sheet: Any, module: Any, name: str) -> Counter[str]:
    data = renamed(to_json(sheet), name)
    changed = from_json(type(sheet), data)
    return Counter(FIGURE.findall(" ".join(seen(module.draw(changed, samples.PICTURES).pdf))))


@pytest.mark.parametrize("paper", samples.ALL_PAPERS)
def test_no_figure_is_turned_by_a_name(paper: str) -> None:
    module, make = samples.ALL_PAPERS[paper]
    sheet = make()
    plain = figures_of(sheet, module, LATIN)
    assert sum(plain.values()) > 1
    assert plain - figures_of(sheet, module, ARABIC) == Counter()
