"""Numbers without gaps, saves that overwrite nobody, rates on a day."""

import datetime as dt
import threading
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connections, transaction

from orders.models import Customer
from shopdocs.rest.refusals import Refused, Stale
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from shopdocs.shops.services import add_staff, labour_rate, next_number, save_changes, tax_rates


@pytest.mark.django_db(transaction=True)
def test_numbers_have_no_gap_even_when_one_fails_and_many_ask_at_once(shop: Shop) -> None:
    with transaction.atomic():
        assert next_number(shop=shop, series="invoice") == "I-1001"
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        next_number(shop=shop, series="invoice")
        raise ZeroDivisionError
    got: list[str] = []

    def ask() -> None:
        try:
            with transaction.atomic():
                got.append(next_number(shop=shop, series="invoice"))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [f"I-{n}" for n in range(1002, 1010)]


@pytest.mark.django_db
def test_series_of_two_shops_do_not_touch(shop: Shop, other_shop: Shop) -> None:
    assert [next_number(shop=s, series="order") for s in (shop, other_shop, shop)] == ["RO-1001", "RO-1001", "RO-1002"]


@pytest.mark.django_db
def test_a_stale_save_is_refused_with_what_changed(shop: Shop) -> None:
    row = Customer.objects.create(shop=shop, name="Hanne Ruud", phone="555-0101")
    mine = Customer.objects.for_shop(shop).get(pk=row.pk)
    yours = Customer.objects.for_shop(shop).get(pk=row.pk)
    saved = save_changes(yours, version=1, changes={"phone": "555-0199"})
    assert saved.version == 2
    with pytest.raises(Stale) as refused:
        save_changes(mine, version=1, changes={"phone": "555-0102"})
    assert refused.value.extra == {"current_version": 2, "changed": {"phone": "555-0199"}}
    assert Customer.objects.for_shop(shop).get(pk=row.pk).phone == "555-0199"


@pytest.mark.django_db
def test_the_rate_of_the_day_is_the_newest_that_has_begun(shop: Shop) -> None:
    day = dt.date(2026, 7, 1)
    with pytest.raises(Refused):
        labour_rate(shop=shop, payer="customer", day=day)
    for payer, rate, start in [("", "90", 1), ("", "95", 7), ("warranty", "70", 2)]:
        LabourRate.objects.create(shop=shop, payer=payer, per_hour=Decimal(rate), starts_on=dt.date(2026, start, 1))
    ask = [labour_rate(shop=shop, payer="customer", day=d) for d in (dt.date(2026, 6, 30), day)]
    assert ask == [Decimal(90), Decimal(95)]
    assert labour_rate(shop=shop, payer="warranty", day=day) == Decimal(70), "a payer's own rate comes first"


@pytest.mark.django_db
def test_taxes_in_force_are_one_per_name(shop: Shop, other_shop: Shop) -> None:
    for owner, name, percent, start, end in [
        (shop, "State", "5", dt.date(2025, 1, 1), None),
        (shop, "State", "6", dt.date(2026, 1, 1), None),
        (shop, "Old", "1", dt.date(2020, 1, 1), dt.date(2024, 12, 31)),
        (other_shop, "Theirs", "9", dt.date(2020, 1, 1), None),
    ]:
        TaxRate.objects.create(
            shop=owner,
            name=name,
            percent=Decimal(percent),
            on_kinds=["part"],
            on_payers=["customer"],
            starts_on=start,
            ends_on=end,
        )
    assert [(t.name, t.percent) for t in tax_rates(shop=shop, day=dt.date(2026, 5, 5))] == [("State", Decimal(6))]


@pytest.mark.django_db
def test_the_owner_holds_all_roles_and_roles_must_exist(shop: Shop, owner: Staff) -> None:
    assert set(owner.roles) == {"writer", "technician", "office", "owner"}
    with pytest.raises(ValidationError):
        add_staff(shop=shop, username="x", full_name="X Y", password="long enough", roles=["king"])


@pytest.mark.django_db
def test_the_date_of_the_shop_is_not_the_date_in_utc(shop: Shop, monkeypatch: Any) -> None:
    from django.utils import timezone

    late = dt.datetime(2026, 7, 1, 2, 30, tzinfo=dt.UTC)  # still 30 June in New York
    monkeypatch.setattr(timezone, "now", lambda: late)
    assert shop.today() == dt.date(2026, 6, 30)
