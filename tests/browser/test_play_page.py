"""The page that plays the door's program, in a real browser, from a file."""

from __future__ import annotations

import datetime as dt
import re
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.job import pipeline
from sunsched.report.pictures.evening import OVERCAST
from sunsched.report.play.page import play_html
from sunsched.sky.daylight import clear_sky_lux_at
from sunsched.study.evening_program import cell_counts, closing
from sunsched.study.trial import Why
from tests.browser.browser import DESKTOP, NARROW, PHONE, TABLET, Browser
from tests.conftest import CONFIGS

YEAR, EVENING = 2027, dt.date(2027, 3, 20)
LARCH, TUSSOCK = (next(path for path in CONFIGS if path.stem == name) for name in ("larch_end", "tussock_flat"))
WORDS = {Why.LIGHT: "dusk", Why.CLOCK: "close_minute", Why.LIMIT: "dusk_limit"}


def played(browser: Browser, pages: Path, config: Path = LARCH, **how: Any) -> Path:
    """The page of a configuration, opened and started."""
    language, size, dark = how.get("language", "en"), how.get("size", DESKTOP), how.get("dark", False)
    path = pages / f"play_{config.stem}_{language}.html"
    if not path.exists():
        path.write_text(play_html(toml_file.read(str(config)), YEAR, EVENING, config.name, language), encoding="utf-8")
    browser.open(path, size, dark)
    wait(browser, "return document.documentElement.dataset.play === 'ready'")
    return path


def wait(browser: Browser, script: str, seconds: float = 20) -> None:
    """Until a script returns true."""
    until = time.monotonic() + seconds
    while not browser.run(script):
        assert time.monotonic() < until, script
        time.sleep(0.02)


def press(browser: Browser, *idents: str) -> None:
    for ident in idents:
        browser.run("document.getElementById(arguments[0]).click()", ident)


def choose(browser: Browser, ident: str, value: str) -> None:
    browser.run(
        "const one = document.getElementById(arguments[0]); one.value = arguments[1];"
        "one.dispatchEvent(new Event('change'))",
        ident,
        value,
    )


def text(browser: Browser, ident: str) -> str:
    return str(browser.run("return document.getElementById(arguments[0]).textContent", ident))


def events(browser: Browser) -> list[str]:
    """What the list says, the oldest first."""
    script = "return [...document.querySelectorAll('#events tr:not(.quarter)')].map((row) => row.innerText)"
    return [" ".join(row.split()) for row in reversed(browser.run(script))]


def begin(browser: Browser, **choices: str) -> None:
    """Choose an evening and start it again."""
    browser.run("document.documentElement.dataset.play = ''")
    for ident, value in choices.items():
        browser.run("document.getElementById(arguments[0]).value = arguments[1]", ident, value)
    press(browser, "again")
    wait(browser, "return document.documentElement.dataset.play === 'ready'")


def test_the_page_is_quiet_offline_and_accessible_while_it_plays(browser: Browser, pages: Path) -> None:
    for config, language, size, dark in (
        (LARCH, "en", DESKTOP, False),
        (LARCH, "en", PHONE, True),
        (TUSSOCK, "de", TABLET, True),
        (TUSSOCK, "de", NARROW, False),
    ):
        path = played(browser, pages, config, language=language, size=size, dark=dark)
        choose(browser, "bottom_switch", "1")
        press(browser, "jam", "clock_twice", *["step-event"] * 6)
        browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert len(events(browser)) >= 4
        if size in (DESKTOP, PHONE):  # a light screen, a dark one
            assert browser.faults_found_by_axe() == []
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.messages() == []
        assert browser.requests() == [path.as_uri()]


def test_keys_alone_do_everything(browser: Browser, pages: Path) -> None:
    played(browser, pages)

    def keys(*pressed: str) -> None:
        ActionChains(browser.driver).send_keys(*pressed).perform()

    def tab_to(ident: str) -> None:
        for _ in range(60):
            keys(Keys.TAB)
            if browser.run("return document.activeElement.id") == ident:
                return
        raise AssertionError(f"no way to {ident} by Tab")

    tab_to("step-event")
    keys(Keys.ENTER)
    assert "Door wanted down" in events(browser)[0]
    wait(browser, "return document.getElementById('play-status').textContent.includes('Door wanted down')")
    tab_to("jam")
    keys(Keys.SPACE)
    assert browser.run("return document.getElementById('jam').getAttribute('aria-pressed')") == "true"
    browser.run("document.querySelector('#now-why a').focus()")
    keys(Keys.ENTER)
    wait(browser, "return document.activeElement.id === 'rule-E3'")
    assert browser.run("return document.getElementById('play-rules').open") is True
    box = browser.run("const r = document.activeElement.getBoundingClientRect(); return [r.top, r.bottom, innerHeight]")
    assert box[0] >= 0 and box[1] <= box[2]


def test_time_runs_pauses_and_steps(browser: Browser, pages: Path) -> None:
    played(browser, pages)
    before = text(browser, "now-local")
    press(browser, "step-second")
    assert text(browser, "now-local")[-2:] == f"{int(before[-2:]) + 1:02}"
    choose(browser, "speed", "86400")
    browser.run(
        "window.said = 0; new MutationObserver(() => { window.said += 1; })"
        ".observe(document.getElementById('play-status'), { childList: true })"
    )
    press(browser, "run")
    assert text(browser, "run") == "Pause"
    wait(browser, "return document.querySelectorAll('#events tr:not(.quarter)').length > 7")
    assert browser.run("return window.said") <= 3  # a screen reader is not talked over
    press(browser, "run")
    stopped = text(browser, "now-local")
    assert text(browser, "run") == "Run"
    time.sleep(0.1)
    assert text(browser, "now-local") == stopped > before


SKY = """
const [times] = arguments, data = JSON.parse(document.getElementById('play-data').textContent);
const sky = new Sky(data.sky, data.cell);
return times.map((at) => { const log = sky.clearLog(at); return [log, sky.counts(10 ** log * data.cell.view)]; });
"""


EVERY_KIND = """
const [beginnings, done] = arguments, data = JSON.parse(document.getElementById('play-data').textContent);
(async () => {
  const module = await WebAssembly.compile(bytesOf(data.wasm)), found = [];
  for (const [row, begin, kind] of beginnings) {
    const world = new World(module, data);
    await world.start(row + data.lead, begin, kind);
    const day = world.rowOf(world.beganS) - data.lead;
    const lines = world.live(86400);
    found.push([day, world.door.look().known, lines.filter(({ line }) => /not_begun|expired|NaN/.test(line)).length]);
  }
  done(found);
})().catch((error) => done(String(error)));
"""


def any_day_can_be_played(browser: Browser) -> None:
    """First and last days of the year, the solstices, days kept in: every beginning and sky."""
    rows = (0, 171, 244, 340, 354, 364)
    asked = [(row, begin, sky) for row in rows for begin, sky in (("evening", "storm"), ("morning", "dull"))]
    found = browser.driver.execute_async_script(EVERY_KIND, asked)
    assert isinstance(found, list), found
    for (row, _, _), (day, known, wrong) in zip(asked, found, strict=True):
        assert (known, wrong) == (1, 0) and abs(day - row) <= 1, (row, day, known, wrong)


def light_is_that_of_the_study(browser: Browser, c: Configuration) -> None:
    first = np.datetime64(f"{YEAR}-01-01", "m").astype(int)
    times = first + np.random.default_rng(1).uniform(0, 365 * 1440, 400)
    lux = clear_sky_lux_at(times, c.site.latitude_deg, c.site.longitude_deg)
    found = np.array(browser.run(SKY, times.tolist()))
    assert np.abs(found[:, 0] - np.log10(lux)).max() < 0.006  # the model's own error is 0.01 to 0.02
    counts = cell_counts(c.light_cell, lux * c.light_cell.sky_view)
    assert np.abs(found[:, 1] - counts).max() <= np.maximum(2, 0.01 * counts.max())


LIVE = """
const [cases, done] = arguments, data = JSON.parse(document.getElementById('play-data').textContent);
(async () => {
  const module = await WebAssembly.compile(bytesOf(data.wasm)), found = [];
  for (const [row, kind] of cases) {
    const world = new World(module, data);
    await world.start(row + data.lead, 'evening', kind);
    const lines = world.live(6 * 3600, (line) => line.includes(',move,') && line.includes(',lower,'));
    const last = lines[lines.length - 1];
    found.push([(last.s - world.midnight(row + data.lead)) / 60, last.line.split(',')[6]]);
  }
  done(found);
})().catch((error) => done(String(error)));
"""


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.stem)
def test_light_and_closings_are_those_of_the_study(browser: Browser, pages: Path, config: Path) -> None:
    played(browser, pages, config)
    c = toml_file.read(str(config))
    any_day_can_be_played(browser)
    light_is_that_of_the_study(browser, c)
    plan = pipeline.plan_of(c, YEAR, config.name)
    rows = [plan.row(dt.date(YEAR, month, 20)) for month in (3, 5, 10)]
    cases = [(row, kind, share) for row in rows for kind, share in (("clear", 1.0), ("dull", OVERCAST))]
    cases = [(row, kind, share) for row, kind, share in cases if closing(plan, c.rules, c.light_cell, row) is not None]
    found = browser.driver.execute_async_script(LIVE, [(row, kind) for row, kind, _ in cases])
    assert isinstance(found, list), found
    for (row, kind, share), (minute, reason) in zip(cases, found, strict=True):
        told = closing(plan, c.rules, c.light_cell, row, share)
        assert told is not None
        # the study holds the light for a minute, the page lets it run: a minute or so either way
        assert abs(minute - told.minute) <= 1.5 and reason == WORDS[told.why], (row, kind, minute, reason, told)


def test_what_a_button_breaks_is_what_the_rules_say(browser: Browser, pages: Path) -> None:
    played(browser, pages)
    # the lower switch fails: three tries, then an alarm with its rule
    choose(browser, "bottom_switch", "1")
    press(browser, *["step-event"] * 8)
    assert any("the lower switch was not made" in row and "G2" in row for row in events(browser))
    # the clock is set an hour fast, twice; it is far too bright when it says evening
    begin(browser, sky="clear")
    assert events(browser) == []
    press(browser, "clock_twice", *["step-minute"] * 31)
    assert "60 min fast" in text(browser, "now-clock")
    assert "too bright for an evening" in text(browser, "now-why") and "E6" in text(browser, "now-why")
    # the night's middle tells the clock's error
    press(browser, *["step-event"] * 8)
    assert re.search(r"moved the windows by (5[5-9]|6[0-5]) min", text(browser, "now-light_time"))
    # once is not enough: the program asks, and its clock stays
    begin(browser)
    press(browser, "clock_once", *["step-minute"] * 2)
    assert text(browser, "now-clock").endswith("right")
    # the list says what was pressed, before what came of it
    pressed = events(browser)
    assert "Set it so once by 60 min: done." in pressed[0] and "Alarm: the clock jumped" in pressed[1]
    # no power: the door stays where it is, and the program starts again after it
    begin(browser)
    press(browser, "power_cut", "step-minute")
    assert text(browser, "now-motor") == "off" and "no power" in text(browser, "now-door")
    press(browser, "step-event")
    assert events(browser)[-1].split(" ", 1)[1].startswith("The program starts.")
    # a cord on the wrong way: wrong way, and a halt
    begin(browser)
    press(browser, "cord_backwards", *["step-event"] * 12)
    assert any("G5" in row for row in events(browser))
    press(browser, "mend")
    assert browser.run("return document.querySelectorAll('[aria-pressed=true]').length") == 0
    assert browser.messages() == []


def test_where_the_clock_alone_decides_the_page_says_so_and_days_without_an_event_too(
    browser: Browser, pages: Path
) -> None:
    config = pages / "alone.toml"
    config.write_text('[site]\nlatitude_deg = -44.62\nlongitude_deg = 169.02\nzone = "Pacific/Auckland"\n')
    played(browser, pages, config)
    assert "decides nothing here" in text(browser, "now-light_time")
    press(browser, "keep_shut", *["step-event"] * 3)
    assert "Nothing has happened in two days" in text(browser, "play-status")
    # The chart's memory ends: a year is played as fast at its end as at its beginning.
    kept = (
        "const w = Object.create(World.prototype); Object.assign(w, {points: [], due: [], s: 0, lux: () => 1,"
        " sky: {counts: () => 1}, door: {second() {}, look: () => ({height: 0})}});"
        " for (let k = 0; k < 9000; k++) { w.s = 60 * k; w.second(); }"
        " return [w.points.length, w.points[w.points.length - 1][0]]"
    )
    n_points, last_s = browser.run(kept)
    assert 1440 < n_points < 6001 and last_s == 60 * 8999


def test_a_wrong_number_is_told_at_its_field_and_changes_nothing(browser: Browser, pages: Path) -> None:
    played(browser, pages)
    before = text(browser, "now-clock")
    browser.run("document.getElementById('clock_by').value = '9999'")
    press(browser, "clock_jump")
    assert "from -720 to 720" in text(browser, "clock_by-error")
    assert browser.run("return document.activeElement.id") == "clock_by"
    assert browser.run("return document.getElementById('clock_by').getAttribute('aria-invalid')") == "true"
    assert text(browser, "now-clock") == before
    browser.run("document.getElementById('clock_by').value = '-30'")
    press(browser, "clock_jump")
    assert text(browser, "clock_by-error") == "" and "30 min slow" in text(browser, "now-clock")


def test_on_paper_stand_the_list_and_the_cautions(browser: Browser, pages: Path, tmp_path: Path) -> None:
    played(browser, pages)
    press(browser, "step-event", "step-event")
    printed = " ".join(browser.pdf(tmp_path / "play.pdf", (8.268, 11.693)).split())
    assert "Door wanted down" in printed and "A play is a model, not the door" in printed
    assert "What happens now" not in printed and not re.search(r"\bRun\b", printed)
