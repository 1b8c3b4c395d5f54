"""Known defects through their doors: beside an order, and as files in and out."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Unit
from shopdocs.shops.models import Shop, Staff
from tests.counting import calls
from tests.warranty.api.test_term_doors import PATTERN, post, problems
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE
from warranty.coverage.known_defects import MOST_NAMED
from warranty.models import CampaignMark, CoverageDecision, KnownDefectRecord
from warranty.services import known_defects
from warranty.services.decide import stands
from warranty.services.facts import finding_facts, order_to_decide, unit_facts
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"

WHOLE: dict[str, Any] = PATTERN | {
    "families": ["saw"], "conditions": ["dead"], "signs": ["dies_hot_back_cold"],
    "layouts": [{"name": "plate", "layout": "KLYYXNNNNN", "kinds": {"K": "fixed:K", "L": "fixed:L", "Y": "digits", "X": "digits", "N": "digits"}, "order": ["Y", "X", "N"]},
                {"name": "short", "layout": "KLYYNNNNN", "kinds": {"K": "fixed:K", "L": "fixed:L", "Y": "digits", "N": "digits"}, "order": ["Y", "N"]}],
    "serials": [{"layout": "short", "first": "KL20-00100", "last": "KL20-00900"}],
    "confirm": ["spark dies hot and is back when cold"], "rule_out": ["spark is back with the stop lead off"],
    "parts": ["module, later kind"], "labour_operation": "IGN-10", "improved_since": "spring 2025", "bulletin": "KB-7",
    "once_per_unit": True, "campaign": "kb-7", "term": "korlind-house",
}  # fmt: skip


def beside(client: APIClient, scene: Scene) -> list[dict[str, Any]]:
    answer = client.get(f"{V1}/orders/{scene.order.pk}/known-defects/")
    assert answer.status_code == 200, answer.content
    rows: list[dict[str, Any]] = answer.json()["results"]
    return rows


def test_which_fit_why_what_would_tell_and_eligibility(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    Unit.objects.filter(pk=scene.unit.pk).update(serial="", no_serial_reason="plate gone")
    scene.module.signs = ["dies_hot_back_cold"]
    scene.module.save()
    assert post(client, "known-defects/", {"pattern": WHOLE | {"expires_on": str(scene.today)}}).status_code == 201
    (row,) = beside(client, scene)
    match = row["match"]
    assert (match["fits"], match["eligible"], match["why"]) == ("may_fit", "cannot tell", "ask_whether_done")
    assert ["serial", "cannot tell", "not known"] in match["checks"]
    assert "Not known yet: serial." in row["words"]
    Unit.objects.filter(pk=scene.unit.pk).update(serial="kl20-00417", no_serial_reason="")
    (row,) = beside(client, scene)
    match = row["match"]
    assert match["fits"] == "fits"
    assert {what: said for what, said, _ in match["checks"]} == dict.fromkeys(
        ("maker", "model", "family", "serial"), "yes"
    )
    assert match["findings"] == [str(scene.module.pk)]
    assert (match["signs_seen"], match["confirm"], match["rule_out"]) == (
        WHOLE["signs"],
        WHOLE["confirm"],
        WHOLE["rule_out"],
    )
    assert (match["parts"], match["labour_operation"], match["improved_since"], match["bulletin"], match["expires_on"]) == (
        WHOLE["parts"], "IGN-10", "spring 2025", "KB-7", str(scene.today),
    )  # fmt: skip
    assert row["by_term"] == {}  # nothing was decided yet
    post(client, f"orders/{scene.order.pk}/decisions/", {})
    assert beside(client, scene)[0]["by_term"] == {str(scene.module.pk): "holds"}


def test_a_campaign_that_was_done_is_open_no_more(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    post(client, "known-defects/", {"pattern": WHOLE})
    (row,) = beside(client, scene)
    assert row["match"]["why"] == "ask_whether_done"
    made = client.post(f"{V1}/units/{scene.unit.pk}/campaigns/", {"code": "kb-7", "done": False}, format="json")
    assert made.status_code == 201
    for done, why in ((False, "open"), (True, "done_already")):
        CampaignMark.objects.for_shop(scene.shop).update(done=done)
        (row,) = beside(client, scene)
        assert row["match"]["why"] == why


@pytest.mark.parametrize(
    ("named", "code"), [({"campaign": ""}, "KB-7"), ({"campaign": "", "bulletin": ""}, "korlind-module")]
)
def test_what_is_once_per_unit_without_a_campaign_is_done_under_its_bulletin_or_its_own_code(
    scene: Scene, api: Api, office: Staff, named: dict[str, str], code: str
) -> None:
    client = api(office)
    pattern = {key: value for key, value in WHOLE.items() if named.get(key) != ""}
    assert post(client, "known-defects/", {"pattern": pattern}).status_code == 201
    assert beside(client, scene)[0]["match"]["done_as"] == code
    made = client.post(f"{V1}/units/{scene.unit.pk}/campaigns/", {"code": code, "done": True}, format="json")
    assert made.status_code == 201
    assert beside(client, scene)[0]["match"]["why"] == "done_already"


def test_a_bulletin_that_ran_out_yesterday(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    post(client, "known-defects/", {"pattern": WHOLE | {"expires_on": str(scene.today - DAY), "once_per_unit": False}})
    (row,) = beside(client, scene)
    assert (row["match"]["eligible"], row["match"]["why"]) == ("no", "expired")
    assert "its bulletin has expired" in row["words"]


def test_another_shops_order_is_not_compared(scene: Scene, api: Api, office: Staff, other_shop: Shop) -> None:
    post(api(office), "known-defects/", {"pattern": WHOLE})
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/orders/{scene.order.pk}/known-defects/").status_code == 404
    assert api(None).get(f"{V1}/orders/{scene.order.pk}/known-defects/").status_code == 401


HOSTILE = [
    '=HYPERLINK("http://x.example")',
    "+1",
    "-1",
    "@SUM(A1)",
    "'=1",
    "''",
    'a,b;"c"',
    "'; DROP TABLE units",
    "Ünïcode ✓",
]


@pytest.mark.parametrize("form", ["csv", "yaml"])
def test_every_field_and_every_text_goes_out_and_comes_back(
    scene: Scene, api: Api, office: Staff, form: str, other_shop: Shop
) -> None:
    client = api(office)
    for number, text in enumerate(HOSTILE, 1):
        pattern = WHOLE | {"version": number, "title": text, "remedy": text, "parts": [text], "bulletin": text}
        pattern |= {"built": [{"from": "2024-01-01"}, {"to": "2020-12-31"}], "expires_on": "2027-01-31"}
        assert post(client, "known-defects/", {"pattern": pattern}).status_code == 201
    out = client.get(f"{V1}/known-defects/export/?form={form}").content.decode()
    stranger = api(Staff.objects.get(shop=other_shop))
    there = post(stranger, "known-defects/import/", {"form": form, "text": out})
    assert there.json() == {"new": len(HOSTILE), "known_already": 0}
    shops = (scene.shop, other_shop)
    ours, theirs = ({row.code: row.pattern for row in KnownDefectRecord.objects.for_shop(shop)} for shop in shops)
    assert ours == theirs
    assert [ours[f"korlind-module/{number}"]["title"] for number in range(1, len(HOSTILE) + 1)] == HOSTILE
    assert stranger.get(f"{V1}/known-defects/export/?form={form}").content.decode() == out
    if form == "csv":
        cells = [cell for row in csv.reader(io.StringIO(out, newline="")) for cell in row]
        assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@", "\t", "\r")]


def test_a_row_that_is_recorded_otherwise_is_named_by_its_line(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    for number in (1, 2, 3):
        post(client, "known-defects/", {"pattern": PATTERN | {"version": number}})
    out = client.get(f"{V1}/known-defects/export/?form=csv").content.decode()
    lines = out.split("\r\n")
    lines[2] = lines[2].replace("break at the terminal", "break at the clip")
    answer = post(client, "known-defects/import/", {"form": "csv", "name": "kd.csv", "text": "\r\n".join(lines)})
    assert answer.status_code == 400
    assert [one["field"] for one in problems(answer)] == ["kd.csv:3"]


def test_each_bad_row_of_a_csv_is_told_and_no_good_one_is_taken_in(scene: Scene, api: Api, office: Staff) -> None:
    client = api(office)
    post(client, "known-defects/", {"pattern": PATTERN})
    out = client.get(f"{V1}/known-defects/export/?form=csv").content.decode()
    header, row = out.split("\r\n")[:2]
    rows = [row.replace("korlind-module", f"row-{at}", 1) for at in range(5)]
    rows[1] = rows[1].replace('""ignition_module""', '""flux_pipe""')
    rows[3] = rows[3].replace(",defect,", ",magic,")
    rows.append(rows[0])
    answer = post(client, "known-defects/import/", {"form": "csv", "text": "\r\n".join([header, *rows])})
    assert answer.status_code == 400
    told = {one["field"]: one["problem"] for one in problems(answer)}
    assert list(told) == ["file:3", "file:5", "file:7"]
    assert "flux_pipe" in told["file:3"] and "magic" in told["file:5"] and "stands here twice" in told["file:7"]
    assert [one.code for one in KnownDefectRecord.objects.for_shop(scene.shop)] == ["korlind-module/1"]


@pytest.mark.parametrize(
    "text",
    ["known_defects:\n  - " + "[" * 20_000, "known_defects: [" + "{a: " * 5_000, "a: &x [1]\nknown_defects: [*x]", "known_defects:\n\t- x",
     "\ufeffknown_defects: []\nmore: 1", "known_defects: \x07"],
    ids=["deep list", "deep map", "alias", "tab", "mark", "bell"],
)  # fmt: skip
def test_a_hostile_file_is_refused_with_its_line(scene: Scene, api: Api, office: Staff, text: str) -> None:
    answer = post(api(office), "known-defects/import/", {"form": "yaml", "text": text})
    assert answer.status_code == 400
    assert all(one["field"].startswith(("file:", "text")) for one in problems(answer))


def nested(levels: int) -> Any:
    found: Any = "x"
    for _ in range(levels):
        found = [found]
    return found


@pytest.mark.parametrize(
    "value",
    ["\x00", "a\x07b", "\ud800", "a" * 10_000, ["x"], {"a": 1}, 5, None, True, nested(600)],
    ids=lambda value: repr(value)[:12],
)
def test_a_hostile_value_in_a_pattern_is_refused(scene: Scene, api: Api, office: Staff, value: Any) -> None:
    body = json.dumps({"pattern": PATTERN | {"id": value}})
    answer = api(office).post(f"{V1}/known-defects/", body, content_type="application/json")
    assert answer.status_code == 400
    assert problems(answer)[0]["field"].split(".")[0] in ("pattern", "body")  # "body": it could not be read at all
    assert not KnownDefectRecord.objects.for_shop(scene.shop).exists()


def test_a_large_catalogue_is_read_once_and_asked_in_few_queries(
    scene: Scene, django_assert_max_num_queries: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    count = 3_000
    text = known_defects.export_csv(
        [known_defects.defect_from_dict(PATTERN | {"id": f"kd-{at}"}) for at in range(count)]
    )
    new, _ = known_defects.import_known_defects(shop=scene.shop, by=scene.owner, text=text, form="csv", name="many.csv")
    assert new == count
    order = order_to_decide(scene.order)
    unit = unit_facts(order=order, as_of=scene.today)
    asked = {"shop": scene.shop, "unit": unit, "as_of": scene.today}
    with django_assert_max_num_queries(2 + count // known_defects.AT_ONCE + 1):
        assert len(known_defects.known_defects_for(**asked)) == count
    monkeypatch.setattr(known_defects, "defect_from_dict", lambda *_: pytest.fail("it was read already"))
    with django_assert_max_num_queries(2):
        assert len(known_defects.known_defects_for(**asked)) == count
    assert finding_facts(order=order)


def test_a_catalogue_is_taken_in_at_the_door_with_work_that_grows_with_its_rows(
    scene: Scene, api: Api, office: Staff, django_assert_max_num_queries: Any
) -> None:
    """By calls, not by time; and in a few queries for each thousand rows. Fifty thousand such rows are 15 of the 25 million characters."""
    client = api(office)

    def work(start: int, count: int) -> int:
        rows = [
            PATTERN | {"id": f"kd-{at}", "confirm": ["a", "b"], "built": [{"from": "2022-01-01"}]}
            for at in range(start, start + count)
        ]
        text = known_defects.export_csv([known_defects.defect_from_dict(row) for row in rows])
        said: list[Any] = []
        with django_assert_max_num_queries(15 + count // 100):
            spent = calls(lambda: said.append(post(client, "known-defects/import/", {"form": "csv", "text": text})))
        assert said[0].json() == {"new": count, "known_already": 0}
        return spent

    work(0, 10)  # what is read once per process
    small = work(1_000, 200)
    assert work(2_000, 2_000) < 13 * small  # a quadratic way would take a hundred times
    assert KnownDefectRecord.objects.for_shop(scene.shop).count() == 2_210


def test_a_bad_last_row_of_a_long_catalogue_leaves_nothing_of_it(scene: Scene, api: Api, office: Staff) -> None:
    rows = [known_defects.defect_from_dict(PATTERN | {"id": f"kd-{at}"}) for at in range(1_500)]
    text = known_defects.export_csv(rows)
    answer = post(
        api(office), "known-defects/import/", {"form": "csv", "text": text + "one,cell\r\n", "name": "long.csv"}
    )
    assert answer.status_code == 400
    (problem,) = problems(answer)
    assert problem["field"] == "long.csv:1502"
    assert not KnownDefectRecord.objects.for_shop(scene.shop).exists()


def test_a_catalogue_that_is_too_long_is_refused_with_the_remedy_to_split_it(
    scene: Scene, api: Api, office: Staff, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    text = known_defects.export_csv([known_defects.defect_from_dict(PATTERN)])
    body = {"form": "csv", "text": text}
    monkeypatch.setattr(known_defects, "MOST_CHARS", len(text) - 1)
    answer = post(api(office), "known-defects/import/", body)
    assert answer.status_code == 400
    (problem,) = problems(answer)
    assert problem["field"] == "text" and f"{len(text) - 1:,}" in problem["problem"] and "Split it" in problem["remedy"]
    assert not KnownDefectRecord.objects.for_shop(scene.shop).exists()
    monkeypatch.setattr(known_defects, "MOST_CHARS", len(text))
    assert post(api(office), "known-defects/import/", body).status_code == 200
    settings.MAX_BODY_BYTES = 500  # a body longer than any request may be is refused before it is read
    answer = post(api(office), "known-defects/import/", body)
    (problem,) = problems(answer)
    assert answer.status_code == 413 and "split a long file" in problem["remedy"]


def test_a_decision_on_a_large_catalogue_stays_small_and_stands(scene: Scene, api: Api, office: Staff) -> None:
    count = MOST_NAMED + 300
    patterns = [known_defects.defect_from_dict(PATTERN | {"id": f"kd-{at:04}"}) for at in range(count)]
    text = known_defects.export_csv(patterns)
    known_defects.import_known_defects(shop=scene.shop, by=scene.owner, text=text, form="csv", name="many.csv")
    client = api(office)
    (decided,) = post(client, f"orders/{scene.order.pk}/decisions/", {}).json()
    assert [one["id"] for one in decided["known_defects"]] == [f"kd-{at:04}" for at in range(MOST_NAMED)]
    assert any(line.startswith("300 more known defects fit or may fit") for line in decided["explanation"])
    row = CoverageDecision.objects.get(pk=decided["id"])
    assert len(row.facts.facts["known_defects"]) == MOST_NAMED
    assert client.get(f"{V1}/decisions/{decided['id']}/recomputed/").json()["same"] is True
    assert stands(row)
