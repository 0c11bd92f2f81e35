/* play_clocks.c - door_clock.h for any site: each call goes to the program's clock files as built for the site's kind. */
#include "door_clock.h"

#include "play_site.h"

#define PLAY_DECLARE(kind) \
    void door_clock_start_##kind(void); \
    uint8_t door_clock_second_##kind(door_inputs_t *in); \
    uint8_t door_clock_seconds_##kind(void); \
    void door_clock_write_##kind(void); \
    void door_clock_forget_##kind(void); \
    uint8_t door_clock_said_##kind(const char *line, uint8_t n);
PLAY_DECLARE(0)
PLAY_DECLARE(1)
PLAY_DECLARE(2)
PLAY_DECLARE(3)
PLAY_DECLARE(4)

typedef struct {
    void (*start)(void);
    uint8_t (*second)(door_inputs_t *in);
    uint8_t (*seconds)(void);
    void (*write)(void);
    void (*forget)(void);
    uint8_t (*said)(const char *line, uint8_t n);
} play_clock_t;

#define PLAY_ROW(kind) \
    {door_clock_start_##kind, door_clock_second_##kind, door_clock_seconds_##kind, \
     door_clock_write_##kind, door_clock_forget_##kind, door_clock_said_##kind}
static const play_clock_t clocks[PLAY_CLOCKS] = {PLAY_ROW(0), PLAY_ROW(1), PLAY_ROW(2), PLAY_ROW(3), PLAY_ROW(4)};

static const play_clock_t *fitted(void) { return &clocks[play_site.clock]; }

void door_clock_start(void) { fitted()->start(); }
uint8_t door_clock_second(door_inputs_t *in) { return fitted()->second(in); }
uint8_t door_clock_seconds(void) { return fitted()->seconds(); }
void door_clock_write(void) { fitted()->write(); }
void door_clock_forget(void) { fitted()->forget(); }
uint8_t door_clock_said(const char *line, uint8_t n) { return fitted()->said(line, n); }
