"""Every codec reads back what it packed, or says that it cannot."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sunsched.plan.year import NO_MINUTE
from sunsched.table.codecs import blocks, curves, plain, slopes
from sunsched.table.layout import CODECS, pack
from sunsched.table.wanted import FREE, Minutes, Wanted, smooth_guide

DAYS = 366
jagged = arrays(np.int32, (2, DAYS), elements=st.integers(-720, 2900) | st.just(NO_MINUTE))
whole_range = arrays(np.int32, (2, DAYS), elements=st.integers(-32768, 32767))


def exact(minutes: Minutes) -> Wanted:
    return Wanted(minutes[None], minutes[None], 2028, smooth_guide(minutes, minutes))


def smooth(height_min: float, sharpness: float, late_min: float) -> Minutes:
    """Door-like minutes of our own invention: a sine with some of its third harmonic."""
    rows = np.arange(DAYS)
    angle = 2 * np.pi * (rows - 80) / 365.25
    swing = height_min * (np.sin(angle) - sharpness * np.sin(3 * angle))
    late = late_min * np.sin(2 * angle)
    return np.array([np.ceil(390.2 - swing + late), np.ceil(1049.6 + swing + late)], np.int32)


@settings(max_examples=60, deadline=None)
@given(whole_range | jagged)
def test_plain_and_blocks_read_back_any_year(minutes: Minutes) -> None:
    wanted = exact(minutes)
    for codec in (plain, blocks):
        data = codec.pack(wanted)
        assert data is not None
        assert (codec.unpack(data, DAYS) == minutes).all()
    assert blocks.size(wanted) == len(blocks.pack(wanted))


@settings(max_examples=20, deadline=None)
@given(
    arrays(np.int32, (2, 40), elements=st.integers(-720, 2900) | st.just(NO_MINUTE)),
    arrays(np.int32, (2, 40), elements=st.integers(0, 300)),
)
def test_of_accepted_minutes_blocks_keep_those_that_change_least(least: Minutes, room: Minutes) -> None:
    greatest = np.where(least == NO_MINUTE, least, least + np.maximum(room - 200, 0)).astype(np.int32)
    wanted = Wanted(least[None], greatest[None], 2028, smooth_guide(least, greatest))
    found = blocks.unpack(blocks.pack(wanted), 40)
    for low, high, kept in zip(least, greatest, found, strict=True):
        bound = low[(low == high) & (low != NO_MINUTE)]
        before = bound[0] if len(bound) else 0
        for row in range(40):
            before = min(max(before, low[row]), high[row])
            assert kept[row] == before
    assert blocks.size(wanted) == len(blocks.pack(wanted))


@settings(max_examples=4, deadline=None)
@given(arrays(np.int32, (2, DAYS), elements=st.integers(-720, 2040)))
def test_slopes_read_back_any_year_without_shut_days(minutes: Minutes) -> None:
    data = slopes.pack(exact(minutes))
    assert data is not None
    assert (slopes.unpack(data, DAYS) == minutes).all()


@settings(max_examples=3, deadline=None)
@given(st.floats(5, 140), st.floats(0, 0.05), st.floats(0, 9))
def test_curves_read_back_smooth_years(height_min: float, sharpness: float, late_min: float) -> None:
    minutes = smooth(height_min, sharpness, late_min)
    wanted = exact(minutes)
    data = curves.pack_one_year(wanted)
    assert data is None or (curves.unpack(data, DAYS) == minutes).all()
    by_slopes = slopes.pack(wanted)
    assert by_slopes is not None
    assert (slopes.unpack(by_slopes, DAYS) == minutes).all()


def test_curves_hold_a_smooth_year_in_fewer_bytes_than_the_others() -> None:
    wanted = exact(smooth(100, 0.02, 7))
    sizes = [len(pack(CODECS[name], wanted) or b"") for name in ("curves", "slopes", "blocks", "plain")]
    assert 0 < sizes[0] < sizes[1] < sizes[2] < sizes[3] == 4 * DAYS


def test_codecs_say_so_when_they_cannot() -> None:
    minutes = smooth(100, 0.02, 7)
    shut = minutes.copy()
    shut[:, 100] = NO_MINUTE
    able = {name for name, codec in CODECS.items() if pack(codec, exact(shut)) is not None}
    assert able == {"plain", "blocks"}
    broken = minutes + np.where(np.arange(DAYS) % 7 == 0, 45, 0).astype(np.int32)
    assert curves.pack_one_year(exact(broken)) is None
    late = minutes + 1500  # past 2047, which slopes cannot hold
    assert slopes.pack(exact(late)) is None
    years = Wanted(np.stack([minutes] * 2), np.stack([minutes] * 2), 2027, smooth_guide(minutes, minutes))
    assert {name for name, codec in CODECS.items() if pack(codec, years) is not None} <= {"years"}


def test_a_minute_of_freedom_and_free_days_are_used() -> None:
    minutes = smooth(100, 0.02, 7)
    narrow = exact(minutes)
    wide = Wanted(narrow.least - 1, narrow.greatest + 1, 2028, narrow.guide)
    free_least, free_greatest = minutes.copy(), minutes.copy()
    free_least[:, 120:240], free_greatest[:, 120:240] = -FREE, FREE
    free = Wanted(free_least[None], free_greatest[None], 2028, narrow.guide)
    packed = [curves.pack_one_year(wanted) for wanted in (narrow, wide)]
    assert packed[0] is not None and packed[1] is not None
    assert len(packed[1]) < len(packed[0])
    assert wide.holds(curves.unpack(packed[1], DAYS)[None])
    for codec in (blocks, slopes):
        data = codec.pack(free)
        assert data is not None
        assert free.holds(codec.unpack(data, DAYS)[None])


def test_many_years_within_a_minute() -> None:
    # Invented: the same curve, met a quarter of a day earlier each year until a leap day.
    least, greatest = np.full((8, 2, DAYS), -FREE, np.int32), np.full((8, 2, DAYS), FREE, np.int32)
    for number in range(8):
        year = 2027 + number
        n_days = 366 if year % 4 == 0 else 365
        angle = 2 * np.pi * (np.arange(n_days) + curves.quarters_ahead(year) / 4 - 80) / 365.25
        minutes = np.array([np.ceil(390.2 - 90 * np.sin(angle)), np.ceil(1049.6 + 90 * np.sin(angle))])
        least[number, :, :n_days], greatest[number, :, :n_days] = minutes - 1, minutes + 1
    guide = smooth_guide(least.max(axis=0), greatest.min(axis=0))
    wanted = Wanted(least, greatest, 2027, guide)
    data = curves.pack_many_years(wanted)
    assert data is not None
    assert len(data) <= 64
    for number in range(8):
        n_days = 366 if (2027 + number) % 4 == 0 else 365
        got = curves.unpack_year(data, n_days, 2027 + number)
        assert (least[number, :, :n_days] <= got).all()
        assert (got <= greatest[number, :, :n_days]).all()


def test_the_same_wanted_gives_the_same_bytes() -> None:
    wanted = exact(smooth(80, 0.01, 5))
    assert curves.pack_one_year(wanted) == curves.pack_one_year(wanted)


@pytest.mark.parametrize("half", [4, 12])
def test_smoothing_keeps_a_parabola(half: int) -> None:
    # A least-squares cubic through a parabola is that parabola: value, slope and curvature are known.
    rows = np.arange(60.0)
    value, slope, curvature = curves.smoothed(3 + 0.5 * rows - 0.01 * rows**2, half)
    np.testing.assert_allclose(value, 3 + 0.5 * rows - 0.01 * rows**2, atol=1e-8)
    np.testing.assert_allclose(slope, 0.5 - 0.02 * rows, atol=1e-8)
    np.testing.assert_allclose(curvature, -0.02, atol=1e-8)
