# Seconds of an invented yard: light that falls, a clock chip, a plate that the motor moves, end switches that bounce.
import door_site as own

TRAVEL_MM, RAISE_MM_MS, LOWER_MM_MS = 350.0, 0.1, 0.04
levels, duty, handlers = {}, {}, {}
now_ms, fed_ms, watchdog_ms = 0, 0, 0
plate_mm = TRAVEL_MM
start_s, lux_counts = 0, 900  # of the day; counts of the cell
date = (2027, 3, 1)
both, turns, last_way, stopped_ms, least_rest_ms = 0, 0, 0, 0, 1000000
moves = []
stuck_top = stuck_bottom = None
silent = False


def way():
    up, down = levels.get(own.RAISE_MOTOR, 0), levels.get(own.LOWER_MOTOR, 0)
    powered = own.DRIVER == "relays" or duty.get(own.MOTOR_SPEED, 0) > 0
    return (1 if up else 2 if down else 0) if powered else 0


def driven():
    global both, last_way, stopped_ms, least_rest_ms
    if levels.get(own.RAISE_MOTOR, 0) and levels.get(own.LOWER_MOTOR, 0):
        both += 1
    now = way()
    if now == last_way:
        return
    if now == 0:
        stopped_ms = now_ms
    elif moves and moves[-1][1] != now:
        least_rest_ms = min(least_rest_ms, now_ms - stopped_ms)
    if now:
        moves.append((now_ms, now))
    last_way = now


def level_of(number):
    made = None
    if number == own.TOP_SWITCH:
        made = plate_mm >= TRAVEL_MM if stuck_top is None else stuck_top
    elif number == own.BOTTOM_SWITCH:
        made = plate_mm <= 0 if stuck_bottom is None else stuck_bottom
    if made is None:
        return levels.get(number, 1)
    return int(made) if own.SWITCHES_CLOSED else int(not made)


def converted(number):
    return lux_counts if number == own.LIGHT_CELL else 700


def pass_ms(ms):
    global now_ms, plate_mm
    while ms > 0:
        moving = way()
        step = 1 if moving else ms
        before = level_of(own.TOP_SWITCH), level_of(own.BOTTOM_SWITCH)
        if moving == 1:
            plate_mm = min(TRAVEL_MM + 5, plate_mm + RAISE_MM_MS)
        elif moving == 2:
            plate_mm = max(-200.0, plate_mm - LOWER_MM_MS)
        now_ms += step
        ms -= step
        after = level_of(own.TOP_SWITCH), level_of(own.BOTTOM_SWITCH)
        for n, pin in ((0, own.TOP_SWITCH), (1, own.BOTTOM_SWITCH)):
            if before[n] != after[n] and pin in handlers:
                handlers[pin][0](handlers[pin][1])
    if now_ms - fed_ms > watchdog_ms > 0:
        raise RuntimeError("the watchdog has not been fed")


def fed():
    global fed_ms
    fed_ms = now_ms


def clock_bytes(address, register, count):
    if silent or address != 0x68:
        raise OSError(19)
    s = start_s + now_ms // 1000
    bcd = [v // 10 << 4 | v % 10 for v in (s % 60, s // 60 % 60, s // 3600 % 24, 1, date[2], date[1], date[0] - 2000)]
    registers = bcd + [0] * 9
    return bytes(registers[register : register + count])


def clock_written(address, register, values):
    if silent:
        raise OSError(19)
