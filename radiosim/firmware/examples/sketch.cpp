// A receiver written as setup() and loop(): the camera looks ahead until its goggles are there,
// and each stream has its own failsafe timer.
//
// CAUTION: wheels off the ground until you have tried the failsafe on the bench.
#include "link.h"
#include "loop_style.h"

const uint32_t rx_stamp = LINK_STAMP;

static uint32_t lastDrive, lastHead;
static bool driveIsOn, headIsOn;

void setup()
{
  rx_pulse(LINK_OUT_PAN, LINK_OUT_PAN_AT_START_US);
  rx_pulse(LINK_OUT_TILT, LINK_OUT_TILT_AT_START_US);
}

static void takeDrive(const uint8_t *bytes)
{
  drive_v1_t hand;
  drive_v1_unpack(bytes, &hand);
  lastDrive = millis();
  driveIsOn = true;
  rx_failsafe(LINK_DRIVE_PIPE, 0);
  rx_pulse(LINK_OUT_MOTOR, 1500 + hand.throttle / 2);
  rx_pulse(LINK_OUT_STEERING, 1500 + hand.steer / 2);
}

static void takeHead(const uint8_t *bytes)
{
  head_v1_t goggles;
  head_v1_unpack(bytes, &goggles);
  lastHead = millis();
  headIsOn = true;
  rx_failsafe(LINK_HEAD_PIPE, 0);
  rx_pulse(LINK_OUT_PAN, 1500 + goggles.pan * 5L / 9);
  rx_pulse(LINK_OUT_TILT, 1500 + goggles.tilt * 10L / 9);
}

void loop()
{
  uint8_t pipe, bytes[32];
  while (rx_take(&pipe, bytes)) {
    if (pipe == LINK_DRIVE_PIPE)
      takeDrive(bytes);
    else if (pipe == LINK_HEAD_PIPE)
      takeHead(bytes);
  }
  if (driveIsOn && millis() - lastDrive > LINK_DRIVE_FAILSAFE_TIMEOUT_US / 1000) {
    driveIsOn = false;
    rx_failsafe(LINK_DRIVE_PIPE, 1);
    rx_pulse(LINK_OUT_MOTOR, LINK_OUT_MOTOR_FAILSAFE_US);
    rx_pulse(LINK_OUT_STEERING, LINK_OUT_STEERING_FAILSAFE_US);
  }
  if (headIsOn && millis() - lastHead > LINK_HEAD_FAILSAFE_TIMEOUT_US / 1000) {
    headIsOn = false;
    rx_failsafe(LINK_HEAD_PIPE, 1);
    rx_pulse(LINK_OUT_PAN, LINK_OUT_PAN_FAILSAFE_US);
    rx_pulse(LINK_OUT_TILT, LINK_OUT_TILT_FAILSAFE_US);
  }
}
