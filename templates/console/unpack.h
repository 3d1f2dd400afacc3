/* Unpacking of assets on the console: C89, no library, no memory of its own, reads and writes single bytes only, so
   that any byte order and any processor will do. */
#ifndef RW_UNPACK_H
#define RW_UNPACK_H

/* Each unpacks in_bytes at in to out, which has room for out_bytes: both numbers are in the directory or in assets.h.
   The two must not overlap. Returns 1 when exactly out_bytes were made and all of in was used, else 0; it then stopped
   where the bytes went wrong, and never reads outside in or writes outside out. */
int rw_unpack_packbits(const unsigned char *in, unsigned long in_bytes, unsigned char *out, unsigned long out_bytes);
int rw_unpack_lz4(const unsigned char *in, unsigned long in_bytes, unsigned char *out, unsigned long out_bytes);

#endif
