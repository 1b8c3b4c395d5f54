"""The shape of the house: pure rooms, empty __init__ files, settings read in one place, scoped queries, one table of roles."""

import ast
import os
import re
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.urls import URLPattern, URLResolver, get_resolver
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from shopdocs.rest.roles import ANYONE, ROLES

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("shopdocs", "orders", "warranty")
PURE = (
    "shopdocs.money",
    "shopdocs.brackets",
    "shopdocs.card_numbers",
    "shopdocs.periods",
    "orders.rules",
    "orders.papers",
    "warranty.coverage",
    "warranty.evidence",
    "warranty.papers",
    "shopdocs.documents.press",
    "shopdocs.documents.photos",
)


def modules_of(room: str) -> list[str]:
    base = ROOT / room.replace(".", "/")
    if base.with_suffix(".py").exists():
        return [room]
    return [f"{room}.{path.stem}" for path in sorted(base.glob("*.py")) if path.stem != "__init__"]


@pytest.mark.parametrize("room", PURE)
def test_a_pure_room_loads_without_django(room: str) -> None:
    modules = modules_of(room)
    assert modules, f"{room} holds no module"
    code = f"import importlib, sys\nfor m in {modules!r}: importlib.import_module(m)\n" + (
        "bad = sorted(m for m in sys.modules if m.split('.')[0] in ('django', 'rest_framework', 'celery', 'redis', 'psycopg'))\n"
        "sys.exit(', '.join(bad) or 0)"
    )
    clean = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=clean, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def source_files() -> list[Path]:
    return [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py")) if "migrations" not in path.parts]


def test_package_inits_are_empty() -> None:
    # A models package is where Django looks for an app's models; every other package imports nothing by itself.
    full = [
        str(path.relative_to(ROOT))
        for path in source_files()
        if path.name == "__init__.py" and path.read_text().strip() and path.parent.name != "models"
    ]
    assert full == []


def test_settings_are_read_in_one_place_only() -> None:
    readers = [
        str(p.relative_to(ROOT))
        for p in source_files()
        if re.search(r"os\.environ(\[|\.get)|os\.getenv", p.read_text())
    ]
    assert readers == ["shopdocs/settings.py"]


def test_the_queue_is_never_bypassed() -> None:
    word = "task_always" + "_eager"
    assert [str(p) for p in [*source_files(), *ROOT.glob("tests/**/*.py")] if word in p.read_text().lower()] == []


def calls(path: Path) -> list[tuple[int, str]]:
    """Every dotted call chain of a file, as text, with its line."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call):
            found.append((node.lineno, ast.unparse(node.func)))
    return found


SHOPLESS = ("User", "Shop", "Staff", "Token", "NumberSeries", "Event")
"""Models that are not a shop's records, or carry the shop in their own filter."""


def test_every_query_starts_at_the_callers_shop() -> None:
    wrong = []
    for path in source_files():
        for line, chain in calls(path):
            match = re.search(r"(\w+)\.objects\.(\w+)", chain)
            if not match or match[1] in SHOPLESS:
                continue
            if match[2] not in ("for_shop", "create", "bulk_create", "none"):
                wrong.append(f"{path.relative_to(ROOT)}:{line}: {match[0]}")
    assert wrong == []


def test_nobody_enqueues_by_hand() -> None:
    allowed = {"shopdocs/documents/services/doorbell.py"}
    wrong = []
    for path in source_files():
        name = str(path.relative_to(ROOT))
        if name in allowed:
            continue
        wrong += [
            f"{name}:{n}: {c}" for n, c in calls(path) if re.search(r"on_commit$|apply_async$|\.delay$|send_task$", c)
        ]
    assert wrong == []


def test_no_naive_clock_and_no_float_money() -> None:
    wrong = []
    for path in source_files():
        name = str(path.relative_to(ROOT))
        if name.startswith("shopdocs/demo/pictures"):
            continue
        wrong += [
            f"{name}:{n}: {c}"
            for n, c in calls(path)
            if re.search(r"date\.today$|datetime\.(utcnow|today)$|FloatField$", c)
        ]
    assert wrong == []


def endpoints(resolver: Any = None, prefix: str = "") -> list[tuple[str, str, Any, dict[str, str]]]:
    """Every API address: (path, name, view class, method -> action)."""
    found: list[tuple[str, str, Any, dict[str, str]]] = []
    for entry in (resolver or get_resolver()).url_patterns:
        path = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            found += endpoints(entry, path)
        elif isinstance(entry, URLPattern) and path.startswith("api/v1/"):
            view = entry.callback
            cls = getattr(view, "cls", None) or view.view_class  # type: ignore[attr-defined]
            actions = getattr(view, "actions", None) or {
                m: m for m in ("get", "post", "put", "patch", "delete") if hasattr(cls, m)
            }
            found.append((path, entry.name or "", cls, dict(actions)))
    return found


def test_every_door_states_who_may_use_it() -> None:
    doors = endpoints()
    assert len(doors) > 20
    for path, _, cls, actions in doors:
        for method, action in actions.items():
            wanted = cls.needs.get(action)
            assert wanted, f"{method.upper()} {path}: no roles stated for '{action}' in {cls.__name__}.needs"
            assert wanted == ANYONE or wanted <= set(ROLES), f"{path}: unknown role in {wanted}"


def role_lines() -> list[str]:
    lines = []
    for path, _, cls, actions in endpoints():
        for method, action in actions.items():
            if method == "head":
                continue  # a view that has answered once counts it beside GET
            lines.append(f"{method.upper():6} /{path}  {' '.join(sorted(cls.needs[action]))}")
    return sorted(set(lines), key=lambda line: (line.split()[1], line.split()[0]))


def test_the_permission_table_is_the_committed_one() -> None:
    """A change of who may do what shows in a diff. UPDATE_TABLES=1 writes it anew."""
    file = ROOT / "tests" / "permissions.txt"
    now = "\n".join(role_lines()) + "\n"
    if os.environ.get("UPDATE_TABLES") == "1":
        file.write_text(now)
    assert file.read_text() == now


ANSWERED = re.compile(r"<(?:\w+:)?(\w+)>")


@pytest.mark.django_db
def test_every_door_answers_each_role_as_the_table_says(
    shop: Any, writer: Any, technician: Any, office: Any, api: Any
) -> None:
    """Walks the table: refused is 401 or 403, let in is anything else (mostly 404 or 400 for made-up ids)."""
    people = {"writer": writer, "technician": technician, "office": office}
    nobody = api(None)
    for path, _, cls, actions in endpoints():
        address = "/" + ANSWERED.sub("00000000-0000-4000-8000-000000000000", path)
        for method, action in actions.items():
            wanted = cls.needs[action]
            if wanted == ANYONE:
                continue
            call = {"path": address, "data": {}, "format": "json"} if method != "get" else {"path": address}
            assert getattr(nobody, method)(**call).status_code == 401, f"{method} {address} without sign-in"
            if "sign-out" in address:
                continue
            for role, staff in people.items():
                got = getattr(api(staff), method)(**call).status_code
                assert got != 500
                assert (got == 403) == (role not in wanted), f"{method} {address} as {role}: {got}"


def test_the_api_description_wants_the_version_of_every_record_that_people_edit() -> None:
    described = yaml.safe_load((ROOT / "shopdocs/rest/openapi.yaml").read_text())
    without = set()
    for path, doors in described["paths"].items():
        if "patch" not in doors:
            continue
        for body in doors["patch"]["requestBody"]["content"].values():
            schema = described["components"]["schemas"][body["schema"]["$ref"].rsplit("/", 1)[1]]
            if "version" not in schema.get("required", ()):
                without.add(path)
    assert without == set()


def test_the_roots_hold_only_what_the_plan_names() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if tracked.returncode:
        pytest.fail("this check reads git's list of files")
    top = {line.split("/", 1)[0] for line in tracked.stdout.splitlines()}
    plan = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "manage.py",
        "shopdocs",
        "orders",
        "warranty",
        "tests",
        "requirements.lock",
    }
    assert {name for name in top if not name.startswith(".")} == plan


def test_the_lock_file_names_versions_and_hashes_and_no_address() -> None:
    text = (ROOT / "requirements.lock").read_text()
    pins = re.findall(r"^([a-z0-9.-]+)(?:\[[a-z0-9,-]+\])?==", text, re.M)
    assert len(pins) > 60
    assert text.count("--hash=sha256:") >= len(pins)
    assert "://" not in text and not re.search(r"^--|^-i |^-f ", text, re.M)


def test_the_lock_file_pins_each_package_with_the_extras_that_others_want_of_it() -> None:
    """Where it does not, pip looks for the newest release of the package with its extra, and refuses it: it has no hash."""
    text = (ROOT / "requirements.lock").read_text()
    pinned = {
        name: set(filter(None, extras.split(",")))
        for name, extras in re.findall(r"^([a-z0-9.-]+)(?:\[([a-z0-9,-]+)\])?==", text, re.M)
    }
    missing = []
    for name in pinned:
        try:
            wanted = distribution(name).requires or []
        except PackageNotFoundError:
            continue  # pinned for another system
        for one in map(Requirement, wanted):
            at = one.marker is None or any(one.marker.evaluate({"extra": extra}) for extra in ("", *pinned[name]))
            if at and not one.extras <= pinned.get(canonicalize_name(one.name), set()):
                missing.append(f"{name} wants {one}")
    assert missing == []
