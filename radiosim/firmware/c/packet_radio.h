/* A packet radio as its program sees it: registers, pipes, a FIFO of frames, and the line that says
   one has come. Register numbers, bits and commands as data sheets of such radios publish them;
   what it sends itself is not modelled. No emulator in here: numbers in, numbers out. */
#ifndef PACKET_RADIO_H
#define PACKET_RADIO_H
#include <stdint.h>
#include <string.h>

enum {
    REG_CONFIG = 0x00,
    REG_ACKNOWLEDGE = 0x01,
    REG_PIPES_ON = 0x02,
    REG_ADDRESS_BYTES = 0x03,
    REG_CHANNEL = 0x05,
    REG_RATE = 0x06,
    REG_STATUS = 0x07,
    REG_PIPE_ADDRESS = 0x0A,
    REG_SEND_ADDRESS = 0x10,
    REG_WIDTH = 0x11,
    REG_FIFO = 0x17,
    REG_ANY_WIDTH = 0x1C,
    REG_FEATURES = 0x1D
};
enum { CONFIG_RECEIVES = 1, CONFIG_UP = 2, CONFIG_CRC_2 = 4, CONFIG_CRC = 8, FRAME_CAME = 0x40, CLEARABLE = 0x70 };
enum {
    DO_WRITE = 0x20,
    DO_READ_WIDTH = 0x60,
    DO_READ_PAYLOAD = 0x61,
    DO_FLUSH_SENT = 0xE1,
    DO_FLUSH_FRAMES = 0xE2,
    DO_NOTHING_ELSE = 0xFF
};
/* Why a frame did not get in; the first reason counts. */
enum {
    GOT_IN,
    NOT_RECEIVING, /* powered down, sending, or its enable pin low */
    SETTLING,      /* not yet long enough */
    OTHER_CHANNEL,
    OTHER_RATE,
    OTHER_CRC,
    OTHER_ADDRESS, /* on none of the pipes that are on */
    OTHER_WIDTH,
    FIFO_FULL,
    REASONS
};
enum { RADIO_PIPES = 6, RADIO_FRAMES = 8, ADDRESS_BYTES = 5 };

typedef struct {
    int64_t row;
    uint8_t pipe, length, bytes[32];
} waiting_t;

typedef struct {
    uint8_t registers[0x20];
    uint8_t address[RADIO_PIPES][ADDRESS_BYTES]; /* lowest first; above pipe 1 the lowest alone is its own */
    int is_selected, is_enabled, at, command, has_read;
    int64_t awake_ns, up_ns, enabled_ns; /* when: its power-on reset is over; powered up; enabled */
    uint32_t held, room;
    waiting_t fifo[RADIO_FRAMES];
} radio_t;

/* What frames of the link are: all that a receiver must have set alike. */
typedef struct {
    int64_t power_on_reset_ns, crystal_ns, settle_ns;
    long rate;
    int channel, crc_bytes, address_bytes;
    uint8_t address[RADIO_PIPES][ADDRESS_BYTES];
} link_t;

static void radio_power_on(radio_t *r, const link_t *link, uint32_t room, int64_t now_ns)
{
    static const uint8_t first[2][ADDRESS_BYTES] = {{0xE7, 0xE7, 0xE7, 0xE7, 0xE7}, {0xC2, 0xC2, 0xC2, 0xC2, 0xC2}};
    memset(r, 0, sizeof *r);
    r->registers[REG_CONFIG] = 0x08;
    r->registers[REG_ACKNOWLEDGE] = 0x3F;
    r->registers[REG_PIPES_ON] = 0x03;
    r->registers[REG_ADDRESS_BYTES] = 0x03;
    r->registers[0x04] = 0x03;
    r->registers[REG_CHANNEL] = 0x02;
    r->registers[REG_RATE] = 0x0E;
    memcpy(r->address, first, sizeof first);
    for (int pipe = 2; pipe < RADIO_PIPES; pipe++)
        r->address[pipe][0] = (uint8_t)(0xC1 + pipe);
    r->awake_ns = now_ns + link->power_on_reset_ns;
    r->room = room < RADIO_FRAMES ? room : RADIO_FRAMES;
}

static uint8_t radio_status(const radio_t *r)
{
    unsigned pipe = r->held ? r->fifo[0].pipe : 7u;
    return (uint8_t)((r->registers[REG_STATUS] & CLEARABLE) | pipe << 1);
}

/* The line that says a frame has come: low while it does. */
static int radio_line(const radio_t *r)
{
    return !(r->registers[REG_STATUS] & FRAME_CAME & ~r->registers[REG_CONFIG]);
}

static uint8_t radio_register(const radio_t *r, int number, int at)
{
    if (number == REG_STATUS)
        return radio_status(r);
    if (number == REG_FIFO)
        return (uint8_t)((r->held == 0) | (r->held >= r->room) << 1 | 0x10);
    int pipe = number - REG_PIPE_ADDRESS;
    if (pipe >= 0 && pipe < RADIO_PIPES)
        return at < ADDRESS_BYTES ? r->address[pipe][at] : 0;
    return r->registers[number];
}

static void radio_write(radio_t *r, int number, int at, uint8_t value, int64_t now_ns)
{
    int pipe = number - REG_PIPE_ADDRESS;
    if (number == REG_STATUS) { /* what is written as one is cleared */
        r->registers[REG_STATUS] &= (uint8_t)~(value & CLEARABLE);
    } else if (pipe >= 0 && pipe < RADIO_PIPES) {
        if (at < (pipe < 2 ? ADDRESS_BYTES : 1))
            r->address[pipe][at] = value;
    } else if (at == 0 && number != REG_FIFO && number != REG_SEND_ADDRESS) {
        if (number == REG_CONFIG && (value & CONFIG_UP) && !(r->registers[REG_CONFIG] & CONFIG_UP))
            r->up_ns = now_ns;
        if (number == REG_CONFIG && (value & CONFIG_RECEIVES) && !(r->registers[REG_CONFIG] & CONFIG_RECEIVES))
            r->enabled_ns = now_ns;
        r->registers[number] = value;
    }
}

/* One byte each way on its wires; the first that comes back is always its status. */
static uint8_t radio_exchange(radio_t *r, uint8_t sent, int64_t now_ns)
{
    if (!r->is_selected || now_ns < r->awake_ns)
        return 0xFF;
    int at = r->at++ - 1;
    if (at < 0) {
        r->command = sent;
        return radio_status(r);
    }
    int number = r->command & 0x1F;
    if (r->command < DO_WRITE)
        return radio_register(r, number, at);
    if (r->command < 2 * DO_WRITE) {
        radio_write(r, number, at, sent, now_ns);
        return 0;
    }
    if (r->command == DO_READ_WIDTH)
        return r->held ? r->fifo[0].length : 0;
    if (r->command != DO_READ_PAYLOAD || !r->held)
        return 0;
    r->has_read = 1;
    return at < r->fifo[0].length ? r->fifo[0].bytes[at] : 0;
}

static void radio_select(radio_t *r)
{
    r->is_selected = 1;
    r->at = r->has_read = 0;
    r->command = DO_NOTHING_ELSE;
}

/* Let go: a frame that was read leaves the FIFO. Its row; -1: none did. */
static int64_t radio_release(radio_t *r)
{
    int64_t row = -1;
    r->is_selected = 0;
    if (r->command == DO_FLUSH_FRAMES)
        r->held = 0;
    if (r->has_read && r->held) {
        row = r->fifo[0].row;
        memmove(r->fifo, r->fifo + 1, --r->held * sizeof *r->fifo);
    }
    r->has_read = 0;
    return row;
}

static void radio_enable(radio_t *r, int is_on, int64_t now_ns)
{
    if (is_on && !r->is_enabled)
        r->enabled_ns = now_ns;
    r->is_enabled = is_on;
}

static int pipe_of(const radio_t *r, const link_t *link, const uint8_t *address)
{
    int bytes = (r->registers[REG_ADDRESS_BYTES] & 3) + 2;
    if (bytes != link->address_bytes)
        return -1;
    for (int pipe = 0; pipe < RADIO_PIPES; pipe++) {
        const uint8_t *upper = r->address[pipe < 2 ? pipe : 1];
        if ((r->registers[REG_PIPES_ON] >> pipe & 1) && r->address[pipe][0] == address[0] &&
            !memcmp(upper + 1, address + 1, (size_t)bytes - 1))
            return pipe;
    }
    return -1;
}

static long radio_rate(const radio_t *r)
{
    return r->registers[REG_RATE] & 0x20 ? 250000 : r->registers[REG_RATE] & 0x08 ? 2000000 : 1000000;
}

static int radio_crc_bytes(const radio_t *r)
{
    /* Acknowledging any pipe switches the CRC on. */
    if (!(r->registers[REG_CONFIG] & CONFIG_CRC) && !(r->registers[REG_ACKNOWLEDGE] & 0x3F))
        return 0;
    return r->registers[REG_CONFIG] & CONFIG_CRC_2 ? 2 : 1;
}

/* A frame of the link ends on the air; why it does not get in, or GOT_IN. */
static int radio_hears(radio_t *r, const link_t *link, int64_t now_ns, const waiting_t *frame)
{
    const uint8_t *address = link->address[frame->pipe];
    if (!r->is_enabled || (r->registers[REG_CONFIG] & 3) != (CONFIG_UP | CONFIG_RECEIVES))
        return NOT_RECEIVING;
    if (now_ns < r->up_ns + link->crystal_ns + link->settle_ns || now_ns < r->enabled_ns + link->settle_ns)
        return SETTLING;
    if ((r->registers[REG_CHANNEL] & 0x7F) != link->channel)
        return OTHER_CHANNEL;
    if (radio_rate(r) != link->rate)
        return OTHER_RATE;
    if (radio_crc_bytes(r) != link->crc_bytes)
        return OTHER_CRC;
    int pipe = pipe_of(r, link, address);
    if (pipe < 0)
        return OTHER_ADDRESS;
    int any_width = (r->registers[REG_FEATURES] & 4) && (r->registers[REG_ANY_WIDTH] >> pipe & 1);
    if (!any_width && (r->registers[REG_WIDTH + pipe] & 0x3F) != frame->length)
        return OTHER_WIDTH;
    if (r->held >= r->room)
        return FIFO_FULL;
    r->fifo[r->held] = *frame;
    r->fifo[r->held++].pipe = (uint8_t)pipe;
    r->registers[REG_STATUS] |= FRAME_CAME;
    return GOT_IN;
}
#endif
