/* door_table.h - the tables of the program that is played: they stand in play_site. */
#ifndef DOOR_TABLE_H
#define DOOR_TABLE_H

#include "play_site.h"

#define DOOR_UTC_OFFSET_MIN play_site.utc_offset_min
#define DOOR_TABLES_BYTES play_site.tables_bytes
#define door_tables play_site.tables

#endif
