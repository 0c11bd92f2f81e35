/* drive_watch.h - what the chip's two direction pins have done, by every write to their port. */
#ifndef DRIVE_WATCH_H
#define DRIVE_WATCH_H
#include <stdint.h>

typedef struct {
    double longest_raise_s, longest_lower_s;
    double least_turn_s;  /* shortest rest between two runs of opposite direction; 0 at once, -1 none yet */
    uint32_t runs, both;  /* runs begun; times both pins were high */
    int32_t now, last;    /* +1 raises, -1 lowers, 0 rests; the last run's */
    double began_s, ended_s;
} drive_watch;

void drive_watch_see(drive_watch *watch, int raise, int lower, double at_s);
#endif
