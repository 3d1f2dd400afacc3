/* Runs the console's decoders over a file of cases and writes a file of answers: unpack_cases CASES ANSWERS.
   A case: codec (1 PackBits, 2 LZ4), packed size and unpacked size (4 bytes each, little-endian), packed bytes.
   An answer: 1 or 0, and where 1 the unpacked bytes. Every buffer is allocated by itself at its exact size, so that the
   sanitizers see the first byte read or written outside it. */
#include <stdio.h>
#include <stdlib.h>

#include "unpack.h"

static unsigned long number(FILE *file)
{
    unsigned long low = 0;
    int place;

    for (place = 0; place < 32; place += 8)
        low |= (unsigned long)fgetc(file) << place;
    return low;
}

static unsigned char *buffer(unsigned long bytes)
{
    unsigned char *block = malloc(bytes ? bytes : 1);

    if (block == NULL)
        exit(2);
    return block;
}

int main(int argc, char **argv)
{
    FILE *cases, *answers;
    unsigned char *in, *out;
    unsigned long in_bytes, out_bytes;
    int codec, made;

    if (argc != 3 || (cases = fopen(argv[1], "rb")) == NULL || (answers = fopen(argv[2], "wb")) == NULL)
        return 2;
    while ((codec = fgetc(cases)) != EOF) {
        in_bytes = number(cases);
        out_bytes = number(cases);
        in = buffer(in_bytes);
        out = buffer(out_bytes);
        if (fread(in, 1, in_bytes, cases) != in_bytes)
            return 2;
        /* No byte of an empty buffer may be touched: it begins where its block ends. */
        made = (codec == 1 ? rw_unpack_packbits : rw_unpack_lz4)(in + !in_bytes, in_bytes, out + !out_bytes, out_bytes);
        fputc(made, answers);
        if (made)
            fwrite(out, 1, out_bytes, answers);
        free(in);
        free(out);
    }
    return fclose(answers) != 0;
}
