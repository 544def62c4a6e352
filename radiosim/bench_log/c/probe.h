/* A log of the bench, written by the firmware itself. C99 and C++11, no library, no heap.

   One C file of the firmware defines PROBE_HERE before it includes this; all others include it
   alone. Before that, PROBE_US() must give microseconds as a uint32_t that wraps. Where a
   call may come from an interrupt, PROBE_LOCK() and PROBE_UNLOCK() must keep others out. */
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

void probe_boot(void);                                            /* first of all, at every boot */
void probe_sample(uint8_t stream, uint16_t count);                /* controls read; counts them */
void probe_done(uint8_t stream, uint8_t is_ok, uint8_t retries);  /* the radio is done with one */
void probe_read(uint8_t stream, uint16_t count);                  /* a frame read; its counter */
void probe_pass(void);                                            /* once a turn of the loop */
void probe_output(uint8_t output, uint16_t us);                   /* an output is written */
void probe_failsafe(uint8_t stream, uint8_t is_on);               /* begins (1) or is over (0) */
void probe_mark(uint16_t number);                                 /* anything */
/* Hands on records of 8 bytes while `write` takes them: it returns 1 if it did, 0 if not now. */
void probe_drain(uint8_t (*write)(const uint8_t record[8]));

#ifdef __cplusplus
}
#endif

#ifdef PROBE_HERE
#ifndef PROBE_US
#error PROBE_US() must be defined: microseconds as a uint32_t that wraps
#endif
#ifndef PROBE_LOG2
#define PROBE_LOG2 5 /* 2^5 records of 8 bytes wait; 7 at most */
#endif
#if PROBE_LOG2 < 1 || PROBE_LOG2 > 7
#error PROBE_LOG2 must be 1 to 7
#endif
#ifndef PROBE_PASSES
#define PROBE_PASSES 50 /* turns of the loop that one record counts */
#endif
#ifndef PROBE_LOCK
#define PROBE_LOCK()
#define PROBE_UNLOCK()
#endif
#define PROBE_ROOM (1u << PROBE_LOG2)

static uint8_t probe_ring[PROBE_ROOM][8];
static volatile uint8_t probe_put, probe_taken; /* both count on over 255 */
static uint16_t probe_lost;

static void probe_place(uint8_t event, uint8_t stream, uint16_t value, uint32_t us)
{
    uint8_t *record = probe_ring[probe_put & (PROBE_ROOM - 1)];
    uint8_t check = 0, k;
    record[0] = (uint8_t)(event << 4 | stream);
    record[1] = (uint8_t)value;
    record[2] = (uint8_t)(value >> 8);
    record[3] = (uint8_t)us;
    record[4] = (uint8_t)(us >> 8);
    record[5] = (uint8_t)(us >> 16);
    record[6] = (uint8_t)(us >> 24);
    for (k = 0; k < 7; k++)
        check = (uint8_t)((uint8_t)(check << 1 | check >> 7) ^ record[k]);
    record[7] = (uint8_t)((uint8_t)(check << 1 | check >> 7) ^ 0x5A);
    probe_put++;
}

static void probe_at(uint8_t event, uint8_t stream, uint16_t value, uint32_t us)
{
    uint8_t room;
    PROBE_LOCK();
    room = (uint8_t)(PROBE_ROOM - (uint8_t)(probe_put - probe_taken));
    if (room > (probe_lost != 0)) {
        if (probe_lost != 0)
            probe_place(11, 0, probe_lost, us);
        probe_lost = 0;
        probe_place(event, stream, value, us);
    } else if (probe_lost < 0xFFFF) {
        probe_lost++;
    }
    PROBE_UNLOCK();
}

void probe_boot(void)
{
    uint32_t us = PROBE_US();
    probe_at(1, 0, (uint16_t)(PROBE_STAMP >> 16), us);
    probe_at(2, 0, (uint16_t)(PROBE_STAMP & 0xFFFF), us);
}

void probe_sample(uint8_t stream, uint16_t count) { probe_at(3, stream, count, PROBE_US()); }

void probe_done(uint8_t stream, uint8_t is_ok, uint8_t retries)
{
    probe_at(4, stream, (uint16_t)((is_ok ? 0x8000u : 0u) | retries), PROBE_US());
}

void probe_read(uint8_t stream, uint16_t count) { probe_at(5, stream, count, PROBE_US()); }

void probe_pass(void)
{
    static uint32_t before, longest;
    static uint16_t passes;
    static uint8_t is_begun;
    uint32_t us = PROBE_US(), length = us - before;
    before = us;
    if (!is_begun) {
        is_begun = 1;
        probe_at(6, 0, 0, us); /* the loop begins: until here it was booting */
        return;
    }
    if (length > longest)
        longest = length;
    if (++passes < PROBE_PASSES)
        return;
    probe_at(6, 0, passes, us);
    probe_at(7, 0, (uint16_t)(longest > 0xFFFF ? 0xFFFF : longest), us);
    passes = 0;
    longest = 0;
}

void probe_output(uint8_t output, uint16_t us) { probe_at(8, output, us, PROBE_US()); }

void probe_failsafe(uint8_t stream, uint8_t is_on)
{
    probe_at(9, stream, is_on ? 1 : 0, PROBE_US());
}

void probe_mark(uint16_t number) { probe_at(10, 0, number, PROBE_US()); }

void probe_drain(uint8_t (*write)(const uint8_t record[8]))
{
    while (probe_taken != probe_put && write(probe_ring[probe_taken & (PROBE_ROOM - 1)]))
        probe_taken++;
}
#endif
