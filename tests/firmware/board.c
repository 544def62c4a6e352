/* The board of `receiver.h` on the emulated chip: packet radio on SPI, each servo's pulses in a slot of
   its own by timer 1, a turn of the loop a millisecond. For tests of two streams, drive and head.
   WATCHDOG is how long its watchdog waits, FLUSH empties the FIFO at a boot; BY_TIMER feeds it from an interrupt, which is a mistake. */
#include "receiver.h"
#include "link.h"
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/atomic.h>
#include <util/delay.h>

#ifndef RADIO_WAIT_MS
#define RADIO_WAIT_MS 100
#endif

enum { SELECT = PB2, ENABLE = PB1, MOSI = PB3, MISO = PB4, SCK = PB5, FIRST_SERVO = PD3, SERVOS = 5, MARK = PC0 };
enum { R_CONFIG, R_ACKNOWLEDGE, R_LISTENS, R_ADDRESS_WIDTH, R_RETRY, R_CHANNEL, R_SETUP, R_STATUS, R_PIPE_ADDRESS = 0x0A, R_WIDTH = 0x11, R_QUEUE = 0x17 };
enum { C_WRITE = 0x20, C_PAYLOAD = 0x61, C_FLUSH = 0xE2, C_NOTHING = 0xFF };

static uint8_t spi(uint8_t out)
{
    SPDR = out;
    while (!(SPSR & _BV(SPIF)))
        ;
    return SPDR;
}
static void select(void) { PORTB &= (uint8_t)~_BV(SELECT); }
static void release(void) { PORTB |= _BV(SELECT); }

static void write_register(uint8_t number, uint8_t value)
{
    select();
    spi(C_WRITE | number);
    spi(value);
    release();
}
static void write_address(uint8_t number, const uint8_t *octets, uint8_t count)
{
    select();
    spi(C_WRITE | number);
    while (count--)
        spi(*octets++);
    release();
}

static const uint8_t drive_address[] = LINK_DRIVE_ADDRESS, head_address[] = LINK_HEAD_ADDRESS;

static void radio_setup(void)
{
    _delay_ms(RADIO_WAIT_MS); /* its power-on reset */
    write_register(R_CONFIG, 0x0C); /* two bytes of CRC, powered down */
    write_register(R_ADDRESS_WIDTH, LINK_ADDRESS_BYTES - 2);
    write_register(R_CHANNEL, LINK_CHANNEL);
    write_register(R_SETUP, LINK_BIT_RATE == 250000UL ? 0x20 : LINK_BIT_RATE == 2000000UL ? 0x08 : 0x00);
    write_register(R_ACKNOWLEDGE, 0x3F);
    write_register(R_LISTENS, _BV(LINK_DRIVE_PIPE) | _BV(LINK_HEAD_PIPE));
    /* Pipes above 1 take their lowest byte alone. */
    write_address(R_PIPE_ADDRESS + LINK_DRIVE_PIPE, drive_address, LINK_DRIVE_PIPE < 2 ? LINK_ADDRESS_BYTES : 1);
    write_address(R_PIPE_ADDRESS + LINK_HEAD_PIPE, head_address, LINK_HEAD_PIPE < 2 ? LINK_ADDRESS_BYTES : 1);
    write_register(R_WIDTH + LINK_DRIVE_PIPE, LINK_DRIVE_PAYLOAD_BYTES);
    write_register(R_WIDTH + LINK_HEAD_PIPE, LINK_HEAD_PAYLOAD_BYTES);
#ifdef FLUSH
    select();
    spi(C_FLUSH);
    release();
#endif
    write_register(R_CONFIG, 0x0F); /* up, listening */
    _delay_us(1500);
    PORTB |= _BV(ENABLE);
    _delay_us(130);
}

#ifdef ONE_AN_EDGE
static volatile uint8_t line_fell; /* a second frame that waits has no edge of its own */
ISR(INT0_vect) { line_fell = 1; }
#endif

uint8_t rx_take(uint8_t *pipe, uint8_t bytes[32])
{
#ifdef ONE_AN_EDGE
    if (!line_fell)
        return 0;
    line_fell = 0;
    write_register(R_STATUS, 0x40);
#endif
    select();
    uint8_t status = spi(C_NOTHING);
    release();
    uint8_t of = (status >> 1) & 7;
    if (of > 5)
        return 0;
    uint8_t length = of == LINK_DRIVE_PIPE ? LINK_DRIVE_PAYLOAD_BYTES : LINK_HEAD_PAYLOAD_BYTES;
    select();
    spi(C_PAYLOAD);
    for (uint8_t k = 0; k < length; k++)
        bytes[k] = spi(C_NOTHING);
    release();
#ifndef ONE_AN_EDGE
    write_register(R_STATUS, 0x40);
#endif
    *pipe = of;
    return length;
}

static volatile uint32_t ms;
ISR(TIMER0_COMPA_vect)
{
    ms++;
#ifdef BY_TIMER
    wdt_reset();
#endif
}

uint32_t rx_ms(void)
{
    uint32_t now;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = ms; }
    return now;
}
uint32_t rx_us(void)
{
    uint32_t now;
    uint8_t part;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        now = ms;
        part = TCNT0;
        if ((TIFR0 & _BV(OCF0A)) && part < 249)
            now++;
    }
    return 1000UL * now + 4UL * part;
}
void rx_wait_us(uint32_t us)
{
    for (uint32_t from = rx_us(); rx_us() - from < us;)
        ;
}

#define SLOTS 8
#define SLOT_TICKS 5000u /* 2.5 ms of half microseconds */
static volatile uint16_t width[SLOTS];

void rx_pulse(uint8_t output, uint16_t us)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { width[output] = 2 * us; }
}
void rx_level(uint8_t output, int16_t level)
{
    (void)output;
    PORTC = (uint8_t)((PORTC & ~_BV(PC1)) | (level ? _BV(PC1) : 0));
}

void rx_failsafe(uint8_t pipe, uint8_t is_on) { (void)pipe, (void)is_on; }

ISR(TIMER1_COMPA_vect)
{
    static uint8_t slot, is_high;
    static uint16_t begins = 100;
    if (!is_high) {
        uint16_t w = width[slot];
        if (w && slot < SERVOS) {
            PORTD |= (uint8_t)_BV(FIRST_SERVO + slot);
            is_high = 1;
            OCR1A = begins + w;
            return;
        }
    } else {
        PORTD &= (uint8_t)~_BV(FIRST_SERVO + slot);
        is_high = 0;
    }
    begins += SLOT_TICKS;
    slot = (slot + 1) % SLOTS;
    OCR1A = begins;
}

int main(void)
{
    MCUSR = 0; /* a watchdog that has bitten stays on, and short */
    wdt_disable();
    DDRB = _BV(SELECT) | _BV(ENABLE) | _BV(MOSI) | _BV(SCK);
    PORTB = _BV(SELECT);
    DDRD = 0xF8;
    DDRC = _BV(MARK) | _BV(PC1);
    SPCR = _BV(SPE) | _BV(MSTR);
    SPSR = _BV(SPI2X);
    radio_setup();
    TCCR0A = _BV(WGM01);
    OCR0A = F_CPU / 64000 - 1;
    TIMSK0 = _BV(OCIE0A);
    TCCR0B = _BV(CS01) | _BV(CS00);
    OCR1A = 100;
    TIMSK1 = _BV(OCIE1A);
    TCCR1B = _BV(CS11);
#ifdef ONE_AN_EDGE
    EICRA = _BV(ISC01);
    EIMSK = _BV(INT0);
#endif
    rx_boot();
#ifdef WATCHDOG
    wdt_enable(WATCHDOG);
#endif
    sei();
    set_sleep_mode(SLEEP_MODE_IDLE);
    for (;;) {
        static uint8_t last;
        while ((uint8_t)ms == last)
            sleep_mode();
        last = (uint8_t)ms;
        PINC = _BV(MARK);
#if defined WATCHDOG && !defined BY_TIMER
        wdt_reset();
#endif
        rx_pass();
    }
}
