"""Refusing words and longs at odd addresses, which a 68000 does and the emulator does not.

Every access of a run is looked at, millions of them, so that is done by a compiled function where there is a compiler, and where
the emulator's library is found in its Python module; else by a function in Python, ten times as slow.
"""

from __future__ import annotations

import ctypes
import functools
import shutil
import subprocess
import tempfile
from pathlib import Path

from unicorn import UC_ERR_OK, UC_HOOK_MEM_READ, UC_HOOK_MEM_WRITE, Uc

_ACCESS = UC_HOOK_MEM_READ | UC_HOOK_MEM_WRITE


class _Watch(ctypes.Structure):
    _fields_ = (("stop", ctypes.c_void_p), ("address", ctypes.c_uint64), ("bytes", ctypes.c_uint32))


class OddAccess:
    """What refuses them in all memory of an emulator from now on; it must live as long as that.

    Args:
        refuse: called with the bytes and the address of the first; from within the run, or by ``check``.
        compiled: whether to look with the compiled function where that can be.
    """

    def __init__(self, cpu: Uc, refuse, compiled: bool = True) -> None:
        self._refuse, self._watch = refuse, _Watch()
        parts = _compiled() if compiled else None
        self.compiled = parts is not None
        for start, end, _ in list(cpu.mem_regions()):
            if parts is None:
                cpu.hook_add(_ACCESS, self._look, None, start, end)
            else:
                emulator, look = parts
                self._watch.stop = ctypes.cast(emulator.uc_emu_stop, ctypes.c_void_p).value
                handle, watch = ctypes.c_size_t(), ctypes.cast(ctypes.byref(self._watch), ctypes.c_void_p)
                words = (_ACCESS, look, watch, ctypes.c_uint64(start), ctypes.c_uint64(end))
                assert emulator.uc_hook_add(cpu._uch, ctypes.cast(ctypes.byref(handle), _handle_type(emulator)), *words) == UC_ERR_OK

    def check(self) -> None:
        """Refuse what was seen in the run that has just ended."""
        if self._watch.bytes:
            self._refuse(self._watch.bytes, self._watch.address)

    def _look(self, _cpu: Uc, _kind: int, address: int, size: int, _value: int, _data: object) -> None:
        if size > 1 and address % 2:
            self._refuse(size, address)


def _handle_type(emulator: ctypes.CDLL) -> type:
    return emulator.uc_hook_add.argtypes[1]


@functools.cache
def _compiled() -> tuple[ctypes.CDLL, ctypes.c_void_p] | None:
    """Return the emulator's library and the compiled function, or None where there cannot be one."""
    try:
        from unicorn.unicorn_py3.unicorn import uclib
    except ImportError:
        return None
    compiler = shutil.which("gcc")
    if compiler is None or not getattr(uclib.uc_hook_add, "argtypes", None) or not hasattr(Uc, "mem_regions"):
        return None
    with tempfile.TemporaryDirectory() as folder:
        library = Path(folder) / "odd_access.so"
        source = Path(__file__).with_name("odd_access.c")
        subprocess.run([compiler, "-O2", "-shared", "-fPIC", str(source), "-o", str(library)], check=True, capture_output=True)
        loaded = ctypes.CDLL(str(library))
    return uclib, ctypes.cast(loaded.look, ctypes.c_void_p)
