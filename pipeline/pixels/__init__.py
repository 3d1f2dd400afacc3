"""Pictures as arrays: colour, scaling, choice of colours, cells, bits. Pure: arrays in, arrays out."""
