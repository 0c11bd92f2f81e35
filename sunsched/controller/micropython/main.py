"""Starts the door's program when the board gets power. Ctrl-C at the board's prompt stops it, and the motor.

Caution: a motor follows this program. Isolate power before clearing a jam, support the plate, keep fingers clear, and
look at birds and door daily.
"""

import time

from board import Board
from program import Program


def run() -> None:
    """A step each second by the board's own count, for ever; the watchdog starts the board again if a step hangs."""
    board = Board()
    program = Program(board)
    due_ms = time.ticks_ms()
    try:
        while True:
            board.alive()
            program.second()
            due_ms = time.ticks_add(due_ms, 1000)
            behind_ms = time.ticks_diff(time.ticks_ms(), due_ms)
            if behind_ms > 60_000:  # steps that a stop at the prompt has lost are not made up for
                due_ms = time.ticks_add(due_ms, behind_ms)
            left_ms = time.ticks_diff(due_ms, time.ticks_ms())
            while left_ms > 0:
                board.between_steps(left_ms)
                left_ms = time.ticks_diff(due_ms, time.ticks_ms())
    finally:
        board.motor(0, 0)


if __name__ == "__main__":
    run()
