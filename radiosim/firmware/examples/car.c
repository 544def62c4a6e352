/* A receiver for a car whose driver looks around: one stream drives, the other turns the camera.
   Each stream has its own failsafe timer, looked at in every pass, frame or none.

   CAUTION: wheels off the ground until you have tried the failsafe on the bench. */
#include "link.h"
#include "receiver.h"

#define MS(us) ((us) / 1000UL)

const uint32_t rx_stamp = LINK_STAMP;

typedef struct {
    uint32_t fed_ms;
    uint8_t is_alive; /* failsafe is off */
    uint8_t is_fresh; /* its last frame has not reached the outputs */
} stream_t;

static stream_t drive, head;
static drive_v1_t hand;
static head_v1_t goggles;

/* Pulse of a number on the wire, of which `most` stands for half a travel. */
static uint16_t pulse_us(int16_t number, int16_t most)
{
    return (uint16_t)(1500 + (int32_t)number * 500 / most);
}

static void feed(stream_t *stream, uint8_t pipe)
{
    stream->fed_ms = rx_ms();
    stream->is_alive = stream->is_fresh = 1;
    rx_failsafe(pipe, 0);
}

static uint8_t runs_out(stream_t *stream, uint32_t timeout_us, uint8_t pipe)
{
    if (!stream->is_alive || rx_ms() - stream->fed_ms <= MS(timeout_us))
        return 0;
    stream->is_alive = 0;
    rx_failsafe(pipe, 1);
    return 1;
}

static void take_all(void)
{
    uint8_t pipe, bytes[32];
    while (rx_take(&pipe, bytes)) {
        if (pipe == LINK_DRIVE_PIPE) {
            drive_v1_unpack(bytes, &hand);
            feed(&drive, pipe);
        } else if (pipe == LINK_HEAD_PIPE) {
            head_v1_unpack(bytes, &goggles);
            feed(&head, pipe);
        }
    }
}

void rx_boot(void)
{
    rx_pulse(LINK_OUT_MOTOR, LINK_OUT_MOTOR_AT_START_US);
    rx_pulse(LINK_OUT_STEERING, LINK_OUT_STEERING_AT_START_US);
    rx_pulse(LINK_OUT_PAN, LINK_OUT_PAN_AT_START_US);
    rx_pulse(LINK_OUT_TILT, LINK_OUT_TILT_AT_START_US);
}

void rx_pass(void)
{
    take_all();
    if (runs_out(&drive, LINK_DRIVE_FAILSAFE_TIMEOUT_US, LINK_DRIVE_PIPE)) {
        rx_pulse(LINK_OUT_MOTOR, LINK_OUT_MOTOR_FAILSAFE_US);
        rx_pulse(LINK_OUT_STEERING, LINK_OUT_STEERING_FAILSAFE_US);
    }
    if (runs_out(&head, LINK_HEAD_FAILSAFE_TIMEOUT_US, LINK_HEAD_PIPE)) {
        rx_pulse(LINK_OUT_PAN, LINK_OUT_PAN_FAILSAFE_US);
        rx_pulse(LINK_OUT_TILT, LINK_OUT_TILT_FAILSAFE_US);
    }
    if (drive.is_fresh && drive.is_alive) {
        rx_pulse(LINK_OUT_MOTOR, pulse_us(hand.throttle, DRIVE_V1_THROTTLE_MOST));
        rx_pulse(LINK_OUT_STEERING, pulse_us(hand.steer, DRIVE_V1_STEER_MOST));
    }
    if (head.is_fresh && head.is_alive) {
        rx_pulse(LINK_OUT_PAN, pulse_us(goggles.pan, HEAD_V1_PAN_MOST));
        rx_pulse(LINK_OUT_TILT, pulse_us(goggles.tilt, HEAD_V1_TILT_MOST));
    }
    drive.is_fresh = head.is_fresh = 0;
}
