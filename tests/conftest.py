"""What tests share: a shop with its people, signed-in clients, and a worker that really works."""

from __future__ import annotations

import os
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from hypothesis import settings as property_settings
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient
from xdist.scheduler import LoadFileScheduling

from shopdocs.shops.models import Shop, Staff, User
from shopdocs.shops.services import add_staff, open_shop

# A busy machine is no failure: how long one example takes is for tests/bench.
property_settings.register_profile("steady", deadline=None)
property_settings.load_profile("steady")

PASSWORD = "correct horse battery"
QUEUE = f"shopdocs-tests-{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"
"""Every test process rings at a bell of its own: they may share one Redis."""


def pytest_report_header() -> str:
    engine = settings.DATABASES["default"]["ENGINE"].rsplit(".", 1)[-1]
    return f"shopdocs: database {engine}, queue {'redis' if settings.REDIS_URL else 'in memory'}"


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """What was skipped is said loudly, each with its reason."""
    skipped = terminalreporter.stats.get("skipped", [])
    if skipped:
        terminalreporter.write_sep("!", f"SKIPPED: {len(skipped)} tests", red=True)
        for report in skipped:
            reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
            terminalreporter.write_line(f"  {report.nodeid}: {reason}")


LONG = (
    "tests/warranty/api/test_every_fact_has_a_door.py", "tests/test_flow.py", "tests/shopdocs/demo/test_begin_again.py",
    "tests/shopdocs/demo/test_restart.py", "tests/test_paper_is_json_is_api.py", "tests/shopdocs/documents/test_press_hostile.py",
)  # fmt: skip
"""Files of few tests that take long, the longest first. Begun last, one process would work on them while the others wait."""
EACH_BY_ITSELF = {"tests/test_paper_is_json_is_api.py", "tests/shopdocs/documents/test_press_hostile.py"}
"""Files whose tests are long, alike, and share nothing: any process takes the next one."""


class Spread(LoadFileScheduling):
    """A file to a process, as it stays in one, but for those of EACH_BY_ITSELF."""

    def _split_scope(self, nodeid: str) -> str:
        file = super()._split_scope(nodeid)
        return nodeid if file in EACH_BY_ITSELF else file


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling | None:
    if config.getvalue("dist") != "loadfile":
        return None
    config.option.loadscopereorder = False  # by number of tests: it would put the long ones last
    return Spread(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With ONLY_SERVICES=1 only the tests that touch database or queue run: the second of the two ways."""
    if os.environ.get("ONLY_SERVICES") == "1":
        touching = [item for item in items if _touches_services(item)]
        config.hook.pytest_deselected(items=[item for item in items if item not in set(touching)])
        items[:] = touching
    if hasattr(config, "workerinput"):
        places = {name: place for place, name in enumerate(in_turn([_file(item) for item in items]))}
        items.sort(key=lambda item: places[_file(item)])


def in_turn(files: list[str]) -> list[str]:
    """The file of each test -> in which order several processes begin the files: long ones, then those of most tests."""
    tests = Counter(files)
    long = {name: place for place, name in enumerate(LONG)}
    return sorted(tests, key=lambda name: (long.get(name, len(LONG)), -tests[name]))


def _file(item: pytest.Item) -> str:
    return item.nodeid.split("::", 1)[0]


def _touches_services(item: pytest.Item) -> bool:
    return item.get_closest_marker("django_db") is not None or bool(
        {"db", "transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
    )


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, settings: Any) -> None:
    """Files and letters of a test stay in the test's own folder."""
    settings.LETTER_FOLDER = str(tmp_path / "letters")
    settings.EMAIL_BACKEND = "shopdocs.documents.mail.FolderBackend"
    settings.STORAGES = {
        **settings.STORAGES,
        "default": {
            "BACKEND": "django.core.files.storage.FileSystemStorage",
            "OPTIONS": {"location": str(tmp_path / "files")},
        },
    }
    # A million rounds per person would be most of the suite's time.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # A corner of the cache of its own: clearing a Redis that other test processes share would empty theirs, and the queue.
    settings.CACHES = {"default": {**settings.CACHES["default"], "KEY_PREFIX": str(tmp_path)}}


def make_shop(slug: str) -> Shop:
    owner = User(username=f"owner-{slug}", first_name="Ottilie", last_name="Vance")
    owner.set_password(PASSWORD)
    owner.save()
    return open_shop(
        slug=slug,
        name=f"{slug.title()} Power Equipment",
        owner=owner,
        street="14 Quarry Lane",
        city="Millbrook Falls",
        region="OH",
        postcode="43999",
        phone="555-0142",
        email=f"desk@{slug}.example",
        time_zone="America/New_York",
    )


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop("willow")


@pytest.fixture
def other_shop(db: None) -> Shop:
    return make_shop("hollow")


def member(shop: Shop, role: str) -> Staff:
    return add_staff(
        shop=shop, username=f"{role}-{shop.slug}", full_name=f"{role.title()} Person", password=PASSWORD, roles=[role]
    )


@pytest.fixture
def owner(shop: Shop) -> Staff:
    return Staff.objects.select_related("user", "shop").get(shop=shop, user__username=f"owner-{shop.slug}")


@pytest.fixture
def writer(shop: Shop) -> Staff:
    return member(shop, "writer")


@pytest.fixture
def technician(shop: Shop) -> Staff:
    return member(shop, "technician")


@pytest.fixture
def office(shop: Shop) -> Staff:
    return member(shop, "office")


@pytest.fixture
def api() -> Callable[[Staff | None], APIClient]:
    """A client signed in as that person (None: nobody), which never follows and never raises."""

    def client(staff: Staff | None) -> APIClient:
        made = APIClient(raise_request_exception=True)
        if staff is not None:
            token, _ = Token.objects.get_or_create(user=staff.user)
            made.credentials(HTTP_AUTHORIZATION=f"Token {token.key}")
        return made

    return client


@pytest.fixture(scope="session", autouse=True)
def _own_queue() -> None:
    from shopdocs.celery import app

    app.conf.task_default_queue = QUEUE
    with app.connection_for_write() as connection:
        app.amqp.queues[QUEUE].bind(connection.default_channel).declare()
        app.amqp.queues[QUEUE].bind(connection.default_channel).purge()


@pytest.fixture
def worker(transactional_db: None) -> Iterator[Any]:
    """A Celery worker in a thread of this process, over whatever queue the settings name; stopped afterwards."""
    from shopdocs.documents.embedded import EmbeddedWorker

    running = EmbeddedWorker()
    running.start()
    yield running
    running.stop()


def wait_for(what: Callable[[], Any], seconds: float = 20) -> Any:
    """Polls until `what` is true and returns it; fails loudly when it never is."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = what()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"waited {seconds} s in vain")


@pytest.fixture
def eventually() -> Callable[..., Any]:
    return wait_for
