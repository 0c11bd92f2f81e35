/* door_main.c - start, then sleep and step for ever. */
#include "door_board.h"
#include "door_program.h"

int main(void)
{
    board_start();
    door_program_start();
    for (;;) { door_program_woke(board_wait()); }
}
