/* CRC-32/ISO-HDLC, by which images are checked and assets are named. */
#ifndef CRC32_H
#define CRC32_H

#include "numbers.h"

/* Goes on from an earlier result; 0 to begin. */
u32 crc32(u32 crc, const u8 *bytes, u32 count);

#endif
