"""The boards: what each has room for, which pins are free, and what its program is compiled with.

A new board is an entry here and, if it is to run the whole program, its board file beside the others in
`controller/c/firmware/`. See docs/adding.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

NONE: Mapping[str, Any] = MappingProxyType({})


class Board(NamedTuple):
    """A chip, and the board around it.

    name   what `chip.board` says
    title   as its maker writes it
    eeprom_bytes, flash_bytes   the chip's memories [bytes]
    hz   clock that the program is built for [Hz]
    program   its board file below `controller/c/` or `controller/micropython/`; empty for a board that takes the
      table reader alone
    family   whose registers that file names: "avr" or "rp2040"
    chip_header   what that file has to know of the chip, below `controller/c/`
    parts   further files of this board's program, below `controller/c/`
    mcu   what the compiler and the programmer call the chip (-mmcu), where that is not `name`
    slot_bytes   of the EEPROM that the program has for a table image, in each of its slots: DOOR_IMAGE_ROOM in
      door_site.h [bytes]
    tables_bytes   of the flash for the tables that are compiled in, beside the program and a boot loader [bytes]
    pins   free pins: the chip's name -> what common boards print beside it
    wake_pins   pins whose change wakes the chip: the clock's pulse and the end switches need one
    speed_pins   pins that can give the motor's speed -> that output of timer 0, A or B
    analog_pins   pins with a converter -> its channel
    own_pins   pins of the two-wire bus (sda, scl) and the serial line (rxd, txd): the chip's name, and as printed
    fuses   low, high and extended, advised for a chip without a boot loader; empty where nothing is advised
    brown_out_v   the brown-out that these fuses set, and the least supply at this clock [V]
    data_sheet   where the fuses stand
    loader   what avrdude calls the boot loader of common boards, and its speed [baud]
    usb   "serial": common boards lead the serial line to their USB socket; "own": the socket is the chip's own USB, on
      which the program does not speak; "none": they have no socket
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
    family: str = "avr"
    chip_header: str = ""
    parts: tuple[str, ...] = ()
    mcu: str = ""
    slot_bytes: int = 0
    tables_bytes: int = 5_800
    pins: Mapping[str, str] = NONE
    wake_pins: tuple[str, ...] = ()
    speed_pins: Mapping[str, str] = NONE
    analog_pins: Mapping[str, int] = NONE
    own_pins: Mapping[str, tuple[str, str]] = NONE
    fuses: tuple[str, ...] = ()
    brown_out_v: tuple[float, float] = (0.0, 0.0)
    data_sheet: str = ""
    loader: tuple[str, int] = ("", 0)
    usb: Literal["serial", "own", "none"] = "serial"
    language: str = "c"
    wiring: Mapping[str, str | None] = NONE
    supply_v: float = 5.0

    @property
    def table_bytes(self) -> int:
        """Room for a table image in the EEPROM [bytes]."""
        return self.slot_bytes or self.eeprom_bytes

    @property
    def chip(self) -> str:
        """What the compiler and the programmer call the chip."""
        return self.mcu or self.name

    @property
    def pwm_khz(self) -> float:
        """Of the motor's speed, about: an AVR's timer 0 over 64 and 256, else the program's own choice [kHz]."""
        return 0.5 if self.chip_header and self.hz < 12_000_000 else 1.0


AVR_PROGRAM = "firmware/door_board_avr.c"
_SLOT_BYTES = 300  # door_site.h: the same on every board, whatever it could hold
# Of every 8-bit AVR; what differs stands in `chip_header`.
_AVR: dict[str, Any] = {
    "program": AVR_PROGRAM,
    "parts": ("firmware/door_board_avr_bus.c", "firmware/door_board_avr_bus.h"),
    "slot_bytes": _SLOT_BYTES,
}
_MOST_IMAGE = 4095  # of a table in a file: what its checksum guards (table/FORMAT.md) [bytes]
# Not free: PD0, PD1 (serial line), PC4, PC5 (clock bus), PB6, PB7 (crystal), PC6 (reset).
_ATMEGA328P: dict[str, Any] = {
    "title": "ATmega328P",
    "eeprom_bytes": 1024,
    "flash_bytes": 32_768,
    **_AVR,
    "chip_header": "firmware/door_chip_atmega328p.h",
    "tables_bytes": 5_800,  # beside the largest program, with a light sensor on the bus and a shunt
    "data_sheet": "DS40002061",
    "pins": {
        **{f"PD{n}": f"D{n}" for n in range(2, 8)},
        **{f"PB{n}": f"D{n + 8}" for n in range(6)},
        **{f"PC{n}": f"A{n}" for n in range(4)},
    },
    "wake_pins": tuple(f"P{port}{n}" for port in "BCD" for n in range(8)),
    "speed_pins": {"PD5": "B", "PD6": "A"},
    "analog_pins": {f"PC{n}": n for n in range(4)},
    "own_pins": {"sda": ("PC4", "A4"), "scl": ("PC5", "A5"), "rxd": ("PD0", "D0"), "txd": ("PD1", "D1")},
}
# Of the ATmega1284P and 644P, with 40 pins. Boards with them print various names: go by the chip's. Not free: PD0, PD1
# (serial line), PC0, PC1 (clock bus), XTAL1, XTAL2 and reset, which have pins of their own.
_ATMEGA1284P: dict[str, Any] = {
    "hz": 16_000_000,
    **_AVR,
    "chip_header": "firmware/door_chip_atmega1284p.h",
    "tables_bytes": 20_000,
    # As for the ATmega328P at 16 MHz, and JTAG off, which has four pins of port C: from memory.
    "fuses": ("0xFF", "0xD1", "0xFC"),
    "brown_out_v": (4.3, 3.8),
    "loader": ("arduino", 115_200),
    "pins": {
        f"P{port}{n}": f"P{port}{n}"
        for port, bits in (("A", range(8)), ("B", range(8)), ("C", range(2, 8)), ("D", range(2, 8)))
        for n in bits
    },
    "wake_pins": tuple(f"P{port}{n}" for port in "ABCD" for n in range(8)),
    "speed_pins": {"PB3": "A", "PB4": "B"},
    "analog_pins": {f"PA{n}": n for n in range(8)},
    "own_pins": {"sda": ("PC1", "PC1"), "scl": ("PC0", "PC0"), "rxd": ("PD0", "PD0"), "txd": ("PD1", "PD1")},
    "wiring": {
        "pulse": "PB0",  # not on the end switches' port: its interrupt is then the shorter one
        "raise_motor": "PA4",
        "lower_motor": "PA5",
        "motor_speed": "PB3",
        "top_switch": "PD4",
        "bottom_switch": "PD5",
        "hand_up": "PC2",
        "hand_down": "PC3",
        "keep_shut": "PC4",
        "alarm_lamp": "PD7",
        "cell_feed": "PA2",
        "light_cell": "PA0",
        "battery": "PA1",
    },
}
# RP2040 data sheet (Raspberry Pi, 2.19.2): ADC0 to ADC2 are GPIO26 to 28. On common boards 23, 24 and 29 serve the
# supply, 25 the LED.
_PINS_RP2040: dict[str, Any] = {
    "pins": {f"GP{n}": f"GP{n}" for n in (*range(4), *range(6, 23), *range(25, 29))},
    "speed_pins": {f"GP{n}": "" for n in (*range(4), *range(6, 23))},
    "analog_pins": {f"GP{n}": n - 26 for n in range(26, 29)},
}
_WIRING_RP2040 = {
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
}
# Room: Microchip, data sheets DS40002061 (ATmega48A to 328P) and 2586Q (ATtiny25 to 85); of the others, avr-libc's
# headers. What common boards print: the pins_arduino.h of arduino-core-avr, held by tests/hardware/test_boards.py.
_ALL = (
    Board(
        name="atmega328p",
        hz=16_000_000,
        **_ATMEGA328P,
        # Low, high and extended fuse advised for a crystal of 16 MHz and no boot loader: EEPROM kept over an erase,
        # brown-out at 4.3 V. ATmega328P, data sheet DS40002061, tables of the fuse bytes and figure of the supply over
        # the clock: from memory.
        fuses=("0xFF", "0xD1", "0xFC"),
        brown_out_v=(4.3, 3.8),
        loader=("arduino", 115_200),
    ),
    Board(
        name="atmega328p-8mhz",
        mcu="atmega328p",
        hz=8_000_000,
        supply_v=3.3,
        **_ATMEGA328P,
        # As above with a crystal of 8 MHz and brown-out at 2.7 V: from memory.
        fuses=("0xFF", "0xD1", "0xFD"),
        brown_out_v=(2.7, 2.4),
        loader=("arduino", 57_600),
        usb="none",
    ),
    Board(
        name="atmega1284p",
        title="ATmega1284P",
        eeprom_bytes=4096,
        flash_bytes=131_072,
        **_ATMEGA1284P,
    ),
    Board(
        name="atmega644p",
        title="ATmega644P",
        eeprom_bytes=2048,
        flash_bytes=65_536,
        **_ATMEGA1284P,
    ),
    Board(
        name="atmega2560",
        title="ATmega2560",
        eeprom_bytes=4096,
        flash_bytes=262_144,
        hz=16_000_000,
        **_AVR,
        chip_header="firmware/door_chip_atmega2560.h",
        tables_bytes=20_000,
        # Ports H to L have more pins. They are left out: the chip cannot change one bit of them in one instruction, and
        # an interrupt that cuts the motor in between would be undone. Not free: PE0, PE1 (serial line), PD0, PD1 (bus).
        pins={
            "PE4": "D2",
            "PE5": "D3",
            "PG5": "D4",
            "PE3": "D5",
            **{f"PB{n}": f"D{n + 6}" for n in range(4, 8)},
            **{f"PB{n}": f"D{53 - n}" for n in range(4)},
            "PD3": "D18",
            "PD2": "D19",
            **{f"PA{n}": f"D{22 + n}" for n in range(8)},
            **{f"PC{n}": f"D{37 - n}" for n in range(8)},
            "PD7": "D38",
            **{f"PG{n}": f"D{41 - n}" for n in range(3)},
            **{f"PF{n}": f"A{n}" for n in range(8)},
        },
        wake_pins=tuple(f"PB{n}" for n in range(8)),
        speed_pins={"PB7": "A", "PG5": "B"},
        analog_pins={f"PF{n}": n for n in range(8)},
        own_pins={"sda": ("PD1", "D20"), "scl": ("PD0", "D21"), "rxd": ("PE0", "D0"), "txd": ("PE1", "D1")},
        wiring={
            "pulse": "PB4",
            "raise_motor": "PA4",
            "lower_motor": "PA5",
            "motor_speed": "PG5",
            "top_switch": "PB5",
            "bottom_switch": "PB6",
            "hand_up": "PA0",
            "hand_down": "PA1",
            "keep_shut": "PA2",
            "alarm_lamp": "PB7",
            "cell_feed": "PA3",
            "light_cell": "PF0",
            "battery": "PF1",
        },
        # As for the ATmega1284P: from memory. This chip is made for 4.5 V and more at 16 MHz.
        fuses=("0xFF", "0xD1", "0xFC"),
        brown_out_v=(4.3, 4.5),
        loader=("wiring", 115_200),
    ),
    Board(
        name="atmega32u4",
        title="ATmega32U4",
        eeprom_bytes=1024,
        flash_bytes=32_768,
        hz=16_000_000,
        **_AVR,
        chip_header="firmware/door_chip_atmega32u4.h",
        tables_bytes=2_200,  # what an IDE leaves, which does not know the Makefile's options: 26.3 kB of program
        # The program's serial line is on PD2 and PD3, not on USB. PB0 has a lamp on most boards and no pin.
        pins={
            "PD4": "D4",
            "PC6": "D5",
            "PD7": "D6",
            "PE6": "D7",
            **{f"PB{n}": f"D{n + 4}" for n in range(4, 8)},
            "PD6": "D12",
            "PC7": "D13",
            "PB1": "SCK",
            "PB2": "MOSI",
            "PB3": "MISO",
            **{f"PF{n}": f"A{7 - n}" for n in range(4, 8)},
            "PF1": "A4",
            "PF0": "A5",
        },
        wake_pins=tuple(f"PB{n}" for n in range(8)),
        speed_pins={"PB7": "A"},
        analog_pins={f"PF{n}": n for n in (0, 1, 4, 5, 6, 7)},
        own_pins={"sda": ("PD1", "D2"), "scl": ("PD0", "D3"), "rxd": ("PD2", "D0"), "txd": ("PD3", "D1")},
        wiring={
            "pulse": "PB4",
            "raise_motor": "PD4",
            "lower_motor": "PC6",
            "motor_speed": "PB7",
            "top_switch": "PB5",
            "bottom_switch": "PB6",
            "hand_up": "PF5",
            "hand_down": "PF4",
            "keep_shut": "PE6",
            "alarm_lamp": "PC7",
            "cell_feed": "PD6",
            "light_cell": "PF7",
            "battery": "PF6",
        },
        loader=("avr109", 57_600),
        usb="own",
    ),
    Board(name="attiny85", title="ATtiny85", eeprom_bytes=512, flash_bytes=8_192, hz=8_000_000),
    Board(
        name="rp2040",
        title="RP2040",
        eeprom_bytes=1024,  # kept in flash: firmware/door_flash.h
        flash_bytes=2_097_152,
        hz=12_000_000,
        family="rp2040",
        program="firmware/door_board_rp2040.c",
        chip_header="firmware/door_rp2040.h",
        parts=(
            "firmware/door_flash.c",
            "firmware/door_start_rp2040.c",
            "firmware/door_flash.h",
            "firmware/door_rp2040.ld",
            "firmware/uf2.py",
        ),
        slot_bytes=_SLOT_BYTES,
        tables_bytes=60_000,
        **{**_PINS_RP2040, "pins": {pin: pin for pin in _PINS_RP2040["pins"] if pin not in ("GP0", "GP1")}},
        own_pins={"sda": ("GP4", "GP4"), "scl": ("GP5", "GP5"), "rxd": ("GP1", "GP1"), "txd": ("GP0", "GP0")},
        usb="own",
        wiring={**_WIRING_RP2040, "pulse": "GP8"},
        supply_v=3.3,
    ),
    Board(
        name="micropython-rp2040",
        title="RP2040 with MicroPython",
        eeprom_bytes=_MOST_IMAGE,
        flash_bytes=2_097_152,
        hz=125_000_000,
        program="board.py",
        **_PINS_RP2040,
        own_pins={"sda": ("GP4", "GP4"), "scl": ("GP5", "GP5")},
        language="micropython",
        wiring={"pulse": None, **_WIRING_RP2040},
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
    "avr128da": "AVR128DA",
    "attiny": "ATtiny",
}
# Boards called by another name than their chip's.
CARRY = {
    "uno": "atmega328p",
    "nano": "atmega328p",
    "pro mini": "atmega328p-8mhz",
    "mega": "atmega2560",
    "leonardo": "atmega32u4",
    "micro": "atmega32u4",
    "pro micro": "atmega32u4",
}
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
    own = [board.name for board in BOARDS.values() if board.title == known and board.program]
    if own and speaking:
        return f"for {article} {known} say '{own[0]}' (the program in C), or '{speaking[0]}' if it speaks MicroPython"
    if speaking:
        return f"for {article} {known} that speaks MicroPython say '{speaking[0]}'; a table for it in C: {ANYWHERE}"
    return (
        f"for {article} {known} there is no door program; the table works there: leave chip.board out, and {ANYWHERE}"
    )
