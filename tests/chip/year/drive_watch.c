/* drive_watch.c - see drive_watch.h. */
#include "drive_watch.h"

static void run_ends(drive_watch *w, double at_s)
{
    double *longest = w->now > 0 ? &w->longest_raise_s : &w->longest_lower_s;
    if (at_s - w->began_s > *longest) { *longest = at_s - w->began_s; }
    w->last = w->now;
    w->ended_s = at_s;
}

static void run_begins(drive_watch *w, int direction, double at_s)
{
    double rest_s = at_s - w->ended_s;
    if (w->last == -direction && (w->least_turn_s < 0.0 || rest_s < w->least_turn_s)) { w->least_turn_s = rest_s; }
    w->began_s = at_s;
    w->runs++;
}

void drive_watch_see(drive_watch *w, int raise, int lower, double at_s)
{
    int direction = (raise != 0) - (lower != 0);
    if (raise && lower) { w->both++; }
    if (direction == w->now) { return; }
    if (w->now != 0) { run_ends(w, at_s); }
    if (direction != 0) { run_begins(w, direction, at_s); }
    w->now = direction;
}
