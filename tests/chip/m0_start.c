/* m0_start.c - what runs before main() on the emulated Cortex-M0, and how it prints and ends: Arm's semihosting
 * (Arm document IHI/DUI 0471: SYS_WRITEC 03h, SYS_EXIT 18h, reason 20026h "application exit"). */
#include <stdint.h>

extern uint32_t m0_data[], m0_data_end[], m0_bss[], m0_bss_end[], m0_stack[];
extern const uint32_t m0_data_kept[];
int main(void);
void m0_reset(void);
void m0_put(char c);

static void ask(uint32_t what, uint32_t with)
{
    register uint32_t r0 __asm__("r0") = what;
    register uint32_t r1 __asm__("r1") = with;
    __asm__ volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
}

void m0_put(char c) { ask(0x03u, (uint32_t)(uintptr_t)&c); }

void m0_reset(void)
{
    const uint32_t *from = m0_data_kept;
    uint32_t *to;
    for (to = m0_data; to < m0_data_end; to++) { *to = *from++; }
    for (to = m0_bss; to < m0_bss_end; to++) { *to = 0u; }
    (void)main();
    ask(0x18u, 0x20026u);
    for (;;) {}
}

typedef void (*vector)(void);
extern const vector m0_vectors[2];
__attribute__((section(".vectors"), used)) const vector m0_vectors[2] = {(vector)(uintptr_t)m0_stack, m0_reset};
