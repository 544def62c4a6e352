/* How logic on an emulated core asks its bench: seven registers that the chip itself leaves free. */
#ifndef MAILBOX_H
#define MAILBOX_H
#define BOX 0xE0
enum { BOX_DO, BOX_WHERE, BOX_A, BOX_B, BOX_C, BOX_D };
enum {
    DO_READY = 1, /* A to D: the stamp; WHERE is then what to call */
    DO_TAKE,      /* A, B: where bytes go; then A: length, B: pipe */
    DO_MS,        /* then A to D: the clock */
    DO_US,
    DO_WAIT,      /* A to D: us */
    DO_PULSE,     /* A: output, B and C: us */
    DO_LEVEL,     /* A: output, B and C: level */
    DO_FAILSAFE   /* A: pipe, B: whether it is on */
};
#endif
