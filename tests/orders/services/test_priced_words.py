"""What pricing puts on a paper: minimum, supplies, cores, discounts, limits and what is saved, in the paper's own words."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from typing import Any

import pytest

from orders.rules.labour import Rounding, labour_time
from orders.rules.labour_guide import Guide, Operation, WorkStep
from orders.services.changes import _lines as changed_lines
from orders.services.labour_together import beside_words, limit_diagnosis, time_facts
from orders.services.priced import price
from orders.services.sheets import labour_lines, part_lines
from shopdocs.documents.press.words import words
from tests.left_in_english import left_in_english

MONEY = {"code": "USD", "decimals": 2, "symbol": "$", "tax_basis": "invoice"}
TERMS = {
    "minimum_labour": "60", "class_discount": {"words": "crew or company", "percent": "5"},
    "supplies": {"words": "Material", "percent": "10", "of": ["labour"], "floor": "9", "cap": None},
}  # fmt: skip


def priced_job() -> dict[str, Any]:
    """A job of every kind of line that pricing adds or cuts, as facts that were stored and read again."""
    line = {"id": "l", "code": "", "words": "Buscar", "rate": "50", "tenths": 12, "diagnosis": True}
    valve = {
        "id": "p", "number": "", "words": "Bomba", "quantity": "1", "unit_price": "20", "core_charge": "3",
        "environment_charge": "1", "discount_percent": "10",
    }  # fmt: skip
    job: dict[str, Any] = {
        "id": "j", "title": "T", "payer": "customer", "shares": [], "payer_of": {}, "labour": [line], "parts": [valve], "fees": [],
    }  # fmt: skip
    job["labour_set"] = {"diagnosis_limit": "0.9"}
    limit_diagnosis(job)
    steps = {key: WorkStep(key, key, Decimal(minutes)) for key, minutes in (("tapa", 12), ("bujía", 6), ("filtro", 6))}
    work = (Operation("a", "Bujía", ("tapa", "bujía")), Operation("b", "Filtro", ("tapa", "filtro")))
    job["labour_time"] = time_facts(labour_time(Guide(steps, {one.key: one for one in work}), ["a", "b"], Rounding.UP))
    price([job], [], MONEY, exempt=False, on=dt.date(2026, 1, 1), terms=TERMS)
    stored: dict[str, Any] = json.loads(json.dumps(job))
    return stored


def told(job: dict[str, Any], language: str) -> list[str]:
    (labour,) = labour_lines(job, language)
    return [labour.note, *(line.what for line in part_lines(job, language))]


def test_what_is_shared_with_other_jobs_is_said_in_the_papers_language() -> None:
    once = ["{step} once", {"step": "tapa"}, "", 1]
    shared = [{"job": 1, "reasons": [once]}, {"job": 2, "reasons": [once]}]
    cases = ({"saved": "0.3", "shared": shared}, {"saved": "0.1", "shared": []}, {"saved": "-0.1", "shared": []})
    spanish, english = ([beside_words(one, words(language)) for one in (*cases, None)] for language in ("es", "en"))
    assert spanish[0] == "0.3 h ahorradas: tapa: una vez, con el trabajo 1; tapa: una vez, con el trabajo 2."
    assert left_in_english("\n".join(spanish)) == []
    assert english[0] == "0.3 h saved: tapa once, with job 1; tapa once, with job 2."
    assert ["less" in english[1], "0.1 h more" in english[2], english[3]] == [True, True, ""]


def test_every_word_of_pricing_is_said_in_the_papers_language() -> None:
    job = priced_job()
    spanish = "\n".join(told(job, "es"))
    for said in (
        "1.2 h, de las que se pagan como máximo 0.9 h.", "tapa: una vez", "h ahorradas:", "menos descuento (10 %): 2.00",
        "menos cuadrilla o empresa (5 %):", "Cargo por casco: Bomba", "Cargo ambiental: Bomba",
        "La mano de obra del trabajo se sube al mínimo de 60", "subido al mínimo que se cobra, 9",
    ):  # fmt: skip
        assert said in spanish, (said, spanish)
    assert left_in_english(spanish) == []
    english = "\n".join(told(job, "en"))
    for said in (
        "1.2 h, of which 0.9 h is the most that is paid.", "h saved: tapa once.", "less discount (10 %): 2.00",
        "less crew or company (5 %):", "Core charge: Bomba", "Environment charge: Bomba",
        "Labour of the job is raised to the minimum of 60", "Material: 10 % of", "raised to the least charged, 9",
    ):  # fmt: skip
        assert said in english, (said, english)
    changed = [line.what for line in changed_lines(None, job, words("es"))]
    assert {"Cargo por casco: Bomba", "Cargo ambiental: Bomba", "Cargo mínimo de mano de obra"} <= set(changed)


@pytest.mark.parametrize("language", ["en", "es"])
def test_facts_that_were_frozen_without_them_keep_their_own_words(language: str) -> None:
    job = priced_job()
    for line in (*job["labour"], *job["parts"], *job["extras"]):
        line.pop("told", None), line.pop("limited_told", None)
        line["less"] = [{"words": cut["words"], "amount": cut["amount"]} for cut in line["less"]]
    del job["labour_time"]["shared"]
    text = "\n".join(told(job, language))
    for said in (
        "the most that is paid.",
        "h saved: tapa once.",
        "discount (10 %)",
        "Core charge: Bomba",
        "to the minimum",
    ):
        assert said in text, said
