"""What every door shares: sign-in, the shop acted at, strict JSON, refusals that name field, problem and remedy."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import get_resolver
from rest_framework.serializers import DateTimeField
from rest_framework.test import APIClient

from shopdocs.rest.serializers import Moment, Strict
from shopdocs.shops.models import Staff

PASSWORD = "correct horse battery"
pytestmark = pytest.mark.django_db


def problems(response: Any) -> dict[str, tuple[str, str]]:
    assert response["Content-Type"] == "application/problem+json"
    body = response.json()
    assert body["status"] == response.status_code
    for error in body["errors"]:
        assert error["problem"] and error["remedy"], error
    return {error["field"]: (error["problem"], error["remedy"]) for error in body["errors"]}


def test_signing_in_gives_a_token_that_opens_doors(owner: Staff) -> None:
    client = APIClient()
    answer = client.post("/api/v1/sign-in/", {"username": "owner-willow", "password": PASSWORD}, format="json")
    assert answer.status_code == 200, answer.content
    assert answer.json()["places"] == [
        {"shop": "willow", "name": "Willow Power Equipment", "roles": ["writer", "technician", "office", "owner"]}
    ]
    client.credentials(HTTP_AUTHORIZATION=f"Token {answer.json()['token']}")
    assert client.get("/api/v1/who/").json()["place"]["shop"] == "willow"
    assert client.post("/api/v1/sign-out/").status_code == 204
    assert client.get("/api/v1/who/").status_code == 401


def test_a_wrong_password_and_no_token_are_told_apart_from_a_wrong_role(api: Any, technician: Staff) -> None:
    wrong = api(None).post("/api/v1/sign-in/", {"username": "technician-willow", "password": "guess"}, format="json")
    assert wrong.status_code == 401
    assert "password" in problems(wrong)
    assert api(None).get("/api/v1/shop/").status_code == 401
    other_role = api(technician).patch("/api/v1/shop/", {"name": "Mine"}, format="json")
    assert other_role.status_code == 403
    assert "role" in problems(other_role)["Authorization"][1]


def test_somebody_who_left_the_shop_is_let_in_no_more(api: Any, technician: Staff) -> None:
    client = api(technician)
    assert client.get("/api/v1/who/").status_code == 200
    Staff.objects.filter(pk=technician.pk).update(active=False)
    assert client.get("/api/v1/who/").status_code == 403


def test_who_works_at_two_shops_says_which(api: Any, owner: Staff, other_shop: Any) -> None:
    Staff.objects.create(shop=other_shop, user=owner.user, roles=["technician"])
    client = api(owner)
    asked = client.get("/api/v1/who/")
    assert asked.status_code == 400 and "hollow, willow" in problems(asked)["Shop"][1]
    assert client.get("/api/v1/who/", headers={"Shop": "hollow"}).json()["place"]["roles"] == ["technician"]
    assert client.patch("/api/v1/shop/", {"name": "X"}, format="json", headers={"Shop": "hollow"}).status_code == 403
    assert client.get("/api/v1/who/", headers={"Shop": "elsewhere"}).status_code == 403


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b'{"name": NaN}', "NaN is not a JSON number"),
        (b'{"name": "a", "name": "b"}', "'name' stands twice"),
        (b'{"name": "\xff"}', "not JSON"),
        (b"{", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b'{"a":' * 50 + b"1" + b"}" * 50, "levels deep"),
    ],
)
def test_json_is_read_strictly(api: Any, owner: Staff, body: bytes, says: str) -> None:
    answer = api(owner).patch("/api/v1/shop/", body, content_type="application/json")
    assert answer.status_code == 400
    told = " ".join(p for p, _ in problems(answer).values())
    assert says in told or "nested" in told


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("nmae", "Typing slip"),
        ("name", 5),
        ("name", "two\nlines"),
        ("name", "x" * 201),
        ("name", ""),
        ("name", "\x00"),
        ("accent", "red"),
        ("time_zone", "Mars/Olympus"),
        ("estimate_days", "ten"),
        ("estimate_days", 0),
        ("email", "nobody"),
        ("paper", "legal"),
    ],
)
def test_a_bad_field_is_named_with_its_remedy_and_nothing_changes(
    api: Any, owner: Staff, field: str, value: Any
) -> None:
    answer = api(owner).patch("/api/v1/shop/", {"version": 1, "city": "Elsewhere", field: value}, format="json")
    assert answer.status_code == 400, answer.content
    assert field in problems(answer)
    owner.shop.refresh_from_db()
    assert owner.shop.city == "Millbrook Falls"


def test_two_people_change_the_shop_and_the_second_is_told_what_changed(api: Any, owner: Staff) -> None:
    client = api(owner)
    seen = client.get("/api/v1/shop/").json()["version"]
    first = client.patch("/api/v1/shop/", {"version": seen, "city": "Aldersham"}, format="json")
    assert (first.status_code, first.json()["version"]) == (200, seen + 1)
    second = client.patch("/api/v1/shop/", {"version": seen, "city": "Brookfield", "phone": "555-0142"}, format="json")
    assert second.status_code == 409
    assert second.json()["changed"] == {"city": "Aldersham"}
    assert problems(client.patch("/api/v1/shop/", {"city": "Brookfield"}, format="json"))["version"]
    nothing = client.patch("/api/v1/shop/", {"version": seen + 1}, format="json")
    assert nothing.status_code == 400 and problems(nothing)["body"][0] == "Nothing is to be changed."
    owner.shop.refresh_from_db()
    assert (owner.shop.city, owner.shop.version) == ("Aldersham", seen + 1)


def test_a_body_over_the_limit_is_refused_before_it_is_read(api: Any, owner: Staff, settings: Any) -> None:
    settings.MAX_BODY_BYTES = 1000
    answer = api(owner).patch("/api/v1/shop/", {"name": "x" * 1200}, format="json")
    assert answer.status_code == 413
    assert "1,000" in problems(answer)["body"][0]


def test_form_data_where_json_is_asked_for_is_refused_with_the_remedy(api: Any, owner: Staff) -> None:
    answer = api(owner).patch("/api/v1/shop/", {"name": "A"}, format="multipart")
    assert answer.status_code == 415
    assert "content type" in problems(answer)["Content-Type"][1]


def test_sign_in_is_throttled(api: Any, shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from rest_framework.throttling import ScopedRateThrottle

    monkeypatch.setattr(ScopedRateThrottle, "THROTTLE_RATES", {"sign-in": "3/min"})
    codes = [
        api(None).post("/api/v1/sign-in/", {"username": "x", "password": "y"}, format="json").status_code
        for _ in range(4)
    ]
    assert codes[-1] == 429 and 429 not in codes[:3]


def test_the_api_describes_itself_from_packaged_files(client: Any) -> None:
    schema = client.get("/api/schema/", headers={"Accept": "application/json"})
    assert schema.json()["openapi"].startswith("3.1")
    html = client.get("/api/docs/").content.decode()
    outside = [part for part in html.split('"') if part.startswith(("http://", "https://", "//"))]
    assert [part for part in outside if "testserver" not in part] == []
    assets = [part for part in html.split('"') if part.startswith("/static/")]
    assert assets
    for asset in assets:
        assert client.get(asset).status_code == 200, asset


def test_rates_change_from_a_day_on_and_the_old_one_ends(api: Any, owner: Staff) -> None:
    client = api(owner)
    first = client.post("/api/v1/labour-rates/", {"per_hour": "90.00", "starts_on": "2026-01-01"}, format="json")
    assert first.status_code == 201, first.content
    client.post("/api/v1/labour-rates/", {"per_hour": "95.00", "starts_on": "2026-07-01"}, format="json")
    rows = client.get("/api/v1/labour-rates/").json()["results"]
    assert [(r["starts_on"], r["ends_on"]) for r in rows] == [("2026-07-01", None), ("2026-01-01", "2026-06-30")]
    again = client.post("/api/v1/labour-rates/", {"per_hour": "99.00", "starts_on": "2026-07-01"}, format="json")
    assert again.status_code == 409 and "starts_on" in problems(again)


def test_a_tax_needs_kinds_payers_and_a_believable_percent(api: Any, owner: Staff) -> None:
    good = {
        "name": "County",
        "percent": "1.25",
        "on_kinds": ["part"],
        "on_payers": ["customer"],
        "starts_on": "2026-01-01",
    }
    for field, value in [
        ("percent", "100"),
        ("percent", "-1"),
        ("percent", "1e400"),
        ("percent", "abc"),
        ("on_kinds", ["gold"]),
        ("on_kinds", []),
        ("on_payers", ["nobody"]),
        ("starts_on", "2026-02-30"),
        ("starts_on", "1066-10-14"),
    ]:
        answer = api(owner).post("/api/v1/tax-rates/", {**good, field: value}, format="json")
        assert answer.status_code == 400, (field, value)
        assert any(name.startswith(field) for name in problems(answer)), (field, problems(answer))
    assert api(owner).get("/api/v1/tax-rates/").json()["count"] == 0
    assert api(owner).post("/api/v1/tax-rates/", good, format="json").status_code == 201


def test_an_unknown_address_and_a_fault_of_ours_are_told_in_the_same_form(
    client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    missing = client.get("/api/v1/nowhere/")
    assert missing.status_code == 404 and "/api/docs/" in problems(missing)["address"][1]
    from shopdocs.shops.api.people import SignIn

    def fault(self: Any, request: Any) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr(SignIn, "post", fault)
    client.raise_request_exception = False
    broken = client.post("/api/v1/sign-in/")
    assert broken.status_code == 500 and problems(broken)


def test_a_method_that_no_door_has_is_told_so_and_not_called_anothers_work(api: Any, owner: Staff) -> None:
    for path, method in [
        ("/api/v1/shop/", "delete"),
        ("/api/v1/labour-rates/", "put"),
        ("/api/v1/check-in/", "delete"),
    ]:
        answer = getattr(api(owner), method)(path, {}, format="json")
        assert answer.status_code == 405, (path, answer.content)
        assert problems(answer)
    assert api(None).delete("/api/v1/shop/").status_code == 401


def test_a_filter_does_not_tell_what_another_shop_has(api: Any, owner: Staff, other_shop: Any) -> None:
    from orders.models import Maker

    theirs = Maker.objects.create(shop=other_shop, name="Theirs").pk
    mine = Maker.objects.create(shop=owner.shop, name="Mine").pk
    answers = [api(owner).get(f"/api/v1/models/?maker={pk}") for pk in (theirs, "00000000-0000-4000-8000-000000000000")]
    assert [answer.status_code for answer in answers] == [400, 400]
    assert problems(answers[0]).keys() == problems(answers[1]).keys() == {"maker"}
    assert api(owner).get(f"/api/v1/models/?maker={mine}").json()["count"] == 0


def strict_forms(form: type[Strict] = Strict) -> Iterator[type[Strict]]:
    for one in form.__subclasses__():
        yield one
        yield from strict_forms(one)


def test_no_form_takes_a_bare_wall_clock_for_a_moment() -> None:
    """The framework's own field would silently take it as UTC."""
    assert get_resolver().url_patterns  # every door is loaded
    moments = [
        (form.__name__, name, type(field))
        for form in strict_forms()
        for name, field in form._declared_fields.items()
        if isinstance(field, DateTimeField)
    ]
    assert {name for _, name, _ in moments} >= {"started_at", "ended_at", "called_at"}
    assert [one for one in moments if not issubclass(one[2], Moment)] == []
