/* boot.c - an emulated ATmega328P with a boot loader, its UART on a pseudo-terminal, until it is told to end.
 *
 * boot BOOTLOADER.bin FLASH.bin: the boot loader's bytes stand at 0x7E00; prints the terminal's name; on SIGTERM writes the 32 KiB of flash and ends.
 * A byte on standard input is the reset line: a pseudo-terminal has no DTR. While the boot loader waits, its time runs
 * four times slower than ours: it gives up after a second, and a busy computer may leave avrdude waiting for that long.
 * While characters come and go the chip runs as fast as it can, but never ahead of whoever reads them.
 */
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/parts/uart_pty.h>
#include <simavr/sim_avr.h>

#include <fcntl.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define HZ 16000000u
#define SLOWER 4.0
#define BUSY_CYCLES (HZ / 200u) /* 5 ms after a character, in which the next one comes or a page is written */
#define UNREAD 256u             /* of the 512 characters that the bridge holds for whoever reads */
#define BOOT_AT 0x7E00u /* 512 bytes at the end: BOOTSZ 11 */
#define MCUSR 0x54u     /* ATmega328P data sheet, register summary */
#define EXTRF 1u

DEFINE_FIFO(uint8_t, uart_pty_fifo);

static avr_cycle_count_t last_character;
static volatile sig_atomic_t ended;
static void end(int number)
{
    (void)number;
    ended = 1;
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

/* The receiver's pin falls with each character: that is what wakes the sleeping program. */
static void start_bit(avr_irq_t *irq, uint32_t value, void *avr)
{
    avr_irq_t *pin = avr_io_getirq((avr_t *)avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 0);
    (void)irq;
    (void)value;
    avr_raise_irq(pin, 0);
    avr_raise_irq(pin, 1);
}

static void came_or_went(avr_irq_t *irq, uint32_t value, void *avr)
{
    (void)irq;
    (void)value;
    last_character = ((avr_t *)avr)->cycle;
}

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void reset(avr_t *avr)
{
    avr_reset(avr);
    avr->data[MCUSR] = 1u << EXTRF;
    avr->pc = BOOT_AT;
}

int main(int n, char **words)
{
    avr_t *avr = avr_make_mcu_by_name("atmega328p");
    uart_pty_t uart;
    FILE *file;
    char byte;
    double start, was, slower = SLOWER;
    uint64_t from;
    if ((n != 3) || (avr == NULL)) { return 2; }
    avr_init(avr);
    avr->frequency = HZ;
    avr->sleep = no_sleep; /* the loop below keeps the time */
    avr->log = LOG_ERROR;
    memset(avr->flash, 0xFF, avr->flashend + 1u);
    file = fopen(words[1], "rb");
    if ((file == NULL) || (fread(avr->flash + BOOT_AT, 1, avr->flashend + 1u - BOOT_AT, file) == 0u)) { return 2; }
    fclose(file);
    avr->codeend = avr->flashend;
    avr->reset_pc = BOOT_AT;
    uart_pty_init(avr, &uart);
    uart_pty_connect(&uart, '0');
    avr_irq_register_notify(uart.irq + IRQ_UART_PTY_BYTE_OUT, start_bit, avr);
    avr_irq_register_notify(uart.irq + IRQ_UART_PTY_BYTE_OUT, came_or_went, avr);
    avr_irq_register_notify(uart.irq + IRQ_UART_PTY_BYTE_IN, came_or_went, avr);
    signal(SIGTERM, end);
    fcntl(0, F_SETFL, O_NONBLOCK);
    printf("%s\n", uart.pty.slavename);
    fflush(stdout);
    reset(avr);
    start = seconds();
    from = avr->cycle;
    while (!ended) {
        avr_cycle_count_t until = avr->cycle + HZ / 1000u;
        while ((avr->cycle < until) && !ended) { avr_run(avr); }
        if (read(0, &byte, 1) == 1) { reset(avr); }
        while (!ended && (uart_pty_fifo_get_read_size(&uart.pty.in) > UNREAD)) { usleep(200); }
        was = slower;
        slower = avr->pc >= BOOT_AT ? SLOWER : 1.0;
        if ((slower != was) || (avr->cycle - last_character < BUSY_CYCLES)) {
            start = seconds();
            from = avr->cycle;
        }
        while (!ended && ((double)(avr->cycle - from) * slower / HZ > seconds() - start)) { usleep(1000); }
    }
    file = fopen(words[2], "wb");
    if (file == NULL) { return 1; }
    fwrite(avr->flash, 1, avr->flashend + 1u, file);
    fclose(file);
    _exit(0); /* the bridge's own thread would hold the end up */
}
