#pragma once
#include <stdint.h>
#include <radio.h>
#define TRIMS 2

struct __attribute__((packed)) Old {
    uint8_t count;
    int16_t throttle;
    int16_t steer;
    uint8_t mode : 2;
    uint8_t lamp : 1;
    int8_t trim[TRIMS];
};

/* Seven bytes where nothing is aligned, eight elsewhere. */
struct Loose {
    uint8_t count;
    int16_t throttle;
    uint32_t ms;
};

struct __attribute__((packed)) Swapped {
    uint8_t count;
    int16_t steer;
    int16_t throttle;
    uint8_t mode : 2;
    uint8_t lamp : 1;
    int8_t trim[TRIMS];
};

struct __attribute__((packed)) Widened {
    uint8_t count;
    int32_t throttle;
    int16_t steer;
    uint8_t mode : 2;
    uint8_t lamp : 1;
    int8_t trim[TRIMS];
};

struct __attribute__((packed)) Versioned {
    uint8_t version;
    uint8_t count;
    int16_t throttle;
    int16_t steer;
    uint8_t mode : 2;
    uint8_t lamp : 1;
    int8_t trim[TRIMS];
};

struct __attribute__((packed)) Grown {
    uint8_t count;
    int16_t throttle;
    int16_t steer;
    uint8_t mode : 2;
    uint8_t lamp : 1;
    int8_t trim[TRIMS];
    float gyro[7];
};

struct Pointing {
    uint8_t count;
    const char *name;
};
