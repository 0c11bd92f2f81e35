"""The rules: which moment of the Sun, what shifts it, what limits it, and when the door stays down."""

import datetime as dt
import re
from itertools import combinations
from typing import Annotated, Any, Literal, NamedTuple, Self

from annotated_types import Ge, Le
from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import PydanticCustomError

from sunsched.base.civil_time import WEEKDAYS, clock_text, day_number
from sunsched.base.model import Float, Int, Settings

TWILIGHT_DEPRESSION_DEG = {"civil": 6.0, "nautical": 12.0, "astronomical": 18.0}
MOMENT_KEYS = ("twilight", "depression_deg", "clear_sky_lux")
_LIMIT_KEYS = ("not_before", "not_after")
_YEARLY = r"(\d\d)-(\d\d)"
_DATED = r"(\d{4})-(\d\d)-(\d\d)"


# What a keeper wrote: a time there is a text, so that `not_before = 7` is no seven minutes past midnight.
AS_WRITTEN = {"as_written": True}


def _clock_minute(value: Any, info: ValidationInfo) -> int:
    match = re.fullmatch(r"(\d\d):(\d\d)", value) if isinstance(value, str) else None
    if match and int(match[1]) < 24 and int(match[2]) < 60:
        return int(match[1]) * 60 + int(match[2])
    if info.context != AS_WRITTEN and isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1440:
        return value
    raise ValueError("a civil time in quotes, '00:00' to '23:59'")


def _yearly_date(value: Any) -> int:
    """'04-15' as 415, so that dates of a year compare as numbers."""
    match = re.fullmatch(_YEARLY, value) if isinstance(value, str) else None
    if match:
        try:
            dt.date(2028, int(match[1]), int(match[2]))
        except ValueError:
            pass
        else:
            return int(match[1]) * 100 + int(match[2])
    raise ValueError("a date of every year in quotes, '01-01' to '12-31'")


def _any_date(value: Any) -> str:
    if isinstance(value, dt.date):
        value = value.isoformat()
    if isinstance(value, str) and re.fullmatch(_DATED, value):
        try:
            dt.date.fromisoformat(value)
        except ValueError:
            pass
        else:
            return value
    elif isinstance(value, str) and re.fullmatch(_YEARLY, value):
        _yearly_date(value)
        return value
    raise ValueError("a date in quotes, '2027-11-20' for once or '11-20' for every year")


# The same in the words of a JSON Schema; 29 February is a date of every year, and of every year with a number too:
# that 2027 has none is found on reading.
_CLOCK_PATTERN = r"([01]\d|2[0-3]):[0-5]\d"
_YEARLY_PATTERN = r"(0[13578]|1[02])-(0[1-9]|[12]\d|3[01])|(0[469]|11)-(0[1-9]|[12]\d|30)|02-(0[1-9]|[12]\d)"


def _text_schema(pattern: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": f"^({pattern})$"})


ClockMinute = Annotated[
    int,
    BeforeValidator(_clock_minute),
    PlainSerializer(clock_text, return_type=str),
    _text_schema(_CLOCK_PATTERN),
]
YearlyDate = Annotated[
    int,
    BeforeValidator(_yearly_date),
    PlainSerializer(lambda md: f"{md // 100:02d}-{md % 100:02d}", return_type=str),
    _text_schema(_YEARLY_PATTERN),
]
AnyDate = Annotated[str, BeforeValidator(_any_date), _text_schema(rf"(\d{{4}}-)?({_YEARLY_PATTERN})")]
NoTwilight = Literal["light", "limit", "shut"]
DaysWithout = Annotated[
    tuple[NoTwilight, ...], Field(min_length=1, max_length=3, json_schema_extra={"uniqueItems": True})
]
Minutes = Annotated[Int, Ge(-720), Le(720)]
ByWeekday = tuple[int | None, ...]  # Monday first


class WeekdayLater(Settings):
    """Minutes later (negative: earlier) on each day of the week, by civil date."""

    mon: Minutes = 0
    tue: Minutes = 0
    wed: Minutes = 0
    thu: Minutes = 0
    fri: Minutes = 0
    sat: Minutes = 0
    sun: Minutes = 0

    def minutes(self) -> tuple[int, ...]:
        """The seven shifts [minutes], Monday first."""
        return tuple(getattr(self, day) for day in WEEKDAYS)


class WeekdayLimits(Settings):
    """A limit of its own for some days of the week, by civil date; the others keep the limit of every day."""

    mon: ClockMinute | None = None
    tue: ClockMinute | None = None
    wed: ClockMinute | None = None
    thu: ClockMinute | None = None
    fri: ClockMinute | None = None
    sat: ClockMinute | None = None
    sun: ClockMinute | None = None


class MomentRule(Settings):
    """What decides one of the two minutes. The moment is one of three: twilight, depression_deg, clear_sky_lux.

    A limit (not_before, not_after, and a weekday's own) binds the planned minute. The light may move the door from
    cell_from_min to cell_until_min around the planned minute, and so beyond a limit: with not_after "23:00" and
    cell_until_min 20 a bright evening closes at 23:20. Both 0, or a window that ends at 0: nothing passes the limit.
    """

    model_config = ConfigDict(
        json_schema_extra={"not": {"anyOf": [{"required": list(pair)} for pair in combinations(MOMENT_KEYS, 2)]}}
    )

    twilight: Literal["sunrise", "sunset", "civil", "nautical", "astronomical"] | None = None
    depression_deg: Annotated[Float, Ge(-10), Le(18)] | None = None
    clear_sky_lux: Annotated[Float, Ge(0.001), Le(20_000)] | None = None
    later_min: Minutes = 0
    not_before: ClockMinute | None = None
    not_after: ClockMinute | None = None
    no_twilight: DaysWithout = ("light", "limit")
    fallback_lux: Annotated[Float, Ge(0.001), Le(20_000)] = 5.0
    cell_from_min: Minutes = 0
    cell_until_min: Minutes = 0
    weekday_later_min: WeekdayLater = Field(default_factory=WeekdayLater.unwritten)
    weekday_not_before: WeekdayLimits | None = None
    weekday_not_after: WeekdayLimits | None = None

    @model_validator(mode="before")
    @classmethod
    def _civil_by_default(cls, data: Any) -> Any:
        if isinstance(data, dict) and cls is MomentRule and not any(data.get(key) is not None for key in MOMENT_KEYS):
            return {"twilight": "civil", **{k: v for k, v in data.items() if k not in MOMENT_KEYS}}
        return data

    @classmethod
    def unwritten(cls) -> Self:
        """A side of the day without a rule of its own: civil twilight, as `_civil_by_default` has it."""
        return cls.model_construct(_fields_set={"twilight"}, twilight="civil")

    @model_validator(mode="after")
    def _one_moment(self) -> Self:
        given = [key for key in MOMENT_KEYS if getattr(self, key) is not None]
        if len(given) > 1:
            raise ValueError(f"one of twilight, depression_deg and clear_sky_lux, not {' and '.join(given)}")
        if len(set(self.no_twilight)) != len(self.no_twilight):
            raise ValueError("each word of no_twilight once")
        return self

    @property
    def not_before_by_weekday(self) -> ByWeekday:
        """The limit of each weekday, Monday first [civil minutes after midnight], None where there is none."""
        return _by_weekday(self.not_before, self.weekday_not_before)

    @property
    def not_after_by_weekday(self) -> ByWeekday:
        """The limit of each weekday, Monday first [civil minutes after midnight], None where there is none."""
        return _by_weekday(self.not_after, self.weekday_not_after)

    @property
    def has_limits(self) -> bool:
        """Whether a limit may bind its minute on some weekday."""
        return any(limit is not None for limit in (*self.not_before_by_weekday, *self.not_after_by_weekday))

    @property
    def weekdays_with_own_limit(self) -> tuple[bool, ...]:
        """The weekdays with a limit of their own, Monday first."""
        written = [own for own in (self.weekday_not_before, self.weekday_not_after) if own is not None]
        return tuple(any(getattr(own, day) is not None for own in written) for day in WEEKDAYS)


def _by_weekday(every_day: int | None, own: WeekdayLimits | None) -> ByWeekday:
    limits = [None if own is None else getattr(own, day) for day in WEEKDAYS]
    return tuple(every_day if limit is None else limit for limit in limits)


class MomentPatch(MomentRule):
    """The keys that a season replaces; only those written count."""

    @classmethod
    def unwritten(cls) -> Self:
        """A season that replaces nothing on this side."""
        return cls.model_construct()

    def on(self, base: MomentRule) -> MomentRule:
        """`base` with the keys written here in place of its own."""
        written = {key: getattr(self, key) for key in self.model_fields_set}
        merged = {key: getattr(base, key) for key in MomentRule.model_fields}
        if any(key in written for key in MOMENT_KEYS):
            merged.update(dict.fromkeys(MOMENT_KEYS))
        return MomentRule.model_validate({**merged, **written})


class Season(Settings):
    """Keys replaced for the dates from..to of every year, both included; may wrap the year's end."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    from_: YearlyDate = Field(alias="from")
    to: YearlyDate
    morning: MomentPatch = Field(default_factory=MomentPatch.unwritten)
    evening: MomentPatch = Field(default_factory=MomentPatch.unwritten)

    def spans(self) -> tuple[tuple[int, int], ...]:
        """The dates as one span, or two when the season wraps the year's end."""
        if self.from_ <= self.to:
            return ((self.from_, self.to),)
        return ((self.from_, 1231), (101, self.to))

    def overlaps(self, other: Self) -> bool:
        """True when some date lies in both."""
        return any(a <= d and c <= b for a, b in self.spans() for c, d in other.spans())


class KeptIn(Settings):
    """Dates, both included, on which the door stays down: once ('2027-11-20') or every year ('11-20')."""

    from_: AnyDate = Field(alias="from")
    to: AnyDate
    why: Annotated[str, Field(max_length=200)] = "kept in"

    @model_validator(mode="after")
    def _same_kind(self) -> Self:
        if len(self.from_) != len(self.to):
            raise ValueError(f"both dates with a year or both without, not '{self.from_}' and '{self.to}'")
        if len(self.from_) == 10 and self.from_ > self.to:
            raise ValueError(f"from at or before to, not '{self.from_}' after '{self.to}'")
        return self

    def once(self) -> tuple[int, int] | None:
        """First and last day number when the dates carry a year."""
        if len(self.from_) != 10:
            return None
        return day_number(dt.date.fromisoformat(self.from_)), day_number(dt.date.fromisoformat(self.to))

    def yearly(self) -> tuple[tuple[int, int], ...]:
        """The dates of every year as month * 100 + day spans; empty when they carry a year."""
        if len(self.from_) == 10:
            return ()
        first, last = _yearly_date(self.from_), _yearly_date(self.to)
        return ((first, last),) if first <= last else ((first, 1231), (101, last))


class Warn(Settings):
    """The limits from which a year draws a warning, or is refused."""

    least_open_h: Annotated[Float, Ge(0), Le(24)] = 6.0
    least_shut_min: Annotated[Int, Ge(0), Le(720)] = 120


# Each is held against each: more than a page of them is a file named by mistake.
Seasons = Annotated[tuple[Season, ...], Field(max_length=100)]
KeptIns = Annotated[tuple[KeptIn, ...], Field(max_length=500)]


class Variant(NamedTuple):
    """The rules that hold on some dates: the year's own, or a season's."""

    name: str
    spans: tuple[tuple[int, int], ...]
    morning: MomentRule
    evening: MomentRule


class Rules(Settings):
    """All that decides the door's minutes, beside the site itself."""

    morning: MomentRule = Field(default_factory=MomentRule.unwritten)
    evening: MomentRule = Field(default_factory=MomentRule.unwritten)
    season: Seasons = ()
    kept_in: KeptIns = ()
    warn: Warn = Field(default_factory=Warn.unwritten)

    def variants(self) -> tuple[Variant, ...]:
        """The year's own rules first, then each season's with its keys replaced."""
        own = Variant("", ((101, 1231),), self.morning, self.evening)
        seasons = (
            Variant(s.name, s.spans(), s.morning.on(self.morning), s.evening.on(self.evening)) for s in self.season
        )
        return (own, *seasons)

    def contradictions(self) -> list[tuple[str, str, str]]:
        """What contradicts itself across keys: (key, got, wanted) for each, empty when all is well."""
        problems: list[tuple[str, str, str]] = []
        for late, season in enumerate(self.season):
            early = next((n for n, other in enumerate(self.season[:late]) if season.overlaps(other)), None)
            if early is not None:
                got = f"'{season.name}', which overlaps season[{early}] '{self.season[early].name}'"
                problems.append((f"season[{late}]", got, "dates that overlap no earlier season"))
        for number, variant in enumerate(self.variants()):
            where = f"season[{number - 1}]." if number else ""
            # A mistake that a season only inherits is reported once, in the section that has it.
            if not number or variant.morning != self.morning:
                problems += _side_contradictions(f"{where}morning", variant.morning, "sunset", "sunrise")
            if not number or variant.evening != self.evening:
                problems += _side_contradictions(f"{where}evening", variant.evening, "sunrise", "sunset")
        return problems

    def refuse_contradictions(self) -> None:
        """Raise what a validator raises when rules contradict each other, with the list of contradictions."""
        problems = self.contradictions()
        if problems:
            text = "; ".join(f"{key} is {got}; wanted {wanted}" for key, got, wanted in problems)
            raise PydanticCustomError("contradictions", "{text}", {"text": text, "found": problems})

    @model_validator(mode="after")
    def _agree(self) -> Self:
        self.refuse_contradictions()
        return self


def evening_minute(civil_minute: int) -> int:
    """An evening's civil limit counted from the evening's own date: before noon means after midnight."""
    return civil_minute + 1440 if civil_minute < 720 else civil_minute


def _side_contradictions(key: str, rule: MomentRule, wrong: str, right: str) -> list[tuple[str, str, str]]:
    problems = []
    if rule.twilight == wrong:
        problems.append((f"{key}.twilight", f"'{wrong}'", f"'{right}', 'civil', 'nautical' or 'astronomical'"))
    problems += _crossed_limits(key, rule, right == "sunset")
    # Checked here and not in the section: a season may replace one of the two.
    if rule.cell_from_min > rule.cell_until_min:
        got = f"{rule.cell_from_min}, after cell_until_min {rule.cell_until_min}"
        problems.append((f"{key}.cell_from_min", got, "minutes at or before cell_until_min"))
    return problems


def _crossed_limits(key: str, rule: MomentRule, evening: bool) -> list[tuple[str, str, str]]:
    """Where a not_before lies after its not_after: once for the limits of every day, else for each weekday."""
    problems: list[tuple[str, str, str]] = []
    turn = evening_minute if evening else int
    pairs = [("not_before", "not_after", rule.not_before, rule.not_after)]
    for day, before, after in zip(WEEKDAYS, rule.not_before_by_weekday, rule.not_after_by_weekday, strict=True):
        own = [getattr(limits, day, None) is not None for limits in (rule.weekday_not_before, rule.weekday_not_after)]
        if any(own):
            names = [f"weekday_{name}.{day}" if mine else name for name, mine in zip(_LIMIT_KEYS, own, strict=True)]
            pairs.append((names[0], names[1], before, after))
    for before_key, after_key, before, after in pairs:
        if before is None or after is None or turn(before) <= turn(after):
            continue
        got = f"'{clock_text(before)}', after {after_key} '{clock_text(after)}'"
        wanted = f"a time at or before {after_key}"
        if evening and before < 720:
            wanted += "; in the evening a time before 12:00 is one after midnight"
        problems.append((f"{key}.{before_key}", got, wanted))
    return problems
