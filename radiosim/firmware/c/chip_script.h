/* What the bench of a whole chip is told and replies beyond `script.h`. */
#ifndef CHIP_SCRIPT_H
#define CHIP_SCRIPT_H
#include "script.h"

/* Steps of its script: what becomes of its supply, its reset line, its radio's settings and its
   program, which stands still while its timers, interrupts and pulses go on. */
enum { POWER_ON = 10, POWER_OFF, RESET_HELD, RESET_RELEASED, SETTINGS_LOST, HANGS, GOES_ON };

enum { REASONS_TOLD = 9 }; /* as many as `packet_radio.h` has */

typedef struct {
    uint64_t n;
    int64_t sum, least, most;
} spread_t;

/* After the reply, its outs and its takes; in cycles of the chip. */
typedef struct {
    int64_t frequency, sleeping;
    spread_t cold_boot, warm_boot;    /* from power-on, from reset, to the first pass */
    spread_t idle_pass, read_pass;    /* passes that read nothing; that read one frame */
    spread_t payload_low, payload_bytes; /* chip select low for a frame, and bytes meanwhile */
    spread_t bite;                    /* from a hang to its own watchdog's reset */
    int64_t many_reads;               /* passes that read more than one */
    int64_t unheard[REASONS_TOLD], unheard_at_ns[REASONS_TOLD]; /* by reason; the first of each */
    uint8_t registers[0x20];          /* as they stand in the end */
} seen_t;
#endif
