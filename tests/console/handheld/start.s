; What runs first: memory cleared, as C wants it, a stack at its end, then the program.
        .module start
        .globl  _main
        .area   _CODE
        di
        ld      sp, #0xE000
        ld      hl, #0xC000
        ld      de, #0xC001
        ld      bc, #0x1DFF
        ld      (hl), #0
        ldir
        call    _main
        halt
