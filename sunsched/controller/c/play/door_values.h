/* door_values.h - a site's own constants, for the program that is played: they stand in play_site. */
#ifndef DOOR_VALUES_H
#define DOOR_VALUES_H

#include "play_site.h"

/* Marks of 64 characters: 12 that name the text, and room. A name in a program has 60 at most. */
#define DOOR_SITE_NAME "@site name.@...................................................."
#define DOOR_PROGRAM   "@program...@...................................................."
#define DOOR_PLAN      "@plan......@...................................................."

#define DOOR_BATTERY_FITTED 1 /* nothing reads below 0 counts: levels of 0 are a battery that is not watched */
#define DOOR_BATTERY_LOW_COUNTS play_site.battery_low_counts
#define DOOR_BATTERY_SPENT_COUNTS play_site.battery_spent_counts

#ifndef DOOR_CLOCK_CHIP /* play_clock.c has each kind of clock once */
#define DOOR_CLOCK_CHIP 0
#define DOOR_CLOCK_REGISTERS 0
#endif

#endif
