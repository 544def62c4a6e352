/* A receiver's logic four times side by side, each with another width in mind: for tests. */
#include "receiver.h"

enum { TIMEOUT_MS = 300 };
const uint32_t rx_stamp = 0x51DE5EED;

static int most = 1000; /* what a full stick says; a variable, so that no compiler divides first */
static int16_t raw;
static uint32_t fed_32;
static unsigned int due_int, fed_int;
static unsigned long fed_long;
static uint8_t has_frame, passes;

void rx_boot(void)
{
    rx_pulse(0, 1500);
    rx_pulse(6, (uint16_t)(1000 + passes)); /* a global, zero after each boot */
}

static void feed(uint32_t now)
{
    has_frame = 1;
    fed_32 = now;
    fed_int = (unsigned int)now;
    due_int = (unsigned int)now + TIMEOUT_MS;
    fed_long = now;
}

static void wait_for_ever(void)
{
    for (;;)
        ;
}

static unsigned sink(unsigned depth)
{
    volatile uint8_t kept[64] = {0};
    kept[depth % 64] = (uint8_t)rx_ms();
    return depth ? sink(depth - 1) + kept[depth % 64] : 0;
}

void rx_pass(void)
{
    uint8_t pipe, bytes[32];
    passes = 1;
    while (rx_take(&pipe, bytes)) {
        raw = (int16_t)(bytes[0] | bytes[1] << 8);
        feed(rx_ms());
        rx_failsafe(pipe, 0);
        if (pipe == 2)
            wait_for_ever();
        if (pipe == 3)
            rx_pulse(7, (uint16_t)sink(60));
        if (pipe == 4)
            rx_wait_us(1500);
        if (pipe == 5)
            rx_pulse(9, 1500);
        rx_pulse(0, (uint16_t)(1500 + raw * 500 / most));
        rx_pulse(1, (uint16_t)(1500 + (int32_t)raw * 500 / most));
    }
    uint32_t now = rx_ms();
    if (!has_frame)
        return;
    rx_pulse(2, now - fed_32 > TIMEOUT_MS ? 1000 : 2000);
    rx_pulse(3, (unsigned int)now > due_int ? 1000 : 2000);
    rx_pulse(4, (unsigned int)now - fed_int > TIMEOUT_MS ? 1000 : 2000);
    rx_pulse(5, (unsigned long)now - fed_long > TIMEOUT_MS ? 1000 : 2000);
}
