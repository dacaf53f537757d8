# SPDX-License-Identifier: GPL-3.0-or-later
# Compile options of every target of this project, linked privately and never exported.
option(WF_WERROR "Treat warnings as errors" OFF)

add_library(wf_compile_options INTERFACE)
target_compile_features(wf_compile_options INTERFACE c_std_11)
target_compile_definitions(wf_compile_options INTERFACE _POSIX_C_SOURCE=200809L
                           _FILE_OFFSET_BITS=64 $<$<NOT:$<CONFIG:Release>>:WFI_CHECKS>)
target_compile_options(wf_compile_options INTERFACE
    -ffp-contract=off
    -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes
    -Wvla -Wundef -Wcast-qual -Wwrite-strings -Wformat=2
    -Wno-missing-field-initializers # fields that are left out are zero, and zero is the default
    $<$<BOOL:${WF_WERROR}>:-Werror>)
set(CMAKE_C_STANDARD 11)
set(CMAKE_C_EXTENSIONS OFF)
set(CMAKE_C_STANDARD_REQUIRED ON)
