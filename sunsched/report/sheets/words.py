"""Every word of the sheets and of the calendar, in one place: a translation is this file with other strings.

`{...}` marks what is filled in; a translation keeps the names and may move them. Nothing else in report/ puts words on
a sheet, but for the reasons, which stand in plan/reasons.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sunsched.base.civil_time import MONTH_NAMES, WEEKDAY_NAMES
from sunsched.plan.reasons import Reason

# The alarm's name in the log: what it is in a sitter's words, and what to do. Those that may cost a bird come first.
_ALARMS: dict[str, tuple[str, str]] = {
    "driver": (
        "The motor runs although nothing tells it to",
        "Pull out the battery's fuse or plug, keep clear of the plate, then call the owner.",
    ),
    "not_down": (
        "The door is not all the way down",
        "Go and look now, with a light: something may lie on the sill. Pull the fuse or plug before you reach in.",
    ),
    "wrong_way": (
        "The door moved the wrong way and has stopped",
        "It does not move again by itself. Move it by hand, at dusk and at dawn, and call the owner.",
    ),
    "moved": (
        "The plate has moved although the motor stood still",
        "Go and look now: an animal may have lifted it, or the cord has slipped.",
    ),
    "no_witness": (
        "The door knows neither the time nor the light",
        "It may stay as it is. Move it by hand, at dusk and at dawn, and call the owner.",
    ),
    "power": (
        "The power gives way when the motor starts",
        "The door tries more and more rarely. Move it by hand, at dusk and at dawn, and call the owner.",
    ),
    "not_rising": (
        "The door does not leave the bottom: frozen, or its cord is off",
        "Let the birds out by hand. They need water and air.",
    ),
    "not_up": (
        "The door is not all the way up",
        "Look now: cord, ice, a bird on the sill. Let the birds out by hand.",
    ),
    "battery": (
        "The battery is low",
        "The door still closes, and in the end no longer opens. Let the birds out by hand; call the owner.",
    ),
    "contradiction": (
        "Clock and light have disagreed for two days",
        "Look at the door at dusk and at dawn until the owner has answered.",
    ),
    "clock_lost": (
        "The door has lost the time",
        "It goes by the light alone. Look at dusk and at dawn; call the owner.",
    ),
    "expired": (
        "The door's list of times has come to its end",
        "It goes by the light alone. Look at dusk and at dawn; tell the owner.",
    ),
    "not_begun": (
        "The door's list of times has not begun",
        "It goes by the light alone. Look at dusk and at dawn; tell the owner.",
    ),
    "cell": (
        "The light cell is covered, wet or broken",
        "Wipe snow and dirt off it. The door goes by its clock meanwhile; tell the owner.",
    ),
    "sun_shift": (
        "The door's clock does not agree with the Sun",
        "The door has moved its times to suit the Sun. Tell the owner.",
    ),
    "clock_step": (
        "The door's clock has jumped or stands still",
        "The door goes on by its own count. Tell the owner.",
    ),
    "switches": (
        "The switches that feel the door's two ends contradict each other",
        "The door moves by time. Look at every move; tell the owner.",
    ),
    "clock_cell": ("The clock's own small battery is low", "Nothing else changes. Tell the owner."),
}
_EVENING = (
    'Go at the time in the column "look" or a little later, with a light.',
    "Is the door down, all the way to the sill? Push gently at its lower edge.",
    "Count the birds inside: there should be {birds}. Write the number down.",
    "Is a bird outside? Look at the door, on roofs and in trees near it; carry it in by the inner door.",
    "Never lift the door for a late bird without looking behind you: the others come out too.",
)
_MORNING = (
    "When you come, see that the door is up and that birds come out.",
    "Food, water, and a look at each bird. A bird that stays in may be ill.",
)
_NOT_MOVED = (
    "Wait two minutes: the door tries again, several times.",
    'Still not down in the evening: press the hand switch "down" and hold it for three seconds.',
    "Nothing happens: pull out the battery's fuse or plug first. Then clear what is in the way; keep fingers from "
    "under the plate and hold the plate up while you clear it.",
    "Lower the plate by hand if you can. Otherwise block the opening with a board and a stone, and look again.",
    'Not up in the morning: press "up" for three seconds, or let the birds out by the other door. Birds locked in need '
    "water and air.",
    "Call the owner, and leave the door as it is until the owner has answered.",
)
_CAUTIONS = (
    "The times advise; they certify nothing. What you see at the hut counts.",
    "Look at birds and door every day. A message from afar is no look.",
    "Keep fingers and heads from under the plate. Isolate the power before you reach in.",
    "No sparks or flames near the battery. Leave mains wiring to a licensed electrician.",
)
_FIRST_WEEK = (
    "Before power: the plate runs freely in its guides, top to bottom, by hand; the cord lies straight on the spool.",
    "Fuse at the battery's positive terminal; polarity of the motor noted; driver and wires away from straw and wet.",
    "Clock set to {clock}. Read it back, and again after a day.",
    "Top switch: lift the plate by hand against it; the program must see it. The same for the bottom switch.",
    "First run: stand at the switch. Up must be up. If not, stop, and exchange the motor's wires.",
    "Time three runs up and three down with a watch. Cut-off up {cutoff_up}, cut-off down {cutoff_down}: half as long "
    "again as the slowest run, no more.",
    "Spare turns on the spool with the door down: {turns}. Slack cord must never wind backwards and lift the plate.",
    "Hold the bottom switch open by hand during one lowering: the motor must stop by itself at the cut-off.",
    "Block the plate half-way with a piece of wood: the motor must stop, rest and try again; nothing may get hot.",
    "Switch the power off for a minute in the day and once after dusk: the door must find its right place again.",
    "Hand switch, up and down, by day and after closing.",
    "Light cell in its place, facing the open sky, no lamp in its view. Counts at dusk as the birds go in: ______ "
    "(reckoned: dark {dark}, light {light}). Note the minute too: [[light_cell.reading]] in the configuration takes "
    "both, and sunsched cell calibrates by them.",
    "Cover the cell for five minutes at noon: the door must stay up.",
    "Count the birds after every closing, for at least seven evenings, before you rely on the door.",
)


# What is said of each reason that leaves a minute, by its word.
_REASONS = {reason.word: reason.record.said for reason in Reason if reason.record.said}


@dataclass(frozen=True, slots=True)
class SheetWords:
    """The words; English is `SheetWords()`."""

    language: str = "en"
    title: str = "Looking after the birds: {site}"
    commission_title: str = "First week of the door: {site}"
    span: str = "{first} to {last}. Times are civil time ({zone}), summer time included."
    weekdays: tuple[str, ...] = WEEKDAY_NAMES
    months: tuple[str, ...] = MONTH_NAMES
    date: str = "{day} {month} {year}"
    short_date: str = "{weekday} {day} {month}"
    days_heading: str = "Day by day"
    columns: tuple[str, ...] = ("date", "opens", "closes", "look", "birds in", "by")
    between: str = "{first}–{last}"
    look_explained: str = (
        "Two times in one column: the door moves between them, as the light of the day will have it. Look: when it "
        "must be down even on a bright evening."
    )
    limit_explained: str = (
        "By light the door may close up to {early} min before its planned minute and up to {late} min after it, also "
        "past a time that the owner has set as a limit."
    )
    by_clock: str = "Look: a little after closing. The door goes by the clock alone."
    birds_blank: str = "______"
    stays_down: str = "stays down all day"
    next_day: str = "{time} next day"
    day_before: str = "{time} the day before"
    clocks_forward: str = "clocks go forward {minutes} min before this day's opening; the times here follow"
    clocks_back: str = "clocks go back {minutes} min before this day's opening; the times here follow"
    am: str = "am"
    pm: str = "pm"
    evening_heading: str = "Each evening, after closing"
    evening: tuple[str, ...] = _EVENING
    morning_heading: str = "Each morning"
    morning: tuple[str, ...] = _MORNING
    kept_days: str = "When the door stays down all day, the birds need light, water, food and air inside."
    not_moved_heading: str = "When the door has not moved"
    not_moved: tuple[str, ...] = _NOT_MOVED
    warnings_heading: str = "What the owner has been warned of: {n}"
    alarms_heading: str = "When the lamp blinks"
    alarms_intro: str = (
        "The lamp blinks while something is wrong; it does not say what. Go and look: is the door down in the evening, "
        "is it up in the morning? Then call the owner, who can read what it is. The worst come first:"
    )
    alarm_columns: tuple[str, str] = ("what it may be", "what to do")
    alarms: Mapping[str, tuple[str, str]] = field(default_factory=lambda: dict(_ALARMS))
    names_heading: str = "Names and numbers"
    names: tuple[str, ...] = ("Owner", "Second person", "Vet", "Where the key, the fuse and the hand switch are")
    first_week_heading: str = "Before the door is relied on"
    first_week: tuple[str, ...] = _FIRST_WEEK
    seconds: str = "{n} s"
    not_given: str = "______"
    chip_standard: str = "standard time, UTC{offset} h, no summer time"
    chip_civil: str = "civil time"
    cautions_heading: str = "Cautions"
    cautions: tuple[str, ...] = _CAUTIONS
    reasons: Mapping[str, str] = field(default_factory=lambda: dict(_REASONS))
    calendar_name: str = "Door times: {site}"
    event_open: str = "Door opens: {site}"
    event_close: str = "Door closes: {site}"
    event_look: str = "Look: door down, all birds in? {site}"
    event_open_text: str = "Opens between {first} and {last}, planned for {planned}. Decided by: {reason}."
    event_open_clock_text: str = "Opens at {planned}, by the clock alone. Decided by: {reason}."
    event_close_text: str = (
        "Closes between {first} and {last}, planned for {planned}. Decided by: {reason}. Look at {look}: door down, "
        "birds counted."
    )
    event_close_clock_text: str = (
        "Closes at {planned}, by the clock alone. Decided by: {reason}. Look at {look}: door down, birds counted."
    )
    event_kept: str = "Door stays down: {site}"
    event_kept_text: str = "{note}. The birds need light, water, food and air inside."
    event_forward: str = "Clocks go forward {minutes} min: {site}"
    event_back: str = "Clocks go back {minutes} min: {site}"
    event_change_text: str = "The times here follow. The door's own clock is not touched."
    round_title: str = "Looking after the birds: {count} huts"
    round_count: str = "the number beside the hut's name"
    round_columns: tuple[str, ...] = ("hut", "opens", "closes", "look", "birds in", "by")
    round_birds: str = "{birds} birds"
    round_order: str = "The huts of each evening stand in the order in which you look."
    round_zones: str = "The times of each hut are those of its own zone."


ENGLISH = SheetWords()
