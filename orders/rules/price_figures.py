"""How every figure of priced jobs came about: lines, discounts, shares, supplies, taxes and totals. Pure.

Nothing is priced again: what pricing kept of its working is told, each step with the sum that makes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from orders.rules.figures import HALF_UP, Told, figure, given, less, same, shared, sum_of, went_up, worked
from orders.rules.pricing import (
    BACK_RULE,
    DISCOUNT_RULE,
    LINE_RULE,
    SUPPLIES_RULE,
    amounts_of,
    applying_to,
    cases,
    falling,
)
from orders.rules.pricing_input import FeeLine, Kind, LabourLine, PartLine, Payer, Share
from orders.rules.pricing_result import PayerTotal, Priced, PricedLine
from orders.rules.pricing_work import Added, CameBack, Taken, TakenOut, Worked
from orders.rules.tax_figures import Item, TaxFigures
from orders.rules.taxes import Basis
from shopdocs.money import allocate_units, divide_half_up, from_units, plain, round_money

Facts = dict[str, Any]
Place = tuple[int, int]  # which job, which of its lines
LINES = "the lines, in proportion to what they come to; cents left over go to the largest remainders"
PAYERS = "the payers; cents left over go to the largest remainders"


class JobNames(NamedTuple):
    """The number of a job, and the key of each of its lines in pricing's order."""

    number: int
    keys: Sequence[str]


def price_figures(
    priced: Priced, names: Sequence[JobNames], *, mark: str = "", first: Mapping[str, Sequence[Told]] | None = None
) -> list[Facts]:
    """Every figure of what was priced, for jobs named in the same order.

    'gross:KEY' is a line before discounts, 'line:KEY' as printed, 'part:KEY:PAYER' what one of several payers bears of it;
    'job:N', 'split:N:PAYER', 'share:N:PAYER'; 'discount:AT', 'supplies'; 'payer:PAYER:net', ':tax', ':total', ':tax:NAME:PERCENT',
    ':base:NAME:PERCENT'; 'all:net', 'all:tax', 'all:total'. `mark` goes before the names that are not of one job, where several
    groups of jobs are priced apart. `first` are steps that tell more of a line's amount before discounts than pricing knows, by
    pricing's own key of the line.
    """
    return _Figures(priced, names, mark, first or {}).all()


class _Figures:
    def __init__(
        self, priced: Priced, names: Sequence[JobNames], mark: str, first: Mapping[str, Sequence[Told]]
    ) -> None:
        self._priced, self._names, self._mark, self._first = priced, names, mark, first
        self._jobs = [job.worked for job in priced.jobs]
        self._at = {id(made): number for number, made in enumerate(self._jobs)}
        self._taken: dict[int, tuple[str, Taken]] = {}
        self._outs: dict[int, TakenOut] = {}
        self._out_of: dict[tuple[Place, Payer], int] = {}
        for place, made, at in self._lines():
            for _, units, of in made.cuts.get(at, ()):
                if isinstance(of, TakenOut):
                    self._outs[id(of)] = of
                    self._out_of[place, of.payer] = units
                elif isinstance(of, Taken) and of.discount is not made.sources[at].discount:
                    self._taken.setdefault(id(of), (f"{mark}discount:{len(self._taken) + 1}", of))
        self._discounted = {(self._at[id(made)], at) for _, of in self._taken.values() for made, at in of.lines}

    def all(self) -> list[Facts]:
        return [
            *(one for name, of in self._taken.values() for one in self._discount(name, of)),
            *(one for place, made, at in self._lines() for one in self._line(place, made, at)),
            *(one for number, made in enumerate(self._jobs) for one in self._split(number, made)),
            *(one for place, made, at in self._lines() for one in self._parts(place, made, at)),
            *self._supplies(),
            *(one for out in self._outs.values() for one in self._taken_out(out)),
            *(one for number, made in enumerate(self._jobs) for one in self._job(number, made)),
            *(one for total in self._priced.payers for one in self._payer(total)),
            *self._whole(),
        ]

    # What things are called

    def _lines(self) -> Iterable[tuple[Place, Worked, int]]:
        return (((number, at), made, at) for number, made in enumerate(self._jobs) for at in range(len(made.kinds)))

    def _key(self, place: Place) -> str:
        return self._names[place[0]].keys[place[1]]

    def _words(self, place: Place) -> str:
        return PricedLine((self._jobs[place[0]], place[1])).description

    def _before(self, place: Place) -> str:
        """A line before tax that was inside its price is taken out."""
        out = any(where == place for where, _ in self._out_of)
        return f"{'before' if out else 'line'}:{self._key(place)}"

    def _part(self, place: Place, payer: Payer, *, before: bool = False) -> str:
        """One payer's part of a line; `before` tax that was inside the price is taken out."""
        made, at = self._jobs[place[0]], place[1]
        if len(made.shares_at(at)) < 2:
            return self._before(place) if before else f"line:{self._key(place)}"
        held = before and (place, payer) in self._out_of
        return f"{'held' if held else 'part'}:{self._key(place)}:{payer}"

    def _money(self, units: int) -> Decimal:
        return from_units(units, self._priced.currency)

    def _shared(self, text: str, part: int, whole: int, weight: int, weights: int, of: str, among: str) -> Told:
        """One share by largest remainder of a whole, all in cents; weights that add up to nothing share nothing out."""
        amount = self._money(part)
        if not weights:
            return given(text, amount, "there is nothing to share out")
        up = went_up(part, Fraction(whole * weight, weights), whole)
        working = sum_of("{} × {} ÷ {}", self._money(whole), self._money(weight), self._money(weights))
        return shared(text, amount, working, of, among, up=up)

    # Lines and what comes off them

    def _discount(self, name: str, of: Taken) -> Iterable[Facts]:
        """One discount over several lines: what it is taken of, and what it comes to."""
        base, discount = self._money(sum(of.before)), of.discount
        on = [self._stood(made, at, units) for (made, at), units in zip(of.lines, of.before, strict=True)]
        yield figure(f"{name}:on", f"{discount.words} is taken of", base, on or [given("No line", base, "the job")])
        total = self._money(of.total)
        if discount.percent is None:
            step = given(discount.words, total, "the amount that was agreed to")
        else:
            working = sum_of("{} × {} ÷ 100", base, plain(discount.percent))
            text = f"{plain(discount.percent)} % of {base:f}, what is left of {len(of.lines)} lines by then"
            step = worked(text, total, working, HALF_UP, DISCOUNT_RULE)
        yield figure(name, f"{discount.words}, in all", total, [step])

    def _stood(self, made: Worked, at: int, units: int) -> Told:
        """What a line came to before this discount: what had come off it by then is in the sum."""
        place = self._at[id(made)], at
        gross, running = self._money(made.gross[at]), made.gross[at]
        if units == running:
            return same(self._words(place), gross, f"gross:{self._key(place)}")
        earlier: list[str] = []
        for _, cut, other in made.cuts[at]:
            if running == units or not isinstance(other, Taken):
                break
            earlier.append(f"{self._money(cut):f}")
            running -= cut
        working = " - ".join([f"{gross:f}", *earlier])
        return worked(f"{self._words(place)}, less what came off it before", self._money(units), working)

    def _line(self, place: Place, made: Worked, at: int) -> Iterable[Facts]:
        """A line: its gross amount, less each discount in the order in which they came off, less tax that is not borne."""
        key, words, units = self._key(place), self._words(place), made.gross[at]
        steps = list(self._first.get(PricedLine((made, at)).key) or self._gross(place, made, at))
        cuts = made.cuts.get(at, ())
        if cuts or place in self._discounted:
            yield figure(f"gross:{key}", f"{words}, before discounts", self._money(units), steps)
            steps = [same("Before discounts", self._money(units), f"gross:{key}")]
        for text, cut, of in cuts:
            if isinstance(of, Taken):
                steps.append(less(self._cut(text, cut, units, of)))
            elif isinstance(of, CameBack):
                steps += self._came_back(text, of)
            else:
                continue
            units -= cut
        outs = [(of.payer, cut) for _, cut, of in cuts if isinstance(of, TakenOut)]
        if outs:
            yield figure(f"before:{key}", f"{words}, with the tax inside", self._money(units), steps)
            steps = [same("With the tax inside", self._money(units), f"before:{key}")]
            for payer, cut in outs:
                text = f"Less tax inside the price that {payer} does not bear"
                steps.append(same(text, -self._money(cut), f"inside:{key}:{payer}"))
        yield figure(f"line:{key}", words, self._money(made.net[at]), steps)

    def _came_back(self, text: str, of: CameBack) -> Iterable[Told]:
        """The share of what is charged for all that came back by now, less that of what had come back before."""
        charged, pieces = self._money(of.charged), plain(Decimal(of.pieces) / 1000)
        for many, sign in ((of.by_now, -1), (of.earlier, 1)):
            if many:
                count = plain(Decimal(many) / 1000)
                amount = self._money(divide_half_up(of.charged * many, of.pieces))
                said = (
                    f"Less {text}: {count} of {pieces} came back by now" if sign < 0 else f"{count} of them had before"
                )
                step = worked(said, amount, sum_of("{} × {} ÷ {}", charged, count, pieces), HALF_UP, BACK_RULE)
                yield less(step) if sign < 0 else step

    def _cut(self, text: str, cut: int, units: int, of: Taken) -> Told:
        if id(of) in self._taken:
            name = self._taken[id(of)][0]
            return self._shared(f"Less {text}", cut, of.total, units, sum(of.before), name, LINES)
        percent = of.discount.percent
        if percent is None:
            return given(f"Less {text}", self._money(cut), "the discount of the line")
        working = sum_of("{} × {} ÷ 100", self._money(units), plain(percent))
        return worked(f"Less {text}", self._money(cut), working, HALF_UP, DISCOUNT_RULE)

    def _gross(self, place: Place, made: Worked, at: int) -> list[Told]:
        amount = self._money(made.gross[at])
        match made.sources[at]:
            case LabourLine(hours=hours, rate=rate):
                text, working = f"{hours:f} h at {plain(rate)}", sum_of("{} × {}", hours, plain(rate))
            case PartLine(quantity=quantity, unit_price=each, core=core):
                each = core if made.kinds[at] is Kind.CORE else each
                text, working = f"{plain(quantity)} at {plain(each)}", sum_of("{} × {}", plain(quantity), plain(each))
            case FeeLine(amount=fee):
                if fee == amount:
                    return [given("As it was entered", amount, "the job")]
                text, working = "As it was entered", f"{fee:f}"
            case Added() as added if made.kinds[at] is Kind.SUPPLIES and self._priced.behind.supplied is not None:
                return self._supplies_line(place, added)
            case _:
                return [self._minimum(made, at, amount)]
        return [worked(text, amount, working, HALF_UP, LINE_RULE)]

    def _minimum(self, made: Worked, at: int, amount: Decimal) -> Told:
        """What raises the labour of a job, the lines before this one, to the least that is charged for it."""
        before = zip(made.kinds[:at], made.gross, strict=False)
        labour = [f"{self._money(units):f}" for kind, units in before if kind is Kind.LABOUR]
        least = round_money(made.job.minimum_labour, self._priced.currency)
        working = f"{least:f} - ({' + '.join(labour)})"
        return worked(f"The least charged for labour, {least:f}, less the labour of the job", amount, working)

    # Who pays

    def _split(self, number: int, made: Worked) -> Iterable[Facts]:
        """What the payers of a job share, and the part of each: amounts first, then percentages of what is left, then the rest."""
        work, n = made.split, self._names[number].number
        if work is None:
            return
        whole = sum(work.nets)
        on = [
            same(self._words((number, at)), self._money(units), self._before((number, at)))
            for at, units in zip(work.common, work.nets, strict=True)
        ]
        nothing = given("There is no line to share", self._money(0), "the job")
        yield figure(f"common:{n}", f"Shared of job {n}", self._money(whole), on or [nothing])
        shares = {share.payer: share for share in work.split.shares}
        left, fixed = whole, list[Told]()
        for who, units in work.targets:
            amount = shares[who].amount
            if amount is None:
                continue
            name, first = f"split:{n}:{who}", round_money(amount, self._priced.currency)
            if self._money(units) == first:
                step = given(f"{who} pays the first {first:f}", first, "the split that was set for the job")
            else:
                text = f"{who} pays the first {first:f}, and there is no more than this"
                step = worked(text, self._money(units), f"{self._money(max(left, 0)):f}")
            yield figure(name, f"{who} pays first of job {n}", self._money(units), [step])
            fixed.append(same(f"Less what {who} pays first", -self._money(units), name))
            left -= units
        yield figure(
            f"split:{n}:left", f"Left of job {n} to share", self._money(work.left),
            [same("Shared in all", self._money(whole), f"common:{n}"), *fixed],
        )  # fmt: skip
        rest = 100 - sum((share.percent or Decimal(0) for share in work.split.shares), Decimal(0))
        for who, units in work.targets:
            if shares[who].amount is None:
                yield self._percentage(n, shares[who], units, work.left, rest)

    def _percentage(self, n: int, share: Share, units: int, left: int, rest: Decimal) -> Facts:
        percent = rest if share.percent is None else share.percent
        text = f"{share.payer} pays {plain(percent)} % of what is left"
        if share.percent is None:
            text = f"{share.payer} pays the rest, {plain(percent)} % of what is left"
        exact = Fraction(left) * Fraction(percent) / 100
        working = sum_of("{} × {} ÷ 100", self._money(left), plain(percent))
        step = shared(text, self._money(units), working, f"split:{n}:left", PAYERS, up=went_up(units, exact, left))
        return figure(f"split:{n}:{share.payer}", f"{share.payer}'s share of job {n}", self._money(units), [step])

    def _parts(self, place: Place, made: Worked, at: int) -> Iterable[Facts]:
        """Each payer's part of a line that several share; nothing of it is the customer's where others pay it all."""
        shares, line = made.shares_at(at), self._money(made.net[at])
        key, words = self._key(place), self._words(place)
        if len(shares) > 1:
            yield from self._of_common(place, made, at)
        elif Payer.CUSTOMER not in shares:
            (other,) = shares
            steps = [same(words, line, f"line:{key}"), same(f"{other} pays it all", -line, f"line:{key}")]
            yield figure(f"part:{key}:{Payer.CUSTOMER}", f"{words}: {Payer.CUSTOMER}", line * 0, steps)

    def _of_common(self, place: Place, made: Worked, at: int) -> Iterable[Facts]:
        work = made.split
        assert work is not None, "only a split has several payers of one line"
        n, index = self._names[place[0]].number, work.common.index(at)
        key, words, left = self._key(place), self._words(place), list(work.nets)
        others: list[Told] = []
        for who, target in work.targets[:-1]:
            parts = allocate_units(target, left)
            text = (
                f"{who}'s {self._money(target):f} of {self._money(sum(left)):f}, for {self._money(left[index]):f} of it"
            )
            step = self._shared(text, parts[index], target, left[index], sum(left), f"split:{n}:{who}", LINES)
            yield from self._borne(place, who, parts[index], [step])
            others.append(
                same(f"Less what {who} pays", -self._money(parts[index]), self._part(place, who, before=True))
            )
            left = [rest - part for rest, part in zip(left, parts, strict=True)]
        last = work.targets[-1][0]
        whole = same(words, self._money(work.nets[index]), self._before(place))
        yield from self._borne(place, last, left[index], [whole, *others])
        if Payer.CUSTOMER not in dict(work.targets):
            steps = [same(words, self._money(made.net[at]), f"line:{key}")]
            for who, units in made.shares_at(at).items():
                steps.append(same(f"{who} pays", -self._money(units), self._part(place, who)))
            yield figure(f"part:{key}:{Payer.CUSTOMER}", f"{words}: {Payer.CUSTOMER}", self._money(0), steps)

    def _borne(self, place: Place, who: Payer, units: int, steps: list[Told]) -> Iterable[Facts]:
        """One payer's part of a line, less the tax inside it that they do not bear."""
        key, words, out = self._key(place), f"{self._words(place)}: {who}", self._out_of.get((place, who))
        if out is not None:
            yield figure(f"held:{key}:{who}", f"{words}, with the tax inside", self._money(units), steps)
            steps = [
                same("With the tax inside", self._money(units), f"held:{key}:{who}"),
                same("Less the tax inside that is not borne", -self._money(out), f"inside:{key}:{who}"),
            ]
        yield figure(f"part:{key}:{who}", words, self._money(units - (out or 0)), steps)

    def _job(self, number: int, made: Worked) -> Iterable[Facts]:
        """A job's sum, and each payer's share of it."""
        n, title, net = self._names[number].number, made.job.title, self._money(sum(made.net))
        places = [(number, at) for at in range(len(made.kinds))]
        nothing = given("Nothing is on the job", self._money(0), "the job")
        lines = [
            same(self._words(place), self._money(made.net[place[1]]), f"line:{self._key(place)}") for place in places
        ]
        yield figure(f"job:{n}", title, net, lines or [nothing])
        paid = dict(self._priced.jobs[number].shares)
        for who, amount in paid.items():
            yield figure(
                f"share:{n}:{who}", f"{who} pays of it: {title}", amount, self._share(number, made, who, amount)
            )
        if Payer.CUSTOMER not in paid:
            steps = [same(title, net, f"job:{n}")]
            steps += [same(f"Less what {who} pays", -amount, f"share:{n}:{who}") for who, amount in paid.items()]
            yield figure(f"share:{n}:{Payer.CUSTOMER}", f"{Payer.CUSTOMER} pays of it: {title}", net * 0, steps)

    def _share(self, number: int, made: Worked, who: Payer, amount: Decimal) -> list[Told]:
        """Out of the whole: all of it, or the payer's share of what is split and the lines that are theirs alone."""
        n, work = self._names[number].number, made.split
        places = [(number, at) for at in range(len(made.kinds))]
        if all(set(made.shares_at(at)) == {who} for _, at in places):
            return [same(f"{who} pays all of it", amount, f"job:{n}")]
        steps = []
        common = work.common if work is not None else ()
        if work is not None and who in dict(work.targets):
            steps.append(same("Of what is shared", self._money(dict(work.targets)[who]), f"split:{n}:{who}"))
        for place in places:
            if place[1] not in common and who in made.shares_at(place[1]):
                units = made.shares_at(place[1])[who]
                steps.append(same(f"All of {self._words(place)}", self._money(units), f"line:{self._key(place)}"))
            elif (place, who) in self._out_of and place[1] in common:
                text = f"Less tax inside {self._words(place)} that is not borne"
                steps.append(same(text, -self._money(self._out_of[place, who]), f"inside:{self._key(place)}:{who}"))
        return steps

    # Shop supplies

    def _supplies(self) -> Iterable[Facts]:
        """The supplies of all jobs: the percentage, its bounds, and each job's share."""
        found = self._priced.behind.supplied
        if found is None:
            return
        supplies, mark, bases = found.supplies, self._mark, list[Told]()
        for (number, payer), units in found.bases.items():
            name = f"{mark}supplies:base:{self._names[number].number}:{payer}"
            made = self._jobs[number]
            lines = []
            for at, kind in enumerate(made.kinds):
                out = self._out_of.get(((number, at), payer), 0)
                share = made.shares_at(at).get(payer, 0) + out
                if kind in supplies.of and share:
                    text = self._words((number, at))
                    lines.append(same(text, self._money(share), self._part((number, at), payer, before=True)))
            yield figure(
                name, f"{supplies.words} of job {self._names[number].number} are taken of", self._money(units), lines
            )
            bases.append(same(f"Job {self._names[number].number}", self._money(units), name))
        base = sum(found.bases.values())
        yield figure(f"{mark}supplies:base", f"{supplies.words} are taken of", self._money(base), bases)
        working = sum_of("{} × {} ÷ 100", self._money(base), plain(supplies.percent))
        text = f"{plain(supplies.percent)} % of {self._money(base):f}"
        steps = [worked(text, self._money(found.uncut), working, HALF_UP, SUPPLIES_RULE)]
        if found.total != found.uncut:
            word = "Raised to the least" if found.total > found.uncut else "Limited to the most"
            total, uncut = self._money(found.total), self._money(found.uncut)
            steps.append(worked(f"{word} charged in all, {total:f}", total - uncut, f"{total:f} - {uncut:f}"))
        yield figure(f"{mark}supplies", f"{supplies.words}, in all", self._money(found.total), steps)
        for (number, payer), part in zip(found.bases, found.parts, strict=True):
            units, n = found.bases[number, payer], self._names[number].number
            text = f"{self._money(found.total):f} in all, for {self._money(units):f} of the {self._money(base):f} that they are taken of"
            step = self._shared(text, part, found.total, units, base, f"{mark}supplies", "the jobs")
            yield figure(f"{mark}supplies:share:{n}:{payer}", f"{supplies.words} of job {n}", self._money(part), [step])

    def _supplies_line(self, place: Place, added: Added) -> list[Told]:
        """A job's share of the supplies, and no more than was agreed to for it."""
        found, number = self._priced.behind.supplied, place[0]
        assert found is not None and added.paid_by is not None
        part = dict(zip(found.bases, found.parts, strict=True))[number, added.paid_by]
        share, amount = self._money(part), self._money(added.units)
        steps = [same("Its share", share, f"{self._mark}supplies:share:{self._names[number].number}:{added.paid_by}")]
        if added.units != part:
            steps.append(
                worked(
                    f"No more than {amount:f}, the share agreed to for this job",
                    amount - share,
                    f"{amount:f} - {share:f}",
                )
            )
        return steps

    # Taxes and totals

    def _taken_out(self, out: TakenOut) -> Iterable[Facts]:
        """Tax that was inside the price of each line, less that which its payer bears."""
        stack, where = self._priced.behind.stack, [(self._at[id(made)], at) for made, at in out.lines]
        held = self._told(f"{self._mark}inside:{out.payer}", where, out.before, out.held, stack)
        taxes = [sum((step.amount for step in held.parts(at)), Decimal(0)) for at in range(len(where))]
        rest = [units - int(tax * self._priced.currency.units) for units, tax in zip(out.before, taxes, strict=True)]
        kept = self._told(f"{self._mark}borne:{out.payer}", where, rest, out.kept, replace(stack, inclusive=False))
        yield from held.figures
        yield from kept.figures
        for at, place in enumerate(where):
            steps = [*held.parts(at), *(less(step) for step in kept.parts(at))]
            if steps:
                text = f"Tax inside {self._words(place)} that {out.payer} does not bear"
                units = self._out_of.get((place, out.payer), 0)
                yield figure(f"inside:{self._key(place)}:{out.payer}", text, self._money(units), steps)

    def _told(
        self, prefix: str, where: list[Place], units: Sequence[int], names: Sequence[frozenset[str]], stack: Any
    ) -> TaxFigures:
        items = [
            Item(self._key(place), self._words(place), cents, falls)
            for place, cents, falls in zip(where, units, names, strict=True)
        ]
        return TaxFigures(prefix, items, stack, self._priced.currency)

    def _payer(self, total: PayerTotal) -> Iterable[Facts]:
        """What one payer bears: the lines, each tax and what it is charged on, net, tax and total."""
        name, behind, who = f"{self._mark}payer:{total.payer}", self._priced.behind, total.payer
        applying = applying_to(who, behind.rules, behind.exemption)
        own = list(self._own(who, bool(any(rule.with_parts for rule in applying))))
        shares = [
            same(
                f"Job {self._names[number].number}: {job.title}",
                dict(job.shares)[who],
                f"share:{self._names[number].number}:{who}",
            )
            for number, job in enumerate(self._priced.jobs)
            if who in dict(job.shares)
        ]
        yield figure(f"{name}:lines", f"{who}, as printed on the lines", total.lines, shares)
        if behind.stack.basis is Basis.ITEM:
            items = [
                Item(self._key(place), self._words(place), units, falling(applying, kind, beside))
                for place, units, kind, beside in own
            ]
        else:
            listed = cases(amounts_of(self._jobs).get(who, ()), applying)
            items = [
                Item(
                    f"{kind}{':beside parts' if beside else ''}",
                    f"{kind}{' beside parts' if beside else ''}",
                    sum(amounts),
                    falls,
                )
                for (kind, beside), amounts in listed.items()
                if (falls := falling(applying, kind, beside))
            ]
        taxes = TaxFigures(f"{name}:tax", items, behind.stack, self._priced.currency)
        yield from taxes.figures
        inside = {}
        if behind.stack.inclusive:
            for at, item in enumerate(items):
                steps = taxes.parts(at)
                if steps:
                    inside[item.key] = sum((step.amount for step in steps), Decimal(0))
                    yield figure(f"{name}:inside:{item.key}", f"Tax inside {item.words}", inside[item.key], steps)
        for tax in total.taxes:
            steps = [
                same(self._words(place), self._money(units), self._part(place, who))
                for place, units, kind, beside in own
                if units and tax.name in falling(applying, kind, beside)
            ]
            for item in items:
                if tax.name in item.names and item.key in inside:
                    steps.append(
                        same(f"Less the tax inside {item.words}", -inside[item.key], f"{name}:inside:{item.key}")
                    )
            told = f"{tax.name} is charged on"
            yield figure(f"{name}:base:{tax.name}:{plain(tax.percent)}", told, tax.base, steps)
        steps = [
            same(f"{tax.name}, {plain(tax.percent)} %", tax.amount, f"{name}:tax:{tax.name}:{plain(tax.percent)}")
            for tax in total.taxes
        ]
        yield figure(
            f"{name}:tax",
            f"{who}, tax",
            total.tax,
            steps or [given(total.why or "No tax falls on it", total.tax, "the taxes of the day")],
        )
        steps = [same("The lines", total.lines, f"{name}:lines")]
        if behind.stack.inclusive:
            steps.append(same("Less the tax in the prices", -total.tax, f"{name}:tax"))
        yield figure(f"{name}:net", f"{who}, before tax", total.net, steps)
        steps = [same("Before tax", total.net, f"{name}:net"), same("Tax", total.tax, f"{name}:tax")]
        yield figure(f"{name}:total", f"{who} pays in all", total.total, steps)

    def _own(self, who: Payer, depends: bool) -> Iterable[tuple[Place, int, Kind, bool]]:
        """Each line that the payer has a part of, in cents, with its kind and whether their part of the job holds a part."""
        for number, made in enumerate(self._jobs):
            shares = [made.shares_at(at) for at in range(len(made.kinds))]
            parts = zip(made.kinds, shares, strict=True)
            beside = depends and any(kind is Kind.PART and own.get(who, 0) > 0 for kind, own in parts)
            for at, own in enumerate(shares):
                if who in own:
                    yield (number, at), own[who], made.kinds[at], beside

    def _whole(self) -> Iterable[Facts]:
        """All payers together."""
        listed = self._priced.payers
        for what, words in (("net", "Before tax"), ("tax", "Tax"), ("total", "In all")):
            steps = [
                same(str(one.payer), getattr(one, what), f"{self._mark}payer:{one.payer}:{what}") for one in listed
            ]
            amount = getattr(self._priced, what)
            yield figure(
                f"{self._mark}all:{what}", words, amount, steps or [given("Nothing is charged", amount, "the jobs")]
            )
