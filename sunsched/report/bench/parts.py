"""What to buy for one configuration, with ratings from its own sums and where each comes from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sunsched.hardware.clock_reach import CLOCK_KINDS, drift_s_per_day, reach_days
from sunsched.hardware.drive import fuse_for
from sunsched.hardware.drive_sums import DriveSums
from sunsched.hardware.figures import Span, number
from sunsched.hardware.parts import Battery, Motor
from sunsched.hardware.wiring import BATTERY_DIVIDERS, Fitted
from sunsched.job.bench import Bench

NOT_GIVEN = "not known: the machine is not described in the configuration"
CLOCK_ERROR_MIN = 2.0
# A relay's coil of 5 V: common practice, look it up.
COIL_MA = 80.0
_DRIVERS = {
    "two_inputs": (
        "motor driver",
        "two inputs for the directions and an enable input that takes {khz:g} kHz PWM, {volts:g} V logic",
    ),
    "direction": ("motor driver", "one direction input and one PWM input that takes {khz:g} kHz, {volts:g} V logic"),
    "relays": ("two relays", "change-over, 5 V coils, each with a transistor, a base resistor of 1 kohm and a diode"),
}


@dataclass(frozen=True, slots=True)
class Part:
    """One line of the list: what, how it has to be rated, and the sum or practice behind the rating."""

    name: str
    rating: str
    why: str


def parts_of(bench: Bench) -> tuple[Part, ...]:
    """Everything to buy, in the order of the wiring."""
    return (*_board(bench), *_power(bench), *_motor(bench), *_time_and_light(bench), *_switches(bench))


def with_range(span: Span, unit: str) -> str:
    """A figure with its range: 3.60 A (3.11 .. 4.16)."""
    text = f"{number(span.value)} {unit}"
    return text if span.fixed else f"{text} ({number(span.low)} .. {number(span.high)})"


def fuse_a(motor: Motor, sums: DriveSums) -> float | None:
    """The fuse's rating: the keeper's own, else the smallest that carries the running current [A]."""
    return motor.fuse_a or fuse_for(sums.figure("fuse_least_a").value)


def _board(bench: Bench) -> Iterator[Part]:
    board = bench.machine.board
    speed = f"{board.hz // 1_000_000} MHz, {board.supply_v:g} V"
    of_its_own = board.language == "micropython" or board.family == "rp2040"
    loaded = (
        "on a board with USB, fed with 5 V" if of_its_own else "with a boot loader or a socket for an ISP programmer"
    )
    yield Part("board", f"{board.title}, {speed}, {loaded}", "the program's")
    if board.usb != "serial":
        why = "the program does not speak on the chip's own USB" if board.usb == "own" else "such boards have no USB"
        yield Part("serial adapter", f"USB to serial, {board.supply_v:g} V at its pins", f"clock and tables; {why}")


def _power(bench: Bench) -> Iterator[Part]:
    c, sums = bench.work.configuration, bench.sums
    battery = c.battery or Battery()
    coil_ma = COIL_MA if bench.machine.fitted.driver == "relays" else 0.0
    need_ma = 2 * (battery.awake_ma + coil_ma)
    high_v = (c.motor or Motor()).supply_range_volts[1]
    given = "" if c.battery else " (defaults: there is no [battery])"
    yield Part(
        "5 V supply",
        f"input up to {number(1.5 * high_v)} V, output {need_ma:.0f} mA or more, at rest well below "
        f"{number(battery.sleep_ma)} mA",
        f"twice the {number(battery.awake_ma + coil_ma)} mA awake, 1.5 times {number(high_v)} V on charge: common "
        f"practice; battery.sleep_ma is all that the board may draw at rest{given}",
    )
    if c.battery:
        yield Part(
            "battery", f"{battery.volts:g} V, {battery.capacity_ah:g} Ah", "[battery]; its sums: sunsched battery"
        )
        if battery.panel_w:
            charge_a = 1.25 * battery.panel_w / battery.volts
            yield Part(
                "panel and charge controller",
                f"{battery.panel_w:g} W; controller for {number(charge_a)} A or more, lead-acid, {battery.volts:g} V",
                "1.25 times panel_w / volts: common practice",
            )
        upper, lower = BATTERY_DIVIDERS[bench.machine.board.supply_v]
        draw_ua = 12_000 / (upper + lower)
        why = f"{draw_ua:.0f} uA from 12 V; below {bench.machine.board.supply_v:g} V up to 20 V"
        yield Part("battery divider", f"{upper} kohm and {lower} kohm, 1 %; 100 nF", why)
    if sums is None or c.motor is None:
        yield Part("fuse", NOT_GIVEN, "1.5 times the running current, at the battery's positive terminal")
        return
    rating = fuse_a(c.motor, sums)
    least = f"{number(sums.figure('fuse_least_a').value)} A = 1.5 times the running current"
    words = (
        "none of the preferred values up to 10 A will do" if rating is None else f"{rating:g} A time-lag, with holder"
    )
    yield Part("fuse", f"{words}; at the battery's positive terminal", least)
    cable = f"carries {rating:g} A or more" if rating else "carries the fuse's rating"
    yield Part("cable", cable + (f"; yours: {c.motor.cable_a:g} A" if c.motor.cable_a else ""), "the fuse guards it")


def _motor(bench: Bench) -> Iterator[Part]:
    c, sums = bench.work.configuration, bench.sums
    name, kind = _DRIVERS[bench.machine.fitted.driver]
    kind = kind.format(volts=bench.machine.board.supply_v, khz=bench.machine.board.pwm_khz)
    if sums is None or c.motor is None:
        yield Part(name, f"{kind}; {NOT_GIVEN}", "the stall current")
    else:
        high_v = c.motor.supply_range_volts[1]
        stall, reversal = sums.figure("stall_a"), sums.figure("reversal_a")
        yield Part(
            name,
            f"{kind}; {number(stall.high)} A for {c.motor.cutoff_up_s} s, {number(1.5 * high_v)} V or more",
            f"stall current {with_range(stall, 'A')} until the cut-off; 1.5 times {number(high_v)} V: common practice; "
            f"reversed at once it would draw {number(reversal.value)} A, which the dead time of "
            f"{c.motor.dead_time_s} s prevents",
        )
        breaking = sums.figure("cord_breaking_asked_n")
        yield Part(
            "cord", f"breaks at {number(breaking.value)} N or more", "weight x 2 for snatch x 5: common practice"
        )
    pins = 2 if bench.machine.fitted.driver in ("direction", "relays") else 3
    yield Part("pull-down resistors", f"{pins} of 10 kohm", "the motor's pins float until the program starts")
    if bench.machine.fitted.driver != "relays":
        yield Part("capacitor", "470 uF, 35 V, across the driver's supply", "the motor's own peaks: common practice")


def _time_and_light(bench: Bench) -> Iterator[Part]:
    c, fitted = bench.work.configuration, bench.machine.fitted
    if fitted.clock == "rtc":
        ppm = c.clock.drift_ppm
        days = reach_days(CLOCK_ERROR_MIN, ppm) if ppm else None
        reset = f"set it again every {days} days to stay within 2 min" if days else "needs no setting"
        best = next((kind for kind in CLOCK_KINDS if fitted.clock_chip.upper() in kind.name), None)
        source = f"; {best.worst_ppm:g} ppm by {best.source}" if best else ""
        yield Part(
            "clock chip",
            f"{fitted.clock_chip.upper()} with its own cell",
            f"{ppm:g} ppm by [clock], {number(drift_s_per_day(ppm))} s a day: {reset}{source}",
        )
    if fitted.bus:
        yield Part("bus pull-ups", "2 of 4.7 kohm", "unless the module has them")
    cell = c.light_cell
    if fitted.lux_sensor:
        yield Part("light sensor", "BH1750FVI, address pin low, behind a clear window", "[light_cell] kind")
        return
    yield Part("light cell", f"{_ohm(cell.r10_ohm)} at 10 lux, gamma {cell.gamma:g}", "[light_cell]")
    yield Part("the cell's resistor", f"{_ohm(cell.fixed_ohm)}, 1 %", "[light_cell] fixed_ohm; sunsched cell judges it")


def _switches(bench: Bench) -> Iterator[Part]:
    fitted, motor = bench.machine.fitted, bench.work.configuration.motor
    kind, n = fitted.switches.replace("_", " "), 1 if fitted.end_by_current else 2
    yield Part("end switches", f"{n}, {kind}, sealed against dust", "[door] switches; let them cut the motor as well")
    if fitted.end_by_current and motor is not None and motor.shunt_ohm is not None:
        most_w = motor.shunt_ohm * (motor.supply_range_volts[1] / motor.winding_ohm) ** 2
        yield Part(
            "shunt",
            f"{motor.shunt_ohm:g} ohm, {number(2 * most_w)} W; 10 kohm and 1 uF",
            "twice its heat at stall: I^2 R",
        )
    yield Part("hand switches", "2 push-buttons and 1 switch, normally open", "a hand override must always work")
    yield Part(
        "alarm lamp", "the board's own LED, or an LED with 1 kohm where it is seen", "blinks while an alarm stands"
    )


def _ohm(value: float) -> str:
    return f"{value / 1000:g} kohm" if value >= 1000 else f"{value:g} ohm"


def fitted_words(fitted: Fitted) -> str:
    """The fitted parts in a few words, for the picture's text for screen readers."""
    light = "a digital light sensor" if fitted.lux_sensor else "a light cell"
    time = {"rtc": f"a {fitted.clock_chip.upper()} clock chip", "crystal": "the board's crystal", "none": "no clock"}
    return (
        f"{time[fitted.clock]}, {light}, {_DRIVERS[fitted.driver][0]}, end switches {fitted.switches.replace('_', ' ')}"
    )
