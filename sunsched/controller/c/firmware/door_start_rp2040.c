/* door_start_rp2040.c - what an RP2040 runs before main(), and how it writes its flash.
 *
 * The boot ROM copies the first 256 bytes of flash to RAM, checks their CRC-32 and runs them: the second stage, which
 * makes flash readable as memory by the command 03h, which every flash chip has, and starts the program by the vectors
 * behind it. It serves again after each write, called then. RP2040 data sheet (Raspberry Pi), 2.7, 2.8.1, 2.8.3 and 4.10. */
#include "door_flash.h"
#include "door_rp2040.h"

#define FLASH_AT 0x10000000ul
#define KEPT_AT (0x200000ul - (DOOR_FLASH_SECTORS * DOOR_FLASH_SECTOR_BYTES)) /* the end of 2 MB */

int main(void);
void board_first(void);
void irq_pins(void);
void irq_pulse_alarm(void);
void irq_drive_alarm(void);
void irq_serial(void);
void start(void);

__asm__(".section .boot2, \"ax\", %progbits\n"
        ".syntax unified\n"
        ".thumb\n"
        "push {lr}\n"
        "ldr r3, =0x18000000\n" /* SSI */
        "movs r1, #0\n"
        "str r1, [r3, #0x08]\n" /* off */
        "movs r1, #2\n"
        "str r1, [r3, #0x14]\n" /* half the system clock */
        "ldr r1, =0x001F0300\n"
        "str r1, [r3, #0x00]\n" /* words of 32 bits, a command and then reading */
        "movs r1, #0\n"
        "str r1, [r3, #0x04]\n" /* one word a reading */
        "ldr r1, =0x03000218\n"
        "ldr r0, =0x180000F4\n"
        "str r1, [r0]\n" /* command 03h of 8 bits, address of 24 bits */
        "movs r1, #1\n"
        "str r1, [r3, #0x08]\n" /* on */
        "pop {r0}\n"
        "cmp r0, #0\n"
        "beq 1f\n"
        "bx r0\n" /* called after a write */
        "1: ldr r0, =0x10000100\n"
        "ldr r1, =0xE000ED08\n" /* VTOR */
        "str r0, [r1]\n"
        "ldmia r0, {r0, r1}\n"
        "msr msp, r0\n"
        "bx r1\n"
        ".align 2\n"
        ".ltorg\n"
        ".previous\n");
/* CRC-32 of the 252 bytes, polynomial 0x04C11DB7, start 0xFFFFFFFF, neither reflected nor inverted. */
__attribute__((section(".boot2_crc"), used)) const uint32_t door_boot2_crc = 0xB1733719ul;

extern uint32_t door_data[], door_data_end[], door_bss[], door_bss_end[], door_stack[];
extern const uint32_t door_data_kept[];

static void stop(void)
{
    for (;;) { /* the watchdog resets */ }
}

typedef void (*vector)(void);
extern const vector door_vectors[16 + 26];
__attribute__((section(".vectors"), used)) const vector door_vectors[16 + 26] = {
    (vector)(uintptr_t)door_stack, start, stop, stop, 0, 0, 0, 0, 0, 0, 0, stop, 0, 0, stop, stop,
    irq_pulse_alarm, irq_drive_alarm, stop, stop, stop, stop, stop, stop, stop, stop, stop, stop, stop,
    irq_pins, stop, stop, stop, stop, stop, stop, irq_serial,
};

void start(void)
{
    const uint32_t *from = door_data_kept;
    uint32_t *to;
    board_first();
    for (to = door_data; to < door_data_end; to++) { *to = *from++; }
    for (to = door_bss; to < door_bss_end; to++) { *to = 0u; }
    (void)main();
    stop();
}

/* Functions of the boot ROM, by two letters. */
#define ROM_CODE(a, b) ((uint32_t)(a) | ((uint32_t)(b) << 8))
typedef uintptr_t (*look_up)(const uint16_t *table, uint32_t code);
typedef void (*plain)(void);
typedef void (*erase)(uint32_t offset, uint32_t count, uint32_t block, uint8_t command);
typedef void (*program)(uint32_t offset, const uint8_t *data, uint32_t count);

static uintptr_t rom(uint32_t code)
{
    volatile uint32_t zero = 0u; /* the ROM lies at address 0, which a compiler takes for nothing */
    const uint16_t table = *(const volatile uint16_t *)(uintptr_t)(zero + 0x14u);
    const uint16_t finder = *(const volatile uint16_t *)(uintptr_t)(zero + 0x18u);
    return ((look_up)(uintptr_t)finder)((const uint16_t *)(uintptr_t)table, code);
}

/* While flash is written nothing can be read from it: the code stands in RAM, and so does the second stage's copy. */
static uint32_t second_stage[64];

static __attribute__((section(".ram_code"), noinline)) void written(
    plain connect, plain leave, erase erased, program programmed, plain flush, uint32_t offset, const uint8_t *bytes)
{
    connect();
    leave();
    if (bytes == 0) { erased(offset, DOOR_FLASH_SECTOR_BYTES, 65536u, 0xD8u); }
    if (bytes != 0) { programmed(offset, bytes, DOOR_FLASH_PAGE_BYTES); }
    flush();
    ((plain)((uintptr_t)second_stage | 1u))();
}

static void change(uint32_t offset, const uint8_t *bytes)
{
    uint32_t before, i;
    for (i = 0u; i < 64u; i++) { second_stage[i] = *(const volatile uint32_t *)(uintptr_t)(FLASH_AT + (4u * i)); }
    __asm__ volatile("mrs %0, primask\n cpsid i" : "=r"(before)::"memory");
    written((plain)rom(ROM_CODE('I', 'F')), (plain)rom(ROM_CODE('E', 'X')), (erase)rom(ROM_CODE('R', 'E')),
            (program)rom(ROM_CODE('R', 'P')), (plain)rom(ROM_CODE('F', 'C')), offset, bytes);
    if ((before & 1u) == 0u) { __asm__ volatile("cpsie i" ::: "memory"); }
}

static uint32_t offset_of(uint8_t sector) { return KEPT_AT + (sector * (uint32_t)DOOR_FLASH_SECTOR_BYTES); }

const uint8_t *flash_at(uint8_t sector) { return (const uint8_t *)(uintptr_t)(FLASH_AT + offset_of(sector)); }
void flash_erase(uint8_t sector) { change(offset_of(sector), 0); }
void flash_program(uint8_t sector, uint8_t page, const uint8_t bytes[DOOR_FLASH_PAGE_BYTES])
{
    change(offset_of(sector) + (page * (uint32_t)DOOR_FLASH_PAGE_BYTES), bytes);
}
