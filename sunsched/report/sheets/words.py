"""Every word of the sheets and of the calendar, in one place: a translation is this file with other strings.

`{...}` marks what is filled in; a translation keeps the names and may move them. Nothing else in report/ puts words on
a sheet, but for the reasons, which stand in plan/reasons.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sunsched.base.civil_time import MONTH_NAMES, WEEKDAY_NAMES
from sunsched.plan.reasons import Reason

_ALARMS = {
    "clock_step": "The clock jumped or stands still. The door goes on by its own count. Tell the owner; set the clock.",
    "clock_lost": "No time is known: the door goes by the light alone. Look every evening and every morning.",
    "sun_shift": "The clock does not agree with the Sun. The door has shifted its times. Tell the owner.",
    "contradiction": "Clock and light have disagreed two days running. Look at dusk and at dawn until the owner says.",
    "cell": "The light cell cannot be trusted: covered, wet, broken wire. The door goes by the clock.",
    "no_witness": "Neither clock nor light can be trusted: the door may stay as it is. Move it by hand, dusk and dawn.",
    "expired": "The door's table is over: it goes by the light alone. Look at dusk and at dawn; tell the owner.",
    "not_begun": "The door's table has not begun: it goes by the light alone. Check the clock's year.",
    "battery": "The battery is low. The door is lowered and may not be raised. Let the birds out by hand; call.",
    "not_down": "The door did not reach the bottom. Something may lie on the sill. Look now.",
    "not_up": "The door did not reach the top. Look now: cord, ice, a bird on the sill.",
    "not_rising": "The door does not leave the bottom: frozen, or the cord is off. Let the birds out by hand.",
    "switches": "The end switches contradict each other. The door moves by time. Look at every move.",
    "wrong_way": "The door moved the wrong way and has stopped. Move it by hand and call the owner.",
    "power": "The power gives way when the motor starts. The door tries more and more rarely. Move it by hand; call.",
    "moved": "The plate has moved while the motor was off: lifted, slipped, the cord. Look at plate and cord now.",
    "driver": "The motor runs although it is switched off. Pull out the battery's fuse or plug, then call the owner.",
    "clock_cell": "The clock's own small battery is low. Tell the owner; nothing else changes.",
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
    "(reckoned: dark {dark}, light {light}). Enter what you read.",
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
    look_explained: str = (
        "Look: when the door must be down even on a bright evening. Where the light cell may act, the door may close "
        "up to {early} min before its time and up to {late} min after it."
    )
    by_clock: str = "Look: a little after closing. The door goes by the clock alone."
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
    not_moved_heading: str = "When the door has not moved"
    not_moved: tuple[str, ...] = _NOT_MOVED
    alarms_heading: str = "When the lamp blinks"
    alarms_intro: str = "The lamp blinks while an alarm stands. The log names it:"
    alarm_columns: tuple[str, str] = ("alarm", "what it means, what to do")
    alarms: Mapping[str, str] = field(default_factory=lambda: dict(_ALARMS))
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
    event_open: str = "Door opens: {site}"
    event_close: str = "Door closes: {site}"
    event_look: str = "Look: door down, all birds in? {site}"
    reasons: Mapping[str, str] = field(default_factory=lambda: dict(_REASONS))
    event_open_text: str = "Decided by: {reason}."
    event_close_text: str = "Decided by: {reason}. Look {minutes} min later: door down, birds counted."


ENGLISH = SheetWords()
