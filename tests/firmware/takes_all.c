/* Takes every frame and drives nothing. */
#include "link.h"
#include "receiver.h"

const uint32_t rx_stamp = LINK_STAMP;

void rx_boot(void)
{
}

void rx_pass(void)
{
    uint8_t pipe, bytes[32];
    while (rx_take(&pipe, bytes))
        ;
}
