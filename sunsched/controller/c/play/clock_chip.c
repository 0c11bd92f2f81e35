/* clock_chip.c - see clock_chip.h. */
#include "clock_chip.h"

/* Where the time begins, how many registers the pointer runs through, which of the seven is the date and the weekday. */
typedef struct { uint8_t address, time_at, registers, date, weekday; } map_t;
static const map_t maps[4] = {
    {0xD0u, 0x00u, 0x13u, 4u, 3u},
    {0xD0u, 0x00u, 0x40u, 4u, 3u},
    {0xD0u, 0x03u, 0x14u, 3u, 4u},
    {0xA2u, 0x02u, 0x10u, 3u, 4u},
};

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

static const map_t *map_of(const clock_chip *clock) { return &maps[clock->kind]; }

uint8_t clock_chip_address(const clock_chip *clock) { return map_of(clock)->address; }

void clock_chip_power_up(clock_chip *clock, uint8_t kind)
{
    clock->kind = kind;
    for (int i = 0; i < CLOCK_CHIP_REGISTERS; i++) { clock->other[i] = 0; }
    if (kind == CLOCK_CHIP_DS3231) { clock->other[0x0E] = 0x1Cu; }      /* interrupts instead of a square wave */
    if (kind == CLOCK_CHIP_DS1307) { clock->other[0x07] = 0x03u; }      /* no square wave */
    if (kind == CLOCK_CHIP_PCF8523) { clock->other[0x02] = 0xE0u; }     /* no switch to the backup cell; 32 kHz out */
    if (kind == CLOCK_CHIP_PCF8563) { clock->other[0x0D] = 0x80u; }     /* 32 kHz out */
}

void clock_chip_set(clock_chip *clock, int64_t seconds)
{
    clock->seconds = seconds;
    clock->stopped = 0;
}

static int runs(const clock_chip *clock)
{
    if (clock->halted || (clock->kind == CLOCK_CHIP_DS1307 && clock->stopped)) { return 0; }
    return clock->kind < CLOCK_CHIP_PCF8523 || !(clock->other[0] & 0x20u);      /* STOP */
}

void clock_chip_tick(clock_chip *clock)
{
    if (runs(clock)) { clock->seconds++; }
}

int clock_chip_pulses(const clock_chip *clock)
{
    const uint8_t *r = clock->other;
    if (!runs(clock) || clock->absent) { return 0; }
    switch (clock->kind) {
    case CLOCK_CHIP_DS3231: return (r[0x0E] & 0x9Cu) == 0u;     /* oscillator on, square wave, rate 1 Hz */
    case CLOCK_CHIP_DS1307: return (r[0x07] & 0x13u) == 0x10u;  /* SQWE 1, RS1 RS0 00 */
    case CLOCK_CHIP_PCF8523: return (r[0x0F] & 0x38u) == 0x30u; /* COF 110 */
    default: return (r[0x0D] & 0x83u) == 0x83u;                 /* FE 1, FD 11 */
    }
}

static uint8_t time_register(const clock_chip *clock, uint8_t i)
{
    int64_t days = clock->seconds / 86400, second = clock->seconds % 86400;
    int year, month, day;
    date_of(days, &year, &month, &day);
    if (i == map_of(clock)->date) { return bcd(day); }
    if (i == map_of(clock)->weekday) { return (uint8_t)((days + 5) % 7 + 1); } /* 2000-01-01 was a Saturday */
    switch (i) {
    case 0: return (uint8_t)(bcd((int)(second % 60)) | (clock->kind != CLOCK_CHIP_DS3231 && clock->stopped ? 0x80u : 0u));
    case 1: return bcd((int)(second / 60 % 60));
    case 2: return bcd((int)(second / 3600));
    case 5: return bcd(month);
    default: return bcd(year % 100);
    }
}

static uint8_t other_register(const clock_chip *clock, uint8_t at)
{
    uint8_t value = clock->other[at];
    if (clock->kind == CLOCK_CHIP_DS3231 && at == 0x0Fu) { value = (uint8_t)(clock->stopped ? 0x80u : 0u); }
    if (clock->kind == CLOCK_CHIP_PCF8523 && at == 0x02u) { value = (uint8_t)((value & ~0x04u) | (clock->cell_low ? 0x04u : 0u)); }
    return value;
}

void clock_chip_begin(clock_chip *clock, int reading)
{
    clock->pointed = (uint8_t)reading;
    clock->touched = 0;
    for (uint8_t i = 0; i < 7; i++) { clock->staged[i] = time_register(clock, i); }
}

static uint8_t of_the_time(const clock_chip *clock) { return (uint8_t)(clock->pointer - map_of(clock)->time_at); }

void clock_chip_put(clock_chip *clock, uint8_t value)
{
    if (!clock->pointed) {
        clock->pointer = (uint8_t)(value % map_of(clock)->registers);
        clock->pointed = 1;
        return;
    }
    if (of_the_time(clock) < 7) {
        clock->staged[of_the_time(clock)] = value;
        clock->touched |= (uint8_t)(1u << of_the_time(clock));
    } else if (clock->kind == CLOCK_CHIP_DS3231 && clock->pointer == 0x0Fu) {
        if (!(value & 0x80u)) { clock->stopped = 0; }   /* the mark can be cleared, not set */
    } else {
        clock->other[clock->pointer] = value;
    }
    clock->pointer = (uint8_t)((clock->pointer + 1) % map_of(clock)->registers);
}

uint8_t clock_chip_take(clock_chip *clock)
{
    uint8_t value = of_the_time(clock) < 7 ? clock->staged[of_the_time(clock)] : other_register(clock, clock->pointer);
    clock->pointer = (uint8_t)((clock->pointer + 1) % map_of(clock)->registers);
    return value;
}

void clock_chip_end(clock_chip *clock)
{
    const uint8_t *s = clock->staged;
    if (!clock->touched) { return; }
    if ((clock->touched & 1u) && clock->kind != CLOCK_CHIP_DS3231) { clock->stopped = s[0] >> 7; }
    clock->touched = 0;
    clock->seconds = days_of(2000 + number(s[6]), number(s[5] & 0x1F), number(s[map_of(clock)->date] & 0x3F)) * 86400 +
                     number(s[2] & 0x3F) * 3600 + number(s[1] & 0x7F) * 60 + number(s[0] & 0x7F);
}
