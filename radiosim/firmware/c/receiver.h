/* What a receiver's program and whatever it runs on agree on, version 1. C99 and C++11. */
#ifndef RECEIVER_H
#define RECEIVER_H
#include <stdint.h>
#ifdef __cplusplus
extern "C" {
#endif

/* Yours. */
extern const uint32_t rx_stamp; /* LINK_STAMP of the link.h that it was built with */
void rx_boot(void);             /* once after every power-on and reset */
void rx_pass(void);             /* one turn of the loop: take, judge, write */
void rx_interrupt(void);        /* the radio's line; only with receiver.interrupt = true */

/* The board's, and the bench's. */
uint8_t rx_take(uint8_t *pipe, uint8_t bytes[32]); /* oldest waiting frame: its length; 0: none */
uint32_t rx_ms(void);                              /* since the boot; wraps */
uint32_t rx_us(void);
void rx_wait_us(uint32_t us);                      /* blocks, and nothing else happens */
void rx_pulse(uint8_t output, uint16_t us);        /* a servo's pulses from now on; 0: none */
void rx_level(uint8_t output, int16_t level);      /* a pin or pwm, as you write it */
void rx_failsafe(uint8_t pipe, uint8_t is_on);     /* what you think of a sender; for the report */

#ifdef __cplusplus
}
#endif
#endif
