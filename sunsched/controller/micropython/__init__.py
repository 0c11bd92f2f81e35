"""The door's program for boards that speak MicroPython: copied to the board as it stands, run there and in tests.

    main.py           start, then a step each second, for ever
    program.py        a second of the door: inputs in, the decision, motor, lamp, log and memory out
    door/             the decision, made from the twin (emit/micropython_core.py)
    tables.py         which table serves a day; new tables taken up whole or not at all
    table_reader.py   reads an image
    clock_chip.py     four clock chips on the two-wire bus
    files.py          files replaced whole, what survives a power cut, the log with its rotation
    board.py          board_rp2040.py or board_esp32.py: pins, converter, motor
    site.py           the configuration's own pins, parts and names

These modules keep to what MicroPython 1.20 has; they import nothing of the package, for a board has none of it.
"""
