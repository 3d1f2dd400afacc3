"""Sound as arrays: reading recordings, resampling, sample formats. Pure but for reading the file's bytes."""
