/* Looks at every access of an emulated 68000 and stops it at a word or long at an odd address. */

#include <stdint.h>

struct watch {
    int (*stop)(void *emulator);
    uint64_t address;
    uint32_t bytes; /* of the first such access; 0 while there was none */
};

void look(void *emulator, int kind, uint64_t address, int bytes, int64_t value, struct watch *watch)
{
    (void)kind;
    (void)value;
    if (bytes > 1 && address % 2 && !watch->bytes) {
        watch->address = address;
        watch->bytes = (uint32_t)bytes;
        watch->stop(emulator);
    }
}
