/* sunsched_slopes.h - minutes as straight pieces, one byte each. Part of sunsched_table.h.
 *
 * Data: 16 bits, where the closing side begins, from the data's start; the opening side begins at byte 2. A side:
 * value (16 bits) and slope (8 bits) of the first day, in 1/16 minute (a day); then a byte for each piece: low
 * half the days less one, high half the change of slope (signed). A zero byte is a jump: the next day's value
 * (16 bits) and slope (8 bits) follow it.
 *
 * Departs from MISRA C:2012 in:
 *   10.1  a negative number is shifted right; sunsched_image.h refuses compilers on which that loses the sign.
 *   17.8  a parameter counts down in place of a copy of it, which saves stack.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_SLOPES_H
#define SUNSCHED_SLOPES_H

#include "sunsched_image.h"

static inline int16_t sunsched_slopes_min(const uint8_t *data, uint8_t side, uint16_t day)
{
    const uint8_t *at = data + ((side != 0u) ? sunsched_word(data) : 2u);
    int16_t value = (int16_t)sunsched_word(at);
    int8_t slope = (int8_t)SUNSCHED_READ(at + 2);
    uint8_t left = 0;
    at += 3;
    for (; day != 0u; day--) {
        if (left == 0u) {
            const uint8_t piece = SUNSCHED_READ(at);
            at++;
            if (piece == 0u) {
                value = (int16_t)sunsched_word(at);
                slope = (int8_t)SUNSCHED_READ(at + 2);
                at += 3;
                continue;
            }
            slope = (int8_t)(slope + ((int8_t)piece >> 4));
            left = (uint8_t)((piece & 15u) + 1u);
        }
        value = (int16_t)(value + slope);
        left--;
    }
    return (int16_t)(value >> 4);
}

#endif /* SUNSCHED_SLOPES_H */
