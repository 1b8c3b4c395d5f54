"""Doors to units: corrections with a version, transfer, the hour meter, proofs, assemblies."""

from __future__ import annotations

import datetime as dt
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from orders.models import Assembly, HourReading, Ownership, PurchaseProof, RepairOrder, Unit
from shopdocs.documents.models import Document, Photo, StoredFile
from shopdocs.shops.models import Event
from tests.orders.back_kit import invoiced, season_service, set_rates

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def unit(order: RepairOrder) -> Unit:
    return Unit.objects.get(pk=order.unit_id)


def at(unit: Unit, more: str = "") -> str:
    return f"/api/v1/units/{unit.pk}/{more}"


def change(client: Any, unit: Unit, **fields: Any) -> Any:
    return client.patch(at(unit), {"version": unit.version, **fields}, format="json")


def problem(answer: Any, status: int, field: str) -> dict[str, str]:
    assert answer.status_code == status, answer.content[:400]
    found = [one for one in answer.json()["errors"] if one["field"] == field]
    assert found, answer.json()
    assert found[0]["problem"] and found[0]["remedy"]
    return dict(found[0])


def test_a_correction_raises_the_version_and_is_remembered(client: Any, unit: Unit) -> None:
    answer = change(client, unit, use_class="commercial", build_date=None)
    assert answer.status_code == 200 and answer.json()["use_class"] == "commercial"
    assert answer.json()["version"] == unit.version + 1
    event = Event.objects.get(subject=f"unit:{unit.pk}", verb="changed")
    assert event.facts["before"]["use_class"] == "residential"


@pytest.mark.parametrize("field", ["serial", "model", "build_date", "purchased_on"])
def test_after_finished_work_what_papers_rest_on_is_corrected_with_a_reason_only(
    client: Any, unit: Unit, order: RepairOrder, owner: Any, field: str
) -> None:
    set_rates(unit.shop)
    Unit.objects.filter(pk=unit.pk).update(build_date=unit.purchased_on - 9 * DAY)
    season_service(unit.shop, owner, order)
    twin = {"maker": str(unit.model.maker_id), "name": "KX 101", "family": "saw", "power_source": "two_stroke"}
    values = {
        "serial": "KX 100-8",
        "model": client.post("/api/v1/models/", twin, format="json").json()["id"],
        "build_date": (unit.purchased_on - 8 * DAY).isoformat(),
        "purchased_on": (unit.purchased_on - DAY).isoformat(),
    }
    assert change(client, unit, **{field: values[field]}).status_code == 200  # nothing is finished yet
    unit.refresh_from_db()
    invoiced(unit.shop, owner, order)
    sheets = {row.pk: (row.sheet, row.sheet_sha256) for row in Document.objects.all()}
    assert sheets
    back = {"serial": "KX 100-7", "model": str(order.unit.model_id), "build_date": None, "purchased_on": None}
    events = Event.objects.count()
    assert order.number in problem(change(client, unit, **{field: back[field]}), 400, "reason")["problem"]
    assert Event.objects.count() == events and Unit.objects.get(pk=unit.pk).version == unit.version
    assert change(client, unit, **{field: values[field]}, modified=True).status_code == 200  # the same again
    unit.refresh_from_db()
    answer = change(client, unit, **{field: back[field]}, reason="misread at check-in")
    assert answer.status_code == 200, answer.content
    event = Event.objects.filter(subject=f"unit:{unit.pk}", verb="changed").order_by("at").last()
    assert event.words == "misread at check-in" and set(event.facts) == {"before", "after"}
    assert event.facts["before"][field] != event.facts["after"][field]
    assert {row.pk: (row.sheet, row.sheet_sha256) for row in Document.objects.all()} == sheets


ENGINE = {
    "role": "engine", "serial": "E 17", "model_name": "E-52", "build_date": "2020-01-07", "label_read": True,
    "emission_rule": "part_1054", "emission_family": "RTEST.050AA", "label_hours": 125,
}  # fmt: skip


@pytest.mark.parametrize(
    "changed",
    [
        {"serial": "E 71"}, {"model_name": "E-53"}, {"build_date": "2020-01-08"}, {"emission_rule": "other"},
        {"emission_family": "RTEST.050AB"}, {"label_hours": 300}, {"label_hours": None},
        {"label_read": False, "emission_rule": "", "emission_family": "", "label_hours": None},
    ],
    ids=lambda changed: "-".join(changed),
)  # fmt: skip
def test_after_finished_work_an_assembly_is_corrected_with_a_reason_only(
    client: Any, unit: Unit, order: RepairOrder, released: Any, changed: dict[str, Any]
) -> None:
    made = client.post(at(unit, "assemblies/"), ENGINE, format="json").json()
    address = f"/api/v1/assemblies/{made['id']}/"
    assert client.patch(address, {"version": 1, "serial": "E 18"}, format="json").status_code == 200
    released(order)
    told = problem(client.patch(address, {"version": 2, **changed}, format="json"), 400, "reason")
    assert order.number in told["problem"] and all(name in told["problem"] for name in changed)
    assert Assembly.objects.get().version == 2
    answer = client.patch(address, {"version": 2, **changed, "reason": "misread"}, format="json")
    assert answer.status_code == 200, answer.content
    event = Event.objects.filter(verb="assembly changed").order_by("at").last()
    assert event.words == "engine: misread" and set(event.facts) == {"before", "after"}
    name = next(iter(changed))
    assert event.facts["before"][name] != event.facts["after"][name]


def test_an_assemblys_label_may_be_read_after_finished_work(
    client: Any, unit: Unit, order: RepairOrder, released: Any
) -> None:
    made = client.post(at(unit, "assemblies/"), {"role": "engine"}, format="json").json()
    released(order)
    address = f"/api/v1/assemblies/{made['id']}/"
    read = {"label_read": True, "emission_family": "RTEST.050AA", "serial": "E 17"}
    assert client.patch(address, {"version": 1, **read}, format="json").status_code == 200
    assert client.patch(address, {"version": 2, **read, "terms_note": "two years"}, format="json").status_code == 200
    problem(client.patch(address, {"version": 3, "reason": "no field"}, format="json"), 400, "body")


def test_what_was_not_known_is_recorded_without_a_reason(
    client: Any, unit: Unit, order: RepairOrder, released: Any
) -> None:
    released(order)
    assert change(client, unit, build_date=unit.purchased_on.isoformat()).status_code == 200
    unit.refresh_from_db()
    problem(change(client, unit, build_date=None), 400, "reason")
    problem(change(client, unit, reason="no field"), 400, "body")


def test_two_people_saving_the_same_unit(client: Any, unit: Unit) -> None:
    assert change(client, unit, use_class="commercial").status_code == 200
    second = change(client, unit, use_class="rental", use_region="OH")
    problem(second, 409, "version")
    assert second.json()["current_version"] == unit.version + 1
    assert second.json()["changed"]["use_class"] == "commercial"
    unit.refresh_from_db()
    assert unit.use_class == "commercial" and unit.use_region == ""


@pytest.mark.parametrize(
    ("typed", "kept"), [("California", "US-CA"), ("ontario", "CA-ON"), ("oh", "OH"), ("US-CA", "US-CA"), ("", "")]
)
def test_a_region_is_kept_as_a_code(client: Any, unit: Unit, typed: str, kept: str) -> None:
    assert change(client, unit, use_region=typed).json()["use_region"] == kept


@pytest.mark.parametrize(("typed", "remedy"), [("Calif.", "'US-OH'"), ("ON", "'CA-ON'"), ("US-XX", "'US-OH'")])
def test_what_is_no_region_is_refused_with_what_to_send(client: Any, unit: Unit, typed: str, remedy: str) -> None:
    answer = change(client, unit, use_region=typed)
    problem(answer, 400, "use_region")
    assert remedy in answer.content.decode()
    unit.refresh_from_db()
    assert unit.use_region == ""


def test_what_was_a_guess_becomes_not_known_again(client: Any, unit: Unit) -> None:
    fields = ("has_hour_meter", "hand_held", "first_owner", "modified", "maintenance_record", "purchased_on")
    answer = change(client, unit, **dict.fromkeys(fields))
    assert answer.status_code == 200, answer.json()
    assert all(answer.json()[field] is None for field in fields)


def test_a_change_needs_version_and_fields(client: Any, unit: Unit) -> None:
    problem(client.patch(at(unit), {"use_class": "rental"}, format="json"), 400, "version")
    problem(client.patch(at(unit), {"version": unit.version}, format="json"), 400, "body")
    problem(client.patch(at(unit), {"version": "one", "use_class": "rental"}, format="json"), 400, "version")


def test_a_corrected_serial_is_compared_again(client: Any, unit: Unit, visit: dict[str, Any]) -> None:
    visit["new_unit"] |= {"serial": "KX 100-8", "model": str(unit.model_id)}
    del visit["new_unit"]["new_model"]
    second = Unit.objects.get(pk=client.post("/api/v1/check-in/", visit, format="json").json()["unit"]["id"])
    clash = change(client, second, serial="kx100 7")
    problem(clash, 409, "serial")
    assert clash.json()["unit"] == str(unit.pk)
    assert change(client, second, serial="KX 100-9").status_code == 200
    assert Unit.objects.get(pk=second.pk).serial_key == "KX1009"
    wide = "\uff2b\uff38\uff11\uff10\uff10\uff17"  # the same letters and digits at full width
    problem(change(client, second, serial=wide), 409, "serial")


def test_a_plate_that_is_read_later_ends_the_reason(client: Any, unit: Unit) -> None:
    assert change(client, unit, serial="", no_serial_reason="sticker gone").status_code == 200
    unit.refresh_from_db()
    assert unit.serial_key == ""
    answer = change(client, unit, serial="KX 100-7")
    assert answer.status_code == 200 and answer.json()["no_serial_reason"] == ""
    unit.refresh_from_db()
    problem(change(client, unit, serial=""), 400, "serial")


def test_a_purchase_after_a_repair_is_refused_unless_it_was_stock(client: Any, unit: Unit, order: RepairOrder) -> None:
    earlier = order.received_on - 10 * DAY
    RepairOrder.objects.filter(pk=order.pk).update(received_on=earlier)
    later = (earlier + 3 * DAY).isoformat()
    assert earlier.isoformat() in problem(change(client, unit, purchased_on=later), 400, "purchased_on")["problem"]
    assert change(client, unit, purchased_on=later, sale_kind="floor_stock").status_code == 200
    unit.refresh_from_db()
    # Sold out of stock now: the repair before the sale stays true.
    assert change(client, unit, sale_kind="new").status_code == 200


@pytest.mark.parametrize("field", ["build_date", "purchased_on", "delivered_on", "registered_on", "first_service_on"])
def test_dates_in_the_future(client: Any, unit: Unit, shop: Any, field: str) -> None:
    problem(change(client, unit, **{field: (shop.today() + DAY).isoformat()}), 400, field)
    assert getattr(Unit.objects.get(pk=unit.pk), field) == getattr(unit, field)


KINDS = ("new", "unknown", "floor_stock", "demonstrator", "ex_rental", "used")


@pytest.mark.parametrize(
    ("field", "taken"),
    [
        ("delivered_on", ("floor_stock", "demonstrator", "ex_rental", "used")),
        ("registered_on", ("ex_rental", "used")),
    ],
)
def test_before_the_purchase_only_what_the_kind_of_sale_allows(
    client: Any, unit: Unit, field: str, taken: tuple[str, ...]
) -> None:
    day = (unit.purchased_on - DAY).isoformat()
    for kind in KINDS:
        unit.refresh_from_db()
        answer = change(client, unit, sale_kind=kind, **{field: day})
        if kind in taken:
            assert answer.status_code == 200, (kind, answer.content)
            unit.refresh_from_db()
            # The other direction: the kind of sale that makes it impossible is refused as well.
            problem(change(client, unit, sale_kind="new"), 400, field)
            assert change(client, unit, **{field: None}).status_code == 200
        else:
            assert taken[0] in problem(answer, 400, field)["remedy"], kind
    unit.refresh_from_db()
    assert change(client, unit, sale_kind="new", **{field: unit.purchased_on.isoformat()}).status_code == 200
    unit.refresh_from_db()
    problem(change(client, unit, purchased_on=(unit.purchased_on + DAY).isoformat()), 400, field)


def test_a_build_date_after_a_repair_is_refused(client: Any, unit: Unit, order: RepairOrder) -> None:
    assert change(client, unit, purchased_on=None).status_code == 200
    unit.refresh_from_db()
    RepairOrder.objects.filter(pk=order.pk).update(received_on=order.received_on - 3 * DAY)
    assert (
        order.number
        in problem(change(client, unit, build_date=order.received_on.isoformat()), 400, "build_date")["problem"]
    )


def test_a_build_date_after_a_reading_is_refused(client: Any, unit: Unit, shop: Any, order: RepairOrder) -> None:
    read = unit.purchased_on + DAY
    earlier = {"hours": "7", "read_on": read.isoformat()}
    assert client.post(at(unit, "hours/"), earlier, format="json").status_code == 201
    Unit.objects.filter(pk=unit.pk).update(purchased_on=None)
    told = problem(change(client, unit, build_date=(read + DAY).isoformat()), 400, "build_date")
    assert "7.0 h" in told["problem"] and str(read) in told["problem"]
    assert change(client, unit, build_date=read.isoformat()).status_code == 200


def test_a_meter_that_was_read_is_there(client: Any, unit: Unit) -> None:
    told = problem(change(client, unit, has_hour_meter=False), 400, "has_hour_meter")
    assert "41.5 h" in told["problem"] and "meter_changed" in told["remedy"]
    unit.refresh_from_db()
    assert unit.has_hour_meter is True
    RepairOrder.objects.update(reading=None)
    HourReading.objects.all().delete()
    assert change(client, unit, has_hour_meter=False).status_code == 200


def test_today_is_no_future_and_building_day_may_be_buying_day(client: Any, unit: Unit) -> None:
    day = unit.purchased_on.isoformat()
    assert change(client, unit, build_date=day).status_code == 200
    unit.refresh_from_db()
    problem(change(client, unit, build_date=(unit.purchased_on + DAY).isoformat()), 400, "purchased_on")


def test_a_power_source_must_be_one_of_the_family(client: Any, unit: Unit) -> None:
    assert "two_stroke" in problem(change(client, unit, power_source="diesel"), 400, "power_source")["remedy"]
    assert "two_stroke" in problem(change(client, unit, power_source="two_strok"), 400, "power_source")["problem"]


def test_the_model_may_be_corrected_to_one_of_the_shop_only(client: Any, unit: Unit, strangers: dict[str, str]) -> None:
    problem(change(client, unit, model=strangers["model"]), 400, "model")


class TestTransfer:
    @pytest.fixture
    def buyer(self, client: Any) -> str:
        return str(client.post("/api/v1/customers/", {"name": "Bo Lindqvale"}, format="json").json()["id"])

    def go(self, client: Any, unit: Unit, **fields: Any) -> Any:
        body = {"version": unit.version, "since": unit.shop.today().isoformat(), **fields}
        return client.post(at(unit, "transfer/"), body, format="json")

    def test_the_new_owner_is_not_the_first(self, client: Any, unit: Unit, buyer: str) -> None:
        answer = self.go(client, unit, owner=buyer)
        assert answer.status_code == 200, answer.json()
        assert answer.json()["owner"] == buyer and answer.json()["first_owner"] is False
        assert answer.json()["use_class"] == ""  # of the new owner's use nothing is known
        assert [row["customer_name"] for row in answer.json()["ownerships"]] == ["Imke Dorran", "Bo Lindqvale"]

    def test_refusals(self, client: Any, unit: Unit, buyer: str, strangers: dict[str, str]) -> None:
        problem(self.go(client, unit, owner=str(unit.owner_id)), 409, "owner")
        problem(self.go(client, unit, owner=strangers["customer"]), 400, "owner")
        problem(self.go(client, unit, owner=buyer, since=(unit.shop.today() + DAY).isoformat()), 400, "since")
        problem(self.go(client, unit, owner=buyer, since=(unit.purchased_on - DAY).isoformat()), 400, "since")
        assert Ownership.objects.filter(unit=unit).count() == 1

    def test_stale(self, client: Any, unit: Unit, buyer: str) -> None:
        change(client, unit, modified=True)
        problem(self.go(client, unit, owner=buyer), 409, "version")
        assert Ownership.objects.filter(unit=unit).count() == 1

    def test_stock_that_is_sold_has_a_first_owner_if_the_caller_says_so(
        self, client: Any, unit: Unit, buyer: str
    ) -> None:
        Unit.objects.filter(pk=unit.pk).update(sale_kind="floor_stock")
        assert self.go(client, unit, owner=buyer).json()["first_owner"] is None

    def test_only_the_counter_transfers(self, api: Any, technician: Any, unit: Unit, buyer: str) -> None:
        assert self.go(api(technician), unit, owner=buyer).status_code == 403


class TestHours:
    def read(self, client: Any, unit: Unit, **fields: Any) -> Any:
        return client.post(at(unit, "hours/"), fields, format="json")

    def test_forward(self, client: Any, unit: Unit) -> None:
        assert self.read(client, unit, hours="41.5").status_code == 201  # the same again is no step back
        answer = self.read(client, unit, hours="50")
        assert answer.status_code == 201 and answer.json()["hours"] == "50.0"

    def test_backwards_needs_a_changed_meter(self, client: Any, unit: Unit) -> None:
        found = problem(self.read(client, unit, hours="41.4"), 409, "hours")
        assert "41.5" in found["problem"] and "meter" in found["remedy"]
        assert HourReading.objects.count() == 1
        assert self.read(client, unit, hours="0.2", meter_changed=True, hours_before_change="60").status_code == 201
        assert self.read(client, unit, hours="0.3").status_code == 201

    def test_a_changed_meter_says_what_the_old_one_showed_or_why_not(self, client: Any, unit: Unit) -> None:
        found = problem(self.read(client, unit, hours="2", meter_changed=True), 400, "hours_before_change")
        assert "no_hours_before_reason" in found["remedy"]
        reason = {"no_hours_before_reason": "display dead, meter thrown away"}
        both = self.read(client, unit, hours="2", meter_changed=True, hours_before_change="60", **reason)
        problem(both, 400, "no_hours_before_reason")
        problem(self.read(client, unit, hours="50", **reason), 400, "no_hours_before_reason")
        assert HourReading.objects.count() == 1
        taken = self.read(client, unit, hours="2", meter_changed=True, **reason)
        assert taken.status_code == 201 and taken.json()["no_hours_before_reason"] == "display dead, meter thrown away"
        address = f"/api/v1/hour-readings/{taken.json()['id']}/"
        found_later = {"version": 1, "hours_before_change": "61", "reason": "photo of the old meter"}
        later = client.patch(address, found_later, format="json")
        assert later.json()["hours_before_change"] == "61.0" and later.json()["no_hours_before_reason"] == ""

    def test_the_old_meter_cannot_have_run_backwards_either(self, client: Any, unit: Unit) -> None:
        answer = self.read(client, unit, hours="0", meter_changed=True, hours_before_change="41.4")
        problem(answer, 409, "hours_before_change")
        problem(self.read(client, unit, hours="60", hours_before_change="50"), 400, "hours_before_change")

    def test_a_reading_of_an_earlier_day_fits_between_its_neighbours(self, client: Any, unit: Unit) -> None:
        before = (unit.shop.today() - 5 * DAY).isoformat()
        problem(self.read(client, unit, hours="41.6", read_on=before), 409, "hours")
        assert self.read(client, unit, hours="30", read_on=before).status_code == 201
        problem(self.read(client, unit, hours="60", read_on=(unit.shop.today() + DAY).isoformat()), 400, "read_on")

    @pytest.mark.parametrize("hours", ["NaN", "-0.1", "many", None, [1], "99999999.9", "1.25", True])
    def test_no_number(self, client: Any, unit: Unit, hours: Any) -> None:
        problem(self.read(client, unit, hours=hours), 400, "hours")
        assert HourReading.objects.count() == 1

    def test_a_misread_figure_is_corrected_with_a_reason(self, client: Any, unit: Unit) -> None:
        wrong = self.read(client, unit, hours="1250").json()
        address = f"/api/v1/hour-readings/{wrong['id']}/"
        problem(client.patch(address, {"version": 1, "hours": "125"}, format="json"), 400, "reason")
        fixed = client.patch(address, {"version": 1, "hours": "125", "reason": "point not seen"}, format="json")
        assert fixed.status_code == 200 and fixed.json()["hours"] == "125.0"
        event = Event.objects.get(verb="hours corrected")
        assert event.facts["before"] == "1250.0" and event.words == "point not seen"
        problem(client.patch(address, {"version": 2, "hours": "41", "reason": "x"}, format="json"), 409, "hours")
        problem(client.patch(address, {"version": 1, "hours": "126", "reason": "x"}, format="json"), 409, "version")


def pdf() -> bytes:
    made, out = pikepdf.new(), BytesIO()
    made.add_blank_page()
    made.save(out)
    return out.getvalue()


class TestProofs:
    def send(self, client: Any, unit: Unit, data: bytes | None, name: str = "receipt.pdf", **fields: Any) -> Any:
        form = {"kind": "receipt", **fields}
        if data is not None:
            form["file"] = SimpleUploadedFile(name, data)
        return client.post(at(unit, "proofs/"), form, format="multipart")

    def test_a_pdf_is_kept_untouched(self, client: Any, unit: Unit) -> None:
        data = pdf()
        answer = self.send(client, unit, data, shows_date=unit.purchased_on.isoformat())
        assert answer.status_code == 201, answer.json()
        photo = PurchaseProof.objects.get().photo
        assert photo.kind == "pdf" and photo.original.size == len(data) and photo.subject == f"unit:{unit.pk}"

    def test_whether_it_shows_the_purchase_date_is_said(self, client: Any, unit: Unit) -> None:
        days = (unit.purchased_on, unit.purchased_on - DAY, None)
        for day, said in zip(days, (True, False, None), strict=True):
            shown = {} if day is None else {"shows_date": day.isoformat()}
            assert self.send(client, unit, None, kind="statement", **shown).json()["agrees"] is said
        assert [row["agrees"] for row in client.get(at(unit)).json()["proofs"]] == [True, False, None]

    def test_only_a_statement_comes_without_paper(self, client: Any, unit: Unit) -> None:
        problem(self.send(client, unit, None), 400, "file")
        assert self.send(client, unit, None, kind="statement").status_code == 201

    @pytest.mark.parametrize(
        ("data", "name"), [(b"", "empty.pdf"), (b"PK\x03\x04zip", "receipt.jpg"), (b"%PDF-1.7", "x.pdf")]
    )
    def test_what_is_no_proof(self, client: Any, unit: Unit, data: bytes, name: str) -> None:
        problem(self.send(client, unit, data, name), 400, "file")
        assert not PurchaseProof.objects.exists() and not Photo.objects.exists() and not StoredFile.objects.exists()

    def test_a_proof_of_another_kind_is_told_that_a_pdf_is_taken_too(self, client: Any, unit: Unit) -> None:
        refused = self.send(client, unit, b"PK\x03\x04zip", "receipt.zip").json()["errors"][0]
        assert refused["remedy"] == "Send a picture as JPEG, PNG, WebP or HEIC, or a PDF."

    def test_refused_fields_keep_no_file(self, client: Any, unit: Unit) -> None:
        problem(self.send(client, unit, pdf(), kind="rumour"), 400, "kind")
        problem(self.send(client, unit, pdf(), shows_date=(unit.shop.today() + DAY).isoformat()), 400, "shows_date")
        problem(client.post(at(unit, "proofs/"), {"kind": "receipt"}, format="json"), 415, "Content-Type")
        assert not StoredFile.objects.exists()


class TestAssemblies:
    def test_one_of_each_role(self, client: Any, unit: Unit) -> None:
        engine = {"role": "engine", "maker": str(unit.model.maker_id), "label_read": True, "emission_rule": "part_1054"}
        first = client.post(at(unit, "assemblies/"), engine, format="json")
        assert first.status_code == 201, first.json()
        problem(client.post(at(unit, "assemblies/"), engine, format="json"), 409, "role")
        address = f"/api/v1/assemblies/{first.json()['id']}/"
        assert client.patch(address, {"version": 1, "label_hours": 125}, format="json").json()["label_hours"] == 125
        problem(client.patch(address, {"version": 1, "label_hours": 300}, format="json"), 409, "version")

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"label_hours": -1}, "label_hours"),
            ({"label_hours": "many"}, "label_hours"),
            ({"build_date": "2199-01-01"}, "build_date"),
            ({"emission_rule": "part_9"}, "emission_rule"),
            ({"displacement_cc": "NaN"}, "displacement_cc"),
            ({"role": ""}, "role"),
            ({"role": "enigne"}, "role"),
            ({"role": "battery_pack"}, "role"),
            ({"role": "other"}, "role_words"),
            ({"role": "other", "role_words": "Pump end"}, "role_words"),
            ({"role": "other", "role_words": "unit"}, "role_words"),
            ({"role_words": "mist head"}, "role_words"),
            ({"emission_rule": "part_1054"}, "emission_rule"),
            ({"label_read": False, "emission_family": "RTEST.050AA"}, "emission_family"),
            ({"label_read": False, "label_hours": 0}, "label_hours"),
        ],
    )
    def test_wrong(self, client: Any, unit: Unit, fields: dict[str, Any], field: str) -> None:
        problem(client.post(at(unit, "assemblies/"), {"role": "engine", **fields}, format="json"), 400, field)
        assert not Assembly.objects.exists()

    def test_what_stands_on_the_label_goes_when_the_label_was_not_read(self, client: Any, unit: Unit) -> None:
        engine = {"role": "engine", "label_read": True, "emission_family": "RTEST.050AA", "label_hours": 300}
        made = client.post(at(unit, "assemblies/"), engine, format="json")
        assert made.status_code == 201, made.content
        address = f"/api/v1/assemblies/{made.json()['id']}/"
        refused = client.patch(address, {"version": 1, "label_read": False}, format="json")
        assert "label_read" in problem(refused, 400, "emission_family")["remedy"] and problem(
            refused, 400, "label_hours"
        )
        cleared = {"version": 1, "label_read": False, "emission_family": "", "label_hours": None}
        assert client.patch(address, cleared, format="json").status_code == 200
        problem(client.patch(address, {"version": 2, "label_hours": 300}, format="json"), 400, "label_hours")

    def test_a_role_of_no_list_is_named_in_words_once(self, client: Any, unit: Unit) -> None:
        for words in ("mist head", "power  head"):
            body = {"role": "other", "role_words": words}
            assert client.post(at(unit, "assemblies/"), body, format="json").status_code == 201
        again = client.post(at(unit, "assemblies/"), {"role": "other", "role_words": "Power Head"}, format="json")
        problem(again, 409, "role")
        assert [one.called for one in Assembly.objects.order_by("role_words")] == ["mist head", "power head"]

    def test_an_engine_is_no_younger_than_the_purchase_unless_it_was_replaced(
        self, client: Any, unit: Unit, shop: Any
    ) -> None:
        later, today = unit.purchased_on + DAY, shop.today().isoformat()
        engine = {"role": "engine", "build_date": later.isoformat()}
        assert (
            "fitted_on"
            in problem(client.post(at(unit, "assemblies/"), engine, format="json"), 400, "build_date")["remedy"]
        )
        early = {**engine, "fitted_on": unit.purchased_on.isoformat()}
        problem(client.post(at(unit, "assemblies/"), early, format="json"), 400, "fitted_on")
        future = {**engine, "fitted_on": (shop.today() + DAY).isoformat()}
        problem(client.post(at(unit, "assemblies/"), future, format="json"), 400, "fitted_on")
        assert not Assembly.objects.exists()
        made = client.post(at(unit, "assemblies/"), {**engine, "fitted_on": today}, format="json")
        assert made.status_code == 201, made.content
        address = f"/api/v1/assemblies/{made.json()['id']}/"
        problem(client.patch(address, {"version": 1, "fitted_on": None}, format="json"), 400, "build_date")
        first = {"version": 1, "fitted_on": None, "build_date": unit.purchased_on.isoformat()}
        assert client.patch(address, first, format="json").status_code == 200
        problem(
            client.patch(address, {"version": 2, "build_date": later.isoformat()}, format="json"), 400, "build_date"
        )

    def test_the_units_days_are_changed_no_further_than_its_assemblies_allow(self, client: Any, unit: Unit) -> None:
        bought = unit.purchased_on
        engine = {"role": "engine", "build_date": bought.isoformat()}
        made = client.post(at(unit, "assemblies/"), engine, format="json").json()
        assert (
            "engine"
            in problem(change(client, unit, purchased_on=(bought - DAY).isoformat()), 400, "purchased_on")["problem"]
        )
        replaced = {"version": 1, "fitted_on": (bought + DAY).isoformat(), "build_date": (bought - 9 * DAY).isoformat()}
        assert client.patch(f"/api/v1/assemblies/{made['id']}/", replaced, format="json").status_code == 200
        assert change(client, unit, purchased_on=None).status_code == 200
        unit.refresh_from_db()
        problem(change(client, unit, build_date=(bought + 2 * DAY).isoformat()), 400, "build_date")

    def test_makers_of_another_shop(self, client: Any, unit: Unit, strangers: dict[str, str]) -> None:
        body = {"role": "engine", "maker": strangers["maker"]}
        problem(client.post(at(unit, "assemblies/"), body, format="json"), 400, "maker")


def test_another_shops_unit_is_not_there(client: Any, strangers: dict[str, str]) -> None:
    base = f"/api/v1/units/{strangers['unit']}/"
    assert client.get(base).status_code == 404
    assert client.patch(base, {"version": 1, "use_class": "rental"}, format="json").status_code == 404
    assert client.post(f"{base}hours/", {"hours": "99"}, format="json").status_code == 404
    assert client.post(f"{base}assemblies/", {"role": "engine"}, format="json").status_code == 404
    assert client.post(f"{base}proofs/", {"kind": "statement"}, format="multipart").status_code == 404
    reading = f"/api/v1/hour-readings/{strangers['reading']}/"
    assert client.patch(reading, {"version": 1, "hours": "99", "reason": "x"}, format="json").status_code == 404


def test_units_are_found_by_plate_and_owner(client: Any, unit: Unit, strangers: dict[str, str]) -> None:
    assert client.get("/api/v1/units/?serial=kx-1007").json()["count"] == 1
    assert client.get("/api/v1/units/?serial=nothing").json()["count"] == 0
    assert client.get(f"/api/v1/units/?owner={unit.owner_id}").json()["results"][0]["id"] == str(unit.pk)
    assert client.get("/api/v1/units/").json()["count"] == 1  # the stranger's unit is not listed
    assert client.get(f"/api/v1/units/?owner={strangers['customer']}").json()["count"] == 0
