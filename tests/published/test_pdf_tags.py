"""The structure of our papers against the rules of ISO 14289-1 (PDF/UA-1) that a test can see.

Source of each clause: https://github.com/veraPDF/veraPDF-validation-profiles, PDF_UA/PDFUA-1.xml, state of 21 Aug 2025.
Only the clauses tested here are claimed, and the file does not call itself PDF/UA.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pikepdf
import pytest

from orders.papers import estimate, repair_order
from tests import papers_samples as samples
from warranty.papers import claim

LONG_JOB = replace(
    samples.CUSTOMER_JOBS[0],
    found="seen " * 3000,
    labour=tuple(samples.labour(f"C-{at}", "Step", 3) for at in range(90)),
)
MAKERS: dict[str, Any] = {
    "estimate over many pages": lambda: estimate.draw(samples.estimate(jobs=(LONG_JOB,)), {}),
    "repair order": lambda: repair_order.draw(samples.repair_order(), samples.PICTURES),
    "claim": lambda: claim.draw(samples.claim(), samples.PICTURES),
}


@pytest.fixture(scope="module", params=MAKERS)
def document(request: pytest.FixtureRequest) -> Iterator[pikepdf.Pdf]:
    with pikepdf.open(BytesIO(MAKERS[request.param]().pdf)) as opened:
        yield opened


def kids(element: Any) -> list[Any]:
    return [kid for kid in element.K if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/StructElem"]


def walk(element: Any) -> Iterator[Any]:
    yield element
    for kid in kids(element):
        yield from walk(kid)


def elements(document: pikepdf.Pdf) -> list[Any]:
    return list(walk(document.Root.StructTreeRoot.K))


def pieces(element: Any) -> list[tuple[tuple[int, int], int]]:
    """(page object, MCID) of the content that belongs to an element itself."""
    out = []
    for kid in element.K:
        if isinstance(kid, int):
            out.append((element.Pg.objgen, kid))
        elif kid.get("/Type") == "/MCR":
            out.append((kid.Pg.objgen, int(kid.MCID)))
    return out


def test_7_1_all_content_is_marked_and_leads_to_one_element(document: pikepdf.Pdf) -> None:
    assert document.Root.MarkInfo.Marked is True
    owned = [piece for element in elements(document) for piece in pieces(element)]
    assert len(owned) == len(set(owned))
    drawn: set[tuple[tuple[int, int], int]] = set()
    for page in document.pages:
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name == "BDC":
                drawn.add((page.objgen, int(operands[1].MCID)))
            depth += {"BDC": 1, "BMC": 1, "EMC": -1}.get(name, 0)
            assert depth in (0, 1)
            if name in ("Tj", "TJ", "f", "S", "Do"):
                assert depth == 1, f"{name} outside every mark"
    assert drawn == set(owned)


def test_7_1_the_parent_tree_leads_back(document: pikepdf.Pdf) -> None:
    numbers = list(document.Root.StructTreeRoot.ParentTree.Nums)
    owners = {int(numbers[at]): numbers[at + 1] for at in range(0, len(numbers), 2)}
    for page in document.pages:
        for mcid, owner in enumerate(owners[int(page.StructParents)]):
            assert (page.objgen, mcid) in pieces(owner)


def test_7_2_tables_hold_rows_of_one_length(document: pikepdf.Pdf) -> None:
    tables = [element for element in elements(document) if element.S == "/Table"]
    assert tables
    for table in tables:
        assert [str(kid.S) for kid in kids(table)] == ["/THead", "/TBody"]
        rows = [row for part in kids(table) for row in kids(part)]
        assert {str(row.S) for row in rows} == {"/TR"}
        assert len({len(kids(row)) for row in rows}) == 1
        assert {str(cell.S) for cell in kids(rows[0])} == {"/TH"}
        assert {str(cell.S) for row in rows[1:] for cell in kids(row)} == {"/TD"}


def test_7_3_figures_have_words(document: pikepdf.Pdf) -> None:
    figures = [element for element in elements(document) if element.S == "/Figure"]
    pictures = sum(len(page.get_images()) for page in document.pages)
    assert len(figures) == pictures
    for figure in figures:
        assert re.match(r"Photo \d+: \w", str(figure.Alt))
        assert len(figure.A.BBox) == 4


def test_7_4_headings_begin_at_one_and_skip_none(document: pikepdf.Pdf) -> None:
    levels = [int(str(element.S)[2:]) for element in elements(document) if re.fullmatch(r"/H\d", str(element.S))]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_7_5_table_heads_have_a_scope(document: pikepdf.Pdf) -> None:
    heads = [element for element in elements(document) if element.S == "/TH"]
    assert heads
    assert all(head.A.Scope == "/Column" for head in heads)


def test_7_18_pages_go_in_the_order_of_the_structure(document: pikepdf.Pdf) -> None:
    assert all(page.Tabs == "/S" for page in document.pages)


def test_the_structure_reads_in_the_order_of_the_paper(document: pikepdf.Pdf) -> None:
    order = {page.objgen: at for at, page in enumerate(document.pages)}
    read = [(order[page], mcid) for element in elements(document) for page, mcid in pieces(element)[:1]]
    assert read == sorted(read)
