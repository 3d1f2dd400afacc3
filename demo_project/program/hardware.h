/*
 * Basalt 32, an invented console: what its manual would say, as far as this program needs it.
 *
 * CPU        68000 instructions, big-endian, 32 address lines. Words and longs at even addresses only.
 * Memory     2 MiB at 0x00100000; the first 16 KiB belong to the system, the last 16 KiB are the stack.
 * Cartridge  at 0x02000000. After power-on the system jumps to the address in the header's field "entry",
 *            in supervisor state, with registers and memory holding anything.
 * Picture    320 x 240 pixels of one byte, rows without gaps, in memory at an even address of the program's choice.
 * Colours    256 entries of xBBBBBGGGGGRRRRR.
 *
 * Registers, all at even addresses:
 *   0x00A00000  16 bits, write  PALETTE_INDEX  entry that PALETTE_DATA writes next
 *   0x00A00002  16 bits, write  PALETTE_DATA   one entry; PALETTE_INDEX then goes up by one. Counts at once.
 *   0x00A00004  32 bits, write  DISPLAY_BASE   address of the picture. Counts from the next vertical sync.
 *   0x00A00008  32 bits, read   FRAME_COUNT    vertical syncs since power-on, modulo 2^32; goes up as blanking begins
 *   0x00A0000C  16 bits, read   PAD            one bit a button, 1 while held; a three-button pad leaves X, Y and Z 0
 */
#ifndef HARDWARE_H
#define HARDWARE_H

#include "numbers.h"

#define MEMORY 0x00100000UL
#define MEMORY_SIZE 0x00200000UL
#define CARTRIDGE 0x02000000UL
#define BUFFER_0 0x00104000UL /* behind the system's 16 KiB */
#define BUFFER_1 (BUFFER_0 + (u32)SCREEN_BYTES)

#define SCREEN_WIDTH 320
#define SCREEN_HEIGHT 240
#define SCREEN_BYTES 76800
#define COLOURS 256

#define PALETTE_INDEX (*(volatile u16 *)0x00A00000UL)
#define PALETTE_DATA (*(volatile u16 *)0x00A00002UL)
#define DISPLAY_BASE (*(volatile u32 *)0x00A00004UL)
#define FRAME_COUNT (*(const volatile u32 *)0x00A00008UL)
#define PAD (*(const volatile u16 *)0x00A0000CUL)

#define PAD_LEFT 0x0001
#define PAD_RIGHT 0x0002
#define PAD_UP 0x0004
#define PAD_DOWN 0x0008
#define PAD_A 0x0010
#define PAD_B 0x0020
#define PAD_C 0x0040
#define PAD_X 0x0080
#define PAD_Y 0x0100
#define PAD_Z 0x0200
#define PAD_START 0x0400

#endif
