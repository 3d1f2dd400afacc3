| u32 crc32(u32 crc, const u8 *bytes, u32 count)
| In assembly because it runs once for every byte of the cartridge: 84 cycles a byte here.
	.text
	.globl	crc32
crc32:
	move.l	4(%sp), %d0
	move.l	8(%sp), %a0
	move.l	12(%sp), %d1
	beq.s	empty
	movem.l	%d2-%d3, -(%sp)
	lea	table, %a1
	not.l	%d0
	subq.l	#1, %d1
next:
	moveq	#0, %d2
	move.b	(%a0)+, %d2
	eor.b	%d0, %d2
	add.w	%d2, %d2
	add.w	%d2, %d2
	lsr.l	#8, %d0
	move.l	(%a1, %d2.w), %d3
	eor.l	%d3, %d0
	dbra	%d1, next
	sub.l	#0x10000, %d1		| dbra counts in the low word only
	bcc.s	next
	not.l	%d0
	movem.l	(%sp)+, %d2-%d3
empty:
	rts

| The table, computed by the assembler: each byte's eight shifts with the reflected polynomial.
	.section .rodata
	.balign	4
table:
	.set	byte, 0
	.rept	256
	.set	value, byte
	.rept	8
	.set	value, (value >> 1) ^ ((value & 1) * 0xEDB88320)
	.endr
	.long	value
	.set	byte, byte + 1
	.endr
