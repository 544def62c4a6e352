/* What benches of logic share: the clock, the FIFO, the passes.
   A bench has call(), which runs one function of the program, and give_up(), which ends a life. */
#ifndef BENCH_H
#define BENCH_H
#include "script_io.h"

#define NOTHING_TOLD INT64_MIN
enum { MOST_OUTPUTS = 32, MOST_PIPES = 8 };

/* Where a start stands; lives share it. */
typedef struct {
    reply_t reply;
    uint32_t segment, arrival, step, interrupt;
    int64_t in_segment, boot_ns, busy_ns, now_ns, spent_ns, stop_ns;
    uint32_t held;
    int64_t fifo[8];
    int64_t level[MOST_OUTPUTS], failsafe[MOST_PIPES]; /* told last since the boot */
    uint32_t takes_at[MOST_OUTPUTS]; /* frames taken before an output was told last */
    uint32_t clock_calls;
    int32_t boots;
} state_t;

static state_t *S;
static out_t *outs;
static take_t *takes;

static void call(int where);
static void give_up(int status);

static void make_room(void)
{
    S = shared(sizeof *S);
    outs = shared(MOST_ROWS * sizeof *outs);
    takes = shared(MOST_ROWS * sizeof *takes);
}

static void forget_levels(void)
{
    for (int k = 0; k < MOST_OUTPUTS; k++)
        S->level[k] = NOTHING_TOLD;
    for (int k = 0; k < MOST_PIPES; k++)
        S->failsafe[k] = NOTHING_TOLD;
}

static void begin_start(void)
{
    read_script();
    uint32_t stamp = S->reply.stamp;
    memset(S, 0, sizeof *S);
    S->reply.stamp = stamp;
    S->reply.full_at_ns = -1;
    forget_levels();
}

static void write_reply(void)
{
    write_all(&S->reply, sizeof S->reply);
    write_all(outs, S->reply.outs * sizeof *outs);
    write_all(takes, S->reply.takes * sizeof *takes);
}

/* Now, as the program sees it: what a boot waits is part of receiver.boot_s. */
static int64_t program_ns(void)
{
    return S->now_ns + (S->reply.where == IN_BOOT ? 0 : S->spent_ns);
}

static void refuse(int status, int64_t named)
{
    S->reply.named = named;
    give_up(status);
}

static void tell(int64_t *last, int kind, int32_t output, int64_t value)
{
    if (*last == value)
        return;
    *last = value;
    if (S->reply.outs == MOST_ROWS) {
        give_up(TOO_MUCH);
        return;
    }
    outs[S->reply.outs++] = (out_t){program_ns(), kind, output, value, S->reply.takes};
}

static void out(int kind, uint8_t output, int64_t value)
{
    int is_pulse = output < MOST_OUTPUTS && (head_of.pulses >> output & 1);
    if (output >= head_of.outputs)
        refuse(NO_SUCH_OUTPUT, output);
    else if (is_pulse != (kind == PULSE))
        refuse(WRONG_KIND, output);
    else {
        if (head_of.tells_all && S->takes_at[output] != S->reply.takes)
            S->level[output] = NOTHING_TOLD;
        S->takes_at[output] = S->reply.takes;
        tell(&S->level[output], kind, output, value);
    }
}

static void out_failsafe(uint8_t pipe, uint8_t is_on)
{
    if (pipe >= MOST_PIPES || !(head_of.pipes >> pipe & 1))
        refuse(NO_SUCH_PIPE, pipe);
    else
        tell(&S->failsafe[pipe], FAILSAFE_STATE, pipe, is_on != 0);
}

/* Frames that came by now, and what emptied the FIFO meanwhile. */
static void arrive(int64_t by_ns)
{
    for (;;) {
        int64_t frame_ns = S->arrival < head_of.arrivals ? arrivals[S->arrival].at_ns : INT64_MAX;
        int64_t step_ns = S->step < head_of.steps ? steps[S->step].at_ns : INT64_MAX;
        if (frame_ns <= by_ns && frame_ns <= step_ns) {
            if (S->held < head_of.fifo_frames) {
                S->fifo[S->held++] = S->arrival;
            } else {
                S->reply.full++;
                if (S->reply.full_at_ns < 0)
                    S->reply.full_at_ns = frame_ns;
            }
            S->arrival++;
        } else if (step_ns <= by_ns && steps[S->step].kind == EMPTIES) {
            S->held = 0;
            S->step++;
        } else {
            return;
        }
    }
}

/* The oldest frame; all of the buffer is written, so that one too short shows. */
static uint8_t take(uint8_t *pipe, uint8_t *bytes)
{
    if (program_ns() > S->now_ns)
        arrive(program_ns());
    if (!S->held)
        return 0;
    int64_t row = S->fifo[0];
    memmove(S->fifo, S->fifo + 1, --S->held * sizeof *S->fifo);
    *pipe = arrivals[row].pipe;
    memcpy(bytes, arrivals[row].bytes, 32);
    if (S->reply.takes < MOST_ROWS)
        takes[S->reply.takes++] = (take_t){program_ns(), row};
    return arrivals[row].length;
}

/* A span by its clock, as `engine/rules/timing.py` scales it. */
static int64_t scaled(int64_t ns)
{
    const int64_t billion = 1000000000;
    int64_t late = ns % billion * head_of.ppb + billion / 2;
    int64_t floor = late / billion - (late % billion < 0);
    return ns + ns / billion * head_of.ppb + floor;
}

/* The program's own clock since its boot, us; only the first life begins late in the count. */
static int64_t clock_us(void)
{
    int64_t real_ns = S->now_ns + S->spent_ns - S->boot_ns, us = real_ns / 1000;
    us -= (int64_t)((__int128)us * head_of.ppb / (1000000000 + head_of.ppb));
    while (scaled(1000 * us) > real_ns)
        us--;
    while (scaled(1000 * us + 1000) <= real_ns)
        us++;
    return us + (S->boots == 1 ? head_of.clock_us : 0);
}

static int is_going_on(void)
{
    return S->reply.status == FINE || S->reply.status == ENDED; /* ENDED until a life is through */
}

static void one_call(int where, int64_t at_ns)
{
    S->now_ns = at_ns;
    S->spent_ns = 0;
    S->clock_calls = 0;
    S->reply.where = (uint32_t)where;
    S->reply.at_ns = at_ns;
    S->reply.calls++;
    call(where);
    if (!is_going_on())
        return;
    S->reply.where = IN_NOTHING;
    S->busy_ns = at_ns;
    if (where == IN_BOOT) {
        if (S->spent_ns > S->reply.boot_waited_most_ns)
            S->reply.boot_waited_most_ns = S->spent_ns;
        return;
    }
    S->busy_ns += S->spent_ns;
    S->reply.waited_ns += S->spent_ns;
    if (S->spent_ns > S->reply.waited_most_ns) {
        S->reply.waited_most_ns = S->spent_ns;
        S->reply.waited_most_at_ns = at_ns;
    }
}

static int64_t stop_from_here(void)
{
    for (uint32_t k = S->step; k < head_of.steps; k++)
        if (steps[k].kind == STOPS)
            return steps[k].at_ns;
    return head_of.until_ns;
}

/* The next pass of this life; -1: there is none. */
static int64_t next_pass(void)
{
    while (S->segment < head_of.passes) {
        passes_t *seg = &segments[S->segment];
        if (S->in_segment >= seg->count) {
            S->segment++;
            S->in_segment = 0;
            continue;
        }
        int64_t pass_ns = seg->first_ns + S->in_segment * seg->step_ns;
        if (pass_ns >= S->boot_ns)
            return pass_ns < S->stop_ns ? pass_ns : -1;
        S->in_segment++; /* left over from a life that was cut short in a call */
    }
    return -1;
}

/* From a boot until the program stops. */
static void live(void)
{
    S->stop_ns = stop_from_here();
    forget_levels();
    one_call(IN_BOOT, S->boot_ns);
    while (is_going_on()) {
        int64_t pass_ns = next_pass(), until_ns = pass_ns < 0 ? S->stop_ns : pass_ns;
        int64_t line_ns = S->interrupt < head_of.interrupts ? interrupts[S->interrupt] : INT64_MAX;
        if (line_ns <= until_ns) {
            S->interrupt++;
            arrive(line_ns);
            one_call(IN_INTERRUPT, line_ns);
            continue;
        }
        if (pass_ns < 0)
            break;
        S->in_segment++;
        S->reply.passes++;
        if (pass_ns < S->busy_ns) {
            S->reply.swallowed++;
            continue;
        }
        arrive(pass_ns);
        one_call(IN_PASS, pass_ns);
    }
    if (!is_going_on())
        return;
    arrive(S->stop_ns - 1);
    S->reply.at_ns = S->stop_ns;
}

/* On to the next boot; false: there is none. */
static int next_boot(void)
{
    for (;;) {
        int64_t next_ns = S->step < head_of.steps ? steps[S->step].at_ns : INT64_MAX;
        if (next_ns == INT64_MAX)
            return 0;
        arrive(next_ns);
        if (S->step >= head_of.steps || steps[S->step].at_ns != next_ns)
            continue;
        step_t *one = &steps[S->step++];
        if (one->kind == BOOTS) {
            S->boot_ns = one->at_ns;
            S->boots++;
            return 1;
        }
        if (one->kind == EMPTIES)
            S->held = 0;
    }
}
#endif
