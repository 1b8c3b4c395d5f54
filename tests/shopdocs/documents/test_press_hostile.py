"""Two thousand papers with hostile texts in every place where a person types: refused or drawn, never more.

Drawn means: soon, in little memory, as a sound file, with nothing of the text taken for markup.
"""

from __future__ import annotations

import random
import time
from io import BytesIO
from typing import Any

import pikepdf
import pytest

from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.sheets import from_json, to_json
from tests import papers_samples as samples
from tests.papers_reading import words_of
from tests.processes import in_a_process, memory

EACH = 182
"""Times eleven papers: two thousand and two."""
SECONDS, MEGABYTES = 10.0, 300
FIXED = {"cautions", "paper", "language", "accent", "sha256", "kind", "code", "moment", "shows", "result", "stage"}
"""What no person types: words that the code chooses from."""
PIECES = (
    "<img src='file:///etc/passwd'/>", "</para>", "<b>", "&amp;&#x41;", "%s %(x)s {0}", "\\) Tj ET Q ((", "(unbalanced",
    "BT /F1 9 Tf", "]]>", "\x00", "\x1b[31m", "\u202e", "\u200b" * 40, "\ufeff", "\ud800", "\U0010ffff", "😀👩‍🔧", "مرحبا بالعالم", "שלום",
    "ქართული", "漢字かな交じり", "Ж" * 300, "x" * 2000, "a b " * 500, "\n" * 60, "\t\t", "½⅜", "ﬁ", "e" + "\u0301" * 50, "", " ",
    "क्" * 40, "👩\u200d" * 30, "น้ำใจ" * 12, "می\u200cخواهم", "\u200f\u0301\ufe0f\u200d", "[(א12{" * 20, "𒀀ᚠ\ue000", "中" * 60,
)  # fmt: skip


def hostile(rng: random.Random) -> str:
    return "".join(rng.choice(PIECES) for _ in range(rng.randrange(1, 5)))[: rng.choice((40, 400, 10_000))]


def spoiled(data: Any, rng: random.Random, share: float, name: str = "") -> Any:
    """The sheet's JSON with a share of its typed texts replaced."""
    if isinstance(data, dict):
        return {key: spoiled(value, rng, share, key) for key, value in data.items()}
    if isinstance(data, list):
        return [spoiled(one, rng, share, name) for one in data]
    typed = isinstance(data, str) and name not in FIXED and not _is_figure(data)
    return hostile(rng) if typed and rng.random() < share else data


def _is_figure(text: str) -> bool:
    """A number or day as a sheet writes it."""
    return bool(text) and all(character in "0123456789.-" for character in text)


def trial(name: str) -> dict[str, Any]:
    """In a process of its own: papers drawn and refused, the slowest, the memory, and what was wrong with files."""
    module, make = samples.ALL_PAPERS[name]
    module.draw(make(), samples.PICTURES)
    told: dict[str, Any] = {"drawn": 0, "refused": 0, "slowest": 0.0, "wrong": []}
    idle = memory()
    for number in range(EACH):
        rng = random.Random(f"{name} {number}")
        sheet = from_json(type(make()), spoiled(to_json(make(rng.choice(("letter", "a4")))), rng, rng.choice((0.1, 1))))
        began = time.process_time()
        try:
            drawn = module.draw(sheet, samples.PICTURES)
            told["drawn"] += 1
        except PressError as refused:
            told["refused"] += 1
            if not str(refused):
                told["wrong"].append(f"{number}: refused without a word")
            continue
        told["slowest"] = max(told["slowest"], time.process_time() - began)
        if number % 20 == 0:
            with pikepdf.open(BytesIO(drawn.pdf)) as document:
                told["wrong"] += [f"{number}: {one}" for one in document.check_pdf_syntax()]
    return {**told, "megabytes": (memory("VmHWM") - idle) / 1024}


@pytest.mark.parametrize("name", samples.ALL_PAPERS)
def test_hostile_texts_are_refused_or_drawn_and_never_more(name: str) -> None:
    told = in_a_process(trial, name)
    assert told["wrong"] == []
    assert told["drawn"] + told["refused"] == EACH
    assert told["drawn"] > EACH / 2, told
    assert told["slowest"] < SECONDS and told["megabytes"] < MEGABYTES, told


def test_what_looks_like_markup_is_printed_as_it_was_typed() -> None:
    module, _ = samples.ALL_PAPERS["estimate"]
    typed = "<img src='file:///etc/passwd'/> &amp; <b>not bold</b> %s {0}"
    assert typed in words_of(module.draw(samples.estimate(request=typed), {}).pdf)
