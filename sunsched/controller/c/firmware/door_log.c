/* door_log.c - see door_log.h. */
#include "door_log.h"

#include "door_board.h"
#include "door_rows.h"
#include "door_site.h"
#include "door_text.h"

/* Words one after another, each ended by a zero, in the order of their numbers in door_decision.h. */
static const char events[] DOOR_KEPT_IN_FLASH = "start\0quarter\0move\0ended\0alarm\0clock";
static const char places[] DOOR_KEPT_IN_FLASH = "halted\0up\0down\0moving_up\0moving_down";
static const char wishes[] DOOR_KEPT_IN_FLASH = "lower\0raise\0stay";
static const char reasons[] DOOR_KEPT_IN_FLASH =
    "start\0day\0dusk\0close_minute\0dusk_limit\0early_dusk\0held_up\0night\0dawn\0open_minute\0dawn_limit\0"
    "held_down\0light_alone\0steady_light\0long_shut\0no_witness\0kept_in\0keep_shut\0hand\0second_chance\0battery";
static const char alarms[] DOOR_KEPT_IN_FLASH =
    "clock_step\0clock_lost\0sun_shift\0contradiction\0cell\0no_witness\0battery\0not_down\0not_up\0not_rising\0"
    "switches\0wrong_way\0power\0moved\0driver\0clock_cell";
static const char remarks[] DOOR_KEPT_IN_FLASH =
    "# ready\0"
    "# a change this large: send the line again within 10 minutes if it is meant\0"
    "# not understood: t YYYY-MM-DD HH:MM:SS, s or v\0"
    "# the table's year is over: minutes are last year's, renew it";
static const char head[] DOOR_KEPT_IN_FLASH =
    "# sunsched door log, revision 1\0# site \0# chip_offset_min \0# table \0..\0"
    "date,time,event,counts,door,move,reason,alarms";
static const char site[] DOOR_KEPT_IN_FLASH = DOOR_SITE_NAME;

enum { HEAD_TITLE = 0, HEAD_SITE, HEAD_OFFSET, HEAD_TABLE, HEAD_TO, HEAD_COLUMNS };

static void put_word(const char *words, uint8_t number)
{
    char c;
    while (number != 0u) {
        if (DOOR_FLASH_BYTE(words) == 0) { number--; }
        words++;
    }
    c = (char)DOOR_FLASH_BYTE(words);
    while (c != 0) {
        board_put(c);
        words++;
        c = (char)DOOR_FLASH_BYTE(words);
    }
}

static void put_number(uint16_t value, uint8_t digits) /* at least `digits` of them */
{
    char reversed[5];
    uint8_t n = 0u;
    do {
        reversed[n] = (char)('0' + (char)(value % 10u));
        value = (uint16_t)(value / 10u);
        n++;
    } while (value != 0u);
    while (n < digits) {
        reversed[n] = '0';
        n++;
    }
    while (n != 0u) {
        n--;
        board_put(reversed[n]);
    }
}

static uint16_t year_length(uint16_t year) { return (uint16_t)(((year & 3u) == 0u) ? 366u : 365u); }

static void put_date(uint16_t day)
{
    uint16_t year = 2000u;
    uint8_t month = 1u;
    uint8_t length = 31u;
    while (day >= year_length(year)) {
        day = (uint16_t)(day - year_length(year));
        year++;
    }
    while (day >= length) {
        day = (uint16_t)(day - length);
        month++;
        length = (uint8_t)(30u + ((uint8_t)(month ^ (uint8_t)(month >> 3)) & 1u));
        if (month == 2u) { length = (uint8_t)(year_length(year) - 337u); }
    }
    put_number(year, 4u);
    board_put('-');
    put_number(month, 2u);
    board_put('-');
    put_number((uint16_t)(day + 1u), 2u);
}

static void put_alarms(uint16_t standing)
{
    uint8_t bit;
    uint8_t any = 0u;
    for (bit = 0u; standing != 0u; bit++) {
        if ((standing & 1u) != 0u) {
            if (any != 0u) { board_put('+'); }
            put_word(alarms, bit);
            any = 1u;
        }
        standing = (uint16_t)(standing >> 1);
    }
}

static void end_line(void) { board_put('\n'); }

void door_log_remark(uint8_t remark)
{
    put_word(remarks, remark);
    end_line();
}

void door_log_renew(uint16_t day)
{
    if ((uint16_t)(day - door_rows_first_day()) >= door_rows_days()) { door_log_remark(DOOR_REMARK_RENEW); }
}

void door_log_head(void)
{
    const int16_t offset_min = door_rows_utc_offset_min();
    put_word(head, HEAD_TITLE);
    end_line();
    put_word(head, HEAD_SITE);
    put_word(site, 0u);
    end_line();
    put_word(head, HEAD_OFFSET);
    if (offset_min < 0) { board_put('-'); }
    put_number((uint16_t)((offset_min < 0) ? -offset_min : offset_min), 1u);
    end_line();
    put_word(head, HEAD_TABLE);
    put_date(door_rows_first_day());
    put_word(head, HEAD_TO);
    put_date((uint16_t)(door_rows_first_day() + door_rows_days() - 1u));
    end_line();
    put_word(head, HEAD_COLUMNS);
    end_line();
}

void door_log_line(uint8_t event, const door_inputs_t *in, const door_outputs_t *out, uint8_t second)
{
    if (out->time != DOOR_BY_LIGHT) {
        put_date(out->own_day);
        board_put(',');
        put_number((uint16_t)(out->own_min / 60u), 2u);
        board_put(':');
        put_number((uint16_t)(out->own_min % 60u), 2u);
        board_put(':');
        put_number(second, 2u);
    } else {
        board_put(',');
    }
    board_put(',');
    put_word(events, event);
    board_put(',');
    put_number((uint16_t)in->light_counts, 1u);
    board_put(',');
    put_word(places, out->door);
    board_put(',');
    put_word(wishes, out->want);
    board_put(',');
    put_word(reasons, out->reason);
    board_put(',');
    put_alarms(out->alarms);
    end_line();
}
