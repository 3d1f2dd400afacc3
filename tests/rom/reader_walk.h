/* What reader_walk.c offers, and what it asks of the program around it. */
#ifndef READER_WALK_H
#define READER_WALK_H

#include "reader.h"

#define FAULT 0xDEADul /* said where the reader returns 0 */

void walk(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, unsigned int corners);

void say(unsigned long number);
int more(void); /* 0 when a walk has said enough */
int look_for(const unsigned char *image, unsigned long bytes, unsigned long hash, unsigned int kind, RwAsset *asset);

#endif
