"""A claim and the tag of its part in the language of whoever reads them, without a word of ours in another."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import Distributor, Finding, HourReading, Job, JobLabour, JobPart
from orders.services.statements import statement_of
from shopdocs.documents.press.words import words
from shopdocs.documents.services.papers import draw_sheet
from tests.left_in_english import left_in_english
from tests.papers_reading import words_of
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE
from warranty.models import Claim
from warranty.services.claims import file_claim
from warranty.services.decide import decide_order
from warranty.services.decision_words import explanation
from warranty.services.parts_holds import request_part_tag
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db


@pytest.fixture
def spoken_to(scene: Scene, finished_job: Job, settings: Any) -> Scene:
    """The scene as its people would have typed it in Spanish: decided by law and by a promise, filed late, with photos."""
    settings.PUBLIC_URL = "http://desk.example"
    type(scene.job).objects.filter(pk=scene.job.pk).update(
        title="Cambiar el módulo", complaint="Se para en caliente.", correction="Módulo cambiado.",
        cause="defect in material or workmanship; normal wear",
    )  # fmt: skip
    Finding.objects.filter(pk=scene.module.pk).update(note="Sin chispa.")
    JobLabour.objects.filter(job=scene.job).update(words="Módulo, cambiar", diagnosis=True)
    JobPart.objects.filter(job=scene.job).update(words="Módulo")
    reading = HourReading.objects.create(
        shop=scene.shop, unit=scene.unit, read_on=scene.today - 6 * DAY, hours=Decimal("12.5"), meter_changed=True,
        hours_before_change=Decimal(20),
    )  # fmt: skip
    type(scene.order).objects.filter(pk=scene.order.pk).update(reading=reading)
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=True)
    scene.terms(filing_days=1, source="carta", diagnosis_limit=Decimal("0.5"))
    scene.photo("before", about=scene.module.subject)
    scene.photo("serial_plate", colour="blue")
    promise = PROMISE | {"title": "Promesa Korlind", "pays": {"parts": True, "labour": True, "labour_percent": "50"}}
    promise["source"] = PROMISE["source"] | {"cite": "Tarjeta Korlind"}
    record_term(shop=scene.shop, by=scene.owner, term=promise)
    row = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)[0]
    Job.objects.for_shop(scene.shop).filter(pk=scene.job.pk).update(
        basis_id=str(row.pk), basis_hash=row.sha256, basis_words="Promesa Korlind"
    )
    return scene


def filed(scene: Scene, shops: str, distributors: str = "") -> Claim:
    type(scene.shop).objects.filter(pk=scene.shop.pk).update(language=shops)
    Distributor.objects.filter(pk=scene.distributor.pk).update(language=distributors)
    scene.shop.refresh_from_db()
    return file_claim(shop=scene.shop, by=scene.owner, job=scene.job.pk)


def drawn(claim: Claim) -> str:
    return words_of(draw_sheet(claim.shop, "claim", claim.document.sheet).pdf)


def test_a_spanish_claim_its_letter_and_its_tag_have_no_word_of_english(spoken_to: Scene) -> None:
    claim = filed(spoken_to, "es")
    told = drawn(claim)
    for said in (
        "¿Se halló el fallo dentro del plazo?", "1 día después de la reparación del", "Módulo o bobina de encendido, no funciona",
        "Presentada 1 día después del último día", "Defecto de material o fabricación; desgaste normal", "contador cambiado a las 20 h",
        "(al recibirla)", "la garantía paga el 50 % de la mano de obra", "1.5 h, de las que se pagan como máximo 0.5 h",
        "Garantía federal de emisiones, parte de escape", "Cubierto (a fecha de", "Clase de uso: doméstico",
    ):  # fmt: skip
        assert said in told, said
    assert left_in_english(told) == []
    assert left_in_english(f"{claim.letter.heading} {claim.letter.body}") == []
    hold = claim.parts_holds.get()
    assert hold.words == "1 × Módulo (KL-30-1182), averiada; falló primero"
    tag = request_part_tag(shop=spoken_to.shop, by=spoken_to.owner, hold=hold)
    assert left_in_english(words_of(draw_sheet(spoken_to.shop, "part_tag", tag.sheet).pdf)) == []
    why = explanation(claim.decision)
    assert why[0].startswith("Cubierto, por Promesa Korlind y Garantía federal de emisiones, parte de escape.")
    assert left_in_english("\n".join(why)) == []


@pytest.mark.parametrize(
    ("shops", "distributors", "heard"), [("es", "en", "en"), ("en", "es-MX", "es"), ("en", "", "en")]
)
def test_a_claim_speaks_its_distributors_language_else_the_shops(
    spoken_to: Scene, shops: str, distributors: str, heard: str
) -> None:
    claim = filed(spoken_to, shops, distributors)
    sheet = claim.document.sheet
    assert (sheet["language"], claim.facts["shop"]["language"]) == (heard, heard)
    assert sheet["declaration"][0] == words(heard)("The work was done and the parts listed here were fitted as stated.")
    assert bool(left_in_english(claim.letter.body)) is (heard == "en")
    made = statement_of(shop=spoken_to.shop, distributor=spoken_to.distributor.pk)
    assert made.language == heard


def test_a_claim_measures_in_its_distributors_units(spoken_to: Scene) -> None:
    Finding.objects.filter(pk=spoken_to.module.pk).update(measured=Decimal("0.3"), measured_unit="mm")
    Distributor.objects.filter(pk=spoken_to.distributor.pk).update(measures="us")
    type(spoken_to.shop).objects.filter(pk=spoken_to.shop.pk).update(measures="metric")
    assert filed(spoken_to, "en").document.sheet["causal"]["measurement"] == "0.012 in (0.3 mm)"
