| First instructions of the program. The header's entry points here, so this section is linked first.
	.section .text.start, "ax"
	.globl	start
start:
	move.w	#0x2700, %sr		| interrupts stay off: everything here polls
	lea	0x01000000, %sp		| behind the last byte of memory
	jsr	main
stop:
	bra.s	stop
