/* door_line.c - see door_line.h. */
#include "door_line.h"

#include "door_board.h"
#include "door_clock.h"
#include "door_log.h"
#include "door_ring.h"
#include "door_rows.h"
#include "door_say.h"
#include "door_site.h"
#include "door_slots.h"
#include "door_text.h"
#include "door_writer.h"

#define LINE_SIZE 32u
#define MOST_BYTES 8u /* of a write */
#define REVISION 1u   /* of LINE.md */

enum { REFUSED_IN_USE = 1, REFUSED_ROOM = 2 };

static const char words[] DOOR_KEPT_IN_FLASH = "clock\0own_count\0light\0unproven\0proven\0flash\0none";
enum { WORD_TIME = 0, WORD_PROVEN = 3, WORD_FLASH = 5, WORD_NONE = 6 };
static const char program[] DOOR_KEPT_IN_FLASH = DOOR_PROGRAM;
static const char digest[] DOOR_KEPT_IN_FLASH = DOOR_PLAN;

static char line[LINE_SIZE];
static uint8_t n;             /* characters of the line so far; LINE_SIZE: too long */
static char waits;            /* the letter of a line whose bytes are being written; 0: none */
static uint8_t slot;          /* its slot */
static uint16_t begin, number; /* where its bytes begin and end; its generation */

void door_line_start(void)
{
    n = 0u;
    waits = 0;
}

static uint8_t digit(char c)
{
    if ((c >= '0') && (c <= '9')) { return (uint8_t)(c - '0'); }
    return (uint8_t)(((c >= 'a') && (c <= 'f')) ? (c - 'a' + 10) : 255);
}

/* `digits` hex digits from a place on, in *value; 0 if they are not. */
static uint8_t hex(uint8_t at, uint8_t digits, uint16_t *value)
{
    *value = 0u;
    for (; digits != 0u; digits--) {
        const uint8_t d = digit(line[at]);
        if (d > 15u) { return 0u; }
        *value = (uint16_t)((uint16_t)(*value << 4) | d);
        at++;
    }
    return 1u;
}

static uint8_t whole(void)
{
    uint16_t said, crc = 0xFFFFu;
    uint8_t i;
    if ((n < 6u) || (n >= LINE_SIZE) || (hex((uint8_t)(n - 4u), 4u, &said) == 0u)) { return 0u; }
    for (i = 0u; i < (uint8_t)(n - 4u); i++) { crc = door_crc_next(crc, (uint8_t)line[i]); }
    return (uint8_t)(crc == said);
}

static uint8_t refused(uint8_t why)
{
    door_answer('!');
    door_put_number(why, 1u);
    door_answer_end();
    return DOOR_SAID_DONE;
}

static void put_field(uint16_t value, uint8_t digits) /* hex, and a blank behind it */
{
    door_put_hex(value, digits);
    door_put(' ');
}

/* The slot that serves today; while no day is known, the newest. */
static uint8_t in_use(const door_view_t *view)
{
    uint8_t serving;
    if ((view->door->known == 0u) && (view->door->estimated == 0u)) { return door_slot_newest(); }
    serving = door_rows_serving(view->door->own_day);
    return (uint8_t)((serving < DOOR_SLOTS) ? serving : DOOR_NO_SLOT);
}

static uint8_t write(uint16_t at, const door_view_t *view)
{
    uint8_t bytes[MOST_BYTES];
    uint16_t value;
    uint8_t i;
    const uint8_t count = (uint8_t)((n - 9u) / 2u);
    if ((n < 11u) || (((n - 9u) & 1u) != 0u) || (count > MOST_BYTES)) { return DOOR_SAID_WHAT; }
    for (i = 0u; i < count; i++) {
        if (hex((uint8_t)(5u + (2u * i)), 2u, &value) == 0u) { return DOOR_SAID_WHAT; }
        bytes[i] = (uint8_t)value;
    }
    begin = at;
    number = (uint16_t)(at + count);
    if (number > DOOR_IMAGE_ROOM) { return refused(REFUSED_ROOM); }
    if (in_use(view) == slot) { return refused(REFUSED_IN_USE); }
    door_slot_void(slot);
    for (i = 0u; i < count; i++) { door_writer_add((uint16_t)(door_slot_address(slot) + at + i), bytes[i]); }
    waits = 'w';
    return DOOR_SAID_DONE;
}

static uint8_t commit(uint16_t length, const door_view_t *view)
{
    const door_slot_t *s = door_slot(slot);
    uint16_t crc;
    uint8_t why;
    if ((n != 13u) || (hex(5u, 4u, &crc) == 0u)) { return DOOR_SAID_WHAT; }
    if ((s->generation != 0u) && (s->length == length) && (s->crc == crc)) { /* said once more */
        number = s->generation;
        waits = 'C';
        return DOOR_SAID_DONE;
    }
    if (in_use(view) == slot) { return refused(REFUSED_IN_USE); }
    why = door_slot_refusal(slot, length, crc);
    if (why != 0u) { return refused(why); }
    number = door_slot_commit(slot, crc);
    waits = 'c';
    return DOOR_SAID_DONE;
}

static uint8_t read_bytes(uint16_t at)
{
    uint8_t i;
    if ((n != 9u) || ((at + MOST_BYTES) > DOOR_SLOT_SIZE)) { return DOOR_SAID_WHAT; }
    door_answer('r');
    put_field(slot, 1u);
    put_field(at, 3u);
    for (i = 0u; i < MOST_BYTES; i++) { door_put_hex(board_kept((uint16_t)(door_slot_address(slot) + at + i)), 2u); }
    door_answer_end();
    return DOOR_SAID_DONE;
}

static uint8_t ask(uint16_t length)
{
    if ((n != 9u) || (length > DOOR_IMAGE_ROOM)) { return DOOR_SAID_WHAT; }
    door_answer('a');
    put_field(slot, 1u);
    put_field(length, 3u);
    door_put_hex(door_slot_crc(slot, length), 4u);
    door_answer_end();
    return DOOR_SAID_DONE;
}

static uint8_t event(uint8_t place)
{
    uint8_t bytes[DOOR_EVENT_BYTES];
    uint8_t i;
    if ((n != 7u) || (place >= DOOR_RING_PLACES)) { return DOOR_SAID_WHAT; }
    door_answer('e');
    put_field(place, 2u);
    if (door_ring_whole(place, bytes) != 0u) {
        for (i = 0u; i < DOOR_EVENT_BYTES; i++) { door_put_hex(bytes[i], 2u); }
    } else {
        door_put('-');
    }
    door_answer_end();
    return DOOR_SAID_DONE;
}

static uint8_t forget(void)
{
    door_slot_void(slot);
    waits = 'f';
    return DOOR_SAID_DONE;
}

static void put_years(uint16_t first, uint16_t last)
{
    door_put_number(first, 4u);
    door_put(' ');
    door_put_number(last, 4u);
    door_put(' ');
}

static void identify_slot(uint8_t which)
{
    const door_slot_t *s = door_slot(which);
    if (s->generation == 0u) {
        door_put('-');
        return;
    }
    put_years(s->first_year, s->last_year);
    put_field(s->crc, 4u);
    put_field(s->length, 3u);
    door_put_number(s->generation, 1u);
}

static void identify_time(const door_view_t *view)
{
    const uint8_t serving = (uint8_t)((view->out->time == DOOR_BY_LIGHT) ? DOOR_BY_NO_TABLE : door_rows_serving(view->out->own_day));
    if (view->out->time == DOOR_BY_LIGHT) {
        door_put('-');
        door_put(' ');
        door_put('-');
    } else {
        const uint8_t by_clock = (uint8_t)(view->out->time == DOOR_BY_CLOCK);
        door_put_day((by_clock != 0u) ? view->in->clock_day : view->out->own_day);
        door_put(' ');
        door_put_time((by_clock != 0u) ? view->in->clock_min : view->out->own_min,
                      (by_clock != 0u) ? door_clock_seconds() : view->door->second);
    }
    door_put(' ');
    door_put_word(words, (uint8_t)(WORD_TIME + view->out->time));
    door_put(' ');
    door_put_word(words, (uint8_t)(WORD_PROVEN + view->door->proven));
    door_put(' ');
    if (serving < DOOR_SLOTS) {
        door_put_number(serving, 1u);
    } else {
        door_put_word(words, (uint8_t)((serving == DOOR_BY_FLASH) ? WORD_FLASH : WORD_NONE));
    }
}

static void identify_resets(const door_t *d)
{
    const uint8_t told[6] = {d->power_ups, d->brown_outs, d->hangs, d->buttons, d->starts_lost, d->glitches};
    uint8_t i;
    for (i = 0u; i < 6u; i++) {
        if (i != 0u) { door_put(' '); }
        door_put_number(told[i], 1u);
    }
}

static uint8_t identify(char what, const door_view_t *view)
{
    if ((n != 6u) || (what < '0') || (what > '9')) { return DOOR_SAID_WHAT; }
    door_answer('i');
    door_put(what);
    door_put(' ');
    switch (what) {
    case '0':
        door_put_number(REVISION, 1u);
        door_put(' ');
        door_put_word(program, 0u);
        door_put(' ');
        door_put_number(DOOR_IMAGE_ROOM, 1u);
        door_put(' ');
        door_put_number(DOOR_RING_PLACES, 1u);
        break;
    case '1': door_log_site(); break;
    case '2':
        door_put_signed(door_rows_setting(0u));
        door_put(' ');
        door_put_signed(door_rows_setting(1u));
        door_put(' ');
        door_put_signed(door_rows_offset_min());
        break;
    case '3':
        put_years(door_rows_first_year(), door_rows_last_year());
        put_field(door_rows_crc(), 4u);
        door_put_word(digest, 0u);
        break;
    case '4': identify_slot(0u); break;
    case '5': identify_slot(1u); break;
    case '6': identify_time(view); break;
    case '7': door_log_state(view->in, view->out); break;
    case '8': identify_resets(view->door); break;
    default: door_put_number(door_ring_next(), 1u); break;
    }
    door_answer_end();
    return DOOR_SAID_DONE;
}

/* A line for a program: whole, but its fields not yet judged. */
static uint8_t asked(const door_view_t *view)
{
    uint16_t at, s;
    if (line[0] == 'i') { return identify(line[1], view); }
    if (line[0] == 'e') { return (uint8_t)((hex(1u, 2u, &at) != 0u) ? event((uint8_t)at) : DOOR_SAID_WHAT); }
    if ((hex(1u, 1u, &s) == 0u) || (s >= DOOR_SLOTS)) { return DOOR_SAID_WHAT; }
    slot = (uint8_t)s;
    if (line[0] == 'f') { return (uint8_t)((n == 6u) ? forget() : DOOR_SAID_WHAT); }
    if ((n < 9u) || (hex(2u, 3u, &at) == 0u)) { return DOOR_SAID_WHAT; }
    switch (line[0]) {
    case 'a': return ask(at);
    case 'r': return read_bytes(at);
    case 'w': return write(at, view);
    case 'c': return commit(at, view);
    default: return DOOR_SAID_WHAT;
    }
}

static uint8_t said(const door_view_t *view)
{
    if (n == 0u) { return DOOR_SAID_NOTHING; }
    if ((n == 1u) && (line[0] == 's')) { return DOOR_SAID_SHOW; }
    if ((n == 1u) && (line[0] == 'v')) { return DOOR_SAID_HEAD; }
    if (line[0] == 't') { return door_clock_said(line, n); }
    return (uint8_t)((whole() != 0u) ? asked(view) : DOOR_SAID_WHAT);
}

uint8_t door_line_take(const door_view_t *view)
{
    uint8_t what = DOOR_SAID_MORE;
    int16_t character;
    while (what == DOOR_SAID_MORE) {
        character = board_take();
        if (character < 0) { break; }
        if ((character == '\r') || (character == '\n')) {
            what = said(view);
            n = 0u;
        } else if (n < LINE_SIZE) {
            line[n] = (char)character;
            n++;
        } else {
            /* too long to be ours: what is kept already will not be understood */
        }
    }
    return what;
}

uint8_t door_line_waits(void) { return (uint8_t)(waits != 0); }

uint8_t door_line_written(void)
{
    const char what = waits;
    waits = 0;
    if (what == 0) { return 0u; }
    if (what == 'c') { door_slots_again(); }
    door_answer((what == 'C') ? 'c' : what);
    if (what == 'w') {
        put_field(slot, 1u);
        put_field(begin, 3u);
        door_put_hex(door_slot_crc(slot, number), 4u);
    } else if (what == 'f') {
        door_put_hex(slot, 1u);
    } else {
        put_field(slot, 1u);
        door_put_hex(number, 2u);
    }
    door_answer_end();
    return (uint8_t)((what == 'c') || (what == 'f'));
}
