"""32 invoices at the same moment, some of which fail midway: numbers in a row, no gap, no double, each order billed once."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest
from django.db import connection, transaction
from django.utils import timezone

from orders.models import CreditNote, Invoice, Job, RepairOrder
from orders.services.credits import issue_credit_note
from orders.services.invoices import issue_invoice
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import NumberSeries, Shop, Staff
from tests.orders.back_kit import agreed, season_service, set_rates

pytestmark = pytest.mark.django_db(transaction=True)
ROOT = Path(__file__).resolve().parents[3]
MANY, PROCESSES = 32, 4
EXPECTED = [f"I-{1000 + number}" for number in range(1, MANY + 1)]


class Midway(Exception):
    """What breaks a transaction off after its number was taken."""


def bill(shop: Shop, by: Staff, order_id: Any, fails: bool) -> str:
    """The number of the invoice; with `fails` a first attempt is broken off after it had one, as by a lost connection."""
    if fails:
        try:
            with transaction.atomic():
                issue_invoice(shop=shop, by=by, order_id=order_id)
                raise Midway
        except Midway:
            pass
    return issue_invoice(shop=shop, by=by, order_id=order_id).number


@pytest.fixture
def finished(shop: Shop, owner: Staff, order: RepairOrder) -> list[Any]:
    """Ids of 32 finished orders, none of them billed."""
    set_rates(shop)
    orders = [order] + [
        RepairOrder.objects.create(
            shop=shop, number=f"X-{at}", unit=order.unit, customer=order.customer, received_on=order.received_on,
            complaint="service", taken_in_by=owner.user,
        )
        for at in range(1, MANY)
    ]  # fmt: skip
    for one in orders:
        season_service(shop, owner, one)
        agreed(shop, owner, one)
    Job.objects.update(state="done", correction="done")
    RepairOrder.objects.update(state="finished", finished_at=timezone.now())
    return [one.pk for one in orders]


def in_a_row(numbers: list[str]) -> None:
    """What was answered, what is stored, and the series itself all say 1 to 32."""
    assert sorted(numbers) == EXPECTED
    assert sorted(Invoice.objects.values_list("number", flat=True)) == EXPECTED
    assert Invoice.objects.values("order").distinct().count() == MANY
    assert NumberSeries.objects.get(name="invoice").last == 1000 + MANY
    assert sorted(Invoice.objects.values_list("facts__number", flat=True)) == EXPECTED
    assert sorted(Invoice.objects.values_list("document__number", flat=True)) == EXPECTED


def test_32_people_at_once(shop: Shop, owner: Staff, finished: list[Any]) -> None:
    together = Barrier(MANY)

    def one(place: int) -> str:
        try:
            together.wait(60)
            return bill(shop, owner, finished[place], fails=place % 5 == 0)
        finally:
            connection.close()

    with ThreadPoolExecutor(MANY) as pool:
        in_a_row(list(pool.map(one, range(MANY))))


def test_32_people_want_the_same_invoice(shop: Shop, owner: Staff, finished: list[Any]) -> None:
    together = Barrier(MANY)

    def one(place: int) -> str:
        try:
            together.wait(60)
            return bill(shop, owner, finished[place % 4], fails=False)
        except Conflict as conflict:
            return f"refused: {conflict.problems[0].field}"
        finally:
            connection.close()

    with ThreadPoolExecutor(MANY) as pool:
        got = list(pool.map(one, range(MANY)))
    assert sorted(set(got)) == [*EXPECTED[:4], "refused: order"]
    assert sorted(Invoice.objects.values_list("number", flat=True)) == EXPECTED[:4]


def test_credit_notes_of_many_at_once(shop: Shop, owner: Staff, finished: list[Any]) -> None:
    made = [issue_invoice(shop=shop, by=owner, order_id=pk) for pk in finished[:8]]
    together = Barrier(16)

    def one(place: int) -> str:
        try:
            together.wait(60)
            return issue_credit_note(shop=shop, by=owner, invoice_id=made[place % 8].pk, reason="all of it").number
        except Conflict:
            return "refused"
        finally:
            connection.close()

    with ThreadPoolExecutor(16) as pool:
        got = sorted(pool.map(one, range(16)))
    assert got == [*(f"CN-{1000 + number}" for number in range(1, 9)), *["refused"] * 8]
    assert sorted(CreditNote.objects.values_list("number", flat=True)) == got[:8]


WORKS = """
import json, sys, time
from pathlib import Path
import django
django.setup()
from django.db import connection
from shopdocs.shops.models import Shop, Staff
from tests.orders.services.test_numbers_at_once import bill
ready, go, listed = Path(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])
shop, by = Shop.objects.get(), Staff.objects.select_related("user", "shop").get()
ready.touch()
while not go.exists():
    time.sleep(0.005)
print(json.dumps([connection.vendor, [bill(shop, by, pk, fails) for pk, fails in listed]]))
"""


def test_four_processes_at_once(shop: Shop, owner: Staff, finished: list[Any], tmp_path: Path) -> None:
    """Processes of their own share nothing but the database: on SQLite a file with its write lock."""
    where = connection.settings_dict
    address = (
        f"sqlite:///{where['NAME']}"
        if connection.vendor == "sqlite"
        else f"postgres://{where['USER']}:{where['PASSWORD']}@{where['HOST']}:{where['PORT'] or 5432}/{where['NAME']}"
    )
    environment = {
        **os.environ, "DJANGO_SETTINGS_MODULE": "shopdocs.settings", "DATABASE_URL": address, "VAR_DIR": str(tmp_path),
        "REDIS_URL": "", "EMBEDDED_WORKER": "false", "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    work = [(str(pk), at % 5 == 0) for at, pk in enumerate(finished)]
    go = tmp_path / "go"
    running = []
    for place in range(PROCESSES):
        ready = tmp_path / f"ready-{place}"
        told = [sys.executable, "-c", WORKS, str(ready), str(go), json.dumps(work[place::PROCESSES])]
        running.append((ready, subprocess.Popen(told, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)))
    end = time.monotonic() + 120
    while not all(ready.exists() for ready, _ in running) and time.monotonic() < end:
        assert all(process.poll() is None for _, process in running), "a process ended before the start"
        time.sleep(0.01)
    go.touch()
    said = [process.communicate(timeout=120)[0] for _, process in running]
    assert [process.returncode for _, process in running] == [0] * PROCESSES
    answers = [json.loads(out.splitlines()[-1]) for out in said]
    assert {vendor for vendor, _ in answers} == {connection.vendor}
    in_a_row([number for _, numbers in answers for number in numbers])
