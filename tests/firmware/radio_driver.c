/* Lines of numbers to the radio of `packet_radio.h`, and what it answers: for tests. */
#include "packet_radio.h"
#include <stdio.h>

static radio_t radio;
static const link_t link_of_test = {
    .power_on_reset_ns = 100,
    .crystal_ns = 50,
    .settle_ns = 10,
    .rate = 250000,
    .channel = 40,
    .crc_bytes = 2,
    .address_bytes = 5,
    .address = {[1] = {1, 2, 3, 4, 5}, [2] = {9, 2, 3, 4, 5}},
};

int main(void)
{
    char what;
    long long a, b, now = 0;
    radio_power_on(&radio, &link_of_test, 3, 0);
    while (scanf(" %c", &what) == 1) {
        if (what == 't' && scanf("%lld", &now) == 1)
            continue;
        if (what == 's')
            radio_select(&radio);
        else if (what == 'x' && scanf("%llx", &a) == 1)
            printf("%02X\n", radio_exchange(&radio, (uint8_t)a, now));
        else if (what == 'r')
            printf("%lld\n", (long long)radio_release(&radio));
        else if (what == 'e' && scanf("%lld", &a) == 1)
            radio_enable(&radio, (int)a, now);
        else if (what == 'l')
            printf("%d\n", radio_line(&radio));
        else if (what == 'f' && scanf("%lld %lld", &a, &b) == 2) {
            waiting_t frame = {.row = a, .pipe = (uint8_t)b, .length = 4, .bytes = {(uint8_t)a, 2, 3, 4}};
            printf("%d\n", radio_hears(&radio, &link_of_test, now, &frame));
        } else
            return 1;
    }
    return 0;
}
