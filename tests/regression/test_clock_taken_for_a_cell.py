"""A log whose clock ran 7 min fast was taken for a cell that reads 2.29 times too much (1.92 to 2.73), to be pasted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sunsched.job.logs.replay import Replay, replay_of
from sunsched.report.text.replay import replay_text
from tests.job.test_replay import configuration
from tests.support.made_logs import light_lux, lux_log, times


def replayed(tmp_path: Path, ahead_min: float, factor: float, mornings: bool = True) -> Replay:
    when = times(n_days=12)
    lux = light_lux(when, 0.4 * factor)
    keep = np.ones(len(when), dtype=bool) if mornings else (when % 1440 > 700)
    path = tmp_path / "yard.csv"
    path.write_text("\n".join(lux_log(when[keep], lux[keep], ahead_min=ahead_min)) + "\n")
    return replay_of(configuration(), path, zone="civil")


@pytest.mark.parametrize(("ahead_min", "factor"), [(7, 1.0), (-7, 1.0), (7, 0.5), (0, 1.6)])
def test_clock_and_cell_are_parted(tmp_path: Path, ahead_min: float, factor: float) -> None:
    replay = replayed(tmp_path, ahead_min, factor)
    found = replay.offset
    assert found is not None and found.clock_fast_min is not None
    assert found.clock_fast_min == pytest.approx(ahead_min, abs=1.0)
    assert found.factor == pytest.approx(factor, rel=0.1)
    assert found.factor_low < factor < found.factor_high
    assert found.clock_is_off is (ahead_min != 0)
    assert any("clock is" in text for text in replay.warnings) is (ahead_min != 0)


def test_evenings_alone_say_that_they_cannot_tell(tmp_path: Path) -> None:
    replay = replayed(tmp_path, 4, 1.0, mornings=False)
    found = replay.offset
    assert found is not None and found.clock_fast_min is None
    assert found.factor_low < 1.0 < found.factor_high
    assert "too few clear mornings to part cell and clock" in " ".join(replay_text(replay, every=True).split())
