"""Two examples for the end of every help text; tests/cli/test_examples.py runs each of them."""

from __future__ import annotations

EXAMPLES = {
    "": ("sunsched sample --ask -o hut.toml", "sunsched table hut.toml"),
    "sample": (
        "sunsched sample --ask -o hut.toml",
        "sunsched sample --latitude 53.94 --longitude -9.09 --zone Europe/Dublin --with door,motor -o hut.toml",
    ),
    "schema": ("sunsched schema", "sunsched schema -o sunsched.schema.json"),
    "settings": ("sunsched settings hut.toml", "sunsched settings hut.toml --json"),
    "twilight": ("sunsched twilight hut.toml", "sunsched twilight hut.toml --year 2027 --only --depression 4.5 --json"),
    "day": ("sunsched day hut.toml", "sunsched day hut.toml 2027-06"),
    "today": ("sunsched today hut.toml", "sunsched today hut.toml barn.toml --at '2027-03-28 18:20'"),
    "planner": ("sunsched planner hut.toml", "sunsched planner --no-browser"),
    "table": ("sunsched table hut.toml", "sunsched table hut.toml --year 2027 --as c --as csv -o tables"),
    "readback": (
        "sunsched readback tables/hut_2027.csv",
        "sunsched readback tables/hut_2027.csv hut.toml",
    ),
    "firmware": ("sunsched firmware hut.toml -o door", "sunsched firmware hut.toml --years 2027..2030 -o door"),
    "boards": ("sunsched boards", "sunsched boards --json"),
    "drive": ("sunsched drive hut.toml", "sunsched drive hut.toml --json"),
    "battery": ("sunsched battery hut.toml", "sunsched battery hut.toml --chart charge.svg"),
    "cell": ("sunsched cell hut.toml", "sunsched cell hut.toml --reads 880 --at '2027-03-01 18:20'"),
    "clock": (
        "sunsched clock hut.toml",
        "sunsched clock hut.toml --noted '2027-06-01 12:03:20' --true '2027-06-01 13:03:05'",
    ),
    "chart": ("sunsched chart hut.toml -o year.svg", "sunsched chart hut.toml --year 2027 -o -"),
    "report": (
        "sunsched report hut.toml -o hut.html",
        "sunsched report hut.toml --year 2027 --log nights.csv -o hut.html",
    ),
    "play": (
        "sunsched play hut.toml -o evening.html",
        "sunsched play hut.toml --date 2027-12-21 --language de -o evening.html",
    ),
    "renew": ("sunsched renew hut.toml barn.toml -o tables", "sunsched renew hut.toml -o tables --check"),
    "batch": (
        "sunsched batch sites.csv hut.toml -o tables",
        "sunsched batch sites.csv hut.toml --as csv --archive -o all",
    ),
    "handover": (
        "sunsched handover hut.toml --from 2027-03-27 --to 2027-04-05",
        "sunsched handover hut.toml --from 2027-03-27 --commission -o first_week.html",
    ),
    "compare": ("sunsched compare hut.toml", "sunsched compare hut.toml --assumptions"),
    "replay": ("sunsched replay hut.toml light.csv", "sunsched replay hut.toml light.csv --chart evenings.svg"),
    "chip": ("sunsched chip state", "sunsched chip load hut.toml"),
    "chip state": ("sunsched chip state", "sunsched chip state --port /dev/ttyUSB0 --json"),
    "chip set-clock": ("sunsched chip set-clock", "sunsched chip set-clock --port /dev/ttyUSB0 --yes"),
    "chip load": ("sunsched chip load hut.toml", "sunsched chip load hut.toml --year 2027 --port /dev/ttyUSB0"),
    "chip log": ("sunsched chip log -o door.log", "sunsched chip log --port /dev/ttyUSB0 -o -"),
    "chip watch": ("sunsched chip watch", "sunsched chip watch --port /dev/ttyUSB0 --seconds 60"),
    "angle": ("sunsched angle hut.toml nights.csv", "sunsched angle hut.toml nights.csv --write new.toml"),
}


def examples_text(name: str) -> str:
    """The examples of a command as the end of its help; the first line keeps the lines from being folded together."""
    return "\n".join(["\b", "Examples:", *(f"  {example}" for example in EXAMPLES[name])])
