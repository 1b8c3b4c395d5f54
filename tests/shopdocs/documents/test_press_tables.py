"""Tables: columns as wide as what stands in them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import pdfplumber

from orders.papers import estimate
from tests import papers_samples as samples

D = Decimal


def test_a_column_of_decimals_has_room_for_the_longest_head_beside_the_longest_tail() -> None:
    """1,000,000.00 over 0.0001: neither runs into the column beside it."""
    line = samples.part("X-1", "Part", "3.333", "1000000.00")
    lines = (line, replace(line, each=D("0.0001"), amount=D("0.01")))
    job = replace(samples.estimate().jobs[1], parts=lines)
    with pdfplumber.open(BytesIO(estimate.draw(samples.estimate(jobs=(job,)), samples.PICTURES).pdf)) as document:
        told = [
            word
            for page in document.pages
            for word in page.extract_words()
            if word["text"] in ("3.333", "1,000,000.00")
        ]
    (many, each), *_ = zip(told[::2], told[1::2], strict=False)
    assert (many["text"], each["text"]) == ("3.333", "1,000,000.00")
    assert each["x0"] - many["x1"] >= 8
