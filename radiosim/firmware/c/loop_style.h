/* For programs written as setup() and loop() that ask the usual time functions. C++11.
   Include it in one file. */
#ifndef LOOP_STYLE_H
#define LOOP_STYLE_H
#include "receiver.h"

static inline uint32_t millis() { return rx_ms(); }
static inline uint32_t micros() { return rx_us(); }
static inline void delay(uint32_t ms) { rx_wait_us(1000UL * ms); }
static inline void delayMicroseconds(uint32_t us) { rx_wait_us(us); }
void setup();
void loop();
extern "C" void rx_boot() { setup(); }
extern "C" void rx_pass() { loop(); }
#endif
