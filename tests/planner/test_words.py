"""Every word of the page stands in one file a language: the same keys, the same places to fill, none missing."""

from __future__ import annotations

import re
from typing import Any

import pytest

from sunsched.plan.reasons import Reason
from sunsched.planner import downloads, page
from sunsched.planner.fields import CHOSEN
from sunsched.planner.page import LANGUAGES, document, file_text, language_of, words

ENGLISH = words("en")
PLACES = re.compile(r"\{\w+\}")


def strings(table: Any, head: str = "") -> dict[str, str]:
    """Every word by its dotted place."""
    if isinstance(table, str):
        return {head: table}
    pairs = table.items() if isinstance(table, dict) else enumerate(table)
    return {place: word for key, value in pairs for place, word in strings(value, f"{head}.{key}").items()}


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_has_every_word(language: str) -> None:
    said, wanted = words(language), ENGLISH
    for part in ("page", "say", "groups", "files", "fields", "weekdays", "months"):
        here, there = strings(said[part]), strings(wanted[part])
        assert set(here) == set(there)
        for place, word in here.items():
            assert set(PLACES.findall(word)) == set(PLACES.findall(there[place])), place
            assert word or not there[place], place
    assert set(said["fields"]) == {key for keys in CHOSEN.values() for key in keys}
    assert set(said["groups"]) == set(CHOSEN)
    assert set(said["files"]) | {"program"} == set(downloads.KINDS)


def test_german_says_every_reason_that_the_page_can_show() -> None:
    told = {reason.record.said for reason in Reason if reason.record.said}
    assert set(words("de")["reasons"]) == told


def test_every_word_is_used_and_none_is_asked_for_that_is_not_there() -> None:
    script = page.script()
    html = set(re.findall(r"\{\{(\w+)\}\}", file_text("page.html")))
    from_script = set(re.findall(r"words\.page\.(\w+)", script)) | {"differences", "before", "now"}
    assert html | from_script == set(ENGLISH["page"])
    named = set(re.findall(r'"(\w+)"', script)) | {"warnings_0", "warnings_1"}
    assert set(ENGLISH["say"]) <= named
    asked = set(re.findall(r'say\("(\w+)"', script)) - {"warnings_"}
    assert asked <= set(ENGLISH["say"])


def test_the_document_is_in_its_language_and_whole() -> None:
    assert '<html lang="de">' in document("de") and "Einstellungen" in document("de")
    for language in LANGUAGES:
        head = document(language).partition("<script>")[0]
        assert "{{" not in head and "[[" not in head


def test_words_are_escaped(monkeypatch: pytest.MonkeyPatch) -> None:
    said = {key: f"<{word}>" for key, word in ENGLISH["page"].items()}
    monkeypatch.setattr(page, "words", lambda language: {"page": said})
    assert "<title>&lt;Planner&gt;</title>" in document("en")


@pytest.mark.parametrize(
    ("asked", "accepted", "language"),
    [("", "de-CH,de;q=0.9,en;q=0.8", "de"), ("", "fr,en", "en"), ("de", "en", "de"), ("xx", "", "en"), ("", "", "en")],
)
def test_the_language_is_the_one_asked_for_or_the_browsers(asked: str, accepted: str, language: str) -> None:
    assert language_of(asked, accepted) == language


def test_no_page_says_more_than_can_be_promised() -> None:
    for language in LANGUAGES:
        text = " ".join(strings(words(language)).values()).lower()
        assert not re.search(r"\bsafe\b|\bsicher\b", text)
