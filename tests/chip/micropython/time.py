# The world's own milliseconds in place of the computer's.
import world


def ticks_ms():
    return world.now_ms


def ticks_add(at, by):
    return at + by


def ticks_diff(a, b):
    return a - b


def sleep_ms(ms):
    world.pass_ms(ms)
