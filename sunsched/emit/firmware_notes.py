"""The program folder's Makefile, and its sketch with wiring notes and cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from sunsched.base import cautions
from sunsched.emit.c_header import clock_words, comment_block
from sunsched.emit.stamp import Stamp
from sunsched.hardware.boards import Board
from sunsched.hardware.wiring import Fitted, Wire, clock_note, short_note
from sunsched.plan.year import YearPlan

_WIDTH = 104
# Each of those after -Os takes flash off the door's program: with none of them its tables of many years have no room.
OPTIMISED = "-Os -flto -mrelax -mcall-prologues -fno-inline-small-functions -fno-tree-dominator-opts"
OPTIMISED += " -fno-tree-sink -fno-tree-loop-optimize -fno-move-loop-invariants -fno-gcse"
SLOT_BYTES = 304  # the first slot of the EEPROM with its record: LINE.md


def makefile(mark: str, sources: Iterable[str], board: Board) -> str:
    """A Makefile for GNU make, avr-gcc and avrdude: builds, sends by boot loader or programmer, EEPROM, fuses."""
    flags = f"-mmcu=$(MCU) -DF_CPU={board.hz}UL -std=gnu99 {OPTIMISED}"
    flags += " -Wall -Wextra -Wundef -ffunction-sections -fdata-sections"
    objects = " \\\n    ".join(source.replace(".c", ".o") for source in sources)
    return f"""# {mark}.
#   make                         builds door.hex
#   make flash PORT=/dev/ttyUSB0    sends it to a board with a boot loader (its speed: BAUD=...)
#   make isp PROGRAMMER=usbasp      writes it with an ISP programmer; the boot loader is erased
#   make eeprom IMAGE=site_2028.bin writes a table image into the EEPROM with an ISP programmer
#   make read-eeprom                reads the EEPROM into eeprom.hex, for sunsched readback
#   make fuses                      shows the fuses; README.md says which are advised
#   make write-fuses LFUSE=0x.. HFUSE=0x.. EFUSE=0x..    writes them
MCU = {board.chip}
CC = avr-gcc
CFLAGS = {flags}
BAUD = {board.loader[1]}
PROGRAMMER = usbasp
AVRDUDE = avrdude
ISP = $(AVRDUDE) -p $(MCU) -c $(PROGRAMMER) $(if $(PORT),-P $(PORT))
OBJECTS = {objects}

door.hex: door.elf
\tavr-objcopy -O ihex -R .eeprom $< $@

door.elf: $(OBJECTS)
\t$(CC) $(CFLAGS) -Wl,--gc-sections -o $@ $(OBJECTS)
\tavr-size $@

%.o: %.c $(wildcard *.h)
\t$(CC) $(CFLAGS) -c -o $@ $<

flash: door.hex
\t$(if $(PORT),,$(error say where the board is: make flash PORT=/dev/ttyUSB0))
\t$(AVRDUDE) -p $(MCU) -c {board.loader[0]} -P $(PORT) -b $(BAUD) -D -U flash:w:door.hex:i

isp: door.hex
\t$(ISP) -U flash:w:door.hex:i

# The bytes behind the image are erased, so that the program takes the image for a new one.
eeprom:
\t$(if $(IMAGE),,$(error say which image: make eeprom IMAGE=site_2028.bin))
\tavr-objcopy -I binary -O ihex --gap-fill 0xFF --pad-to {SLOT_BYTES} "$(IMAGE)" door_eeprom.hex
\t$(ISP) -U eeprom:w:door_eeprom.hex:i

read-eeprom:
\t$(ISP) -U eeprom:r:eeprom.hex:i

fuses:
\t$(ISP) -U lfuse:r:-:h -U hfuse:r:-:h -U efuse:r:-:h

write-fuses:
\t$(if $(and $(LFUSE),$(HFUSE),$(EFUSE)),,$(error say all three: make write-fuses LFUSE=0x.. HFUSE=0x.. EFUSE=0x..))
\t$(ISP) -U lfuse:w:$(LFUSE):m -U hfuse:w:$(HFUSE):m -U efuse:w:$(EFUSE):m

clean:
\trm -f $(OBJECTS) door.elf door.hex door_eeprom.hex

.PHONY: flash isp eeprom read-eeprom fuses write-fuses clean
"""


def sketch(mark: str, plan: YearPlan, board: Board, wiring: tuple[Sequence[Wire], Fitted], stamp: Stamp) -> str:
    """The sketch's main file: all of it is a comment, because door_main.c has main().

    wiring   the wires, and what is fitted
    """
    return comment_block(f"The door program of {plan.site.name}", _notes(mark, plan, board, wiring, stamp)) + "\n"


def _notes(
    mark: str, plan: YearPlan, board: Board, wiring: tuple[Sequence[Wire], Fitted], stamp: Stamp
) -> Iterator[str]:
    wires, fitted = wiring
    yield ""
    yield f"{mark}. Edit the configuration, then run:"
    yield f"  {stamp.command}"
    yield "The program is in the .c files beside this one; door_main.c has main(). README.md is for the bench: parts,"
    yield "wiring picture, upload, first evening, alarms."
    yield f"Board: {board.title}, {board.hz // 1_000_000} MHz, {board.supply_v:g} V."
    yield f"Clock: {clock_words(plan)}"
    yield ""
    yield "Wiring"
    for wire in wires:
        yield from _folded(f"{wire.pin} ({wire.printed:>3})  {wire.part}: {wire.what}", "  ", " " * 13)
    yield from _folded(clock_note(fitted), "  ", "  ")
    if fitted.lux_sensor:
        yield "  Light sensor BH1750FVI on the bus, address pin low; no divider is wired."
    if short_note(fitted):
        yield from _folded(short_note(fitted), "  ", "  ")
    yield ""
    yield "Setting the clock: press Enter, wait for '# ready', then send: t 2027-03-01 17:45:00"
    yield f"  (the chip's own time, {clock_words(plan)})"
    yield "Tables: compiled in for the years of door_table.h. An exact year, changed rules or an order go in over the"
    yield "  serial line: sunsched chip load CONFIG. After the last year the light alone moves the door, with an alarm."
    yield ""
    yield "Cautions"
    for caution in cautions.PROGRAM:
        yield from _folded(caution, "  - ", "    ")


def _folded(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=first, subsequent_indent=rest)
