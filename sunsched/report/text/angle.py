"""The fit of the evening's angle as plain text."""

from __future__ import annotations

from sunsched.base import cautions
from sunsched.hardware.figures import number
from sunsched.job.logs.angle import AngleFit, Setting, dates_text
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.plain import cautions_text, columns, wrapped
from sunsched.study.night_limits import Update
from sunsched.study.observations import Following

YEAR_EVENINGS = 365
IN_PLACE = "IN PLACE OF [evening] AND ALL THAT BELONGS TO IT"


def angle_text(fit: AngleFit, every: bool = False) -> str:
    """Everything about the fit as plain text: the nights, the settings with their price, what to paste."""
    blocks = [
        Block(_nights_text(fit), "the nights"),
        Block(_settings_text(fit), "the settings with their price"),
        Block(_chance_text(fit)),
        Block(_following_text(fit), "whether the birds follow the light"),
        Block(_paste_text(fit)),
        Block(cautions_text(cautions.ANGLE)),
    ]
    return told(angle_answer(fit), blocks, every)


def angle_answer(fit: AngleFit) -> Answer:
    """The fit in three lines."""
    n = fit.nights.n
    nights = f"{n} night{'' if n == 1 else 's'}"
    side = "below" if fit.depression_deg >= 0 else "above"
    answer = f"Close with the Sun {abs(fit.depression_deg):g} degrees {side} the horizon: that fits your {nights}."
    if n < fit.nights_needed:
        hangs_on = f"It hangs on few nights: to leave out {fit.share:.1%}, {fit.nights_needed} must be noted."
    else:
        hangs_on = f"It hangs on nights like these: of those to come about {fit.left_out[0]:.1%} end later."
    return Answer(answer, hangs_on, "Put the [evening] below in place of yours, or let --write FILE do it.")


def _nights_text(fit: AngleFit) -> str:
    n = fit.nights
    head = ["THE NIGHTS", "last in", "Sun below, deg", "clear sky, lux", "after sunset, min"]
    rows = [[*head, "measured, lux"] if fit.measured_lux else head]
    for k, night in enumerate(n.noted):
        after = "" if n.after_sunset_min[k] != n.after_sunset_min[k] else f"{n.after_sunset_min[k]:.0f}"
        row = [f"  {night.date}", fit.civil[k], f"{n.depression_deg[k]:.2f}", number(float(n.clear_lux[k])), after]
        if fit.measured_lux:
            lux = fit.measured_lux[k]
            row.append("no light" if lux is None else number(lux))
        rows.append(row)
    return columns(rows, frozenset(range(1, len(rows[0]))))


def _settings_text(fit: AngleFit) -> str:
    rows = [["CLOSING BY", "", "nights too late", "open after the last bird, min", "spread, min"]]
    for name, found in fit.settings.items():
        label = f"  {name.replace('the share', f'{fit.share:.0%}')}"
        rows.append([label, *_setting_row(found)])
    note = (
        "The rule with the smaller spread fits the seasons better. Open: from the last bird to the closing minute, the"
        " mean of these nights; the cell's minutes and the confirmation come on top."
    )
    return columns(rows, frozenset({2, 3, 4})) + wrapped(note, "  ") + "\n"


def _setting_row(found: Setting | None) -> list[str]:
    if found is None:
        return ["too few nights, or no sunset on some", "", "", ""]
    unit = "degrees" if found.rule == "depression_deg" else "min"
    price = "" if found.open_after_min is None else f"{found.open_after_min:.1f}"
    spread = "" if found.spread_min is None else f"{found.spread_min:.1f}"
    return [f"{found.value:g} {unit}", str(found.late_nights), price, spread]


def _chance_text(fit: AngleFit) -> str:
    n, chance = fit.nights.n, fit.chance_next_later
    words = (
        f"{n} nights, {dates_text(fit.nights)}. The chance that the next night ends later than any of them is"
        f" 1/(n+1) = {chance:.1%}: about {chance * YEAR_EVENINGS:.0f} evenings of a year."
    )
    mean, low, high = fit.left_out
    words += (
        f" The angle below leaves out {mean:.1%} of nights to come on average; for nights like these it is {low:.1%} to"
        f" {high:.1%} (90 %)."
    )
    if n < fit.nights_needed:
        words += (
            f" To leave out only {fit.share:.1%} of nights to come, {fit.nights_needed} nights must be noted;"
            " until then the latest one decides."
        )
    return wrapped(words, "") + "\n"


def _following_text(fit: AngleFit) -> str:
    found = fit.following
    if fit.measured_lux is None:
        words = (
            "Whether the birds follow the light or the Sun cannot be told from times alone; a log of the same evenings'"
            " light (--light) may tell."
        )
    elif found is None:
        words = (
            "Whether the birds follow the light or the Sun cannot be told: too few nights with light in the log, or"
            " their weather too much alike."
        )
    else:
        words = (
            f"On {found.n} nights with light in the log the birds moved by {found.share:.2f} of the light's own shift"
            f" (1: they follow the light, 0: the Sun). Whatever the cell's own sky did, w lies between {found.low:.2f}"
            f" and {found.high:.2f}: {found.words}. {_more_words(found)}"
        )
    return wrapped(words, "") + "\n"


def _more_words(found: Following) -> str:
    if found.words != "cannot tell":
        return ""
    if found.more_nights is None:
        return "More nights like these would not tell: the light at the cell may differ too much from the birds'."
    return f"About {max(found.more_nights, 1)} more nights like these would tell."


def _paste_text(fit: AngleFit) -> str:
    return f"TO PASTE, {IN_PLACE}\n{fit.paste}"


def update_text(found: Update, share: float, paste: str) -> str:
    """The yearly proposal as plain text; `paste` is the section that would follow it."""
    mean, low, high = found.late_share
    if found.changed:
        answer = f"Close at {found.proposed_deg:g} degrees, not at {found.set_deg:g}: your nights tell against it."
        then = "Look at the proposal, and paste it if you agree: nothing was changed."
    else:
        answer = f"Leave the angle at {found.set_deg:g} degrees: your nights do not tell against it."
        then = "Go on noting birds out after closing; ask again in a year."
    hangs_on = f"It hangs on {found.n_nights} nights with a closing and a count of the birds out."
    words = (
        f"{found.n_nights} nights with a closing and a count; on {found.nights_with_birds_out} of them birds were out: "
        f"{mean:.1%} ({low:.1%} .. {high:.1%}). To leave out {share:.1%} of nights, the door would close with the Sun "
        f"{found.proposed_deg:g} degrees below the horizon ({found.low_deg:.1f} .. {found.high_deg:.1f}); it is set to "
        f"{found.set_deg:g}, and its closings lay at {found.now_deg:.1f}."
    )
    block = Block(f"TO PASTE, IF YOU AGREE, {IN_PLACE}\n{paste}" if found.changed else "")
    return told(Answer(answer, hangs_on, then), [Block(wrapped(words, "")), block])
