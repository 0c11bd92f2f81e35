/* memory.c - see string.h; and what a compiler may call on its own. */
#include <string.h>

#include <stdint.h>

void *memset(void *to, int value, size_t n);
void *memcpy(void *to, const void *from, size_t n);

int memcmp(const void *one, const void *other, size_t n)
{
    const uint8_t *a = one, *b = other;
    for (; n != 0u; n--, a++, b++) {
        if (*a != *b) { return (int)*a - (int)*b; }
    }
    return 0;
}

void *memset(void *to, int value, size_t n)
{
    uint8_t *at = to;
    for (; n != 0u; n--) { *at++ = (uint8_t)value; }
    return to;
}

void *memcpy(void *to, const void *from, size_t n)
{
    uint8_t *at = to;
    const uint8_t *of = from;
    for (; n != 0u; n--) { *at++ = *of++; }
    return to;
}
