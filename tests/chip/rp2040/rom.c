/* rom.c - in place of the RP2040's boot ROM, which the emulator does not have: the table of functions at its place, and
 * the six that door_start_rp2040.c calls. Flash is changed as flash is: an erase sets all bits of a sector, a program
 * clears bits. Flash that is changed out of order, with interrupts on or beyond its part is counted as a fault. */
#include <stdint.h>

#define COUNTERS ((volatile uint32_t *)0x20041000u) /* above what the program has of the RAM: erases, programs, faults */
#define KEPT_AT 0x1F8000u
#define KEPT_END 0x200000u
#define STATE COUNTERS[3]

static uint32_t interrupts_are_off(void)
{
    uint32_t mask;
    __asm__ volatile("mrs %0, primask" : "=r"(mask));
    return mask & 1u;
}

static void expect(uint32_t state, uint32_t next)
{
    if (STATE != state || !interrupts_are_off()) { COUNTERS[2]++; }
    STATE = next;
}

void connect(void);
void connect(void) { expect(0u, 1u); }
void leave(void);
void leave(void) { expect(1u, 2u); }
void flush(void);
void flush(void) { expect(3u, 0u); }

static void check_place(uint32_t offset, uint32_t count, uint32_t unit)
{
    if (((offset | count) & (unit - 1u)) != 0u || offset < KEPT_AT || offset + count > KEPT_END) { COUNTERS[2]++; }
}

void erase(uint32_t, uint32_t, uint32_t, uint8_t);
void erase(uint32_t offset, uint32_t count, uint32_t block, uint8_t command)
{
    volatile uint32_t *at = (volatile uint32_t *)(0x10000000u + offset);
    (void)block, (void)command;
    expect(2u, 3u);
    check_place(offset, count, 4096u);
    COUNTERS[0]++;
    for (; count != 0u; count -= 4u) { *at++ = 0xFFFFFFFFu; }
}

void program(uint32_t, const uint8_t *, uint32_t);
void program(uint32_t offset, const uint8_t *data, uint32_t count)
{
    volatile uint32_t *at = (volatile uint32_t *)(0x10000000u + offset);
    expect(2u, 3u);
    check_place(offset, count, 256u);
    COUNTERS[1]++;
    for (; count != 0u; count -= 4u, data += 4) {
        *at++ &= (uint32_t)data[0] | ((uint32_t)data[1] << 8) | ((uint32_t)data[2] << 16) | ((uint32_t)data[3] << 24);
    }
}

typedef struct {
    uint16_t code;
    uint16_t function;
} entry;

extern const entry table[];
void *look_up(const entry *, uint32_t);
void *look_up(const entry *in, uint32_t code)
{
    for (; in->code != 0u; in++) {
        if (in->code == code) { return (void *)(uintptr_t)in->function; }
    }
    COUNTERS[2]++;
    return 0;
}

/* The linker puts each function at a place below 64 KiB, but a 16-bit word cannot name it: rom.ld does. */
__asm__(".section .head, \"a\", %progbits\n"
        ".word 0x20041F00, 0, 0, 0\n"
        ".byte 0x4D, 0x75, 0x01, 0x01\n"
        ".hword table_at, 0, look_up_at, 0\n"
        ".balign 4\n"
        ".previous\n"
        ".section .table, \"a\", %progbits\n"
        ".global table\n"
        "table: .hword 0x4649, connect_at, 0x5845, leave_at, 0x4552, erase_at, 0x5052, program_at, 0x4346, flush_at, 0, 0\n"
        ".previous\n");
