/* The image's header and directory, as the target file defines them. */
#include "assets_reader.h"

#include "crc32.h"
#include "hardware.h"

#define HEADER ((const u8 *)CARTRIDGE)
#define HEADER_BYTES 256
#define HEADER_DIRECTORY 0x58
#define HEADER_COUNT 0x5C
#define HEADER_IMAGE_BYTES 0x60
#define HEADER_CONTENT_SUM 0x68
#define HEADER_SUM 0xFC

#define ENTRY_BYTES 32
#define ENTRY_HASH 0
#define ENTRY_KIND 4
#define ENTRY_CODEC 5
#define ENTRY_ADDRESS 8
#define ENTRY_SIZE 12

int lies_inside(u32 offset, u32 count, u32 whole)
{
    return offset <= whole && count <= whole - offset;
}

/* An address in front of the cartridge wraps round to an offset no image has. */
static u32 image_offset(u32 address)
{
    return address - CARTRIDGE;
}

int image_is_whole(void (*told)(u16 part))
{
    u32 whole = READ32(HEADER + HEADER_IMAGE_BYTES);
    u32 done = HEADER_BYTES, end = 0, sum = 0;
    u16 part;

    if (READ32(HEADER + HEADER_SUM) != crc32(0, HEADER, HEADER_SUM) || whole < HEADER_BYTES * CHECK_PARTS)
        return 0;
    for (part = 0; part < CHECK_PARTS; part++) {
        end = part == CHECK_PARTS - 1 ? whole : end + whole / CHECK_PARTS;
        sum = crc32(sum, HEADER + done, end - done);
        done = end;
        told(part);
    }
    return sum == READ32(HEADER + HEADER_CONTENT_SUM);
}

u32 name_hash(const char *name)
{
    u32 length = 0;

    while (name[length])
        length++;
    return crc32(0, (const u8 *)name, length);
}

static int take_entry(const u8 *entry, Asset *found)
{
    u32 offset = image_offset(READ32(entry + ENTRY_ADDRESS));

    found->at = HEADER + offset;
    found->bytes = READ32(entry + ENTRY_SIZE);
    return !(offset & 3) && !entry[ENTRY_CODEC]
        && lies_inside(offset, found->bytes, READ32(HEADER + HEADER_IMAGE_BYTES));
}

u32 image_size(void)
{
    return READ32(HEADER + HEADER_IMAGE_BYTES);
}

int find_asset(u32 hash, u8 kind, Asset *found)
{
    u32 whole = READ32(HEADER + HEADER_IMAGE_BYTES);
    u32 at = image_offset(READ32(HEADER + HEADER_DIRECTORY));
    u32 left = READ32(HEADER + HEADER_COUNT);

    if (at & 1)
        return 0;
    for (; left && lies_inside(at, ENTRY_BYTES, whole); left--, at += ENTRY_BYTES) {
        if (READ32(HEADER + at + ENTRY_HASH) == hash && HEADER[at + ENTRY_KIND] == kind)
            return take_entry(HEADER + at, found);
    }
    return 0;
}
