/* clock_chip.c - see clock_chip.h. */
#include "clock_chip.h"

#define CONTROL 0x0Eu
#define STATUS 0x0Fu
#define REGISTERS 0x13u

static uint8_t bcd(int value) { return (uint8_t)((value / 10) << 4 | value % 10); }
static int number(uint8_t value) { return (value >> 4) * 10 + (value & 15); }

/* Days since 2000-03-01 give a calendar whose leap day comes last (common arithmetic of calendars). */
static void date_of(int64_t days, int *year, int *month, int *day)
{
    int64_t n = days - 60, era = n >= 0 ? n / 146097 : (n - 146096) / 146097;
    int64_t in_era = n - era * 146097;
    int64_t years = (in_era - in_era / 1460 + in_era / 36524 - in_era / 146096) / 365;
    int64_t in_year = in_era - (365 * years + years / 4 - years / 100);
    int64_t shifted = (5 * in_year + 2) / 153;
    *day = (int)(in_year - (153 * shifted + 2) / 5 + 1);
    *month = (int)(shifted < 10 ? shifted + 3 : shifted - 9);
    *year = (int)(2000 + era * 400 + years + (*month <= 2));
}

static int64_t days_of(int year, int month, int day)
{
    int64_t y = year - 2000 - (month <= 2), era = y >= 0 ? y / 400 : (y - 399) / 400, years = y - era * 400;
    int64_t in_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + years * 365 + years / 4 - years / 100 + in_year + 60;
}

void clock_chip_set(clock_chip *clock, int64_t seconds)
{
    clock->seconds = seconds;
    clock->status = 0;
}

void clock_chip_tick(clock_chip *clock)
{
    if (!clock->halted) { clock->seconds++; }
}

int clock_chip_pulses(const clock_chip *clock)
{
    /* oscillator on, square wave instead of alarms, rate 1 Hz */
    return !clock->halted && !clock->absent && (clock->control & 0x9Cu) == 0u;
}

static uint8_t shown(const clock_chip *clock, uint8_t at)
{
    int64_t days = clock->seconds / 86400, second = clock->seconds % 86400;
    int year, month, day;
    date_of(days, &year, &month, &day);
    switch (at) {
    case 0: return bcd((int)(second % 60));
    case 1: return bcd((int)(second / 60 % 60));
    case 2: return bcd((int)(second / 3600));
    case 3: return (uint8_t)((days + 5) % 7 + 1); /* 2000-01-01 was a Saturday */
    case 4: return bcd(day);
    case 5: return bcd(month);
    case 6: return bcd(year % 100);
    case CONTROL: return clock->control;
    case STATUS: return clock->status;
    default: return 0;
    }
}

void clock_chip_begin(clock_chip *clock, int reading)
{
    clock->pointed = (uint8_t)reading;
    clock->touched = 0;
    for (uint8_t i = 0; i < 7; i++) { clock->staged[i] = shown(clock, i); }
}

void clock_chip_put(clock_chip *clock, uint8_t value)
{
    if (!clock->pointed) {
        clock->pointer = value;
        clock->pointed = 1;
        return;
    }
    if (clock->pointer < 7) {
        clock->staged[clock->pointer] = value;
        clock->touched = 1;
    } else if (clock->pointer == CONTROL) {
        clock->control = value;
    } else if (clock->pointer == STATUS) {
        clock->status = (uint8_t)(clock->status & value);
    }
    clock->pointer = (uint8_t)((clock->pointer + 1) % REGISTERS);
}

uint8_t clock_chip_take(clock_chip *clock)
{
    uint8_t value = clock->pointer < 7 ? clock->staged[clock->pointer] : shown(clock, clock->pointer);
    clock->pointer = (uint8_t)((clock->pointer + 1) % REGISTERS);
    return value;
}

void clock_chip_end(clock_chip *clock)
{
    const uint8_t *s = clock->staged;
    if (!clock->touched) { return; }
    clock->touched = 0;
    clock->seconds = days_of(2000 + number(s[6]), number(s[5] & 0x1F), number(s[4])) * 86400 +
                     number(s[2] & 0x3F) * 3600 + number(s[1]) * 60 + number(s[0]);
}
