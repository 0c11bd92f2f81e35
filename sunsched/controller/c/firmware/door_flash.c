/* door_flash.c - see door_flash.h. */
#include "door_flash.h"

#define HEAD_BYTES 10u /* what the head's check counts */
#define CLEAN_AT 252u
#define COPY_PAGES 4u
#define RECORDS_AT ((1u + COPY_PAGES) * DOOR_FLASH_PAGE_BYTES)
#define RECORD_BYTES 4u
#define NO_SECTOR 0xFFu

static const uint8_t mark[4] = {0x44u, 0x4Fu, 0x4Fu, 0x52u};
static uint8_t bytes_now[DOOR_FLASH_BYTES];
static uint8_t page_now[DOOR_FLASH_PAGE_BYTES];
static uint32_t number_now;
static uint16_t records; /* places used in the sector that serves, whole or cut */
static uint8_t serving, next_is_clean;

static uint8_t zeros(const uint8_t *at, uint8_t n)
{
    uint8_t found = 0u;
    uint8_t i, bit;
    for (i = 0u; i < n; i++) {
        for (bit = 0u; bit < 8u; bit++) { found = (uint8_t)(found + (((at[i] >> bit) & 1u) ^ 1u)); }
    }
    return found;
}

static uint16_t sum_of(const uint8_t *at) /* CRC-16 of a copy: polynomial 0x1021, start 0xFFFF */
{
    uint16_t crc = 0xFFFFu, i;
    uint8_t bit;
    for (i = 0u; i < DOOR_FLASH_BYTES; i++) {
        crc = (uint16_t)(crc ^ (uint16_t)(at[i] << 8));
        for (bit = 0u; bit < 8u; bit++) { crc = (uint16_t)(((crc & 0x8000u) != 0u) ? ((uint32_t)crc << 1) ^ 0x1021u : (uint32_t)crc << 1); }
    }
    return crc;
}

static uint32_t number_of(const uint8_t *head)
{
    return (uint32_t)head[4] | ((uint32_t)head[5] << 8) | ((uint32_t)head[6] << 16) | ((uint32_t)head[7] << 24);
}

static uint8_t whole(uint8_t sector)
{
    const uint8_t *const head = flash_at(sector);
    const uint16_t sum = (uint16_t)(head[8] | ((uint16_t)head[9] << 8));
    uint8_t i;
    for (i = 0u; i < 4u; i++) {
        if (head[i] != mark[i]) { return 0u; }
    }
    return (uint8_t)((head[10] == zeros(head, HEAD_BYTES)) && (sum == sum_of(head + DOOR_FLASH_PAGE_BYTES)));
}

/* Erased to its end, and nothing written since: an erase that was cut has no zeros at the end of page 0. */
static uint8_t clean(uint8_t sector)
{
    const uint8_t *const at = flash_at(sector);
    uint16_t i;
    for (i = 0u; i < DOOR_FLASH_SECTOR_BYTES; i++) {
        const uint8_t wanted = ((i >= CLEAN_AT) && (i < DOOR_FLASH_PAGE_BYTES)) ? 0u : 0xFFu;
        if (at[i] != wanted) { return 0u; }
    }
    return 1u;
}

static void blank_page(void)
{
    uint16_t i;
    for (i = 0u; i < DOOR_FLASH_PAGE_BYTES; i++) { page_now[i] = 0xFFu; }
}

static uint8_t after(uint8_t sector) { return (uint8_t)((sector + 1u) % DOOR_FLASH_SECTORS); }

static void erase_next(void)
{
    const uint8_t next = after(serving);
    uint16_t i;
    flash_erase(next);
    blank_page();
    for (i = CLEAN_AT; i < DOOR_FLASH_PAGE_BYTES; i++) { page_now[i] = 0u; }
    flash_program(next, 0u, page_now);
    next_is_clean = 1u;
}

static void move_on(void)
{
    const uint8_t next = after(serving);
    const uint16_t sum = sum_of(bytes_now);
    uint8_t i;
    if (next_is_clean == 0u) { erase_next(); }
    for (i = 0u; i < COPY_PAGES; i++) { flash_program(next, (uint8_t)(i + 1u), &bytes_now[i * DOOR_FLASH_PAGE_BYTES]); }
    number_now++;
    blank_page();
    for (i = 0u; i < 4u; i++) {
        page_now[i] = mark[i];
        page_now[i + 4u] = (uint8_t)((number_now >> (8u * i)) & 0xFFu);
    }
    page_now[8] = (uint8_t)(sum & 0xFFu);
    page_now[9] = (uint8_t)(sum >> 8);
    page_now[10] = zeros(page_now, HEAD_BYTES);
    flash_program(next, 0u, page_now);
    serving = next;
    records = 0u;
    next_is_clean = 0u;
}

/* Records one after another; one that was cut is passed over, and the first place that was never begun ends them. */
static void take_records(void)
{
    const uint8_t *at = flash_at(serving) + RECORDS_AT;
    for (records = 0u; records < DOOR_FLASH_RECORDS; records++, at += RECORD_BYTES) {
        const uint16_t address = (uint16_t)(at[0] | ((uint16_t)at[1] << 8));
        if ((at[0] & at[1] & at[2] & at[3]) == 0xFFu) { return; }
        if ((at[3] == zeros(at, 3u)) && (address < DOOR_FLASH_BYTES)) { bytes_now[address] = at[2]; }
    }
}

void door_flash_start(void)
{
    uint16_t i;
    uint8_t sector;
    serving = NO_SECTOR;
    number_now = 0u;
    for (sector = 0u; sector < DOOR_FLASH_SECTORS; sector++) {
        if ((whole(sector) != 0u) && ((serving == NO_SECTOR) || (number_of(flash_at(sector)) > number_now))) {
            serving = sector;
            number_now = number_of(flash_at(sector));
        }
    }
    for (i = 0u; i < DOOR_FLASH_BYTES; i++) {
        bytes_now[i] = (serving == NO_SECTOR) ? 0xFFu : flash_at(serving)[DOOR_FLASH_PAGE_BYTES + i];
    }
    if (serving == NO_SECTOR) { /* a new chip */
        serving = DOOR_FLASH_SECTORS - 1u;
        records = DOOR_FLASH_RECORDS;
        next_is_clean = clean(0u);
        move_on();
    } else {
        take_records();
    }
    next_is_clean = clean(after(serving));
}

uint8_t door_flash_kept(uint16_t address) { return bytes_now[address]; }

void door_flash_keep(uint16_t address, uint8_t value)
{
    const uint16_t at = (uint16_t)(RECORDS_AT + (records * RECORD_BYTES));
    uint8_t *const record = &page_now[at % DOOR_FLASH_PAGE_BYTES];
    if (bytes_now[address] == value) { return; }
    bytes_now[address] = value;
    if (records >= DOOR_FLASH_RECORDS) {
        move_on(); /* its copy has the new value */
        return;
    }
    blank_page();
    record[0] = (uint8_t)(address & 0xFFu);
    record[1] = (uint8_t)(address >> 8);
    record[2] = value;
    record[3] = zeros(record, 3u);
    flash_program(serving, (uint8_t)(at / DOOR_FLASH_PAGE_BYTES), page_now);
    records++;
}

void door_flash_rest(void)
{
    if (next_is_clean == 0u) {
        erase_next();
    } else if ((uint16_t)(records + DOOR_FLASH_SPARE) >= DOOR_FLASH_RECORDS) {
        move_on();
    } else {
        /* nothing to do */
    }
}
