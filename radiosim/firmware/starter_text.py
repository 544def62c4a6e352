"""What a receiver's program that is written for a scenario is made of: C, to be filled in."""

HEAD = """\
/* A receiver for {name}: what its scenario describes, for you to change.
   It runs on a board as it stands, beside the functions of receiver.h.

   CAUTION: {caution} */
#include "link.h"
#include "receiver.h"

const uint32_t rx_stamp = LINK_STAMP;

typedef struct {{
    uint32_t fed_us;     /* when its timer was fed last */
    uint32_t counted_us; /* when its last frame in a row came */
    uint16_t in_a_row;
    uint8_t is_on_failsafe;
    uint8_t has_frame; /* there is one since the boot */
    uint8_t is_fresh;  /* it has not reached the outputs */
    uint8_t has_last;  /* the watched field has been seen */
}} stream_t;
"""
TICKS = """\
/* Time in steps, as receiver.clock_tick_ms says. */
static uint32_t counted_us;
static uint32_t clock_us(void)
{{
    uint32_t past_us = rx_us() - counted_us;
    if (past_us >= {tick}UL)
        counted_us += past_us - past_us % {tick}UL;
    return counted_us;
}}
"""
FED = """\
/* A frame counts for the timer of {stream}. */
static void fed_{word}(uint8_t is_own)
{{
    uint32_t now_us = {clock}();
{watch}    {word}.fed_us = now_us;
    if ({word}.in_a_row && now_us - {word}.counted_us > LINK_{WORD}_FAILSAFE_TIMEOUT_US)
        {word}.in_a_row = 0;
    if ({word}.in_a_row < UINT16_MAX)
        {word}.in_a_row++;
    {word}.counted_us = now_us;
    if ({word}.is_on_failsafe && {word}.in_a_row >= LINK_{WORD}_RESUME_FRAMES{needs}) {{
        {word}.is_on_failsafe = 0;
        {word}.is_fresh = 1;
        rx_failsafe(LINK_{WORD}_PIPE, 0);
    }}
}}

/* Looked at in every pass, frame or none. */
static void look_{word}(void)
{{
    if ({word}.is_on_failsafe || {clock}() - {word}.fed_us <= LINK_{WORD}_FAILSAFE_TIMEOUT_US)
        return;
    {word}.is_on_failsafe = 1;
    {word}.in_a_row = 0;
    rx_failsafe(LINK_{WORD}_PIPE, 1);
{actions}}}
"""
WATCH = """\
    if (is_own) {{
        if ({word}.has_last && {word}_frame.{field} == {word}_last)
            return; /* a transmitter that hangs says the same again and again */
        {word}.has_last = 1;
        {word}_last = {word}_frame.{field};
    }}
"""
WRITE = """\
static void write_{word}(void)
{{
    if (!{word}.is_fresh)
        return;
    {word}.is_fresh = 0;
    if (!{word}.has_frame || {word}.is_on_failsafe)
        return;
{writes}}}
"""
_PARTS = """\
/* Outputs are worked out in parts of a whole number, with half a one added: what is shifted away
   rounds it. No number has a point, and 32 bits hold them all. */
static int32_t within(int32_t parts, int32_t least, int32_t most)
{
    return parts < least ? least : parts > most ? most : parts;
}
"""
_PULSE = """\
/* The pulse of a value between two, inside limits, in us. */
static double pulse_us(double value, double low, double high, double first, double last,
                       double least, double most)
{
    double inside = value < low ? low : value > high ? high : value;
    double us = first + (inside - low) / (high - low) * (last - first);
    return us < least ? least : us > most ? most : us;
}
"""
RAMPS = """\
typedef struct {
    uint8_t has_pulses;
    double us, to_us;
} ramp_t;

/* A pulse at once. */
static void put_at(ramp_t *ramp, uint8_t output, double us)
{
    ramp->has_pulses = us > 0;
    ramp->us = ramp->to_us = us;
    rx_pulse(output, (uint16_t)(us + 0.5));
}

/* From the pulse that is there, or at once if there is none. */
static void move_to(ramp_t *ramp, uint8_t output, double us)
{
    if (!ramp->has_pulses)
        put_at(ramp, output, us);
    ramp->to_us = us;
}

/* A step of the way, once a pass. */
static void step_on(ramp_t *ramp, uint8_t output, double most_us)
{
    double way_us = ramp->to_us - ramp->us;
    if (!ramp->has_pulses || way_us == 0)
        return;
    ramp->us += way_us > most_us ? most_us : way_us < -most_us ? -most_us : way_us;
    rx_pulse(output, (uint16_t)(ramp->us + 0.5));
}
"""
_LEVEL = """\
/* The whole number that is nearest to a level. */
static int16_t level_of(double level)
{
    return (int16_t)(level < 0 ? level - 0.5 : level + 0.5);
}
"""
HELPERS = {"within(": _PARTS, "pulse_us(": _PULSE, "level_of(": _LEVEL}
"""What is called, and what it needs then."""
READS = {
    "one": ["    if (rx_take(&pipe, bytes))", "        take(pipe, bytes);"],
    "all": ["    while (rx_take(&pipe, bytes))", "        take(pipe, bytes);"],
    "newest": [
        "    uint8_t pipes[8], frames[8][32], count = 0;",
        "    while (count < 8 && rx_take(&pipes[count], frames[count]))",
        "        count++;",
        "    for (uint8_t k = 0; k < count; k++) {",
        "        uint8_t is_newest = 1;",
        "        for (uint8_t later = k + 1; later < count; later++)",
        "            is_newest = is_newest && pipes[later] != pipes[k];",
        "        if (is_newest)",
        "            take(pipes[k], frames[k]);",
        "    }",
    ],
}
