"""The Makefile of the program's folder for an RP2040: GNU make, arm-none-eabi-gcc with newlib, no other library."""

from __future__ import annotations

from collections.abc import Iterable

FLAGS = "-mcpu=cortex-m0plus -mthumb -std=gnu99 -Os -Wall -Wextra -Wundef -ffunction-sections -fdata-sections"


def makefile(mark: str, sources: Iterable[str]) -> str:
    """The text: builds, and makes the file that a board on USB takes."""
    objects = " \\\n    ".join(source.replace(".c", ".o") for source in sources)
    return f"""# {mark}.
#   make                builds door.elf and door.uf2
#   make flash TO=DIR   copies door.uf2 to a board that shows as a drive: hold its BOOTSEL button while it gets power
#   make probe          writes door.elf with a debug probe (openocd)
CC = arm-none-eabi-gcc
CFLAGS = {FLAGS}
OPENOCD = openocd -f interface/cmsis-dap.cfg -f target/rp2040.cfg
OBJECTS = {objects}

door.uf2: door.bin
\tpython3 uf2.py door.bin $@

door.bin: door.elf
\tarm-none-eabi-objcopy -O binary $< $@

door.elf: $(OBJECTS) door_rp2040.ld
\t$(CC) $(CFLAGS) --specs=nano.specs -nostartfiles -Tdoor_rp2040.ld -Wl,--gc-sections -o $@ $(OBJECTS)
\tarm-none-eabi-size $@

%.o: %.c $(wildcard *.h)
\t$(CC) $(CFLAGS) -c -o $@ $<

flash: door.uf2
\t$(if $(TO),,$(error say where the drive is: make flash TO=/media/you/RPI-RP2))
\tcp door.uf2 "$(TO)"

probe: door.elf
\t$(OPENOCD) -c "program door.elf verify reset exit"

clean:
\trm -f $(OBJECTS) door.elf door.bin door.uf2

.PHONY: flash probe clean
"""
