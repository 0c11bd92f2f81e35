/* sunsched_blocks.h - minutes as packed differences from day to day. Part of sunsched_table.h.
 *
 * Data: 16 bits, where the closing side begins, from the data's start; the opening side begins at byte 2. A side:
 * the first day's minute (16 bits), then for every 16 days a head and 16 differences. Head: low half the width of
 * a difference in bits (15 means 16), high half what is added to each (signed; of widths above 4 it is shifted left
 * by width - 4). Differences lie low bit first.
 *
 * Departs from MISRA C:2012 in:
 *   12.1  a choice in parentheses, in a shift, which cppcheck does not see as parenthesized.
 *   17.8  a parameter counts down in place of a copy of it, which saves stack.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_BLOCKS_H
#define SUNSCHED_BLOCKS_H

#include "sunsched_image.h"

static inline int16_t sunsched_blocks_min(const uint8_t *data, uint8_t side, uint16_t day)
{
    const uint8_t *at = data + ((side != 0u) ? sunsched_word(data) : 2u);
    unsigned int minute = sunsched_word(at);
    at += 2;
    while (day != 0u) {
        const unsigned int head = SUNSCHED_READ(at);
        const uint8_t width = (uint8_t)(((head & 15u) == 15u) ? 16u : (head & 15u));
        const unsigned int least = (((head >> 4) ^ 8u) - 8u) << ((width > 4u) ? (width - 4u) : 0u);
        uint8_t left = 16;
        uint8_t bits = 0;
        uint8_t bits_left = 0;
        at++;
        for (; (left != 0u) && (day != 0u); left--) {
            unsigned int unit = 1;
            uint8_t n;
            for (n = 0; n < width; n++) {
                if (bits_left == 0u) {
                    bits = SUNSCHED_READ(at);
                    at++;
                    bits_left = 8;
                }
                if ((bits & 1u) != 0u) {
                    minute += unit;
                }
                bits = (uint8_t)(bits >> 1);
                bits_left--;
                unit <<= 1;
            }
            minute += least;
            day--;
        }
    }
    return (int16_t)(uint16_t)minute;
}

#endif /* SUNSCHED_BLOCKS_H */
