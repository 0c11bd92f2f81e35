"""What is compared: a strategy with its own lux, angle or minutes, on the same evenings and mornings as the others."""

from dataclasses import dataclass
from typing import Literal

from sunsched.study.weather import Floats

Strategy = Literal["light", "clock", "both"]
STRATEGIES: tuple[Strategy, ...] = ("light", "clock", "both")
IN_WORDS = {"light": "light alone", "clock": "clock alone", "both": "clock and light"}


@dataclass(frozen=True)
class Setting:
    """One point of the trade-off.

    label        how a keeper would say it: "5 lux", "4.5 deg", "5 lux within -10..+15 min"
    dark_lux, light_lux   thresholds at the cell [lux]
    close_min, open_min   (n_days,) planned minutes [study minutes], NaN where the door stays down
    evening_window, morning_window   minutes from the planned one in which the cell may act
    cell_z       the cell's error in standard deviations of the part's spread; None: each year draws its own
    on_curve     it belongs to its strategy's trade-off curve: only lux or angle differs along it
    role         "own" is the configuration's, "swept" lies beside it, "device" shows what the part's spread does
    """

    strategy: Strategy
    label: str
    dark_lux: float
    light_lux: float
    close_min: Floats
    open_min: Floats
    evening_window: tuple[int, int] = (0, 0)
    morning_window: tuple[int, int] = (0, 0)
    cell_z: float | None = None
    on_curve: bool = True
    role: Literal["own", "swept", "device"] = "swept"

    def window(self, evening: bool) -> tuple[int, int]:
        """The minutes in which the cell may act in the evening or in the morning."""
        return self.evening_window if evening else self.morning_window

    def planned_min(self, evening: bool) -> Floats:
        """The planned closing or opening minutes."""
        return self.close_min if evening else self.open_min
