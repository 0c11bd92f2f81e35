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
    program   its board file below `controller/c/`; empty for a board that takes the table reader alone
    slot_bytes   of the EEPROM that the program has for a table image, in each of its slots: DOOR_IMAGE_ROOM in
      door_site.h [bytes]
    pins   free pins: the chip's name -> what common boards print beside it
    speed_pins   pins that can give the motor's speed -> that output of timer 0, A or B
    analog_pins   pins with a converter -> its channel
    own_pins   pins of the two-wire bus (sda, scl) and the serial line (rxd, txd): the chip's name, and as printed
    fuses   low, high and extended, advised for a chip without a boot loader; empty where nothing is advised
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

    @property
    def table_bytes(self) -> int:
        """Room for a table image in the EEPROM [bytes]."""
        return self.slot_bytes or self.eeprom_bytes


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
    "pico": "RP2040 board",
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
    return (
        f"for {article} {known} there is no door program; the table works there: leave chip.board out, and {ANYWHERE}"
    )
