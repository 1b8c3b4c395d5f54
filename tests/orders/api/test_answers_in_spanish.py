"""Every refusal of the door behind the customer's link, in the language of the estimate: no English sentence is left in any."""

from __future__ import annotations

import copy
import datetime as dt
import json
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction
from django.utils import timezone

from orders.models import AnswerLink, Customer, Estimate, Finding, Job, JobPart, RepairOrder
from orders.models.jobs import JobFee, JobLabour
from orders.services.answers import take_answers
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import set_payer_basis
from orders.services.links import spoken_at
from orders.services.options import add_option
from shopdocs.documents.models import Letter, Photo
from shopdocs.documents.press.catalogue import read
from shopdocs.documents.press.words import FOLDER
from shopdocs.documents.services.papers import sheet_digest
from shopdocs.documents.services.photos import take_in_photo
from shopdocs.rest.errors import MORE, REMEDIES
from shopdocs.rest.known_again import pattern_of
from shopdocs.shops.models import Shop, Staff
from tests.customers_door import own, shared
from tests.left_in_english import left_in_english
from tests.orders.back_kit import CARD, a_finding, season_service, set_rates, sharpening, shown_by_link, token_in
from tests.papers_samples import picture

pytestmark = pytest.mark.django_db
D = Decimal
SPANISH = read(FOLDER / "es.po").texts
AT_OTHER_DOORS = {
    "'{choice}' is no choice.", "Choose one of: {known}.", "{number} is negative.", "Give zero or more.",
    "{number} is more than {most}.", "Give {most} at most, or split it.", "The JSON is nested too deeply.",
    "Nobody is named.", "Say who gives the answer.", "Version {edition} of {number} was replaced by a newer one.",
    "Use the newest version; the shop sends it again on request.",
}  # fmt: skip
"""What these functions say to others: this door's form, or its link, has said no before them."""


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Every English sentence that the door has put into the customer's language."""
    found: set[str] = set()

    def listening(token: str, accepted: str = "") -> Callable[[str], str]:
        say = spoken_at(token, accepted)

        def heard_and_said(text: str) -> str:
            found.add(text)
            return say(text)

        return heard_and_said

    monkeypatch.setattr("orders.api.estimates.spoken_at", listening)
    return found


class Door:
    """The link of an estimate with everything on it that can change, and what it says."""

    def __init__(self, shop: Shop, owner: Staff, order: RepairOrder, api: Any) -> None:
        self.shop, self.owner, self.client = shop, owner, api(None)
        set_rates(shop)
        Customer.objects.update(email="imke@example.com", language="es")
        found = a_finding(shop, owner, order, unsafe=True, note="húmeda")
        self.photo = take_in_photo(
            shop=shop, by=owner, data=picture("leak")[1], name="a.jpg", subject=order.subject, about=found.subject,
            moment="before",
        )  # fmt: skip
        self.job = season_service(shop, owner, order, title="Manguera", findings=[found.pk], complaint="Gotea")
        kept = {"discount_percent": D(5), "core_charge": D(2), "environment_charge": D(1), "original": True}
        JobPart.objects.update(**kept)
        Job.objects.update(why_now="Gotea", discount_words="Buen cliente", discount_percent=D(5))
        JobFee.objects.create(shop=shop, job=self.job, kind="fee", words="Recogida", amount=D(4))
        JobFee.objects.create(shop=shop, job=self.job, kind="core", words="Casco", amount=D(-1))
        self.plain = sharpening(shop, owner, order, title="Cadena", cause="Desgaste")
        Job.objects.filter(pk=self.plain.pk).update(discount_amount=D(1))
        covered = season_service(shop, owner, order, title="Bobina")
        self.covered = set_payer_basis(job=covered, kind="decision", id="d-1", words="dos años", hash="0" * 64)
        self.split = sharpening(shop, owner, order, title="Barra")
        Job.objects.filter(pk=self.split.pk).update(shares=shares(50))
        self.chosen = sharpening(shop, owner, order, title="Filtro")
        for name, jobs in (("Reparar", [self.chosen.pk]), ("Nueva", [])):
            add_option(shop=shop, by=owner, order_id=order.pk, group="La sierra", name=name, jobs=jobs)
        self.order = RepairOrder.objects.get(pk=order.pk)
        self.estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
        letter = send_estimate(shop=shop, by=owner, estimate_id=self.estimate.pk).letter
        assert letter is not None
        self.token = token_in(letter)
        self.options = [one["id"] for one in self.estimate.facts["options"][0]["options"]]
        self.said: list[str] = []

    @property
    def path(self) -> str:
        return f"/api/v1/answer/{self.token}/"

    def good(self, **changes: Any) -> dict[str, Any]:
        jobs = (self.job, self.plain, self.covered, self.split)
        answers = [{"job": str(job.pk), "accepted": True} for job in jobs]
        shown = shown_by_link(self.token)
        return {"said_by": "Imke", "answers": answers, "options": self.options[:1], **shown, **changes}

    def refused(self, sent: Any = None, *, path: str = "", **how: Any) -> None:
        """Sends it, keeps every sentence of the refusal and takes back whatever was changed for it."""
        answer = self.client.post(path or self.path, self.good() if sent is None else sent, **{"format": "json", **how})
        self.keep(answer)

    def keep(self, answer: Any) -> None:
        assert answer.status_code >= 400, answer.content
        body = answer.json()
        self.said += [body["title"], *(one[name] for one in body["errors"] for name in ("problem", "remedy"))]

    def after(self, change: Callable[[], Any], sent: Any = None) -> None:
        """The refusal after a change of the records, which is taken back again."""
        try:
            with transaction.atomic():
                change()
                self.refused(sent)
                raise TakenBack
        except TakenBack:
            pass


class TakenBack(Exception):
    pass


def shares(percent: int) -> list[dict[str, Any]]:
    return [
        {"payer": "customer", "percent": str(percent), "amount": None},
        {"payer": "shop", "percent": None, "amount": None},
    ]


@pytest.fixture
def door(shop: Shop, owner: Staff, order: RepairOrder, api: Any, heard: set[str]) -> Door:
    return Door(shop, owner, order, api)


def changes_of_jobs(door: Door) -> Iterator[Callable[[], Any]]:
    """Each way in which a job can have become another than the one on the estimate."""
    job, part = Job.objects.filter(pk=door.job.pk), JobPart.objects.filter(job=door.job)
    labour = JobLabour.objects.filter(job=door.job)
    yield lambda: labour.update(hours=D(2))
    yield lambda: labour.update(rate=D(500))
    yield lambda: JobPart.objects.create(shop=door.shop, job=door.job, words="Tapa", quantity=1, unit_price=D(1))
    yield lambda: part.update(quantity=D(2))
    for field in ("core_charge", "unit_price", "environment_charge"):
        yield lambda field=field: part.update(**{field: D(50)})  # type: ignore[misc]
    yield lambda: part.update(discount_percent=None)
    yield lambda: JobFee.objects.create(shop=door.shop, job=door.job, kind="fee", words="Otra", amount=D(4))
    yield lambda: JobFee.objects.filter(kind="core").delete()
    yield lambda: job.update(discount_percent=None)
    yield lambda: Job.objects.filter(pk=door.plain.pk).update(discount_amount=None)
    yield lambda: Job.objects.filter(pk=door.covered.pk).update(payer="customer")
    yield lambda: Job.objects.filter(pk=door.split.pk).update(shares=shares(60))
    yield lambda: job.update(title="Otra")
    yield lambda: job.update(complaint="Otra")
    yield lambda: job.update(why_now="Otra")
    yield lambda: Finding.objects.update(unsafe=False)
    yield lambda: Finding.objects.update(note="seca")
    yield lambda: Job.objects.filter(pk=door.plain.pk).update(cause="Otra")
    yield lambda: part.update(condition="used")
    yield lambda: part.update(original=False)
    yield lambda: job.update(discount_words="Otro")
    for state in ("done", "struck"):
        yield lambda state=state: job.update(state=state)  # type: ignore[misc]


def closed_links(door: Door) -> Iterator[Callable[[], Any]]:
    """Each way in which the link, its estimate or its order may be past answering."""
    now, link = timezone.now(), AnswerLink.objects.all()

    def replaced(state: str = "") -> None:
        sharpening(door.shop, door.owner, door.order, title="Más")
        newer = issue_estimate(shop=door.shop, by=door.owner, order_id=door.order.pk)
        if state:
            letter = send_estimate(shop=door.shop, by=door.owner, estimate_id=newer.pk).letter
            assert letter is not None
            Letter.objects.filter(pk=letter.pk).update(state=state)

    yield lambda: link.update(used_at=now)
    yield lambda: link.update(expires_at=now)
    yield lambda: RepairOrder.objects.update(state="finished")
    yield lambda: Estimate.objects.update(valid_until=door.shop.today() - dt.timedelta(days=1))
    for state in ("", "waiting", "done"):
        yield lambda state=state: replaced(state)  # type: ignore[misc]


def wrong_answers(door: Door) -> Iterator[dict[str, Any]]:
    """What the services say no to."""
    good = door.good()
    first, *rest = good["answers"]
    up_to = {"choice": "pay_up_to", "up_to": "60.00"}

    def with_choice(choice: Any, job: Job = door.covered, accepted: bool = True) -> dict[str, Any]:
        others = [one for one in good["answers"] if one["job"] != str(job.pk)]
        return {**good, "answers": [*others, {"job": str(job.pk), "accepted": accepted, "if_refused": choice}]}

    yield {**good, "answers": [], "options": []}
    yield {**good, "answers": rest}
    yield {**good, "answers": [first, *good["answers"]]}
    yield {**good, "answers": [*good["answers"], {"job": str(door.order.pk), "accepted": True}]}
    yield {**good, "estimate_sha256": ""}
    yield {**good, "estimate_sha256": "0" * 64}
    yield {**good, "consent": ""}
    yield {**good, "consent": "1999"}
    yield {**good, "options": door.options}
    yield {**good, "options": [str(door.order.pk)]}
    chosen = {"job": str(door.chosen.pk), "accepted": False}
    yield {**good, "options": [], "answers": [*good["answers"], chosen]}
    yield {**good, "answers": [*good["answers"], chosen]}
    yield with_choice(up_to, door.job)
    yield with_choice(up_to, accepted=False)
    yield with_choice({**up_to, "choice": "ask_me"})
    yield with_choice({"choice": "pay_up_to"})
    yield with_choice({**up_to, "up_to": "0"})
    yield with_choice({**up_to, "up_to": "1.005"})


def wrong_forms(door: Door) -> Iterator[Any]:
    """What the form says no to."""
    good = door.good()
    (first, *_), covered = good["answers"], str(door.covered.pk)

    def choosing(choice: Any) -> dict[str, Any]:
        return {**good, "answers": [{"job": covered, "accepted": True, "if_refused": choice}]}

    yield {}
    yield []
    yield {**good, "more": 1}
    for field, values in {
        "said_by": ("", None, 5, "x" * 201, "a\nb", CARD, "a\0b"),
        "words": (CARD, "x" * 2001),
        "answers": (None, "x", {}, [5], [first] * 201, [{**first, "accepted": "yes"}], [{**first, "job": "x"}], [{}]),
        "options": ("x", ["x"], [door.options[0]] * 21),
        "estimate_sha256": ("0" * 65,),
    }.items():
        for value in values:
            yield {**good, field: value}
    for choice in (
        "x", {"choice": "whatever"}, {"choice": "pay_up_to", "up_to": "much"}, {"choice": "pay_up_to", "up_to": "-1"},
        {"choice": "pay_up_to", "up_to": "1.00005"}, {"choice": "pay_up_to", "up_to": "1" * 14},
        {"choice": "pay_up_to", "up_to": "12345678901.123"}, {"choice": "pay_up_to", "up_to": "1" * 1001},
        {"choice": "pay_up_to", "up_to": "1_0"}, {"choice": "pay_up_to", "up_to": "12345678901.1"},
    ):  # fmt: skip
        yield choosing(choice)
    yield {**good, "answers": [{**first, f"field{at}": 1} for at in range(200)] + [{"a": 1, "b": 2}]}


BROKEN = (
    b"{", b"[1", b'{"a" 1}', b"{1: 2}", b'{"a": "b', b'{"a": "\x01"}', b'{"a": "\\x"}', b'{"a": "\\u12"}', b"{} {}",
    b'{"a": NaN}', b'{"a": 1, "a": 2}', b'{"a": "\\ud800"}', b"\xff", b"[" * 50 + b"]" * 50,
)  # fmt: skip


def a_job_of_two_choices(door: Door) -> tuple[Callable[[], Any], dict[str, Any]]:
    """An older version may hold one: it is put there, and what is sent chooses two ways that say two things of the job."""
    facts = copy.deepcopy(door.estimate.facts)
    same = copy.deepcopy(facts["options"][0])
    ids = {one["id"]: str(uuid4()) for one in same["options"]}
    ways = [{**one, "id": ids[one["id"]], "name": f"{one['name']} otra vez"} for one in same["options"]]
    facts["options"].append({"group": "La otra", "options": ways})
    options = [door.options[0], ids[door.options[1]]]
    sent = door.good(options=options, estimate_sha256=sheet_digest(facts))
    return lambda: Estimate.objects.filter(pk=door.estimate.pk).update(facts=facts), sent


def walk(door: Door, settings: Any) -> None:
    """Comes to every refusal of the door and keeps what each says."""
    for change in (*changes_of_jobs(door), *closed_links(door)):
        door.after(change)
    declined = {**door.good()}
    declined["answers"] = [{**one, "accepted": one["job"] != str(door.job.pk)} for one in declined["answers"]]
    door.after(lambda: JobPart.objects.update(fitted_at=timezone.now()), declined)
    counter = [{"job": door.plain.pk, "accepted": True}]
    told = {"channel": "in_person", "said_by": "Imke", "words": "on paper", "estimate_id": door.estimate.pk}
    door.after(lambda: take_answers(shop=door.shop, by=door.owner, answers=counter, **told))
    door.after(lambda: Job.objects.update(state="agreed"), {**door.good(), "answers": [], "options": []})
    door.after(*a_job_of_two_choices(door))
    for sent in (*wrong_answers(door), *wrong_forms(door)):
        door.refused(sent)
    for body in BROKEN:
        door.refused(body, format=None, content_type="application/json")
    door.refused(b"a=b", format=None, content_type="text/plain")
    for wrong in (door.client.put, door.client.delete):
        door.keep(wrong(door.path, {}, format="json"))
    door.keep(door.client.get(door.path, headers={"Accept": "text/csv"}))
    door.refused(path=door.path[:-1])
    unknown, spanish = door.path.replace(door.token, "A" * 43), {"Accept-Language": "fr-CH, es-MX;q=0.9, en;q=0.8"}
    door.refused(path=unknown, headers=spanish)
    door.keep(door.client.get(unknown, headers=spanish))
    door.keep(door.client.get(f"{door.path}photos/{'0' * 64}/"))
    Photo.objects.update(printable=None)
    door.keep(door.client.get(f"{door.path}photos/{door.photo.original.sha256}/"))
    settings.MAX_BODY_BYTES = 10
    door.refused()


def test_every_refusal_behind_the_link_is_said_in_the_language_of_the_estimate(
    door: Door, heard: set[str], settings: Any
) -> None:
    walk(door, settings)
    assert len(door.said) > 300
    assert own() - heard - AT_OTHER_DOORS == set()  # the walk has come to every one of them
    sentences = own() | shared()
    spanish = [pattern_of(SPANISH[one]) for one in sentences]
    spanish += [pattern_of(f"{SPANISH[one]} {SPANISH[MORE]}") for one in REMEDIES.values()]
    english = {one for one in SPANISH if " " in one and "{" not in one}
    for text in set(door.said):
        plain = re.sub(r"«.*?»|'[^']*'", "", text, flags=re.DOTALL)  # what somebody typed, names of fields
        assert any(one.fullmatch(text) for one in spanish), text
        assert left_in_english(plain) == [], text
        assert [one for one in english if one in text] == [], text


def test_the_same_refusals_are_english_on_an_english_estimate(door: Door) -> None:
    Estimate.objects.update(facts={**door.estimate.facts, "shop": {**door.estimate.facts["shop"], "language": "en"}})
    door.refused({**door.good(), "consent": ""})
    assert door.said[1] == "Nobody has agreed to electronic records."
    door.refused(path=door.path.replace(door.token, "A" * 43), headers={"Accept-Language": "fr"})
    assert door.said[-2] == "This link is not known."


def test_the_staff_are_told_in_english_what_a_spanish_customer_cannot_answer(door: Door, api: Any) -> None:
    given = {
        "channel": "in_person", "said_by": "Imke", "words": "on paper", "answers": door.good()["answers"] * 2,
    }  # fmt: skip
    answer = api(door.owner).post(
        f"/api/v1/estimates/{door.estimate.pk}/answers/", json.loads(json.dumps(given)), format="json"
    )
    assert answer.json()["errors"][0]["problem"] == f"Job {door.job.number} is answered twice."
