"""Plays the month: opens the invented shop, lets its people fill the catalogue, and then the machines come in."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.db import transaction

from shopdocs.shops.models import Event, Shop, User
from shopdocs.shops.services import add_staff, open_shop, record_event

from . import world
from .client import Person, sign_in
from .clock import StoryClock, story_time
from .floor import V1, Floor
from .terms import TERMS
from .visits import MONTH, tells

RATES_FROM = "2024-01-01"


def played_mark() -> str | None:
    """The mark of the newest demo shop whose month is whole, or None; the last line of its history says so."""
    whole = Event.objects.filter(subject="demo", verb="played", shop__slug__startswith=world.SHOP["slug"])
    slug: str | None = whole.order_by("pk").values_list("shop__slug", flat=True).last()
    return None if slug is None else slug.removeprefix(world.SHOP["slug"])


def free_mark() -> str:
    """What is put behind the names of shop and people, so that none is taken: nothing, else '-2', '-3' and so on.

    A month cannot be taken up in the middle, and another shop is never touched: a broken one is left where it is.
    """
    for number in itertools.count(1):
        mark = "" if number == 1 else f"-{number}"
        names = [member.username + mark for member in world.PEOPLE]
        if not Shop.objects.filter(slug=world.SHOP["slug"] + mark).exists() and not (
            User.objects.filter(username__in=names).exists()
        ):
            return mark
    raise AssertionError("numbers do not end")


@transaction.atomic
def open_the_shop(mark: str = "") -> Shop:
    """Shop and people: the one part that has no door, because somebody must be there to sign in first."""
    first = world.PEOPLE[0]
    owner = User(username=first.username + mark, first_name=first.name.split()[0], last_name=first.name.split()[1])
    owner.set_password(world.PASSWORD)
    owner.save()
    shop = open_shop(owner=owner, **{**world.SHOP, "slug": world.SHOP["slug"] + mark})
    for member in world.PEOPLE[1:]:
        add_staff(
            shop=shop,
            username=member.username + mark,
            full_name=member.name,
            password=world.PASSWORD,
            roles=list(member.roles),
        )
    return shop


def people_at_work(address: str, clock: StoryClock, mark: str = "") -> Floor:
    """Everybody signs in."""
    by_name = {member.username: sign_in(address, member.username + mark, world.PASSWORD) for member in world.PEOPLE}
    zone = ZoneInfo(world.SHOP["time_zone"])
    return Floor(by_name["ottilie"], by_name["bram"], by_name["delphine"], by_name["ruth"], clock, zone)


def fill_the_catalogue(floor: Floor) -> None:
    """Rates, taxes, distributors with their terms, makers with their promises, models, operations, parts."""
    owner, office, known = floor.owner, floor.office, floor.known
    for payer, rate in world.LABOUR_RATES:
        owner.post(f"{V1}/labour-rates/", payer=payer, per_hour=rate, starts_on=RATES_FROM)
    for name, percent, kinds in world.TAXES:
        owner.post(
            f"{V1}/tax-rates/", name=name, percent=percent, on_kinds=kinds, on_payers=["customer"], starts_on=RATES_FROM
        )
    known["distributors"] = {
        key: owner.post(f"{V1}/distributors/", row)["id"] for key, row in world.DISTRIBUTORS.items()
    }
    for key, row in world.DISTRIBUTOR_TERMS.items():
        office.post(f"{V1}/distributor-terms/", distributor=known["distributors"][key], starts_on=RATES_FROM, **row)
    known["makers"] = {
        key: owner.post(f"{V1}/makers/", {**row, "distributor": known["distributors"][row["distributor"]]})["id"]
        for key, row in world.MAKERS.items()
    }
    for maker, term in TERMS:
        office.post(f"{V1}/terms/", maker=known["makers"][maker], term=term)
    known["models"] = {
        key: owner.post(f"{V1}/models/", model_fields(model, known))["id"] for key, model in world.MODELS.items()
    }
    known["operations"] = {
        key: owner.post(f"{V1}/operations/", code=code, words=words, hours=hours)["id"]
        for key, (code, words, hours) in world.OPERATIONS.items()
    }
    known["parts"] = {
        key: owner.post(
            f"{V1}/parts/", number=p.number, words=p.words, list_price=p.list_price, cost=p.cost, component=p.component,
            maker=known["makers"][p.maker],
        )["id"]
        for key, p in world.PARTS.items()
    }  # fmt: skip
    known["customers"] = {}


def model_fields(model: world.Model, known: dict[str, dict[str, str]]) -> dict[str, object]:
    return {
        "maker": known["makers"][model.maker],
        "name": model.name,
        "family": model.family,
        "power_source": model.power_source,
        "hand_held": model.hand_held,
        "displacement_cc": model.displacement_cc,
    }


def play(address: str, tell: Callable[[str], None], mark: str = "") -> list[str]:
    """Plays the whole month against the service at `address` and gives the orders' ids. `tell` hears every step."""
    today = dt.datetime.now(ZoneInfo(world.SHOP["time_zone"])).date()
    first_morning = dt.datetime.combine(
        today - dt.timedelta(days=MONTH[0][0]), dt.time(8), tzinfo=ZoneInfo(world.SHOP["time_zone"])
    )
    orders = []
    with story_time(first_morning) as clock:
        shop = open_the_shop(mark)
        floor = people_at_work(address, clock, mark)
        fill_the_catalogue(floor)
        tell("the shop opens, with its catalogue, rates and terms")
        for days_before, story in MONTH:
            floor.at(today - dt.timedelta(days=days_before), 9)
            orders.append(story(floor))
            tell(tells(story))
    record_event(shop=shop, subject="demo", verb="played")
    return orders


def visitor(address: str, mark: str = "") -> Person:
    """The owner, signed in, to fetch the papers afterwards."""
    return sign_in(address, world.PEOPLE[0].username + mark, world.PASSWORD)
