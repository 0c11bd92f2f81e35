/* flash_sim.c - flash for door_flash.c on this computer: an erase sets all bits of a sector, a program clears bits. Each is an
 * operation; the one of number `cut_at` is cut: `torn` says which part of it is done. After it nothing is done. */
#include "door_flash.h"

#include <string.h>

#define SIZE (DOOR_FLASH_SECTORS * DOOR_FLASH_SECTOR_BYTES)

uint8_t sim_flash[SIZE];
uint32_t sim_operations, sim_erases[DOOR_FLASH_SECTORS], sim_programs, sim_set_bits;
uint32_t sim_cut_at; /* 0: never */
uint32_t sim_torn;
uint8_t sim_is_cut;

const uint8_t *flash_at(uint8_t sector) { return &sim_flash[sector * DOOR_FLASH_SECTOR_BYTES]; }

/* Bits that the operation would change and that a cut one has changed: none, all, half of the bytes, or some of all. */
static uint8_t done(uint8_t change, uint32_t at, uint32_t size)
{
    switch (sim_torn) {
    case 0: return 0u;
    case 1: return change;
    case 2: return at < size / 2u ? change : 0u;
    case 3: return at < size / 2u ? 0u : change;
    default: return (uint8_t)(change & (uint8_t)(((at + 1u) * 2654435761u * sim_torn) >> 24));
    }
}

static void operate(uint8_t *to, const uint8_t *wanted, uint32_t size)
{
    uint32_t at;
    if (sim_is_cut) { return; }
    sim_operations++;
    sim_is_cut = (uint8_t)(sim_operations == sim_cut_at);
    for (at = 0u; at < size; at++) {
        const uint8_t change = (uint8_t)(to[at] ^ wanted[at]);
        to[at] ^= sim_is_cut ? done(change, at, size) : change;
    }
}

void flash_erase(uint8_t sector)
{
    uint8_t wanted[DOOR_FLASH_SECTOR_BYTES];
    memset(wanted, 0xFF, sizeof wanted);
    sim_erases[sector]++;
    operate(&sim_flash[sector * DOOR_FLASH_SECTOR_BYTES], wanted, sizeof wanted);
}

void flash_program(uint8_t sector, uint8_t page, const uint8_t bytes[DOOR_FLASH_PAGE_BYTES])
{
    uint8_t *const to = &sim_flash[sector * DOOR_FLASH_SECTOR_BYTES + page * DOOR_FLASH_PAGE_BYTES];
    uint8_t wanted[DOOR_FLASH_PAGE_BYTES];
    uint32_t at;
    for (at = 0u; at < sizeof wanted; at++) {
        wanted[at] = (uint8_t)(to[at] & bytes[at]);
        sim_set_bits += (uint32_t)(bytes[at] != 0xFFu && (to[at] & bytes[at]) != bytes[at]); /* asks for what flash cannot do */
    }
    sim_programs++;
    operate(to, wanted, sizeof wanted);
}

/* Everything below begins from the flash as it lies. A run: `n` bytes kept, pairs of address and value, the motor resting
 * after each `rest_every`; returns how many were kept before the cut, and writes what the chip then starts with. */
void sim_reset_counts(void)
{
    sim_operations = 0u;
    sim_is_cut = 0u;
}

uint32_t sim_run(const uint16_t *addresses, const uint8_t *values, uint32_t n, uint32_t rest_every)
{
    uint32_t i;
    sim_reset_counts();
    door_flash_start();
    for (i = 0u; i < n && !sim_is_cut; i++) {
        door_flash_keep(addresses[i], values[i]);
        if (sim_is_cut) { break; }
        if (rest_every != 0u && i % rest_every == 0u) { door_flash_rest(); }
    }
    return i;
}

/* Starts twice after a cut: what the first start does to the flash must serve the second as well. */
void sim_started(uint8_t bytes[DOOR_FLASH_BYTES], uint8_t again[DOOR_FLASH_BYTES])
{
    uint16_t at;
    sim_cut_at = 0u;
    sim_reset_counts();
    door_flash_start();
    for (at = 0u; at < DOOR_FLASH_BYTES; at++) { bytes[at] = door_flash_kept(at); }
    door_flash_rest();
    door_flash_start();
    for (at = 0u; at < DOOR_FLASH_BYTES; at++) { again[at] = door_flash_kept(at); }
}
