"""Ten years of cron over four sites and two changes of zone rules: always covered, renewed when due, nothing else."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from sunsched.job.renewal import record as records
from tests.job.renewals import WHOLE, config_in, run, traces
from tests.support import zone_release
from tests.support.command_line import sunsched

NAMES = ("larch_end", "birch_hollow", "fig_yard", "tussock_flat")
FIRST, LAST = dt.date(2027, 3, 1), dt.date(2037, 2, 28)
AHEAD_DAYS = 60
# From a date on, a release in which a zone has other rules: one of the four sites' each.
RELEASES = {
    dt.date(2029, 5, 3): ("2029c", {"Europe/Zurich": "Etc/GMT-1"}),
    dt.date(2033, 10, 9): ("2033h", {"Europe/Zurich": "Etc/GMT-1", "Europe/Oslo": "Etc/GMT-2"}),
}
# The whole proof looks every day; otherwise every 92nd day, and daily where something might happen.
EVERY_DAYS = 1 if WHOLE else 92


def dates() -> Iterator[dt.date]:
    for number in range((LAST - FIRST).days + 1):
        date = FIRST + dt.timedelta(days=number)
        near = any(abs((date - change).days) <= 1 for change in RELEASES)
        turning = (date.month, date.day) in ((11, 1), (11, 2), (11, 3), (12, 31), (1, 1))
        if number % EVERY_DAYS == 0 or near or turning:
            yield date


def expected(date: dt.date, name: str, last: dt.date | None) -> tuple[int, ...]:
    """The years that a run must renew, given the date of the run before."""
    if last is None:
        return (date.year,)
    moved = {"larch_end": dt.date(2029, 5, 3), "birch_hollow": dt.date(2033, 10, 9)}.get(name)
    covered = (last + dt.timedelta(days=AHEAD_DAYS)).year
    reach = (date + dt.timedelta(days=AHEAD_DAYS)).year
    if moved is not None and last < moved <= date:
        return tuple(range(date.year, reach + 1))
    return (reach,) if reach > covered else ()


def test_ten_years_of_cron(tmp_path: Path) -> None:
    configs = [config_in(tmp_path, name) for name in NAMES]
    out = tmp_path / "out"
    releases = {
        date: zone_release.made(tmp_path / release, release, zones) for date, (release, zones) in RELEASES.items()
    }
    log: list[tuple[dt.date, str]] = []
    last: dt.date | None = None
    with contextlib.ExitStack() as stack:
        for date in dates():
            for change in [change for change in releases if change <= date]:
                stack.enter_context(zone_release.in_use(releases.pop(change)))
            before = traces(out) if last is not None else {}
            outcomes = run(configs, out, date.isoformat(), ahead=AHEAD_DAYS)
            for name, outcome in zip(NAMES, outcomes, strict=True):
                wanted = expected(date, name, last)
                assert outcome.exit_code == 0, outcome.error
                assert outcome.years == wanted if wanted else outcome.status == "right", (date, name, outcome)
                assert not outcome.repaired
                if wanted:
                    log.append((date, f"{date} {name} {'; '.join(outcome.reasons)}"))
                record = records.read(out / name)
                assert record is not None
                assert {date.year, (date + dt.timedelta(days=AHEAD_DAYS)).year} <= set(record.years)
            if not any(expected(date, name, last) for name in NAMES):
                assert traces(out) == before
            last = date
    lines = [line for _, line in log]
    assert sum("zone rules of Europe/Zurich changed" in line and "2029c" in line for line in lines) == 1
    assert sum("zone rules of Europe/Oslo changed" in line and "2033h" in line for line in lines) == 1
    # A year's log fits on a screen of 24 lines.
    assert max(sum(date.year == year for date, _ in log) for year in range(2027, 2038)) <= 8
    assert len(log) == 4 * 11 + 2


def test_years_of_processes(tmp_path: Path) -> None:
    config = config_in(tmp_path, "fig_yard")
    words = ["renew", config.name, "--out", "out", "--today"]
    renewed = []
    n = 40 if WHOLE else 7
    for number in range(n):
        date = dt.date(2027, 1, 10) + dt.timedelta(days=number * 3600 // n)
        done = sunsched(*words, str(date), cwd=tmp_path)
        assert (done.returncode, done.stderr) == (0, "")
        if done.stdout:
            assert done.stdout.startswith("out/fig_yard: renewed.\nBecause ") and done.stdout.count(": renewed.") == 1
            renewed.append(date)
        else:
            assert number > 0
    covered = records.read(tmp_path / "out" / "fig_yard")
    assert covered is not None and {date.year for date in renewed} <= set(covered.years)
    assert len({date.year for date in renewed}) >= min(n, 10) - 1


@pytest.mark.parametrize("name", NAMES)
def test_the_expected_years_are_right(name: str) -> None:
    # By hand: 60 days after 2027-11-01 is 2027-12-31, after 2027-11-02 it is 2028-01-01.
    assert expected(dt.date(2027, 11, 1), name, dt.date(2027, 10, 31)) == ()
    assert expected(dt.date(2027, 11, 2), name, dt.date(2027, 11, 1)) == (2028,)
    assert expected(dt.date(2028, 1, 1), name, dt.date(2027, 12, 31)) == ()
    both = expected(dt.date(2029, 5, 3), name, dt.date(2029, 5, 2))
    assert both == ((2029,) if name == "larch_end" else ())
