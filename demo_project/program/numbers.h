/* Sizes of numbers on this machine, and reading them from the cartridge. Big-endian like the CPU; even addresses only. */
#ifndef NUMBERS_H
#define NUMBERS_H

typedef unsigned char u8;
typedef unsigned short u16;
typedef unsigned long u32;
typedef short s16;

#define READ16(at) (*(const u16 *)(at))
#define READ32(at) (*(const u32 *)(at))

#endif
