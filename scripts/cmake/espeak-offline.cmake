# Builds espeak-ng (inside espeak-rs-sys) from its own sources only: it is used for phonemes, never to play
# sound, and its build must not clone anything. USE_LIBSONIC OFF alone still looks for the library, so the
# two paths get a value that is never used.
set(USE_LIBSONIC OFF CACHE BOOL "" FORCE)
set(SONIC_LIB "unused" CACHE STRING "" FORCE)
set(SONIC_INC "unused" CACHE STRING "" FORCE)
set(USE_LIBPCAUDIO OFF CACHE BOOL "" FORCE)
set(USE_MBROLA OFF CACHE BOOL "" FORCE)

# The library would carry the folder it was built in, and at last look there for its data. The program names its own
# data; a folder of the machine that built it has no place in a program that is passed on.
add_compile_options(-UPATH_ESPEAK_DATA "-DPATH_ESPEAK_DATA=\"/nonexistent/espeak-ng-data\"")
add_compile_options("-ffile-prefix-map=${CMAKE_SOURCE_DIR}=espeak-ng")
