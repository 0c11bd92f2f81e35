/* door_calm_trial.c - the core beside itself: a step each second, and the same with its calm seconds left out. */
#include "door_calm.h"
#include "door_trial.h"
#include <string.h>

/* The first of n seconds in which output or state differ; n if none does. *calm_s: seconds that took no step. A reset
 * stands in boots as the cause in the second after it, as trial_record() keeps it. `peek`: both states are compared
 * each second; without, the counters fall behind for as long as they may. */
int32_t calm_seconds(const door_settings_t *s, const door_inputs_t *in, const uint8_t *boots, int32_t n,
                     door_t *whole, uint8_t peek, int32_t *calm_s)
{
    door_t d = *whole, seen;
    door_calm_t calm;
    door_outputs_t out, out_whole;
    door_kept_t kept;
    int32_t i;
    memset(&out, 0, sizeof out);
    memset(&out_whole, 0, sizeof out_whole);
    door_calm_start(&calm);
    for (i = 0; i < n; i++) {
        uint8_t same = 0;
        if (boots && boots[i]) {
            door_keep(whole, &kept);
            door_boot(whole, s, &kept, boots[i]);
            door_boot(&d, s, &kept, boots[i]);
            door_calm_start(&calm);
        } else if (i > 0) {
            door_inputs_t before = in[i - 1];
            before.light_counts = in[i].light_counts;
            same = (uint8_t)(memcmp(&before, &in[i], sizeof before) == 0);
        } else { /* the first */ }
        door_step(whole, s, trial_reader, &in[i], &out_whole);
        if (same && door_calm_second(&calm, &d, in[i].light_counts)) { (*calm_s)++; }
        else { door_calm_step(&calm, &d, s, trial_reader, &in[i], &out); }
        if (memcmp(&out, &out_whole, sizeof out)) { return i; }
        if (peek) {
            door_calm_t ahead = calm;
            seen = d;
            door_calm_settle(&ahead, &seen);
            if (memcmp(&seen, whole, sizeof seen)) { return i; }
        }
    }
    door_calm_end(&calm, &d);
    return memcmp(&d, whole, sizeof d) ? n - 1 : n;
}
