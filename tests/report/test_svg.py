"""The small SVG writer: escaping, roles, scales."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET

import pytest

from sunsched.report.pictures.svg import ROLES, Drawing, Frame, Scale, number, round_steps, stairs, style_sheet


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb as WCAG 2.2 defines it."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours as WCAG 2.2 defines it."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


# W3C, WCAG 2.2: black on white has the ratio 21; success criterion 1.4.3 asks 4.5 of text, 1.4.11 asks 3 of graphics.
def test_text_and_lines_have_the_contrast_that_wcag_asks_for() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    for mode in (0, 1):
        paper = ROLES["paper"][mode]
        for role in ("ink", "quiet", "close", "open", "third", "fourth", "alarm"):
            assert contrast(ROLES[role][mode], paper) >= 4.5
        for role in ("close", "open"):
            assert contrast(ROLES[role][mode], ROLES["halo"][mode]) >= 4.5


def test_the_skys_tones_darken_in_order_so_that_grey_print_keeps_them() -> None:
    for mode in (0, 1):
        tones = [luminance(ROLES[role][mode]) for role in ("day", "civil", "nautical", "astronomical", "night")]
        assert tones == sorted(tones, reverse=True)
        steps = [(a + 0.05) / (b + 0.05) for a, b in itertools.pairwise(tones)]
        assert min(steps) > 1.15


def test_text_is_escaped_and_xml_stays_whole() -> None:
    drawing = Drawing(10, 10, 'a<b>&"c"\x00', "d</desc><script>", "x")
    drawing.text(1, 1, "</text><script>alert(1)</script>\x0b", class_='"><script>')
    root = ET.fromstring(drawing.file_text("made <by> & --"))
    assert [e.tag.split("}")[1] for e in root.iter()].count("script") == 0
    assert root[0].text == 'a<b>&"c"\ufffd'
    assert 'style="' not in drawing.file_text()


def test_a_picture_in_a_page_carries_no_style_of_its_own() -> None:
    drawing = Drawing(10, 10, "t", "d", "x")
    assert "<style" not in drawing.inline()
    assert style_sheet() in drawing.file_text()


def test_numbers_are_short() -> None:
    assert [number(v) for v in (1.0, 1.005, -0.001, 12.3456, 100.0)] == ["1", "1", "0", "12.35", "100"]


def test_stairs_stand_and_step() -> None:
    assert stairs([(1, 0, 2), (3, 2, 4)]) == "M1 0V2H3V4"


def test_scale_turns_back() -> None:
    for scale in (Scale(2, 8, 100, 40), Scale(0.01, 1000, 10, 90, True)):
        for value in (scale.low, scale.high, (scale.low + scale.high) / 3):
            assert scale.value(scale.at(value)) == pytest.approx(value)
    # Halfway up a logarithmic axis from 1 to 100 stands 10.
    assert Scale(1, 100, 0, 50, True).at(10) == pytest.approx(25)


def test_round_steps() -> None:
    assert round_steps(0, 10) == pytest.approx([0, 2, 4, 6, 8, 10])
    assert round_steps(0.13, 0.61, 4) == pytest.approx([0.2, 0.4, 0.6])


def test_a_line_breaks_where_there_is_no_value() -> None:
    drawing = Drawing(100, 100, "t", "d", "x")
    Frame(drawing, Scale(0, 3, 0, 3), Scale(0, 3, 0, 3)).line([0, 1, 2, 3], [0, float("nan"), 2, 3], "close")
    assert 'd="M0 0M2 2L3 3"' in drawing.inline()
