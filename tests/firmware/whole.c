/* A whole receiver for tests: a packet radio on the SPI, two servos by timer 1, a mark each pass.
   It turns round once a millisecond, asleep between; WAIT_MS is what it gives its radio to wake up,
   WATCHDOG what its watchdog waits. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/atomic.h>
#include <util/delay.h>

#ifndef CHANNEL
#define CHANNEL 40
#endif
#ifndef WAIT_MS
#define WAIT_MS 101
#endif

enum { SELECT = PB2, ENABLE = PB1, MARK = PC0, FIRST_SERVO = PD3, SERVOS = 2, TIMEOUT_MS = 100 };
enum { TICKS_PER_US = 2, PERIOD_US = 20000, SLOT_US = 2500 };

static volatile uint16_t width_us[SERVOS] = {1500, 1500}, ms;
static volatile uint8_t line_fell;

static uint8_t both_ways(uint8_t out)
{
    SPDR = out;
    while (!(SPSR & _BV(SPIF)))
        ;
    return SPDR;
}

static uint8_t told(uint8_t command, const uint8_t *bytes, uint8_t count)
{
    PORTB &= (uint8_t)~_BV(SELECT);
    uint8_t status = both_ways(command);
    while (count--)
        both_ways(*bytes++);
    PORTB |= _BV(SELECT);
    return status;
}

static void set(uint8_t number, uint8_t value) { told(0x20 | number, &value, 1); }

static void radio_on(void)
{
    static const uint8_t address[] = {1, 2, 3, 4, 5};
    _delay_ms(WAIT_MS);
    set(0x00, 0x0C);
    set(0x05, CHANNEL);
    set(0x06, 0x20);
    set(0x02, 0x02);
    told(0x2B, address, sizeof address);
    set(0x12, 2);
    set(0x00, 0x0F);
    _delay_us(1700);
    PORTB |= _BV(ENABLE);
}

static void take_one(void)
{
    PORTB &= (uint8_t)~_BV(SELECT);
    both_ways(0x61);
    uint16_t us = both_ways(0xFF);
    us |= (uint16_t)both_ways(0xFF) << 8;
    PORTB |= _BV(SELECT);
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { width_us[0] = us; }
}

ISR(TIMER0_COMPA_vect) { ms++; }
ISR(INT0_vect) { line_fell = 1; }

/* One pulse after the other, each in a slot of its own. */
ISR(TIMER1_COMPA_vect)
{
    static uint8_t servo, is_high;
    static uint16_t begun;
    if (!is_high) {
        PORTD |= (uint8_t)_BV(FIRST_SERVO + servo);
        begun = OCR1A;
        OCR1A = begun + TICKS_PER_US * width_us[servo];
    } else {
        PORTD &= (uint8_t)~_BV(FIRST_SERVO + servo);
        uint8_t is_last = ++servo == SERVOS;
        OCR1A = begun + TICKS_PER_US * (is_last ? PERIOD_US - (SERVOS - 1) * SLOT_US : SLOT_US);
        servo = is_last ? 0 : servo;
    }
    is_high = !is_high;
}

static uint8_t has_come(void)
{
#ifdef EDGE
    uint8_t fell = line_fell; /* one frame for each edge: a second that waits has none of its own */
    line_fell = 0;
    return fell;
#else
    return (told(0xFF, 0, 0) & 0x0E) != 0x0E;
#endif
}

int main(void)
{
    uint16_t fed = 0, turned = 0;
    uint8_t is_fed = 0;
    MCUSR = 0;
    wdt_disable();
    DDRB = _BV(SELECT) | _BV(ENABLE) | _BV(PB3) | _BV(PB5);
    PORTB = _BV(SELECT);
    DDRC = _BV(MARK);
    DDRD = _BV(FIRST_SERVO) | _BV(FIRST_SERVO + 1);
    SPCR = _BV(SPE) | _BV(MSTR);
    SPSR = _BV(SPI2X);
    radio_on();
    TCCR0A = _BV(WGM01);
    OCR0A = F_CPU / 64000 - 1;
    TIMSK0 = _BV(OCIE0A);
    TCCR0B = _BV(CS01) | _BV(CS00);
    OCR1A = 100;
    TIMSK1 = _BV(OCIE1A);
    TCCR1B = _BV(CS11);
    EICRA = _BV(ISC01);
    EIMSK = _BV(INT0);
    sei();
    set_sleep_mode(SLEEP_MODE_IDLE);
#ifdef WATCHDOG
    wdt_enable(WATCHDOG);
#endif
    for (;;) {
        uint16_t now = turned;
        while (now == turned) {
            sleep_mode();
            ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = ms; }
        }
        turned = now;
        PINC = _BV(MARK);
        wdt_reset();
#ifdef EDGE
        if (has_come()) {
            set(0x07, 0x40);
            take_one();
            fed = now;
            is_fed = 1;
        }
#else
        while (has_come()) {
            set(0x07, 0x40);
            take_one();
            fed = now;
            is_fed = 1;
        }
#endif
#ifdef STOPS
        if (now > 500)
            for (;;)
                ;
#endif
        if (is_fed && now - fed > TIMEOUT_MS)
            ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { width_us[0] = 1000; }
    }
}
