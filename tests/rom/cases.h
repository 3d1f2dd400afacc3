/* What programs share that run over an image, and over spoilt copies of it: PROGRAM IMAGE ORDERS ANSWERS [CASES].
   Numbers in files have 4 bytes, little-endian. The program says what ORDERS and ANSWERS hold, and has read_orders and run.
   CASES: number of changes, then offset and new byte (4 and 1 bytes) of each, or 0 and the bytes to cut the image to. Every case has an
   image of its own, allocated at its exact size, so that the sanitizers see the first byte read outside; one number of a case is
   written: how often something failed. */
#ifndef CASES_H
#define CASES_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static FILE *answers;
static unsigned long failed;
static int counting; /* cases: answers are not wanted */
static const unsigned char *image;
static unsigned long image_bytes;

static void read_orders(FILE *file);
static void run(void);

static unsigned long number(FILE *file)
{
    unsigned long low = 0;
    int place;

    for (place = 0; place < 32; place += 8)
        low |= (unsigned long)(fgetc(file) & 0xFF) << place;
    return low;
}

static int at_end(FILE *file)
{
    int head = fgetc(file);

    ungetc(head, file);
    return head == EOF;
}

static void put(unsigned long value)
{
    int place;

    for (place = 0; place < 32; place += 8)
        fputc((int)(value >> place & 0xFF), answers);
}

static unsigned char *copy_of(const unsigned char *from, unsigned long bytes)
{
    unsigned char *copy = malloc(bytes ? bytes : 1);

    if (copy == NULL)
        exit(2);
    if (bytes)
        memcpy(copy, from, bytes);
    return copy;
}

/* A case that is read; without cases, the image as it is. */
static void run_case(FILE *cases, const unsigned char *whole, unsigned long bytes)
{
    unsigned long count = cases ? number(cases) : 0, at;
    unsigned char *copy;

    image_bytes = cases && !count ? number(cases) : bytes;
    copy = copy_of(whole, image_bytes);
    for (; count; count--) {
        at = number(cases);
        copy[at] = (unsigned char)fgetc(cases);
    }
    image = copy;
    failed = 0;
    run();
    if (cases)
        put(failed);
    free(copy);
}

int main(int argc, char **argv)
{
    static unsigned char whole[1 << 20];
    FILE *file;
    unsigned long bytes;

    if (argc < 4 || (file = fopen(argv[1], "rb")) == NULL)
        return 2;
    bytes = fread(whole, 1, sizeof whole, file);
    fclose(file);
    if ((file = fopen(argv[2], "rb")) == NULL || (answers = fopen(argv[3], "wb")) == NULL)
        return 2;
    read_orders(file);
    fclose(file);
    if (argc == 4) {
        run_case(0, whole, bytes);
        return fclose(answers) != 0;
    }
    counting = 1;
    if ((file = fopen(argv[4], "rb")) == NULL)
        return 2;
    while (!at_end(file))
        run_case(file, whole, bytes);
    fclose(file);
    return fclose(answers) != 0;
}

#endif
