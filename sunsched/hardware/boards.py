"""The boards: what each has room for, which pins are free, and what its program is compiled with.

A new board is an entry here and, if it is to run the whole program, its board file beside the others in
`controller/c/firmware/`. See docs/adding.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Board:
    """A chip, and the board around it.

    name   what `chip.board` says, and what the compiler calls the chip (-mmcu)
    title   as its maker writes it
    eeprom_bytes, flash_bytes   the chip's memories [bytes]
    hz   clock that the program is built for [Hz]
    program   its board file below `controller/c/` or `controller/micropython/`; empty for a board that takes the
      table reader alone
    slot_bytes   of the EEPROM that the program has for a table image, in each of its slots: DOOR_IMAGE_ROOM in
      door_site.h [bytes]
    pins   free pins: the chip's name -> what common boards print beside it
    speed_pins   pins that can give the motor's speed -> that output of timer 0, A or B
    analog_pins   pins with a converter -> its channel
    own_pins   pins of the two-wire bus (sda, scl) and the serial line (rxd, txd): the chip's name, and as printed
    fuses   low, high and extended, advised for a chip without a boot loader; empty where nothing is advised
    language   "c", or "micropython" for a board whose program is the folder `controller/micropython`
    wiring   the pins taken where [pins] does not say, by key, where they are not those of `Pins`
    supply_v   of its pins [V]
    """

    name: str
    title: str
    eeprom_bytes: int
    flash_bytes: int
    hz: int
    program: str = ""
    slot_bytes: int = 0
    pins: Mapping[str, str] = field(default_factory=dict)
    speed_pins: Mapping[str, str] = field(default_factory=dict)
    analog_pins: Mapping[str, int] = field(default_factory=dict)
    own_pins: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    fuses: tuple[str, ...] = ()
    language: str = "c"
    wiring: Mapping[str, str | None] = field(default_factory=dict)
    supply_v: float = 5.0

    @property
    def table_bytes(self) -> int:
        """Room for a table image in the EEPROM [bytes]."""
        return self.slot_bytes or self.eeprom_bytes


_MOST_IMAGE = 4095  # of a table in a file: what its checksum guards (table/FORMAT.md) [bytes]
# Room: Microchip, data sheets DS40002061 (ATmega48A to 328P) and 2586Q (ATtiny25 to 85).
_ALL = (
    Board(
        name="atmega328p",
        title="ATmega328P",
        eeprom_bytes=1024,
        flash_bytes=32_768,
        hz=16_000_000,
        program="firmware/door_board_atmega328p.c",
        slot_bytes=300,
        # Not free: PD0, PD1 (serial line), PC4, PC5 (clock bus), PB6, PB7 (crystal), PC6 (reset).
        pins={
            **{f"PD{n}": f"D{n}" for n in range(2, 8)},
            **{f"PB{n}": f"D{n + 8}" for n in range(6)},
            **{f"PC{n}": f"A{n}" for n in range(4)},
        },
        speed_pins={"PD5": "B", "PD6": "A"},
        analog_pins={f"PC{n}": n for n in range(4)},
        own_pins={"sda": ("PC4", "A4"), "scl": ("PC5", "A5"), "rxd": ("PD0", "D0"), "txd": ("PD1", "D1")},
        # Low, high and extended fuse advised for a crystal of 16 MHz and no boot loader: EEPROM kept over an erase,
        # brown-out at 4.3 V. ATmega328P, data sheet DS40002061, tables of the fuse bytes: from memory.
        fuses=("0xFF", "0xD1", "0xFC"),
    ),
    Board(name="attiny85", title="ATtiny85", eeprom_bytes=512, flash_bytes=8_192, hz=8_000_000),
    Board(
        name="micropython-rp2040",
        title="RP2040 with MicroPython",
        eeprom_bytes=_MOST_IMAGE,
        flash_bytes=2_097_152,
        hz=125_000_000,
        program="board.py",
        # RP2040 data sheet (Raspberry Pi, 2.19.2): ADC0 to ADC2 are GPIO26 to 28. On common boards 23, 24 and 29 serve
        # the supply, 25 the LED.
        pins={f"GP{n}": f"GP{n}" for n in (*range(4), *range(6, 23), *range(25, 29))},
        speed_pins={f"GP{n}": "" for n in (*range(4), *range(6, 23))},
        analog_pins={f"GP{n}": n - 26 for n in range(26, 29)},
        own_pins={"sda": ("GP4", "GP4"), "scl": ("GP5", "GP5")},
        language="micropython",
        wiring={
            "pulse": None,
            "raise_motor": "GP14",
            "lower_motor": "GP15",
            "motor_speed": "GP16",
            "top_switch": "GP10",
            "bottom_switch": "GP11",
            "hand_up": "GP12",
            "hand_down": "GP13",
            "keep_shut": "GP9",
            "alarm_lamp": "GP25",
            "cell_feed": "GP22",
            "light_cell": "GP26",
            "battery": "GP27",
        },
        supply_v=3.3,
    ),
    Board(
        name="micropython-esp32",
        title="ESP32 with MicroPython",
        eeprom_bytes=_MOST_IMAGE,
        flash_bytes=4_194_304,
        hz=160_000_000,
        program="board.py",
        # ESP32 data sheet (Espressif): 34 to 39 are inputs without pull-ups; ADC1 has 32 to 39. Left out: 0, 2, 5, 12
        # and 15, which decide how it starts, 6 to 11 (flash) and 1, 3 (serial line).
        pins={f"IO{n}": f"IO{n}" for n in (4, 13, 14, *range(16, 20), 23, 25, 26, 27, 32, 33, 34, 35, 36, 39)},
        speed_pins={f"IO{n}": "" for n in (4, 13, 14, *range(16, 20), 23, 25, 26, 27, 32, 33)},
        analog_pins={f"IO{n}": n for n in (32, 33, 34, 35, 36, 39)},
        own_pins={"sda": ("IO21", "IO21"), "scl": ("IO22", "IO22")},
        language="micropython",
        wiring={
            "pulse": None,
            "raise_motor": "IO25",
            "lower_motor": "IO26",
            "motor_speed": "IO27",
            "top_switch": "IO32",
            "bottom_switch": "IO33",
            "hand_up": "IO18",
            "hand_down": "IO19",
            "keep_shut": "IO23",
            "alarm_lamp": "IO4",
            "cell_feed": "IO17",
            "light_cell": "IO34",
            "battery": "IO35",
        },
        supply_v=3.3,
    ),
    # The next board stands above this line.
)
BOARDS: dict[str, Board] = {board.name: board for board in _ALL}


def names_with_program() -> tuple[str, ...]:
    """The boards for which there is a whole program."""
    return tuple(board.name for board in BOARDS.values() if board.program)


# Boards that people ask for and that are not above: how their names begin -> what they are called.
OTHERS: dict[str, str] = {
    "esp32": "ESP32",
    "esp8266": "ESP8266",
    "pico": "RP2040",
    "rp2040": "RP2040",
    "rp2350": "RP2350",
    "stm32": "STM32",
    "nrf52": "nRF52",
    "samd21": "SAMD21",
    "atmega4809": "ATmega4809",
    "atmega32u4": "ATmega32U4",
    "atmega2560": "ATmega2560",
    "attiny": "ATtiny",
}
# Boards called by another name than their chip's.
CARRY = {"uno": "atmega328p", "nano": "atmega328p", "pro mini": "atmega328p"}
ANYWHERE = "`sunsched table CONFIG --as c` writes a C99 header with its own reader, which compiles for any chip"


def what_works_on(name: str) -> str:
    """What a board that is not here can use, in words; empty for a name that says nothing."""
    plain = " ".join(name.lower().replace("_", " ").replace("-", " ").split())
    known = next((title for start, title in OTHERS.items() if plain.startswith(start)), "")
    carried = CARRY.get(plain, "")
    if carried and carried in BOARDS:
        return f"a board of that name has an {BOARDS[carried].title}: say '{carried}'"
    if not known or plain in BOARDS:
        return ""
    article = "an" if known[0] in "AES" or known[:2] in ("RP", "nR") else "a"
    speaking = [board.name for board in BOARDS.values() if board.title.startswith(f"{known} with ")]
    if speaking:
        return f"for {article} {known} that speaks MicroPython say '{speaking[0]}'; a table for it in C: {ANYWHERE}"
    return (
        f"for {article} {known} there is no door program; the table works there: leave chip.board out, and {ANYWHERE}"
    )
