"""What the README of an RP2040's folder says in place of an AVR's: building, loading, tables, what was not tried."""

from __future__ import annotations

from collections.abc import Iterator

from sunsched.report.bench.markdown import code, wrapped


def upload() -> Iterator[str]:
    """How the program gets onto the board."""
    yield "## Put the program on the board"
    yield wrapped(
        "Tools, on Debian: `apt-get install make gcc-arm-none-eabi libnewlib-arm-none-eabi python3`. The board has a "
        "crystal of 12 MHz and 2 MB of flash or more. With the fuse out, hold the board's BOOTSEL button while you "
        "plug in its USB: it shows as a drive. The copy starts the program."
    )
    yield code("make", "make flash TO=/media/you/RPI-RP2")
    yield "Or with a debug probe:"
    yield code("make probe")
    yield wrapped(
        "The program needs no other library. It was run on an emulated RP2040 from its second stage on, beside the "
        "same program on a computer; no board was at hand. The boot ROM, the flash chip itself and the drive's file "
        "were not tried: look at the first start with the motor unplugged."
    )
    yield wrapped(
        "The program sleeps between seconds with its clocks on, which takes some milliamperes (from memory: measure "
        "yours); put that into battery.sleep_ma and ask `sunsched battery` how long it lasts."
    )


def memory(config: str) -> Iterator[str]:
    """How a table gets into the flash that stands in for an EEPROM."""
    yield "## The serial line, and a table"
    yield wrapped(
        "The line is the chip's own, on the two pins above at 3.3 V: a USB adapter with 3.3 V levels goes between them "
        "and the computer; the board's USB socket only feeds it and takes programs. The program holds its table. An "
        "exact year, changed rules or an order are loaded over the line:"
    )
    yield code(f"sunsched chip load {config} --port /dev/ttyUSB0")
    yield wrapped(
        "What an AVR keeps in EEPROM lies in the last 32 kB of flash (door_flash.h), which loading the program leaves "
        "alone."
    )
