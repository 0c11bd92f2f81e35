"""The planner in a real browser: a new site to its program by keys alone, wrong values, saving, undo, both schemes."""

from __future__ import annotations

import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.config import toml_file
from sunsched.planner import work
from sunsched.planner.fields import CHOSEN
from tests.browser.browser import DESKTOP, PHONE, TABLET, Browser
from tests.conftest import CONFIGS
from tests.planner.served import Served, served

LARCH = (CONFIGS[0].parent / "larch_end.toml").read_text().partition("[battery]")[0]
PATIENCE_S = 30


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """A file of its own."""
    path = tmp_path / "hut.toml"
    path.write_text(LARCH)
    return path


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without what takes long, for tests that look at other things."""
    monkeypatch.setattr(work, "birds", lambda *asked: {"birds": 0})
    monkeypatch.setattr(work, "table_size", lambda asked: {"problems": []})


@pytest.fixture
def page(config: Path, browser: Browser) -> Iterator[Served]:
    """A planner for it, opened in the browser."""
    with served(config) as one:
        opened(browser, one)
        yield one
        browser.driver.get("about:blank")


def until(found: Callable[[], object], what: str = "") -> None:
    """Wait for something to be so."""
    end = time.monotonic() + PATIENCE_S
    while not found():
        assert time.monotonic() < end, what
        time.sleep(0.03)


def opened(browser: Browser, page: Served, size: tuple[int, int] = DESKTOP, dark: bool = False, more: str = "") -> None:
    """Open the page and wait for its year."""
    browser.driver.get("about:blank")
    browser.go(page.address + more, size, dark)
    until(lambda: drawn(browser) > 0, "the first year")


def drawn(browser: Browser) -> int:
    """How often the year has been drawn."""
    return int(browser.run("return document.body.dataset.drawn || 0"))


def settled(browser: Browser) -> None:
    """Wait for what takes long."""
    until(lambda: browser.run("const d = document.body.dataset; return d.settled && d.settled === d.drawn"), "settled")


def text_of(browser: Browser, ident: str) -> str:
    """The text of an element."""
    return str(browser.run("return document.getElementById(arguments[0]).textContent", ident))


def typed(browser: Browser, key: str, value: str) -> None:
    """Type into a field as a keeper does: mark what is there, write over it."""
    browser.run("document.getElementById(arguments[0]).focus()", f"field-{key}")
    chord(browser, "a")
    keys(browser, value or Keys.DELETE)


def chord(browser: Browser, pressed: str) -> None:
    """Press a key with Control held."""
    ActionChains(browser.driver, duration=0).key_down(Keys.CONTROL).send_keys(pressed).key_up(Keys.CONTROL).perform()


def keys(browser: Browser, pressed: str) -> None:
    """Press keys, wherever the focus is."""
    ActionChains(browser.driver, duration=0).send_keys(pressed).perform()


def click(browser: Browser, ident: str) -> None:
    """Press a button."""
    browser.run("document.getElementById(arguments[0]).click()", ident)


def value(browser: Browser, key: str) -> str:
    """What stands in a field."""
    return str(browser.run("return document.getElementById(arguments[0]).value", f"field-{key}"))


def redrawn(browser: Browser, done: Callable[[], None]) -> None:
    """Do something and wait for the year to be drawn again."""
    before = drawn(browser)
    done()
    until(lambda: drawn(browser) > before, "another year")


def tabbed_to(browser: Browser, ident: str) -> None:
    """Press Tab until an element has the focus: who cannot be reached so is not there for a keyboard."""
    for _ in range(400):
        if browser.run("return document.activeElement.id") == ident:
            return
        keys(browser, Keys.TAB)
    raise AssertionError(f"{ident} is not reached by Tab")


def test_a_new_site_by_keyboard_from_nothing_to_its_program(quick: None, browser: Browser, tmp_path: Path) -> None:
    config, got = tmp_path / "new.toml", tmp_path / "got"
    got.mkdir()
    browser.command("Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(got)})
    # Days that hardly differ are packed in a tenth of the time.
    wanted = {"site.name": "New hut", "site.zone": "Africa/Nairobi", "site.latitude_deg": "-0.52"}
    wanted |= {"site.longitude_deg": "35.31", "evening.depression_deg": "4.5"}
    machine = {"door.travel_mm": "350", "door.plate_kg": "2", "spool.core_diameter_mm": "30"}
    machine |= {"spool.turns_left_when_down": "8.5", "motor.volts": "12", "motor.rpm": "60", "motor.run_a": "0.6"}
    machine |= {"motor.winding_ohm": "4", "motor.lowering_duty": "0.4", "motor.cutoff_up_s": "12"}
    machine |= {"motor.cutoff_down_s": "17"}
    with served(config) as page:
        opened(browser, page)
        for key, typed_value in wanted.items():
            tabbed_to(browser, f"field-{key}")
            chord(browser, "a")
            keys(browser, typed_value)
        until(lambda: "New hut" in text_of(browser, "title"))
        # The program is refused with a link to every key of the machine that is missing.
        browser.run("document.getElementById('program-years').value = '1'")
        browser.run("document.querySelector('[data-kind=program]').focus()")
        keys(browser, Keys.ENTER)
        until(lambda: browser.run("return document.querySelectorAll('#file-problems a').length") == len(machine))
        assert list(got.iterdir()) == []
        for key, typed_value in machine.items():
            browser.run("document.querySelector(`[data-to='${arguments[0]}']`).focus()", key)
            keys(browser, Keys.ENTER)
            assert browser.run("return document.activeElement.id") == f"field-{key}"
            keys(browser, typed_value)
        until(lambda: browser.run("return document.getElementById('text').value.includes('cutoff_down_s = 17')"))
        chord(browser, "s")
        until(config.exists, text_of(browser, "status") + text_of(browser, "problems"))
        assert toml_file.read(config).motor is not None
        browser.run("document.querySelector('[data-kind=program]').focus()")
        keys(browser, Keys.ENTER)
        until(lambda: (got / "door.zip").exists(), "the program")
        year = browser.run("return document.getElementById('year-number').value")
        # On a busy machine a year may be overtaken by the next key, which the console notes as a 409.
        (refused,) = [one for one in browser.messages() if not ("/api/plan" in one and "409" in one)]
        assert "/api/file" in refused and "422" in refused
    words = f"firmware {config} --years {year}..{year} -o {tmp_path / 'door'}"
    assert CliRunner().invoke(app, words.split()).exit_code == 0
    with zipfile.ZipFile(got / "door.zip") as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    assert files == {f"door/{path.name}": path.read_bytes() for path in (tmp_path / "door").iterdir()}


def test_a_wrong_value_is_told_at_its_field_and_the_year_stays(
    quick: None, browser: Browser, page: Served, config: Path
) -> None:
    before = text_of(browser, "now-map")
    typed(browser, "evening.depression_deg", "45")
    until(lambda: browser.run("return !document.getElementById('error-evening.depression_deg').hidden"))
    assert text_of(browser, "error-evening.depression_deg") == (
        "evening.depression_deg is 45.0; wanted a number from -10 to 18"
    )
    assert browser.run("return document.activeElement.getAttribute('aria-invalid')") == "true"
    assert text_of(browser, "now-map") == before and drawn(browser) == 1
    assert browser.run("return !document.getElementById('stale').hidden")
    # It is not saved, and another right value does not make it right.
    click(browser, "save")
    until(lambda: "first" in text_of(browser, "status"))
    assert config.read_text() == LARCH
    # Right again, the year follows and the mark is gone.
    redrawn(browser, lambda: typed(browser, "evening.depression_deg", "5"))
    assert browser.run("return document.querySelectorAll('[aria-invalid]').length") == 0
    assert "depression_deg = 5.0" in browser.run("return document.getElementById('text').value")
    assert text_of(browser, "now-map") != before


def test_values_that_are_right_only_together_take_hold_together(quick: None, browser: Browser, page: Served) -> None:
    typed(browser, "evening.not_after", "15:00")
    until(lambda: browser.run("return document.querySelectorAll('[aria-invalid]').length") == 1)
    typed(browser, "evening.not_before", "14:30")
    until(lambda: browser.run("return document.querySelectorAll('[aria-invalid]').length") == 0)
    text = browser.run("return document.getElementById('text').value")
    assert 'not_after = "15:00"' in text and 'not_before = "14:30"' in text


def test_saving_keeps_comments_and_a_changed_file_is_not_overwritten(
    quick: None, browser: Browser, page: Served, config: Path
) -> None:
    redrawn(browser, lambda: typed(browser, "flock.birds", "9"))
    chord(browser, "s")
    until(lambda: "birds = 9" in config.read_text())
    assert config.read_text().startswith(LARCH.rstrip("\n").split("\n")[0])
    assert "# The hills as seen from the hut" in config.read_text()
    until(lambda: "As in the file." in text_of(browser, "file"))
    # Another program writes: the page tells, shows the difference, and takes what is asked for.
    theirs = config.read_text().replace("birds = 9", "birds = 12")
    config.write_text(theirs)
    redrawn(browser, lambda: typed(browser, "flock.birds", "7"))
    click(browser, "save")
    until(lambda: browser.run("return document.getElementById('conflict').open"))
    assert "-birds = 12" in text_of(browser, "conflict-difference")
    assert config.read_text() == theirs
    redrawn(browser, lambda: click(browser, "conflict-theirs"))
    assert value(browser, "flock.birds") == "12"
    redrawn(browser, lambda: click(browser, "undo"))
    assert value(browser, "flock.birds") == "7"
    # Once more, and now mine over theirs.
    config.write_text(theirs.replace("birds = 12", "birds = 13"))
    click(browser, "save")
    until(lambda: browser.run("return document.getElementById('conflict').open"))
    click(browser, "conflict-mine")
    until(lambda: "birds = 7" in config.read_text())
    # A file that is gone is told, and made again when asked.
    config.unlink()
    click(browser, "save")
    until(lambda: browser.run("return document.getElementById('conflict').open"))
    assert "gone" in text_of(browser, "conflict-h") and not config.exists()
    assert text_of(browser, "conflict-mine") == "Make it anew"
    click(browser, "conflict-leave")
    assert asks_before_leaving(browser)
    click(browser, "save")
    until(config.exists)


def asks_before_leaving(browser: Browser) -> bool:
    """Whether the page would have the browser ask before it is left."""
    return not browser.run("return dispatchEvent(new Event('beforeunload', { cancelable: true }))")


def test_what_stands_nowhere_else_is_not_left_without_a_question(
    quick: None, browser: Browser, page: Served, config: Path
) -> None:
    assert not asks_before_leaving(browser)
    kept_in = LARCH + '[[kept_in]]\nfrom = "02-01"\nto = "02-09"\nwhy = "order"\n'
    redrawn(browser, lambda: put_text(browser, kept_in))
    assert asks_before_leaving(browser) and "kept_in" not in browser.driver.current_url
    chord(browser, "s")
    until(lambda: config.read_text() == kept_in)
    until(lambda: not asks_before_leaving(browser))
    # Undo and redo by keys, as on Windows too.
    browser.run("document.getElementById('save').focus()")
    redrawn(browser, lambda: chord(browser, "z"))
    assert asks_before_leaving(browser)
    redrawn(browser, lambda: chord(browser, "y"))
    assert not asks_before_leaving(browser)


def put_text(browser: Browser, text: str) -> None:
    """Paste over the file's text."""
    browser.run(
        "const text = document.getElementById('text'); text.value = arguments[0];"
        "text.dispatchEvent(new Event('input', { bubbles: true }));",
        text,
    )


def test_what_is_too_much_is_told(quick: None, browser: Browser, page: Served) -> None:
    put_text(browser, "x" * 700_000)
    until(lambda: "longer than a configuration" in text_of(browser, "problems"))
    assert browser.run("return !document.getElementById('stale').hidden")
    redrawn(browser, lambda: put_text(browser, LARCH + "\n"))
    browser.run(
        "const year = document.getElementById('year-number'); year.value = '1800';"
        "for (const name of ['input', 'change']) year.dispatchEvent(new Event(name));"
    )
    assert "from 1990 to 2052" in text_of(browser, "status")


def test_undo_redo_compare_and_the_link(browser: Browser, page: Served) -> None:
    first = text_of(browser, "now-map")
    redrawn(browser, lambda: typed(browser, "evening.later_min", "20"))
    second = text_of(browser, "now-map")
    until(lambda: browser.run("return document.querySelectorAll('#before-map svg').length") == 1)
    assert text_of(browser, "before-map") == first
    assert "Evening: Later by-20" in text_of(browser, "difference-table").replace("–", "-")
    assert browser.run(
        "return new Set([...document.querySelectorAll('[id]')].map((one) => one.id)).size"
    ) == browser.run("return document.querySelectorAll('[id]').length")
    link = browser.driver.current_url
    redrawn(browser, lambda: click(browser, "undo"))
    assert text_of(browser, "now-map") == first and value(browser, "evening.later_min") == ""
    assert browser.run("return document.getElementById('before-figure').hidden")
    redrawn(browser, lambda: click(browser, "redo"))
    assert text_of(browser, "now-map") == second
    # The link opens the same setting, on the same file.
    opened(browser, page, more="#" + link.partition("#")[2])
    until(lambda: value(browser, "evening.later_min") == "20" and text_of(browser, "now-map") == second)
    # "Compare with this" makes it the one before.
    click(browser, "pin")
    redrawn(browser, lambda: typed(browser, "evening.later_min", "30"))
    until(lambda: text_of(browser, "before-map") == second)
    settled(browser)
    assert "now less before" in text_of(browser, "birds")


def test_ten_changes_in_a_second_are_one_redraw(quick: None, browser: Browser, page: Served) -> None:
    settled(browser)
    before, asked = drawn(browser), page.planner.quick.begun
    browser.driver.execute_async_script(_TEN_CHANGES)
    until(lambda: "12" in text_of(browser, "now-map") and drawn(browser) > before)
    until(lambda: value(browser, "evening.later_min") == "10")
    assert drawn(browser) == before + 1
    # The first comparison draws the year before, once.
    assert page.planner.quick.begun <= asked + 2


_TEN_CHANGES = """
const done = arguments[0], field = document.getElementById('field-evening.later_min');
for (let n = 1; n <= 10; n += 1) setTimeout(() => {
  field.value = String(n);
  field.dispatchEvent(new Event('input', { bubbles: true }));
  if (n === 10) done();
}, n * 95);
"""


@pytest.mark.parametrize(
    ("size", "dark", "more"), [(PHONE, False, ""), (DESKTOP, True, "&lang=de"), (TABLET, True, "")]
)
def test_it_is_accessible_and_fits(
    browser: Browser, page: Served, size: tuple[int, int], dark: bool, more: str
) -> None:
    opened(browser, page, size, dark, more)
    assert browser.messages() == []
    # The policy lets nothing else be loaded, and nothing else is asked for.
    assert all(url.startswith(f"http://127.0.0.1:{page.port}/") for url in browser.requests())
    redrawn(browser, lambda: typed(browser, "evening.depression_deg", "5"))
    until(lambda: browser.run("return document.querySelectorAll('#birds table').length") == 1)
    typed(browser, "evening.depression_deg", "97")
    until(lambda: browser.run("return document.querySelectorAll('[aria-invalid]').length") == 1)
    browser.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert browser.run("return document.documentElement.scrollWidth") == size[0]
    assert browser.faults_found_by_axe() == []
    # What comes in is told to a screen reader; every field has its name.
    assert browser.run("return document.getElementById('status').getAttribute('role')") == "status"
    for key in (key for group in CHOSEN.values() for key in group):
        assert browser.run("return document.getElementById(arguments[0]).labels[0].textContent", f"field-{key}")


def test_german_is_whole(quick: None, browser: Browser, page: Served) -> None:
    opened(browser, page, more="&lang=de")
    assert browser.run("return document.documentElement.lang") == "de"
    assert "schließt" in text_of(browser, "status") and "Abend" in text_of(browser, "chosen")
    assert text_of(browser, "undo") == "Zurück"
    # One word of the file, two meanings.
    option = "return document.querySelector(`[id='field-${arguments[0]}'] [value=civil]`).textContent"
    assert browser.run(option, "evening.twilight") == "bürgerliche Dämmerung"
    assert browser.run(option, "chip.keeps") == "Ortszeit, mit Sommerzeit"
    typed(browser, "morning.later_min", "4.5")
    until(lambda: "Morgen: Später um" in text_of(browser, "problems"))


def test_what_a_file_says_is_shown_and_never_run(quick: None, browser: Browser, tmp_path: Path) -> None:
    nasty = '<img src=x onerror="document.title=1"><script>document.title=2</script>'
    config = tmp_path / "hut.toml"
    config.write_text(LARCH.replace('"Larch end"', repr(nasty)).replace('"housing order"', repr(nasty)))
    with served(config) as page:
        opened(browser, page, more="#day=2027-11-26&site.zone=<b>x</b>")
        until(lambda: "<b>x</b>" in text_of(browser, "error-site.zone"))
        assert "<img src=x" in text_of(browser, "title")
        assert browser.run("return document.querySelectorAll('img, #results script').length") == 0
        assert browser.messages() == []


def test_a_day_is_chosen_by_key_date_and_map(quick: None, browser: Browser, page: Served) -> None:
    browser.run("document.getElementById('day-slider').focus()")
    before = browser.run("return document.getElementById('day-date').value")
    keys(browser, Keys.ARROW_RIGHT)
    until(lambda: browser.run("return document.getElementById('day-date').value") > before)
    box = browser.run(
        "const b = document.getElementById('now-map').getBoundingClientRect(); return [b.x, b.y, b.width]"
    )
    point = {"type": "mousePressed", "x": box[0] + box[2] / 2, "y": box[1] + 250, "button": "left", "clickCount": 1}
    browser.command("Input.dispatchMouseEvent", point)
    date = browser.run("return document.getElementById('day-date').value")
    until(lambda: browser.run("return document.getElementById('day-date').value") != before)
    assert date.startswith("2027-") and date < before
    until(lambda: f"day={date}" in browser.driver.current_url)


def test_a_planner_that_has_ended_is_told_and_the_page_goes_on(quick: None, browser: Browser, config: Path) -> None:
    with served(config) as page:
        opened(browser, page)
    shown = text_of(browser, "now-map")
    typed(browser, "evening.later_min", "20")
    until(lambda: "does not answer" in text_of(browser, "status"))
    assert text_of(browser, "now-map") == shown
    click(browser, "save")
    time.sleep(0.3)
    assert "does not answer" in text_of(browser, "status")
    assert "later_min" in browser.run("return document.getElementById('text').value")


def test_printed_it_holds_the_year_and_the_cautions(
    quick: None, browser: Browser, page: Served, tmp_path: Path
) -> None:
    settled(browser)
    text = browser.pdf(tmp_path / "page.pdf", (8.268, 11.693))
    assert "Larch end, 2027" in text and "Cautions" in text and "What this setting costs" in text
    assert "Angle of the Sun" in text and "Download" not in text


def test_the_program_plays_the_setting_at_hand_in_a_frame(quick: None, browser: Browser, page: Served) -> None:
    redrawn(browser, lambda: typed(browser, "site.name", "Reed bank"))
    click(browser, "play-open")
    until(lambda: browser.run("return document.querySelectorAll('#play-frame iframe').length") == 1)
    frame = browser.driver.find_element("css selector", "#play-frame iframe")
    browser.driver.switch_to.frame(frame)
    until(lambda: "Reed bank" in str(browser.run("return document.body.innerText")))
    # It is a page of its own, which can neither read the planner nor ask it.
    assert browser.run("return origin") == "null"
    browser.driver.switch_to.default_content()
    assert browser.messages() == []
    redrawn(browser, lambda: typed(browser, "evening.later_min", "3"))
    assert browser.run("return !document.getElementById('play-old').hidden")


def test_a_file_with_mistakes_opens_and_is_put_right(quick: None, browser: Browser, config: Path) -> None:
    config.write_text(LARCH.replace("47.318", "97").replace("later_min = 15", "latr_min = 15"))
    with served(config) as page:
        browser.driver.get("about:blank")
        browser.go(page.address)
        until(lambda: browser.run("return document.querySelectorAll('[aria-invalid]').length") == 1)
        # One mistake at its field, the other, which has none, above the fields; both told at once.
        assert "wanted a number from -89.9 to 89.9" in text_of(browser, "error-site.latitude_deg")
        assert "nearest is 'later_min'" in text_of(browser, "problems")
        assert value(browser, "site.latitude_deg") == "97" and drawn(browser) == 0
        put_text(browser, LARCH)
        until(lambda: drawn(browser) == 1)
        assert text_of(browser, "problems") == "" and value(browser, "site.latitude_deg") == "47.318"
        click(browser, "save")
        until(lambda: config.read_text() == LARCH)
        browser.driver.get("about:blank")
