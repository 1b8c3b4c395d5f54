"""The doors to terms, distributor terms and known defects: strict, dated, never rewritten."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Assembly, Distributor, Unit
from shopdocs.shops.models import Shop, Staff
from tests.warranty.scene import Scene
from tests.warranty.services.test_decide import PROMISE
from warranty.coverage.terms import term_from_dict, term_to_dict
from warranty.models import DistributorTerms, KnownDefectRecord, MakerTerm

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"

PATTERN: dict[str, Any] = {
    "id": "korlind-module", "version": 1, "title": "Module leads break at the terminal", "maker": "Korlind",
    "models": ["KS 45"], "components": ["ignition_module"], "signs": [], "check": "Pull each lead lightly.",
    "precaution": "Engine stopped and cold, plug lead off.", "cause": "defect", "remedy": "Fit the later module.",
    "settled": "warranty", "source": "invented",
}  # fmt: skip


def post(client: APIClient, address: str, body: Any) -> Any:
    return client.post(f"{V1}/{address}", body, format="json")


def problems(answer: Any) -> list[dict[str, str]]:
    found: list[dict[str, str]] = answer.json()["errors"]
    assert all(one["problem"] and one["remedy"] for one in found)
    return found


def without(record: dict[str, Any], *names: str) -> dict[str, Any]:
    return {key: value for key, value in record.items() if key not in names}


def test_a_promise_is_recorded_and_retired_never_rewritten(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    made = post(client, "terms/", {"maker": str(scene.maker.pk), "term": PROMISE})
    assert made.status_code == 201
    assert made.json()["code"] == "korlind-house/1"
    other = PROMISE | {"period": {"months": 60}}
    again = post(client, "terms/", {"term": other})
    assert (again.status_code, problems(again)[0]["field"]) == (409, "term.version")
    row = made.json()
    assert post(client, f"terms/{row['id']}/retire/", {"version": 9}).status_code == 409
    gone = post(client, f"terms/{row['id']}/retire/", {"version": row["version"]})
    assert gone.json()["retired_on"] == scene.today.isoformat()
    assert post(client, f"terms/{row['id']}/retire/", {"version": gone.json()["version"]}).status_code == 409
    (asked,) = post(client, f"orders/{scene.order.pk}/decisions/", {}).json()
    assert "korlind-house" not in [one["term"] for one in asked["decision"]["tried"]]


@pytest.mark.parametrize(
    ("term", "field", "said"),
    [
        ({**PROMISE, "colour": "red"}, "term.colour", "unknown key 'colour'"),
        (without(PROMISE, "period"), "term", "the key 'period' is missing"),
        ({**PROMISE, "period": {"months": 0}}, "term.period.months", "outside"),
        ({**PROMISE, "period": {"months": "two years"}}, "term.period.months", "whole number"),
        ({**PROMISE, "period": {"months": 24, "days": 3}}, "term.period", "one of"),
        ({**PROMISE, "components": {"codes": ["flux_pipe"]}}, "term.components.codes[0]", "no component 'flux_pipe'"),
        ({**PROMISE, "giver": "neighbour"}, "term.giver", "no giver"),
        (without(PROMISE, "giver_name"), "term.giver", "giver_name"),
        ({**PROMISE, "use_classes": ["commercial", "commercial"]}, "term.use_classes[1]", "twice"),
        ({**PROMISE, "id": 7}, "term.id", "text"),
        ({}, "term", "missing"),
    ],
)
def test_a_bad_term_is_refused_with_path_and_remedy(
    scene: Scene, api: Api, office: Staff, term: dict[str, Any], field: str, said: str
) -> None:
    answer = post(api(office), "terms/", {"term": term})
    assert answer.status_code == 400
    (problem,) = problems(answer)
    assert problem["field"] == field
    assert said.casefold() in problem["problem"].casefold()
    assert not MakerTerm.objects.for_shop(scene.shop).exists()


def test_terms_belong_to_the_office_and_the_shop(
    scene: Scene, api: Api, writer: Staff, office: Staff, other_shop: Shop, distant: Distributor
) -> None:
    assert post(api(writer), "terms/", {"term": PROMISE}).status_code == 403
    strange = post(api(office), "terms/", {"term": PROMISE, "maker": str(uuid.uuid4())})
    assert (strange.status_code, problems(strange)[0]["field"]) == (400, "maker")
    assert post(api(office), "terms/", {"term": "all is covered"}).status_code == 400
    row = post(api(office), "terms/", {"term": PROMISE}).json()
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/terms/{row['id']}/").status_code == 404
    assert post(stranger, f"terms/{row['id']}/retire/", {"version": 1}).status_code == 404
    wrong = post(api(office), "terms/", {"term": PROMISE | {"giver_name": "Other"}, "maker": str(scene.maker.pk)})
    assert problems(wrong)[0]["field"] == "term.giver_name"


def test_what_law_gives_is_told_with_its_citation(scene: Scene, api: Api, technician: Staff, office: Staff) -> None:
    rows = api(technician).get(f"{V1}/terms/law/").json()
    assert len(rows) > 3
    assert all(row["term"]["source"]["cite"] and row["term"]["source"]["edition"] for row in rows)
    law = next(row for row in rows if row["kind"] == "cover")
    taken = PROMISE | {"id": law["term"]["id"], "version": law["term"]["version"]}
    assert post(api(office), "terms/", {"term": taken}).status_code == 409


TERMS: dict[str, Any] = {
    "starts_on": "2026-01-01", "labour_rate": "62.50", "time_basis": "guide", "parts_percent": "90", "parts_base": "list",
    "filing_days": 30, "claims_email": "claims@hadley.example",
}  # fmt: skip


def test_distributor_terms_are_dated_and_corrected_by_version(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    made = post(client, "distributor-terms/", {**TERMS, "distributor": str(scene.distributor.pk)})
    assert made.status_code == 201
    row = made.json()
    assert (row["labour_rate"], row["answer_days"]) == ("62.50", None)
    twice = post(client, "distributor-terms/", {**TERMS, "distributor": str(scene.distributor.pk)})
    assert (twice.status_code, problems(twice)[0]["field"]) == (409, "starts_on")
    address = f"{V1}/distributor-terms/{row['id']}/"
    saved = client.patch(address, {"version": row["version"], "filing_days": 45}, format="json")
    assert (saved.status_code, saved.json()["filing_days"]) == (200, 45)
    stale = client.patch(address, {"version": row["version"], "filing_days": 60}, format="json")
    assert (stale.status_code, stale.json()["changed"]) == (409, {"filing_days": "45"})
    assert client.patch(address, {"version": 2}, format="json").status_code == 400
    assert DistributorTerms.objects.for_shop(scene.shop).get().filing_days == 45


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"labour_rate": "sixty"}, "labour_rate"),
        ({"labour_rate": "-1"}, "labour_rate"),
        ({"labour_rate": "62.505"}, "labour_rate"),
        ({"labour_rate": "NaN"}, "labour_rate"),
        ({"parts_percent": "9000"}, "parts_percent"),
        ({"parts_base": ""}, "parts_base"),
        ({"filing_days": "thirty"}, "filing_days"),
        ({"filing_days": 4000}, "filing_days"),
        ({"filing_days": -1}, "filing_days"),
        ({"time_basis": "whatever"}, "time_basis"),
        ({"claims_email": "nobody"}, "claims_email"),
        ({"starts_on": "2026-13-01"}, "starts_on"),
        ({"rate": "5"}, "rate"),
    ],
)
def test_bad_distributor_terms_leave_no_row(
    scene: Scene, api: Api, office: Staff, given: dict[str, Any], field: str
) -> None:
    answer = post(api(office), "distributor-terms/", {**TERMS, "distributor": str(scene.distributor.pk), **given})
    assert answer.status_code == 400
    assert problems(answer)[0]["field"] == field
    assert not DistributorTerms.objects.for_shop(scene.shop).exists()


def test_another_shops_distributor_is_not_there(scene: Scene, api: Api, office: Staff, distant: Distributor) -> None:
    answer = post(api(office), "distributor-terms/", {**TERMS, "distributor": str(distant.pk)})
    assert (answer.status_code, problems(answer)[0]["field"]) == (400, "distributor")


def test_a_known_defect_that_fits_is_told_with_the_decision(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    row = post(client, "known-defects/", {"pattern": PATTERN})
    assert (row.status_code, row.json()["maker"]) == (201, str(scene.maker.pk))
    (decided,) = post(client, f"orders/{scene.order.pk}/decisions/", {}).json()
    assert [(one["id"], one["fits"]) for one in decided["known_defects"]] == [("korlind-module", "fits")]
    again = post(client, "known-defects/", {"pattern": PATTERN | {"title": "Other"}})
    assert (again.status_code, problems(again)[0]["field"]) == (409, "pattern.version")
    retired = post(client, f"known-defects/{row.json()['id']}/retire/", {"version": row.json()["version"]})
    assert retired.status_code == 200
    (later,) = post(client, f"orders/{scene.order.pk}/decisions/", {}).json()
    assert later["known_defects"] == []
    assert client.get(f"{V1}/decisions/{decided['id']}/recomputed/").json()["same"] is True


@pytest.mark.parametrize("form", ["csv", "yaml"])
def test_what_is_exported_can_be_imported(scene: Scene, api: Api, office: Staff, form: str, other_shop: Shop) -> None:
    client = api(office)
    for number in (1, 2):
        assert post(client, "known-defects/", {"pattern": PATTERN | {"version": number}}).status_code == 201
    out = client.get(f"{V1}/known-defects/export/?form={form}")
    assert out.status_code == 200
    same = post(client, "known-defects/import/", {"form": form, "text": out.content.decode()})
    assert same.json() == {"new": 0, "known_already": 2}
    stranger = api(Staff.objects.get(shop=other_shop))
    there = post(stranger, "known-defects/import/", {"form": form, "text": out.content.decode()})
    assert there.json() == {"new": 2, "known_already": 0}
    assert stranger.get(f"{V1}/known-defects/export/?form={form}").content == out.content


def test_a_bad_file_applies_nothing_and_names_each_line(scene: Scene, api: Api, office: Staff) -> None:
    good = "".join(f"  - {line}\n" for line in ["{" + ", ".join(f"{k}: {v!r}" for k, v in PATTERN.items()) + "}"])
    doubled = "  - {id: a, id: b}\n"
    unknown = (
        "  - {"
        + ", ".join(f"{k}: {v!r}" for k, v in (PATTERN | {"id": "x", "components": ["flux_pipe"]}).items())
        + "}\n"
    )
    answer = post(api(office), "known-defects/import/", {
        "form": "yaml", "name": "defects.yaml", "text": "known_defects:\n" + good + doubled + unknown,
    })  # fmt: skip
    assert answer.status_code == 400
    told = {one["field"]: one["problem"] for one in problems(answer)}
    assert list(told) == ["defects.yaml:3", "defects.yaml:4"]
    assert "twice" in told["defects.yaml:3"]
    assert "flux_pipe" in told["defects.yaml:4"]
    assert not KnownDefectRecord.objects.for_shop(scene.shop).exists()


def test_a_changed_row_of_a_known_version_is_refused(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    post(client, "known-defects/", {"pattern": PATTERN})
    text = client.get(f"{V1}/known-defects/export/?form=yaml").content.decode()
    text = text.replace("break at the terminal", "break at the clip")
    answer = post(client, "known-defects/import/", {"form": "yaml", "text": text})
    assert answer.status_code == 400
    assert "says something else" in problems(answer)[0]["problem"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"form": "xml", "text": "x"}, "form"),
        ({"form": "csv", "text": 5}, "text"),
        ({"form": "csv", "text": ""}, "text"),
        ({"form": "csv", "text": "a,b\n1,2\n"}, "file:1"),
        ({"form": "csv", "text": "id,id\nx,y\n"}, "file:1"),
        ({"form": "yaml", "text": "known_defects: 5"}, "file:1"),
        ({"form": "yaml", "text": "- ]["}, "file:1"),
        ({"form": "yaml", "text": "known_defects: []\nknown_defects: []"}, "file:2"),
    ],
)
def test_files_that_are_none(scene: Scene, api: Api, office: Staff, given: dict[str, Any], field: str) -> None:
    answer = post(api(office), "known-defects/import/", given)
    assert answer.status_code == 400
    assert problems(answer)[0]["field"] == field


def test_exports_of_other_forms_are_refused(scene: Scene, api: Api, office: Staff) -> None:
    assert api(office).get(f"{V1}/known-defects/export/?form=xls").status_code == 400


TIES: list[tuple[dict[str, Any], bool]] = [
    ({"excludes": [{"ground": "service_elsewhere", "when": {"serviced_by": ["independent"]}}]}, True),
    ({"excludes": [{"ground": "other_parts", "when": {"other_parts": True}}]}, True),
    ({"full": True, "requires": {"registered_within_days": 30}}, True),
    ({"full": False, "requires": {"registered_within_days": 30}}, False),
    ({"excludes": [{"ground": "modification", "when": {"modified": True}}]}, False),
]


@pytest.mark.parametrize(("tie", "asked"), TIES)
def test_a_promise_that_ties_has_to_say_whether_it_is_one_to_consumers(
    tie: dict[str, Any], asked: bool, scene: Scene, api: Api, office: Staff
) -> None:
    """Left out, it would be read as 'no', and a condition that the law forbids would be held against the customer."""
    client = api(office)
    bare = without(PROMISE, "consumer_product") | tie
    answer = post(client, "terms/", {"maker": str(scene.maker.pk), "term": bare})
    if asked:
        assert (answer.status_code, problems(answer)[0]["field"]) == (400, "term.consumer_product")
        assert not MakerTerm.objects.exists()
        for number, said in enumerate((True, False), 1):
            told = bare | {"consumer_product": said, "version": number}
            assert post(client, "terms/", {"maker": str(scene.maker.pk), "term": told}).status_code == 201
    else:
        assert answer.status_code == 201


@pytest.mark.parametrize("tie", [{"requires": {"registered_within_days": 30}}, {"to": "registered_owner"}])
def test_a_promise_that_asks_for_a_card_has_to_say_whether_it_is_full(
    tie: dict[str, Any], scene: Scene, api: Api, office: Staff
) -> None:
    client = api(office)
    bare = without(PROMISE, "full") | tie | {"consumer_product": True}
    answer = post(client, "terms/", {"maker": str(scene.maker.pk), "term": bare})
    assert (answer.status_code, problems(answer)[0]["field"]) == (400, "term.full")
    assert not MakerTerm.objects.exists()
    for number, more in enumerate(({"full": True}, {"full": False}, {"consumer_product": False}), 1):
        told = bare | more | {"version": number}
        assert post(client, "terms/", {"maker": str(scene.maker.pk), "term": told}).status_code == 201


def test_an_older_record_that_does_not_say_what_it_is_asks_for_its_next_version(
    scene: Scene, api: Api, office: Staff
) -> None:
    """Recorded before the door asked: what it says of itself is not guessed, and the door that takes it is named."""
    client = api(office)
    tie = {"excludes": [{"ground": "other_parts", "when": {"other_parts": True}}], "use_classes": []}
    read = term_from_dict(without(PROMISE, "consumer_product") | tie)
    old = MakerTerm.objects.create(
        shop=scene.shop,
        maker=scene.maker,
        code="korlind-house/1",
        term=term_to_dict(read),
        fingerprint=read.fingerprint,
    )
    Unit.objects.for_shop(scene.shop).filter(pk=scene.unit.pk).update(use_region="CA-ON")  # where no law of ours covers
    order = scene.order.pk
    version = client.get(f"{V1}/orders/{order}/circumstances/").json()["version"]
    facts = {"version": version, "other_parts": True}
    assert client.patch(f"{V1}/orders/{order}/circumstances/", facts, format="json").status_code == 200
    (said,) = post(client, f"orders/{order}/decisions/", {}).json()
    assert said["answer"] == "cannot_say_yet"
    (row,) = [one for one in said["settled_by"] if one["fact"] == "term.consumer_product"]
    (place,) = row["record"]
    assert (place["method"], place["door"], place["field"]) == ("POST", f"{V1}/terms/", "term.consumer_product")
    assert "'korlind-house'" in place["note"]
    new = without(PROMISE, "consumer_product") | tie | {"version": 2, "consumer_product": True}
    assert post(client, "terms/", {"maker": str(scene.maker.pk), "term": new}).status_code == 201
    gone = post(client, f"terms/{old.pk}/retire/", {"version": old.version})
    assert gone.status_code == 200, gone.content
    (said,) = post(client, f"orders/{order}/decisions/", {}).json()
    assert said["answer"] == "covered"


@pytest.mark.parametrize("typed", ["OH", "oh", "us-oh", "Ohio", " ohio ", "US-OH"])
def test_a_region_of_a_promise_is_read_as_that_of_a_unit(scene: Scene, api: Api, office: Staff, typed: str) -> None:
    made = post(api(office), "terms/", {"term": {**PROMISE, "machines": {"regions": [typed]}}})
    assert made.status_code == 201
    assert made.json()["term"]["machines"]["regions"] == ["US-OH"]
    for region, answer in (("US-OH", "covered"), ("US-MI", "not_covered")):
        Unit.objects.for_shop(scene.shop).filter(pk=scene.unit.pk).update(use_region=region)
        (asked,) = post(api(office), f"orders/{scene.order.pk}/decisions/", {}).json()
        (tried,) = [one for one in asked["decision"]["tried"] if one["term"] == "korlind-house"]
        assert (tried["outcome"] == "holds") is (answer == "covered"), tried


@pytest.mark.parametrize("role", ["Engine", "ENGINE", "engine"])
def test_a_role_in_a_promise_is_read_whatever_its_capitals(scene: Scene, api: Api, office: Staff, role: str) -> None:
    machines = {"label_of": role, "displacement": {"from": 20, "below": 50}}
    made = post(api(office), "terms/", {"term": {**PROMISE, "assemblies": [role], "machines": machines}})
    assert made.status_code == 201
    kept = made.json()["term"]
    assert (kept["assemblies"], kept["machines"]["label_of"]) == (["engine"], "engine")


def test_a_role_in_words_is_taken_where_a_unit_of_the_shop_has_it(scene: Scene, api: Api, office: Staff) -> None:
    term = {**PROMISE, "assemblies": ["cutter DECK"]}
    assert post(api(office), "terms/", {"term": term}).status_code == 400
    Assembly.objects.create(shop=scene.shop, unit=scene.unit, role="other", role_words="Cutter deck")
    made = post(api(office), "terms/", {"term": term})
    assert (made.status_code, made.json()["term"]["assemblies"]) == (201, ["Cutter deck"])


@pytest.mark.parametrize(
    ("more", "field", "problem", "remedy"),
    [
        ({"machines": {"regions": ["US", "US-ZZ"]}}, "machines.regions[1]", "'US-ZZ' is no region", "US-OH"),
        ({"machines": {"regions": ["ON"]}}, "machines.regions[0]", "'ON' is no region", "'CA-ON'"),
        ({"machines": {"regions": ["OH", "US-OH"]}}, "machines.regions[1]", "twice", "Correct"),
        ({"assemblies": ["motor"]}, "assemblies[0]", "near to it: engine", "gearbox"),
        ({"assemblies": ["unit", "engin"]}, "assemblies[1]", "near to it: engine", "gearbox"),
        ({"assemblies": ["other"]}, "assemblies[0]", "no assembly 'other'", "the words by which"),
        ({"machines": {"label_of": "motr"}}, "machines.label_of", "near to it: engine, electric_motor", "unit"),
        ({"machines": {"displacement": {"from": 50, "below": 20}}}, "machines.displacement.below", "50 cc", "smaller"),
        ({"machines": {"displacement": {"from": 50, "below": 50}}}, "machines.displacement.below", "50 cc", "smaller"),
    ],
)
def test_a_promise_on_what_no_unit_can_be_is_refused(
    scene: Scene, api: Api, office: Staff, more: dict[str, Any], field: str, problem: str, remedy: str
) -> None:
    answer = post(api(office), "terms/", {"term": {**PROMISE, **more}})
    assert answer.status_code == 400
    (said,) = problems(answer)
    assert said["field"] == f"term.{field}"
    assert problem in said["problem"] and remedy in said["remedy"], said
    assert not MakerTerm.objects.for_shop(scene.shop).exists()
