/* The bench for a whole firmware: the chip with its peripherals, a packet radio on its wires, pulses
   measured at its pins. Arguments: the image, the chip's name, then what `setting()` reads. */
#include "chip_script.h"
#include "packet_radio.h"
#include "script_io.h"
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_spi.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>
#include <stdarg.h>

enum { MOST_OUTPUTS = 32, LONGEST_RUN = 1000000, RAM_FROM = 0x100, PASSES_A_ROW = 50 };

typedef struct {
    char port; /* 0: on no pin */
    int bit;
} pin_t;

static link_t air;
static radio_t radio;
static pin_t select_pin, enable_pin, line_pin, mark_pin, output_pin[MOST_OUTPUTS];
static long frequency;

static reply_t reply;
static seen_t seen;
static out_t *outs;
static take_t *takes;

static avr_t *avr;
static elf_firmware_t firmware;
static avr_spi_t *spi;
static avr_irq_t *line;
static uint8_t spi_in;
static uint32_t next_arrival, reads_in_pass, bytes_selected;
static avr_cycle_count_t mark_at, selected_at, started_at, went_on_at, hung_at, bitten_at, rise_at[MOST_OUTPUTS];
static int is_cold, has_power, mark_level, is_hung, was_hung, was_reset, level[MOST_OUTPUTS], passes_told;
static int64_t longest_pass;
static void (*core_reset)(avr_t *);
static avr_run_t run_plainly;

static void tell(int64_t at_ns, int kind, int output, int64_t value)
{
    if (reply.outs < MOST_ROWS)
        outs[reply.outs++] = (out_t){at_ns, kind, output, value};
    else
        reply.status = TOO_MUCH;
}

static void quiet(avr_t *a, const int level, const char *format, va_list list)
{
    (void)a, (void)level, (void)format, (void)list;
}
static void no_sleep(avr_t *a, avr_cycle_count_t cycles)
{
    seen.sleeping += (int64_t)cycles;
    bitten_at = a->run == run_plainly ? 0 : a->cycle; /* its watchdog: the emulator sleeps on before it resets */
}

static void add(spread_t *s, int64_t v)
{
    if (!s->n || v < s->least)
        s->least = v;
    if (!s->n || v > s->most)
        s->most = v;
    s->n++;
    s->sum += v;
}

/* Spans by its clock last ppb longer than they should; cycles count from the beginning of the start. */
static avr_cycle_count_t cycle_of(int64_t ns)
{
    int64_t per = 1000000000 + head_of.ppb;
    return (avr_cycle_count_t)(((__int128)ns * frequency + per - 1) / per);
}
static int64_t ns_of(avr_cycle_count_t cycle)
{
    return (int64_t)((__int128)cycle * (1000000000 + head_of.ppb) / frequency);
}
static int64_t now_ns(void) { return ns_of(avr->cycle); }

static void set_line(void)
{
    if (line)
        avr_raise_irq(line, (uint32_t)radio_line(&radio));
}

/* Chip select. */
static void on_select(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    if (!(value & 1) && !radio.is_selected) {
        radio_select(&radio);
        bytes_selected = 0;
        selected_at = avr->cycle;
    } else if ((value & 1) && radio.is_selected) {
        int64_t row = radio_release(&radio);
        if (row < 0)
            return;
        add(&seen.payload_low, (int64_t)(avr->cycle - selected_at));
        add(&seen.payload_bytes, bytes_selected);
        takes[reply.takes++] = (take_t){now_ns(), row};
        reads_in_pass++;
    }
}

static void on_enable(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    radio_enable(&radio, value & 1, now_ns());
}

/* The emulator's own wires take 100 us a byte whatever the divisor: these keep it. */
static avr_cycle_count_t spi_done(avr_t *a, avr_cycle_count_t when, void *param)
{
    (void)when, (void)param;
    avr_raise_interrupt(a, &spi->spi);
    return 0;
}
static void spi_write(avr_t *a, avr_io_addr_t addr, uint8_t value, void *param)
{
    (void)param;
    static const uint8_t shift[] = {2, 4, 6, 7};
    a->data[addr] = value;
    avr_clear_interrupt(a, &spi->spi);
    if (!avr_regbit_get(a, spi->spe))
        return;
    int divisor = 1 << (shift[a->data[spi->r_spcr] & 3] - (a->data[spi->r_spsr] & 1));
    bytes_selected++;
    spi_in = radio_exchange(&radio, value, now_ns());
    set_line();
    avr_cycle_timer_register(a, (avr_cycle_count_t)(8 * divisor), spi_done, 0);
}
static uint8_t spi_read(avr_t *a, avr_io_addr_t addr, void *param)
{
    (void)param;
    avr_clear_interrupt(a, &spi->spi);
    return a->data[addr] = spi_in;
}

/* The first pass of a life, then every fiftieth, with the longest in ns of those before it. */
static void tell_passes(int64_t length)
{
    if (!mark_at) {
        tell(now_ns(), TURNED, -1, 0);
        passes_told = 0;
        longest_pass = 0;
        return;
    }
    if (length > longest_pass)
        longest_pass = length;
    if (++passes_told < PASSES_A_ROW)
        return;
    tell(now_ns(), TURNED, -1 - passes_told, longest_pass);
    passes_told = 0;
    longest_pass = 0;
}

/* The program turns its mark over once a pass. */
static void on_mark(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    if ((int)(value & 1) == mark_level) /* it became an output */
        return;
    mark_level = value & 1;
    int64_t length = (int64_t)(avr->cycle - mark_at);
    if (!mark_at)
        add(is_cold ? &seen.cold_boot : &seen.warm_boot, (int64_t)(avr->cycle - started_at));
    else if (was_hung)
        was_hung = 0;
    else if (reads_in_pass < 2)
        add(reads_in_pass ? &seen.read_pass : &seen.idle_pass, length);
    else
        seen.many_reads++;
    if (mark_at)
        reply.passes++;
    tell_passes(mark_at ? ns_of(length) : 0);
    mark_at = avr->cycle;
    reads_in_pass = 0;
}

static void tell_level(int64_t at_ns, int k, int value)
{
    if (level[k] != value)
        tell(at_ns, LEVEL, k, value);
    level[k] = value;
}

/* Pins float: what hangs on them is off. */
static void let_go(int64_t at_ns)
{
    for (int k = 0; k < MOST_OUTPUTS; k++)
        tell_level(at_ns, k, 0);
}

static void on_output(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    int k = (int)(intptr_t)param;
    if (!(head_of.pulses >> k & 1))
        tell_level(now_ns(), k, value & 1);
    else if (value & 1)
        rise_at[k] = avr->cycle;
    else if (rise_at[k])
        tell(ns_of(rise_at[k]), PULSE, k, now_ns() - ns_of(rise_at[k]));
}

static void frame_came(const arrival_t *a, uint32_t row)
{
    waiting_t frame = {.row = row, .pipe = a->pipe, .length = a->length};
    memcpy(frame.bytes, a->bytes, sizeof frame.bytes);
    int why = radio_hears(&radio, &air, a->at_ns, &frame);
    if (why == GOT_IN) {
        set_line();
    } else if (!seen.unheard[why]++) {
        seen.unheard_at_ns[why] = a->at_ns;
    }
    if (why == FIFO_FULL && !reply.full++)
        reply.full_at_ns = a->at_ns;
}

/* All frames that came by an instant; without power nobody hears them. */
static void arrive(int64_t by_ns)
{
    while (next_arrival < head_of.arrivals && arrivals[next_arrival].at_ns <= by_ns) {
        if (has_power)
            frame_came(&arrivals[next_arrival], next_arrival);
        next_arrival++;
    }
}
static avr_cycle_count_t on_arrival(avr_t *a, avr_cycle_count_t when, void *param)
{
    (void)when, (void)param;
    arrive(ns_of(a->cycle));
    if (next_arrival == head_of.arrivals)
        return 0;
    avr_cycle_count_t next = cycle_of(arrivals[next_arrival].at_ns);
    return next > a->cycle ? next : a->cycle + 1;
}

static pin_t *pin_named(const char *name)
{
    if (!strcmp(name, "select"))
        return &select_pin;
    if (!strcmp(name, "enable"))
        return &enable_pin;
    if (!strcmp(name, "line"))
        return &line_pin;
    if (!strcmp(name, "mark"))
        return &mark_pin;
    int k = atoi(name);
    return *name >= '0' && *name <= '9' && k < MOST_OUTPUTS ? &output_pin[k] : 0;
}

static int nibble(char c) { return c <= '9' ? c - '0' : (c | 32) - 'a' + 10; }

/* NAME=VALUE: pins by name or number of the output (D3), times in ns, addresses in hex, lowest first. */
static int setting(char *text)
{
    char *value = strchr(text, '=');
    if (!value)
        return 0;
    *value++ = 0;
    pin_t *pin = pin_named(text);
    if (pin)
        *pin = (pin_t){value[0], value[1] - '0'};
    else if (!strcmp(text, "hz"))
        frequency = atol(value);
    else if (!strcmp(text, "channel"))
        air.channel = atoi(value);
    else if (!strcmp(text, "rate"))
        air.rate = atol(value);
    else if (!strcmp(text, "crc"))
        air.crc_bytes = atoi(value);
    else if (!strcmp(text, "reset_ns"))
        air.power_on_reset_ns = atoll(value);
    else if (!strcmp(text, "crystal_ns"))
        air.crystal_ns = atoll(value);
    else if (!strcmp(text, "settle_ns"))
        air.settle_ns = atoll(value);
    else if (!strncmp(text, "address", 7) && text[7] >= '0' && text[7] < '0' + RADIO_PIPES) {
        air.address_bytes = (int)strlen(value) / 2;
        for (int k = 0; k < air.address_bytes && k < ADDRESS_BYTES; k++)
            air.address[text[7] - '0'][k] = (uint8_t)(nibble(value[2 * k]) << 4 | nibble(value[2 * k + 1]));
    } else
        return 0;
    return 1;
}

static avr_irq_t *irq_of(pin_t pin)
{
    return pin.port ? avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(pin.port), pin.bit) : 0;
}
static int watch(pin_t pin, avr_irq_notify_t what, intptr_t number)
{
    avr_irq_t *irq = irq_of(pin);
    if (irq)
        avr_irq_register_notify(irq, what, (void *)number);
    return irq || !pin.port;
}

static int take_over_spi(void)
{
    for (avr_io_t *io = avr->io_port; io; io = io->next)
        if (io->kind && !strcmp(io->kind, "spi"))
            spi = (avr_spi_t *)io;
    if (!spi)
        return 0;
    avr->io[AVR_DATA_TO_IO(spi->r_spdr)].w.c = spi_write;
    avr->io[AVR_DATA_TO_IO(spi->r_spdr)].r.c = spi_read;
    return 1;
}

static void on_reset(avr_t *a)
{
    if (core_reset)
        core_reset(a);
    was_reset = 1;
}

static int make_chip(const char *name)
{
    avr = avr_make_mcu_by_name(name);
    if (!avr)
        return 0;
    avr_init(avr);
    avr->frequency = (uint32_t)frequency;
    avr_load_firmware(avr, &firmware);
    avr->frequency = (uint32_t)frequency;
    avr->sleep = no_sleep;
    run_plainly = avr->run;
    core_reset = avr->reset;
    avr->reset = on_reset;
    line = irq_of(line_pin);
    int is_good = take_over_spi() && (line || !line_pin.port) && watch(select_pin, on_select, 0) &&
                  watch(enable_pin, on_enable, 0) && watch(mark_pin, on_mark, 0);
    for (int k = 0; k < MOST_OUTPUTS; k++)
        is_good = is_good && watch(output_pin[k], on_output, k);
    return is_good;
}

/* The program begins at its beginning; what a reset takes from the emulator is given back. */
static void begin(avr_cycle_count_t at, int cold)
{
    radio.is_selected = 0;
    avr->cycle = started_at = at;
    /* Else a low pin of an interrupt that nobody enabled is polled every cycle: ten times slower. */
    avr_extint_set_strict_lvl_trig(avr, 0, 0);
    avr_extint_set_strict_lvl_trig(avr, 1, 0);
    avr->sleep = no_sleep;
    is_cold = cold;
    mark_at = went_on_at = bitten_at = reads_in_pass = 0;
    mark_level = is_hung = was_hung = was_reset = 0;
    memset(rise_at, 0, sizeof rise_at);
    set_line();
    if (next_arrival < head_of.arrivals) {
        avr_cycle_count_t next = cycle_of(arrivals[next_arrival].at_ns);
        avr_cycle_timer_register(avr, next > avr->cycle ? next - avr->cycle : 1, on_arrival, 0);
    }
}

static void start(int64_t at_ns, int cold)
{
    if (cold) {
        radio_power_on(&radio, &air, head_of.fifo_frames, at_ns);
        memset(avr->data + RAM_FROM, 0, avr->ramend + 1u - RAM_FROM);
        has_power = 1;
    }
    int was_enabled = radio.is_enabled;
    avr->run = run_plainly;
    avr_reset(avr);
    radio.is_enabled = was_enabled; /* a pin that floats is taken to stay as it was */
    begin(cycle_of(at_ns), cold);
}

/* One call of the emulator; its own watchdog may reset it meanwhile. */
static int run_once(void)
{
    avr_cycle_count_t at = bitten_at ? bitten_at : avr->cycle;
    int was_enabled = radio.is_enabled;
    int state = avr_run(avr);
    if (was_reset) {
        if (is_hung)
            add(&seen.bite, (int64_t)(at - hung_at));
        radio.is_enabled = was_enabled;
        let_go(ns_of(at));
        begin(at, 0);
    }
    return state;
}

/* A program that hangs takes no instruction of its own, and interrupts come back to where it stands.
   It does not hang with interrupts locked, unless it boots and has not allowed any yet. */
static int stand_still(void)
{
    avr->run_cycle_limit = avr->run_cycle_count = 1;
    if (avr->interrupts.running_ptr || (!avr->sreg[S_I] && mark_at) || avr->run != run_plainly)
        return run_once();
    if (avr->sreg[S_I]) {
        avr->state = cpu_Sleeping;
        int state = run_once();
        if (avr->interrupts.running_ptr) /* one that was pending does not wake it */
            state = avr->state = cpu_Running;
        return state;
    }
    avr->cycle += avr_cycle_timer_process(avr);
    return avr->state;
}

static avr_cycle_count_t last_sign(void)
{
    avr_cycle_count_t from = mark_at ? mark_at : started_at;
    return from > went_on_at ? from : went_on_at;
}

static void run_until(int64_t until_ns)
{
    avr_cycle_count_t until = cycle_of(until_ns), most = cycle_of(head_of.stuck_ns);
    while (avr->cycle < until && reply.status == FINE) {
        avr_cycle_count_t left = until - avr->cycle;
        avr->run_cycle_limit = left < LONGEST_RUN ? left + 1 : LONGEST_RUN;
        int state = is_hung ? stand_still() : run_once();
        if (state == cpu_Crashed || state == cpu_Done)
            reply.status = CRASHED;
        else if (mark_pin.port && !is_hung && avr->cycle - last_sign() > most)
            reply.status = ENDLESS;
    }
    reply.pc = reply.status == FINE ? 0 : avr->pc;
    reply.at_ns = now_ns();
}

/* From step to step: it runs from POWER_ON or RESET_RELEASED until the next. */
static void run(void)
{
    int is_running = 0;
    for (uint32_t k = 0; reply.status == FINE; k++) {
        int64_t at_ns = k < head_of.steps ? steps[k].at_ns : head_of.until_ns;
        if (is_running)
            run_until(at_ns);
        if (k == head_of.steps || reply.status != FINE)
            break;
        arrive(at_ns);
        if (steps[k].kind == SETTINGS_LOST) {
            radio_power_on(&radio, &air, head_of.fifo_frames, at_ns - air.power_on_reset_ns);
            set_line();
            continue;
        }
        if (steps[k].kind == HANGS || steps[k].kind == GOES_ON) {
            was_hung |= is_hung;
            is_hung = is_running && steps[k].kind == HANGS;
            went_on_at = avr->cycle;
            hung_at = cycle_of(at_ns);
            continue;
        }
        let_go(at_ns);
        is_running = steps[k].kind == POWER_ON || steps[k].kind == RESET_RELEASED;
        if (steps[k].kind == POWER_OFF)
            has_power = 0;
        if (is_running)
            start(at_ns, steps[k].kind == POWER_ON);
    }
}

static int one_script(const char *name)
{
    read_script();
    memset(&reply, 0, sizeof reply);
    memset(&seen, 0, sizeof seen);
    memset(&radio, 0, sizeof radio);
    memset(level, 0, sizeof level);
    reply.full_at_ns = -1;
    next_arrival = 0;
    has_power = 0;
    if (!make_chip(name))
        return 0;
    run();
    reply.where = IN_PASS;
    reply.cycles = (int64_t)avr->cycle;
    seen.frequency = frequency;
    memcpy(seen.registers, radio.registers, sizeof radio.registers);
    write_all(&reply, sizeof reply);
    write_all(outs, reply.outs * sizeof *outs);
    write_all(takes, reply.takes * sizeof *takes);
    write_all(&seen, sizeof seen);
    avr_terminate(avr);
    return 1;
}

int main(int argc, char **argv)
{
    die_with_parent();
    replies_fd = dup(1);
    dup2(2, 1);
    avr_global_logger_set(quiet);
    if (argc < 3 || elf_read_firmware(argv[1], &firmware))
        return 6;
    for (int k = 3; k < argc; k++)
        if (!setting(argv[k]))
            return 8;
    outs = shared(MOST_ROWS * sizeof *outs);
    takes = shared(MOST_ROWS * sizeof *takes);
    for (;;)
        if (!one_script(argv[2]))
            return 7;
}
