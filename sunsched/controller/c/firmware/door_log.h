/* door_log.h - lines for the keeper over the serial line; LOG.md describes them. */
#ifndef DOOR_LOG_H
#define DOOR_LOG_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { DOOR_LOG_START = 0, DOOR_LOG_QUARTER, DOOR_LOG_MOVE, DOOR_LOG_ENDED, DOOR_LOG_ALARM, DOOR_LOG_CLOCK,
       DOOR_LOG_TABLE };
enum { DOOR_REMARK_READY = 0, DOOR_REMARK_SURE, DOOR_REMARK_WHAT, DOOR_REMARK_EXPIRED, DOOR_REMARK_NOT_BEGUN };

void door_log_head(void);
void door_log_line(uint8_t event, const door_inputs_t *in, const door_outputs_t *out, uint8_t second);
void door_log_state(const door_inputs_t *in, const door_outputs_t *out); /* door, move, reason, counts, alarms */
void door_log_site(void);
void door_log_remark(uint8_t remark);
void door_log_renew(const door_outputs_t *out); /* a remark while no table serves the day */

#ifdef __cplusplus
}
#endif
#endif
