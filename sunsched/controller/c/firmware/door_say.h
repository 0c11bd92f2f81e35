/* door_say.h - characters, words, numbers and dates over the serial line, and the checksum that ends an answer. */
#ifndef DOOR_SAY_H
#define DOOR_SAY_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    uint16_t year;
    uint8_t month, date;
} door_date_t;

uint16_t door_crc_next(uint16_t crc, uint8_t byte); /* CRC-16, polynomial 0x1021, not reflected; begin with 0xFFFF */

void door_put(char character);
void door_put_word(const char *words, uint8_t number);     /* the number-th of words in flash, each ended by a zero */
void door_put_number(uint16_t value, uint8_t digits);      /* at least `digits` of them */
void door_put_signed(int16_t value);
void door_put_hex(uint16_t value, uint8_t digits);         /* the lowest `digits` */
void door_put_day(uint16_t day);                           /* days since 2000-01-01, as 2027-03-01 */
void door_put_time(uint16_t minute, uint8_t second);       /* minute of the day, as 17:58:41 */

void door_answer(char what);   /* "# w ", and the checksum begins */
void door_answer_end(void);    /* " ", the checksum of all since door_answer, and the line's end */

void door_date_of(uint16_t day, door_date_t *date);        /* days since 2000-01-01, to 2099 */

#ifdef __cplusplus
}
#endif
#endif
