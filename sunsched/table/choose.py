"""Chooses the table: the smallest layout that gives the plan's exact minutes when it is read back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, date_of
from sunsched.base.errors import CapacityError, CheckError, RangeError
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.table import rule_block
from sunsched.table.codecs import blocks
from sunsched.table.facts import fact_block
from sunsched.table.image import MOST_BLOCK_BYTES, ChipSettings, Image, covers_year
from sunsched.table.layout import Codec, decoder_bytes, pack, tried
from sunsched.table.rule_block import Rule, What
from sunsched.table.wanted import FREE, Minutes, Wanted, smooth_guide

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Table:
    """A table that has been read back: its image, how it was made, and how far it is from the plan.

    decoder_rules   names of the groups of rules that the decoder applies; all other rules are in the minutes
    worst_error_min, days_inexact   over all years and both sides
    """

    image: Image
    raw: bytes
    decoder_rules: tuple[str, ...]
    worst_error_min: int
    days_inexact: int

    @property
    def data_bytes(self) -> int:
        """Bytes of the minutes alone."""
        return len(self.image.data)

    @property
    def rule_bytes(self) -> int:
        """Bytes of the rules that the decoder applies."""
        return len(rule_block.to_bytes(self.image.rules))

    @property
    def decoder_bytes(self) -> int:
        """Flash of the decoder, day index to minute, on an ATmega328P."""
        return decoder_bytes(self.image.layout, self.image.data)


@dataclass(frozen=True, slots=True)
class _Order:
    """The request and what follows from it, worked out once."""

    plans: tuple[YearPlan, ...]
    targets: tuple[Minutes, ...]
    error_min: int
    settings: ChipSettings | None
    facts: bytes


def choose(
    plans: Sequence[YearPlan],
    rules: Rules,
    settings: ChipSettings | None = None,
    layout: Codec | None = None,
    worst_error_min: int = 0,
    room_bytes: int | None = None,
    progress: Progress | None = None,
) -> Table:
    """The smallest table of one calendar year, or of years that follow each other.

    layout   None: whichever is smallest
    worst_error_min   how far a minute may be from the plan [minutes]; shut days are always exact
    room_bytes   of the whole image
    progress   called with a line of text for each attempt
    Raises CapacityError, saying by how much and what would fit; CheckError if a table read back differs.
    """
    order = _order(plans, settings, worst_error_min)
    table = _smallest(order, rules, layout, progress)
    if table is None:
        raise CapacityError(_nothing_fits(order, rules, layout, progress))
    if room_bytes is not None and len(table.raw) > room_bytes:
        raise CapacityError(_too_long(order, rules, layout, room_bytes, table, progress))
    return table


def fitting(
    plans: Sequence[YearPlan], rules: Rules, settings: ChipSettings | None, layout: Codec, worst_error_min: int
) -> Table | None:
    """The table of one layout as `choose` would make it, or None: nobody asks what would fit instead."""
    return _smallest(_order(plans, settings, worst_error_min), rules, layout, None)


def _order(plans: Sequence[YearPlan], settings: ChipSettings | None, worst_error_min: int) -> _Order:
    years = [date_of(plan.first_day).year for plan in plans]
    if not all(covers_year(plan, years[0] + n) for n, plan in enumerate(plans)):
        raise RangeError("a table holds whole calendar years that follow each other")
    targets = tuple(np.array([plan.open_min, plan.close_min], np.int32) for plan in plans)
    return _Order(tuple(plans), targets, worst_error_min, settings, fact_block(plans))


def _smallest(order: _Order, rules: Rules, layout: Codec | None, progress: Progress | None) -> Table | None:
    best: Table | None = None
    packed: set[str] = set()
    for names, applied, wanted in _candidates(order, rules):
        for codec in (layout,) if layout is not None else tried(len(order.plans)):
            if layout is None and packed.intersection(codec.beaten_by):
                continue
            if progress is not None:
                progress(f"{codec.name}, rules beside it: {', '.join(names) or 'none'}")
            data = pack(codec, wanted)
            if data is None:
                continue
            packed.add(codec.name)
            table = _read_back(order, names, applied, codec, data)
            if best is None or len(table.raw) < len(best.raw):
                best = table
    return best


def _candidates(order: _Order, rules: Rules) -> list[tuple[tuple[str, ...], tuple[Rule, ...], Wanted]]:
    """The most rules that the decoder can apply, and those for which packed differences are shortest."""
    groups = rule_block.groups(order.plans, rules)
    sets = [names for dropped in range(len(groups) + 1) for names in combinations(groups, len(groups) - dropped)]
    candidates: list[tuple[tuple[str, ...], tuple[Rule, ...], Wanted]] = []
    for names in sets:
        applied = _needed(order, [rule for name in names for rule in groups[name]])
        wanted = None if applied is None else _wanted(order, applied)
        if applied is not None and wanted is not None and _fits_an_image(applied):
            used = tuple(name for name in names if any(rule in applied for rule in groups[name]))
            if all(used != other[0] for other in candidates):
                candidates.append((used, applied, wanted))
    if not candidates or len(order.plans) > 1:
        return candidates[:1]

    def size(candidate: tuple[tuple[str, ...], tuple[Rule, ...], Wanted]) -> int:
        return len(rule_block.to_bytes(candidate[1])) + blocks.size(candidate[2])

    shortest = min(candidates, key=size)
    return [candidates[0]] if shortest is candidates[0] else [candidates[0], shortest]


def _needed(order: _Order, applied: list[Rule]) -> tuple[Rule, ...] | None:
    """The rules without those that change nothing; None if no curve gives the plan with them."""
    bounds = _bounds(order, tuple(applied))
    if bounds is None:
        return None
    limits = [rule for rule in applied if rule.what in (What.AT_LEAST, What.AT_MOST)]
    for limit in limits:
        fewer = tuple(rule for rule in applied if rule is not limit)
        without = _bounds(order, fewer)
        if without is not None and all(np.array_equal(a, b) for a, b in zip(bounds, without, strict=True)):
            applied = list(fewer)
    if limits and not any(rule.what in (What.AT_LEAST, What.AT_MOST) for rule in applied):
        # Summer time goes there and back around limits only.
        pairs = [(r.dates, -r.minutes) for r in applied if r.what == What.ADD and r.weekdays is None]
        fewer = tuple(r for r in applied if not (r.what == What.ADD and (r.dates, r.minutes) in pairs))
        without = _bounds(order, fewer)
        if without is not None and all(np.array_equal(a, b) for a, b in zip(bounds, without, strict=True)):
            applied = list(fewer)
    return tuple(applied)


def _bounds(order: _Order, applied: tuple[Rule, ...]) -> list[Minutes] | None:
    """Least and greatest of the curve for each year, (2, n) each, one after the other."""
    out: list[Minutes] = []
    for plan, target in zip(order.plans, order.targets, strict=True):
        shut = target == NO_MINUTE
        slack = np.where(shut, 0, order.error_min).astype(np.int32)
        undone = rule_block.undone(applied, date_of(plan.first_day).year, target - slack, target + slack)
        if undone is None:
            return None
        out += undone
    return out


def _wanted(order: _Order, applied: tuple[Rule, ...]) -> Wanted | None:
    bounds = _bounds(order, applied)
    if bounds is None:
        return None
    n_days = max(plan.n_days for plan in order.plans)
    shape = (len(order.plans), 2, n_days)
    least, greatest = np.full(shape, -FREE, np.int32), np.full(shape, FREE, np.int32)
    for number, plan in enumerate(order.plans):
        least[number, :, : plan.n_days] = bounds[2 * number]
        greatest[number, :, : plan.n_days] = bounds[2 * number + 1]
    return Wanted(least, greatest, date_of(order.plans[0].first_day).year, _guide(order, least, greatest))


def _guide(order: _Order, least: Minutes, greatest: Minutes) -> NDArray[np.float64]:
    """The Sun's own moments where limits leave the curve free, else the middle of the wanted range."""
    low, high = least.max(axis=0), greatest.min(axis=0)
    path = smooth_guide(np.minimum(low, high), np.maximum(low, high))
    plan = max(order.plans, key=lambda plan: plan.n_days)
    midnight = plan.days * float(DAY_MIN) - plan.chip_offset_min
    for side, sun in enumerate((plan.dawn_utc_min, plan.dusk_utc_min)):
        free = (low[side] <= -FREE) | (high[side] >= FREE)
        bound = ~free & (low[side] != NO_MINUTE)
        minute = sun - midnight + 0.5
        known = ~np.isnan(minute)
        if not (known & bound).any():
            continue
        # Minutes later and rules shift the moments; the days with both known show by how much.
        shift = float(np.median((path[side] - minute)[known & bound]))
        use = np.flatnonzero(bound | (known & free))
        values = np.where(bound, path[side], np.clip(minute + shift, low[side], high[side]))
        path[side] = np.interp(np.arange(len(minute)), use, values[use])
    return path


def _read_back(order: _Order, names: tuple[str, ...], applied: tuple[Rule, ...], layout: Codec, data: bytes) -> Table:
    """The table as the chip will read it, compared with the plan day by day."""
    first = order.plans[0]
    image = Image(
        layout=layout,
        keeps=first.chip.keeps,
        first_year=date_of(first.first_day).year,
        n_years=len(order.plans),
        offset_min=first.chip_offset_min,
        settings=order.settings.to_bytes() if order.settings else b"",
        facts=order.facts,
        rules=applied,
        data=data,
    )
    worst = inexact = 0
    for number, target in enumerate(order.targets):
        year = image.first_year + number
        got = image.minutes(year)
        if ((got == NO_MINUTE) != (target == NO_MINUTE)).any():
            raise CheckError(f"layout {layout.name} read back: other days shut in {year} than in the plan")
        off = np.abs(got - target)
        worst = max(worst, int(off.max()))
        inexact += int((off > 0).any(axis=0).sum())
    if worst > order.error_min:
        raise CheckError(f"layout {layout.name} read back differs from the plan by {worst} min")
    return Table(image, image.to_bytes(), names, worst, inexact)


def _others(
    order: _Order, rules: Rules, layout: Codec | None, room_bytes: int | None, progress: Progress | None
) -> str:
    """What would fit, in words: the smallest layout, else one or two minutes of error more."""
    if layout is not None:
        table = _smallest(order, rules, None, progress)
        if table is not None and (room_bytes is None or len(table.raw) <= room_bytes):
            return f"--layout auto would fit, {len(table.raw)} bytes in layout {table.image.layout.name}"
    for more in (1, 2):
        wider = _Order(order.plans, order.targets, order.error_min + more, order.settings, order.facts)
        table = _smallest(wider, rules, None, progress)
        if table is not None and (room_bytes is None or len(table.raw) <= room_bytes):
            options = f"{'' if layout is None else '--layout auto '}--worst-error {wider.error_min}"
            return f"with {options} layout {table.image.layout.name} would fit, {len(table.raw)} bytes"
    return f"not even {order.error_min + 2} min of error would do"


def _nothing_fits(order: _Order, rules: Rules, layout: Codec | None, progress: Progress | None) -> str:
    what = f"layout {layout.name}" if layout else "a table of many years"
    if len(order.plans) > 1 and not _alike_shut(order):
        return (
            "the days kept shut are other dates in too many years for the rules of one table; "
            "give kept_in dates without a year, or a table for each year"
        )
    exact = "exactly" if order.error_min == 0 else f"within {order.error_min} min"
    return f"{what} cannot hold these minutes {exact}; {_others(order, rules, layout, None, progress)}"


def _alike_shut(order: _Order) -> bool:
    shut = rule_block.groups(order.plans, Rules()).get("days kept shut", ())
    return _fits_an_image(shut) and (bool(shut) or not any((target == NO_MINUTE).any() for target in order.targets))


def _fits_an_image(rules: Sequence[Rule]) -> bool:
    return len(rule_block.to_bytes(rules)) <= MOST_BLOCK_BYTES


def _too_long(
    order: _Order, rules: Rules, layout: Codec | None, room_bytes: int, table: Table, progress: Progress | None
) -> str:
    over = len(table.raw) - room_bytes
    parts = f"{table.data_bytes} of minutes, {table.rule_bytes} of rules, {len(order.facts)} of facts"
    text = (
        f"the smallest table{'' if layout is None else f' of layout {layout.name}'} takes {len(table.raw)} bytes "
        f"({parts}), {over} more than the room of {room_bytes}; "
        f"{_others(order, rules, layout, room_bytes, progress)}"
    )
    groups = rule_block.groups(order.plans, rules)
    costs = [f"{name} {len(rule_block.to_bytes(groups[name]))}" for name in table.decoder_rules]
    return text + (f"; fewer rules save: {', '.join(costs)} bytes" if costs else "")
