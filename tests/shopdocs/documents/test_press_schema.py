"""The facts inside a paper: what it prints, nothing else, described by the schema beside the paper's code."""

from __future__ import annotations

import json
import os
from copy import deepcopy
from io import BytesIO
from pathlib import Path
from typing import Any

import jsonschema
import pikepdf
import pytest

from shopdocs.documents.press.schema import facts_file, json_schema, paper_name, schema_id
from shopdocs.documents.press.sheets import Sheet, from_json, to_json
from tests import papers_samples as samples
from tests.papers_samples import ALL_PAPERS

ROOT = Path(__file__).parents[3]


def attached(pdf: bytes) -> dict[str, Any]:
    with pikepdf.open(BytesIO(pdf)) as document:
        (only,) = document.attachments.values()
        told: dict[str, Any] = json.loads(only.get_file().read_bytes())
    return told


def schema_file(cls: type[Sheet]) -> Path:
    """Beside the module that draws the paper."""
    return ROOT / cls.__module__.rsplit(".", 1)[0].replace(".", "/") / f"{paper_name(cls)}.schema.json"


@pytest.mark.parametrize("name", ALL_PAPERS)
def test_the_facts_inside_are_the_sheet_and_fit_its_schema(name: str) -> None:
    module, make = ALL_PAPERS[name]
    sheet = make()
    told = attached(module.draw(sheet, samples.PICTURES).pdf)
    jsonschema.validate(told, json_schema(type(sheet)), format_checker=jsonschema.FormatChecker())
    assert told == {"schema": schema_id(type(sheet)), "facts": to_json(sheet)}
    assert from_json(type(sheet), told["facts"]) == sheet


@pytest.mark.parametrize("name", ALL_PAPERS)
def test_the_schema_that_is_written_down_is_the_one_in_use(name: str) -> None:
    """A change here is seen by everybody who reads our papers: raise EDITION, then UPDATE_TABLES=1."""
    cls = type(ALL_PAPERS[name][1]())
    written = json.dumps(json_schema(cls), indent=1, ensure_ascii=False) + "\n"
    if os.environ.get("UPDATE_TABLES"):
        schema_file(cls).write_text(written)
    assert schema_file(cls).read_text() == written
    jsonschema.Draft202012Validator.check_schema(json_schema(cls))


def test_the_schema_refuses_what_is_no_such_paper() -> None:
    good = json.loads(facts_file(samples.claim()))
    checker = jsonschema.Draft202012Validator(
        json_schema(type(samples.claim())), format_checker=jsonschema.FormatChecker()
    )
    assert checker.is_valid(good)
    for path, value in (
        (("schema",), "urn:shopdocs:paper:invoice:1"),
        (("facts", "expected"), 301.39),
        (("facts", "expected"), "1e3"),
        (("facts", "deadline"), "2026-02-30"),
        (("facts", "more"), "x"),
        (("facts", "parts", 0, "quantity"), None),
    ):
        bad: Any = deepcopy(good)
        at = bad
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value
        assert not checker.is_valid(bad), path
