/* door_flash.h - the bytes that an AVR keeps in EEPROM, for a board that has flash alone.
 *
 * Flash is erased by sectors and its bits are only ever cleared by programs, so a byte is not written in place: each
 * change is a record of 4 bytes behind a copy of all bytes. A sector holds
 *
 *   page 0        at 0: head (mark 4 bytes, number of the sector 4, checksum of the copy 2, check 1);
 *                 at 252: zeros once the sector has been erased to its end
 *   pages 1 to 4  the copy of all DOOR_FLASH_BYTES bytes
 *   pages 5 to 15 704 records: address 2 bytes, value 1, check 1
 *
 * The sectors are used in turn. When one is full, the next, erased before, takes the copy and then its head, and serves
 * from then on: the head is the last thing written, so that a cut leaves the sector before it in use. Each check is the
 * number of zero bits before it (J. M. Berger, A note on error detection codes for asymmetric channels, 1961): a
 * program that was cut leaves bits set that should be clear, never the contrary, and so does an erase, so that no cut
 * can leave a head or record that looks whole and is not. */
#ifndef DOOR_FLASH_H
#define DOOR_FLASH_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_FLASH_BYTES 1024u
#define DOOR_FLASH_SECTORS 8u
#define DOOR_FLASH_SECTOR_BYTES 4096u
#define DOOR_FLASH_PAGE_BYTES 256u
#define DOOR_FLASH_RECORDS 704u
#define DOOR_FLASH_SPARE 192u /* records that are left when a sector is given up while the motor rests */

void door_flash_start(void);              /* finds the newest sector; bytes that were never written read as 0xFF */
uint8_t door_flash_kept(uint16_t address);
void door_flash_keep(uint16_t address, uint8_t value); /* written when this returns, one program of a page */

/* The motor rests: erases the next sector if that is still to be done, or moves on to it if this one is nearly full.
 * Erasing takes 45 to 400 ms (W25Q16JV data sheet: from memory), in which no interrupt is served, so it is done here;
 * door_flash_keep() itself erases only where 192 records have come without a rest. */
void door_flash_rest(void);

/* The board's: flash is readable as memory; a program clears bits of one page, and leaves those that are set in `bytes`. */
const uint8_t *flash_at(uint8_t sector);
void flash_erase(uint8_t sector);
void flash_program(uint8_t sector, uint8_t page, const uint8_t bytes[DOOR_FLASH_PAGE_BYTES]);

#ifdef __cplusplus
}
#endif
#endif
