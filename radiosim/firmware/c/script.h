/* The script of one start, on standard input, and what a bench replies on standard output.
   Numbers are in the order of bytes of the machine that runs the bench; times count from the
   beginning of the start. `firmware/script.py` writes and reads the same. */
#ifndef SCRIPT_H
#define SCRIPT_H
#include <stdint.h>

#define SCRIPT_MAGIC 0x31425352u /* "RSB1" */

/* Tables follow in this order: passes, arrivals, steps, interrupts. */
typedef struct {
    uint32_t magic, passes, arrivals, steps, interrupts, fifo_frames;
    uint32_t outputs;    /* how many there are */
    uint32_t pulses;     /* bit k: output k is a servo's, and takes rx_pulse */
    uint32_t pipes;      /* bit k: a transmitter sends on pipe k */
    uint32_t tells_all;  /* an output's level is told again where frames were taken since */
    int64_t until_ns;
    int64_t clock_us;    /* what the clock shows at the first boot */
    int64_t ppb;         /* error of the receiver's clock */
    int64_t stuck_ns;    /* simulated time in one call after which it counts as stuck */
    int64_t endless_us;  /* computing time of one call after which it counts as endless */
} head_t;

typedef struct { int64_t first_ns, step_ns, count; } passes_t;
typedef struct { int64_t at_ns; uint8_t pipe, length, bytes[32], spare[6]; } arrival_t;
enum { BOOTS, STOPS, EMPTIES };
typedef struct { int64_t at_ns, kind; } step_t;

enum { FINE, CRASHED, ENDLESS, STUCK, ENDED, OVERRUN, NO_SUCH_OUTPUT, WRONG_KIND, NO_SUCH_PIPE, TOO_MUCH };
enum { IN_NOTHING, IN_BOOT, IN_PASS, IN_INTERRUPT };
typedef struct {
    uint32_t status, signal, where, stamp;
    int64_t at_ns;       /* when the call began that it ended in */
    int64_t pc;          /* where in the program; 0: not known */
    int64_t named;       /* the output or pipe that is not there */
    int64_t passes, calls;
    int64_t swallowed;   /* passes that never began, since the one before took so long */
    int64_t waited_ns, waited_most_ns, waited_most_at_ns;
    int64_t boot_waited_most_ns;
    int64_t full, full_at_ns;
    int64_t cycles, cycles_most, cycles_idle;
    uint32_t outs, takes;
} reply_t;

/* After the reply: its outs, then its takes. */
enum { PULSE, LEVEL, FAILSAFE_STATE, TURNED }; /* TURNED: of a whole firmware; -1 - output passes */
typedef struct { int64_t at_ns; int32_t kind, output; int64_t value, takes; } out_t; /* takes before it */
typedef struct { int64_t at_ns, row; } take_t; /* row: of the arrivals */
#endif
