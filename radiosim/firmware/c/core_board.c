/* The board of a program on the emulated core: no radio, no timers, the mailbox alone. */
#include "receiver.h"
#include "mailbox.h"

#define CELL(n) (*(volatile uint8_t *)(BOX + (n)))

static void put16(uint8_t cell, uint16_t value)
{
    CELL(cell) = (uint8_t)value;
    CELL(cell + 1) = (uint8_t)(value >> 8);
}

static void put32(uint32_t value)
{
    put16(BOX_A, (uint16_t)value);
    put16(BOX_C, (uint16_t)(value >> 16));
}

static uint32_t asked(uint8_t what)
{
    CELL(BOX_DO) = what;
    return (uint32_t)CELL(BOX_A) | (uint32_t)CELL(BOX_B) << 8 | (uint32_t)CELL(BOX_C) << 16 |
           (uint32_t)CELL(BOX_D) << 24;
}

static void tell(uint8_t what, uint8_t number, uint16_t value)
{
    CELL(BOX_A) = number;
    put16(BOX_B, value);
    CELL(BOX_DO) = what;
}

uint8_t rx_take(uint8_t *pipe, uint8_t bytes[32])
{
    put16(BOX_A, (uint16_t)(uintptr_t)bytes);
    CELL(BOX_DO) = DO_TAKE;
    *pipe = CELL(BOX_B);
    return CELL(BOX_A);
}

uint32_t rx_ms(void) { return asked(DO_MS); }
uint32_t rx_us(void) { return asked(DO_US); }

void rx_wait_us(uint32_t us)
{
    put32(us);
    CELL(BOX_DO) = DO_WAIT;
}

void rx_pulse(uint8_t output, uint16_t us) { tell(DO_PULSE, output, us); }
void rx_level(uint8_t output, int16_t level) { tell(DO_LEVEL, output, (uint16_t)level); }
void rx_failsafe(uint8_t pipe, uint8_t is_on) { tell(DO_FAILSAFE, pipe, is_on); }

__attribute__((weak)) void rx_interrupt(void) {}

int main(void)
{
    put32(rx_stamp);
    for (;;) {
        CELL(BOX_DO) = DO_READY;
        switch (CELL(BOX_WHERE)) {
        case 1: rx_boot(); break;
        case 2: rx_pass(); break;
        case 3: rx_interrupt(); break;
        }
    }
}
