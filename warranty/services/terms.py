"""Terms: what law gives (shipped data), and what makers promise (records of the shop). Never rewritten, only retired."""

from __future__ import annotations

import datetime as dt
import functools
import json
from typing import Any
from uuid import UUID

import yaml
from django.db import IntegrityError, transaction
from django.db.models import Q

from orders.models import Maker
from orders.rules.strict import DataError
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event
from warranty.coverage.names import folded
from warranty.coverage.reading import read_term as parse_node
from warranty.coverage.rulebook import binds
from warranty.coverage.schema import node_from
from warranty.coverage.terms import Term, load_terms, term_from_dict, term_to_dict
from warranty.models import MakerTerm

from .lookups import mine
from .retiring import retire
from .term_spelling import as_recorded

SCHEMA_REMEDY = "Correct the term; its keys are those of the shipped term files, described with this address."


@functools.cache
def statutory_terms() -> tuple[Term, ...]:
    """The shipped terms and protections, read and checked once per process."""
    return load_terms()


def refused_by_schema(field: str, error: DataError, remedy: str = SCHEMA_REMEDY) -> Refused:
    """The strict schema's complaint as a refusal; the path inside the record stands in the problem."""
    problem = f"{error.problem[:1].upper()}{error.problem[1:]}"
    return Refused(field, f"{problem}{'' if problem.endswith(('.', ';')) else '.'}", remedy)


def read_term(record: dict[str, Any], field: str = "term") -> Term:
    """The term of a plain record; raises Refused naming the path inside it, the problem and the remedy."""
    paths: list[str] = []
    try:
        node = node_from(record, field)
        _number(node.node, field, paths)
        return parse_node(node, {})
    except DataError as error:
        place = error.where.rpartition(":")[2]
        raise refused_by_schema(paths[int(place) - 1] if paths else field, error) from error


def _number(node: yaml.Node, path: str, paths: list[str]) -> None:
    """Gives every value a line of its own, so that the line that a complaint names tells the path."""
    node.start_mark = yaml.Mark(path, 0, len(paths), 0, None, 0)
    paths.append(path)
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            _number(value, f"{path}.{key.value}"[:200], paths)
            key.start_mark = value.start_mark
    elif isinstance(node, yaml.SequenceNode):
        for at, value in enumerate(node.value):
            _number(value, f"{path}[{at}]", paths)


def _say_for_whom(read: Term) -> None:
    """A promise that asks for what the law forbids to ask of consumers has to say whether it is one to consumers, and full."""
    asked = {row.ground for row in read.excludes}
    if read.register_within_days is not None or read.to == "registered_owner":
        asked.add("registration_card")
    for ban in statutory_terms():
        unsaid = binds(ban, read) if ban.kind == "protection" else None
        grounds = sorted(asked & {row.ground for row in ban.not_denied_for}) if unsaid else []
        if unsaid and grounds:
            of, remedy = TO_SAY[unsaid[0]]
            problem = f"It refuses by '{grounds[0]}', which {ban.source.cite} forbids {of}."
            raise Refused(f"term.{unsaid[0]}", problem, remedy)


TO_SAY = {
    "consumer_product": (
        "on a consumer product, and does not say whether it is for one",
        "Say 'consumer_product: true' for machines normally used at home or for the family, else 'consumer_product: false'.",
    ),
    "full": (
        "under a full warranty, and does not say whether it is called full or limited",
        "Say 'full: true' where the paper calls the warranty full, else 'full: false'.",
    ),
}


@transaction.atomic
def record_term(*, shop: Shop, by: Staff, term: dict[str, Any], maker: UUID | None = None) -> MakerTerm:
    """Records a promise under its id and version. The same id and version again is refused, whatever it says."""
    read_term(term)
    read = read_term(as_recorded(shop, term))
    _say_for_whom(read)
    record_of = mine(shop, Maker, maker, "maker") if maker else None
    if record_of is not None and folded(read.giver_name or "") != folded(record_of.name):
        problem = f"The term names '{read.giver_name}', the record is of '{record_of.name}'."
        raise Refused("term.giver_name", problem, "Name the maker as the shop's record does.")
    code = f"{read.id}/{read.version}"
    if any((one.id, one.version) == (read.id, read.version) for one in statutory_terms()):
        raise Conflict("term.id", f"'{code}' is a term that law gives.", "Give the promise an id of its own.")
    if len(code) > 80:
        raise Refused("term.id", "The id is too long.", "Use at most 70 characters.")
    try:
        with transaction.atomic():
            row: MakerTerm = MakerTerm.objects.create(
                shop=shop, maker=record_of, code=code, term=term_to_dict(read), fingerprint=read.fingerprint
            )
    except IntegrityError as error:
        remedy = "A term is never rewritten: record it with the next version, then retire the old one."
        raise Conflict("term.version", f"'{code}' is recorded already.", remedy) from error
    record_event(shop=shop, subject=f"term:{row.pk}", verb="recorded", by=by, words=f"{code}: {read.title}")
    return row


@transaction.atomic
def retire_term(*, shop: Shop, by: Staff, row: MakerTerm, version: int, retired_on: dt.date | None = None) -> MakerTerm:
    """From that day on the term is not tried any more. Decisions already made keep it."""
    retired: MakerTerm = retire(shop, row, version, retired_on)
    record_event(
        shop=shop, subject=f"term:{row.pk}", verb="retired", by=by, words=f"{row.code} on {retired.retired_on}"
    )
    return retired


def terms_for(*, shop: Shop, as_of: dt.date) -> tuple[Term, ...]:
    """All that is tried for this shop on a day: what law gives, and the shop's records not retired by then."""
    rows = MakerTerm.objects.for_shop(shop).filter(Q(retired_on=None) | Q(retired_on__gt=as_of)).select_related("maker")
    return statutory_terms() + tuple(
        _named(_kept(row.fingerprint, json.dumps(row.term, sort_keys=True)), row.maker.name if row.maker else "")
        for row in rows.order_by("code")
    )


def _named(term: Term, name: str) -> Term:
    """The term under its maker's present name: a maker renamed in the shop's records is still the one who promised."""
    old = term.giver_name or ""
    if not name or old == name:
        return term
    record = term_to_dict(term) | {"giver_name": name}
    machines = record.get("machines")
    if isinstance(machines, dict) and "makers" in machines:
        makers = [name if folded(one) == folded(old) else one for one in machines["makers"]]
        record["machines"] = machines | {"makers": makers}
    return term_from_dict(record, "recorded term")


@functools.lru_cache(maxsize=4096)
def _kept(fingerprint: str, data: str) -> Term:
    """A recorded term, read once; the fingerprint is part of the key so that no other text passes for it."""
    term = term_from_dict(json.loads(data), "recorded term")
    if term.fingerprint != fingerprint:
        raise ValueError(f"the recorded term '{term.id}' no longer has the fingerprint it was recorded with")
    return term
