/* PackBits (TIFF 6.0, section 9) and LZ4 blocks (the open LZ4 Block Format Description). See unpack.h. */
#include "unpack.h"

#define LEAST_MATCH 4
#define LAST_LITERALS 5 /* a block ends in this many */
#define NO_START 12 /* no match starts nearer to the end */

int rw_unpack_packbits(const unsigned char *in, unsigned long in_bytes, unsigned char *out, unsigned long out_bytes)
{
    const unsigned char *in_end = in + in_bytes;
    unsigned long room = out_bytes;
    unsigned int head, count;
    unsigned char value;

    while (in != in_end) {
        head = *in++;
        if (head < 128) {
            count = head + 1;
            if (count > room || count > (unsigned long)(in_end - in))
                return 0;
            room -= count;
            do {
                *out++ = *in++;
            } while (--count != 0);
        } else if (head > 128) {
            count = 257 - head;
            if (count > room || in == in_end)
                return 0;
            room -= count;
            value = *in++;
            do {
                *out++ = value;
            } while (--count != 0);
        }
    }
    return room == 0;
}

int rw_unpack_lz4(const unsigned char *in, unsigned long in_bytes, unsigned char *out, unsigned long out_bytes)
{
    const unsigned char *in_end = in + in_bytes;
    const unsigned char *from;
    unsigned char *stop;
    unsigned long room = out_bytes;
    unsigned long count, back;
    unsigned int token, more;

    while (in != in_end) {
        token = *in++;
        count = token >> 4;
        if (count == 15) {
            do {
                if (in == in_end || count > room)
                    return 0;
                more = *in++;
                count += more;
            } while (more == 255);
        }
        if (count > room || count > (unsigned long)(in_end - in))
            return 0;
        room -= count;
        for (stop = out + count; out != stop; )
            *out++ = *in++;
        if (in == in_end)
            return room == 0;
        /* Volatile, or a compiler may make one word of the two bytes, which may be at an odd address. */
        back = *(const volatile unsigned char *)in++;
        if (in == in_end)
            return 0;
        back |= (unsigned long)*(const volatile unsigned char *)in++ << 8;
        count = token & 15;
        if (count == 15) {
            do {
                if (in == in_end || count > room)
                    return 0;
                more = *in++;
                count += more;
            } while (more == 255);
        }
        count += LEAST_MATCH;
        if (back == 0 || back > out_bytes - room || room < NO_START || count > room - LAST_LITERALS)
            return 0;
        room -= count;
        from = out - back;
        stop = out + count;
        do {
            *out++ = *from++;
        } while (out != stop);
    }
    return 0;
}
