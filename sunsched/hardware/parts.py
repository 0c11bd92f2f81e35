"""What was built: the parts' sections of the configuration, their defaults and their ranges.

Ranges refuse a slip of the decimal point, not an unusual part; what a sum divides by has a least that no part goes
below, so that no sum leaves the numbers that a computer has. Defaults of the light cell
are common practice; the spread of 1.9 is the printed tolerance of a common cell.
"""

from typing import Annotated, Literal, Self

from annotated_types import Ge, Gt, Le
from pydantic import Field, model_validator

from sunsched.base.model import Float, Int, Settings


class CellReading(Settings):
    """What the cell read in its place under a clear sky: civil date and time, and counts (lux of a digital sensor)."""

    at: Annotated[str, Field(pattern=r"^\d{4}-(0[1-9]|1[0-2])-\d\d \d\d:\d\d$")]
    counts: Annotated[Float, Gt(0), Le(200_000)]


class LightCell(Settings):
    """A photoresistor in a divider read by an ADC, or a digital sensor that gives lux."""

    kind: Literal["photoresistor", "lux"] = "photoresistor"
    r10_ohm: Annotated[Float, Ge(100), Le(10_000_000)] = 50_000.0
    gamma: Annotated[Float, Ge(0.3), Le(1.5)] = 0.7
    fixed_ohm: Annotated[Float, Ge(100), Le(10_000_000)] = 100_000.0
    adc_steps: Annotated[Int, Ge(16), Le(65_536)] = 1024
    spread: Annotated[Float, Ge(1), Le(10)] = 1.9
    dark_lux: Annotated[Float, Ge(0.001), Le(2000)] = 5.0
    light_lux: Annotated[Float, Ge(0.001), Le(5000)] = 15.0
    confirm_s: Annotated[Int, Ge(1), Le(1800)] = 100
    sky_view: Annotated[Float, Ge(0.001), Le(1)] = 0.4
    reading: Annotated[tuple[CellReading, ...], Field(max_length=100)] | None = None  # clear evenings, to calibrate by

    @model_validator(mode="after")
    def _dark_below_light(self) -> Self:
        if self.dark_lux >= self.light_lux:
            raise ValueError(f"dark_lux {self.dark_lux:g} below light_lux {self.light_lux:g}")
        return self


class ClockSource(Settings):
    """The source of the chip's time."""

    source: Literal["rtc", "crystal", "none"] = "rtc"
    chip: Literal["ds3231", "ds1307", "pcf8523", "pcf8563"] = "ds3231"  # whose registers it has, if there is one
    drift_ppm: Annotated[Float, Ge(0), Le(100_000)] = 20.0


class Door(Settings):
    """The plate and its guides."""

    travel_mm: Annotated[Float, Ge(50), Le(3000)] = 350.0
    switches: Literal["normally_open", "normally_closed"] = "normally_open"  # closed: a broken wire reads as made
    plate_kg: Annotated[Float, Ge(0.001), Le(100)] = 2.0
    guide_friction_n: Annotated[Float, Ge(0), Le(500)] = 4.0
    push_from_below_n: Annotated[Float, Ge(0), Le(2000)] | None = None  # on the shut plate
    reopen_once: bool = False  # a second chance after a closing by light, not after the evening's window
    reopen_after_min: Annotated[Int, Ge(1), Le(60)] = 10
    reopen_for_s: Annotated[Int, Ge(30), Le(900)] = 180  # long enough to go up, for a bird, and to be seen


class Spool(Settings):
    """The spool and the cord on it."""

    core_diameter_mm: Annotated[Float, Ge(2), Le(500)] = 30.0
    cord_mm: Annotated[Float, Ge(0.01), Le(20)] = 2.0
    turns_left_when_down: Annotated[Float, Ge(0), Le(200)] = 6.0
    cord_breaking_n: Annotated[Float, Ge(0.1), Le(100_000)] | None = None


class Motor(Settings):
    """The geared motor and how the program may drive it.

    driver   two_inputs: one input a direction and PWM; direction: one for it and one for PWM; relays: two, no PWM
    shunt_ohm   a resistor in the driver's ground: the motor's current shows the lower end, not a switch
    """

    driver: Literal["two_inputs", "direction", "relays"] = "two_inputs"
    shunt_ohm: Annotated[Float, Gt(0), Le(10)] | None = None
    volts: Annotated[Float, Ge(3), Le(48)] = 12.0
    rpm: Annotated[Float, Ge(0.1), Le(1000)] = 60.0
    run_a: Annotated[Float, Ge(0.001), Le(50)] = 0.6
    winding_ohm: Annotated[Float, Ge(0.001), Le(1000)] = 4.0
    lowering_duty: Annotated[Float, Ge(0.01), Le(1)] = 0.4
    dead_time_s: Annotated[Int, Ge(1), Le(60)] = 2
    cutoff_up_s: Annotated[Int, Ge(1), Le(300)] = 10
    cutoff_down_s: Annotated[Int, Ge(1), Le(300)] = 16
    lowering_a: Annotated[Float, Ge(0), Le(50)] | None = None  # else run_a x lowering_duty
    least_volts: Annotated[Float, Ge(0.1), Le(60)] | None = None  # else 11.0/12 of volts: tired battery
    most_volts: Annotated[Float, Ge(0.1), Le(60)] | None = None  # else 14.4/12 of volts: on charge
    cold_speed_share: Annotated[Float, Ge(0.01), Le(1)] = 0.8  # stiff grease on the coldest morning
    gear_efficiency: Annotated[Float, Ge(0.01), Le(1)] = 0.6
    fuse_a: Annotated[Float, Ge(0.01), Le(100)] | None = None
    cable_a: Annotated[Float, Ge(0.01), Le(200)] | None = None  # what the thinnest wire may carry

    @model_validator(mode="after")
    def _volts_in_order(self) -> Self:
        least, most = self.supply_range_volts
        if least >= most:
            raise ValueError(f"least_volts {least:g} below most_volts {most:g}")
        return self

    @property
    def lowering_share(self) -> float:
        """Speed of lowering over that of raising: the duty, or 1 where the driver has no PWM."""
        return 1.0 if self.driver == "relays" else self.lowering_duty

    @property
    def supply_range_volts(self) -> tuple[float, float]:
        """Lowest and highest supply [V]; unset ones are those of a lead-acid battery (common practice)."""
        least = self.volts * 11.0 / 12.0 if self.least_volts is None else self.least_volts
        most = self.volts * 14.4 / 12.0 if self.most_volts is None else self.most_volts
        return least, most


class Battery(Settings):
    """Battery, panel and what the board draws."""

    volts: Annotated[Float, Ge(3), Le(48)] = 12.0
    capacity_ah: Annotated[Float, Ge(0.01), Le(1000)] = 7.0
    usable_share: Annotated[Float, Ge(0.01), Le(1)] = 0.5
    sleep_ma: Annotated[Float, Ge(0), Le(5000)] = 10.5
    awake_ma: Annotated[Float, Ge(0), Le(5000)] = 25.0
    panel_w: Annotated[Float, Ge(0), Le(1000)] = 10.0
    panel_tilt_deg: Annotated[Float, Ge(0), Le(90)] = 60.0
    panel_azimuth_deg: Annotated[Float, Ge(0), Le(360)] = 180.0
    awake_min_per_day: Annotated[Float, Ge(0), Le(1440)] = 30.0
    sensor_ma: Annotated[Float, Ge(0), Le(1000)] = 0.05
    driver_ma: Annotated[Float, Ge(0), Le(1000)] = 1.0  # what the motor driver draws at rest
    controller_ma: Annotated[Float, Ge(0), Le(1000)] = 5.0  # what the charge controller draws
    self_discharge_share_month: Annotated[Float, Ge(0), Le(0.5)] = 0.03
    coldest_c: Annotated[Float, Ge(-40), Le(40)] = -5.0  # battery's temperature in the cold weeks
    panel_yield: Annotated[Float, Ge(0.01), Le(1)] = 0.7  # of the panel's rated watts, into the battery
    ground_reflectance: Annotated[Float, Ge(0), Le(1)] = 0.2


class Flock(Settings):
    """The birds: hens that go to roost by themselves. A door does not bring ducks, geese or turkeys in."""

    birds: Annotated[Int, Ge(0), Le(100_000)] = 6
