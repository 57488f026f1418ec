# Builds espeak-ng (inside espeak-rs-sys) from its own sources only: it is used for phonemes, never to play
# sound, and its build must not clone anything. USE_LIBSONIC OFF alone still looks for the library, so the
# two paths get a value that is never used.
set(USE_LIBSONIC OFF CACHE BOOL "" FORCE)
set(SONIC_LIB "unused" CACHE STRING "" FORCE)
set(SONIC_INC "unused" CACHE STRING "" FORCE)
set(USE_LIBPCAUDIO OFF CACHE BOOL "" FORCE)
set(USE_MBROLA OFF CACHE BOOL "" FORCE)
