/* machine_is.h - refuses to compile on a machine that is not as the matrix says. Included before all else. */
typedef char machine_int_is_as_said[(sizeof(int) * 8u == INT_BITS) ? 1 : -1];
typedef char machine_pointer_is_as_said[(sizeof(void *) * 8u == POINTER_BITS) ? 1 : -1];
#if (__BYTE_ORDER__ == __ORDER_BIG_ENDIAN__) != BIG_ENDIAN_FIRST
#error "the other byte order"
#endif
