"""The starting catalogue comes in the shop's language, and reads well there on a paper."""

from __future__ import annotations

import pytest
from rest_framework.test import APIClient

from orders.models import LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep
from orders.rules.operations import catalogue
from orders.services.sheets import estimate_sheet
from orders.services.starting_catalogue import import_catalogue
from shopdocs.documents.press.words import languages, words
from shopdocs.shops.models import Shop, Staff
from tests.left_in_english import left_in_english
from tests.orders.api.test_pricing_doors import estimate, job_with
from tests.orders.back_kit import set_rates


def shipped() -> tuple[dict[str, str], dict[str, str]]:
    """The English words of the work steps and of the operations, by key."""
    found = catalogue()
    return (
        {key: step.words for key, step in found.guide.steps.items()},
        {key: one.words for key, one in found.operations.items()},
    )


def held(shop: Shop) -> tuple[dict[str, str], dict[str, str]]:
    """The same of a shop."""
    return (
        dict(WorkStep.objects.for_shop(shop).values_list("key", "words")),
        dict(LabourOperation.objects.for_shop(shop).values_list("code", "words")),
    )


@pytest.mark.parametrize("language", ["es", "es-MX"])
def test_a_spanish_shop_gets_spanish_words(shop: Shop, owner: Staff, language: str) -> None:
    shop.language = language
    import_catalogue(shop=shop, by=owner)
    steps, operations = held(shop)
    assert (steps["hc_cover_off"], operations["plug_hand"]) == ("desmontaje de tapa del motor", "cambio de bujía")
    for own, english in zip((steps, operations), shipped(), strict=True):
        assert own.keys() == english.keys()
        assert [key for key in own if own[key] == english[key]] == []
        assert left_in_english("\n".join(own.values())) == []


@pytest.mark.parametrize("language", ["en", "xx"])
def test_another_shop_gets_them_as_they_are_written(shop: Shop, owner: Staff, language: str) -> None:
    shop.language = language
    import_catalogue(shop=shop, by=owner)
    assert held(shop) == shipped()


def test_every_language_fits_its_column_and_keeps_apart_what_is_apart() -> None:
    for language in languages():
        say = words(language)
        for model, texts in zip((WorkStep, LabourOperation), shipped(), strict=True):
            room = model._meta.get_field("words").max_length
            assert [text for text in texts.values() if len(say(text)) > room] == []
            # Neither tells an engine cover that comes off from one that goes on, say, by its language.
            assert len({say(text) for text in texts.values()}) == len(set(texts.values()))


@pytest.mark.django_db
def test_what_is_saved_reads_as_one_sentence_in_spanish(
    client: APIClient, shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    Shop.objects.update(language="es")
    shop.refresh_from_db()
    set_rates(shop)
    import_catalogue(shop=shop, by=owner)
    job_with(client, order, "fuel_line_hand", "primer_hand")
    job_with(client, order, "fuel_tank_hand")
    first, second = estimate_sheet(estimate(client, order)).jobs
    assert [line.what for line in first.labour] == [
        "cambio de tubo de combustible y pasamuros",
        "cambio de perilla de cebado",
    ]
    said = f"{first.labour[-1].note} {second.labour[-1].note}"
    assert (
        "desmontaje de tapa del motor: una vez, " in said
        and "vaciado del depósito en un bidón cerrado: una vez" in said
    )
    assert left_in_english(said) == []
