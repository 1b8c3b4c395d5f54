"""Doors to the inspection: points, checks, findings, holds, and leaving the shop."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Check, Finding, Hold, Job, RepairOrder, Unit
from orders.rules.points import points_for
from shopdocs.shops.models import Event

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def at(order: RepairOrder, more: str) -> str:
    return f"/api/v1/orders/{order.pk}/{more}/"


def find(client: Any, order: RepairOrder, component: str = "saw_chain", condition: str = "dull", **more: Any) -> Any:
    return client.post(at(order, "findings"), {"component": component, "condition": condition, **more}, format="json")


def problem(answer: Any, status: int, field: str) -> dict[str, str]:
    assert answer.status_code == status, answer.content[:400]
    found = [one for one in answer.json()["errors"] if one["field"] == field]
    assert found and found[0]["problem"] and found[0]["remedy"], answer.json()
    return dict(found[0])


class TestPoints:
    def test_the_list_of_the_units_kind_in_its_order(self, client: Any, order: RepairOrder) -> None:
        listed = client.get(at(order, "points")).json()
        assert [row["code"] for row in listed] == [point.code for point in points_for("saw", "two_stroke")]
        stages = [row["stage"] for row in listed]
        assert stages == sorted(stages, key=["outside", "covers_off"].index)
        assert all(row["precaution"] for row in listed) and not any(row["check"] for row in listed)

    def test_results_and_findings_stand_at_their_points(self, client: Any, order: RepairOrder) -> None:
        find(client, order, point="chain_and_bar")
        body = {"point": "chain_brake_check", "result": "good"}
        assert client.post(at(order, "checks"), body, format="json").status_code == 201
        rows = {row["code"]: row for row in client.get(at(order, "points")).json()}
        assert rows["chain_and_bar"]["findings"] == [1] and rows["chain_and_bar"]["check"]["result"] == "found"
        assert rows["chain_brake_check"]["check"]["result"] == "good"

    def test_without_a_power_source_there_is_no_list(self, client: Any, order: RepairOrder) -> None:
        Unit.objects.filter(pk=order.unit_id).update(power_source="unknown")
        problem(client.get(at(order, "points")), 409, "power_source")
        problem(find(client, order, point="chain_and_bar"), 400, "point")


class TestChecks:
    def test_a_second_look_needs_the_version(self, client: Any, order: RepairOrder) -> None:
        body = {"point": "chain_and_bar", "result": "good"}
        first = client.post(at(order, "checks"), body, format="json").json()
        again = client.post(at(order, "checks"), {**body, "result": "not_possible"}, format="json")
        problem(again, 409, "point")
        assert again.json()["check"] == first["id"] and again.json()["version"] == 1
        changed = client.post(at(order, "checks"), {**body, "note": "nose stiff", "version": 1}, format="json")
        assert changed.status_code == 201 and changed.json()["version"] == 2
        problem(client.post(at(order, "checks"), {**body, "version": 1}, format="json"), 409, "version")

    def test_unknown_points_and_results(self, client: Any, order: RepairOrder) -> None:
        near = problem(
            client.post(at(order, "checks"), {"point": "chain_bar", "result": "good"}, format="json"), 400, "point"
        )
        assert "chain_and_bar" in near["problem"]
        problem(
            client.post(at(order, "checks"), {"point": "chain_and_bar", "result": "fine"}, format="json"), 400, "result"
        )
        assert not Check.objects.exists()


class TestFindings:
    def test_numbered_and_measured(self, client: Any, order: RepairOrder) -> None:
        find(client, order)
        answer = find(
            client, order, "spark_plug", "out_of_adjustment", measured="0.85", measured_unit="mm", cause="wear"
        )
        assert answer.status_code == 201, answer.json()
        assert answer.json()["number"] == 2 and answer.json()["measured"] == "0.8500"
        assert answer.json()["found_on"] == order.shop.today().isoformat()

    @pytest.mark.parametrize(
        ("fields", "field", "near"),
        [
            ({"component": "carburetor"}, "component", "carburettor"),
            ({"condition": "leak"}, "condition", "leaks"),
            ({"cause": "defects"}, "cause", "defect"),
            ({"point": "chain_bar"}, "point", "chain_and_bar"),
            ({"measured": "1", "measured_unit": "MM"}, "measured_unit", "mm"),
        ],
    )
    def test_unknown_words_name_near_matches(
        self, client: Any, order: RepairOrder, fields: dict[str, str], field: str, near: str
    ) -> None:
        answer = client.post(
            at(order, "findings"), {"component": "saw_chain", "condition": "dull", **fields}, format="json"
        )
        assert near in problem(answer, 400, field)["problem"]
        assert not Finding.objects.exists()

    @pytest.mark.parametrize(
        ("power", "component", "says"),
        [
            ("battery", "carburettor", "driven by battery has no carburettor"),
            ("two_stroke", "battery", "driven by two-stroke petrol has no battery pack"),
            ("two_stroke", "mower_deck", "chain saw has no mower deck"),
            ("unknown", "tine", "chain saw has no tiller tine"),
        ],
    )
    def test_a_component_that_such_a_unit_has_not_is_refused_with_those_it_has(
        self, client: Any, order: RepairOrder, power: str, component: str, says: str
    ) -> None:
        first = find(client, order).json()
        Unit.objects.filter(pk=order.unit_id).update(power_source=power)
        found = problem(find(client, order, component, "broken"), 400, "component")
        assert says in found["problem"] and "saw_chain" in found["remedy"] and "mower_deck" not in found["remedy"]
        changed = client.patch(
            f"/api/v1/findings/{first['id']}/", {"version": 1, "component": component}, format="json"
        )
        problem(changed, 400, "component")
        assert Finding.objects.count() == 1 and not Hold.objects.exists()

    def test_an_old_finding_stands_when_the_unit_is_corrected(self, client: Any, order: RepairOrder) -> None:
        first = find(client, order, "spark_plug", "worn").json()
        Unit.objects.filter(pk=order.unit_id).update(power_source="battery")
        changed = client.patch(f"/api/v1/findings/{first['id']}/", {"version": 1, "note": "gap 1.1"}, format="json")
        assert changed.status_code == 200, changed.content
        assert "component" in [row["field"] for row in changed.json()["warnings"]]

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"note": "x" * 2_000_000}, "note"),
            ({"note": 5}, "note"),
            ({"measured": "NaN", "measured_unit": "mm"}, "measured"),
            ({"measured": "-1", "measured_unit": "ohm"}, "measured"),
            ({"measured": "wide", "measured_unit": "mm"}, "measured"),
            ({"measured": "1"}, "measured_unit"),
            ({"measured_unit": "mm"}, "measured"),
            ({"signs": "grey"}, "signs"),
            ({"signs": [5]}, "signs[0]"),
            ({"unsafe": "no"}, "unsafe"),
            ({"found_on": "tomorrow"}, "found_on"),
            ({"found_on": "2020-01-01"}, "found_on"),
            ({"caused_by": "not an id"}, "caused_by"),
            ({"colour": "red"}, "colour"),
        ],
    )
    def test_wrong_fields(self, client: Any, order: RepairOrder, fields: dict[str, Any], field: str) -> None:
        if fields.get("found_on") == "tomorrow":
            fields = {"found_on": (order.shop.today() + DAY).isoformat()}
        problem(find(client, order, **fields), 400, field)
        assert not Finding.objects.exists() and not Hold.objects.exists()

    def test_a_chain_of_causes_has_a_beginning(self, client: Any, order: RepairOrder) -> None:
        first = find(client, order, "air_filter", "clogged").json()
        second = find(client, order, "carburettor", "clogged", caused_by=first["id"]).json()
        third = find(client, order, "piston", "seized", caused_by=second["id"]).json()
        address = f"/api/v1/findings/{first['id']}/"
        circle = problem(
            client.patch(address, {"version": 1, "caused_by": third["id"]}, format="json"), 400, "caused_by"
        )
        assert "1 <- 3 <- 2 <- 1" in circle["problem"]
        problem(client.patch(address, {"version": 1, "caused_by": first["id"]}, format="json"), 400, "caused_by")

    def test_causes_and_assemblies_of_the_same_order_only(
        self, client: Any, order: RepairOrder, visit: dict[str, Any]
    ) -> None:
        visit["new_unit"] |= {"serial": "KX 8", "model": str(order.unit.model_id), "assemblies": [{"role": "engine"}]}
        del visit["new_unit"]["new_model"]
        other = client.post("/api/v1/check-in/", visit, format="json").json()
        elsewhere = client.post(
            f"/api/v1/orders/{other['id']}/findings/", {"component": "muffler", "condition": "loose"}, format="json"
        ).json()
        problem(find(client, order, caused_by=elsewhere["id"]), 400, "caused_by")
        problem(find(client, order, assembly=other["unit"]["assemblies"][0]["id"]), 400, "assembly")

    def test_two_people_saving_the_same_finding(self, client: Any, order: RepairOrder) -> None:
        address = f"/api/v1/findings/{find(client, order).json()['id']}/"
        assert client.patch(address, {"version": 1, "note": "hit a nail"}, format="json").status_code == 200
        stale = client.patch(address, {"version": 1, "note": "stone"}, format="json")
        problem(stale, 409, "version")
        assert stale.json()["changed"]["note"] == "hit a nail"

    def test_contradictions_are_said_and_refused_is_nothing(self, client: Any, order: RepairOrder) -> None:
        answer = find(client, order, "piston", "ok", cause="defect", point="chain_and_bar", unsafe=True)
        assert answer.status_code == 201
        assert {row["field"] for row in answer.json()["warnings"]} == {"cause", "unsafe", "point"}
        assert find(client, order).json()["warnings"] == []

    def test_a_good_check_beside_a_finding(self, client: Any, order: RepairOrder) -> None:
        client.post(at(order, "checks"), {"point": "chain_and_bar", "result": "good"}, format="json")
        answer = find(client, order, point="chain_and_bar")
        assert [row["field"] for row in answer.json()["warnings"]] == ["point"]

    def test_another_shops_order(self, client: Any, order: RepairOrder, strangers: dict[str, str]) -> None:
        base = f"/api/v1/orders/{strangers['order']}/"
        body = {"component": "saw_chain", "condition": "dull"}
        for answer in (
            client.get(base),
            client.get(f"{base}points/"),
            client.get(f"{base}findings/"),
            client.get(f"{base}photos/"),
            client.post(f"{base}findings/", body, format="json"),
            client.post(f"{base}checks/", {"point": "chain_and_bar", "result": "good"}, format="json"),
            client.post(f"{base}give-back/", {"given_to": "me"}, format="json"),
            client.patch(base, {"version": 1, "complaint": "x"}, format="json"),
        ):
            assert answer.status_code == 404

    def test_the_bench_finds_and_the_counter_reads(
        self, api: Any, writer: Any, technician: Any, order: RepairOrder
    ) -> None:
        assert find(api(writer), order).status_code == 403
        assert find(api(technician), order).status_code == 201
        assert api(writer).get(at(order, "findings")).json()[0]["by_name"] == "Technician Person"


@pytest.mark.parametrize("state", ["finished", "given_back"])
def test_a_closed_order_is_not_edited(client: Any, order: RepairOrder, state: str) -> None:
    finding = find(client, order).json()
    RepairOrder.objects.filter(pk=order.pk).update(state=state)
    problem(find(client, order), 409, "state")
    problem(
        client.patch(f"/api/v1/findings/{finding['id']}/", {"version": 1, "note": "x"}, format="json"), 409, "state"
    )
    problem(client.post(at(order, "checks"), {"point": "chain_and_bar", "result": "good"}, format="json"), 409, "state")
    change = {"version": order.version, "complaint": "x"}
    problem(client.patch(f"/api/v1/orders/{order.pk}/", change, format="json"), 409, "state")
    assert Finding.objects.count() == 1 and not Check.objects.exists()


def mended(hold: Hold, state: str = "done") -> None:
    """A job that holds the unsafe finding."""
    job = Job.objects.create(
        shop=hold.shop, order=hold.order, number=1, title="mend it", state=state, finished_at=timezone.now()
    )
    job.findings.add(hold.finding)


class TestHolds:
    def release(self, client: Any, hold: Hold, **fields: Any) -> Any:
        body = {"note": "line replaced, no leak at 50 kPa", "made_safe": True, **fields}
        return client.post(f"/api/v1/holds/{hold.pk}/release/", body, format="json")

    def test_unsafe_by_the_rules(self, client: Any, order: RepairOrder) -> None:
        answer = find(client, order, "fuel_line", "leaks", unsafe=False)
        assert answer.json()["unsafe"] is True and answer.json()["holds"] == ["T-1001"]
        hold = Hold.objects.get()
        assert hold.unit_id == order.unit_id and "fuel line, leaks" in hold.reason

    def test_marked_by_the_technician(self, client: Any, order: RepairOrder) -> None:
        assert find(client, order, "saw_chain", "dull").json()["holds"] == []
        assert find(client, order, "saw_chain", "cracked", unsafe=True).json()["holds"] == ["T-1001"]

    def test_a_finding_that_becomes_unsafe(self, client: Any, order: RepairOrder) -> None:
        finding = find(client, order, "fuel_line", "stiff").json()
        assert not Hold.objects.exists()
        address = f"/api/v1/findings/{finding['id']}/"
        assert client.patch(address, {"version": 1, "condition": "leaks"}, format="json").json()["holds"] == ["T-1001"]
        # Calling it harmless again ends nothing, and a second save tags nothing twice.
        back = client.patch(
            address, {"version": 2, "condition": "stiff", "unsafe": False, "reason": "wet, no leak"}, format="json"
        ).json()
        assert back["holds"] == ["T-1001"] and back["unsafe"] is False
        client.patch(address, {"version": 3, "condition": "leaks"}, format="json")
        assert Hold.objects.count() == 1

    def test_what_is_unsafe_by_the_rules_is_not_called_harmless_in_passing(
        self, client: Any, order: RepairOrder
    ) -> None:
        finding = find(client, order, "fuel_line", "leaks").json()
        body = {"version": 1, "unsafe": False, "reason": "no"}
        refused = problem(client.patch(f"/api/v1/findings/{finding['id']}/", body, format="json"), 400, "unsafe")
        assert "signed note" in refused["remedy"]
        assert not Event.objects.filter(verb="finding changed").exists()

    def test_it_leaves_only_with_a_signed_note(self, client: Any, order: RepairOrder) -> None:
        find(client, order, "fuel_line", "leaks")
        RepairOrder.objects.filter(pk=order.pk).update(state="finished")
        hold = Hold.objects.get()
        refused = client.post(at(order, "give-back"), {"given_to": "Imke Dorran"}, format="json")
        assert "T-1001" in problem(refused, 409, "holds")["problem"] and refused.json()["holds"] == [str(hold.pk)]
        for missing in ("note", "made_safe"):
            body = {"note": "done", "made_safe": True}
            del body[missing]
            problem(client.post(f"/api/v1/holds/{hold.pk}/release/", body, format="json"), 400, missing)
        problem(self.release(client, hold, note="   "), 400, "note")
        problem(self.release(client, hold, made_safe="yes"), 400, "made_safe")
        problem(self.release(client, hold), 409, "made_safe")
        assert Hold.objects.get().released_at is None
        mended(hold)
        done = self.release(client, hold)
        assert (
            done.status_code == 200
            and done.json()["signed_name"] == "Ottilie Vance"
            and done.json()["made_safe"] is True
        )
        problem(self.release(client, hold), 409, "released_at")
        gone = client.post(at(order, "give-back"), {"given_to": "Imke Dorran"}, format="json")
        assert gone.status_code == 200 and gone.json()["state"] == "given_back" and gone.json()["given_back_at"]
        assert Event.objects.get(verb="given back").facts == {"given_to": "Imke Dorran"}

    @pytest.mark.parametrize("state", ["proposed", "agreed", "declined", "struck"])
    def test_safe_again_means_that_a_finished_job_mends_it(self, client: Any, order: RepairOrder, state: str) -> None:
        find(client, order, "fuel_line", "leaks")
        hold = Hold.objects.get()
        mended(hold, state=state)
        problem(self.release(client, hold), 409, "made_safe")
        Job.objects.update(state="done")
        Job.objects.get().findings.clear()
        problem(self.release(client, hold), 409, "made_safe")
        assert Hold.objects.get().released_at is None

    def test_safe_again_because_it_was_looked_at_again(self, client: Any, order: RepairOrder) -> None:
        finding = find(client, order, "saw_chain", "cracked", unsafe=True).json()
        problem(self.release(client, Hold.objects.get()), 409, "made_safe")
        change = {"version": 1, "condition": "dull", "unsafe": False}
        address = f"/api/v1/findings/{finding['id']}/"
        for silent in (change, {**change, "reason": "  "}):
            problem(client.patch(address, silent, format="json"), 400, "reason")
        problem(client.patch(address, {"version": 1, "reason": "because"}, format="json"), 400, "body")
        assert Finding.objects.get().unsafe is True
        why = {**change, "reason": "a scratch in the light, not a crack"}
        assert client.patch(address, why, format="json").json()["unsafe"] is False
        assert Event.objects.get(verb="finding changed").facts["reason"] == "a scratch in the light, not a crack"
        assert self.release(client, Hold.objects.get(), note="a scratch").json()["made_safe"] is True

    def test_a_later_visit_mends_what_an_earlier_one_held(self, client: Any, order: RepairOrder, owner: Any) -> None:
        find(client, order, "fuel_line", "leaks")
        later = RepairOrder.objects.create(
            shop=order.shop, number="RO-2", unit=order.unit, customer=order.customer, state="finished",
            received_on=order.received_on, complaint="x", taken_in_by=owner.user,
        )  # fmt: skip
        again = Finding.objects.create(
            shop=order.shop, order=later, number=1, component="fuel_line", condition="leaks", unsafe=True,
            found_on=order.received_on, by=owner.user,
        )  # fmt: skip
        hold = Hold.objects.get()
        problem(self.release(client, hold), 409, "made_safe")
        job = Job.objects.create(
            shop=order.shop, order=later, number=1, title="x", state="done", finished_at=timezone.now()
        )
        job.findings.add(again)
        assert self.release(client, hold).status_code == 200

    def test_who_signs_that_it_is_safe(self, api: Any, order: RepairOrder, writer: Any, technician: Any) -> None:
        find(api(technician), order, "fuel_line", "leaks")
        hold = Hold.objects.get()
        mended(hold)
        problem(self.release(api(writer), hold), 403, "made_safe")
        problem(self.release(api(technician), hold, signed_name="Somebody Else"), 400, "signed_name")
        signed = self.release(api(technician), hold, signed_name="technician  person").json()
        assert signed["signed_name"] == signed["released_by_name"] == "Technician Person"

    def test_who_signs_that_it_leaves_as_it_is(
        self, api: Any, order: RepairOrder, writer: Any, technician: Any
    ) -> None:
        find(api(technician), order, "fuel_line", "leaks")
        hold = Hold.objects.get()
        say = {"made_safe": False, "note": "kept for parts, tank drained"}
        problem(self.release(api(writer), hold, **say), 400, "signed_name")
        problem(self.release(api(writer), hold, **say, signed_name=" "), 400, "signed_name")
        problem(self.release(api(writer), hold, **say, signed_name="Technician Person"), 400, "signed_name")
        left = self.release(api(writer), hold, **say, signed_name=order.customer.name).json()
        assert left["made_safe"] is False and left["signed_name"] == order.customer.name
        assert Event.objects.get(verb="hold released").facts == {"made_safe": False}

    def test_a_hold_of_an_earlier_visit_keeps_the_unit_too(self, client: Any, order: RepairOrder, owner: Any) -> None:
        find(client, order, "fuel_line", "leaks")
        later = RepairOrder.objects.create(
            shop=order.shop, number="RO-2", unit=order.unit, customer=order.customer, state="finished",
            received_on=order.received_on, complaint="x", taken_in_by=owner.user,
        )  # fmt: skip
        problem(client.post(at(later, "give-back"), {"given_to": "x"}, format="json"), 409, "holds")

    def test_a_job_done_before_the_danger_was_seen_mends_nothing(self, client: Any, order: RepairOrder) -> None:
        finding = find(client, order, "fuel_line", "stiff").json()
        job = Job.objects.create(
            shop=order.shop, order=order, number=1, title="x", state="done", finished_at=timezone.now()
        )
        job.findings.add(finding["id"])
        client.patch(f"/api/v1/findings/{finding['id']}/", {"version": 1, "condition": "leaks"}, format="json")
        problem(self.release(client, Hold.objects.get()), 409, "made_safe")

    def test_a_second_job_for_the_same_danger_must_be_done_too(self, client: Any, order: RepairOrder) -> None:
        find(client, order, "fuel_line", "leaks")
        hold = Hold.objects.get()
        mended(hold)
        other = Job.objects.create(shop=order.shop, order=order, number=2, title="y", state="agreed")
        other.findings.add(hold.finding)
        problem(self.release(client, hold), 409, "made_safe")
        Job.objects.filter(pk=other.pk).update(state="struck")
        assert self.release(client, hold).status_code == 200

    def left_unsafe(self, client: Any, order: RepairOrder) -> dict[str, Any]:
        """The unit leaves with a leaking line on its owner's word, and is checked in again: what check-in answers."""
        find(client, order, "fuel_line", "leaks")
        owners = {"made_safe": False, "note": "kept for parts", "signed_name": order.customer.name}
        assert self.release(client, Hold.objects.get(), **owners).status_code == 200
        RepairOrder.objects.filter(pk=order.pk).update(state="given_back", given_back_at=timezone.now())
        visit = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "runs rough"}
        answer = client.post("/api/v1/check-in/", visit, format="json")
        assert answer.status_code == 201, answer.json()
        return dict(answer.json())

    def test_a_unit_that_left_unsafe_is_tagged_again_when_it_comes_back(self, client: Any, order: RepairOrder) -> None:
        back = self.left_unsafe(client, order)
        assert back["on_hold"] is True and [hold["tag"] for hold in back["holds"]] == ["T-1002"]
        reason = back["holds"][0]["reason"]
        assert f"Finding 1 of {order.number}: fuel line, leaks; left on" in reason
        RepairOrder.objects.filter(pk=back["id"]).update(state="finished")
        again = RepairOrder.objects.get(pk=back["id"])
        problem(client.post(at(again, "give-back"), {"given_to": "Imke Dorran"}, format="json"), 409, "holds")
        hold = Hold.objects.get(tag="T-1002")
        assert "inspection points" in problem(self.release(client, hold), 409, "made_safe")["remedy"]

    def test_a_unit_mended_elsewhere_is_looked_at_again(self, client: Any, order: RepairOrder) -> None:
        again = RepairOrder.objects.get(pk=self.left_unsafe(client, order)["id"])
        hold = Hold.objects.get(tag="T-1002")
        codes = [point.code for point in points_for("saw", "two_stroke") if "fuel_line" in point.components]
        assert codes
        for code in codes:
            problem(self.release(client, hold), 409, "made_safe")
            client.post(at(again, "checks"), {"point": code, "result": "good"}, format="json")
        assert self.release(client, hold, note="new line, dry").json()["made_safe"] is True

    def test_a_unit_made_safe_comes_back_untagged(self, client: Any, order: RepairOrder, released: Any) -> None:
        find(client, order, "fuel_line", "leaks")
        mended(Hold.objects.get())
        self.release(client, Hold.objects.get())
        released(order)
        visit = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "runs rough"}
        back = client.post("/api/v1/check-in/", visit, format="json").json()
        assert back["holds"] == [] and back["on_hold"] is False

    def test_an_open_hold_of_an_earlier_visit_shows_on_the_later_one(
        self, client: Any, order: RepairOrder, released: Any
    ) -> None:
        find(client, order, "fuel_line", "leaks")
        released(order)
        visit = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "runs rough"}
        back = client.post("/api/v1/check-in/", visit, format="json").json()
        assert back["on_hold"] is True and Hold.objects.count() == 1
        shown = {row["id"]: row["on_hold"] for row in client.get("/api/v1/orders/").json()["results"]}
        assert shown == {back["id"]: True, str(order.pk): False}

    def test_unfinished_work_stays(self, client: Any, order: RepairOrder, released: Any) -> None:
        problem(client.post(at(order, "give-back"), {"given_to": "x"}, format="json"), 409, "state")
        released(order)
        problem(client.post(at(order, "give-back"), {"given_to": "x"}, format="json"), 409, "state")

    def test_the_list_of_open_holds(self, client: Any, order: RepairOrder, api: Any, strangers: dict[str, str]) -> None:
        find(client, order, "fuel_line", "leaks")
        find(client, order, "fuel_tank", "leaks")
        mended(Hold.objects.get(tag="T-1001"))
        assert self.release(client, Hold.objects.get(tag="T-1001")).status_code == 200
        listed = client.get("/api/v1/holds/?open=true").json()["results"]
        assert [row["tag"] for row in listed] == ["T-1002"]
        assert client.get("/api/v1/holds/?open=false").json()["count"] == 1
        assert client.get("/api/v1/orders/").json()["results"][0]["on_hold"] is True

    def test_another_shop_releases_nothing(self, api: Any, client: Any, order: RepairOrder, other_shop: Any) -> None:
        from shopdocs.shops.models import Staff

        find(client, order, "fuel_line", "leaks")
        stranger = api(Staff.objects.get(shop=other_shop))
        assert self.release(stranger, Hold.objects.get()).status_code == 404
        assert stranger.get("/api/v1/holds/").json()["count"] == 0
