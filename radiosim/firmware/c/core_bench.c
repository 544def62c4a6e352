/* The bench for logic on an emulated core: the chip's instructions run, its peripherals do not.
   Its argument: the program; TARGET is the chip that it was compiled for. */
#include "bench.h"
#include "mailbox.h"
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>
#include <setjmp.h>
#include <stdarg.h>

enum { FREE_CALLS = 200, CYCLES_PER_US = 16, RAM_FROM = 0x100 };

static avr_t *avr;
static elf_firmware_t firmware;
static int is_ready, is_over;
static avr_cycle_count_t most_cycles, asked_at;
static jmp_buf life_is_over;

static void quiet(avr_t *a, const int level, const char *format, va_list list)
{
    (void)a, (void)level, (void)format, (void)list;
}

static void leave(void) { avr->run_cycle_count = 0; }

/* Ends this life once the emulator has come back. */
static void give_up(int status)
{
    S->reply.status = (uint32_t)status;
    S->reply.pc = avr->pc;
    is_over = 1;
    leave();
}

static void look_at_time(void)
{
    if (S->now_ns + S->spent_ns >= S->stop_ns && S->reply.where != IN_BOOT)
        give_up(FINE);
    else if (S->spent_ns > head_of.stuck_ns)
        give_up(STUCK);
}

/* The stack grows down to what the program keeps; below that it writes over it. */
static void look_at_stack(void)
{
    unsigned top = (unsigned)(avr->data[R_SPL] | avr->data[R_SPH] << 8);
    if (top < RAM_FROM + firmware.datasize + firmware.bsssize)
        give_up(CRASHED);
}

/* A program that asks again and again waits: so time goes on as it would on the chip. */
static void asked(void)
{
    if (++S->clock_calls > FREE_CALLS)
        S->spent_ns += (int64_t)(avr->cycle - asked_at) * 1000 / CYCLES_PER_US;
    asked_at = avr->cycle;
    look_at_time();
    look_at_stack();
}

static void put32(uint8_t *to, uint32_t value)
{
    for (int k = 0; k < 4; k++)
        to[k] = (uint8_t)(value >> 8 * k);
}

static uint32_t get32(const uint8_t *from)
{
    return from[0] | (uint32_t)from[1] << 8 | (uint32_t)from[2] << 16 | (uint32_t)from[3] << 24;
}

static void give_frame(avr_t *a, uint8_t *box)
{
    uint16_t to = (uint16_t)(box[BOX_A] | box[BOX_B] << 8);
    uint8_t bytes[32], pipe = box[BOX_B];
    uint8_t length = take(&pipe, bytes);
    if (to + length > a->ramend + 1)
        give_up(CRASHED);
    else
        memcpy(&a->data[to], bytes, length);
    box[BOX_A] = length;
    box[BOX_B] = pipe;
}

static void on_do(avr_t *a, avr_io_addr_t addr, uint8_t what, void *param)
{
    (void)param;
    uint8_t *box = &a->data[BOX];
    uint16_t word = (uint16_t)(box[BOX_B] | box[BOX_C] << 8);
    a->data[addr] = what;
    if (what == DO_READY) {
        is_ready = 1;
        leave();
    } else if (what == DO_TAKE) {
        asked();
        give_frame(a, box);
    } else if (what == DO_MS) {
        asked();
        put32(box + BOX_A, (uint32_t)(clock_us() / 1000));
    } else if (what == DO_US) {
        asked();
        put32(box + BOX_A, (uint32_t)clock_us());
    } else if (what == DO_WAIT) {
        S->spent_ns += 1000 * (int64_t)get32(box + BOX_A);
        look_at_time();
    } else if (what == DO_PULSE) {
        out(PULSE, box[BOX_A], word);
    } else if (what == DO_LEVEL) {
        out(LEVEL, box[BOX_A], (int16_t)word);
    } else if (what == DO_FAILSAFE) {
        out_failsafe(box[BOX_A], box[BOX_B]);
    }
}

static int64_t run_on(void)
{
    avr_cycle_count_t from = asked_at = avr->cycle;
    is_ready = 0;
    while (!is_ready && !is_over) {
        int state = avr_run(avr);
        if (state == cpu_Crashed || state == cpu_Done)
            give_up(CRASHED);
        else if (avr->cycle - from > most_cycles)
            give_up(ENDLESS);
    }
    return (int64_t)(avr->cycle - from);
}

static void call(int where)
{
    avr->data[BOX + BOX_WHERE] = (uint8_t)where;
    int64_t spent = run_on();
    if (is_over)
        longjmp(life_is_over, 1);
    S->reply.cycles += spent;
    if (spent > S->reply.cycles_most)
        S->reply.cycles_most = spent;
    if (where == IN_PASS && (!S->reply.cycles_idle || spent < S->reply.cycles_idle))
        S->reply.cycles_idle = spent;
}

/* From the reset to the first READY: start-up code, which fills the program's variables. */
static void start_program(void)
{
    avr_reset(avr);
    avr->run_cycle_limit = 1000000;
    is_over = 0;
    run_on();
    S->reply.stamp = get32(&avr->data[BOX + BOX_A]);
}

int main(int argc, char **argv)
{
    die_with_parent();
    /* What the emulator prints must not get among replies. */
    replies_fd = dup(1);
    dup2(2, 1);
    avr_global_logger_set(quiet);
    if (argc != 2 || elf_read_firmware(argv[1], &firmware))
        return 6;
    make_room();
    avr = avr_make_mcu_by_name(TARGET);
    if (!avr)
        return 7;
    avr_init(avr);
    avr->frequency = 1000000 * CYCLES_PER_US;
    avr_load_firmware(avr, &firmware);
    avr_register_io_write(avr, BOX + BOX_DO, on_do, 0);
    for (;;) {
        begin_start();
        most_cycles = (avr_cycle_count_t)(head_of.stuck_ns / 1000 * CYCLES_PER_US);
        memset(avr->data + RAM_FROM, 0, avr->ramend + 1u - RAM_FROM); /* a power-on, not a reset */
        while (S->reply.status == FINE && next_boot()) {
            start_program();
            if (!is_over && !setjmp(life_is_over))
                live();
        }
        write_reply();
    }
}
