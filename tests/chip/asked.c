/* asked.c - asks a generated header for all that it can say; compiled where nothing can run it. */
#include TABLE_HEADER
#ifdef __cplusplus
extern "C"
#endif
int16_t use(uint16_t year, uint8_t month, uint8_t day);

int16_t use(uint16_t year, uint8_t month, uint8_t day)
{
    if (door_check() != SUNSCHED_GOOD) { return SUNSCHED_NONE; }
    return (int16_t)(sunsched_open_min_of(door_image, year, month, day)
        + sunsched_close_min_of(door_image, year, month, day) + sunsched_facts(door_image, year, month, day)
        + sunsched_midnight_min(door_image, year, month, day) + sunsched_setting(door_image, 0u, 0));
}
