"""What README and DEVELOPERS.md point at is there: links, pictures, paths, the rooms of the map, one line for each command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DOCS = ("README.md", "DEVELOPERS.md")


def anchors(text: str) -> set[str]:
    """The names under which a page's headings can be linked to."""
    heads = re.findall(r"^#+ (.+)$", re.sub(r"```.*?```", "", text, flags=re.S), re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def broken(text: str, here: Path) -> list[str]:
    """Links of a page that lead nowhere inside the project."""
    out = []
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        file, _, anchor = target.partition("#")
        if "://" in target:
            continue
        path = here / file if file else None
        if (path is not None and not path.exists()) or (
            anchor and anchor not in anchors(path.read_text() if path else text)
        ):
            out.append(target)
    return out


@pytest.mark.parametrize("name", DOCS)
def test_every_link_leads_somewhere(name: str) -> None:
    text = (ROOT / name).read_text()
    assert broken(text, ROOT) == []
    assert broken(text + "[x](no/such.png) [y](DEVELOPERS.md#nowhere) [z](#nowhere)", ROOT) == [
        "no/such.png",
        "DEVELOPERS.md#nowhere",
        "#nowhere",
    ]


MADE_BY_RUNNING = ("var/", "paper.pdf", "NAME.schema.json", "facts.json")


@pytest.mark.parametrize("name", DOCS)
def test_every_path_that_is_named_is_there(name: str) -> None:
    text = re.sub(r"```.*?```", "", (ROOT / name).read_text(), flags=re.S)
    folders = ("", "shopdocs/demo/", "shopdocs/documents/", "shopdocs/", "warranty/", "orders/")
    for path in re.findall(r"`([\w./-]+(?:/|\.(?:py|txt|yaml|toml|json|lock)))`", text):
        if path.startswith(("/", *MADE_BY_RUNNING)) or path in ("files/", "letters/"):
            continue
        assert any((ROOT / folder / path).exists() for folder in folders), f"{name} names {path}"


def rooms(text: str) -> list[str]:
    """The rooms of the README's map, as paths; two columns of the indentation are a level."""
    tree = text.split("## The map of the house", 1)[1].split("```")[1]
    found, parent = [], ""
    for line in tree.splitlines():
        names = re.match(r"( *)((?:[\w.]+/?(?: +|$))+)", line.split("   ")[0] if not line.startswith(" ") else line)
        if not names:
            continue
        here = [n for n in names[2].split() if n.endswith(("/", ".py"))]
        if not names[1]:
            parent = here[0] if here else ""
            found += here
        else:
            found += [parent + one for one in here]
    return found


def test_the_map_of_the_house_names_rooms_that_are_there() -> None:
    text = (ROOT / "README.md").read_text()
    named = rooms(text)
    assert len(named) >= 14, named
    assert [
        room
        for room in named
        if not (ROOT / room).exists() and not (ROOT / "shopdocs/documents" / Path(room).name).exists()
    ] == []


@pytest.mark.parametrize("head", ["Run it", "Test it"])
def test_one_fenced_line_runs_it_and_one_tests_it(head: str) -> None:
    part = (ROOT / "README.md").read_text().split(f"## {head}\n", 1)[1].split("\n## ", 1)[0]
    (block,) = re.findall(r"^```sh\n(.*?)^```", part, re.M | re.S)
    assert len(block.splitlines()) == 1
    assert "--require-hashes -r requirements.lock" in block
