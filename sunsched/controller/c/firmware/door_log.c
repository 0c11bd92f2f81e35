/* door_log.c - see door_log.h. */
#include "door_log.h"

#include "door_rows.h"
#include "door_say.h"
#include "door_site.h"
#include "door_slots.h"
#include "door_text.h"

/* Words one after another, each ended by a zero, in the order of their numbers in door_decision.h. */
static const char events[] DOOR_KEPT_IN_FLASH = "start\0quarter\0move\0ended\0alarm\0clock\0table";
static const char places[] DOOR_KEPT_IN_FLASH = "halted\0up\0down\0moving_up\0moving_down";
static const char wishes[] DOOR_KEPT_IN_FLASH = "lower\0raise\0stay";
static const char reasons[] DOOR_KEPT_IN_FLASH =
    "start\0day\0dusk\0close_minute\0dusk_limit\0early_dusk\0held_up\0night\0dawn\0open_minute\0dawn_limit\0"
    "held_down\0light_alone\0steady_light\0long_shut\0no_witness\0kept_in\0keep_shut\0hand\0second_chance\0battery";
static const char alarms[] DOOR_KEPT_IN_FLASH =
    "clock_step\0clock_lost\0sun_shift\0contradiction\0cell\0expired\0battery\0not_down\0not_up\0not_rising\0"
    "switches\0wrong_way\0power\0moved\0driver\0clock_cell";
static const char more[] DOOR_KEPT_IN_FLASH = "no_witness\0not_begun";
static const char remarks[] DOOR_KEPT_IN_FLASH =
    "# ready\0"
    "# a change this large: send the line again within 10 minutes if it is meant\0"
    "# what: t YYYY-MM-DD HH:MM:SS, s, v, or a line with its checksum\0"
    "# expired: no table for this day, the light alone moves the door\0"
    "# not begun: no table for this day yet, the light alone moves the door";
static const char head[] DOOR_KEPT_IN_FLASH =
    "# sunsched door log, revision 1\0# site \0# chip_offset_min \0# table \0-01-01..\0-12-31\0"
    "date,time,event,counts,door,move,reason,alarms";
static const char site[] DOOR_KEPT_IN_FLASH = DOOR_SITE_NAME;

enum { CELL_BIT = 4, NO_TABLE_BIT = 5 }; /* of DOOR_ALARM_* */
enum { HEAD_TITLE = 0, HEAD_SITE, HEAD_OFFSET, HEAD_TABLE, HEAD_TO, HEAD_END, HEAD_COLUMNS };

static void put_alarms(uint16_t standing)
{
    /* a bad cell with neither time nor table to go by */
    const uint8_t blind = (uint8_t)((standing & (DOOR_ALARM_CLOCK_LOST | DOOR_ALARM_NO_TABLE)) != 0u);
    uint8_t bit;
    uint8_t any = 0u;
    for (bit = 0u; standing != 0u; bit++) {
        if ((standing & 1u) != 0u) {
            if (any != 0u) { door_put('+'); }
            if ((bit == NO_TABLE_BIT) && (door_rows_begun() == 0u)) {
                door_put_word(more, 1u);
            } else {
                door_put_word(alarms, bit);
            }
            any = 1u;
            if ((bit == CELL_BIT) && (blind != 0u)) {
                door_put('+');
                door_put_word(more, 0u);
            }
        }
        standing = (uint16_t)(standing >> 1);
    }
}

static void end_line(void) { door_put('\n'); }

void door_log_remark(uint8_t remark)
{
    door_put_word(remarks, remark);
    end_line();
}

void door_log_renew(const door_outputs_t *out)
{
    if ((out->alarms & DOOR_ALARM_NO_TABLE) != 0u) {
        door_log_remark((door_rows_begun() != 0u) ? DOOR_REMARK_EXPIRED : DOOR_REMARK_NOT_BEGUN);
    }
}

static void put_table(uint16_t first, uint16_t last)
{
    door_put_word(head, HEAD_TABLE);
    door_put_number(first, 4u);
    door_put_word(head, HEAD_TO);
    door_put_number(last, 4u);
    door_put_word(head, HEAD_END);
    end_line();
}

void door_log_site(void) { door_put_word(site, 0u); }

void door_log_head(void)
{
    uint8_t slot;
    door_put_word(head, HEAD_TITLE);
    end_line();
    door_put_word(head, HEAD_SITE);
    door_log_site();
    end_line();
    door_put_word(head, HEAD_OFFSET);
    door_put_signed(door_rows_offset_min());
    end_line();
    put_table(door_rows_first_year(), door_rows_last_year());
    for (slot = 0u; slot < DOOR_SLOTS; slot++) {
        const door_slot_t *s = door_slot(slot);
        if (s->generation != 0u) { put_table(s->first_year, s->last_year); }
    }
    door_put_word(head, HEAD_COLUMNS);
    end_line();
}

void door_log_line(uint8_t event, const door_inputs_t *in, const door_outputs_t *out, uint8_t second)
{
    if (out->time != DOOR_BY_LIGHT) {
        door_put_day(out->own_day);
        door_put(',');
        door_put_time(out->own_min, second);
    } else {
        door_put(',');
    }
    door_put(',');
    door_put_word(events, event);
    door_put(',');
    door_put_number((uint16_t)in->light_counts, 1u);
    door_put(',');
    door_put_word(places, out->door);
    door_put(',');
    door_put_word(wishes, out->want);
    door_put(',');
    door_put_word(reasons, out->reason);
    door_put(',');
    put_alarms(out->alarms);
    end_line();
}

void door_log_state(const door_inputs_t *in, const door_outputs_t *out)
{
    door_put_word(places, out->door);
    door_put(' ');
    door_put_word(wishes, out->want);
    door_put(' ');
    door_put_word(reasons, out->reason);
    door_put(' ');
    door_put_number((uint16_t)in->light_counts, 1u);
    door_put(' ');
    if (out->alarms == 0u) { door_put('-'); }
    put_alarms(out->alarms);
}
