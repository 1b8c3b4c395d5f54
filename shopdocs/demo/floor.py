"""The shop floor of the story: its people, and the verbs with which a visit is told. Every verb is calls to the API."""

from __future__ import annotations

import datetime as dt
import math
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from . import world
from .client import Person
from .clock import StoryClock
from .pictures import picture

V1 = "/api/v1"
Found = TypeVar("Found")
LINK = re.compile(r"https?://\S+?(/api/v1/answer/[\w-]+/)")


SILENCE, REMINDER = 1.0, 10.0
"""Seconds of waiting before the first word, and between words."""


def patiently(ask: Callable[[], Found | None], what: str, seconds: float = 60) -> Found:
    """Waits for a worker: asks until there is an answer, or says what never came. A wait that is felt is announced."""
    begin = time.monotonic()
    speak = SILENCE
    while (passed := time.monotonic() - begin) < seconds:
        found = ask()
        if found:
            return found
        if passed >= speak:
            print(f"Waiting for {what}: {seconds - passed:.0f} s more at most.", file=sys.stderr, flush=True)
            speak += REMINDER
        time.sleep(0.03)
    raise TimeoutError(f"{what} did not come within {seconds:.0f} s")


@dataclass
class Floor:
    """The people at work, the clock, and the ids of what the shop knows (models, parts, operations ...)."""

    owner: Person
    writer: Person
    technician: Person
    office: Person
    clock: StoryClock
    zone: ZoneInfo
    known: dict[str, dict[str, str]] = field(default_factory=dict)
    shots: int = 0

    def today(self) -> dt.date:
        return self.clock.now().astimezone(self.zone).date()

    def at(self, day: dt.date, hour: int, minute: int = 0) -> None:
        """The story goes on at this hour of that day."""
        self.clock.jump_to(dt.datetime(day.year, day.month, day.day, hour, minute, tzinfo=self.zone))

    # -- the counter

    def check_in(
        self, customer: str, machine: world.Machine, complaint: str, accessories: list[str], **more: Any
    ) -> Visit:
        """One machine comes in. `more`: hours, promised_in (days), owner_far, new owner facts."""
        body: dict[str, Any] = {"complaint": complaint, "accessories": accessories}
        known = self.known["customers"].get(customer)
        body |= {"customer": known} if known else {"new_customer": world.CUSTOMERS[customer].fields()}
        body["new_unit"] = self._unit(machine)
        if machine.hours is not None:
            body["hours"] = {"hours": machine.hours}
        body |= more
        order = self.writer.post(f"{V1}/check-in/", body)
        self.known["customers"][customer] = order["customer"]["id"]
        return Visit(self, order, machine)

    def _unit(self, machine: world.Machine) -> dict[str, Any]:
        model = world.MODELS[machine.model]
        today = self.today()
        bought = machine.bought(today) if machine.bought else None
        built = (bought or today - dt.timedelta(days=700)) - dt.timedelta(days=machine.built_days_before)
        unit: dict[str, Any] = {
            "model": self.known["models"][machine.model],
            "serial": world.serial_of(machine, built),
            "use_class": machine.use_class,
            "has_hour_meter": machine.meter,
            "use_region": "OH",
            "sale_kind": machine.sale_kind,
            "first_owner": machine.first_owner,
            "modified": False,
            **machine.extra,
        }
        if bought is not None:
            unit |= {"purchased_on": str(bought), "build_date": str(built)}
        engine: dict[str, Any] = {
            "role": "engine",
            "maker": self.known["makers"][model.maker],
            "displacement_cc": model.displacement_cc,
        }
        if machine.engine_distributor:
            engine["distributor"] = self.known["distributors"][machine.engine_distributor]
        if machine.label_hours is not None:
            engine |= {
                "label_read": True,
                "emission_rule": "part_1054",
                "emission_family": machine.emission_family,
                "label_hours": machine.label_hours,
                "evaporative_rule": True,
            }
        unit["assemblies"] = [engine]
        return unit


def _mark(told: str) -> dict[str, Any]:
    kind, x1, y1, x2, y2, *length = told.split(maxsplit=5)
    points = {name: 100 * int(at) for name, at in zip(("x1", "y1", "x2", "y2"), (x1, y1, x2, y2), strict=True)}
    return {"kind": kind, **points, **({"length": length[0]} if length else {})}


@dataclass
class Visit:
    """One repair order, from check-in to give-back."""

    floor: Floor
    order: dict[str, Any]
    machine: world.Machine
    findings: dict[str, str] = field(default_factory=dict)
    jobs: dict[str, str] = field(default_factory=dict)
    because: dict[str, str] = field(default_factory=dict)

    @property
    def serial(self) -> str:
        return str(self.order["unit"]["serial"])

    @property
    def path(self) -> str:
        return f"{V1}/orders/{self.order['id']}"

    def minutes_pass(self, minutes: int) -> None:
        self.floor.clock.jump_to(self.floor.clock.now() + dt.timedelta(minutes=minutes))

    # -- the bench

    def photo(
        self, subject: str, moment: str, caption: str, finding: str = "", marks: tuple[str, ...] = (), **text: str
    ) -> None:
        """Takes a picture with the bench's phone (half of them lie on their side, as phones store them).

        `marks`: drawn over it, each as 'arrow 10 20 50 60' in hundredths of the picture; a scale bar ends with its length.
        """
        floor = self.floor
        floor.shots += 1
        model = world.MODELS[self.machine.model]
        words = {
            "maker": world.MAKERS[model.maker]["name"],
            "model": model.name,
            "serial": self.serial,
            "displacement": f"{model.displacement_cc} cc",
            **text,
        }
        taken = floor.clock.now().astimezone(floor.zone)
        data = picture(
            subject, seed=floor.shots, taken_at=taken, text=words, turned=floor.shots % 2 == 0, gps=floor.shots % 3 == 0
        )
        about = {"finding": self.findings[finding]} if finding else {}
        kept = floor.technician.upload(
            f"{self.path}/photos/", data, f"IMG_{floor.shots:04}.jpg", moment=moment, caption=caption, **about
        )
        if marks:
            drawn = [_mark(one) for one in marks]
            floor.technician.patch(f"{V1}/photos/{kept['id']}/", version=1, marks=drawn)
        self.minutes_pass(1)

    def look_over(self, found: dict[str, str]) -> None:
        """Goes through the list of inspection points in its order; `found`: component -> name of a finding made there."""
        for point in self.floor.technician.get(f"{self.path}/points/"):
            hit = any(component in found for component in point["components"])
            self.floor.technician.post(f"{self.path}/checks/", point=point["code"], result="found" if hit else "good")
        self.minutes_pass(6)

    def find(self, name: str, component: str, condition: str, cause: str, note: str, **more: Any) -> dict[str, Any]:
        """Writes down a finding; `because` names the finding that it comes from."""
        because = more.pop("because", None)
        if because:
            more["caused_by"] = self.findings[because]
            self.because[name] = because
        if self.order["unit"]["assemblies"] and more.pop("of_engine", False):
            more["assembly"] = self.order["unit"]["assemblies"][0]["id"]
        finding: dict[str, Any] = self.floor.technician.post(
            f"{self.path}/findings/", component=component, condition=condition, cause=cause, note=note, **more
        )
        self.findings[name] = finding["id"]
        self.minutes_pass(3)
        return finding

    def proof(self, kind: str, data: bytes, name: str, shows: dt.date | None) -> None:
        unit = self.order["unit"]["id"]
        dated = {"shows_date": str(shows)} if shows else {}
        self.floor.writer.upload(f"{V1}/units/{unit}/proofs/", data, name, kind=kind, **dated)

    # -- who pays

    def sign_off(self) -> None:
        """The technician asserts that findings which come from no other one stand by themselves."""
        alone = {pk: {"stands_alone": True} for name, pk in self.findings.items() if name not in self.because}
        found_out = self.floor.technician.get(f"{self.path}/circumstances/")
        self.floor.technician.patch(f"{self.path}/circumstances/", version=found_out["version"], findings=alone)

    def decide(self) -> dict[str, Any]:
        """Asks for the coverage of every finding, signed off; gives finding name -> decision."""
        self.sign_off()
        answer = self.floor.writer.post(f"{self.path}/decisions/", {})
        rows = answer["decisions"] if isinstance(answer, dict) else answer
        names = {pk: name for name, pk in self.findings.items()}
        return {names[row["finding"]]: row for row in rows if row["finding"] in names}

    def job(
        self, name: str, title: str, findings: list[str], operations: list[str], parts: list[Any], **more: Any
    ) -> None:
        """A job with operations and parts of the catalogue; a part is a name, or (name, quantity, causal)."""
        known = self.floor.known
        body = {
            "title": title,
            "findings": [self.findings[one] for one in findings],
            "labour": [{"operation": known["operations"][one]} for one in operations],
            "parts": [self._part(one) for one in parts],
            **more,
        }
        self.jobs[name] = self.floor.writer.post(f"{self.path}/jobs/", body)["id"]

    def _part(self, asked: Any) -> dict[str, Any]:
        name, quantity, causal = (asked, "1", False) if isinstance(asked, str) else asked
        return {"part": self.floor.known["parts"][name], "quantity": quantity, "causal": causal}

    def charge_warranty(self, job: str, decision: dict[str, Any]) -> None:
        self.floor.office.post(f"{V1}/jobs/{self.jobs[job]}/basis/", decision=decision["id"])

    # -- the customer

    def estimate(self) -> dict[str, Any]:
        """Freezes the next version, sends it, and gives what the customer's own letter brought."""
        made = self.floor.writer.post(f"{self.path}/estimates/", {})
        sent = self.floor.writer.post(f"{V1}/estimates/{made['id']}/send/", {})
        letter = self.letter_sent(sent["letter"])
        found = LINK.search(letter)
        assert found, "the letter holds the link with which the customer answers"
        return {"id": made["id"], "link": found[1]}

    def letter_sent(self, letter_id: str) -> str:
        """The text of a letter as it really went out, read from the kept message."""
        writer = self.floor.writer

        def done() -> bool:
            letter = writer.get(f"{V1}/letters/{letter_id}/")
            if letter["state"] == "stopped":
                raise RuntimeError(f"a letter was stopped: {letter['problem']}")
            return bool(letter["state"] == "done")

        patiently(done, "a letter")
        mail = message_from_bytes(writer.download(f"{V1}/letters/{letter_id}/message/"), policy=policy.default)
        body = mail.get_body(("plain",))
        assert body is not None
        return str(body.get_content())

    def customer_answers(
        self, link: str, refuse: tuple[str, ...] = (), if_refused: dict[str, dict[str, str]] | None = None
    ) -> None:
        """The customer opens the link and answers job by job; jobs in `refuse` are declined.

        `if_refused`: by job, what the customer chooses beforehand for the case that the warranty does not pay.
        """
        customer = Person(self.floor.writer.address)
        page = customer.get(link)
        shown = {"estimate_sha256": page["estimate_sha256"], "consent": page["estimate"]["consent"]["version"]}
        said = self._said(page["estimate"]["jobs"], refuse, if_refused or {})
        customer.post(link, said_by=self.order["customer"]["name"], answers=said, **shown)

    def _said(
        self, jobs: list[dict[str, Any]], refuse: tuple[str, ...], if_refused: dict[str, dict[str, str]]
    ) -> list[dict[str, Any]]:
        declined = {self.jobs[name] for name in refuse}
        chosen = {self.jobs[name]: {"if_refused": choice} for name, choice in if_refused.items()}
        return [{"job": job["id"], "accepted": job["id"] not in declined, **chosen.get(job["id"], {})} for job in jobs]

    def _taken_down(self, estimate: str, refuse: tuple[str, ...], **how: Any) -> None:
        writer = self.floor.writer
        jobs = writer.get(f"{V1}/estimates/{estimate}/")["facts"]["jobs"]
        said_by, answers = self.order["customer"]["name"], self._said(jobs, refuse, {})
        writer.post(f"{V1}/estimates/{estimate}/answers/", said_by=said_by, answers=answers, **how)

    def customer_on_the_telephone(self, estimate: str, number: str, refuse: tuple[str, ...] = ()) -> None:
        """The writer calls, reads back what was agreed, and writes the call down."""
        called = self.floor.clock.now().isoformat()
        self.minutes_pass(4)
        self._taken_down(estimate, refuse, channel="phone", phone_number=number, called_at=called, read_back=True)

    def customer_signs(self, estimate: str, refuse: tuple[str, ...] = ()) -> None:
        """The customer comes by and signs on the screen at the counter: the estimate, and the repair order."""
        self._taken_down(estimate, refuse, channel="in_person", signature=self._signature())
        self.floor.writer.post(f"{self.path}/papers/", signature=self._signature())

    def _signature(self) -> str:
        """A signature drawn on the screen: a few loops that no real hand made."""
        name = self.order["customer"]["name"]
        strokes = [
            [[30 + 9 * at, 70 + round(26 * math.sin(at * (0.7 + place)))] for at in range(4 * place, 4 * place + 14)]
            for place in range(3)
        ]
        made = self.floor.writer.post(
            f"{V1}/signatures/strokes/", strokes=strokes, width=420, height=140, signed_name=name
        )
        self.minutes_pass(1)
        return str(made["id"])

    # -- the repair

    def repair(self, job: str, minutes: int, correction: str) -> None:
        """Clock in, fit, clock out, tell what was done."""
        technician, pk = self.floor.technician, self.jobs[job]
        technician.post(f"{V1}/jobs/{pk}/clock-in/", {})
        self.minutes_pass(minutes)
        for part in technician.get(f"{V1}/jobs/{pk}/")["parts"]:
            technician.post(f"{V1}/job-parts/{part['id']}/fit/", {})
        technician.post(f"{V1}/jobs/{pk}/clock-out/", {})
        version = technician.get(f"{V1}/jobs/{pk}/")["version"]
        technician.post(f"{V1}/jobs/{pk}/finish/", correction=correction, version=version)

    def claim(self, job: str, **more: Any) -> dict[str, Any]:
        """Files the claim and waits until its letter has gone out."""
        claim: dict[str, Any] = self.floor.office.post(f"{V1}/jobs/{self.jobs[job]}/claim/", more)
        if claim.get("letter"):
            self.letter_sent(claim["letter"])
        return claim

    def tag_failed_parts(self, claim: dict[str, Any]) -> None:
        """A tag for each part that is kept for the distributor."""
        for hold in claim["parts_holds"]:
            self.floor.technician.post(f"{V1}/parts-holds/{hold['id']}/papers/", {})

    def invoice(self, paid_by: str = "card") -> dict[str, Any]:
        """The invoice for the rest, by e-mail; paid at the counter, or with '' not yet."""
        writer = self.floor.writer
        invoice: dict[str, Any] = writer.post(f"{self.path}/invoices/", {})
        sent = writer.post(f"{V1}/invoices/{invoice['id']}/send/", {})
        self.letter_sent(sent["letter"])
        if paid_by and float(sent["balance"]) > 0:
            writer.post(f"{V1}/invoices/{invoice['id']}/payments/", amount=sent["balance"], means=paid_by)
        return sent

    def finish(self) -> None:
        self.floor.technician.post(f"{self.path}/finish/", {})

    def made_safe(self, note: str) -> None:
        """The technician signs the note that lets a held unit go."""
        technician = self.floor.technician
        for hold in technician.get(f"{V1}/holds/", open="true", unit=self.order["unit"]["id"])["results"]:
            technician.post(f"{V1}/holds/{hold['id']}/release/", note=note, made_safe=True)

    def order_paper(self) -> None:
        self.floor.writer.post(f"{self.path}/papers/", {})

    def give_back(self, to: str = "") -> None:
        self.floor.writer.post(f"{self.path}/give-back/", given_to=to or self.order["customer"]["name"])
