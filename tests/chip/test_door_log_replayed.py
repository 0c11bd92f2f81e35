"""The log that the door's program writes over its serial line, replayed: the minutes of the program's own moves."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from sunsched.job.logs.replay import replay_of
from tests.chip import sites
from tests.chip.runs import ChipRun


def test_a_replayed_door_log_does_what_the_door_did(tmp_path: Path) -> None:
    plan = sites.built("larch_end", 2027).plan
    chip_run = ChipRun(
        "larch_end", 2027, plan.row(dt.date(2027, 4, 4)), ["clear", "clear", "dull", "clear"], chip=False
    )
    chip_run.run()
    path = tmp_path / "door.log"
    path.write_text(chip_run.life.host_log)
    chip_run.life.end()
    replay = replay_of(sites.built("larch_end", 2027).configuration, path)
    assert replay.settled.log.bad_rows == 0
    # the door's clock is right: weather of four nights moves their middle by a few minutes
    assert abs(replay.settled.found.off_min) < 10
    # on the first day the program has not yet seen the cell dark and bright, and lets its clock decide
    judged = [one for one in replay.twilights if one.did and one.door is not None and one.date > "2027-04-04"]
    assert len(judged) == 7
    for one in judged:
        # between rows of a quarter of an hour the replay joins the light by a straight line in its logarithm
        assert one.door is not None and one.door.after_planned_min is not None
        both = one.did["both"].after_planned_min
        assert both is not None and abs(both - one.door.after_planned_min) <= 2, one
