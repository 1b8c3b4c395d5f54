"""Who pays for a job, out of plain data: one payer, shares of the whole, or another payer for some kinds of line. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.rules.pricing_input import Kind, Payer, Share, Split
from shopdocs.money import exact
from shopdocs.problems import BadInput

# Core charges go with their part; supplies fall on who pays for what they are taken of.
KINDS = (Kind.LABOUR, Kind.PART, Kind.FEE, Kind.FREIGHT, Kind.SUBLET, Kind.DELIVERY, Kind.DISPOSAL)


@dataclass(frozen=True, slots=True)
class Shared:
    """A job's own payer, the shares of its lines ('' for one payer), and the kinds of line that somebody else pays."""

    payer: Payer
    shares: tuple[Share, ...]
    by_kind: Mapping[Kind, Payer]

    @property
    def whole(self) -> Payer | Split:
        """Who pays for the lines that no kind has taken out."""
        return Split(self.shares) if self.shares else self.payer

    @property
    def payers(self) -> frozenset[Payer]:
        """Everybody who may have to pay a part of the job."""
        whole = self.whole
        return frozenset(self.by_kind.values()) | (whole.payers if isinstance(whole, Split) else {whole})


def read_shares(payer: str, shares: Sequence[Mapping[str, Any]], by_kind: Mapping[str, str]) -> Shared:
    """Shares as `payer` with `percent`, `amount` or neither (the rest), in the order of working; kinds with their payer.

    Raises BadInput for unknown payers and kinds, for shares that do not make a whole, and where the job's own payer has
    no part in it, because its ground would then be printed for nothing.
    """
    found = tuple(
        Share(payer=_payer(one["payer"], "shares"), percent=_figure(one, "percent"), amount=_figure(one, "amount"))
        for one in shares
    )
    kinds = {_kind(kind): _payer(who, "payer_of") for kind, who in by_kind.items()}
    made = Shared(_payer(payer, "payer"), found, kinds)
    if len(found) == 1:
        raise BadInput("shares", "A single share is no split.", "Name two payers at least, or none.")
    if made.payer not in made.payers:
        raise BadInput("shares", f"The job's own payer ({payer}) has no share.", "Give it one, or change the payer.")
    return made


def _payer(code: str, field: str) -> Payer:
    if code not in set(Payer):
        raise BadInput(field, f"'{code[:40]}' is not a payer.", f"Choose of: {', '.join(Payer)}.")
    return Payer(code)


def _kind(code: str) -> Kind:
    if code not in KINDS:
        raise BadInput("payer_of", f"'{code[:40]}' is no kind of line with a payer.", f"Choose of: {', '.join(KINDS)}.")
    return Kind(code)


def _figure(share: Mapping[str, Any], name: str) -> Decimal | None:
    figure = share.get(name)
    return None if figure is None else exact(figure, f"shares.{name}")
