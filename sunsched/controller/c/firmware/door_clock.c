/* door_clock.c - see door_clock.h. */
#include "door_clock.h"

#include "door_board.h"
#include "door_clock_chip.h"
#include "door_line.h"
#include "door_site.h"

#define TIME_LINE 21u /* t YYYY-MM-DD HH:MM:SS */

typedef struct {
    uint16_t day, minute; /* days since 2000-01-01, minute of the day */
    uint8_t second, valid;
} reading_t;

static door_moment_t asked;
static uint8_t asking, cell_low;
static reading_t now, before; /* before: what the clock said until the keeper set it */

static uint8_t month_days(const door_moment_t *m)
{
    if (m->month == 2u) { return (uint8_t)(((m->year & 3u) == 0u) ? 29u : 28u); }
    return (uint8_t)(30u + ((uint8_t)(m->month ^ (uint8_t)(m->month >> 3)) & 1u));
}

static uint8_t possible(const door_moment_t *m)
{
    return (uint8_t)((m->second < 60u) && (m->minute < 60u) && (m->hour < 24u) && (m->month >= 1u) &&
                     (m->month <= 12u) && (m->date >= 1u) && (m->date <= month_days(m)) && (m->year < 100u));
}

static void take(const door_moment_t *m)
{
    now.day = door_day_number(m->year, m->month, m->date);
    now.minute = (uint16_t)((m->hour * 60u) + m->minute);
    now.second = m->second;
}

#if DOOR_CLOCK_CHIP
/* A clock that answers nonsense (a bus with a loose wire) is as good as none. */
static void read_clock(void)
{
    door_moment_t m;
    now.second = 0u;
    now.valid = (uint8_t)((door_clock_chip_read(&m) != 0u) && (possible(&m) != 0u));
    if (now.valid != 0u) { take(&m); }
    cell_low = door_clock_chip_cell_low();
}
#endif

void door_clock_start(void)
{
    asking = 0u;
    now.valid = 0u;
    now.second = 59u; /* the first second asks the clock */
    cell_low = 0u;
#if DOOR_CLOCK_CHIP
    door_clock_chip_start();
#endif
}

static void minute_over(void)
{
#if DOOR_CLOCK_CHIP
    read_clock();
#else
    now.second = 0u;
    now.minute++;
    if (now.minute >= 1440u) {
        now.minute = 0u;
        now.day++;
    }
#endif
}

/* A clock chip is asked once a minute, as its minute begins: between, the seconds say what it would say. */
uint8_t door_clock_second(door_inputs_t *in)
{
    now.second++;
    if ((now.second < 60u) && (asking == 0u) && (in->clock_set == 0u)) { return 0u; }
    in->clock_set = 0u;
    if (now.second >= 60u) { minute_over(); }
    if (asking != 0u) {
        asking = 0u;
        before = now;
        take(&asked);
        now.valid = 1u;
        in->clock_set = 1u;
    }
    in->clock_valid = now.valid;
    in->clock_day = now.day;
    in->clock_min = now.minute;
    in->clock_cell_low = cell_low;
    return 1u;
}

uint8_t door_clock_seconds(void) { return now.second; }

void door_clock_write(void)
{
#if DOOR_CLOCK_CHIP
    if (door_clock_chip_set(&asked) == 0u) { now.valid = 0u; }
#endif
}

void door_clock_forget(void) { now = before; }

static uint8_t two(const char *at)
{
    const uint8_t tens = (uint8_t)(at[0] - '0');
    const uint8_t ones = (uint8_t)(at[1] - '0');
    return (uint8_t)(((tens < 10u) && (ones < 10u)) ? (tens * 10u) + ones : 255u);
}

uint8_t door_clock_said(const char *line, uint8_t n)
{
    door_moment_t m;
    if ((n != TIME_LINE) || (line[1] != ' ') || (two(&line[2]) != 20u) || (line[6] != '-') || (line[9] != '-') ||
        (line[12] != ' ') || (line[15] != ':') || (line[18] != ':')) {
        return DOOR_SAID_WHAT;
    }
    m.year = two(&line[4]);
    m.month = two(&line[7]);
    m.date = two(&line[10]);
    m.hour = two(&line[13]);
    m.minute = two(&line[16]);
    m.second = two(&line[19]);
    if (possible(&m) == 0u) { return DOOR_SAID_WHAT; }
    asked = m;
    asking = 1u;
    return DOOR_SAID_TIME;
}
