/*
 * Brindille 16, an invented console: what its manual would say, as far as this program needs it.
 *
 * CPU        68000 instructions, big-endian. Words and longs at even addresses only.
 * Memory     64 KiB at 0x00FF0000; the first 2 KiB belong to the system, the last 2 KiB are the stack.
 * Cartridge  its first 32 KiB at 0x00200000, always; any 32 KiB of it at 0x00208000, as BANK says. After power-on the
 *            system jumps to the address in the header's field "entry", in supervisor state, anything in registers and memory.
 * Picture    256 x 192 pixels, drawn by the console from what stands in its video memory (40 KiB at 0x00C00000, words and
 *            longs; read and written at any time) at each vertical sync.
 *
 *   0x00C00000  1,024 tiles of 8 x 8 pixels, 32 bytes each: 4 bits a pixel, rows from the top, the leftmost pixel first
 *   0x00C08000  map, 64 columns by 32 rows of words HVccPxtttttttttt: mirrored left to right, top to bottom, line of the
 *               palette, tile. It goes round to the right.
 *   0x00C09000  for each of the screen's 24 rows of tiles a word: pixels by which the map's row is moved to the left
 *   0x00C09100  64 colours xBBBBBGGGGGRRRRR, in lines of 16
 *   0x00C09200  64 figures of one tile, four words each: row and column of its upper left pixel on the screen, which may be
 *               negative; a word as in the map; 1 to show it. Pixels of 0 are not drawn. The first ones stand in front.
 *
 * Registers:
 *   0x00C10000  32 bits, read   SYNCS  vertical syncs since power-on, modulo 2^32
 *   0x00C10004  16 bits, read   PAD    one bit a button, 1 while held
 *   0x00C10006  16 bits, write  BANK   which 32 KiB of the cartridge stand at 0x00208000
 */
#ifndef HARDWARE_H
#define HARDWARE_H

typedef unsigned char u8;
typedef unsigned short u16;
typedef short s16;
typedef unsigned long u32;

#define HOME ((const u8 *)0x00200000UL)
#define HOME_BYTES 0x8000UL
#define MEMORY ((u8 *)0x00FF0800UL) /* behind the system's */
#define MEMORY_END ((u8 *)0x00FFF800UL) /* before the stack */

#define TILES ((volatile u16 *)0x00C00000UL)
#define TILE_COUNT 1024
#define TILE_BYTES 32
#define MAP ((volatile u16 *)0x00C08000UL)
#define MAP_COLUMNS 64
#define MAP_ROWS 32
#define SCROLL ((volatile u16 *)0x00C09000UL)
#define COLOURS ((volatile u16 *)0x00C09100UL)
#define COLOUR_COUNT 64
#define FIGURES ((volatile u16 *)0x00C09200UL)
#define FIGURE_COUNT 64
#define FLIP_X 0x8000
#define FLIP_Y 0x4000
#define LINE_SHIFT 12

#define SCREEN_COLUMNS 32
#define SCREEN_ROWS 24

#define SYNCS (*(const volatile u32 *)0x00C10000UL)
#define PAD (*(const volatile u16 *)0x00C10004UL)
#define BANK (*(volatile u16 *)0x00C10006UL)

#define PAD_LEFT 0x0001
#define PAD_RIGHT 0x0002
#define PAD_UP 0x0004
#define PAD_DOWN 0x0008
#define PAD_A 0x0010
#define PAD_B 0x0020
#define PAD_L 0x0040
#define PAD_R 0x0080
#define PAD_START 0x0100

#endif
