"""Every help text ends with two examples, and each of them works as it stands there; run in this process."""

from __future__ import annotations

import shlex
import webbrowser
from pathlib import Path

import pytest
import uvicorn
from typer.testing import CliRunner

from sunsched.base.errors import MissingFileError
from sunsched.cli.app import COMMANDS, app
from sunsched.cli.examples import EXAMPLES
from sunsched.config.sample import Answers, text
from sunsched.config.sample_parts import core_of
from sunsched.job.chip import port
from tests.support import made_logs
from tools import command_facts

# Each once: the list of commands and a group repeat those of their commands.
EVERY = {example: name for name, examples in EXAMPLES.items() for example in examples}
# Less work than a keeper would ask for; the examples stand with their own figures.
SMALL = {"battery": ["--weather-years", "20"], "compare": ["--years", "2"], "batch": ["--jobs", "1"]}
ANSWERS = "Hut\n53.94\n-9.09\nEurope/Dublin\n\n\n\n"
# A renewal that is due; and there is no chip here, which each of its commands says.
ENDS_WITH = {"sunsched renew hut.toml -o tables --check": 1}
NO_CHIP = MissingFileError.exit_code


def run(example: str, *more: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of an example."""
    words = shlex.split(example)
    assert words[0] == "sunsched"
    done = CliRunner().invoke(app, [*words[1:], *more], input=ANSWERS)
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the examples name: two configurations, a table, nights, a light log, sites."""
    made = tmp_path_factory.mktemp("examples")
    place = Answers("Hut", made_logs.PLACE["latitude_deg"], made_logs.PLACE["longitude_deg"], made_logs.ZONE)
    machine = {name: keys for part in ("door", "motor") for name, keys in core_of(part).items()}
    # The battery's sums take longer than all else, and the search for a better one longest: a large one, in one file.
    battery = core_of("battery")["battery"] | {"capacity_ah": "200", "panel_w": "600"}
    for name, written in (("hut", machine), ("barn", {}), ("with_battery", {**machine, "battery": battery})):
        answers = Answers(name.capitalize(), place.latitude_deg, place.longitude_deg, place.zone, written=written)
        (made / f"{name}.toml").write_text(text(answers))
    (made / "sites.csv").write_text("name,latitude,longitude,zone\nA,47,8,Europe/Zurich\n")
    minutes = made_logs.times("2027-03-01", 4, 2)
    (made / "light.csv").write_text("\n".join(made_logs.lux_log(minutes, made_logs.light_lux(minutes))) + "\n")
    nights = [
        f"2027-{month:02d}-{day:02d},{time}" for month, time in ((3, "18:40"), (4, "20:15")) for day in range(1, 11)
    ]
    (made / "nights.csv").write_text("\n".join(["date,time", *nights]) + "\n")
    return made


@pytest.fixture
def here(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own with those files."""
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    monkeypatch.chdir(tmp_path)
    # Whoever runs the tests may have a door's board plugged in: it is left alone.
    monkeypatch.setattr(port, "ports", list)
    # A planner would serve until it is ended, and open a browser here.
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: None)
    monkeypatch.setattr(webbrowser, "open", lambda address: True)
    return tmp_path


def test_every_help_ends_with_its_two_examples() -> None:
    texts = {"": (), **{name: tuple(name.split()) for name, _ in command_facts.commands()}}
    assert set(texts) == set(EXAMPLES)
    assert set(COMMANDS) <= set(texts)
    for name, words in texts.items():
        done = CliRunner().invoke(app, [*words, "--help"], terminal_width=80)
        lines = [line.strip() for line in done.stdout.rstrip().splitlines()]
        assert lines[-3:] == ["Examples:", *EXAMPLES[name]], name
        assert all(example.startswith(f"sunsched {name}".strip()) for example in EXAMPLES[name]), name


@pytest.mark.parametrize("example", EVERY)
def test_an_example_works(example: str, here: Path) -> None:
    name = EVERY[example]
    if " -o hut.toml" in example:
        (here / "hut.toml").unlink()
    if name == "readback":
        assert run("sunsched table hut.toml --year 2027 --as csv -o tables")[0] == 0
    if name == "battery":
        (here / "with_battery.toml").replace(here / "hut.toml")
    code, out, err = run(example.replace("/dev/ttyUSB0", str(here / "no_port")), *SMALL.get(name, ()))
    wanted = NO_CHIP if name.startswith("chip") else ENDS_WITH.get(example, 0)
    assert code == wanted, f"{out}\n{err}"
    written = [word for flag, word in zip(shlex.split(example), shlex.split(example)[1:], strict=False) if flag == "-o"]
    if wanted == 0 and written and written != ["-"]:
        assert (here / written[0]).exists()
    elif wanted == 0:
        assert out
