/* door_rows.c - see door_rows.h. */
#include "door_rows.h"

#include "door_image.h"
#include "door_say.h"
#include "door_site.h"
#include "door_slots.h"
#include "door_table.h"

static uint16_t first_year, last_year; /* of the tables compiled in */
static uint8_t begun;

uint8_t door_image_read(const uint8_t *address) { return door_image_byte(address); }

static const uint8_t *flash_image(uint16_t at) { return DOOR_IN_FLASH(&door_tables[at]); }

static uint16_t flash_length(uint16_t at) { return sunsched_word(flash_image(at) + SUNSCHED_AT_LENGTH); }

void door_rows_start(void)
{
    uint16_t at;
    first_year = sunsched_first_year(flash_image(0u));
    for (at = 0u; at < DOOR_TABLES_BYTES; at = (uint16_t)(at + flash_length(at))) {
        last_year = sunsched_last_year(flash_image(at));
    }
    begun = 1u;
    door_slots_start(DOOR_UTC_OFFSET_MIN);
}

/* The image that serves a year, in *image; a slot's number, DOOR_BY_FLASH or DOOR_BY_NO_TABLE. */
static uint8_t image_for(uint16_t year, const uint8_t **image)
{
    const uint8_t slot = door_slot_of_year(year);
    uint16_t at = 0u;
    if (slot != DOOR_NO_SLOT) {
        *image = DOOR_IN_EEPROM(door_slot_address(slot));
        return slot;
    }
    if ((year < first_year) || (year > last_year)) { return DOOR_BY_NO_TABLE; }
    while (year > sunsched_last_year(flash_image(at))) { at = (uint16_t)(at + flash_length(at)); }
    *image = flash_image(at);
    return DOOR_BY_FLASH;
}

uint8_t door_rows_serving(uint16_t day)
{
    const uint8_t *image;
    door_date_t date;
    door_date_of(day, &date);
    return image_for(date.year, &image);
}

/* A year before every table's first, by more than one, is a clock that was reset. */
static uint8_t outside(uint16_t year)
{
    uint16_t first = first_year;
    uint8_t slot;
    for (slot = 0u; slot < DOOR_SLOTS; slot++) {
        if ((door_slot(slot)->generation != 0u) && (door_slot(slot)->first_year < first)) {
            first = door_slot(slot)->first_year;
        }
    }
    begun = (uint8_t)(year >= first);
    return (uint8_t)(((uint16_t)(year + 1u) < first) ? DOOR_ROW_NONE : DOOR_ROW_OUTSIDE);
}

uint8_t door_rows_read(uint16_t day, door_row_t *row)
{
    const uint8_t *image;
    door_date_t date;
    door_date_of(day, &date);
    if (image_for(date.year, &image) == DOOR_BY_NO_TABLE) { return outside(date.year); }
    row->open_min = sunsched_open_min_of(image, date.year, date.month, date.date);
    row->close_min = sunsched_close_min_of(image, date.year, date.month, date.date);
    row->midnight_min = sunsched_midnight_min(image, date.year, date.month, date.date);
    row->facts = sunsched_facts(image, date.year, date.month, date.date);
    return DOOR_ROW_SERVED;
}

uint8_t door_rows_begun(void) { return begun; }

void door_rows_settings(uint16_t day, door_settings_t *s)
{
    const uint8_t *image;
    door_date_t date;
    door_date_of(day, &date);
    if (image_for(date.year, &image) >= DOOR_BY_FLASH) { return; }
    s->morning_from_min = sunsched_setting(image, SUNSCHED_MORNING_CELL_FROM_MIN, s->morning_from_min);
    s->morning_until_min = sunsched_setting(image, SUNSCHED_MORNING_CELL_UNTIL_MIN, s->morning_until_min);
    s->evening_from_min = sunsched_setting(image, SUNSCHED_EVENING_CELL_FROM_MIN, s->evening_from_min);
    s->evening_until_min = sunsched_setting(image, SUNSCHED_EVENING_CELL_UNTIL_MIN, s->evening_until_min);
    s->dark_counts = sunsched_setting(image, SUNSCHED_DARK_COUNTS, s->dark_counts);
    s->bright_counts = sunsched_setting(image, SUNSCHED_LIGHT_COUNTS, s->bright_counts);
    s->confirm_s = (uint16_t)sunsched_setting(image, SUNSCHED_CONFIRM_S, (int16_t)s->confirm_s);
}

uint16_t door_rows_first_year(void) { return first_year; }
uint16_t door_rows_last_year(void) { return last_year; }
int16_t door_rows_offset_min(void) { return DOOR_UTC_OFFSET_MIN; }
int16_t door_rows_setting(uint8_t number) { return sunsched_setting(flash_image(0u), number, 0); }
uint16_t door_rows_crc(void) { return sunsched_crc(flash_image(0u), DOOR_TABLES_BYTES); }
