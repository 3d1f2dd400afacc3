"""The six couriers, in the order they are written."""

from courier_kit import look_bram, look_isk, look_orrin, look_pell, look_tove, look_wick

COURIERS = tuple(m.LOOK for m in (look_pell, look_bram, look_isk, look_tove, look_orrin, look_wick))
