# The board's whole program, main.py and board.py included, through a dusk of an invented yard.
import world
from began import SECOND_OF_DAY
from board import Board
from program import Program

world.start_s, world.lux_counts = SECOND_OF_DAY, 900
board = Board()
program = Program(board)
log = []


def seconds(n):
    """As main.run(), n steps."""
    due = world.now_ms
    for _ in range(n):
        board.alive()
        out = program.second()
        due += 1000
        while world.now_ms < due:
            board.between_steps(due - world.now_ms)
    return out


# ---
out = seconds(120)
print("day", out.door, out.alarms, round(world.plate_mm))
# ---
world.lux_counts = 300  # a natural fall: bright, then dim for some minutes, then dark
seconds(330)
world.lux_counts = 60
out = seconds(130)
print("dusk", out.door, out.reason, round(world.plate_mm), world.both, world.least_rest_ms)
# ---
world.stuck_top = True  # a top switch that reads made while the plate is down
out = seconds(60)
print("night", out.door, out.alarms)
