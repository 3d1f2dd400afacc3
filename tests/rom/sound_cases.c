/* Reads an image, and prints every sample of the sounds that are named by their hashes, as the generated reader gives them. */
#include <stdio.h>
#include <stdlib.h>

#include "reader.h"

int main(int count, char **words)
{
    FILE *file = count > 1 ? fopen(words[1], "rb") : NULL;
    unsigned char *image;
    unsigned long rank, size;
    long level;
    int word;
    RwAsset asset;
    RwSound sound;
    RwAdpcm adpcm;

    if (file == NULL || fseek(file, 0, SEEK_END) != 0)
        return 2;
    size = (unsigned long)ftell(file);
    image = malloc(size);
    rewind(file);
    if (image == NULL || fread(image, 1, size, file) != size)
        return 2;
    fclose(file);
    for (word = 2; word < count; word++) {
        if (!rw_find(image, size, strtoul(words[word], NULL, 16), RW_KIND_SOUND, &asset) || !rw_sound(&asset, &sound))
            return 3;
        printf("%u %lu %lu:", sound.format, sound.rate, sound.bytes);
        if (rw_adpcm_start(&sound, &adpcm)) {
            if (rw_sample(&sound, 0, &level))
                return 4;
            while (rw_adpcm_next(&adpcm, &level))
                printf(" %ld", level);
        } else
            for (rank = 0; rw_sample(&sound, rank, &level); rank++)
                printf(" %ld", level);
        printf("\n");
    }
    free(image);
    return 0;
}
