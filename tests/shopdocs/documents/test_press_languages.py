"""Languages: the catalogue is complete for every word the papers say, strict when it is read, and heard on the paper."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from orders.models import Assembly, Customer, JobPart, PurchaseProof
from orders.models.catalogue import POWER_SOURCES, USE_CLASSES, LabourOperation, PricingTerms
from orders.papers import (
    bench_copy,
    condition_report,
    credit_note,
    estimate,
    estimate_change,
    invoice,
    repair_order,
    repair_summary,
    statement,
)
from orders.rules import operations, points, pricing, pricing_result, pricing_work, trade
from orders.rules.authorisation import all_laws
from orders.rules.legal_fields import all_papers
from orders.rules.messages import Message
from orders.services import priced
from orders.services.labour_together import beside_words
from shopdocs.documents.models import Photo
from shopdocs.documents.press import catalogue, cautions
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.words import FOLDER, MONTHS, Words, languages, speaks, words
from tests import customers_door
from tests import papers_samples as samples
from tests.papers_reading import faults, words_of
from warranty.coverage import defect_files, domains, phrases, reading_parts, rulebook, vocabulary
from warranty.coverage.goodwill import FORMAL
from warranty.coverage.terms import load_terms, term_to_dict
from warranty.models import DistributorTerms
from warranty.papers import claim, part_tag
from warranty.services.decision_words import ANSWERS, OF_MACHINE, OUTCOMES, QUESTIONS
from warranty.services.evidence import MOMENT_WORDS, SHOWS, TIMES

ROOT = Path(__file__).parents[3]
ROOMS = (
    "shopdocs/documents/press/*.py",
    "shopdocs/documents/api/*.py",
    "orders/api/answer_page.py",
    "orders/papers/*.py",
    "warranty/papers/*.py",
    "warranty/coverage/*words.py",
    "orders/rules/*.py",
    "orders/services/*.py",
    "warranty/services/*.py",
)
SAME = {
    "no",
    "No",
    "Total",
    "total",
    "normal",
    "New",
    "No: {phrase}",
    "({fact}: {value})",
    "{value}: {answer}",
}  # the same word in both languages
PAPERS: list[tuple[Any, Any]] = [
    (repair_order, samples.repair_order),
    (estimate, samples.estimate),
    (invoice, samples.invoice),
    (claim, samples.claim),
    (credit_note, samples.credit_note),
    (statement, samples.statement),
    (repair_summary, samples.repair_summary),
    (bench_copy, samples.bench_copy),
    (estimate_change, samples.estimate_change),
    (condition_report, samples.condition_report),
]


def _texts(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def _said(path: Path) -> Iterator[str]:
    """Every literal that a module says, or gives to a block that says it: labels of columns and of facts."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in ("say", "Column") and node.args:
            yield from _texts(node.args[0])
        if name in ("counted", "Message"):
            yield from _texts(node.args[0])
        if name in ("facts", "opening"):
            for pair in ast.walk(node):
                if isinstance(pair, ast.Tuple) and len(pair.elts) == 2:
                    yield from _texts(pair.elts[0])


def needed() -> set[str]:
    """All texts of ours that a paper or a letter may print."""
    files = [path for room in ROOMS for path in ROOT.glob(room)]
    found = {text for path in files for text in _said(path)}
    found |= {text for pair in cautions.CAUTIONS.values() for text in pair} | {cautions.DEFER, *MONTHS}
    found |= {estimate.ADVICE, estimate.CHOOSE, condition_report.LIMITS}
    found |= customers_door.own() | customers_door.shared()
    found |= {*ANSWERS.values(), *OUTCOMES.values(), *QUESTIONS.values(), *OF_MACHINE.values()}
    found |= {*MOMENT_WORDS.values(), *SHOWS.values(), *TIMES.values()} - {TIMES["original"]}
    found |= set(_phrases()) | {how for _, how in (*domains.GETTING.values(), domains.LABEL)}
    found |= set(_choices()) | set(_prices()) | set(_codes()) | set(_terms()) | set(_operations())
    bind = {law.key: law.binds for law in all_laws()}
    for wanted in all_papers():
        found |= {bind[wanted.law], *(field.name for field in wanted.fields if not field.drawn)}
    found |= {f"{condition} part" for condition in JobPart.Condition}
    found |= {role.label for role in Assembly.Role if role != Assembly.Role.OTHER}
    known = trade.trade()
    for table in (known.families, known.powers, known.components, known.conditions, known.causes):
        found |= {entry.name for entry in table.values()}
    listed = [point for family in trade.families() for point in points.points_for(family.code, "unknown")]
    found |= {
        point.look for power in known.powers for family in trade.families() for point in _points(family.code, power)
    }
    found |= {point.name for point in listed} | {
        text for one in points.precautions().values() for text in one.words.values()
    }
    return {text for text in found if any(letter.isalpha() for letter in text)}


def _choices() -> Iterator[str]:
    """What our records call a thing that is chosen from a list, where a paper says it."""
    for choices in (PurchaseProof.Kind, Photo.Moment, DistributorTerms.TimeBasis):
        yield from (str(label) for label in choices.labels)
    yield from (label for _, label in (*POWER_SOURCES, *USE_CLASSES))
    yield from (str(label) for label in Customer.Kind.labels)


def _prices() -> Iterator[str]:
    """What pricing puts on a paper beside the lines, and what comes off them."""
    yield from (pricing_work.MINIMUM, pricing_work.PERCENTAGE, pricing_work.RAISED, pricing_work.CUT, pricing.TAKEN_OUT)
    yield from (pricing_result.CORE_CHARGE, priced.ENVIRONMENT_CHARGE, priced.DISCOUNT)
    yield PricingTerms._meta.get_field("supplies_words").default
    yield LabourOperation._meta.get_field("source").default


def _operations() -> Iterator[str]:
    """The starting catalogue of labour, as a shop takes it over in its own language; and where its times are from."""
    shipped = operations.catalogue()
    yield from (step.words for step in shipped.guide.steps.values())
    for one in shipped.operations.values():
        yield from (one.words, one.source)


def _phrases() -> Iterator[str]:
    """Every phrase of the coverage engine's explanation."""
    for table in (value for name, value in vars(phrases).items() if name.isupper() and isinstance(value, dict)):
        for said in table.values():
            yield from (said,) if isinstance(said, str) else said


def _codes() -> Iterator[str]:
    """Codes of the coverage engine as its explanation shows them, and as a claim does."""
    words_of_engine = (one for one in vars(vocabulary).values() if isinstance(one, tuple))
    coded = {code for one in words_of_engine for code in one} - set(vocabulary.GIVERS) - set(vocabulary.GROUNDS)
    known = trade.trade()
    coded |= {
        *known.families,
        *known.powers,
        *known.conditions,
        *known.causes,
        vocabulary.NO_LINK,
        "part_1054",
        "other",
    }
    coded |= {vocabulary.NO_SCHEDULE, vocabulary.NOT_IN_SCHEDULE, vocabulary.NONE_SCHEDULED, *vocabulary.ANSWERS}
    coded |= {*FORMAL, *(defect_files.SETTLED)} - {"varies"}
    coded |= {"unit", *rulebook.ONLY.values(), rulebook.UNRECORDED, domains.OTHER, *reading_parts.CONFIDENCE}
    coded |= {"scheduled", "not scheduled", "held", "changed", "never changed", "changed for a used one"}
    coded |= {"model", "family", "built", "serial", "condition", "maker", "maker of the engine"}  # of a defect
    yield from (code.replace("_", " ") for code in coded)


def _terms() -> Iterator[str]:
    """What the terms of law that we ship are called, how their texts were read, and what is noted beside their grounds."""
    for term in load_terms():
        yield from _told(term_to_dict(term))


def _told(record: Any, key: str = "") -> Iterator[str]:
    """Titles, editions and notes; of citations only those that say more than where."""
    if isinstance(record, dict):
        for name, value in record.items():
            yield from _told(value, key if key == "sources" else name)
    elif isinstance(record, list):
        for one in record:
            yield from _told(one, key)
    elif key in ("title", "edition", "confidence", "confirm", "note") or (
        key in ("cite", "source", "sources") and re.search(r" (to|and|from|the)\b|second", record)
    ):
        yield record


def _points(family: str, power: str) -> tuple[points.InspectionPoint, ...]:
    try:
        return tuple(points.points_for(family, power))
    except trade.UnknownCode:
        return ()


@pytest.mark.parametrize("language", [one for one in languages() if one != "en"])
def test_a_catalogue_knows_every_text_of_ours(language: str) -> None:
    say, counted = words(language), catalogue.read(FOLDER / f"{language}.po").forms
    wanted = needed()
    assert len(wanted) > 900
    assert sorted(text for text in wanted if say(text) == text and text not in {*SAME, *counted}) == []


def _written() -> set[str]:
    """Every text that stands in our code or data by itself: what is looked up there by another way than `say("...")`."""
    found: set[str] = set()
    for room in ("shopdocs", "orders", "warranty"):
        for path in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    found.add(node.value)
        for path in (ROOT / room).rglob("*.yaml"):
            if path.name != "openapi.yaml":
                found |= {
                    node.value for node in yaml.parse(path.read_text("utf-8")) if isinstance(node, yaml.ScalarEvent)
                }
    return found


@pytest.mark.parametrize("language", [one for one in languages() if one != "en"])
def test_a_catalogue_holds_nothing_that_is_said_nowhere(language: str) -> None:
    kept = catalogue.read(FOLDER / f"{language}.po")
    assert sorted({*kept.texts, *kept.forms} - needed() - _written()) == []
    assert "\n#~" not in (FOLDER / f"{language}.po").read_text("utf-8")


def test_spanish_is_there_and_regions_are_served_by_it() -> None:
    assert {"en", "es"} <= set(languages())
    assert (speaks("es-MX"), speaks("es_US"), speaks("EN-gb"), speaks("fr"), speaks("")) == ("es", "es", "en", "", "")


@pytest.mark.parametrize("module, make", PAPERS)
def test_each_paper_in_spanish_is_neat_and_prints_every_letter(module: Any, make: Any) -> None:
    drawn = module.draw(make(language="es"), samples.PICTURES)
    assert drawn.replaced == ()
    assert faults(drawn.pdf) == []
    text = words_of(drawn.pdf)
    assert "página 1 de" in text and "page 1" not in text
    assert "9 nov 2026" in text


def test_labels_and_cautions_are_heard_in_spanish() -> None:
    text = words_of(repair_order.draw(samples.repair_order(language="es"), samples.PICTURES).pdf)
    for said in (
        "Número de serie",
        "NO ES SEGURO USARLA",
        "Primero, en cada punto",
        "monóxido de carbono",
        "Firma ·",
        "Hallazgo F1",
    ):
        assert said in text, said
    tag = words_of(part_tag.draw(samples.part_tag(language="es"), {}).pdf)
    assert "Guardar hasta: 24 dic 2026" in tag and "No la tire" in tag


def test_what_jobs_share_is_heard_in_spanish() -> None:
    say = words("es")
    once, twice = Message("{step} once", {"step": "tapa"}), Message("{step} twice", {"step": "prueba"})
    shared = [{"job": 1, "reasons": [list(once), list(twice)]}]
    saved = beside_words({"saved": "0.3", "shared": shared}, say)
    assert saved == "0.3 h ahorradas: tapa: una vez, prueba: dos veces, con el trabajo 1."
    for hours, more in (("0.1", "0.1 h menos"), ("-0.1", "0.1 h más")):
        rounded = beside_words({"saved": hours, "shared": []}, say)
        assert rounded == f"{more}: los minutos de los trabajos se redondean una sola vez, juntos."


SLAVONIC = (
    'msgid ""\nmsgstr "Language: xx\\n"\n'
    '"Plural-Forms: nplurals=3; plural=(n%10==1 && n%100!=11 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2);\\n"\n\n'
    'msgid "{n} day"\nmsgid_plural "{n} days"\nmsgstr[0] "{n} den"\nmsgstr[1] "{n} dnya"\n'
)


def test_a_number_takes_the_form_that_its_language_has_for_it(tmp_path: Path) -> None:
    file = tmp_path / "xx.po"
    file.write_text(SLAVONIC + 'msgstr[2] "{n} dney"\n', "utf-8")
    say = Words(catalogue.read(file))
    told = [say.counted("{n} day", "{n} days", n).format(n=n) for n in (1, 2, 5, 11, 21, 22)]
    assert told == ["1 den", "2 dnya", "5 dney", "11 dney", "21 den", "22 dnya"]
    english = words("en")
    assert [english.counted("{n} day", "{n} days", n) for n in (0, 1, 2)] == ["{n} days", "{n} day", "{n} days"]
    file.write_text(SLAVONIC, "utf-8")
    with pytest.raises(PressError, match="has 2 forms, Plural-Forms says 3"):
        catalogue.read(file)
    file.write_text(SLAVONIC.replace("? 1 : 2", "? 1 2") + 'msgstr[2] "{n} dney"\n', "utf-8")
    with pytest.raises(PressError, match="cannot be read"):
        catalogue.read(file)
    file.write_text(SLAVONIC.replace("nplurals=3", "nplurals=2") + "\n", "utf-8")
    with pytest.raises(PressError, match="gives 0 a form beyond its 2"):
        catalogue.read(file)


HEAD = 'msgid ""\nmsgstr "Language: xx\\n"\n\n'


@pytest.mark.parametrize(
    "body, problem",
    [
        ('msgid "a"\nmsgstr ""\n', "not empty"),
        ('msgid "a"\nmsgstr "b"\n\nmsgid "a"\nmsgstr "c"\n', "twice"),
        ('msgid "a {day}"\nmsgstr "b {tag}"\n', "placeholders"),
        ('msgid "a"\nmsgid "b"\nmsgstr "c"\n', "parted by an empty line"),
        ("msgid a\n", "expected msgid"),
        ('#, fuzzy\nmsgid "a"\nmsgstr "b"\n', "fuzzy entry"),
        ('#, python-format, fuzzy\nmsgid "a"\nmsgstr "b"\n', "fuzzy entry"),
        ('"lost"\n', "expected msgid"),
        ('msgctxt "x"\nmsgid "a"\nmsgstr "b"\n', "expected msgid"),
        ('msgid "a"\nmsgid_plural "as"\nmsgstr "b"\n', "one for each form"),
        ('msgid "a"\nmsgid_plural "as"\nmsgstr[0] "b"\nmsgstr[1] "bs"\n', "need the header's Plural-Forms"),
        ('msgid "{n} a"\nmsgid_plural "{n} as"\nmsgstr[0] "{n} b"\nmsgstr[1] "bs"\n', "placeholders"),
    ],
)
def test_a_broken_catalogue_is_refused_with_its_place(tmp_path: Path, body: str, problem: str) -> None:
    file = tmp_path / "xx.po"
    file.write_text(HEAD + body, "utf-8")
    with pytest.raises(PressError, match=problem) as caught:
        catalogue.read(file)
    assert "xx.po" in str(caught.value)


def test_a_catalogue_joins_long_strings_and_knows_its_escapes(tmp_path: Path) -> None:
    file = tmp_path / "xx.po"
    file.write_text(HEAD + '# note\nmsgid ""\n"one "\n"two"\nmsgstr "a \\"b\\"\\n"\n"c"\n', "utf-8")
    assert catalogue.read(file).texts == {"one two": 'a "b"\nc'}


def test_conditions_in_spanish_fit_parts_of_either_gender() -> None:
    """They stand behind any component ('bujía: con grietas'): none is a participle that would have to agree with it."""
    say, known = words("es"), trade.trade()
    for one in known.conditions.values():
        first = say(one.name).split()[0]
        assert not re.search(r"(ado|ido|oto|eco|iso|ojo|ajo|eno)$", first), (one.name, say(one.name))
