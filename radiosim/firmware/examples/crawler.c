/* A receiver for a crawler with two tracks: the counter of each stream must change to feed its
   timer, some frames in a row and a stick at rest end failsafe, throttle and steering are mixed.

   CAUTION: tracks off the ground until you have tried the failsafe on the bench. */
#include "link.h"
#include "receiver.h"

#define MS(us) ((us) / 1000UL)

const uint32_t rx_stamp = LINK_STAMP;

static uint32_t drive_fed_ms, drive_counted_ms, head_fed_ms;
static uint8_t drive_is_alive, drive_is_fresh, head_is_alive, head_is_fresh;
static uint8_t in_a_row, has_count, last_count;
static drive_v1_t hand;
static head_v1_t goggles;

static int16_t within(int32_t value, int16_t low, int16_t high)
{
    return value < low ? low : value > high ? high : (int16_t)value;
}

static uint16_t track_us(int32_t number) /* 1000: full speed ahead */
{
    int16_t us = (int16_t)(1500 + within(number, -1000, 1000) / 2);
    return (uint16_t)within(us, LINK_OUT_LEFT_TRACK_LEAST_US, LINK_OUT_LEFT_TRACK_MOST_US);
}

static uint8_t is_at_rest(void)
{
    return hand.throttle >= LINK_DRIVE_RESUME_LEAST && hand.throttle <= LINK_DRIVE_RESUME_MOST;
}

static void take_drive(const uint8_t *bytes)
{
    uint32_t now_ms = rx_ms();
    drive_v1_unpack(bytes, &hand);
    drive_is_fresh = 1;
    if (has_count && hand.count == last_count)
        return; /* a hand controller that hangs says the same again and again */
    has_count = 1;
    last_count = hand.count;
    drive_fed_ms = now_ms;
    if (in_a_row && now_ms - drive_counted_ms > MS(LINK_DRIVE_FAILSAFE_TIMEOUT_US))
        in_a_row = 0;
    if (in_a_row < 255)
        in_a_row++;
    drive_counted_ms = now_ms;
    if (!drive_is_alive && in_a_row >= LINK_DRIVE_RESUME_FRAMES && is_at_rest()) {
        drive_is_alive = 1;
        rx_failsafe(LINK_DRIVE_PIPE, 0);
    }
}

static void take_all(void)
{
    uint8_t pipe, bytes[32];
    while (rx_take(&pipe, bytes)) {
        if (pipe == LINK_DRIVE_PIPE) {
            take_drive(bytes);
        } else if (pipe == LINK_HEAD_PIPE) {
            head_v1_unpack(bytes, &goggles);
            head_fed_ms = rx_ms();
            head_is_alive = head_is_fresh = 1;
            rx_failsafe(LINK_HEAD_PIPE, 0);
        }
    }
}

static void look_at_timers(void)
{
    uint32_t now_ms = rx_ms();
    if (drive_is_alive && now_ms - drive_fed_ms > MS(LINK_DRIVE_FAILSAFE_TIMEOUT_US)) {
        drive_is_alive = in_a_row = 0;
        rx_failsafe(LINK_DRIVE_PIPE, 1);
        rx_pulse(LINK_OUT_LEFT_TRACK, LINK_OUT_LEFT_TRACK_FAILSAFE_US);
        rx_pulse(LINK_OUT_RIGHT_TRACK, LINK_OUT_RIGHT_TRACK_FAILSAFE_US);
    }
    if (head_is_alive && now_ms - head_fed_ms > MS(LINK_HEAD_FAILSAFE_TIMEOUT_US)) {
        head_is_alive = 0;
        rx_failsafe(LINK_HEAD_PIPE, 1);
        rx_pulse(LINK_OUT_PAN, LINK_OUT_PAN_FAILSAFE_US);
        rx_pulse(LINK_OUT_TILT, LINK_OUT_TILT_FAILSAFE_US);
    }
}

void rx_boot(void)
{
}

void rx_pass(void)
{
    take_all();
    look_at_timers();
    if (drive_is_fresh && drive_is_alive) {
        int32_t turn = 5 * (int32_t)hand.steer; /* half of full speed at full steer */
        rx_pulse(LINK_OUT_LEFT_TRACK, track_us(hand.throttle + turn));
        rx_pulse(LINK_OUT_RIGHT_TRACK, track_us(hand.throttle - turn));
        rx_level(LINK_OUT_LAMP, hand.lamp);
    }
    if (head_is_fresh && head_is_alive) {
        rx_pulse(LINK_OUT_PAN, (uint16_t)(1500 + (int32_t)goggles.pan * 700 / HEAD_V1_PAN_MOST));
        rx_pulse(LINK_OUT_TILT, (uint16_t)(1500 + (int32_t)goggles.tilt * 400 / HEAD_V1_TILT_MOST));
    }
    drive_is_fresh = head_is_fresh = 0;
}
