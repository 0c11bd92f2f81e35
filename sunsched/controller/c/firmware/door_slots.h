/* door_slots.h - two places for a table in EEPROM, so that the one in use is never written: LINE.md. */
#ifndef DOOR_SLOTS_H
#define DOOR_SLOTS_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_SLOTS 2u
#define DOOR_NO_SLOT 255u

typedef struct {
    uint16_t first_year, last_year, length, crc;
    uint8_t generation; /* 0: the slot serves nothing */
} door_slot_t;

void door_slots_start(int16_t offset_min);  /* reads both records; images for another offset are not served */
void door_slots_again(void);                /* after a record has been written */
const door_slot_t *door_slot(uint8_t slot);
uint16_t door_slot_address(uint8_t slot);
uint8_t door_slot_of_year(uint16_t year);   /* the newest that covers it, or DOOR_NO_SLOT */
uint8_t door_slot_newest(void);

/* What a commit of `length` bytes with this checksum would come to: 0 it can be, or the refusal of LINE.md. */
uint8_t door_slot_refusal(uint8_t slot, uint16_t length, uint16_t crc);
uint8_t door_slot_commit(uint8_t slot, uint16_t crc); /* hands the record to the writer; the new generation */
void door_slot_void(uint8_t slot);                    /* hands to the writer what takes it out of use, if need be */

uint16_t door_slot_crc(uint8_t slot, uint16_t length); /* of the slot's first bytes */

#ifdef __cplusplus
}
#endif
#endif
