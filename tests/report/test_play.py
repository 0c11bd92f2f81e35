"""What the play's page is given: rules, words, values, policy; and its command."""

from __future__ import annotations

import datetime as dt
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import sunsched.controller
from sunsched.base import cautions
from sunsched.base.errors import ConfigError, RangeError
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.controller.words import Alarm, Door, Drive, TimeBy, Why, alarm_words
from sunsched.job.play import LEAD_DAYS, play_of
from sunsched.plan.year import NO_MINUTE
from sunsched.report.page.html import digest
from sunsched.report.play import page
from sunsched.report.play.rules import rules, rules_that_give
from tests.conftest import CONFIGS
from tests.support.command_line import sunsched_bytes as run

LARCH = next(path for path in CONFIGS if path.stem == "larch_end")
EVENING = dt.date(2027, 3, 20)


def read(path: Path = LARCH) -> Configuration:
    return toml_file.read(str(path))


@cache
def html() -> str:
    return page.play_html(read(), 2027, EVENING, "larch_end.toml")


def data_of(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text.partition('id="play-data">')[2].partition("</script>")[0])
    return found


def test_every_reason_and_alarm_has_its_rules() -> None:
    given = rules_that_give()
    every = {why.name.lower() for why in Why} | set(alarm_words(sum(alarm.value for alarm in Alarm)))
    assert every | {"expired", "not_begun"} == {*given, "start"}
    assert given["dusk"] == ["E3"] and given["night"] == ["E7", "D1"] and given["battery"] == ["O4"]


def test_no_rule_of_the_page_of_rules_is_missing() -> None:
    text = (Path(sunsched.controller.__file__).parent / "RULES.md").read_text()
    assert [rule.name for rule in rules()] == re.findall(r"^\| ([A-Z]\d*) \|", text, re.MULTILINE)
    assert all(rule.condition and rule.decision and "|" not in "".join(rule) for rule in rules())
    assert all(f'id="rule-{rule.name}"' in html() for rule in rules())


def flat(words: dict[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in words.items():
        found |= flat(value, f"{before}{key}.") if isinstance(value, dict) else {f"{before}{key}": value}
    return found


@pytest.mark.parametrize("language", page.LANGUAGES)
def test_a_translation_has_every_word_and_every_blank(language: str) -> None:
    english, other = flat(page.words("en")), flat(page.words(language))
    assert english.keys() == other.keys()
    for key in english:
        assert other[key], key
        blanks = [sorted(re.findall(r"\{\w+\}", str(words[key]))) for words in (english, other)]
        assert blanks[0] == blanks[1], key
    assert len(other["cautions.said"]) == len(cautions.PLAY)


@pytest.mark.parametrize("language", page.LANGUAGES)
def test_everything_that_the_program_can_say_has_words(language: str) -> None:
    words = page.words(language)
    assert words["reasons"].keys() == {why.name.lower() for why in Why}
    assert words["doors"].keys() == {door.name.lower() for door in Door}
    assert words["drives"].keys() == {drive.name.lower() for drive in Drive}
    assert words["times"].keys() == {time.name.lower() for time in TimeBy}
    said = set(alarm_words(sum(alarm.value for alarm in Alarm))) | {"expired", "not_begun"}
    assert said <= words["alarm_words"].keys()


def test_the_script_names_no_word_and_no_element_that_is_not_there() -> None:
    script, words = page.script(), flat(page.words("en"))
    for group, key in re.findall(r"\bW\.(\w+)\.(\w+)", script):
        assert f"{group}.{key}" in words, key
    idents = set(re.findall(r'\bat\("([\w-]+)"\)', script))
    assert len(idents) > 20
    assert all(f'id="{ident}"' in html() for ident in idents - {"id"})


def test_the_page_allows_its_own_script_and_webassembly_alone() -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html())
    assert policy is not None
    assert f"script-src {digest(page.script())} 'wasm-unsafe-eval'; " in policy[1].replace("&#x27;", "'")
    assert policy[1].startswith("default-src &#x27;none&#x27;") or policy[1].startswith("default-src 'none'")
    assert not re.search(r"https?://", html().replace("http://www.w3.org/2000/svg", ""))
    assert "unsafe-inline" not in html()


def test_the_cautions_stand_on_the_page_and_the_same_input_gives_the_same_bytes() -> None:
    assert all(caution.replace("'", "&#x27;") in html() for caution in cautions.PLAY)
    assert html() == page.play_html(read(), 2027, EVENING, "larch_end.toml")
    assert "<code>sunsched play larch_end.toml --date 2027-03-20</code>" in html()
    german = page.play_html(read(), 2027, EVENING, "larch_end.toml", "de")
    assert "<code>sunsched play larch_end.toml --date 2027-03-20 --language de</code>" in german


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.stem)
def test_the_days_are_those_of_the_plan(config: Path) -> None:
    play = play_of(read(config), 2027)
    data = page.values(play, EVENING)
    row = LEAD_DAYS + (EVENING - dt.date(2027, 1, 1)).days
    assert data["firstDay"] + row == (EVENING - dt.date(1970, 1, 1)).days
    assert len({len(data[key]) for key in ("civil", "noon", "open", "close", "openFirst", "closeLast")}) == 1
    for minute, column in zip(data["close"], play.plan.close_min, strict=True):
        assert minute == (None if column == NO_MINUTE else column)
    assert data["closeFirst"][row] <= data["close"][row] <= data["closeLast"][row]
    # the site's constants, as the chip holds them: 131 bytes of 60 words and 11 bytes
    assert len(play.program.settings) == 131


def test_what_the_program_cannot_follow_is_refused() -> None:
    with pytest.raises(RangeError, match="2028-01-01; wanted one of 2027"):
        page.play_html(read(), 2027, dt.date(2028, 1, 1))
    for year in (2000, 2052):
        with pytest.raises(RangeError, match="wanted 2001 to 2051"):
            page.play_html(read(), year, dt.date(year, 3, 20))
    civil = read().model_copy(update={"chip": read().chip.model_copy(update={"keeps": "civil"})})
    with pytest.raises(ConfigError, match="summer time"):
        page.play_html(civil, 2027, EVENING)


def test_a_hostile_name_stays_text() -> None:
    named = read().site.model_copy(update={"name": '</script><b>"Höf" \\ @plan'})
    text = page.play_html(read().model_copy(update={"site": named}), 2027, EVENING)
    assert "<b>" not in text.partition("<main")[2].partition("play-now-h")[0]
    assert text.count("</script>") == 2
    assert data_of(text)["site"]["name"].isascii()


def test_the_command_writes_the_page_and_refuses_what_it_cannot(tmp_path: Path) -> None:
    out = tmp_path / "evening.html"
    done = run("play", str(LARCH), "--date", "2027-03-20", "-o", str(out))
    assert done.returncode == 0, done.stderr
    assert out.read_text() == html()
    assert "A play is a model, not the door" in " ".join(done.stderr.decode().split())
    german = run("play", str(LARCH), "--date", "2027-03-20", "--language", "de", "-o", "-")
    assert german.returncode == 0 and b'<html lang="de">' in german.stdout
    assert run("play", str(LARCH), "--language", "xx").returncode == 2
    assert run("play", str(LARCH), "--date", "2027-03-20", "--year", "2028").returncode == 2
    assert run("play", str(LARCH), "--date", "2027-02-30").returncode == 2
