; First instructions of the program: memory cleared, as C wants it, a stack at its end.
        .module start
        .globl  _main
        .area   _CODE
        di
        ld      sp, #0xE000
        ld      hl, #0xC000
        ld      de, #0xC001
        ld      bc, #0x1FFF
        ld      (hl), #0
        ldir
        jp      _main
