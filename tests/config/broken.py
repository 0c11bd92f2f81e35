"""Broken configurations, each with the messages a keeper must read. The file's name is put in for FILE."""

from __future__ import annotations

SITE = '[site]\nlatitude_deg = 52.1\nlongitude_deg = 5.2\nzone = "Europe/Amsterdam"\n'
NO_SITE = "a section with latitude_deg, longitude_deg, zone"
CLOCK = "a civil time in quotes, '00:00' to '23:59'"
YEARLY = "a date of every year in quotes, '01-01' to '12-31'"
ANY_DATE = "a date in quotes, '2027-11-20' for once or '11-20' for every year"
WORDS = "one of 'light', 'limit', 'shut'"


def site(latitude: str = "52.1", longitude: str = "5.2", zone: str = '"Europe/Amsterdam"') -> str:
    """A [site] with one value replaced."""
    return f"[site]\nlatitude_deg = {latitude}\nlongitude_deg = {longitude}\nzone = {zone}\n"


# name: (text, the whole messages without the file's name)
BROKEN: dict[str, tuple[str, tuple[str, ...]]] = {
    "empty": ("", (f"site is missing; wanted {NO_SITE}",)),
    "only_a_remark": ("# nothing yet\n", (f"site is missing; wanted {NO_SITE}",)),
    "no_zone": (
        "[site]\nlatitude_deg = 1\nlongitude_deg = 2\n",
        ("site.zone is missing; wanted a text in quotes",),
    ),
    "latitude_95": (site("95"), ("site.latitude_deg is 95; wanted a number from -89.9 to 89.9",)),
    "latitude_in_quotes": (
        site('"52.1"'),
        ("site.latitude_deg is '52.1'; wanted a number from -89.9 to 89.9 (write 52.1, without quotes)",),
    ),
    "latitude_with_a_comma_in_quotes": (
        site('"53,945"'),
        ("site.latitude_deg is '53,945'; wanted a number from -89.9 to 89.9 (write 53.945, without quotes)",),
    ),
    "latitude_with_a_comma": (
        site("53,945"),
        ("site.latitude_deg (line 2) is '53,945'; wanted a number with a point: 53.945",),
    ),
    "both_degrees_with_a_comma": (
        "[door]\nreopen_once = true\n" + site("53,945", "-9,086") + "[[site.skyline]]\nazimuth_deg = 110,5\n",
        (
            "site.latitude_deg (line 4) is '53,945'; wanted a number with a point: 53.945",
            "site.longitude_deg (line 5) is '-9,086'; wanted a number with a point: -9.086",
            "site.skyline.azimuth_deg (line 8) is '110,5'; wanted a number with a point: 110.5",
        ),
    ),
    "another_mistake_before_the_comma": (
        "[site\nlatitude_deg = 53,945\n",
        ("line 1, column 6 is not TOML: Expected ']' at the end of a table declaration; wanted TOML",),
    ),
    "time_as_a_number": (
        SITE + "[morning]\nnot_before = 7\n",
        (f'morning.not_before is 7; wanted {CLOCK} (write "07:00")',),
    ),
    "zone_without_quotes": (
        site(zone="Europe/Amsterdam"),
        ("site.zone (line 4) is 'Europe/Amsterdam'; wanted words in quotes: \"Europe/Amsterdam\"",),
    ),
    "time_of_one_digit": (
        SITE + '[morning]\nnot_before = "7:00"\n',
        (f"morning.not_before is '7:00'; wanted {CLOCK} (write \"07:00\")",),
    ),
    "time_without_quotes": (
        SITE + "[morning]\nnot_before = 7:00\n",
        ("morning.not_before (line 6) is '7:00'; wanted a time in quotes: \"07:00\"",),
    ),
    "time_in_the_evening": (
        SITE + '[evening.weekday_not_after]\nsat = "9.30 pm"\n',
        (f"evening.weekday_not_after.sat is '9.30 pm'; wanted {CLOCK} (write \"21:30\")",),
    ),
    "latitude_true": (site("true"), ("site.latitude_deg is true; wanted a number from -89.9 to 89.9",)),
    "latitude_nan": (site("nan"), ("site.latitude_deg is nan; wanted a number from -89.9 to 89.9",)),
    "longitude_list": (site(longitude="[5.2]"), ("site.longitude_deg is [5.2]; wanted a number from -180 to 180",)),
    "longitude_200": (site(longitude="200"), ("site.longitude_deg is 200; wanted a number from -180 to 180",)),
    "zone_unknown": (
        site(zone='"Europe/Amsterdm"'),
        (
            "site.zone is 'Europe/Amsterdm'; wanted an IANA zone of tzdata RELEASE such as 'Europe/Zurich', "
            "nearest is 'Europe/Amsterdam'",
        ),
    ),
    "zone_with_dots": (
        site(zone='"../../etc/passwd"'),
        ("site.zone is '../../etc/passwd'; wanted an IANA zone of tzdata RELEASE such as 'Europe/Zurich'",),
    ),
    "zone_number": (site(zone="1"), ("site.zone is 1; wanted a text in quotes",)),
    "unknown_key_near": (
        SITE + "[morning]\nlatr_min = 3\n",
        ("morning.latr_min is an unknown key; wanted one of MOMENT_KEYS (nearest is 'later_min')",),
    ),
    "unknown_section": (
        SITE + "[evning]\nlater_min = 3\n",
        ("evning is an unknown key; wanted one of SECTIONS (nearest is 'evening')",),
    ),
    "twilight_misspelt": (
        SITE + '[evening]\ntwilight = "civl"\n',
        (
            "evening.twilight is 'civl'; wanted one of 'sunrise', 'sunset', 'civil', 'nautical', 'astronomical' "
            "(nearest is 'civil')",
        ),
    ),
    "twilight_of_the_other_side": (
        SITE + '[morning]\ntwilight = "sunset"\n',
        ("morning.twilight is 'sunset'; wanted 'sunrise', 'civil', 'nautical' or 'astronomical'",),
    ),
    "two_moments": (
        SITE + '[evening]\ntwilight = "civil"\ndepression_deg = 4.5\n',
        (
            "evening is a section; wanted one of twilight, depression_deg and clear_sky_lux, "
            "not twilight and depression_deg",
        ),
    ),
    "depression_30": (
        SITE + "[evening]\ndepression_deg = 30\n",
        ("evening.depression_deg is 30; wanted a number from -10 to 18",),
    ),
    "later_fraction": (
        SITE + "[evening]\nlater_min = 1.5\n",
        ("evening.later_min is 1.5; wanted a whole number from -720 to 720",),
    ),
    "later_huge": (
        SITE + "[evening]\nlater_min = 99999999999\n",
        ("evening.later_min is 99999999999; wanted a whole number from -720 to 720",),
    ),
    "limit_25_hours": (SITE + '[morning]\nnot_before = "25:00"\n', (f"morning.not_before is '25:00'; wanted {CLOCK}",)),
    "limit_not_quoted": (
        SITE + "[morning]\nnot_before = 06:30:00\n",
        (f'morning.not_before is TIME; wanted {CLOCK} (write "06:30")',),
    ),
    "limits_cross": (
        SITE + '[morning]\nnot_before = "09:00"\nnot_after = "07:00"\n',
        ("morning.not_before is '09:00', after not_after '07:00'; wanted a time at or before not_after",),
    ),
    "season_limits_cross": (
        SITE + '[evening]\nnot_after = "20:00"\n[[season]]\nname = "x"\nfrom = "01-01"\nto = "02-01"\n'
        '[season.evening]\nnot_before = "21:00"\n',
        ("season[0].evening.not_before is '21:00', after not_after '20:00'; wanted a time at or before not_after",),
    ),
    "seasons_overlap": (
        SITE
        + '[[season]]\nname = "a"\nfrom = "12-01"\nto = "02-01"\n'
        + '[[season]]\nname = "b"\nfrom = "01-15"\nto = "03-01"\n',
        ("season[1] is 'b', which overlaps season[0] 'a'; wanted dates that overlap no earlier season",),
    ),
    "season_impossible_date": (
        SITE + '[[season]]\nname = "a"\nfrom = "02-30"\nto = "03-01"\n',
        (f"season[0].from is '02-30'; wanted {YEARLY}",),
    ),
    "season_without_name": (
        SITE + '[[season]]\nfrom = "02-20"\nto = "03-01"\n',
        ("season[0].name is missing; wanted a text in quotes of 1 to 200 characters",),
    ),
    "season_as_table": (SITE + '[season]\nname = "a"\n', ("season is a section; wanted a list of sections",)),
    "kept_in_impossible_date": (
        SITE + '[[kept_in]]\nfrom = "2027-02-29"\nto = "2027-03-01"\n',
        (f"kept_in[0].from is '2027-02-29'; wanted {ANY_DATE}",),
    ),
    "kept_in_mixed": (
        SITE + '[[kept_in]]\nfrom = "2027-02-20"\nto = "03-01"\n',
        ("kept_in[0] is a section; wanted both dates with a year or both without, not '2027-02-20' and '03-01'",),
    ),
    "kept_in_backwards": (
        SITE + '[[kept_in]]\nfrom = "2027-03-20"\nto = "2027-03-01"\n',
        ("kept_in[0] is a section; wanted from at or before to, not '2027-03-20' after '2027-03-01'",),
    ),
    "no_twilight_word": (
        SITE + '[evening]\nno_twilight = ["light", "limt"]\n',
        (f"evening.no_twilight[1] is 'limt'; wanted {WORDS} (nearest is 'limit')",),
    ),
    "no_twilight_empty": (
        SITE + "[evening]\nno_twilight = []\n",
        ("evening.no_twilight is []; wanted a list of one or more of 'light', 'limit', 'shut'",),
    ),
    "weekday_unknown": (
        SITE + "[morning.weekday_later_min]\nsunday = 45\n",
        (
            "morning.weekday_later_min.sunday is an unknown key; wanted one of mon, tue, wed, thu, fri, sat, sun "
            "(nearest is 'sun')",
        ),
    ),
    "cell_minutes_cross": (
        SITE + "[evening]\ncell_from_min = 20\ncell_until_min = -5\n",
        ("evening.cell_from_min is 20, after cell_until_min -5; wanted minutes at or before cell_until_min",),
    ),
    "cell_dark_above_light": (
        SITE + "[light_cell]\ndark_lux = 20\nlight_lux = 10\n",
        ("light_cell is a section; wanted dark_lux 20 below light_lux 10",),
    ),
    "door_of_a_metre_too_many": (
        SITE + "[door]\ntravel_mm = 35000\n",
        ("door.travel_mm is 35000; wanted a number from 50 to 3000",),
    ),
    "site_is_text": ('site = "here"\n', ("site is 'here'; wanted a section with keys",)),
    "not_toml": (
        "[site\nlatitude_deg = 1\n",
        ("line 1, column 6 is not TOML: Expected ']' at the end of a table declaration; wanted TOML",),
    ),
    "two_mistakes_in_two_sections": (
        site("95") + "[door]\ntravel_mm = 1\n[evening]\nlater_mn = 3\n",
        (
            "site.latitude_deg is 95; wanted a number from -89.9 to 89.9",
            "evening.later_mn is an unknown key; wanted one of MOMENT_KEYS (nearest is 'later_min')",
            "door.travel_mm is 1; wanted a number from 50 to 3000",
        ),
    ),
    "a_range_and_a_contradiction": (
        site("95") + '[morning]\nnot_before = "09:00"\nnot_after = "07:00"\n',
        (
            "site.latitude_deg is 95; wanted a number from -89.9 to 89.9",
            "morning.not_before is '09:00', after not_after '07:00'; wanted a time at or before not_after",
        ),
    ),
    "dotted_keys_twice": (
        SITE + "[site]\n",
        ("line 5, column 6 is not TOML: Cannot declare ('site',) twice; wanted TOML",),
    ),
}
