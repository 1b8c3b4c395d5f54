"""Every setting that is read is described in DEVELOPERS.md with the default that it really has, and nothing else is."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from shopdocs import settings as shop_settings

ROOT = Path(__file__).resolve().parents[2]
IN_WORDS = {
    "VAR_DIR": "`var/` in the project",
    "SECRET_KEY": "made once, kept in `VAR_DIR`",
    "DATABASE_URL": "SQLite in `VAR_DIR`",
    "STORAGE_URL": "`files/` in `VAR_DIR`",
    "LETTER_FOLDER": "`letters/` in `VAR_DIR`",
}
"""Defaults that are places: what a process without any setting makes of them is looked at below."""


def read_names(source: str) -> set[str]:
    """The names that settings.py takes from the environment: `env("NAME")` or `env.kind("NAME")`, at any depth."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not node.args or not isinstance(node.args[0], ast.Constant):
            continue
        if ast.unparse(node.func).split(".")[0] == "env":
            found.add(str(node.args[0].value))
    return found


def rows(text: str) -> dict[str, tuple[str, str]]:
    """Name, then default and words, of each row of the table under 'Settings'."""
    table = text.split("## Settings", 1)[1].split("\n## ", 1)[0]
    found = re.findall(r"^\| `([A-Z_]+)` \| (.+?) \| (.+?) \|$", table, re.M)
    assert len(found) == len({name for name, _, _ in found}), "a setting is described twice"
    return {name: (default, words) for name, default, words in found}


def spelled(value: object) -> str:
    """A default as the table writes it."""
    if value == "":
        return "empty"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f"`{','.join(value) if isinstance(value, list) else value}`"


def faults(source: str, text: str) -> list[str]:
    """Where settings.py and the table differ, each in a line."""
    read, described = read_names(source), rows(text)
    known = shop_settings.ENV
    out = [f"{name} is read and not described" for name in sorted(read - set(described))]
    out += [f"{name} is described and not read" for name in sorted(set(described) - read)]
    out += [f"{name} has no type and default in ENV" for name in sorted(read - set(known))]
    out += [f"{name} stands in ENV and is not read" for name in sorted(set(known) - read)]
    for name in sorted(read & set(described) & set(known)):
        default, words = described[name]
        real = IN_WORDS.get(name) or spelled(known[name][1])
        if default != real:
            out.append(f"{name} is {real} by default, not {default}")
        if len(words) <= 20:
            out.append(f"{name} is hardly described: {words}")
    return out


SOURCE = (ROOT / "shopdocs/settings.py").read_text()
TEXT = (ROOT / "DEVELOPERS.md").read_text()


def test_every_setting_is_described_with_its_default_and_nothing_else_is() -> None:
    assert faults(SOURCE, TEXT) == []


@pytest.mark.parametrize(
    ("source", "text", "fault"),
    [
        (SOURCE + '\nNEW = env.int("NEW_LIMIT")\n', TEXT, "NEW_LIMIT is read and not described"),
        (SOURCE, re.sub(r"^\| `LEASE_SECONDS`.*\n", "", TEXT, flags=re.M), "LEASE_SECONDS is read and not described"),
        (
            SOURCE,
            TEXT.replace("| `LOG_LEVEL` |", "| `OLD_LIMIT` | `3` | How much of the old there may be. |\n| `LOG_LEVEL` |"),
            "OLD_LIMIT is described and not read",
        ),
        (
            SOURCE,
            TEXT.replace("| `LEASE_SECONDS` | `120` |", "| `LEASE_SECONDS` | `90` |"),
            "LEASE_SECONDS is `120` by default, not `90`",
        ),
        (SOURCE, TEXT.replace("| `DEBUG` | `false` |", "| `DEBUG` | `true` |"), "DEBUG is `false` by default, not `true`"),
        (
            SOURCE,
            TEXT.replace("| `LETTER_FOLDER` | `letters/`", "| `LETTER_FOLDER` | `mail/`"),
            "LETTER_FOLDER is `letters/` in `VAR_DIR` by default, not `mail/` in `VAR_DIR`",
        ),
    ],
)  # fmt: skip
def test_a_difference_is_found(source: str, text: str, fault: str) -> None:
    assert fault in faults(source, text)


def test_what_the_defaults_in_words_come_to(tmp_path: Path) -> None:
    """A process with nothing but VAR_DIR set keeps its database, files, letters and key there; without it, in var/."""
    assert shop_settings.ENV["VAR_DIR"][1] == str(ROOT / "var")
    code = (
        "import json; from shopdocs import settings as s; print(json.dumps({'db': s.DATABASES['default']['NAME'], "
        "'files': s.STORAGES['default']['OPTIONS']['location'], 'letters': s.LETTER_FOLDER, 'key': s.SECRET_KEY}))"
    )
    bare = {key: value for key, value in os.environ.items() if key not in shop_settings.ENV}
    found = []
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env={**bare, "VAR_DIR": str(tmp_path)},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        found.append(json.loads(done.stdout))
    first, second = found
    assert first["db"] == str(tmp_path / "shopdocs.sqlite3")
    assert first["files"] == str(tmp_path / "files") and first["letters"] == str(tmp_path / "letters")
    assert first["key"] == second["key"] == (tmp_path / "secret_key").read_text() and len(first["key"]) >= 50
